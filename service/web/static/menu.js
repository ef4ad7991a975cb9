// A folded menu shuts when work goes on elsewhere.
"use strict";

function shutFolds(except) {
  for (const fold of document.querySelectorAll("details.fold[open]")) {
    if (!fold.contains(except)) fold.open = false;
  }
}

document.addEventListener("click", (event) => shutFolds(event.target));
document.addEventListener("focusin", (event) => shutFolds(event.target));
document.addEventListener("keydown", (event) => {
  const fold = event.key === "Escape" && document.querySelector("details.fold[open]");
  if (!fold) return;
  fold.open = false;
  fold.querySelector("summary").focus();
});

// A table to fill in grows: whoever writes in its last row finds another one below.
"use strict";

function freshRow(last) {
  const row = last.cloneNode(true);
  for (const element of row.querySelectorAll("[name], [id], [aria-label], [aria-describedby], [data-error-of]")) {
    for (const kind of ["name", "id", "aria-describedby", "data-error-of"]) {
      const value = element.getAttribute(kind);
      if (value) element.setAttribute(kind, value.replace(/([.-])(\d+)(?=[.-])/, (_, dot, number) => dot + (Number(number) + 1)));
    }
    const label = element.getAttribute("aria-label");
    if (label) element.setAttribute("aria-label", label.replace(/\d+$/, (number) => String(Number(number) + 1)));
    element.removeAttribute("aria-invalid");
    if (element.matches("input")) element.value = "";
    if (element.matches("select")) element.selectedIndex = 0;
    if (element.matches(".error")) element.textContent = "";
  }
  return row;
}

document.addEventListener("input", (event) => {
  const row = event.target.closest("table[data-grows] tbody tr");
  if (row && !row.nextElementSibling) row.after(freshRow(row));
});

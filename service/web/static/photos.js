// A photo is sent as soon as it is taken. If that fails, the picture and a button to send it again stay.
"use strict";

const SENT_AT_ONCE = "at-once";

// One whose picture was not taken keeps its button, whatever else of the page arrives meanwhile.
const TRIED = "tried";

function sendAtOnce() {
  for (const form of document.querySelectorAll(`form.take:not(.${TRIED})`)) form.classList.add(SENT_AT_ONCE);
}

document.addEventListener("change", (event) => {
  const form = event.target.closest("form.take.at-once");
  if (form && event.target.files.length) form.requestSubmit();
});

function offerAgain(form) {
  form.closest("form.take")?.classList.replace(SENT_AT_ONCE, TRIED);
}

document.addEventListener("htmx:afterRequest", (event) => {
  if (!event.detail.successful) offerAgain(event.detail.elt);
});
// At the bench an entry is kept on the tablet first and sent from there.
document.addEventListener("loambook:refused", (event) => offerAgain(event.detail.form));

document.addEventListener("htmx:load", sendAtOnce);
sendAtOnce();

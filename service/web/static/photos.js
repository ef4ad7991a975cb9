// A photograph is sent as soon as it is taken. If that fails, the picture and a button to send it again stay.
"use strict";

const SENT_AT_ONCE = "at-once";

function sendAtOnce() {
  for (const form of document.querySelectorAll("form.take")) form.classList.add(SENT_AT_ONCE);
}

document.addEventListener("change", (event) => {
  const form = event.target.closest("form.take.at-once");
  if (form && event.target.files.length) form.requestSubmit();
});

document.addEventListener("htmx:afterRequest", (event) => {
  const form = event.detail.elt.closest("form.take");
  if (form && !event.detail.successful) form.classList.remove(SENT_AT_ONCE);
});

document.addEventListener("htmx:load", sendAtOnce);
sendAtOnce();

// Forms that are sent by htmx: a refused one keeps what was typed and gets its sentences, a lost one says so.
"use strict";

const WAITS_AT_MOST_MS = 25000;
const ASKS_EVERY_MS = 4000;
// So long an act may still be at work after its answer is no longer waited for.
const WORKS_AT_MOST_MS = 120000;

// The page brings these sentences in the language of its reader.
const said = () => facts();

function formOf(element) {
  return element instanceof HTMLFormElement ? element : element.closest("form");
}

function fieldNamed(form, name) {
  const found = form.elements.namedItem(name);
  return found instanceof RadioNodeList ? found[0] : found;
}

// The sentence of a group of choices belongs to the group.
function markOf(field) {
  return (field.type === "radio" && field.closest("fieldset")) || field;
}

function clear(form) {
  for (const marked of form.querySelectorAll("[aria-invalid]")) marked.removeAttribute("aria-invalid");
  for (const place of form.querySelectorAll(".error, .refusal")) place.textContent = "";
}

function say(form, sentence) {
  const place = form.querySelector(".refusal");
  if (!place) {
    document.getElementById("line").textContent = sentence;
    return;
  }
  place.textContent = sentence;
  place.scrollIntoView({ block: "nearest" });
}

function placeOf(form, name) {
  return form.querySelector(`.error[data-error-of="${CSS.escape(name)}"]`);
}

// A box that is asked for only after a refusal waits in the page, unseen.
function bringIntoSight(field) {
  const waiting = field?.closest?.("div[hidden]");
  if (waiting) waiting.hidden = false;
}

function showRefusal(form, told) {
  clear(form);
  const homeless = [];
  let first = null;
  for (const [name, sentence] of Object.entries(told.fields || {})) {
    const field = fieldNamed(form, name);
    const place = placeOf(form, name);
    bringIntoSight(field);
    if (!field || !place) {
      if (sentence !== told.error) homeless.push(sentence);
      continue;
    }
    place.textContent = sentence;
    markOf(field).setAttribute("aria-invalid", "true");
    const folded = field.closest("details");
    if (folded) folded.open = true;
    if (!first || field.compareDocumentPosition(first) & Node.DOCUMENT_POSITION_FOLLOWING) first = field;
  }
  say(form, [told.error, ...homeless].filter(Boolean).join(" "));
  if (first) first.focus();
}

function toldBy(xhr) {
  try {
    return JSON.parse(xhr.responseText);
  } catch {
    return null;
  }
}

// A second push while the first is on its way is not sent; after any end of the first it is.
function begin(form) {
  form.dataset.sending = String(Date.now());
  form.setAttribute("aria-busy", "true");
}

function end(form) {
  delete form.dataset.sending;
  form.removeAttribute("aria-busy");
}

function isSending(form) {
  return Date.now() - Number(form.dataset.sending || 0) < WAITS_AT_MOST_MS;
}

document.addEventListener("submit", (event) => {
  if (!isSending(event.target)) return;
  event.preventDefault();
  event.stopPropagation();
}, true);

// What htmx does not take goes the browser's own way, and is guarded too.
document.addEventListener("submit", (event) => {
  if (!event.defaultPrevented && event.target.method === "post") begin(event.target);
});

window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sending]")) end(form);
});

document.addEventListener("htmx:beforeRequest", (event) => {
  const line = document.getElementById("line");
  line.textContent = "";
  line.classList.remove("said");
  const form = formOf(event.detail.elt);
  if (form) begin(form);
});

// Once the page was replaced the event comes from the body; the form that was sent is told by the request.
document.addEventListener("htmx:afterRequest", (event) => {
  const form = formOf(event.detail.requestConfig.elt);
  if (form) end(form);
  // A page that says what is wrong is shown like any page, and htmx takes that for success.
  const isDone = event.detail.successful && event.detail.xhr.status < 400;
  if (form && isDone) delete form.dataset.unsent;
  const done = form && isDone ? saidOf(form, event.detail.requestConfig) : "";
  if (done) setTimeout(() => tellDone(done), SETTLED_AFTER_MS);
});

// The page after an act says in one short line that it was done, in the words of its button; htmx first puts the
// attributes of the new page in their places.
const SETTLED_AFTER_MS = 60;

function tellDone(done) {
  const line = document.getElementById("line");
  if (!line || line.textContent) return;
  line.textContent = done;
  line.classList.add("said");
}

function saidOf(form, request) {
  const isSignedBy = /^\/(sign|tablet)/.test(new URL(form.action, location.href).pathname);
  const button = request.triggeringEvent?.submitter || form.querySelector("button[type=submit]");
  const label = (button?.textContent || "").replace(/\s+/g, " ").trim();
  if (form.method !== "post" || isSignedBy || !label) return "";
  const what = /^(?:Save|Guardar) (?:the |this )?(.+?)(?: and (?:start|end) .+)?$/.exec(label);
  // A page that is not one of ours has no sentences.
  const sentence = (what ? said().saved : said().done) || "";
  return sentence.replace("{what}", what ? what[1] : label);
}

// A look at a paper opens beside the form: htmx would put it into this page, where its own styles are not let through.
document.addEventListener("submit", (event) => {
  if (event.submitter?.formTarget) event.stopPropagation();
}, { capture: true });

// A page that says what is wrong is shown like any page; sentences for programs go to their fields.
document.addEventListener("htmx:beforeSwap", (event) => {
  const { xhr, requestConfig } = event.detail;
  if (xhr.status < 400) return;
  const isPage = (xhr.getResponseHeader("Content-Type") || "").startsWith("text/html");
  if (isPage && event.detail.boosted) {
    event.detail.shouldSwap = true;
    event.detail.isError = false;
    return;
  }
  const form = formOf(requestConfig.elt);
  const told = toldBy(xhr) || { error: said().notDone };
  if (form) showRefusal(form, told);
  else document.getElementById("line").textContent = told.error;
});

function lost(event) {
  const form = formOf(event.detail.elt);
  if (!form || form.method !== "post") {
    document.getElementById("line").textContent = said().noAnswer;
    return;
  }
  form.dataset.unsent = "yes";
  if (form.dataset.full) return say(form, FULL);
  say(form, said().unsure);
  const patientUntil = event.type === "htmx:timeout" ? Date.now() + WORKS_AT_MOST_MS : 0;
  return findOut(form, form.elements.namedItem("request_key")?.value, patientUntil);
}

// Whether it arrived is known by its key: the shop is asked until it answers.
async function findOut(form, key, patientUntil) {
  while (key && form.isConnected && form.dataset.unsent && !form.dataset.sending) {
    const found = await fetch(`/sent/${key}`).then((answer) => (answer.ok ? answer.json() : null)).catch(() => null);
    if (form.dataset.sending || !form.isConnected) return;
    if (found?.saved === false && Date.now() >= patientUntil) return say(form, said().notSaved);
    if (found?.saved) {
      delete form.dataset.unsent;
      say(form, said().wasSaved);
      document.getElementById("line").textContent = said().wasSaved;
      return goTo(found.see || location.pathname + location.search);
    }
    await new Promise((done) => setTimeout(done, ASKS_EVERY_MS));
  }
}

document.addEventListener("htmx:sendError", lost);
document.addEventListener("htmx:timeout", lost);

// Leaving a page with something unsent on it is asked about first.
window.addEventListener("beforeunload", (event) => {
  if (document.querySelector("form[data-unsent]")) event.preventDefault();
});

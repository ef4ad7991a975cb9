// A tablet of the shop: the pad gathers a PIN without a reload, and a tablet left alone goes back to the names.
"use strict";

const LOOKS_EVERY_MS = 5000;
const LEFT = "Nobody is signed in on this tablet any more. What is typed is still here: choose your name on another " +
  "page, then send it.";

function padOf(element) {
  return element.closest("form.pad");
}

function fill(form, pin) {
  const digits = Number(form.dataset.digits);
  form.elements.pin.value = pin.slice(0, digits);
  document.getElementById("pad-count").textContent = pin ? `${pin.length} of ${digits} digits.` : "";
  if (pin.length >= digits && !form.dataset.sending) form.requestSubmit();
}

document.addEventListener("click", (event) => {
  const key = event.target.closest("form.pad [name=digit]");
  if (!key) return;
  event.preventDefault();
  const pin = padOf(key).elements.pin.value;
  fill(padOf(key), key.value === "back" ? pin.slice(0, -1) : pin + key.value);
});

document.addEventListener("input", (event) => {
  const form = padOf(event.target);
  if (form && event.target.name === "pin") fill(form, event.target.value.replace(/\D/g, ""));
});

let touchedAt = Date.now();

for (const kind of ["pointerdown", "keydown", "input", "scroll", "wheel"]) {
  document.addEventListener(kind, () => { touchedAt = Date.now(); }, { capture: true, passive: true });
}

function isTyped(field) {
  if (["hidden", "submit", "button"].includes(field.type)) return false;
  // What the page itself put there for a person was not typed by one.
  if (field.dataset.offered && field.dataset.offered === field.value) return false;
  if (field.type === "checkbox" || field.type === "radio") return field.checked !== field.defaultChecked;
  if (field instanceof HTMLSelectElement) {
    return [...field.options].some((option) => option.selected !== option.defaultSelected) && field.selectedIndex > 0;
  }
  return field.value !== field.defaultValue;
}

function unsentForms(which = "main form[method=post]") {
  return [...document.querySelectorAll(which)].filter((form) => [...form.elements].some(isTyped));
}

function leave(unsent) {
  if (!unsent.length) {
    location.assign("/tablet");
    return;
  }
  for (const form of unsent) form.dataset.unsent = "yes";
  document.getElementById("line").textContent = LEFT;
}

// Out on the server first: a tablet without a network keeps its page and tries again.
setInterval(async () => {
  const out = document.querySelector("form.sign-out[data-left-after-s]");
  if (!out || Date.now() - touchedAt < Number(out.dataset.leftAfterS) * 1000) return;
  const unsent = unsentForms();
  try {
    await fetch(out.action, { method: "POST", body: new URLSearchParams(new FormData(out)), redirect: "manual" });
  } catch {
    return;
  }
  delete out.dataset.leftAfterS;
  leave(unsent);
}, LOOKS_EVERY_MS);

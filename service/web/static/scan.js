// A label leads to its act: read by the camera, or typed by a scanner that is a keyboard, anywhere on a page.
"use strict";

const LETTERS_WITHIN_MS = 60;
const LEAST_LETTERS = 5;
const ADDRESS = /\/at\/([0-9a-f]{8}-[0-9a-f-]{27})$/i;
const LABEL = /^\d+-[a-z]+\d+-\d+$/i;
const LOOKS_FOR_CODE_EVERY_MS = 250;
let scanned = { text: "", at: 0, field: null, before: "" };

function followLabel(text) {
  const address = ADDRESS.exec(text.trim());
  if (address) return goTo(`/at/${address[1].toLowerCase()}`);
  if (!LABEL.test(text.trim())) return false;
  return goTo(`/find?label=${encodeURIComponent(text.trim())}`);
}

function isLabel(text) {
  return ADDRESS.test(text) || LABEL.test(text);
}

// A scanner types a whole label within a fraction of a second; nobody's fingers do.
document.addEventListener("keydown", (event) => {
  const isNext = event.timeStamp - scanned.at < LETTERS_WITHIN_MS;
  if (event.key === "Enter" && isNext && scanned.text.length >= LEAST_LETTERS && isLabel(scanned.text)) {
    event.preventDefault();
    event.stopPropagation();
    if (scanned.field) scanned.field.value = scanned.before;
    followLabel(scanned.text);
    scanned = { text: "", at: 0, field: null, before: "" };
    return;
  }
  if (event.key === "Shift") {
    if (isNext) scanned.at = event.timeStamp;
    return;
  }
  if (event.key.length !== 1 || event.ctrlKey || event.altKey || event.metaKey) return;
  const field = event.target.matches?.("input, textarea") ? event.target : null;
  if (!isNext) scanned = { text: "", at: 0, field, before: field?.value ?? "" };
  scanned.text += event.key;
  scanned.at = event.timeStamp;
}, true);

async function scanWithCamera(form) {
  const view = form.querySelector("[data-scan-view]");
  const stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
  const detector = new BarcodeDetector({ formats: ["qr_code"] });
  view.srcObject = stream;
  view.hidden = false;
  await view.play();
  while (view.isConnected && !view.hidden) {
    const codes = await detector.detect(view).catch(() => []);
    const found = codes.map((code) => code.rawValue).find(isLabel);
    if (found) {
      view.hidden = true;
      followLabel(found);
    }
    await new Promise((done) => setTimeout(done, LOOKS_FOR_CODE_EVERY_MS));
  }
  for (const track of stream.getTracks()) track.stop();
}

document.addEventListener("click", (event) => {
  const start = event.target.closest("[data-scan-start]");
  if (!start) return;
  const form = start.closest("form");
  scanWithCamera(form).catch(() => {
    document.getElementById("line").textContent = "The camera cannot be used. Type the label instead.";
  });
});

function offerCamera() {
  const canScan = "BarcodeDetector" in window && Boolean(navigator.mediaDevices?.getUserMedia);
  for (const start of document.querySelectorAll("[data-scan-start]")) start.hidden = !canScan;
}

document.addEventListener("htmx:load", offerCamera);
offerCamera();

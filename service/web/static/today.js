// The day of a technician: timers, a screen that stays awake, a sound when something is saved, units as used last.
"use strict";

const TOLD_BY = "bench-told-by";
const UNITS = "bench-units-";
const A_YEAR_S = 31536000;

// Settings of the tablet stay when a person signs out, which empties its storage; nothing of a customer is in them.
function setting(name) {
  const found = document.cookie.split("; ").find((pair) => pair.startsWith(`${name}=`));
  return found ? decodeURIComponent(found.slice(name.length + 1)) : "";
}

function set(name, value) {
  document.cookie = `${name}=${encodeURIComponent(value)}; path=/; max-age=${A_YEAR_S}; samesite=lax`;
}

function unitsUsed() {
  return new Map(setting(UNITS + facts().person).split(",").filter(Boolean).map((pair) => pair.split(":")));
}

function spanOf(ms) {
  const minutes = Math.floor(Math.abs(ms) / 60000);
  const hours = Math.floor(minutes / 60);
  return hours ? `${hours} h ${minutes % 60} min` : `${minutes} min`;
}

function now() {
  return Date.now() - clockAheadMs;
}

function showTimers() {
  for (const timer of document.querySelectorAll(".timer[data-until]")) {
    const left = Date.parse(timer.dataset.until) - now();
    timer.textContent = left > 0 ? `${spanOf(left)} left.` : `${spanOf(left)} over.`;
    if (left <= 0 && !timer.classList.contains("is-over")) {
      timer.classList.add("is-over");
      signal();
    }
  }
  const place = document.querySelector("[data-next-at]");
  if (place?.dataset.nextAt && Date.parse(place.dataset.nextAt) <= now() && !facts().keptAt) {
    place.dataset.nextAt = "";
    if (!isBeingFilledIn()) showAnew();
  }
}

// A short tone made here, so that no file is needed; the setting is this tablet's own.
function signal(isRefused = false) {
  const how = setting(TOLD_BY);
  if (how === "vibration") navigator.vibrate?.(isRefused ? [120, 80, 120] : 80);
  if (how !== "sound" || !window.AudioContext) return;
  const audio = new AudioContext();
  const tone = audio.createOscillator();
  const level = audio.createGain();
  level.gain.value = 0.2;
  tone.frequency.value = isRefused ? 220 : 880;
  tone.connect(level).connect(audio.destination);
  tone.start();
  tone.stop(audio.currentTime + (isRefused ? 0.4 : 0.12));
  tone.onended = () => audio.close();
}

document.addEventListener("loambook:saved", () => signal());
document.addEventListener("loambook:refused", () => signal(true));
document.addEventListener("change", (event) => {
  if (event.target.name === "told-by") {
    set(TOLD_BY, event.target.value);
    signal();
  }
  if (event.target.matches("select.unit") && facts().person) {
    const used = unitsUsed().set(event.target.name, event.target.value);
    set(UNITS + facts().person, [...used].slice(-40).map((pair) => pair.join(":")).join(","));
  }
});

// A field that is empty opens in the unit its person used last on this tablet.
function offerUnits() {
  if (!facts().person) return;
  const known = unitsUsed();
  for (const unit of document.querySelectorAll("select.unit")) {
    const used = known.get(unit.name);
    const field = unit.form?.elements.namedItem(unit.name.replace(/_unit$/, ""));
    if (!used || !field || field.value || ![...unit.options].some((option) => option.value === used)) continue;
    unit.value = unit.dataset.offered = used;
  }
}

function offerSettings() {
  for (const place of document.querySelectorAll("[data-own-settings]")) {
    place.hidden = false;
    const chosen = place.querySelector(`[value="${setting(TOLD_BY)}"]`);
    if (chosen) chosen.checked = true;
  }
}

// At the press both hands are busy: the screen stays on while the page of a block is open.
let awake = null;

async function stayAwake() {
  const isWanted = Boolean(document.querySelector(".stress")) && !document.hidden;
  if (isWanted && !awake && navigator.wakeLock) {
    awake = await navigator.wakeLock.request("screen").catch(() => null);
    awake?.addEventListener("release", () => { awake = null; });
  } else if (!isWanted && awake) {
    await awake.release();
  }
}

function prepare() {
  showTimers();
  offerUnits();
  offerSettings();
  stayAwake();
}

setInterval(showTimers, 1000);
document.addEventListener("visibilitychange", stayAwake);
document.addEventListener("htmx:load", prepare);
prepare();

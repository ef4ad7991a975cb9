// A tablet of the shop works without a connection: its pages are kept, its clock is compared, the shop hears what it holds.
"use strict";

const SPEAKS_EVERY_MS = 60000;
const WRONG_BY_MS = 60000;
const IS_TABLET = "is a tablet";
const SPEAKS_AT_MOST_MS = 10000;
let clockAheadMs = 0;
// What was known of the clock when it was compared last: an entry names it.
let clockKnown = Entries.known("clock").then((known) => known ?? null, () => null);
let isSpeaking = false;
let spoke = { at: 0, unsent: -1 };

async function isTablet() {
  return Boolean(facts().device) || Boolean(await Entries.known(IS_TABLET).catch(() => false));
}

async function keepPages() {
  const place = document.querySelector("[data-keep]");
  if (!place || !facts().device || !navigator.serviceWorker) return;
  const pages = place.dataset.keep.split(" ").filter(Boolean);
  const order = (place.dataset.order || "").split(" ").filter(Boolean);
  await Entries.know("kept", { order, pages }).catch(() => {});
  const ready = await navigator.serviceWorker.ready;
  ready.active?.postMessage({ keep: pages, person: facts().person });
}

// Nobody waits for a page that is fetched to be kept, and somebody waits for an entry.
function pauseKeeping() {
  navigator.serviceWorker?.controller?.postMessage({ pause: true });
}

// The tablet's clock beside the shop's, from an answer that came quickly.
function compare(began, nowMs) {
  const ended = Date.now();
  return ended - began < 5000 ? Math.round((began + ended) / 2 - nowMs) : null;
}

function sayClock(aheadMs) {
  const minutes = Math.round(Math.abs(aheadMs) / 60000);
  const place = document.getElementById("clock-off");
  if (!place) return;
  place.hidden = Math.abs(aheadMs) < WRONG_BY_MS;
  if (!place.hidden) place.textContent = `The clock of this tablet is ${minutes} min ${aheadMs > 0 ? "fast" : "slow"}. Times are corrected when entries are saved.`;
}

async function speak() {
  if (document.hidden || !(await isTablet())) return;
  const entries = await Entries.all().catch(() => []);
  if (isSpeaking || (Date.now() - spoke.at < SPEAKS_EVERY_MS && spoke.unsent === entries.length)) return;
  isSpeaking = true;
  const began = Date.now();
  const body = new URLSearchParams({ unsent: entries.length, ahead_ms: (await clockKnown) ?? 0 });
  const signal = AbortSignal.timeout(SPEAKS_AT_MOST_MS);
  const answer = await fetch("/tablet/state", { method: "POST", body, signal }).then((told) => told.json()).catch(() => null);
  isSpeaking = false;
  if (!answer) return;
  if (answer.ended) return forgetEverything();
  spoke = { at: Date.now(), unsent: entries.length };
  const ahead = compare(began, answer.now_ms);
  if (ahead === null) return;
  clockAheadMs = ahead;
  clockKnown = Promise.resolve(ahead);
  await Entries.know("clock", ahead).catch(() => {});
  sayClock(ahead);
}

// What the work needed is gone with the tablet's part in it.
async function forgetEverything() {
  await Entries.forget().catch(() => {});
  for (const name of await caches.keys()) await caches.delete(name);
  for (const worker of await navigator.serviceWorker.getRegistrations()) await worker.unregister();
  showUnsent();
}

async function startKeeping() {
  if (facts().device) await Entries.know(IS_TABLET, true).catch(() => {});
  if (!(await isTablet())) return;
  navigator.storage?.persist?.();
  if (navigator.serviceWorker && window.isSecureContext) {
    await navigator.serviceWorker.register("/service-worker.js");
    const { active } = await navigator.serviceWorker.ready;
    if (!navigator.serviceWorker.controller) active?.postMessage({ claim: true });
  }
  await speak();
  await keepPages();
}

function sayKept() {
  const since = facts().keptAt;
  const place = document.getElementById("kept-at");
  if (!place) return;
  place.hidden = !since;
  if (since) place.textContent = `No connection. This page was kept on the tablet at ${new Date(since).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" })}.`;
}

// Whoever hands the tablet over is told what of theirs is still on it.
document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!form.matches("form.sign-out") || form.dataset.asked) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  const mine = (await Entries.all().catch(() => [])).filter((entry) => entry.person === facts().person);
  const asked = `${mine.length} of your entries are saved on this tablet, not sent yet. They are sent when you sign in on it again. Sign out?`;
  if (mine.length && !window.confirm(asked)) return;
  form.dataset.asked = "yes";
  form.requestSubmit();
}, true);

setInterval(speak, 5000);
document.addEventListener("loambook:entries", speak);
document.addEventListener("htmx:load", () => { sayKept(); keepPages(); });
sayKept();
startKeeping();

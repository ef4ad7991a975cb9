// What others do is seen here within two seconds. Nothing is asked for a page that nobody looks at.
"use strict";

const ASKS_LIVE_EVERY_MS = 1200;
const IS_NEW = "Something new was recorded. It is shown when what you typed is saved.";
const FOR_THE_BLOCK = { "HX-Request": "true", "HX-Target": "main" };
let seenPosition = 0;
let seenPage = "";
let isStale = false;
let isShownAnew = false;
let isAsking = false;

// One question at a time, and none while an entry is on its way: a slow line has few places.
async function askLive() {
  const place = document.querySelector("[data-live]");
  if (!place || isAsking || document.hidden || facts().keptAt || document.querySelector("form[data-sending]")) return;
  isAsking = true;
  await lookForNews().finally(() => { isAsking = false; });
}

async function lookForNews() {
  if (seenPage === facts().now && isStale) {
    if (!isBeingFilledIn()) await showAnew();
    return;
  }
  const since = seenPage === facts().now ? `since=${seenPosition}` : `at=${encodeURIComponent(facts().now)}`;
  const signal = AbortSignal.timeout(ANSWERS_WITHIN_MS);
  const answer = await fetch(`/live?${since}`, { signal }).then((told) => (told.ok ? told.json() : null)).catch(() => null);
  if (!answer) return;
  seenPage = facts().now;
  seenPosition = answer.position;
  isStale = false;
  if (!answer.changed || !(await isAnother())) return;
  if (!isBeingFilledIn()) {
    await showAnew();
    return;
  }
  isStale = true;
  document.getElementById("line").textContent = IS_NEW;
}

// A page that shows what was typed, or what was refused, waits until a person is done with it.
function isBeingFilledIn() {
  const isAsked = "main form[data-sending], main [aria-invalid], main details.act[open], main .refusal:not(:empty)";
  return Boolean(document.querySelector(isAsked)) || unsentForms("main form").length > 0;
}

// Most of what is recorded in a shop changes nothing on the page at hand, which then stays as it is.
async function isAnother() {
  const path = location.pathname + location.search;
  const answer = await fetch(path, { headers: FOR_THE_BLOCK }).catch(() => null);
  const isPage = answer?.ok && (answer.headers.get("Content-Type") || "").startsWith("text/html");
  if (!isPage || location.pathname + location.search !== path) return false;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").body;
  const fetched = [...fresh.querySelectorAll("[hx-get][id]")].map((one) => one.id);
  return wordsOf(fresh, fetched) !== wordsOf(document.getElementById("main"), fetched);
}

// Timers and the live stress are written here, and what the page fetches by itself comes later.
function wordsOf(place, fetched) {
  const copy = place.cloneNode(true);
  for (const one of copy.querySelectorAll(".timer, .stress")) one.remove();
  for (const id of fetched) copy.querySelector(`#${CSS.escape(id)}`)?.remove();
  return copy.textContent.replace(/\s+/g, " ").trim();
}

async function showAnew() {
  const opened = [...document.querySelectorAll("main details[open] > summary")].map((one) => one.textContent);
  isShownAnew = isStale = true;
  await htmx.ajax("GET", location.pathname + location.search, { target: "#main" });
  isShownAnew = false;
  if (isStale) return;
  for (const summary of document.querySelectorAll("main details > summary")) {
    if (opened.includes(summary.textContent)) summary.parentElement.open = true;
  }
  document.getElementById("line").textContent = "Updated.";
}

// Somebody may have begun to type while the page was on its way.
function putOffIfBegun(event) {
  if (!isShownAnew || event.detail.boosted || event.detail.requestConfig.verb !== "get") return;
  isStale = isBeingFilledIn();
  event.detail.shouldSwap = event.detail.shouldSwap && !isStale;
  if (isStale) document.getElementById("line").textContent = IS_NEW;
}

setInterval(askLive, ASKS_LIVE_EVERY_MS);
document.addEventListener("visibilitychange", askLive);
document.addEventListener("htmx:beforeSwap", putOffIfBegun);

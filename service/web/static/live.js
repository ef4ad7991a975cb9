// What others do is seen here within two seconds. Nothing is asked for a page that nobody looks at.
"use strict";

const ASKS_LIVE_EVERY_MS = 1200;
let seenPosition = 0;
let seenPage = "";

async function askLive() {
  const place = document.querySelector("[data-live]");
  if (!place || document.hidden || facts().keptAt) return;
  const since = seenPage === facts().now ? `since=${seenPosition}` : `at=${encodeURIComponent(facts().now)}`;
  const answer = await fetch(`/live?${since}`).then((told) => (told.ok ? told.json() : null)).catch(() => null);
  if (!answer) return;
  seenPage = facts().now;
  if (!answer.changed) {
    seenPosition = answer.position;
    return;
  }
  if (isBeingFilledIn()) return;
  seenPosition = answer.position;
  await showAnew();
}

function isBeingFilledIn() {
  const field = document.activeElement?.closest?.("main form[method=post]");
  return Boolean(document.querySelector("main form[data-sending]")) || Boolean(field && isTypedIn(field)) || unsentForms().length > 0;
}

function isTypedIn(form) {
  return [...form.elements].some(isTyped);
}

async function showAnew() {
  await htmx.ajax("GET", location.pathname + location.search, { target: "#main" });
  document.getElementById("line").textContent = "Updated.";
}

setInterval(askLive, ASKS_LIVE_EVERY_MS);
document.addEventListener("visibilitychange", askLive);

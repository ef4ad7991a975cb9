// Keeps the bench pages of one person on a tablet of the shop, and answers with them when the line is gone.
// FILES and VERSION are written before this by the shop: what the pages need, and which state of it.
"use strict";

/* global FILES, VERSION */
const SHELL = `shell-${VERSION}`;
const PAGES = "pages-";
const WAITS_MS = 4000;
const WAITS_AGAIN_MS = 400;
const KEPT_FRESH_MS = 10 * 60 * 1000;
const MARK = 'id="facts"';
const PAUSE_MS = 1500;
let silentUntil = 0;
let pausedUntil = 0;

// Files come from the tablet without this worker, and what is sent goes past it, where the browser can do so.
function passBy(event) {
  const at = (pathname) => ({ urlPattern: new URLPattern({ pathname }) });
  const forms = ["/batches/*", "/blocks/*", "/curing/*", "/sacks/*", "/tablet/*"].map(at);
  event.addRoutes?.([
    ...["/static/*", "/vendor/*"].map((files) => ({ condition: at(files), source: { cacheName: SHELL } })),
    ...forms.map((form) => ({ condition: { ...form, requestMethod: "POST" }, source: "network" })),
  ]).catch(() => {});
}

self.addEventListener("install", (event) => {
  passBy(event);
  event.waitUntil(caches.open(SHELL).then((shell) => shell.addAll(FILES)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name.startsWith("shell-") && name !== SHELL) await caches.delete(name);
    await self.clients.claim();
  })());
});

async function pageCaches() {
  return (await caches.keys()).filter((name) => name.startsWith(PAGES));
}

async function forgetPages(but = "") {
  for (const name of await pageCaches()) if (name !== but) await caches.delete(name);
}

// The shop says in a page's head for whom it may be kept; what it does not say that of is never kept.
async function keep(path, answer) {
  const person = answer.headers.get("Loambook-Keep");
  if (!person || !answer.ok || answer.redirected) return;
  const name = PAGES + person;
  await forgetPages(name);
  const headers = new Headers(answer.headers);
  headers.set("Kept-At", new Date().toISOString());
  const body = await answer.clone().text();
  await (await caches.open(name)).put(path, new Response(body, { headers }));
}

async function kept(path) {
  for (const name of await pageCaches()) {
    const found = await (await caches.open(name)).match(path, { ignoreVary: true });
    if (found) return found;
  }
  return null;
}

function asKept(answer, at) {
  const headers = new Headers(answer.headers);
  headers.delete("Kept-At");
  return answer.text().then((text) => new Response(text.replace(MARK, `${MARK} data-kept-at="${at}"`), { headers }));
}

async function fromTablet(path) {
  const found = (await kept(path)) || (path === "/" ? await kept("/today") : null);
  if (found) return asKept(found, found.headers.get("Kept-At"));
  const missing = await (await caches.open(SHELL)).match("/offline");
  return missing || Response.error();
}

async function pageOf(request, path) {
  const waits = Date.now() < silentUntil ? WAITS_AGAIN_MS : WAITS_MS;
  const found = fetch(request);
  found.catch(() => {});
  try {
    const answer = await Promise.race([found, new Promise((_, late) => setTimeout(() => late(new Error("late")), waits))]);
    if (answer.status >= 502 && answer.status <= 504) throw new Error("nobody there");
    silentUntil = 0;
    await keep(path, answer);
    return answer;
  } catch {
    silentUntil = Date.now() + 15000;
    return fromTablet(path);
  }
}

async function fileOf(request) {
  const found = await (await caches.open(SHELL)).match(request, { ignoreVary: true });
  return found || fetch(request);
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method === "POST" && url.pathname === "/sign-out") {
    event.respondWith(fetch(request).then(async (answer) => { await forgetPages(); return answer; })
      .catch(() => Response.redirect("/today", 303)));
    return;
  }
  if (request.method !== "GET") return;
  if (/^\/(static|vendor)\//.test(url.pathname)) {
    event.respondWith(fileOf(request));
    return;
  }
  const isBlock = request.headers.get("HX-Request") === "true" && !request.headers.has("HX-Boosted");
  const isPage = request.mode === "navigate" || request.headers.has("HX-Boosted");
  if (isPage && !isBlock) event.respondWith(pageOf(request, url.pathname + url.search));
});

async function whenNobodyWaits() {
  while (Date.now() < pausedUntil) await new Promise((done) => setTimeout(done, pausedUntil - Date.now()));
}

// Pages in hand are fetched one after the other, and not while an entry is on its way: nobody waits for them.
async function keepAll(pages, person) {
  const store = await caches.open(PAGES + person);
  const wanted = new Set(pages);
  for (const request of await store.keys()) {
    const { pathname, search } = new URL(request.url);
    const age = Date.now() - Date.parse((await store.match(request)).headers.get("Kept-At"));
    if (!wanted.has(pathname + search) && age > KEPT_FRESH_MS) await store.delete(request);
  }
  for (const path of pages) {
    const before = await store.match(path, { ignoreVary: true });
    if (before && Date.now() - Date.parse(before.headers.get("Kept-At")) < KEPT_FRESH_MS) continue;
    await whenNobodyWaits();
    const answer = await fetch(path, { headers: { "HX-Request": "true", "HX-Boosted": "true" } }).catch(() => null);
    if (!answer || answer.status === 401) return;
    await keep(path, answer);
  }
}

self.addEventListener("message", (event) => {
  if (event.data?.pause) {
    pausedUntil = Date.now() + PAUSE_MS;
    return;
  }
  // A page that was on its way while this worker became active is not its own until it is claimed again.
  const claimed = self.clients.claim();
  event.waitUntil(event.data?.keep ? claimed.then(() => keepAll(event.data.keep, event.data.person)) : claimed);
});

// Forms of the bench: kept on the tablet first, then sent in order, and forgotten when the shop has acknowledged them.
"use strict";

const ANSWERS_WITHIN_MS = 10000;
const TRIES_EVERY_MS = 10000;
// So long whoever works waits for the shop; shorter while it is known to be silent.
const GOES_ON_AFTER_MS = 4000;
const GOES_ON_AGAIN_AFTER_MS = 400;
const IS_SILENT_FOR_MS = 15000;
let shopSilentUntil = 0;
const ID = "[0-9a-f-]{36}";
const BENCH = [
  "/curing/soaks",
  "/curing/soaks/end",
  `/curing/batches/${ID}/(?:cover|uncover)`,
  `/blocks/${ID}/(?:crushings|losses|notes|photos)`,
  `/blocks/${ID}/tests/[a-z]+(?:/after)?`,
  `/batches/${ID}/(?:press|trial|weighed|cans)`,
  `/sacks/${ID}/(?:cans|photos)`,
].map((pattern) => new RegExp(`^${pattern}$`));
const KEPT = "Saved on this tablet, not sent yet. It is sent when the shop answers.";
const FULL = "Not saved: the storage of this tablet is full, and the shop does not answer. Leave this page open, or write it down on paper.";

function isOfTheBench(form) {
  const path = new URL(form.action, location.href).pathname;
  return form.method === "post" && Boolean(facts().person) && BENCH.some((pattern) => pattern.test(path));
}

// What a person sees of a form: each field that is filled in, by its label.
function shownOf(form) {
  const shown = [];
  for (const field of form.elements) {
    if (!field.name || field.type === "hidden" || field.type === "submit" || !field.value) continue;
    if (field.name.endsWith("_unit") || ((field.type === "radio" || field.type === "checkbox") && !field.checked)) continue;
    const group = field.closest("fieldset");
    const isChoice = field.type === "radio" || field.type === "checkbox";
    const label = isChoice ? group?.querySelector("legend") : field.labels?.[0];
    const unit = form.elements.namedItem(`${field.name}_unit`)?.value || "";
    const value = isChoice ? field.labels?.[0] : field.selectedOptions?.[0];
    const text = (value?.textContent || (field.type === "file" ? "a photo" : field.value)).replace(/\s+/g, " ").trim();
    shown.push([(label?.textContent || field.ariaLabel || field.name).replace(/\s+/g, " ").trim(), `${text} ${unit}`.trim()]);
  }
  return shown;
}

function entryOf(form, submitter) {
  const fields = [...new FormData(form, submitter?.form === form ? submitter : undefined)].filter(([, value]) => !(value instanceof File) || value.size);
  const blocks = fields.filter(([name]) => name === "block_ids").map(([, id]) => id);
  const path = new URL(form.action, location.href).pathname;
  const block = /^\/blocks\/([0-9a-f-]{36})\/(?:crushings|losses)$/.exec(path);
  return {
    key: form.elements.request_key.value,
    person: facts().person,
    who: facts().name,
    action: path,
    fields,
    shown: shownOf(form),
    blocks: block ? [block[1]] : blocks,
    title: [document.querySelector("main h1")?.textContent, submitter?.textContent].filter(Boolean).join(": ").replace(/\s+/g, " ").trim(),
    page: location.pathname + location.search,
    at: Date.now(),
    clock: null,
    state: "unsent",
  };
}

async function post(entry) {
  const body = new FormData();
  for (const [name, value] of entry.fields) body.append(name, value);
  const headers = {
    "HX-Request": "true",
    "Entry-Key": entry.key,
    "Entry-Person": entry.person,
    "Entry-At": String(entry.at),
    "Entry-Clock": entry.clock === null ? "" : String(entry.clock),
    "Entry-Sent": String(Date.now()),
  };
  try {
    const signal = AbortSignal.timeout(ANSWERS_WITHIN_MS);
    const answer = await fetch(entry.action, { method: "POST", body, headers, signal, redirect: "error" });
    return heard(entry, answer, (await answer.json().catch(() => null)) || {});
  } catch {
    return { kind: "silent" };
  }
}

// Only the key of the entry itself acknowledges it: a stranger's "200 OK" does not.
function heard(entry, answer, told) {
  if (answer.ok && told.acknowledged === entry.key) return { kind: "stored", see: told.see };
  if (answer.status === 401 || answer.status === 204) return { kind: "signed out", told };
  const isRefusal = [403, 404, 409, 413, 422].includes(answer.status) && typeof told.error === "string";
  return isRefusal ? { kind: "refused", told: { status: answer.status, error: told.error, fields: told.fields || {} } } : { kind: "silent" };
}

// ``wanted`` is the entry that somebody waits for at its form, as long as they do.
async function sendAll(wanted = null) {
  const outcome = navigator.locks
    ? await navigator.locks.request("loambook-sending", () => sendInOrder(wanted))
    : await sendInOrder(wanted);
  await showUnsent();
  return outcome;
}

async function sendInOrder(wanted) {
  const person = facts().person;
  for (const entry of await Entries.all()) {
    if (entry.person !== person || entry.state !== "unsent") continue;
    const answer = await post(entry);
    shopSilentUntil = answer.kind === "silent" ? Date.now() + IS_SILENT_FOR_MS : 0;
    if (answer.kind === "silent" || answer.kind === "signed out") return answer;
    // Whoever is at the form sees there what is wrong with it; of an older entry it waits for a person.
    const isAtHand = entry.key === wanted?.key && !wanted.isLeft;
    if (isAtHand) wanted.isHeard = true;
    if (answer.kind === "stored" || isAtHand) await Entries.remove(entry.number);
    else await Entries.put({ ...entry, state: "waiting", told: answer.told });
    if (isAtHand) return answer;
  }
  return { kind: "stored" };
}

// The entry is on the tablet: its answer is heard later, and what is refused then waits for a person.
function goOnWithout(wanted) {
  const waits = Date.now() < shopSilentUntil ? GOES_ON_AGAIN_AFTER_MS : GOES_ON_AFTER_MS;
  return new Promise((done) => setTimeout(() => {
    if (wanted.isHeard) return;
    wanted.isLeft = true;
    shopSilentUntil = Date.now() + IS_SILENT_FOR_MS;
    done({ kind: "silent" });
  }, waits));
}

function goTo(path) {
  const link = document.createElement("a");
  link.href = path;
  link.hidden = true;
  document.body.append(link);
  htmx.process(link);
  link.click();
}

async function enter(form, submitter, sendByItself) {
  begin(form);
  pauseKeeping();
  const entry = entryOf(form, submitter);
  try {
    entry.clock = await clockKnown;
    entry.number = await Entries.add(entry);
  } catch (fault) {
    end(form);
    if (fault?.name !== "ConstraintError") {
      form.dataset.full = "yes";
      return sendByItself();
    }
    return say(form, KEPT);
  }
  const wanted = { key: entry.key, isHeard: false, isLeft: false };
  const answer = await Promise.race([sendAll(wanted), goOnWithout(wanted)]);
  end(form);
  if (answer.kind === "refused") {
    document.dispatchEvent(new CustomEvent("loambook:refused", { detail: { form } }));
    return showRefusal(form, answer.told);
  }
  delete form.dataset.unsent;
  document.dispatchEvent(new CustomEvent("loambook:saved", { detail: { form, stored: answer.kind === "stored" } }));
  if (answer.kind === "stored") return goTo(answer.see || location.pathname);
  document.getElementById("line").textContent = answer.told?.error || KEPT;
  form.querySelectorAll("button").forEach((button) => { button.disabled = true; });
  return goTo(await nextAfter(entry));
}

// Without a connection the way goes on as Today knew it last: the next block of the lot, the next place of the batch.
async function nextAfter(entry) {
  const { order = [], pages = [] } = (await Entries.known("kept").catch(() => null)) || {};
  if (/\/crushings$/.test(entry.action)) {
    const entered = new Set((await Entries.all()).flatMap((one) => one.blocks));
    const next = order.find((block) => !entered.has(block));
    return next ? `/blocks/${next}` : "/today";
  }
  const position = Number(entry.fields.find(([name]) => name === "position")?.[1]);
  const following = `${entry.action}?position=${position + 1}`;
  return /\/press$/.test(entry.action) && pages.includes(following) ? following : "/today";
}

document.addEventListener("htmx:confirm", (event) => {
  const form = event.detail.elt;
  if (!(form instanceof HTMLFormElement) || !isOfTheBench(form) || !Entries.canKeep) return;
  event.preventDefault();
  enter(form, event.detail.triggeringEvent?.submitter, () => event.detail.issueRequest(true));
});

async function showUnsent() {
  const line = document.getElementById("unsent");
  let entries = [];
  try {
    entries = await Entries.all();
  } catch {
    return;
  }
  const waiting = entries.filter((entry) => entry.state === "waiting").length;
  const unsent = entries.length - waiting;
  const words = [];
  if (unsent) words.push(`${unsent} saved on this tablet, not sent yet`);
  if (waiting) words.push(`${waiting} refused, waiting for you`);
  if (line) {
    line.hidden = !entries.length;
    const link = line.querySelector("a");
    if (link.textContent !== words.join(", ")) link.textContent = words.join(", ");
  }
  for (const form of document.querySelectorAll("form.sign-out")) sayUnsent(form, entries.length > 0);
  markBlocks(new Set(entries.flatMap((entry) => entry.blocks)));
  document.dispatchEvent(new CustomEvent("loambook:entries", { detail: { entries } }));
}

// Whoever signs out takes everything along but entries that were not sent.
function sayUnsent(form, isThere) {
  form.querySelector("[name=unsent]")?.remove();
  if (isThere) form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "unsent", value: "yes" }));
}

// A page kept from before shows what was entered since.
function markBlocks(entered) {
  for (const mark of document.querySelectorAll("[data-block]")) mark.classList.toggle("is-entered", entered.has(mark.dataset.block));
  for (const task of document.querySelectorAll("[data-task]")) {
    const blocks = [...task.querySelectorAll("[data-block]")];
    if (blocks.length && blocks.every((mark) => entered.has(mark.dataset.block))) task.dataset.entered = "yes";
    else delete task.dataset.entered;
  }
  goPast(entered);
}

// The way on from a page kept from before leads to the next block of the lot that was not entered.
function goPast(entered) {
  const order = (document.querySelector("[data-order]")?.dataset.order || "").split(" ").filter(Boolean);
  const next = order.find((block) => !entered.has(block));
  for (const link of document.querySelectorAll(".bar a.go, .tasks a.lesser")) {
    if (!next || !entered.has(/^\/blocks\/([^/]+)$/.exec(link.pathname)?.[1])) continue;
    link.href = `/blocks/${next}`;
    // htmx took the address when it met the link.
    htmx.process(link);
  }
}

async function trySending() {
  if (document.hidden || !facts().person) return;
  const entries = await Entries.all().catch(() => []);
  if (entries.some((entry) => entry.state === "unsent" && entry.person === facts().person)) await sendAll();
}

setInterval(trySending, TRIES_EVERY_MS);
window.addEventListener("online", trySending);
document.addEventListener("visibilitychange", trySending);
document.addEventListener("htmx:load", (event) => { if (event.detail.elt === document.body || event.detail.elt.id === "main" || event.detail.elt.querySelector?.("#main")) showUnsent(); });
showUnsent().then(trySending);

// The entries that are on this tablet only: what was typed, by whom, and what the shop says instead.
"use strict";

function made(tag, text = "", attributes = {}) {
  const element = document.createElement(tag);
  element.textContent = text;
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  return element;
}

function listOf(pairs) {
  const list = made("dl", "", { class: "facts" });
  for (const [word, text] of pairs) {
    const pair = made("div");
    pair.append(made("dt", word), made("dd", text));
    list.append(pair);
  }
  return list;
}

function buttonOf(word, what, number) {
  return made("button", word, { class: "lesser", type: "button", "data-entry-act": what, "data-entry": number });
}

function timeOf(entry) {
  return new Date(entry.at - (entry.clock || 0)).toLocaleString([], { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" });
}

function cardOf(entry) {
  const card = made("li", "", { class: "card entry", "data-number": entry.number });
  card.append(made("h2", entry.title || entry.action), made("p", `${entry.who}, ${timeOf(entry)}`));
  const isOwn = entry.person === facts().person;
  const acts = made("div", "", { class: "acts" });
  if (entry.state === "unsent") {
    card.append(made("p", isOwn ? "Saved on this tablet, not sent yet." : `Saved on this tablet, not sent yet. It is sent when ${entry.who} signs in on it.`), listOf(entry.shown));
    acts.append(isOwn ? buttonOf("Send now", "send", entry.number) : buttonOf("Enter it as yours", "own", entry.number));
  } else {
    card.append(made("p", [entry.told.error, ...Object.values(entry.told.fields)].join(" "), { class: "refusal" }));
    const both = made("div", "", { class: "both" });
    const mine = made("section");
    mine.append(made("h3", "On this tablet"), listOf(entry.shown));
    const shops = made("section", "", { "data-shops-of": entry.number });
    shops.append(made("h3", "In the shop's records"), made("p", "Asking."));
    both.append(mine, shops);
    card.append(both);
    acts.append(buttonOf("Correct and send again", "correct", entry.number), buttonOf("Delete this entry, keep the shop's", "drop", entry.number));
    askShop(entry, shops, acts);
  }
  card.append(acts);
  return card;
}

async function askShop(entry, place, acts) {
  const position = entry.fields.find(([name]) => name === "position")?.[1] || "";
  const press_session = entry.fields.find(([name]) => name === "press_session_id")?.[1] || "";
  const asked = new URLSearchParams({ action: entry.action, position, blocks: entry.blocks.join(" "), press_session_id: press_session });
  const told = await fetch(`/unsent/shop?${asked}`).then((answer) => (answer.ok ? answer.json() : null)).catch(() => null);
  place.querySelector("p")?.remove();
  if (!told) return place.append(made("p", "No answer from the shop yet."));
  place.append(told.lines.length ? listOf(told.lines) : made("p", "Nothing is recorded there."));
  if (told.correct && !acts.querySelector("[data-entry-act=replace]")) {
    const replace = buttonOf("Use this tablet's instead", "replace", entry.number);
    replace.dataset.correct = told.correct;
    if (told.gauge_id) replace.dataset.gauge = told.gauge_id;
    acts.prepend(replace);
  }
  return place;
}

function showEntries(entries) {
  const place = document.getElementById("entries");
  if (!place) return;
  place.replaceChildren(...entries.map(cardOf));
  document.getElementById("no-entries").hidden = entries.length > 0;
}

function freshKey() {
  return crypto.randomUUID().replaceAll("-", "");
}

// What a person decided is written down by the shop before the tablet forgets the entry.
async function settle(entry, decision) {
  const body = new URLSearchParams({ request_key: `settled-${entry.key}`, decision, title: entry.title, who: entry.who, entry_person: entry.person });
  for (const [word, text] of entry.shown) body.append("typed", `${word}: ${text}`);
  const answer = await fetch("/unsent/settled", { method: "POST", body, headers: { "HX-Request": "true" }, redirect: "manual" }).catch(() => null);
  if (answer?.type !== "opaqueredirect") return say0("No answer from the shop. Nothing was changed; try again.");
  await Entries.remove(entry.number);
  return showUnsent();
}

function say0(sentence) {
  document.getElementById("line").textContent = sentence;
}

const DECISIONS = {
  send: () => sendAll(),
  drop: (entry) => (window.confirm("Delete this entry from the tablet? What was typed is written to the history.") ? settle(entry, "shop's kept") : null),
  correct: async (entry) => {
    await Entries.know("to correct", entry.number);
    goTo(entry.page);
  },
  replace: async (entry, button) => {
    const fields = entry.fields.filter(([name]) => !["request_key", "form"].includes(name));
    fields.push(["request_key", entry.key], ["because", "Two readings of one block: this one was chosen."]);
    if (button.dataset.gauge) fields.push(["gauge_id", button.dataset.gauge]);
    await Entries.put({ ...entry, action: button.dataset.correct, fields, state: "unsent", told: undefined });
    await sendAll();
  },
  own: async (entry) => {
    const found = await fetch(`/sent/${entry.key}?person=${entry.person}`).then((answer) => (answer.ok ? answer.json() : null)).catch(() => null);
    if (!found) return say0("No answer from the shop. Nothing was changed; try again.");
    if (found.saved) {
      await Entries.remove(entry.number);
      say0(`${entry.who}'s entry had arrived already.`);
      return showUnsent();
    }
    const key = freshKey();
    const fields = entry.fields.map(([name, value]) => [name, name === "request_key" ? key : value]);
    await Entries.put({ ...entry, key, fields, person: facts().person, who: facts().name });
    return sendAll();
  },
};

document.addEventListener("click", async (event) => {
  const button = event.target.closest("[data-entry-act]");
  if (!button) return;
  const entry = await Entries.one(Number(button.dataset.entry));
  if (entry) await DECISIONS[button.dataset.entryAct](entry, button);
});

// "Correct and send again" opens the page of the form with everything as it was typed.
async function fillIn() {
  const number = await Entries.known("to correct").catch(() => 0);
  const entry = number ? await Entries.one(number).catch(() => null) : null;
  if (!entry || entry.page !== location.pathname + location.search) return;
  await Entries.know("to correct", 0);
  const form = [...document.forms].find((one) => new URL(one.action, location.href).pathname === entry.action);
  if (!form) return say0("The form of this entry is not here any more. Delete the entry, or correct what is recorded.");
  for (const [name, value] of entry.fields) {
    const field = form.elements.namedItem(name);
    if (!field || name === "request_key" || name === "form" || value instanceof File) continue;
    if (field instanceof RadioNodeList) field.value = value;
    else if (field.type === "checkbox") field.checked = true;
    else field.value = value;
    (field instanceof RadioNodeList ? field[0] : field).dispatchEvent(new Event("change", { bubbles: true }));
  }
  for (const name of Object.keys(entry.told?.fields || {})) bringIntoSight(fieldNamed(form, name));
  form.dataset.instead = String(number);
  say(form, [entry.told?.error, ...Object.values(entry.told?.fields || {})].join(" "));
}

// The corrected entry takes the place of the refused one once it is stored or kept itself.
document.addEventListener("loambook:saved", async (event) => {
  const number = Number(event.detail.form.dataset.instead);
  if (!number) return;
  await Entries.remove(number).catch(() => {});
  await showUnsent();
});

document.addEventListener("loambook:entries", (event) => showEntries(event.detail.entries));
document.addEventListener("htmx:load", fillIn);
fillIn();

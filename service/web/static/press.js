// The stress on the face while the gauge is typed: (slope * gauge + intercept) / area, all carried by the page.
"use strict";

const NUMBER = /^([+-]?)(?:(?:([0-9]{1,6})[ -])?([0-9]{1,4})\/([1-9][0-9]{0,3})|((?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?))\s*(\S*)$/;
const GROUPED = /(?<![0-9.,])[0-9]{1,3}([, ])[0-9]{3}(?:\1[0-9]{3})*(?![0-9,])/g;
const PARTS = { "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8" };

function writesCommas() {
  return document.getElementById("main").dataset.thousands === "comma";
}

// A figure as the shop writes it.
function parted(figure) {
  return writesCommas() ? figure.replace(/^[0-9]{4,}/, (whole) => whole.replace(/\B(?=([0-9]{3})+$)/g, ",")) : figure;
}

// What was typed with plain fractions and without the marks between its thousands, as the server reads it.
function plainly(text) {
  const hasCommas = writesCommas();
  const spelled = text.replace(/[½¼¾⅛⅜⅝⅞]/g, (sign) => ` ${PARTS[sign]}`).replace(/\s+/g, " ").trim();
  return spelled.replace(GROUPED, (group, mark) => (mark === " " || hasCommas ? group.replaceAll(mark, "") : group));
}

function numberOf(found) {
  const [, sign, whole, above, below, decimal] = found;
  const size = decimal ? Number(decimal) : Number(whole || 0) + Number(above) / Number(below);
  return sign === "-" ? -size : size;
}

// The exponent of the first figure of a number.
function exponentOf(value) {
  return Number(value.toExponential().split("e")[1]);
}

// The same figures as the server's: to the place that the step tells, half away from zero on the shortest decimal
// form, or down for a floor.
function toStep(value, step, isFloor) {
  const number = isFloor ? value * (1 + 1e-12) : value;
  const place = exponentOf(Number(step.toPrecision(9)));
  const figures = exponentOf(number) - place + 1;
  if (figures < 1) return plain(!isFloor && figures === 0 && number >= 5 * 10 ** (place - 1) ? "1" : "0", place);
  const read = number.toExponential().split("e")[0].replace(".", "").padEnd(figures, "0");
  const isUp = !isFloor && Number(read[figures] || "0") >= 5;
  return plain(String(BigInt(read.slice(0, figures)) + (isUp ? 1n : 0n)), place);
}

function plain(figures, shift) {
  if (shift >= 0) return figures === "0" ? "0" : figures + "0".repeat(shift);
  const padded = figures.padStart(1 - shift, "0");
  return `${padded.slice(0, shift)}.${padded.slice(shift)}`;
}

function input(form, name) {
  return name ? form.elements.namedItem(name) : null;
}

// A typed number in MPa or mm, or null while it is not one.
function typed(form, name, unit, factors) {
  const found = NUMBER.exec(plainly(input(form, name)?.value || ""));
  const chosen = input(form, `${name}_unit`);
  // A dial of force is named by the force alone.
  const isChosen = !found?.[6] || found[6] === chosen?.selectedOptions?.[0]?.textContent;
  const factor = found && factors[isChosen ? chosen?.value || unit : found[6]];
  return factor ? numberOf(found) * factor : null;
}

function stressMpa(form, data, factors) {
  const gauge = typed(form, data.gauge, data.gaugeUnit, factors);
  const zero = data.zero ? typed(form, data.zero, data.gaugeUnit, factors) ?? 0 : 0;
  const length = typed(form, data.length, "mm", factors);
  const width = typed(form, data.width, "mm", factors);
  if (gauge === null || !length || !width) return null;
  const stress = (Number(data.slope) * (gauge - zero) + Number(data.intercept)) / (length * width);
  const step = (Number(data.slope) * Number(data.step)) / (length * width);
  return { gauge, stress, step };
}

function remark(gauge, data) {
  if (data.limit && gauge > Number(data.limit)) return "Above the working limit of this press: stop.";
  if (gauge > Number(data.most)) return "Beyond the calibration: above its highest point.";
  if (gauge < Number(data.least)) return "Beyond the calibration: below its lowest point.";
  return "";
}

function small(text) {
  const piece = document.createElement("small");
  piece.textContent = text;
  return piece;
}

function write(section, figure, { before = "", unit = "", other = "", said = "" }) {
  const place = section.querySelector(".stress-figure");
  place.replaceChildren(...(before ? [small(`${before} `)] : []), figure, ...(unit ? [small(` ${unit}`)] : []));
  place.classList.toggle("nothing", !unit);
  section.querySelector(".stress-other").textContent = other;
  section.querySelector(".stress-remark").textContent = said;
}

function whyNothing(ending, found) {
  if (!ending) return "Choose first how it ended.";
  if (ending !== "broke" && ending !== "held") return "No stress is kept for this block.";
  if (!found) return "Type the gauge reading.";
  return found.stress > 0 ? "" : "No force at this reading.";
}

function show(section) {
  const data = section.dataset;
  const form = section.closest("form");
  const ending = data.after ? input(form, data.after)?.value : "broke";
  const found = stressMpa(form, data, JSON.parse(data.factors));
  const nothing = whyNothing(ending, found);
  if (nothing) return write(section, "–", { other: nothing });
  const isFloor = ending === "held";
  const [first, second] = data.first === "imperial" ? ["psi", "MPa"] : ["MPa", "psi"];
  const factor = { MPa: 1, psi: Number(data.psi) };
  const [figure, other] = [first, second].map((unit) =>
    parted(toStep(found.stress * factor[unit], found.step * factor[unit], isFloor)),
  );
  const before = isFloor ? "at least" : "";
  return write(section, figure, { before, unit: first, other: `${other} ${second}`, said: remark(found.gauge, data) });
}

function follow(event) {
  const form = event.target.closest?.("form");
  for (const section of form?.querySelectorAll(".stress") || []) show(section);
}

// A thumb that has said how the block ended goes on to the gauge; whoever uses the keys keeps their place.
let isByThumb = false;

function goToGauge(event) {
  const section = event.target.closest?.("form")?.querySelector(".stress");
  if (!isByThumb || !section || event.target.name !== section.dataset.after) return;
  const form = section.closest("form");
  const unanswered = [...form.querySelectorAll(".when fieldset")].some(
    (group) => group.checkVisibility() && !group.querySelector(":checked"),
  );
  const gauge = input(form, section.dataset.gauge);
  if (gauge && !gauge.value && gauge.checkVisibility() && !unanswered) gauge.focus();
}

function showAll() {
  for (const section of document.querySelectorAll(".stress")) show(section);
}

document.addEventListener("input", follow);
document.addEventListener("change", follow);
document.addEventListener("change", goToGauge);
document.addEventListener("pointerdown", () => (isByThumb = true), true);
document.addEventListener("keydown", () => (isByThumb = false), true);
document.addEventListener("htmx:load", showAll);
showAll();

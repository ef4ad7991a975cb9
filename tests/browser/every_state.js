// What a test of every state does inside the page: show a state as htmx shows the page of a link, and look at it.
"use strict";

const SEEN = { light: new Set(), dark: new Set(), heads: new Set() };

window.showState = async (text) => {
  const shown = new DOMParser().parseFromString(text, "text/html");
  const settled = new Promise((done) => document.addEventListener("htmx:afterSettle", done, { once: true }));
  document.title = shown.title;
  document.documentElement.lang = shown.documentElement.lang;
  htmx.swap(document.body, shown.body.innerHTML, { swapStyle: "innerHTML", swapDelay: 0, settleDelay: 0 });
  await settled;
};

window.openFolds = () => {
  for (const fold of document.querySelectorAll("main details")) fold.open = true;
};

// Of contrast axe looks at what is marked: the first text of each style, for it has one contrast wherever it stands.
axe.configure({ rules: [{ id: "color-contrast", selector: "[data-look]" }] });

window.brokenRules = async (rules) => {
  const head = document.querySelector("header.top");
  // The head is looked at once for each that there is; rules of the whole page know it all the same.
  const words = head?.outerHTML.replace(/(value|aria-current)="[^"]*"/g, "");
  const isKnown = SEEN.heads.has(words);
  SEEN.heads.add(words);
  markNewStyles("light");
  return said(await axe.run(head && isKnown ? { exclude: [head] } : document, { runOnly: rules, resultTypes: ["violations"] }));
};

window.faintInTheDark = async () => {
  if (!markNewStyles("dark")) return [];
  return said(await axe.run({ runOnly: ["color-contrast"], resultTypes: ["violations"] }));
};

window.tooWide = () => {
  const found = [...document.querySelectorAll(".wide")].filter((one) => one.scrollWidth > one.clientWidth + 1);
  const wide = found.map((one) => `${one.ariaLabel} goes on beyond the edge`);
  return document.documentElement.scrollWidth > innerWidth ? [...wide, "wider than the phone"] : wide;
};

// WCAG 1.4.12: with the widest spacing that somebody may set, nothing is cut off or pushed beyond the edge.
window.cutOffWhenSpaced = () => {
  const wide = document.createElement("style");
  wide.textContent = "* { line-height: 1.5 !important; letter-spacing: .12em !important; word-spacing: .16em !important; } p { margin-bottom: 2em !important; }";
  document.head.append(wide);
  const cut = [...document.body.querySelectorAll("*")].filter((one) => {
    const { overflowX, overflowY, position } = getComputedStyle(one);
    const hides = [overflowX, overflowY].some((how) => how === "hidden" || how === "clip");
    // What is for readers alone is hidden on purpose.
    return hides && position !== "absolute" && one.textContent.trim() && (one.scrollHeight > one.clientHeight + 1 || one.scrollWidth > one.clientWidth + 1);
  });
  const beyond = document.documentElement.scrollWidth > innerWidth;
  wide.remove();
  return [...cut.map((one) => `cut off when spaced: ${one.outerHTML.slice(0, 120)}`), ...(beyond ? ["wider than the phone when spaced"] : [])];
};

// WCAG 1.4.11: how strongly the edge of each field, and the outline of what has the focus, stand out.
window.edges = () => {
  const ground = getComputedStyle(document.body).backgroundColor;
  const fields = [...document.querySelectorAll("main .entry, main textarea")].filter((one) => one.checkVisibility());
  const told = fields.map((one) => [one.className, ratio(getComputedStyle(one).borderBottomColor, ground)]);
  const button = document.querySelector("main .go, .bar .go");
  button.focus({ focusVisible: true });
  return [...told, ["outline", ratio(getComputedStyle(button).outlineColor, ground)]];
};

function ratio(one, other) {
  const [lighter, darker] = [light(one), light(other)].sort((a, b) => b - a);
  return (lighter + 0.05) / (darker + 0.05);
}

// The relative luminance as WCAG 2.2 defines it.
function light(colour) {
  const parts = colour.match(/[\d.]+/g).slice(0, 3).map((part) => Number(part) / 255);
  const [red, green, blue] = parts.map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4));
  return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
}

function markNewStyles(scheme) {
  const grounds = new Map();
  let count = 0;
  for (const one of document.body.querySelectorAll("*")) {
    one.removeAttribute("data-look");
    const isText = one.matches("input, select, textarea") || [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
    if (!isText || !one.checkVisibility()) continue;
    const { color, fontSize, fontWeight, fill } = getComputedStyle(one);
    const style = [color, fontSize, fontWeight, fill, one.matches(":disabled"), groundOf(one, grounds)].join(" ");
    if (SEEN[scheme].has(style)) continue;
    SEEN[scheme].add(style);
    one.dataset.look = "";
    count += 1;
  }
  return count;
}

// What lies behind an element, up to the first ground that nothing shines through.
function groundOf(one, grounds) {
  if (!one) return "";
  if (!grounds.has(one)) {
    const { backgroundColor, backgroundImage, opacity } = getComputedStyle(one);
    const behind = backgroundColor.startsWith("rgb(") && opacity === "1" ? "" : groundOf(one.parentElement, grounds);
    grounds.set(one, [backgroundColor, backgroundImage, opacity, behind].join(" "));
  }
  return grounds.get(one);
}

function said(told) {
  return told.violations.map((rule) => `${rule.id}: ${rule.nodes.map((node) => node.html.slice(0, 160)).slice(0, 4).join(" | ")}`);
}

// A number keeps its unit beside it, where a narrow screen would end the line between them;
// a word that is longer than a column may be broken.
"use strict";

const BEFORE_A_UNIT = /(\d) (?=(?:%|MPa|kPa|psi|bar|kg|g|t|lb|oz|mm|cm|m|in|ft|kN|lbf|h|min|s|d|days|L|gal|°C|°F)(?![\w]))/g;

const TOO_LONG = /\S{31,}/;

function keepWhole(root) {
  const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT, (node) =>
    node.parentElement.closest("textarea, select, script, style, pre") ? NodeFilter.FILTER_REJECT : NodeFilter.FILTER_ACCEPT);
  while (walker.nextNode()) {
    const node = walker.currentNode;
    const kept = node.data.replace(BEFORE_A_UNIT, "$1\u00a0");
    if (kept !== node.data) node.data = kept;
    if (TOO_LONG.test(node.data)) node.parentElement.classList.add("too-long");
  }
}

document.addEventListener("htmx:load", (event) => keepWhole(event.detail.elt));
keepWhole(document.body);

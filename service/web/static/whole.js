// A number keeps its unit beside it, where a narrow screen would end the line between them.
"use strict";

const BEFORE_A_UNIT = /(\d) (?=(?:%|MPa|kPa|psi|bar|kg|g|t|lb|oz|mm|cm|m|in|ft|kN|lbf|h|min|s|d|days|L|gal|°C|°F)(?![\w]))/g;

function keepUnits(root) {
  const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT, (node) =>
    node.parentElement.closest("textarea, select, script, style, pre") ? NodeFilter.FILTER_REJECT : NodeFilter.FILTER_ACCEPT);
  while (walker.nextNode()) {
    const node = walker.currentNode;
    const kept = node.data.replace(BEFORE_A_UNIT, "$1\u00a0");
    if (kept !== node.data) node.data = kept;
  }
}

document.addEventListener("htmx:load", (event) => keepUnits(event.detail.elt));
keepUnits(document.body);

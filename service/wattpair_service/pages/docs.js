"use strict";

const api = document.getElementById("api");

// Elements that the library leaves without an accessible name, or unreachable by keyboard.
const MISSING = [
  ["textarea", "aria-label", "Request body"],
  [".examples-select-element", "aria-label", "Example"],
  [".parameters input", "aria-label", "Value"],
  [".parameters select", "aria-label", "Value"],
  [".microlight, .curl, pre.example", "tabindex", "0"],
];

function complete() {
  for (const [selector, attribute, value] of MISSING) {
    for (const each of api.querySelectorAll(`:is(${selector}):not([${attribute}])`)) {
      each.setAttribute(attribute, value);
    }
  }
}

// Opens the operation in the address, such as docs#operations-pairing-compute_clipping.
function openNamed() {
  const named = document.getElementById(window.location.hash.slice(1));
  const closed = named?.querySelector(".opblock-summary-control[aria-expanded='false']");
  closed?.click();
  named?.scrollIntoView();
}

new MutationObserver(complete).observe(api, { childList: true, subtree: true });
window.addEventListener("hashchange", openNamed);

SwaggerUIBundle({
  domNode: api,
  url: "openapi.json",
  // The library's links are inside buttons, and fail on the underscores of operation ids.
  deepLinking: false,
  displayRequestDuration: true,
  defaultModelsExpandDepth: 0,
  // Its colours have too little contrast.
  syntaxHighlight: false,
  // Otherwise the library sends the contract to a validator elsewhere.
  validatorUrl: null,
  onComplete: openNamed,
});

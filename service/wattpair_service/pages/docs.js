"use strict";

const api = document.getElementById("api");

// What the library leaves without a name, or out of the keyboard's reach.
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

// Opens the operation that the address names, such as docs#operations-pairing-compute_clipping.
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
  // Its own links stand inside of buttons, and stumble over the underscores of operation ids.
  deepLinking: false,
  displayRequestDuration: true,
  defaultModelsExpandDepth: 0,
  // Its colours are too pale to be read.
  syntaxHighlight: false,
  // The library would ask a server elsewhere whether the contract is valid.
  validatorUrl: null,
  onComplete: openNamed,
});

"use strict";

// Sends the request that stands on the page to this service, and shows what comes back. Text stays text: nothing is parsed as markup.

const base = new URL(".", window.location.href);
const button = document.getElementById("send");
const status = document.getElementById("status");
const answer = document.getElementById("answer");

function element(name, properties, ...children) {
  const made = Object.assign(document.createElement(name), properties);
  made.append(...children);
  return made;
}

function number(value, digits = 0) {
  return new Intl.NumberFormat("en", { minimumFractionDigits: digits, maximumFractionDigits: digits }).format(value);
}

function candidate(each, currency, years) {
  const energy = each.energy;
  const range = energy.delivered_range_kwh;
  const clipped = energy.first_year.clipping_kwh / energy.first_year.available_kwh;
  const facts = [
    ["electrical checks", each.verdict],
    ["delivered in the first year", `${number(range.value)} kWh`],
    ["in four years out of five", `${number(range.low)} to ${number(range.high)} kWh`],
    ["clipped in the first year", `${number(100 * clipped, 1)} %`],
    [`net present value, ${years} years`, `${number(each.money.net_present_value)} ${currency}`],
  ];
  const reasons = each.reasons.map((reason) => `${reason.verdict}: ${reason.name.replaceAll("_", " ")}`);
  return element(
    "div",
    { className: each.rank === 1 ? "candidate first" : "candidate" },
    element("h4", { textContent: `${each.rank}. ${each.microinverter}` }),
    element("dl", {}, ...facts.flatMap(([name, value]) => [element("dt", { textContent: name }), element("dd", { textContent: value })])),
    ...reasons.map((reason) => element("p", { textContent: reason })),
  );
}

function whole(body) {
  const text = element("pre", { className: "window", tabIndex: 0, textContent: JSON.stringify(body, null, 2) });
  text.setAttribute("aria-label", "The whole answer");
  return element("details", {}, element("summary", { textContent: "The whole answer" }), text);
}

function result(asked, given) {
  return [
    element("p", { className: "verdict", textContent: given.recommendation.sentence }),
    element("div", { className: "candidates" }, ...given.candidates.map((each) => candidate(each, asked.currency, asked.horizon_years))),
    element("h4", { textContent: "Keep in mind" }),
    element("ul", {}, ...given.cautions.map((caution) => element("li", { textContent: caution }))),
    whole(given),
  ];
}

async function send() {
  const body = document.getElementById("request").textContent;
  const path = document.getElementById("path").textContent.slice(1);
  button.disabled = true;
  status.textContent = "Sent.";
  answer.replaceChildren();
  try {
    const start = performance.now();
    const response = await fetch(new URL(path, base), {
      method: "POST",
      headers: { "Content-Type": "application/json", Accept: "application/json" },
      body,
    });
    const text = await response.text();
    const took = performance.now() - start;
    const size = number(new Blob([text]).size / 1000, 1);
    const given = JSON.parse(text);
    status.textContent = `${response.status} ${response.statusText}, ${number(took)} ms, ${size} kB`;
    answer.replaceChildren(...(response.ok ? result(JSON.parse(body), given) : [element("p", { textContent: given.detail }), whole(given)]));
  } catch (error) {
    status.textContent = `No answer that can be read: ${error.message}`;
  } finally {
    button.disabled = false;
  }
}

for (const place of document.querySelectorAll(".origin")) {
  place.textContent = base.href.slice(0, -1);
}
button.disabled = false;
button.addEventListener("click", send);

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

function words(name) {
  return name.replaceAll("_", " ");
}

function facts(pairs) {
  return element("dl", {}, ...pairs.flatMap(([name, value]) => [element("dt", { textContent: name }), element("dd", { textContent: value })]));
}

// The two stay on one line.
function quantity(value, unit) {
  return `${number(value, 1)}\u00a0${unit}`;
}

function reason(check) {
  const limit = check.limit === null ? "" : `, limit ${quantity(check.limit, check.unit)}`;
  return `${check.verdict}: ${words(check.name)} ${quantity(check.value, check.unit)}${limit}`;
}

// What is not known is left out: a candidate that fails has no rank, and without prices there is no money.
function candidate(each, currency, years) {
  const pairs = [["electrical checks", each.verdict]];
  if (each.energy !== null) {
    const { first_year: first, delivered_range_kwh: range } = each.energy;
    pairs.push(
      ["delivered in the first year", `${number(range.value)} kWh`],
      ["in four years out of five", `${number(range.low)} to ${number(range.high)} kWh`],
      ["clipped in the first year", `${number((100 * first.clipping_kwh) / first.available_kwh, 1)} %`],
    );
  }
  if (each.money !== null) {
    pairs.push([`net present value, ${years} years`, `${number(each.money.net_present_value)} ${currency}`]);
  }
  const rank = each.rank === null ? "" : `${each.rank}. `;
  return element(
    "div",
    { className: each.rank === 1 ? "candidate first" : "candidate" },
    element("h4", { textContent: rank + each.microinverter }),
    facts(pairs),
    ...each.reasons.map((check) => element("p", { textContent: reason(check) })),
  );
}

function built(given) {
  const pairs = given.faces.map((face) => [`modules on the ${face.name}`, number(face.module_count)]);
  if (given.circuits !== null) {
    pairs.push(["microinverters", number(given.circuits.unit_count)], ["circuits", number(given.circuits.circuits.length)]);
  }
  const bill = given.bill_of_materials;
  if (bill !== null) {
    pairs.push(["lines to order", number(bill.lines.length)], ["dead load", `${number(bill.mass_total_kg)} kg`]);
    if (bill.prices !== null) {
      const { total, currency, complete } = bill.prices;
      pairs.push([complete ? "price with tax" : "price with tax, of parts with a price", `${number(total, 2)} ${currency}`]);
    }
  }
  return element("div", { className: "candidate" }, element("h4", { textContent: given.built.sentence }), facts(pairs));
}

function whole(body) {
  const text = element("pre", { className: "window", tabIndex: 0, textContent: JSON.stringify(body, null, 2) });
  text.setAttribute("aria-label", "The whole answer");
  return element("details", {}, element("summary", { textContent: "The whole answer" }), text);
}

function result(asked, given) {
  const { recommendation, candidates } = given.selection;
  return [
    element("p", { className: "verdict", textContent: recommendation.sentence }),
    element("div", { className: "candidates" }, ...candidates.map((each) => candidate(each, given.currency, asked.horizon_years)), built(given)),
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

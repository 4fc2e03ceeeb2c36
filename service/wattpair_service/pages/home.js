"use strict";

// Sends the request on the page to this service and shows the result. All text is set as text, never parsed as markup.

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

// A no-break space keeps number and unit on one line.
function quantity(value, unit) {
  return `${number(value, 1)}\u00a0${unit}`;
}

function reason(check) {
  const limit = check.limit === null ? "" : `, limit ${quantity(check.limit, check.unit)}`;
  return `${check.verdict}: ${words(check.name)} ${quantity(check.value, check.unit)}${limit}`;
}

// Null parts are left out: a candidate that fails has no rank, and without prices there is no money.
function candidate(each, currency, years) {
  const pairs = [["electrical checks", each.verdict]];
  if (each.energy !== null) {
    const { first_year: first, at_meter_range_kwh: range } = each.energy;
    // As clipped_share is defined: of what the units would give without their AC limit.
    const unlimited = first.delivered_kwh + first.night_draw_kwh + first.thermal_derating_kwh + first.clipping_kwh;
    pairs.push(
      ["at the meter in the first year", `${number(range.value)} kWh`],
      ["in four of five years", `${number(range.low)} to ${number(range.high)} kWh`],
      ["clipped in the first year", `${number((100 * first.clipping_kwh) / unlimited, 1)} %`],
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

function built(design) {
  const pairs = design.faces.map((face) => [`modules on the ${face.name}`, number(face.module_count)]);
  if (design.circuits !== null) {
    pairs.push(["microinverters", number(design.circuits.unit_count)], ["circuits", number(design.circuits.circuits.length)]);
  }
  const bill = design.bill_of_materials;
  if (bill !== null) {
    pairs.push(["lines to order", number(bill.lines.length)], ["dead load", `${number(bill.mass_total_kg)} kg`]);
    if (bill.prices !== null) {
      const { total, currency, complete } = bill.prices;
      pairs.push([complete ? "price with tax" : "price with tax, of parts with a price", `${number(total, 2)} ${currency}`]);
    }
  }
  return element("div", { className: "candidate" }, element("h4", { textContent: design.built.sentence }), facts(pairs));
}

function whole(body) {
  const text = element("pre", { className: "window", tabIndex: 0, textContent: JSON.stringify(body, null, 2) });
  text.setAttribute("aria-label", "The whole result");
  return element("details", {}, element("summary", { textContent: "The whole result" }), text);
}

function result(request, design) {
  const { recommendation, candidates } = design.selection;
  return [
    element("p", { className: "verdict", textContent: recommendation.sentence }),
    element("div", { className: "candidates" }, ...candidates.map((each) => candidate(each, design.currency, request.horizon_years)), built(design)),
    element("h4", { textContent: "Keep in mind" }),
    element("ul", {}, ...design.cautions.map((caution) => element("li", { textContent: caution.text }))),
    whole(design),
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
    const duration = performance.now() - start;
    const size = number(new Blob([text]).size / 1000, 1);
    const content = JSON.parse(text);
    status.textContent = `${response.status} ${response.statusText}, ${number(duration)} ms, ${size} kB`;
    answer.replaceChildren(...(response.ok ? result(JSON.parse(body), content) : [element("p", { textContent: content.detail }), whole(content)]));
  } catch (error) {
    status.textContent = `The response cannot be read: ${error.message}`;
  } finally {
    button.disabled = false;
  }
}

for (const origin of document.querySelectorAll(".origin")) {
  origin.textContent = base.href.slice(0, -1);
}
button.disabled = false;
button.addEventListener("click", send);

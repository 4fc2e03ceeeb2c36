"""The demo: the real service designs an invented house with a real typical year; the answer stands first."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pvlib

import wattpair
from wattpair_service.equipment import demo_scenario
from wattpair_service.settings import PREFIX

YEAR_FILE = "723170TYA.CSV"
"""A typical year in pvlib's data: 36.1 N, 79.95 W, 273 m (TMY3, in the public domain)."""
REGION = "united_states"
YEAR_LOCATION = {"latitude_deg": 36.1, "longitude_deg": -79.95}
START_SECONDS = 30.0


def run(*, as_json: bool, sheet: Path) -> int:
    """Start the service, design the house, print the result, write the sheet, stop the service; returns the exit status."""
    with _service() as url, wattpair.Client(url, timeout=START_SECONDS) as client:
        house = _house()
        result = client.design_roof(**house)
        page = client.sheet_html(**house)
    print(json.dumps(result.to_dict(), indent=2, ensure_ascii=False) if as_json else "\n".join(_lines(result)))
    try:
        page.save(sheet)
    except OSError as error:
        print(f"The sheet cannot be written to {sheet}: {error.strerror}; name another file with --sheet.", file=sys.stderr)
        return 1
    # With --json this line goes to stderr, so that stdout is valid JSON.
    words = f"The sheet for customer and installer: {sheet.resolve()} (open it in a browser, or print it)"
    print(words if as_json else f"\n{words}", file=sys.stderr if as_json else sys.stdout)
    return 0


@contextlib.contextmanager
def _service() -> Iterator[str]:
    """The service under gunicorn on a free loopback port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environment = {**os.environ, f"{PREFIX}HOST": "127.0.0.1", f"{PREFIX}PORT": str(port)}
    process = subprocess.Popen(
        [sys.executable, "-m", "wattpair_service", "serve"],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        _wait_until_live(process, f"http://127.0.0.1:{port}")
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.communicate(timeout=START_SECONDS)


def _wait_until_live(process: subprocess.Popen[str], url: str) -> None:
    end = time.monotonic() + START_SECONDS
    with wattpair.Client(url, retries=0) as client:
        while time.monotonic() < end:
            if process.poll() is not None:
                _, errors = process.communicate()
                raise RuntimeError(f"the service did not start:\n{errors}")
            with contextlib.suppress(wattpair.TransportError):
                client.check_live()
                return
            time.sleep(0.05)
    raise RuntimeError(f"the service did not answer within {START_SECONDS:g} s")


def _house() -> dict[str, Any]:
    """The invented house: the arguments of a design."""
    scenario = demo_scenario()
    faces = [
        {**{name: value for name, value in face.items() if name != "module_count"}, "layout": scenario["layouts"][face["name"]]}
        for face in scenario["faces"]
    ]
    return {
        **scenario["terms"],
        "site": {**YEAR_LOCATION, **scenario["site"]},
        "weather": _weather(),
        "region": REGION,
        "modules": [{"module": scenario["module"]}],
        "candidates": [{"microinverter": unit} for unit in scenario["microinverters"]],
        "faces": faces,
        "price_book": _price_book(scenario),
        "sheet": scenario["sheet"],
    }


def _price_book(scenario: dict[str, Any]) -> dict[str, Any]:
    """The scenario's prices, with each candidate as a part of its own."""
    book = scenario["price_book"]
    units = [unit["name"] for unit in scenario["microinverters"]]
    return {
        **book,
        "items": [*book["items"], *({"part_number": name, "cost": str(scenario["costs"][name])} for name in units)],
        "part_numbers": [
            *book["part_numbers"],
            *(
                {"role": role, "specification": name, "part_number": name}
                for role in ("microinverter", "microinverter_spare")
                for name in units
            ),
        ],
    }


def _weather() -> dict[str, Any]:
    text = (Path(pvlib.__file__).parent / "data" / YEAR_FILE).read_text(encoding="iso-8859-1")
    return {"kind": "file", "file_format": "tmy3", "text": text}


def _lines(result: wattpair.DesignResult) -> Iterator[str]:
    """The answer first, then the figures that it rests on; all else is on the sheet."""
    yield result.selection.recommendation.sentence
    yield result.built.sentence
    built, bill = _built(result), result.bill_of_materials
    if built is None or built.energy is None or bill is None:
        return
    yield ""
    yield from _roof(result, built, built.energy)
    yield "\nCandidates                    checks    kWh a year    clipped    price of units    value today"
    for each in sorted(result.selection.candidates, key=lambda candidate: candidate.rank or len(result.selection.candidates)):
        yield _candidate(result, each)
    yield ""
    yield from _reasons(built)
    yield from _ac_side(result)
    parts = {(line.role, line.specification) for line in bill.lines if line.role not in DOCUMENTS}
    documents = [line for line in bill.lines if line.role in DOCUMENTS]
    yield f"To order: {len(parts)} different parts; to write: {len(documents)} documents"
    yield "\nKeep in mind"
    for caution in [each for each in result.cautions if each.reader == "customer"]:
        yield f"  - {caution.text}"
    yield f"  and {sum(each.reader != 'customer' for each in result.cautions)} cautions for those who plan and build"


DOCUMENTS = ("commissioning_document", "network_operator_document")


def _built(result: wattpair.DesignResult) -> wattpair.CandidateResult | None:
    """The candidate that circuits and order are for."""
    pairing = result.built.pairing
    named = (each for each in result.selection.candidates if pairing and each.microinverter == pairing.microinverter)
    return next(named, None)


def _roof(result: wattpair.DesignResult, built: wattpair.CandidateResult, energy: wattpair.CandidateEnergy) -> Iterator[str]:
    """What the roof yields, saves and costs."""
    faces = ", ".join(f"{face.module_count} modules on the {face.name}" for face in result.faces)
    yield _row("Roof", f"{faces}; {built.unit_count} units")
    low, high = energy.at_meter_range_kwh.low, energy.at_meter_range_kwh.high
    yield _row("Yields", f"{energy.at_meter_kwh:,.0f} kWh a year at the meter; {low:,.0f} to {high:,.0f} in four years of five")
    yield _row("Used at home", f"{energy.used_at_home_kwh:,.0f} kWh in year one; {energy.exported_kwh:,.0f} kWh exported")
    prices = None if result.bill_of_materials is None else result.bill_of_materials.prices
    if prices is not None and prices.complete:
        yield _row("Price", f"{prices.total} {prices.currency} with tax, without the work of building")
    money = built.money
    if money is not None and money.whole_system.simple_payback_years is not None:
        worth, currency = money.net_present_value_range, result.currency
        yield _row("Pays for itself", f"after {money.whole_system.simple_payback_years:.1f} years")
        yield _row("Worth today", f"{worth.value:,.0f} {currency}; {worth.low:,.0f} to {worth.high:,.0f}")


def _row(name: str, text: str) -> str:
    return f"  {name:16}{text}"


def _candidate(result: wattpair.DesignResult, each: wattpair.CandidateResult) -> str:
    clipped = {total.microinverter: total.clipped_share.value for total in result.clipping.totals} if result.clipping else {}
    name = f"{each.rank or '-'} {each.microinverter}"
    if each.energy is None:
        return f"  {name:28}{each.verdict:8}"
    figures = f"{each.energy.at_meter_kwh:>12,.0f}{clipped.get(each.microinverter, 0.0):>11.2%}"
    if each.money is not None:
        figures += f"{each.money.units_price:>18,.2f}{each.money.net_present_value:>15,.0f}"
    return f"  {name:28}{each.verdict:8}{figures}"


def _reasons(built: wattpair.CandidateResult) -> Iterator[str]:
    for check in built.reasons:
        limit = "" if check.limit is None else f", the limit is {check.limit:.4g} {check.unit}"
        yield f"{check.verdict.capitalize()}: {check.name.replace('_', ' ')} is {check.value:.4g} {check.unit}{limit}"


def _ac_side(result: wattpair.DesignResult) -> Iterator[str]:
    planned = result.circuits
    if planned is not None:
        breaker = planned.circuits[0].device_rating_a
        yield f"Circuits: {len(planned.circuits)} of {breaker:g} A; voltage rise {planned.rise_highest_share:.2%} at most"
        yield f"Grid connection: {planned.connection.route}"

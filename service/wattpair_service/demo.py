"""The demo: calls the real service through its client for an invented house with a real typical year."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import pvlib
import requests

import wattpair
from wattpair_service.equipment import demo_scenario
from wattpair_service.settings import PREFIX

YEAR_FILE = "723170TYA.CSV"
"""A typical year in pvlib's data: 36.1 N, 79.95 W, 273 m (TMY3, in the public domain)."""
REGION = "united_states"
YEAR_LOCATION = {"latitude_deg": 36.1, "longitude_deg": -79.95}
START_SECONDS = 30.0


@dataclass(frozen=True, slots=True)
class Results:
    """The results of the service, one for each operation."""

    climate: wattpair.SiteClimateResult
    sizing: wattpair.SizingResult
    clipping: wattpair.ClippingResult
    materials: wattpair.BillOfMaterialsResult


def run(*, as_json: bool, sheet: Path) -> int:
    """Start the service, call it, print the results, write the sheet, stop the service; returns the exit status."""
    with _service() as url, wattpair.Client(url) as client:
        results = _call(client)
        page = _sheet(url)
    if as_json:
        given = {each.name: getattr(results, each.name).to_dict() for each in fields(results)}
        print(json.dumps(given, indent=2, ensure_ascii=False))
    else:
        print("\n".join(_lines(results)))
    try:
        sheet.write_bytes(page)
    except OSError as error:
        print(f"The sheet cannot be written to {sheet}: {error.strerror}; name another file with --sheet.", file=sys.stderr)
        return 1
    # With --json this line goes to stderr, so that stdout is valid JSON.
    words = f"The customer's sheet: {sheet.resolve()} (open it in a browser, or print it)"
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


def _call(client: wattpair.Client) -> Results:
    scenario = demo_scenario()
    site = {**YEAR_LOCATION, **scenario["site"]}
    roof = {
        "site": site,
        "weather": _weather(),
        "module": scenario["module"],
        "microinverters": scenario["microinverters"],
        "faces": scenario["faces"],
    }
    climate = client.describe_climate(**roof)
    sizing = client.size_pairings(**roof, region=REGION)
    clipping = client.compute_clipping(**roof)
    chosen = _best_passing(scenario["microinverters"], sizing, clipping)
    materials = client.list_materials(
        faces=[{"name": face["name"], "module_count": face["module_count"]} for face in scenario["faces"]],
        region=REGION,
        unit_ac_current_a=chosen["ac_power_w"] / chosen["ac_voltage_v"],
        modules_per_unit=chosen.get("input_count", 1),
        module_length_m=scenario["module"]["length_m"],
        module_width_m=scenario["module"]["width_m"],
        mounting_system=scenario["terms"]["materials"]["mounting_system"],
        module_mass_kg=scenario["module"]["mass_kg"],
        unit_mass_kg=chosen["mass_kg"],
    )
    return Results(climate, sizing, clipping, materials)


def _sheet(url: str) -> bytes:
    """The complete design of the same house, as the customer's sheet."""
    scenario = demo_scenario()
    faces = [
        {**{name: value for name, value in face.items() if name != "module_count"}, "layout": scenario["layouts"][face["name"]]}
        for face in scenario["faces"]
    ]
    body = {
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
    response = requests.post(f"{url}/v1/design", json=body, headers={"Accept": "text/html"}, timeout=START_SECONDS)
    response.raise_for_status()
    return response.content


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


def _best_passing(
    candidates: list[dict[str, Any]], sizing: wattpair.SizingResult, clipping: wattpair.ClippingResult
) -> dict[str, Any]:
    """The candidate that delivers most among those without a failed check; prices do not count."""
    passing = {pairing.microinverter for pairing in sizing.pairings if pairing.verdict != "fail"}
    best = max(
        (total for total in clipping.totals if total.microinverter in passing),
        key=lambda total: total.balance.delivered_kwh,
    )
    return next(candidate for candidate in candidates if candidate["name"] == best.microinverter)


LOSSES = {
    "start_up_kwh": "start-up",
    "voltage_window_kwh": "window",
    "input_current_limit_kwh": "current",
    "conversion_kwh": "conversion",
    "clipping_kwh": "clipping",
    "thermal_derating_kwh": "heat",
    "night_draw_kwh": "night",
}


def _lines(results: Results) -> Iterator[str]:
    yield from _heading(results.clipping)
    yield from _seasons(results.climate)
    yield from _comparison(results.clipping)
    yield from _clipping(results.clipping)
    yield from _verdicts(results.sizing)
    yield from _materials(results.materials)
    yield "\nKeep in mind"
    all_results = (results.climate, results.clipping, results.sizing, results.materials)
    for caution in dict.fromkeys(caution for result in all_results for caution in result.cautions):
        yield f"  - {caution}"


def _heading(clipping: wattpair.ClippingResult) -> Iterator[str]:
    faces = ", ".join(f"{face.module_count} on the {face.face}" for face in clipping.faces)
    yield f"{clipping.module}, {faces}"
    yield f"Weather: {clipping.climate.source}; {clipping.ghi_kwh_m2:.0f} kWh/m2 a year on the horizontal"


def _seasons(climate: wattpair.SiteClimateResult) -> Iterator[str]:
    yield "\nEnergy-weighted irradiance, and the DC/AC ratio at it"
    for face in climate.faces:
        yield f"  {face.face:22}" + "".join(f"{_short(season.season):>9}" for season in face.seasons)
        yield f"    {'kWh/m2':20}" + "".join(f"{season.poa_kwh_m2:>9.0f}" for season in face.seasons)
        yield f"    {'W/m2':20}" + "".join(f"{season.irradiance_w_m2:>9.0f}" for season in face.seasons)
        for ratios in zip(*(season.ratios for season in face.seasons), strict=True):
            yield f"    {ratios[0].microinverter:20}" + "".join(f"{ratio.dc_ac_ratio:>9.2f}" for ratio in ratios)


def _short(season: str) -> str:
    """A season's first and last month, such as dec-feb; "year" stays."""
    first, _, last = season.partition("_to_")
    return f"{first[:3]}-{last[:3]}" if last else first


def _comparison(clipping: wattpair.ClippingResult) -> Iterator[str]:
    yield "\nEnergy and losses of the whole roof in a year [kWh]"
    yield (
        f"  {'':22}{'available':>10}" + "".join(f"{name:>11}" for name in LOSSES.values()) + f"{'delivered':>11}{'clipped':>9}"
    )
    for total in clipping.totals:
        balance = total.balance
        losses = "".join(f"{_minus(getattr(balance, term)):>11}" for term in LOSSES)
        yield (
            f"  {total.microinverter:22}{balance.available_kwh:>10.0f}{losses}{balance.delivered_kwh:>11.0f}"
            f"{total.clipped_share.value:>9.2%}"
        )
    best = max(clipping.totals, key=lambda total: total.balance.delivered_kwh)
    low, high = best.delivered_range_kwh.low, best.delivered_range_kwh.high
    yield f"  In four of five years {best.microinverter} delivers {low:.0f} to {high:.0f} kWh."
    yield "\nHours at the AC limit"
    for face in clipping.faces:
        hours = ", ".join(f"{p.microinverter} {p.per_module.clipped_hours_h:.0f}" for p in face.pairings)
        yield f"  {face.face}: {hours}"


def _clipping(clipping: wattpair.ClippingResult) -> Iterator[str]:
    yield "\nClipped share of the whole roof: with subhourly variability, from hourly means alone, and as the modules age"
    years = "".join(f"{f'year {aged.year}':>9}" for aged in clipping.totals[0].ageing)
    yield f"  {'':22}{'clipped':>9}{'range':>19}{'hourly':>9}{years}"
    for total in clipping.totals:
        share = total.clipped_share
        aged = "".join(f"{year.clipped_share:>9.2%}" for year in total.ageing)
        range_text = f"{share.low:.2%} to {share.high:.2%}"
        yield f"  {total.microinverter:22}{share.value:>9.2%}{range_text:>19}{total.clipped_share_hourly_means:>9.2%}{aged}"


def _minus(loss_kwh: float) -> str:
    """A loss as a negative number; a dash where nothing is lost."""
    return f"{-loss_kwh:.1f}" if loss_kwh >= 0.05 else "-"


def _verdicts(sizing: wattpair.SizingResult) -> Iterator[str]:
    design = sizing.design_temperatures
    yield f"\nElectrical verdicts at {design.lowest_c:g} to {design.highest_c:g} degC ({sizing.edition})"
    for pairing in sizing.pairings:
        yield f"  {pairing.microinverter}: {pairing.verdict}"
        for check in pairing.checks:
            if check.verdict != "ok":
                name = check.name.replace("_", " ") + (f" on the {check.face}" if check.face else "")
                limit = f", the limit is {check.limit:.4g}" if check.limit is not None else ""
                yield f"    {check.verdict}: {name} is {check.value:.4g} {check.unit}{limit}"


DOCUMENTS = ("commissioning_document", "network_operator_document")


def _materials(materials: wattpair.BillOfMaterialsResult) -> Iterator[str]:
    yield "\nTo order, for the unit that delivers most among those that pass"
    documents = [line for line in materials.lines if line.role in DOCUMENTS]
    for line in materials.lines:
        if line.role not in DOCUMENTS:
            name = f"{line.quantity:>4} {'m ' if line.unit == 'm' else ''}{line.role.replace('_', ' ')}"
            yield f"  {name:40}{line.specification or '':36}{line.belongs_to or 'system':14}{line.derivation}"
    yield "\nDocuments"
    for line in documents:
        yield f"  - {line.specification or line.role}: {line.derivation}"
    yield "\nLoads and circuits"
    for mass in materials.masses:
        yield f"  {mass.face}: {mass.mass_kg:.0f} kg"
    yield f"  Circuits: {materials.circuit_rule}"

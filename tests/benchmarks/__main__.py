"""`python -m tests.benchmarks [--json]`: ratios measured side by side in one run; no test asserts them."""

from __future__ import annotations

import argparse
import json
import statistics
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass

from tests.open_data import amsterdam_epw
from tests.validation.yields import module_420, roof_face, unit
from wattpair_service.climate.files import from_text
from wattpair_service.engineering.conditions import from_hourly
from wattpair_service.engineering.dc_response import dc_response, with_states
from wattpair_service.engineering.energy_balance import pairing_year
from wattpair_service.engineering.face_spread import face_spread
from wattpair_service.engineering.intra_hour import intra_hour_spread
from wattpair_service.engineering.plane_of_array import plane_of_array
from wattpair_service.engineering.single_diode import fit

ROUNDS = 15


@dataclass(frozen=True, slots=True)
class Ratio:
    """Median time of a thing over that of what it is held against, with the spread of both [s]."""

    name: str
    ratio: float
    median_s: float
    quartiles_s: tuple[float, float]
    against_median_s: float
    against_quartiles_s: tuple[float, float]


def side_by_side(name: str, thing: Callable[[], object], against: Callable[[], object]) -> Ratio:
    """Measure two things in turn, round by round, after one of each to warm up."""
    things, others = [], []
    thing(), against()  # warming up
    for _ in range(ROUNDS):
        others.append(_seconds(against))
        things.append(_seconds(thing))
    median, other = statistics.median(things), statistics.median(others)
    return Ratio(name, median / other, median, _quartiles(things), other, _quartiles(others))


def _seconds(thing: Callable[[], object]) -> float:
    start = time.process_time()
    thing()
    return time.process_time() - start


def _quartiles(seconds: list[float]) -> tuple[float, float]:
    low, _, high = statistics.quantiles(seconds, n=4)
    return low, high


def spread_ratios() -> list[Ratio]:
    """A real hourly year with the spread inside the hour against the same without it, for 1 and 20 microinverters on 1 face."""
    weather = from_text(amsterdam_epw(), file_format="epw")
    face, module, parameters = roof_face(180.0), module_420(), fit(module_420())

    def plain(units: int) -> None:
        conditions = from_hourly(weather)
        plane = plane_of_array(conditions, face, transposition="perez_1990")
        response = dc_response(conditions, plane, face=face, parameters=parameters)
        for index in range(units):
            pairing_year(response, unit(280.0 + 5.0 * index))

    def spread(units: int) -> None:
        conditions = from_hourly(weather)
        inside = intra_hour_spread(conditions, origin="measured_hourly", elevation_m=-2.0, linke_turbidity_by_month=None)
        plane = plane_of_array(conditions, face, transposition="perez_1990")
        response = dc_response(conditions, plane, face=face, parameters=parameters)
        states = face_spread(
            conditions,
            plane,
            inside,
            face=face,
            transposition="perez_1990",
            power_coefficient_per_k=module.temp_coefficient_pmp_percent_per_k / 100.0,
        )
        swinging = with_states(response, plane, states)
        for index in range(units):
            pairing_year(swinging, unit(280.0 + 5.0 * index))

    return [
        side_by_side(
            f"year with the spread inside the hour over the plain year, {units} microinverters",
            lambda units=units: spread(units),  # type: ignore[misc]
            lambda units=units: plain(units),  # type: ignore[misc]
        )
        for units in (1, 20)
    ]


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Ratios of processor time, measured side by side.")
    parser.add_argument("--json", action="store_true", help="print JSON")
    options = parser.parse_args()
    ratios = spread_ratios()
    if options.json:
        print(json.dumps([asdict(ratio) for ratio in ratios], indent=2))
        return 0
    for ratio in ratios:
        print(f"{ratio.ratio:8.2f}  {ratio.name}: {ratio.median_s * 1e3:.1f} ms over {ratio.against_median_s * 1e3:.1f} ms")
    return 0


raise SystemExit(main())

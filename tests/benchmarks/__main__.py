"""`python -m tests.benchmarks [--json]`: ratios measured side by side in one run; no test asserts them."""

from __future__ import annotations

import argparse
import itertools
import json
import statistics
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace

from tests.open_data import amsterdam_epw
from tests.validation.yields import module_420, roof_face, unit
from wattpair_service.api import contract, design, selection
from wattpair_service.app import create_app
from wattpair_service.climate.files import from_text
from wattpair_service.engineering.conditions import from_hourly
from wattpair_service.engineering.dc_response import dc_response, with_states
from wattpair_service.engineering.energy_balance import pairing_year
from wattpair_service.engineering.face_spread import face_spread
from wattpair_service.engineering.intra_hour import intra_hour_spread
from wattpair_service.engineering.plane_of_array import plane_of_array
from wattpair_service.engineering.single_diode import fit
from wattpair_service.settings import Settings

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


def selection_ratios() -> list[Ratio]:
    """A selection on four faces with the built-in climate: what each further candidate adds, over the request with one.

    Each request asks for another place, so that no climate is kept from the one before; then again for the same place. The
    break-even needs two candidates, so that growth is counted from two to twenty.
    """
    client, places = create_app(Settings()).test_client(), itertools.count()

    def body(count: int, pairs: str) -> str:
        asked = contract.example(selection.OPERATION) | {"break_even_pairs": pairs}
        asked["site"] = asked["site"] | {"latitude_deg": 0}
        face, candidate = asked["faces"][0], asked["candidates"][0]
        asked["faces"] = [face | {"name": f"{azimuth}", "azimuth_deg": azimuth} for azimuth in (90, 180, 270, 15)]
        asked["candidates"] = [
            candidate
            | {"price": 90 + 3 * index}
            | {"microinverter": candidate["microinverter"] | {"name": f"{index}", "ac_power_w": 280 + 6 * index}}
            for index in range(count)
        ]
        return json.dumps(asked)

    bodies = {(count, pairs): body(count, pairs) for count in (1, 2, 20) for pairs in ("recommended", "every")}

    def ask(count: int, pairs: str, new_place: bool) -> None:
        latitude = 46.0 + (0.01 * next(places) if new_place else 0.0)
        sent = bodies[count, pairs].replace('"latitude_deg": 0', f'"latitude_deg": {latitude:.2f}')
        answer = client.post(selection.OPERATION.path, data=sent, content_type="application/json")
        assert answer.status_code == 200

    found = []
    for new_place in (True, False):
        for pairs in ("recommended", "every"):
            two, twenty = (
                side_by_side(
                    "",
                    lambda count=count: ask(count, pairs, new_place),  # type: ignore[misc]  # noqa: B023  # called at once
                    lambda: ask(1, pairs, new_place),  # noqa: B023  # called at once
                )
                for count in (2, 20)
            )
            where = "a new place" if new_place else "a place known before"
            name = f"each further candidate of a selection over the first, {where}, break-even of {pairs} pairs"
            found.append(replace(twenty, name=name, ratio=(twenty.ratio - two.ratio) / 18.0))
    return found


def design_ratios() -> list[Ratio]:
    """The whole job for two faces and eight candidates, each at a new place, over the selection of the same."""
    client, places = create_app(Settings()).test_client(), itertools.count()
    body = contract.example(design.OPERATION)
    first = body["candidates"][0]
    body["candidates"] = [
        first | {"price": 90 + 4 * i, "microinverter": first["microinverter"] | {"name": f"{i}", "ac_power_w": 280 + 15 * i}}
        for i in range(8)
    ]
    known = selection.OPERATION.request().fields
    counted = [{k: v for k, v in face.items() if k not in ("layout", "unit_spacing_m")} for face in body["faces"]]
    compared = {k: v for k, v in body.items() if k in known} | {"faces": [face | {"module_count": 8} for face in counted]}

    def ask(path: str, asked: dict[str, object]) -> None:
        site = {"latitude_deg": 46.0 + 0.01 * next(places), "longitude_deg": 5.2}
        assert client.post(path, json=asked | {"site": site}).status_code == 200

    return [
        side_by_side(
            "design of two faces with eight candidates over the selection, a new place",
            lambda: ask(design.OPERATION.path, body),
            lambda: ask(selection.OPERATION.path, compared),
        )
    ]


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Ratios of processor time, measured side by side.")
    parser.add_argument("--json", action="store_true", help="print JSON")
    options = parser.parse_args()
    ratios = [*spread_ratios(), *selection_ratios(), *design_ratios()]
    if options.json:
        print(json.dumps([asdict(ratio) for ratio in ratios], indent=2))
        return 0
    for ratio in ratios:
        print(f"{ratio.ratio:8.3f}  {ratio.name}: {ratio.median_s * 1e3:.1f} ms over {ratio.against_median_s * 1e3:.1f} ms")
    return 0


raise SystemExit(main())

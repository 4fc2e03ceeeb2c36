"""What subhourly variability and the design of a whole roof cost, over the same without them."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

import numpy as np

from tests.benchmarks.measuring import Row, Spread, side_by_side
from tests.benchmarks.roofs import weather
from tests.validation.yields import module_420, roof_face, unit
from wattpair_service.api.contract import contract
from wattpair_service.api.exchange.operation import JSON
from wattpair_service.api.operations import design, selection
from wattpair_service.app import create_app
from wattpair_service.engineering.energy.energy_balance import pairing_year
from wattpair_service.engineering.irradiance.conditions import from_hourly
from wattpair_service.engineering.irradiance.plane_of_array import plane_of_array
from wattpair_service.engineering.irradiance.subhourly import subhourly_states
from wattpair_service.engineering.irradiance.subhourly_on_faces import states_on_faces
from wattpair_service.engineering.module.dc_response import dc_response, subhourly_points, with_subhourly_points
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.settings import Settings

ROUNDS = 15
COUNTS = (1, 2, 20)


def spread_rows() -> Iterator[Row]:
    """A real hourly year with subhourly variability against the same without it, on 1 face."""
    for units in (1, 20):
        ways = {"with": partial(_year, units, with_spread=True), "without": partial(_year, units, with_spread=False)}
        times = side_by_side(ways, rounds=ROUNDS)
        what = f"year with subhourly variability over the plain year, {units} microinverters"
        yield Row(what, times.ratio("with", "without"), "x", made_from=times.ms("with", "without"))


def _year(units: int, *, with_spread: bool) -> None:
    face, module, parameters = roof_face(180.0), module_420(), fit(module_420())
    conditions = from_hourly(weather())
    plane = plane_of_array(conditions, face, transposition="perez_1990")
    response = dc_response(conditions, plane, face=face, parameters=parameters)
    if with_spread:
        inside = subhourly_states(conditions, origin="measured_hourly", elevation_m=-2.0, linke_turbidity_by_month=None)
        coefficient = module.temp_coefficient_pmp_percent_per_k / 100.0
        (states,) = states_on_faces(
            conditions, (plane,), inside, faces=(face,), transposition="perez_1990", power_coefficient_per_k=coefficient
        )
        response = with_subhourly_points(response, subhourly_points(plane, states))
    for index in range(units):
        pairing_year(response, unit(280.0 + 5.0 * index))


def design_rows() -> Iterator[Row]:
    """The whole job for two faces and eight candidates, each at a new place, over the selection of the same; and its sheet."""
    body = contract.example(design.OPERATION)
    first = body["candidates"][0]
    body["candidates"] = [
        first | {"price": 90 + 4 * i, "microinverter": first["microinverter"] | {"name": f"{i}", "ac_power_w": 280 + 15 * i}}
        for i in range(8)
    ]
    known = selection.OPERATION.request().fields
    counted = [{k: v for k, v in face.items() if k not in ("layout", "unit_spacing_m")} for face in body["faces"]]
    compared = {k: v for k, v in body.items() if k in known} | {"faces": [face | {"module_count": 8} for face in counted]}
    ask = _asking()
    ways = {
        "design": partial(ask, design.OPERATION.path, body),
        "selection": partial(ask, selection.OPERATION.path, compared),
        "sheet": partial(ask, design.OPERATION.path, body, accept="text/html"),
    }
    times = side_by_side(ways, rounds=ROUNDS)
    for thing, other in (("design", "selection"), ("sheet", "design")):
        what = f"{thing} of two faces with eight candidates over the {other}, a new place"
        yield Row(what, times.ratio(thing, other), "x", made_from=times.ms(thing, other))


def request_rows() -> Iterator[Row]:
    """A whole request with JSON in and out: what each further candidate on four faces adds, break-even counted from two."""
    ask = _asking()
    for where, new_place in (("a new place", True), ("a place known before", False)):
        ways = {
            str(count): partial(ask, selection.OPERATION.path, _selection_body(count), new_place=new_place) for count in COUNTS
        }
        times = side_by_side(ways, rounds=ROUNDS)
        one, two, twenty = (np.array(times.seconds[str(count)]) for count in COUNTS)
        what = f"a further candidate over the first, from 2 to 20, built-in climate, whole request: {where}"
        yield Row(what, Spread.of((100.0 * (twenty - two) / 18.0 / one).tolist()), "%", made_from=times.ms(*ways))


def _selection_body(count: int) -> dict[str, Any]:
    asked = contract.example(selection.OPERATION)
    face, candidate = asked["faces"][0], asked["candidates"][0]
    asked["faces"] = [face | {"name": f"{azimuth}", "azimuth_deg": azimuth} for azimuth in (90, 180, 270, 15)]
    asked["candidates"] = [
        candidate
        | {"price": 90 + 3 * index}
        | {"microinverter": candidate["microinverter"] | {"name": f"{index}", "ac_power_w": 280 + 6 * index}}
        for index in range(count)
    ]
    return asked


def _asking() -> Callable[..., None]:
    """Ask the application without a network; it says where the roof stands."""
    client, places = create_app(Settings()).test_client(), itertools.count(1)

    def ask(path: str, body: dict[str, Any], *, new_place: bool = True, accept: str = JSON) -> None:
        site = {"latitude_deg": round(46.0 + 0.01 * next(places) * new_place, 2), "longitude_deg": 5.2}
        assert client.post(path, json=body | {"site": site}, headers={"Accept": accept}).status_code == 200

    return ask

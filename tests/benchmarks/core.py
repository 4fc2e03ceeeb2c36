"""The core's work for twenty microinverters against a lower bound: numpy with only an efficiency and a limit for each."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from tests.benchmarks.measuring import Row, at_most, side_by_side
from tests.benchmarks.roofs import UNITS, Year, asked, built_in_year, hourly_year, known_site, weather, without_limits
from tests.validation.yields import module_420
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.lifetime_energy import lifetime_energy
from wattpair_service.engineering.energy.roof_dc import roof_dc
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.selection.request import RoofTerms, SelectionRequest

ROUNDS = 31


def rows() -> Iterator[Row]:
    """Given the roof's DC side: power and energy over the years of twenty microinverters."""
    given = asked()
    free = asked(change=without_limits)
    for name, year in (("real year", hourly_year(weather())), ("built-in climate", built_in_year(known_site()))):
        roof = _roof(given, year)
        ways = {"core": _ours(roof, given), "core, AC limits alone": _ours(roof, free), "bound": _bound(roof, given)}
        times = side_by_side(ways, rounds=ROUNDS)
        for way, target in (("core", at_most(6)), ("core, AC limits alone", None)):
            yield Row(
                f"{way}, over a numpy pass of min(power x efficiency, limit) and a weighted sum: {name}",
                times.ratio(way, "bound"),
                "x",
                target,
                f"{times.ms(way, 'bound')}; {UNITS} candidates, {roof.dc.response.weight_h.size} points",
                headline=target is not None,
            )


def _ours(roof: RoofTerms, given: SelectionRequest) -> Callable[[], object]:
    units = [unit.microinverter for unit in given.units]
    return lambda: [lifetime_energy(roof, unit) for unit in units]


def _bound(roof: RoofTerms, given: SelectionRequest) -> Callable[[], object]:
    response = roof.dc.response
    limits_w = [unit.microinverter.ac_power_w for unit in given.units]
    return lambda: lower_bound(response.maximum_power.power_w, response.weight_h, limits_w)


def _roof(given: SelectionRequest, year: Year) -> RoofTerms:
    cache = FaceCache(year.site_year, given.transposition)
    dc = roof_dc(cache, faces=given.faces, module=module_420(), parameters=fit(module_420()))
    return RoofTerms.of(given, dc)


def lower_bound(power_w: FloatArray, weight_h: FloatArray, limits_w: list[float], efficiency: float = 0.965) -> list[float]:
    """Yearly energy with each limit [Wh], in place and without the linear algebra's threads: as fast as numpy does it."""
    found, buffer = [], np.empty_like(power_w)
    for limit_w in limits_w:
        np.multiply(power_w, efficiency, out=buffer)
        np.minimum(buffer, limit_w, out=buffer)
        found.append(float(np.einsum("i,i->", buffer, weight_h)))
    return found

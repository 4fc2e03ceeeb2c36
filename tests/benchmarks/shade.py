"""What shade costs: a whole roof with it over the same without, and over a library's curves of the same hours."""

from __future__ import annotations

import itertools
import time
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from pvmismatch import pvcell, pvmodule

from tests.benchmarks.measuring import Row, Spread, at_least, at_most, side_by_side
from tests.builders import MODULE
from tests.selection_cases import offer, request
from tests.shade_scenes import shaded_roof
from tests.string_cases import string_offer
from wattpair_service.climate.site_year import site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import BuiltInClimate
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.selection.request import ModuleOffer, SelectionRequest
from wattpair_service.engineering.selection.selection import selection
from wattpair_service.engineering.site import Site
from wattpair_service.rules import electrical_rules

ROUNDS = 9
CANDIDATES = 8
SAMPLE = 40
"""Hours of one module for the library."""


def rows() -> Iterator[Row]:
    """Eight candidates on 24 modules at a new place, with and without shade; and a module's hour against the library."""
    face, places = shaded_roof(), itertools.count(1)
    plain = replace(face, horizon=(), shade=None)

    def select(asked: Face) -> None:
        site = Site(48.0 + 0.01 * next(places), 11.0, None, None, None)
        year = site_year(site, BuiltInClimate(), StationFolder())
        units = [offer(290.0 + 15.0 * each, 100.0 + 5.0 * each, name=f"{each}") for each in range(CANDIDATES)]
        whole = replace(request(*units), faces=(asked,), modules=(ModuleOffer(MODULE, None),))
        selection(whole, electrical_rules("international"), year)

    times = side_by_side({"shaded": lambda: select(face), "unshaded": lambda: select(plain)}, rounds=ROUNDS)
    what = "a roof of 24 shaded modules with eight candidates over the same without shade, a new place"
    yield Row(what, times.ratio("shaded", "unshaded"), "x", at_most(8.0), made_from=times.ms("shaded", "unshaded"))
    yield _strings_row(face, places)
    hour_s = _library_seconds_per_hour()
    year = site_year(Site(48.0, 11.0, None, None, None), BuiltInClimate(), StationFolder())
    hours = int(np.count_nonzero(year.conditions.ghi_w_m2 > 0.0)) * len(face.shade.placement.corners)  # type: ignore[union-attr]
    parameters, seconds = fit(MODULE), []
    for _ in range(ROUNDS):
        # A year that is not cached, so that nothing is remembered.
        cache = FaceCache(replace(year, conditions=replace(year.conditions, is_cached=False)), "perez_1990")
        start = time.process_time()
        cache.shaded_face(face, MODULE, parameters).module_energy_wh()
        seconds.append(time.process_time() - start)
    ratio = Spread.of([hour_s * hours / each for each in seconds])
    what = "a shaded roof's year, module by module, against pvmismatch's curves of the same hours"
    made_from = f"{1e3 * hour_s:.3g} ms an hour of a module there, {1e3 * float(np.median(seconds)):.0f} ms the year here"
    yield Row(what, ratio, "x", at_least(1000.0), made_from=made_from)


def _strings_row(face: Face, places: Iterator[int]) -> Row:
    """Seven microinverters and three string inverters against ten microinverters."""
    strings = tuple(
        string_offer(1000.0 * kw, trackers=trackers, price=1200.0, tracker="local", name=f"{kw} kW", dc_voltage_max_v=1000.0)
        for kw, trackers in ((8, 2), (9, 3), (10, 2))
    )
    units = [offer(290.0 + 15.0 * each, 100.0 + 5.0 * each, name=f"{each}") for each in range(7 + len(strings))]

    def select(asked: SelectionRequest) -> None:
        year = site_year(Site(48.0 + 0.01 * next(places), 11.0, None, None, None), BuiltInClimate(), StationFolder())
        result = selection(asked, electrical_rules("international"), year)
        assert all(each.comparison is not None for each in result.string_inverters)

    alone = replace(request(*units), faces=(face,), modules=(ModuleOffer(MODULE, None),))
    both = replace(alone, units=alone.units[: -len(strings)], string_inverters=strings)
    times = side_by_side({"both": lambda: select(both), "alone": lambda: select(alone)}, rounds=ROUNDS)
    what = "seven microinverters and three string inverters on 24 shaded modules over ten microinverters, a new place"
    return Row(what, times.ratio("both", "alone"), "x", at_most(2.0), made_from=times.ms("both", "alone"))


def _library_seconds_per_hour() -> float:
    """Processor time of one hour of one module: its cells set, its curve computed, its maximum read."""
    module, random = (
        pvmodule.PVmodule(cell_pos=pvmodule.standard_cellpos_pat(10, [2, 2, 2]), pvcells=pvcell.PVcell()),
        np.random.default_rng(1),
    )
    start = time.process_time()
    for _ in range(SAMPLE):
        module.setSuns(random.uniform(0.1, 1.0, 60))
        assert module.Pmod.max() > 0.0
    return (time.process_time() - start) / SAMPLE

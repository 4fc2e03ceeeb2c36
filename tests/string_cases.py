"""String inverters that the tests share: invented ones, as like the microinverters as can be, on invented roofs."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

from tests.builders import MODULE
from tests.selection_cases import offer, request
from wattpair_service.climate.site_year import site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import BuiltInClimate
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.equipment import Microinverter
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.selection.request import ModuleOffer, UnitOffer
from wattpair_service.engineering.selection.selection import selection
from wattpair_service.engineering.site import Site
from wattpair_service.engineering.site_year import SiteYear
from wattpair_service.engineering.strings.compared import StringCandidate
from wattpair_service.engineering.strings.comparison import Cause, CauseKwh, StringComparison
from wattpair_service.engineering.strings.offer import DcCable, StringInverterOffer
from wattpair_service.rules import electrical_rules

UNIT_W = 480.0
"""Of a microinverter that does not clip the module."""


def string_offer(power_w: float, *, trackers: int, **changes: Any) -> StringInverterOffer:
    """A string inverter that no limit but its AC power holds back, without cables; it keeps the highest maximum.

    `changes` are the offer's or the inverter's. Conversion, least power and night draw are those of `UNIT_W` units of the same
    power together.
    """
    units = power_w / UNIT_W
    as_unit = offer(UNIT_W, None).microinverter
    inverter: Microinverter = replace(
        offer(power_w, None).microinverter,
        name="string inverter", input_count=trackers, modules_per_input_max=60, dc_voltage_max_v=1500.0,
        dc_operating_voltage_min_v=16.0, dc_operating_voltage_max_v=1500.0, dc_full_power_voltage_min_v=16.0,
        dc_full_power_voltage_max_v=1500.0, dc_start_voltage_v=22.0, dc_current_max_a=30.0,
        dc_short_circuit_current_max_a=30.0, start_power_w=units * as_unit.start_power_w,
        night_draw_w=units * as_unit.night_draw_w,
    )  # fmt: skip
    whole = StringInverterOffer(
        inverter=inverter, price=None, replacement_price=None, warranty_years=10, expected_life_years=13.0, optimiser=None,
        cable=DcCable(0.0, 4.0), rated_ac_cable_share=0.0, strings=None, balance_of_plant=None,
    )  # fmt: skip
    own = {name: value for name, value in changes.items() if name in StringInverterOffer.__dataclass_fields__}
    of_inverter = {name: value for name, value in changes.items() if name not in own}
    return replace(whole, inverter=replace(inverter, **of_inverter), **own)


@cache
def built_in_year() -> SiteYear:
    """A mild place with the built-in climate."""
    return site_year(Site(48.0, 11.0, None, None, None), BuiltInClimate(), StationFolder())


@cache
def built_in_cache() -> FaceCache:
    """What is computed for faces there, once for all tests of a process."""
    return FaceCache(built_in_year(), "perez_1990")


def candidates(
    faces: tuple[Face, ...],
    *offers: StringInverterOffer,
    unit: UnitOffer | None = None,
    year: SiteYear | None = None,
    **changes: Any,
) -> tuple[StringCandidate, ...]:
    """String inverters beside one microinverter on these faces; `changes` are the request's."""
    asked = request(
        unit or offer(UNIT_W, 100.0),
        **{"faces": faces, "modules": (ModuleOffer(MODULE, None),), "string_inverters": offers} | changes,
    )
    shared = built_in_cache() if year is None else None
    return selection(asked, electrical_rules("international"), year or built_in_year(), cache=shared).string_inverters


def compared(faces: tuple[Face, ...], one: StringInverterOffer, **changes: Any) -> StringComparison:
    """The comparison with one string inverter that can be built."""
    (candidate,) = candidates(faces, one, **changes)
    assert candidate.comparison is not None, candidate.stringing.obstacle
    return candidate.comparison


def cause(comparison: StringComparison, name: Cause) -> CauseKwh:
    """One cause of a difference."""
    return next(each for each in comparison.causes if each.cause == name)

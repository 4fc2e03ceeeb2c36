"""What the benchmarks compute: an invented roof in a real hourly year, and twenty invented microinverters."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache

import pandas as pd

from tests.benchmarks.pvlib_scripts import Roof, inverter_parameters
from tests.open_data import amsterdam_epw
from tests.selection_cases import amsterdam_year, request
from tests.validation.yields import module_420, roof_face, unit
from wattpair_service.climate.files import from_text
from wattpair_service.climate.site_year import site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import BuiltInClimate, FileWeather, Weather
from wattpair_service.engineering.equipment import Microinverter
from wattpair_service.engineering.inverter.conversion import SandiaCurve
from wattpair_service.engineering.irradiance.conditions import HourlyWeather, from_hourly
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.selection.request import SelectionRequest, UnitOffer
from wattpair_service.engineering.selection.selection import SelectionResult, selection
from wattpair_service.engineering.site import Site
from wattpair_service.engineering.site_year import SiteYear
from wattpair_service.rules import electrical_rules

AZIMUTHS = (90.0, 180.0, 270.0, 15.0)
UNITS = 20
STEP_DEG = 1e-3
"""How far one new place is from the next: far enough for no figure of the one to serve the other."""

_places = itertools.count(1)


@cache
def weather() -> HourlyWeather:
    """Amsterdam's typical year, in memory."""
    return from_text(amsterdam_epw(), file_format="epw")


def faces(count: int = len(AZIMUTHS)) -> tuple[Face, ...]:
    """Clean faces of ten modules: the usual four, or as many as are asked for, turned evenly."""
    azimuths = AZIMUTHS if count == len(AZIMUTHS) else [360.0 * index / count for index in range(count)]
    return tuple(replace(roof_face(azimuth), soiling_share=0.0) for azimuth in azimuths)


def microinverter(index: int, count: int = UNITS) -> Microinverter:
    """One of `count` units from 280 to 394 W with Sandia coefficients; current, window and start differ from unit to unit."""
    power_w = 280.0 + 114.0 * index / max(count - 1, 1)
    curve = SandiaCurve(
        ac_power_w_ref=power_w,
        dc_power_w_ref=power_w / (0.962 + 0.0004 * (index % 9)),
        dc_voltage_v_ref=34.0,
        start_power_w=1.5 + 0.1 * (index % 7),
        c0_per_w=-5e-6,
        c1_per_v=-1e-4,
        c2_per_v=-1e-3,
        c3_per_v=1e-3,
    )
    return replace(
        unit(power_w),
        name=f"{index}: {power_w:.0f} W",
        conversion=curve,
        dc_current_max_a=11.5 + 0.25 * (index % 16),
        dc_operating_voltage_min_v=15.0 + 0.5 * (index % 7),
        dc_start_voltage_v=20.0 + 0.5 * (index % 11),
        dc_short_circuit_current_max_a=20.0 + 0.5 * (index % 5),
    )


def without_limits(given: Microinverter) -> Microinverter:
    """The same with no limit but its AC power and no draw at night: all that the pvlib scripts know."""
    return replace(
        given,
        dc_operating_voltage_min_v=0.0,
        dc_operating_voltage_max_v=1e3,
        dc_start_voltage_v=0.0,
        dc_current_max_a=1e3,
        start_power_w=0.0,
        night_draw_w=0.0,
    )


def asked(
    units: int = UNITS,
    face_count: int = len(AZIMUTHS),
    *,
    change: Callable[[Microinverter], Microinverter] = lambda given: given,
    every_pair: bool = False,
) -> SelectionRequest:
    """A selection with prices and a tariff; `change` is made to each microinverter."""
    offers = [UnitOffer(change(microinverter(index, units)), 90.0 + 3.0 * index, 10, None) for index in range(units)]
    return request(*offers, faces=faces(face_count), every_pair=every_pair)


@dataclass(frozen=True, slots=True, eq=False)
class Year:
    """A site's year."""

    site_year: SiteYear

    def select(self, given: SelectionRequest) -> SelectionResult:
        """The selection in this year; every candidate must pass its checks, for one that fails costs next to nothing."""
        rules = electrical_rules("international")
        result = selection(given, rules, self.site_year)
        assert all(candidate.rank is not None for candidate in result.candidates), "a candidate fails its checks"
        return result


def hourly_year(given: HourlyWeather) -> Year:
    """From the arrays in memory."""
    return Year(amsterdam_year(from_hourly(given)))


def new_hourly_year() -> Year:
    """The real year at a place that was not asked for before, so that nothing kept can serve."""
    return hourly_year(replace(weather(), longitude_deg=weather().longitude_deg + STEP_DEG * next(_places)))


def known_file_year() -> Year:
    """The same year as a file that was sent before, which the service keeps."""
    return _year_at(known_site(), FileWeather("epw", amsterdam_epw()))


def built_in_year(site: Site) -> Year:
    """The built-in climate of a place."""
    return _year_at(site, BuiltInClimate())


def _year_at(site: Site, given: Weather) -> Year:
    return Year(site_year(site, given, StationFolder()))


def known_site() -> Site:
    """The place of the real year."""
    return Site(weather().latitude_deg, weather().longitude_deg, weather().elevation_m, None, None)


def new_site() -> Site:
    """A place that was not asked for before."""
    away_deg = STEP_DEG * next(_places)
    return replace(
        known_site(), latitude_deg=weather().latitude_deg + away_deg, longitude_deg=weather().longitude_deg + away_deg
    )


@dataclass(frozen=True, slots=True)
class PvlibCase:
    """The same roof and candidates as pvlib's scripts take them."""

    roof: Roof
    inverters: list[dict[str, float]] = field(default_factory=list)

    @classmethod
    def of(cls, count: int = UNITS, face_count: int = len(AZIMUTHS)) -> PvlibCase:
        """Prepared outside the clock: both sides start from arrays in memory and a fitted module."""
        given = weather()
        table = pd.DataFrame(
            {
                "ghi": given.ghi_w_m2,
                "dni": given.dni_w_m2,
                "dhi": given.dhi_w_m2,
                "temp_air": given.temp_air_c,
                "wind_speed": given.wind_speed_m_s,
            },
            index=given.middle_utc,
        )
        roof = Roof(given.latitude_deg, given.longitude_deg, given.elevation_m, table, faces(face_count), fit(module_420()))
        units = [microinverter(index, count) for index in range(count)]
        curves = [(each.conversion, each.ac_power_w) for each in units]
        return cls(roof, [inverter_parameters(curve, power) for curve, power in curves if isinstance(curve, SandiaCurve)])

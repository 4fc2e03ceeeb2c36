"""A whole year's yield beside published ones."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from tests.open_data import amsterdam_epw
from tests.validation.ledger import Check, within
from wattpair_service.climate.files import from_text
from wattpair_service.engineering.energy.clipping import ClippingRequest, ClippingResult, clipping
from wattpair_service.engineering.equipment import ONE_MODULE, Microinverter, Module
from wattpair_service.engineering.inverter.conversion import CEC_WEIGHTS, from_weighted_efficiency
from wattpair_service.engineering.irradiance.conditions import Conditions, from_hourly
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.sentences import Cited
from wattpair_service.engineering.site import ClimateUsed, DesignTemperatures
from wattpair_service.engineering.site_year import SiteYear

SOURCE = (
    "CBS 2023: 875 kWh/kWp at 1023 kWh/m2 for the Dutch fleet, of mixed direction and age, which CBS says overestimates; "
    "scaled to this year's light; a new unshaded roof may give up to 20 % more"
)
FLEET_KWH_PER_KWP = 875.0
FLEET_GHI_KWH_M2 = 1023.0


def checks() -> Iterator[Check]:
    """Mean of east, south and west at 35 degrees in Amsterdam, with a unit that never clips."""
    faces = tuple(roof_face(azimuth) for azimuth in (90.0, 180.0, 270.0))
    result = roof_year((unit(500.0),), faces)
    expected = FLEET_KWH_PER_KWP * amsterdam().ghi_kwh_m2 / FLEET_GHI_KWH_M2
    name, got = "specific yield in Amsterdam, mean of east, south, west [kWh/kWp]", result.totals[0].specific_yield_kwh_per_kwp
    yield within(name, 0.95 * expected, 1.2 * expected, got, "READ", SOURCE)


AMSTERDAM = ClimateUsed("file", Cited("hourly typical year of Amsterdam"), -2.0)
NO_EXTREMES = DesignTemperatures(-15.0, Cited("not used"), 36.0, Cited("not used"))


@cache
def amsterdam() -> Conditions:
    """The hourly typical year of Amsterdam."""
    return from_hourly(from_text(amsterdam_epw(), file_format="epw"))


def roof_year(units: tuple[Microinverter, ...], faces: tuple[Face, ...]) -> ClippingResult:
    """The module on these faces in Amsterdam, with each unit."""
    request = ClippingRequest(module_420(), units, faces, "perez_1990", ONE_MODULE, 0.005)
    return clipping(request, SiteYear(amsterdam(), AMSTERDAM, NO_EXTREMES, "measured_hourly"))


def module_420() -> Module:
    """An invented module of 420 W."""
    return Module("420 W", 420.0, 38.2, 31.8, 13.9, 13.21, -0.26, 0.046, -0.34, 1.74, 1.12, 21.0)


def unit(ac_power_w: float, efficiency_percent: float = 96.5) -> Microinverter:
    """An invented microinverter whose only limit is its AC power."""
    curve = from_weighted_efficiency(ac_power_w=ac_power_w, efficiency_percent=efficiency_percent, weights=CEC_WEIGHTS)
    return Microinverter(
        name=f"{ac_power_w:g} W", ac_power_w=ac_power_w, ac_peak_power_w=ac_power_w, ac_current_a=ac_power_w / 230.0,
        ac_voltage_v=230.0, dc_voltage_max_v=60.0, dc_operating_voltage_min_v=16.0, dc_operating_voltage_max_v=58.0,
        dc_full_power_voltage_min_v=26.0, dc_full_power_voltage_max_v=45.0, dc_start_voltage_v=22.0, dc_current_max_a=20.0,
        dc_short_circuit_current_max_a=25.0, input_count=1, modules_per_input_max=1, conversion=curve, start_power_w=2.0,
        night_draw_w=0.05, derating=None, mass_kg=1.0,
    )  # fmt: skip


def roof_face(azimuth_deg: float, tilt_deg: float = 35.0) -> Face:
    """A close-mounted face with clean practice figures."""
    return Face(f"azimuth {azimuth_deg:g}", tilt_deg, azimuth_deg, 10, "close_roof", 0.0, 0.02, 0.2, ())

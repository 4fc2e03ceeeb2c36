"""Invented equipment and real weather that the tests share."""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
from hypothesis import strategies as st

from tests.open_data import pvlib_bundled
from wattpair_service.climate import files
from wattpair_service.engineering.circuits.cable_checks import CableName, CableRun
from wattpair_service.engineering.circuits.conductors import Installation
from wattpair_service.engineering.circuits.voltage_rise import Wiring
from wattpair_service.engineering.energy.energy_balance import EnergyBalance
from wattpair_service.engineering.equipment import Microinverter, Module, ThermalDerating
from wattpair_service.engineering.inverter.conversion import (
    CEC_WEIGHTS,
    EUROPEAN_WEIGHTS,
    Conversion,
    EfficiencyPoint,
    LossCurve,
    from_points,
    from_weighted_efficiency,
)
from wattpair_service.engineering.irradiance.conditions import Conditions, HourlyWeather, from_hourly
from wattpair_service.engineering.irradiance.plane_of_array import Face, PlaneOfArray, plane_of_array
from wattpair_service.engineering.irradiance.subhourly import SubhourlyStates, subhourly_states
from wattpair_service.engineering.module.dc_response import DcResponse, dc_response
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.sentences import Cited
from wattpair_service.engineering.site import ClimateUsed, DesignTemperatures
from wattpair_service.engineering.site_year import SiteYear
from wattpair_service.rules import capacity_tables, conductor_tables

TMY3 = "723170TYA.CSV"
LATITUDE_DEG, LONGITUDE_DEG, UTC_OFFSET_H = 36.1, -79.95, -5.0
"""Where that typical year was measured, and its standard time."""
A_TEST = ClimateUsed("file", Cited("a test"), 273.0)
"""Where a test's weather comes from."""

MODULE = Module(
    name="module",
    power_w=410.4,
    voltage_oc_v=37.6,
    voltage_mp_v=31.4,
    current_sc_a=13.86,
    current_mp_a=13.07,
    temp_coefficient_voc_percent_per_k=-0.27,
    temp_coefficient_isc_percent_per_k=0.05,
    temp_coefficient_pmp_percent_per_k=-0.34,
    length_m=1.73,
    width_m=1.13,
    mass_kg=21.0,
)
FACE = Face("roof", 30.0, 180.0, 10, "close_roof", 0.0, 0.0, 0.2, ())
UNLIMITED = Microinverter(
    name="unlimited",
    ac_power_w=1000.0,
    ac_peak_power_w=1000.0,
    ac_current_a=4.35,
    ac_voltage_v=230.0,
    dc_voltage_max_v=100.0,
    dc_operating_voltage_min_v=5.0,
    dc_operating_voltage_max_v=90.0,
    dc_full_power_voltage_min_v=5.0,
    dc_full_power_voltage_max_v=90.0,
    dc_start_voltage_v=5.0,
    dc_current_max_a=60.0,
    dc_short_circuit_current_max_a=60.0,
    input_count=1,
    modules_per_input_max=1,
    conversion=LossCurve(rated_power_w=400.0, loss=(0.004, 0.01, 0.012)),
    start_power_w=0.0,
    night_draw_w=0.0,
    derating=None,
    mass_kg=1.1,
)
"""A microinverter that only its conversion costs anything."""


@cache
def real_weather() -> HourlyWeather:
    """A real typical year, as read from its file."""
    return files.from_text(pvlib_bundled(TMY3), file_format="tmy3")


@cache
def real_year() -> Conditions:
    """The conditions of that year."""
    return from_hourly(real_weather())


def site_year_of(conditions: Conditions, climate: ClimateUsed = A_TEST, **known: Any) -> SiteYear:
    """Conditions with what is known of a test's site."""
    source = Cited("a test")
    return SiteYear(conditions, climate, DesignTemperatures(-18.0, source, 38.0, source), "measured_hourly", **known)


@cache
def real_states() -> SubhourlyStates:
    """What happens inside the hours of that year."""
    return subhourly_states(real_year(), origin="measured_hourly", elevation_m=273.0, linke_turbidity_by_month=None)


@cache
def real_response(face: Face = FACE) -> DcResponse:
    """The module's DC side on a face in that year."""
    plane = plane_of_array(real_year(), face, transposition="perez_1990")
    return dc_response(real_year(), plane, face=face, parameters=fit(MODULE))


def points(**given: npt.ArrayLike) -> Conditions:
    """Conditions from the arrays that matter; the rest is a still, mild, dark January noon of one hour."""
    arrays = np.broadcast_arrays(*(np.atleast_1d(np.asarray(values, dtype=float)) for values in given.values()))
    usual = {"zenith_deg": 30.0, "azimuth_deg": 180.0, "dni_extra_w_m2": 1361.0, "temp_air_c": 20.0, "weight_h": 1.0}
    usual |= {"month": 1.0, "hour": 12.0, "wind_speed_m_s": 1.0}
    count = arrays[0].size
    filled = {
        field.name: np.full(count, usual.get(field.name, 0.0)) for field in fields(Conditions) if field.name != "is_cached"
    }
    filled |= dict(zip(given, arrays, strict=True))
    for name in ("month", "hour", "sequence"):
        filled[name] = filled[name].astype(np.int64)
    return Conditions(**filled)  # type: ignore[arg-type]


def response_at(irradiance_w_m2: npt.ArrayLike, *, temp_cell_c: float = 25.0, **given: npt.ArrayLike) -> DcResponse:
    """The module's DC side at a fixed cell temperature, through `dc_response`."""
    irradiance = np.atleast_1d(np.asarray(irradiance_w_m2, dtype=float))
    mounting = "close_roof"
    still_air = points(temp_air_c=np.zeros(irradiance.size), **given)
    plane = PlaneOfArray(irradiance, irradiance)
    face, parameters = replace(FACE, mounting=mounting), fit(MODULE)
    lit = irradiance > 0.0
    # Both mounting models are the air's temperature plus a rise, so the rise says which air gives the cell's.
    rise = np.zeros(irradiance.size)
    rise[lit] = dc_response(still_air, plane, face=face, parameters=parameters).temp_cell_c
    air = points(**given | {"temp_air_c": temp_cell_c - rise})
    return dc_response(air, plane, face=face, parameters=parameters)


def scaled_module(module: Module, current_factor: float) -> Module:
    """The datasheet of that module; its size and mass stay, as cells of a better kind."""
    return replace(
        module,
        power_w=module.power_w * current_factor,
        current_sc_a=module.current_sc_a * current_factor,
        current_mp_a=module.current_mp_a * current_factor,
    )


def loss_names() -> tuple[str, ...]:
    """Every loss of an energy balance, in order."""
    return tuple(f.name for f in fields(EnergyBalance) if f.name not in ("unshaded_kwh", "available_kwh", "delivered_kwh"))


def losses(balance: EnergyBalance) -> dict[str, float]:
    """The losses of an energy balance by name."""
    return {name: getattr(balance, name) for name in loss_names()}


def installation(
    capacities: str = "iec_xlpe_90", method: str = "clipped_direct", ambient_c: float = 30.0, together: int | None = 1
) -> Installation:
    """A way of installing, by the name of its table."""
    table = capacity_tables()[capacities]
    return Installation(table, table.methods[method], ambient_c, together)


def wiring(
    trunk_size: str | None = "2.5 mm2",
    home_run_size: str | None = None,
    supply_size: str | None = None,
    *,
    conductors: str = "iec_60228_class_2",
    installed: Installation | None = None,
    ampacities_a: dict[str, float] | None = None,
    **changes: Any,
) -> Wiring:
    """Cables of a system at 230 V, all installed alike; a limit of 2 %, no lengths but the trunk's."""
    sizes: dict[CableName, str | None] = {
        "trunk": trunk_size, "home run": home_run_size, "system cable": supply_size, "supply cable": supply_size,
    }  # fmt: skip
    table = conductor_tables()[conductors]
    runs = {
        name: CableRun(name, table, installed or installation(), 2, size, (ampacities_a or {}).get(name))
        for name, size in sizes.items()
    }
    return replace(
        Wiring(
            table=table,
            conductor_temp_c=70.0,
            voltage_v=230.0,
            limit_share=0.02,
            limit_source=Cited("a code"),
            trunk_feed="end",
            trunk=runs["trunk"],
            home_run=runs["home run"],
            home_run_length_m=0.0,
            supply=runs["supply cable"],
            supply_length_m=0.0,
            system_cable=runs["system cable"],
        ),
        **changes,
    )


def numbers(lowest: float, highest: float) -> st.SearchStrategy[float]:
    """Finite numbers within limits."""
    return st.floats(lowest, highest, allow_nan=False, allow_infinity=False)


@st.composite
def _conversions(draw: st.DrawFn, ac_power_w: float) -> Conversion:
    """Conversions by weighted efficiency or by measured points."""
    if draw(st.booleans()):
        weights = draw(st.sampled_from([EUROPEAN_WEIGHTS, CEC_WEIGHTS]))
        efficiency = draw(numbers(80.0, 99.5))
        return from_weighted_efficiency(ac_power_w=ac_power_w, efficiency_percent=efficiency, weights=weights)
    by_voltage = draw(st.sampled_from([(0.0, 0.0, 0.0), (0.001, 0.004, 0.002), (-0.001, -0.004, 0.0)]))
    loss = (draw(numbers(0.002, 0.02)), draw(numbers(0.01, 0.03)), draw(numbers(0.002, 0.03)))
    known = LossCurve(ac_power_w, loss, 32.0, by_voltage, (24.0, 40.0))
    return from_points(ac_power_w=ac_power_w, points=measured(known, voltages_v=(24.0, 32.0, 40.0)))


def measured(
    curve: LossCurve, *, voltages_v: tuple[float | None, ...], loads: tuple[float, ...] = (0.05, 0.1, 0.2, 0.3, 0.5, 1)
) -> list[EfficiencyPoint]:
    """Efficiency points that lie on a known curve, at DC loads; their load shares are of its rated power."""
    found = []
    for voltage in voltages_v:
        dc_power = np.array(loads) * curve.rated_power_w
        ac_power = curve.ac_power_w(dc_power, np.full_like(dc_power, voltage or 1.0))
        for dc, ac in zip(dc_power, ac_power, strict=True):
            found.append(EfficiencyPoint(float(ac / curve.rated_power_w), float(ac / dc * 100.0), voltage))
    return found


@st.composite
def microinverters(draw: st.DrawFn) -> Microinverter:
    """Valid microinverters, many of them badly matched to the module."""
    inputs = draw(st.integers(1, 4))
    ac_power_w = draw(numbers(100.0, 600.0)) * inputs
    window = sorted(draw(st.tuples(*[numbers(5.0, 60.0)] * 4)))
    derating = st.builds(
        lambda start, fall, span: ThermalDerating(start, fall, start + span),
        numbers(0.0, 60.0),
        numbers(0.1, 20.0),
        numbers(0.0, 30.0),
    )
    changes: dict[str, Any] = {
        "ac_power_w": ac_power_w,
        "ac_peak_power_w": ac_power_w * draw(st.just(1.0) | numbers(1.0, 1.2)),
        "dc_operating_voltage_min_v": window[0],
        "dc_full_power_voltage_min_v": window[1],
        "dc_full_power_voltage_max_v": window[2],
        "dc_operating_voltage_max_v": window[3],
        "dc_start_voltage_v": draw(numbers(5.0, max(window[3], 5.0))),
        "dc_current_max_a": draw(numbers(1.0, 20.0)),
        "input_count": inputs,
        "conversion": draw(_conversions(ac_power_w)),
        "start_power_w": draw(numbers(0.0, 40.0)),
        "night_draw_w": draw(numbers(0.0, 2.0)),
        "derating": draw(st.none() | derating),
    }
    return replace(UNLIMITED, **changes)

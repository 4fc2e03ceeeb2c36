"""The chain beside the meters of real systems whose series the package registry carries; see MEASURED.md for what they tell.

Ratings and planes are those that the operators publish; modules are typical ones of the kind and year, since neither voltage
nor area matters here. Golden's efficiencies are those of the list of inverters that pvlib bundles. No losses are assumed, so
that the chain should give more than the meter.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

from tests.open_data import source_archive, source_file
from tests.validation.ledger import Check, within
from tests.validation.measured_clipping import fitted
from tests.validation.measured_record import Record, record_of
from tests.validation.measured_system import Result, System, result
from wattpair_service.engineering.equipment import Module

PVCOPILOT_SHA256 = "b5c10f16d2abf3c190d5ba2b62a93c39a0cd48b516185352f6310faf80021621"
PVANALYTICS_SHA256 = "38d786244c6081478bccddc34bf32bcdcd57ced8f3241b47ffca39924122fff6"
WEST_OF_UTC_H = 7
"""Mountain Standard Time all year."""


def typical_module(power_w: float, power_percent_per_k: float) -> Module:
    """A module of that power and temperature coefficient, with voltages and currents of 60 crystalline cells."""
    current_a = power_w / 30.0
    return Module(
        f"{power_w:g} W", power_w, 37.0, 30.0, 1.07 * current_a, current_a, -0.33, 0.05, power_percent_per_k, 1.65, 1.0, 18.0
    )


BOLZANO = System(
    "Bolzano, ground", 46.4576, 11.3285, 262.0, 30.0, 188.5, typical_module(210.0, -0.45), 20, 4200.0, 95.0, label="middle"
)
GOLDEN_RACK = System("Golden, rack", 39.7406, -105.1774, 1785.0, 40.0, 180.0, typical_module(200.0, -0.30), 5, 1800.0, 91.6)
GOLDEN_AGED = System(
    "Golden, aged array", 39.742, -105.1727, 1777.0, 45.0, 158.0, typical_module(60.0, -0.45), 100, 6000.0, 92.8,
    label="middle", origin="satellite_30_min",
)  # fmt: skip
GOLDEN_ROOF = System(
    "Golden, flat roof", 39.7422, -105.1719, 1780.0, 10.0, 165.0, typical_module(200.0, -0.45), 450, 74500.0, 95.0, label="end"
)

BENCHMARK = "in the source distribution of pvcopilot 0.1.1; Lindig et al. 2021, 10.1002/pip.3397; rating and plane from memory"
RACK = "in the source distribution of pvcopilot 0.1.1; 1 kW, 40 degrees south: RdTools' documentation"
AGED = "in the source distribution of pvanalytics 0.2.2; 6 kW, 45 degrees, azimuth 158: reference sites of solarforecastarbiter"


def checks() -> Iterator[Check]:
    """Energy, its spread and clipping."""
    yield from _bolzano()
    yield from _golden_rack()
    yield from _golden_aged()
    record = golden_roof()
    metered, chain = fitted(record, GOLDEN_ROOF.ac_limit_w), result(record, GOLDEN_ROOF)
    # The chain runs over hours as the meter does: what was clipped inside them is in neither.
    name = f"{GOLDEN_ROOF.name}, clipped share of hours, by the meter's range and 0.15 points [%]"
    low, high = metered.low_percent, metered.high_percent + 0.15
    source = f"metered 2012, {BENCHMARK}; DC rating fitted to the median day"
    yield within(name, low, high, chain.rows[0].clipped_percent, "RUN", source)


def _bolzano() -> Iterator[Check]:
    found, source = result(bolzano(), BOLZANO), f"metered 2012 to 2014, {BENCHMARK}"
    yield within(f"{found.name}, chain over meter [%]", -2.0, 5.0, found.rows[0].bias_percent, "RUN", source)
    yield within(f"{found.name}, spread of days [%]", 0.0, 4.0, found.day_spread_percent or np.nan, "RUN", source)
    yield within(f"{found.name}, spread of months [%]", 0.0, 2.5, found.month_spread_percent or np.nan, "RUN", source)
    yield _low_light(found, 2.5, source)


def _golden_rack() -> Iterator[Check]:
    found, source = result(golden_rack(), GOLDEN_RACK), f"metered 2012, {RACK}"
    # Some years old and not washed: the losses that the chain lacks.
    yield within(
        f"{found.name}, chain over meter, median day [%]", 3.0, 11.0, found.median_day_percent or np.nan, "RUN", source
    )
    yield within(f"{found.name}, spread of months [%]", 0.0, 2.0, found.month_spread_percent or np.nan, "RUN", source)
    yield _low_light(found, 5.0, source)


def _golden_aged() -> Iterator[Check]:
    found, source = (
        result(golden_aged(), GOLDEN_AGED),
        f"metered July to October 2016 beside global irradiance from satellite, {AGED}",
    )
    yield within(f"{found.name}, spread of months [%]", 0.0, 2.5, found.month_spread_percent or np.nan, "RUN", source)
    intervals, _, states = (row.energy_kwh for row in found.rows)
    difference = 100.0 * (states / intervals - 1.0)
    yield within(f"{found.name}, hours with subhourly states over quarter hours [%]", -0.15, 0.15, difference, "RUN", source)


def _low_light(found: Result, points: float, source: str) -> Check:
    """Low light and heat: the error at 200 to 400 W/m2 is nearly that at 800 to 1000."""
    bias = {row.from_w_m2: row.bias_percent for row in found.classes}
    name = f"{found.name}, error at 200 to 400 W/m2 less that at 800 to 1000 [points]"
    return within(name, -points, points, bias[200.0] - bias[800.0], "RUN", source)


def bolzano() -> Record:
    """Hours of 2012 to 2014. Their times are local with daylight saving: the hour that occurs twice is left out."""
    frame = _hours("eurac_bolzano_pcSi6_hourly").rename(
        columns={
            "P_ac_[W]": "power",
            "POA_pyranometer_[W/m2]": "poa",
            "T_ambient_[C]": "temp_air",
            "Wind_speed_[m/s]": "wind_speed",
        }
    )
    local = pd.DatetimeIndex(frame.index).tz_localize("Europe/Rome", ambiguous="NaT", nonexistent="NaT")
    utc = local.tz_convert("UTC").tz_localize(None)
    frame = frame.set_axis(utc).loc[utc.notna() & ~utc.duplicated()]
    return _record(frame.sort_index().loc["2012":"2014"], BOLZANO)


def golden_rack() -> Record:
    """Hours of 2012."""
    names = {"ac_power": "power", "poa_irradiance": "poa", "ambient_temp": "temp_air"}
    frame = _hours("pvdaq_system4_golden_hourly").rename(columns=names)
    return _record(frame.loc["2012":"2012"].shift(WEST_OF_UTC_H, freq="h"), GOLDEN_RACK)


def golden_roof() -> Record:
    """Hours of 2012, with the pyranometer on the roof; it drifts by 1 % a year."""
    names = {"ac_power": "power", "poa_local": "poa", "ambient_temp": "temp_air"}
    frame = _hours("nrel_stf_golden_hourly").rename(columns=names)
    return _record(frame.loc["2012":"2012"].shift(WEST_OF_UTC_H, freq="h"), GOLDEN_ROOF)


def golden_aged() -> Record:
    """Quarter hours of summer 2016; the irradiance is interpolated between a satellite's half hours."""
    power, weather = (
        pd.read_csv(io.BytesIO(source_file(_pvanalytics(), f"pvanalytics/data/{name}.csv")), index_col=0, parse_dates=True)
        for name in ("serf_east_15min_ac_power", "serf_east_psm3_data")
    )
    frame = weather[["ghi", "temp_air"]].assign(power=power["ac_power"])
    return _record(frame.tz_convert("UTC").tz_localize(None), GOLDEN_AGED)


@cache
def _hours(name: str) -> pd.DataFrame:
    archive = source_archive("pvcopilot", "0.1.1", PVCOPILOT_SHA256)
    return pd.read_parquet(io.BytesIO(source_file(archive, f"src/pvcopilot/data/examples/{name}.parquet")))


def _pvanalytics() -> Path:
    return source_archive("pvanalytics", "0.2.2", PVANALYTICS_SHA256)


def _record(frame: pd.DataFrame, system: System) -> Record:
    return record_of(frame, system.place, label=system.label, plane=(system.tilt_deg, system.azimuth_deg))

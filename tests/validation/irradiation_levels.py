"""The built-in climate's irradiation beside years of weather files and published levels of cities and islands.

`irradiation_years.csv` has the monthly sums of weather files in packages of the registry: the first 38, with which most
constants of the map were chosen and of which 28 are in the United States, and 13 further ones. `irradiation_levels.csv` has the
long-term levels of cities and islands, from memory, 3 to 4 % uncertain; those of the islands chose the factor of islands. A
typical year is itself 3 to 5 % from the mean of years, a single one up to 10 %. Shimla's file is synthetic.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd

from tests.validation.ledger import Check, Label, within
from wattpair_service.climate import atlas
from wattpair_service.engineering.arrays import FloatArray

FOLDER = Path(__file__).parent
QUANTILE_90 = 1.28
"""Of the normal distribution: 80 % lie between this and its negative."""
PUBLISHED = "long-term levels from memory"
# By set: mean absolute deviations of year and months [%].
YEARS_FLOORS = {"first": (3.8, 6.8), "further": (5.0, 10.4)}
# By set: mean absolute deviation and bias of the level [%], and the share within 10 %.
LEVELS_FLOORS = {"city": (4.0, 1.0, 0.92), "island": (4.5, 3.0, 0.92)}
INSIDE_RANGE = (0.8, 1.0)


def checks() -> Iterator[Check]:
    """Deviations of each set, and whether the stated error is true."""
    years, levels = (pd.read_csv(FOLDER / f"irradiation_{name}.csv") for name in ("years", "levels"))
    for name, table in years.groupby("set"):
        months, _ = _built_in(table)
        files = table.filter(like="ghi_kwh_m2").to_numpy()
        year_floor, month_floor = YEARS_FLOORS[str(name)]
        title = f"built-in climate, {name} {len(table)} years"
        year = 100.0 * (months.sum(axis=1) / files.sum(axis=1) - 1.0)
        of_months = 100.0 * np.abs(months / files - 1.0)
        source = "monthly sums of files in packages of the registry"
        yield within(f"{title}: year, mean absolute [%]", 0.0, year_floor, float(np.abs(year).mean()), "READ", source)
        yield within(f"{title}: months, mean absolute [%]", 0.0, month_floor, float(of_months.mean()), "READ", source)
    months, error_share = _built_in(years)
    year = 100.0 * (months.sum(axis=1) / years.filter(like="ghi_kwh_m2").sum(axis=1).to_numpy() - 1.0)
    yield _inside(f"built-in climate, {len(years)} years", year, error_share, "READ", "files in packages of the registry")
    for name, table in levels.groupby("set"):
        months, error_share = _built_in(table)
        level = 100.0 * (months.sum(axis=1) / table["ghi_kwh_m2"].to_numpy() - 1.0)
        mean_floor, bias_floor, share_floor = LEVELS_FLOORS[str(name)]
        title = f"built-in climate, {name}, {len(table)} levels"
        yield within(f"{title}: mean absolute [%]", 0.0, mean_floor, float(np.abs(level).mean()), "MEMORY", PUBLISHED)
        yield within(f"{title}: mean [%]", -bias_floor, bias_floor, float(level.mean()), "MEMORY", PUBLISHED)
        within_10 = float(np.mean(np.abs(level) < 10.0))
        yield within(f"{title}: share within 10 %", share_floor, 1.0, within_10, "MEMORY", PUBLISHED)
        yield _inside(title, level, error_share, "MEMORY", PUBLISHED)


def _built_in(table: pd.DataFrame) -> tuple[FloatArray, FloatArray]:
    """Irradiation by month [kWh/m2] and error of the year (0-1) at each row's place."""
    elevations_m = table["elevation_m"] if "elevation_m" in table else [None] * len(table)
    places = zip(table["latitude_deg"], table["longitude_deg"], elevations_m, strict=True)
    found = [atlas.at(*place) for place in places]
    return np.array([each.ghi_kwh_m2_by_month for each in found]), np.array([each.ghi_error_share for each in found])


def _inside(title: str, percent: FloatArray, error_share: FloatArray, label: Label, source: str) -> Check:
    share = float(np.mean(np.abs(percent) < 100.0 * QUANTILE_90 * error_share))
    return within(f"{title}: share within {QUANTILE_90} of the stated error", *INSIDE_RANGE, share, label, source)

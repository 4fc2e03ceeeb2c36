"""The built-in climate beside a typical year: `python -m tests.validation.climate_at FILE.epw [--json]`.

Irradiation of the year and its months, irradiation of two planes, extremes of temperature, and the share that microinverters of
three sizes clip of a 430 W module, each from the file and from the built-in climate at the file's place.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from tests.validation.yields import roof_face, unit
from wattpair_service.climate import atlas
from wattpair_service.climate.files import from_text
from wattpair_service.engineering.energy.energy_balance import pairing_year
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.irradiance.conditions import Conditions, HourlyWeather, from_hourly
from wattpair_service.engineering.irradiance.plane_of_array import plane_of_array
from wattpair_service.engineering.module.dc_response import by_month, dc_response
from wattpair_service.engineering.module.single_diode import fit

MODULE_430 = Module("430 W", 430.0, 38.6, 32.2, 14.05, 13.36, -0.26, 0.046, -0.34, 1.74, 1.12, 21.0)
AC_POWERS_W = (290.0, 330.0, 380.0)
PLANES = {"equator 35": 35.0, "east 20": 20.0}


@dataclass(frozen=True, slots=True)
class Pair:
    """One figure from the file and from the built-in climate."""

    file: float
    atlas: float

    @property
    def percent(self) -> float:
        """What the built-in climate has more [%]; 0 where the file has nothing."""
        return 100.0 * (self.atlas / self.file - 1.0) if self.file else 0.0

    @property
    def difference(self) -> float:
        """What the built-in climate has more."""
        return self.atlas - self.file


@dataclass(frozen=True, slots=True)
class Comparison:
    """A typical year beside the built-in climate of its place.

    Irradiation in kWh/m2, temperatures in degC. `clipped_percent` is by plane and AC power of the unit.
    """

    latitude_deg: float
    longitude_deg: float
    ghi: Pair
    ghi_by_month: tuple[Pair, ...]
    in_plane: dict[str, Pair]
    temp_lowest: Pair
    temp_highest: Pair
    clipped_percent: dict[str, Pair]

    @property
    def monthly_error_percent(self) -> float:
        """Mean absolute deviation of the months, each in percent of the file's month."""
        return float(np.mean([abs(month.percent) for month in self.ghi_by_month]))


def compare(weather: HourlyWeather) -> Comparison:
    """A typical year beside the built-in climate at its place and height."""
    climate = atlas.at(weather.latitude_deg, weather.longitude_deg, weather.elevation_m)
    years = from_hourly(weather), atlas.conditions(climate)
    months, planes, clipped = zip(*(_figures(each, weather.latitude_deg) for each in years), strict=True)
    return Comparison(
        weather.latitude_deg,
        weather.longitude_deg,
        ghi=Pair(*map(sum, months)),
        ghi_by_month=tuple(map(Pair, *months)),
        in_plane={name: Pair(*(each[name] for each in planes)) for name in planes[0]},
        temp_lowest=Pair(float(weather.temp_air_c.min()), climate.temp_lowest_c),
        temp_highest=Pair(float(weather.temp_air_c.max()), climate.temp_highest_c),
        clipped_percent={name: Pair(*(each[name] for each in clipped)) for name in clipped[0]},
    )


def _figures(conditions: Conditions, latitude_deg: float) -> tuple[list[float], dict[str, float], dict[str, float]]:
    """GHI by month and irradiation by plane [kWh/m2], clipped share by plane and unit [%]."""
    parameters = fit(MODULE_430)
    in_plane, clipped = {}, {}
    for name, tilt in PLANES.items():
        azimuth = 90.0 if name.startswith("east") else 180.0 if latitude_deg >= 0.0 else 0.0
        face = roof_face(azimuth, tilt)
        plane = plane_of_array(conditions, face, transposition="perez_1990")
        response = dc_response(conditions, plane, face=face, parameters=parameters)
        in_plane[name] = float(plane.poa_global_w_m2 @ conditions.weight_h) / 1000.0
        for power in AC_POWERS_W:
            clipped[f"{name}, {power:g} W"] = 100.0 * pairing_year(response, unit(power)).year.clipped_share
    months = by_month(conditions.month, conditions.ghi_w_m2 * conditions.weight_h) / 1000.0
    return months.tolist(), in_plane, clipped


def table(found: Comparison) -> Iterator[str]:
    """The comparison as text."""
    yield f"{found.latitude_deg:g}, {found.longitude_deg:g}"
    yield f"{'':34}{'file':>10}{'built-in':>10}{'more':>10}"
    rows = {"horizontal, year [kWh/m2]": found.ghi}
    rows |= {f"horizontal, month {index} [kWh/m2]": pair for index, pair in enumerate(found.ghi_by_month, start=1)}
    rows |= {f"in plane, {name} [kWh/m2]": pair for name, pair in found.in_plane.items()}
    for name, pair in rows.items():
        yield f"{name:34}{pair.file:10.1f}{pair.atlas:10.1f}{pair.percent:9.1f}%"
    yield f"{'months, mean absolute deviation':34}{'':20}{found.monthly_error_percent:9.1f}%"
    others = {"coldest [degC]": found.temp_lowest, "hottest [degC]": found.temp_highest}
    others |= {f"clipped, {name} [%]": pair for name, pair in found.clipped_percent.items()}
    for name, pair in others.items():
        yield f"{name:34}{pair.file:10.2f}{pair.atlas:10.2f}{pair.difference:10.2f}"


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="The built-in climate beside a typical year.")
    parser.add_argument("file", type=Path, help="an EPW file")
    parser.add_argument("--json", action="store_true", help="print JSON")
    options = parser.parse_args()
    result = compare(from_text(options.file.read_text(encoding="utf-8", errors="replace"), file_format="epw"))
    print(json.dumps(asdict(result), indent=2) if options.json else "\n".join(table(result)))

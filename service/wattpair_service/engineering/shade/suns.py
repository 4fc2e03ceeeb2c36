"""Positions of the sun inside the hours: several for each hour, as shade moves faster than irradiance.

The irradiance of an hour is that of its middle; only what stands before the sun changes within it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.sun_paths import DEG_PER_HOUR

SUNS_PER_HOUR = 2
GOLDEN_SHARE = 0.6180339887
"""From one day to the next the positions move by this share of an hour, so that a month's days look up ever new ones."""

_LOWEST_TANGENT = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Suns:
    """Positions of the sun above the horizontal, n of them, hour after hour.

    `hour` is the index among the hours asked for, `share` the position's share of its hour's beam (0-1). An hour without beam,
    or whose sun stands below the horizontal, has its highest position alone. No tangent is 0: light from around a sun just
    below the horizontal arrives where nothing stands before it.
    """

    hour: IntArray
    share: FloatArray
    azimuth_deg: FloatArray
    elevation_tangent: FloatArray

    def at(self, index: slice) -> Suns:
        """Some of the positions."""
        return Suns(self.hour[index], self.share[index], self.azimuth_deg[index], self.elevation_tangent[index])


def suns_inside(conditions: Conditions, index: IntArray, *, per_hour: int = SUNS_PER_HOUR) -> Suns:
    """The sun inside the hours at `index`, turned about the earth's axis from the middle of each hour."""
    assert conditions.latitude_deg is not None, "shade needs the latitude of the year's sun"
    first = np.mod(_day(conditions)[index] * GOLDEN_SHARE, 1.0)[:, None]
    offsets = np.radians((np.mod(first + np.arange(per_hour) / per_hour, 1.0) - 0.5) * DEG_PER_HOUR)
    zenith, azimuth = np.radians(conditions.zenith_deg[index]), np.radians(conditions.azimuth_deg[index])
    latitude = np.radians(conditions.latitude_deg)
    pole_north, pole_up = np.cos(latitude), np.sin(latitude)
    east, north, up = np.sin(zenith) * np.sin(azimuth), np.sin(zenith) * np.cos(azimuth), np.cos(zenith)
    # Rotation by the hour angle about the pole, which has no part to the east.
    along_pole = (pole_north * north + pole_up * up)[:, None]
    cosine, sine = np.cos(offsets), np.sin(offsets)
    turned_east = east[:, None] * cosine - (pole_north * up - pole_up * north)[:, None] * sine
    turned_north = north[:, None] * cosine - (pole_up * east)[:, None] * sine + pole_north * along_pole * (1.0 - cosine)
    turned_up = up[:, None] * cosine + (pole_north * east)[:, None] * sine + pole_up * along_pole * (1.0 - cosine)
    horizontal = np.hypot(turned_east, turned_north)
    is_up = (turned_up > 0.0) & (conditions.dni_w_m2[index] > 0.0)[:, None]
    without = np.flatnonzero(~is_up.any(axis=1))
    is_up[without, turned_up[without].argmax(axis=1)] = True
    hour = np.nonzero(is_up)[0]
    return Suns(
        hour=hour,
        share=1.0 / is_up.sum(axis=1)[hour],
        azimuth_deg=np.degrees(np.arctan2(turned_east, turned_north))[is_up] % 360.0,
        elevation_tangent=np.maximum(turned_up[is_up] / np.maximum(horizontal[is_up], 1e-12), _LOWEST_TANGENT),
    )


def _day(conditions: Conditions) -> IntArray:
    """Number of the day of each point."""
    return conditions.sequence if conditions.hour_of_year is None else conditions.hour_of_year // 24

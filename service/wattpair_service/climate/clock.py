"""Finds a wrong clock from the light itself: only at the right time do beam, diffuse and global agree.

Typical years made from satellite snapshots are often labelled by the start of the hour in which the snapshot lies, or by its
end; taken for hourly means their sun stands up to an hour off, which moves energy between east and west roofs.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from wattpair_service.climate.sun import light_middle_h, zenith_deg
from wattpair_service.engineering.irradiance.conditions import HourlyWeather

SEARCHED_MIN = np.arange(-75, 80, 5)
IGNORED_MIN = 10
"""An offset up to this is left alone: hourly means of a moving sun close no better."""
NOON_GAIN = 0.5
"""Share of the offset by which the light's middle must come nearer to noon. Common practice, no source."""
IMPROVEMENT = 0.5
"""The misfit must fall to this share of what it is by the labels. Common practice, no source."""


def with_right_clock(weather: HourlyWeather) -> HourlyWeather:
    """The year with its times moved to where its three components agree best; the same where they say nothing.

    The correction is told in `source`.
    """
    offset_min = clock_offset_min(weather)
    if offset_min == 0:
        return weather
    return replace(
        weather,
        middle_utc=weather.middle_utc + pd.Timedelta(minutes=offset_min),
        clock_moved_min=offset_min,
        source=f"{weather.source}, its clock moved by {offset_min:+d} minutes, where beam, diffuse and global light agree",
    )


def clock_offset_min(weather: HourlyWeather) -> int:
    """Minutes from the labelled middle of the intervals to the time that the light belongs to; 0 where it is not told.

    Two witnesses must agree: beam, diffuse and global light add up better by half or more, and the middle of the year's light
    comes nearer to solar noon by most of the offset. Beam that was computed for another minute of the hour is no wrong clock.
    """
    if weather.dni_w_m2 is None or weather.dhi_w_m2 is None:
        return 0
    beam = weather.dni_w_m2 > 50.0
    if not beam.any():
        return 0
    misfit = np.array([_misfit_w_m2(weather, beam, minutes / 60.0) for minutes in SEARCHED_MIN])
    best = int(np.argmin(misfit))
    if best in (0, len(SEARCHED_MIN) - 1):
        # At an end of the search the true clock lies beyond it: nothing that could be mended.
        return 0
    by_label = float(misfit[SEARCHED_MIN == 0][0])
    offset = int(SEARCHED_MIN[best])
    if abs(offset) <= IGNORED_MIN or misfit[best] >= IMPROVEMENT * by_label:
        return 0
    now, then = (abs(light_middle_h(weather, shift_h)) * 60.0 for shift_h in (0.0, offset / 60.0))
    return offset if now - then > NOON_GAIN * abs(offset) else 0


def _misfit_w_m2(weather: HourlyWeather, beam: np.ndarray[tuple[int], np.dtype[np.bool_]], shift_h: float) -> float:
    assert weather.dni_w_m2 is not None, "asked for where beam is known"
    assert weather.dhi_w_m2 is not None, "asked for where diffuse light is known"
    cosine = np.maximum(np.cos(np.radians(zenith_deg(weather, shift_h)[beam])), 0.0)
    parts = weather.dni_w_m2[beam] * cosine + weather.dhi_w_m2[beam]
    return float(np.mean(np.abs(parts - weather.ghi_w_m2[beam])))

"""The sun's paths over the directions of the compass, with the horizon and all that stands before the sky of a face."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from markupsafe import Markup

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.irradiance.sun_paths import OBLIQUITY_DEG, SOLSTICES_AND_EQUINOX_DEG, sun_at, sun_path
from wattpair_service.engineering.shade.on_face import CrownOutline, Skyline
from wattpair_service.report.charts.drawing import (
    DISC,
    FAINT,
    INK,
    LETTERS,
    PAPER,
    SOFT,
    WIDTH,
    Pen,
    Scale,
    box,
    lettered,
    line,
    polygon,
    polyline,
    text,
    ticks,
)
from wattpair_service.report.compass import letters_of, name_of
from wattpair_service.words.language import Language

LEFT, RIGHT, TOP, PLOT = 30.0, 17.0, 22.0, 170.0
AXIS, KEY_ROW = 34.0, 14.0
DASHES = (None, "7 3", "2 2.5")
"""Of the paths of 21 June, of the equinoxes and of 21 December."""
PLANE_DASH = "9 3 2 3"
JUMP_DEG = 6.0
"""From one column to the next an edge that is higher by this much is drawn upright."""
HOUR_LINE_DEG = np.linspace(-OBLIQUITY_DEG, OBLIQUITY_DEG, 9)
HOUR_ROOM = 15.0
"""Least distance of the figures of two hours."""
APART_DEG = 60.0
"""A step of a path across more than this passes the zenith, or leaves the drawing on one side and comes back on the other."""
FIGURE_SIZE, FIGURE_WIDTH = 8.5, 5.6
"""Of the figures of the hours, and the width of one digit."""


@dataclass(frozen=True, slots=True)
class _View:
    """A part of the sky on paper: directions from the middle one, and elevations."""

    middle_deg: float
    half_deg: float
    top_deg: float

    def aside(self, azimuth_deg: FloatArray | float) -> FloatArray:
        """Degrees to the right of the middle, from -180 to 180."""
        return np.asarray((np.asarray(azimuth_deg) - self.middle_deg + 180.0) % 360.0 - 180.0, dtype=np.float64)

    def x(self, aside_deg: float) -> float:
        """Coordinate of a direction."""
        return Scale(-self.half_deg, self.half_deg, LEFT, WIDTH - RIGHT)(aside_deg)

    def y(self, elevation_deg: float) -> float:
        """Coordinate of an elevation."""
        return Scale(0.0, self.top_deg, TOP + PLOT, TOP)(elevation_deg)

    def points(self, aside_deg: Iterable[float], elevation_deg: Iterable[float]) -> list[tuple[float, float]]:
        """Coordinates of several."""
        return [(self.x(aside), self.y(up)) for aside, up in zip(aside_deg, elevation_deg, strict=True)]


def sky_line(
    pen: Pen, language: Language, face: str, skyline: Skyline, *, latitude_deg: float, tilt_deg: float, azimuth_deg: float
) -> Markup:
    """The chart of a face of this tilt and azimuth."""
    paths = [sun_path(latitude_deg, each) for each in SOLSTICES_AND_EQUINOX_DEG]
    view = _view(latitude_deg, skyline)
    drawn = [*_grid(view, language)]
    drawn += _filled(view, skyline.azimuth_deg, skyline.horizon_deg, FAINT)
    drawn += _filled(view, skyline.azimuth_deg, skyline.opaque_deg, pen.hatch)
    for crown in skyline.crowns:
        drawn += _crown(view, pen, skyline.azimuth_deg, crown)
    drawn += _plane(view, tilt_deg, azimuth_deg)
    drawn += _hours(view, latitude_deg)
    for path, dash in zip(paths, DASHES, strict=True):
        for part in _parts(view.aside(path.azimuth_deg), path.elevation_deg):
            coordinates = view.points(*part)
            # A white edge separates the path from what stands behind it.
            drawn += [
                polyline(coordinates, stroke=PAPER, width=4.0),
                polyline(coordinates, stroke=pen.accent, width=2.0, dash=dash),
            ]
    drawn.append(line(LEFT, view.y(0.0), WIDTH - RIGHT, view.y(0.0)))
    drawn += _letters(view, skyline)
    entries = _entries(pen, language, skyline, has_plane=tilt_deg > 0.0)
    top = TOP + PLOT + AXIS
    for index, (mark, words) in enumerate(entries):
        x, y = 4.0 + index % 2 * 168.0, top + index // 2 * KEY_ROW
        drawn += [*_mark(mark, x, y), text(x + 26.0, y + 9.0, words, size=9.0)]
    height = top + (len(entries) + 1) // 2 * KEY_ROW + 2.0
    return pen.frame(height, language.say("sky.title", face=face), _description(language, latitude_deg, skyline), *drawn)


def _view(latitude_deg: float, skyline: Skyline) -> _View:
    """As wide as the sun goes, around the direction that it has at noon on the equinox, and as high as sun and obstacles."""
    view = _View(180.0 if latitude_deg >= 0.0 else 0.0, 180.0, 90.0)
    paths = [sun_path(latitude_deg, each) for each in SOLSTICES_AND_EQUINOX_DEG]
    farthest = max(float(np.abs(view.aside(path.azimuth_deg)).max(initial=45.0)) for path in paths)
    half_deg = min(np.ceil(farthest / 45.0 - 1e-6) * 45.0, 180.0)
    seen = np.abs(view.aside(skyline.azimuth_deg)) <= half_deg
    tops = (skyline.horizon_deg, skyline.opaque_deg, *(np.nan_to_num(each.high_deg) for each in skyline.crowns))
    highest = max(*(float(path.elevation_deg.max(initial=0.0)) for path in paths), *(float(each[seen].max()) for each in tops))
    return _View(view.middle_deg, float(half_deg), min(ticks(0.0, highest + 4.0)[-1], 90.0))


def _grid(view: _View, language: Language) -> Iterator[Markup]:
    yield text(2.0, 10.0, language.say("sky.elevation"))
    for mark in ticks(0.0, view.top_deg):
        if mark <= view.top_deg:
            yield line(LEFT, view.y(mark), WIDTH - RIGHT, view.y(mark), stroke=FAINT, width=0.7)
            yield text(LEFT - 4.0, view.y(mark) + 3.5, language.number(mark), anchor="end")
    for aside in np.arange(-view.half_deg, view.half_deg + 1.0, 45.0).tolist():
        x, direction = view.x(aside), view.middle_deg + aside
        is_cardinal = direction % 90.0 == 0.0
        name = name_of(language, direction) if is_cardinal else letters_of(language, direction)
        yield line(x, view.y(0.0), x, view.y(0.0) + 3.0, width=0.7)
        yield text(x, view.y(0.0) + 14.0, name, anchor="middle", bold=is_cardinal)


def _filled(view: _View, azimuth_deg: FloatArray, elevation_deg: FloatArray, fill: str) -> Iterator[Markup]:
    """The area under a line of elevations, on white, where it rises above 0."""
    if elevation_deg.max() <= 0.0:
        return
    aside = view.aside(azimuth_deg)
    order = np.argsort(aside)
    order = order[np.abs(aside[order]) <= view.half_deg]
    edge = _outline(aside[order].tolist(), elevation_deg[order].tolist(), view.half_deg)
    coordinates = [(LEFT, view.y(0.0)), *view.points(*zip(*edge, strict=True)), (WIDTH - RIGHT, view.y(0.0))]
    yield polygon(coordinates, fill=PAPER, stroke="none")
    yield polygon(coordinates, fill=fill, stroke=INK, width=1.0)


def _outline(aside_deg: list[float], elevation_deg: list[float], half_deg: float) -> list[tuple[float, float]]:
    """A line through the middles of columns, upright where it jumps."""
    columns = list(zip(aside_deg, elevation_deg, strict=True))
    edge = [(-half_deg, columns[0][1])]
    for (at, up), (next_at, next_up) in pairwise(columns):
        edge.append((at, up))
        if abs(next_up - up) > JUMP_DEG:
            edge += [((at + next_at) / 2.0, up), ((at + next_at) / 2.0, next_up)]
    return [*edge, columns[-1], (half_deg, columns[-1][1])]


def _crown(view: _View, pen: Pen, azimuth_deg: FloatArray, crown: CrownOutline) -> Iterator[Markup]:
    """A crown between its lower and its upper edge, in as many parts as are seen."""
    aside = view.aside(azimuth_deg)
    order = np.argsort(aside)
    order = order[np.abs(aside[order]) <= view.half_deg]
    seen = ~np.isnan(crown.high_deg[order])
    for run in np.split(order, np.flatnonzero(np.diff(seen.astype(np.int64))) + 1):
        if not np.isnan(crown.high_deg[run[0]]):
            half = 180.0 / azimuth_deg.size
            at = [aside[run[0]] - half, *aside[run].tolist(), aside[run[-1]] + half]
            low, high = crown.low_deg[run].tolist(), crown.high_deg[run].tolist()
            ends = (low[0] + high[0]) / 2.0, (low[-1] + high[-1]) / 2.0
            upper, lower = (view.points(at, [ends[0], *each, ends[1]]) for each in (high, low))
            yield polygon([*upper, *reversed(lower)], fill=pen.dots, stroke=INK, width=0.8)


def _letters(view: _View, skyline: Skyline) -> Iterator[Markup]:
    """A letter at the top of each object, building and crown that stands out before the others."""
    aside = view.aside(skyline.azimuth_deg)
    tops = [*(each.high_deg for each in skyline.solids), *(np.nan_to_num(each.high_deg) for each in skyline.crowns)]
    highest = np.stack([skyline.horizon_deg, *tops])
    taken: list[tuple[float, float]] = []
    for number, (letter, top) in enumerate(zip(LETTERS, tops, strict=False), 1):
        others = np.delete(highest, number, axis=0).max(axis=0)
        is_seen = (np.abs(aside) <= view.half_deg) & (top > 0.0) & (top >= others)
        if is_seen.any():
            column = int(np.where(is_seen, top, -1.0).argmax())
            x = min(max(view.x(float(aside[column])), LEFT + DISC), WIDTH - RIGHT - DISC)
            y = max(view.y(float(top[column])) - DISC - 1.0, TOP)
            while any(abs(x - other) < 2.0 * DISC and abs(y - beside) < 2.0 * DISC for other, beside in taken):
                y += 2.0 * DISC
            taken.append((x, y))
            yield from lettered(x, y, letter)


def _plane(view: _View, tilt_deg: float, azimuth_deg: float) -> Iterator[Markup]:
    """The plane of the modules: a sun below it shines on their back."""
    aside = np.linspace(-view.half_deg, view.half_deg, 181)
    ahead = np.cos(np.radians(view.middle_deg + aside - azimuth_deg))
    tilt = np.radians(tilt_deg)
    elevation = np.degrees(np.arctan2(-np.sin(tilt) * ahead, np.cos(tilt)))
    for part in _parts(aside, np.where(elevation > 0.0, elevation, np.nan)):
        yield polyline(view.points(*part), stroke=SOFT, width=1.2, dash=PLANE_DASH)


def _hours(view: _View, latitude_deg: float) -> Iterator[Markup]:
    """A fine line through the sun's places at the same hour of all days, with the hour above the longest day's path."""
    longest_deg = OBLIQUITY_DEG if latitude_deg >= 0.0 else -OBLIQUITY_DEG
    taken: list[tuple[float, float]] = []
    for hour in range(24):
        places = [sun_at(latitude_deg, each, np.array([hour - 12.0])) for each in HOUR_LINE_DEG.tolist()]
        azimuth, elevation = np.array([[float(each[0]) for each in place] for place in places]).T
        for part in _parts(view.aside(azimuth), np.where(elevation > 0.0, elevation, np.nan)):
            yield polyline(view.points(*part), stroke=SOFT, width=0.6, dash="1 2")
        at, up = sun_at(latitude_deg, longest_deg, np.array([hour - 12.0]))
        x, y = view.x(float(view.aside(at)[0])), view.y(float(up[0])) - 5.0
        if up[0] > 3.0 and all(abs(x - other) > HOUR_ROOM or abs(y - beside) > 10.0 for other, beside in taken):
            taken.append((x, y))
            width = FIGURE_WIDTH * len(str(hour))
            yield box(x - width / 2.0 - 0.5, y - 7.0, width + 1.0, 8.0, fill=PAPER)
            yield text(x, y, hour, anchor="middle", size=FIGURE_SIZE)


def _parts(aside_deg: FloatArray, elevation_deg: FloatArray) -> Iterator[tuple[list[float], list[float]]]:
    """A line in parts: apart where it has no elevation, and where its direction turns round."""
    breaks = np.isnan(elevation_deg[1:]) | np.isnan(elevation_deg[:-1]) | (np.abs(np.diff(aside_deg)) > APART_DEG)
    for aside, elevation in (
        (aside_deg[start:end], elevation_deg[start:end])
        for start, end in pairwise([0, *(np.flatnonzero(breaks) + 1).tolist(), aside_deg.size])
    ):
        if aside.size > 1:
            yield aside.tolist(), elevation.tolist()


@dataclass(frozen=True, slots=True)
class _Mark:
    """A sample for the key: a line, or an area where `fill` is given."""

    stroke: str = INK
    width: float = 1.0
    dash: str | None = None
    fill: str | None = None


def _mark(mark: _Mark, x: float, y: float) -> Iterator[Markup]:
    if mark.fill is None:
        yield line(x, y + 6.0, x + 22.0, y + 6.0, stroke=mark.stroke, width=mark.width, dash=mark.dash)
    else:
        yield box(x, y + 1.0, 22.0, 9.0, fill=mark.fill, stroke=mark.stroke)


def _entries(pen: Pen, language: Language, skyline: Skyline, *, has_plane: bool) -> list[tuple[_Mark, str]]:
    """What the key names: only what is drawn."""
    june, december = language.day_of_year(6, 21), language.day_of_year(12, 21)
    equinoxes = language.say("sky.two_days", first=language.day_of_year(3, 21), second=language.day_of_year(9, 21))
    entries = [(_Mark(pen.accent, 2.0, dash), day) for day, dash in zip((june, equinoxes, december), DASHES, strict=True)]
    if has_plane:
        entries.append((_Mark(SOFT, 1.2, PLANE_DASH), language.say("sky.plane")))
    if skyline.horizon_deg.max() > 0.0:
        entries.append((_Mark(fill=FAINT), language.say("sky.horizon")))
    if skyline.opaque_deg.max() > 0.0:
        entries.append((_Mark(fill=pen.hatch), language.say("sky.solid")))
    if any(not np.isnan(each.high_deg).all() for each in skyline.crowns):
        entries.append((_Mark(fill=pen.dots), language.say("sky.crowns")))
    return entries


def _description(language: Language, latitude_deg: float, skyline: Skyline) -> str:
    june, december = (max(90.0 - abs(latitude_deg - each), 0.0) for each in (OBLIQUITY_DEG, -OBLIQUITY_DEG))
    days = {"june_day": language.day_of_year(6, 21), "december_day": language.day_of_year(12, 21)}
    words = language.say("sky.description", june=language.number(june), december=language.number(december), **days)
    tops = np.stack([skyline.horizon_deg, skyline.opaque_deg, *(np.nan_to_num(each.high_deg) for each in skyline.crowns)])
    highest = tops.max(axis=0)
    column = int(highest.argmax())
    if highest[column] <= 0.0:
        return words
    direction = name_of(language, float(skyline.azimuth_deg[column]))
    return f"{words} {language.say('sky.reach', highest=language.number(float(highest[column])), direction=direction)}"

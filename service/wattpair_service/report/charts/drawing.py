"""What every chart is drawn with: its frame, inks, hatches, scales and labels."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import ceil, floor, log10
from unicodedata import east_asian_width

from markupsafe import Markup

from wattpair_service.report.markup import element

INK, SOFT, FAINT, PAPER = "#1c2530", "#4f5b68", "#c9d0d8", "#ffffff"
WIDTH = 340.0
"""Every chart is this wide, so that it stands at full size on a phone and beside another one on paper."""
TEXT = 10.0
"""Size of its text, in the same units."""


@dataclass(frozen=True, slots=True)
class Pen:
    """What a drawing needs beside its figures: a name that no other drawing on the page has, and the accent colour."""

    name: str
    accent: str

    def frame(self, height: float, title: str, description: str, *children: Markup) -> Markup:
        """The whole drawing, with its text alternative."""
        title_id, description_id = f"{self.name}-title", f"{self.name}-description"
        return element(
            "svg",
            element("title", title, id=title_id),
            element("desc", description, id=description_id),
            element("defs", self._hatch()),
            *children,
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {WIDTH:g} {height:g}",
            width=WIDTH,
            height=height,
            role="img",
            aria_labelledby=f"{title_id} {description_id}",
            font_family="'DejaVu Sans', Verdana, sans-serif",
            font_size=TEXT,
            fill=INK,
        )

    def _hatch(self) -> Markup:
        line = element("path", d="M0 5L5 0", stroke=INK, stroke_width=0.9)
        return element("pattern", line, id=f"{self.name}-hatch", width=5, height=5, patternUnits="userSpaceOnUse")

    @property
    def hatch(self) -> str:
        """Fill of what is lost or uncertain."""
        return f"url(#{self.name}-hatch)"


def text(
    x: float, y: float, words: object, *, anchor: str = "start", bold: bool = False, size: float = TEXT, fill: str = INK
) -> Markup:
    """A line of text whose baseline is at y."""
    weight = "bold" if bold else None
    return element("text", words, x=x, y=y, text_anchor=anchor, font_weight=weight, font_size=size, fill=fill)


def line(
    x1: float, y1: float, x2: float, y2: float, *, stroke: str = INK, width: float = 1.0, dash: str | None = None
) -> Markup:
    """A straight line."""
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=stroke, stroke_width=width, stroke_dasharray=dash)


def box(x: float, y: float, width: float, height: float, *, fill: str = "none", stroke: str | None = None) -> Markup:
    """A rectangle."""
    return element("rect", x=x, y=y, width=max(width, 0.0), height=max(height, 0.0), fill=fill, stroke=stroke)


def polyline(
    points: Iterable[tuple[float, float]], *, stroke: str = INK, width: float = 1.6, dash: str | None = None
) -> Markup:
    """A line through points."""
    way = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return element("polyline", points=way, fill="none", stroke=stroke, stroke_width=width, stroke_dasharray=dash)


def polygon(points: Iterable[tuple[float, float]], *, fill: str, stroke: str = INK, width: float = 1.0) -> Markup:
    """A closed shape."""
    way = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return element("polygon", points=way, fill=fill, stroke=stroke, stroke_width=width)


@dataclass(frozen=True, slots=True)
class Scale:
    """From a figure to a place on the paper; figures outside stand at the nearer end."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        """The place of a figure."""
        span = self.high - self.low
        share = (value - self.low) / span if span else 0.0
        return self.start + min(max(share, 0.0), 1.0) * (self.end - self.start)


def ticks(low: float, high: float, most: int = 5) -> list[float]:
    """Round figures from at or below `low` to at or above `high`, at most about as many as asked for."""
    span = high - low if high > low else 1.0
    raw = span / most
    step = 10.0 ** floor(log10(raw))
    step *= next(factor for factor in (1.0, 2.0, 5.0, 10.0) if factor * step >= raw * (1.0 - 1e-9))
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    return [index * step for index in range(first, max(last, first + 1) + 1)]


def apart(places: Sequence[float], least: float, low: float, high: float) -> list[float]:
    """The same places moved so that neighbours are at least so far apart, within bounds where they have room."""
    order = sorted(range(len(places)), key=lambda index: places[index])
    moved = [places[index] for index in order]
    for index in range(1, len(moved)):
        moved[index] = max(moved[index], moved[index - 1] + least)
    if moved and moved[-1] > high:
        moved[-1] = high
        for index in range(len(moved) - 2, -1, -1):
            moved[index] = min(moved[index], moved[index + 1] - least)
    if moved and moved[0] < low:
        moved = [low + index * least if moved[index] < low + index * least else moved[index] for index in range(len(moved))]
    result = [0.0] * len(places)
    for index, place in zip(order, moved, strict=True):
        result[index] = place
    return result


def short(name: str, most_em: float) -> str:
    """A name cut to a width, in sizes of its text; the table beside the drawing has it whole."""
    if sum(map(_em, name)) <= most_em:
        return name
    wide = list(accumulate(map(_em, name), initial=1.0))
    return name[: bisect_right(wide, most_em) - 1].rstrip() + "…"


def _em(letter: str) -> float:
    """About how wide a letter is, on the wide side for the sheet's typeface."""
    if letter in "MW@%":
        return 1.15
    if east_asian_width(letter) in "WF" or letter in "mw—…":
        return 1.0
    if letter in "iIjlJ.,:;'|!()[] ":
        return 0.42
    return 0.8 if letter.isupper() else 0.64

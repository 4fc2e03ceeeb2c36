"""Elements that all charts share: frame, colours, hatches, scales and labels."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import ceil, floor, log10
from string import ascii_letters
from unicodedata import east_asian_width

from markupsafe import Markup

from wattpair_service.report.markup import element

INK, SOFT, FAINT, PAPER = "#1c2530", "#4f5b68", "#c9d0d8", "#ffffff"
WIDTH = 340.0
"""Width of every chart: it fits a phone at full size, and two fit side by side on paper."""
TEXT = 10.0
"""Size of text, in the same units."""

LETTERS = ascii_letters
"""Of what a list names; what comes after the last one has none."""
DISC = 6.0


@dataclass(frozen=True, slots=True)
class Pen:
    """A drawing's name, unique on the page, and its accent colour."""

    name: str
    accent: str

    def frame(self, height: float, title: str, description: str, *children: Markup) -> Markup:
        """The whole drawing, with its text alternative."""
        title_id, description_id = f"{self.name}-title", f"{self.name}-description"
        return element(
            "svg",
            element("title", title, id=title_id),
            element("desc", description, id=description_id),
            element("defs", self._hatch(), self._dots()),
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

    def _dots(self) -> Markup:
        dots = (element("circle", cx=at, cy=at, r=0.8, fill=INK) for at in (1.25, 3.75))
        return element("pattern", *dots, id=f"{self.name}-dots", width=5, height=5, patternUnits="userSpaceOnUse")

    @property
    def hatch(self) -> str:
        """Fill for losses and ranges."""
        return f"url(#{self.name}-hatch)"

    @property
    def dots(self) -> str:
        """Fill for what lets a part of the light through."""
        return f"url(#{self.name}-dots)"


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
    coordinates = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return element("polyline", points=coordinates, fill="none", stroke=stroke, stroke_width=width, stroke_dasharray=dash)


def polygon(points: Iterable[tuple[float, float]], *, fill: str, stroke: str = INK, width: float = 1.0) -> Markup:
    """A closed shape."""
    coordinates = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return element("polygon", points=coordinates, fill=fill, stroke=stroke, stroke_width=width)


def lettered(x: float, y: float, letter: str) -> Iterator[Markup]:
    """A letter on a white disc of radius `DISC`, for what a list names."""
    yield element("circle", cx=x, cy=y, r=DISC, fill=PAPER, stroke=INK, stroke_width=0.8)
    yield text(x, y + 3.0, letter, anchor="middle", bold=True, size=9.0)


@dataclass(frozen=True, slots=True)
class Scale:
    """Maps a figure to a coordinate; figures outside the range map to the nearer end."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        """The coordinate of a figure."""
        span = self.high - self.low
        share = (value - self.low) / span if span else 0.0
        return self.start + min(max(share, 0.0), 1.0) * (self.end - self.start)


def ticks(low: float, high: float, most: int = 5) -> list[float]:
    """Round figures that enclose `low` and `high`, in about `most` steps."""
    span = high - low if high > low else 1.0
    raw = span / most
    step = 10.0 ** floor(log10(raw))
    step *= next(factor for factor in (1.0, 2.0, 5.0, 10.0) if factor * step >= raw * (1.0 - 1e-9))
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    return [index * step for index in range(first, max(last, first + 1) + 1)]


def apart(positions: Sequence[float], least: float, low: float, high: float) -> list[float]:
    """The positions moved so that neighbours are at least `least` apart; within the bounds if there is room."""
    order = sorted(range(len(positions)), key=lambda index: positions[index])
    moved = [positions[index] for index in order]
    for index in range(1, len(moved)):
        moved[index] = max(moved[index], moved[index - 1] + least)
    if moved and moved[-1] > high:
        moved[-1] = high
        for index in range(len(moved) - 2, -1, -1):
            moved[index] = min(moved[index], moved[index + 1] - least)
    if moved and moved[0] < low:
        moved = [low + index * least if moved[index] < low + index * least else moved[index] for index in range(len(moved))]
    result = [0.0] * len(positions)
    for index, position in zip(order, moved, strict=True):
        result[index] = position
    return result


def short(name: str, most_em: float) -> str:
    """A name cut to a width in em; the table beside the drawing has the whole name."""
    if sum(map(_em, name)) <= most_em:
        return name
    widths = list(accumulate(map(_em, name), initial=1.0))
    return name[: bisect_right(widths, most_em) - 1].rstrip() + "…"


def _em(letter: str) -> float:
    """Approximate width of a letter in em, rather too wide for the sheet's typeface."""
    if letter in "MW@%":
        return 1.15
    if east_asian_width(letter) in "WF" or letter in "mw—…":
        return 1.0
    if letter in "iIjlJ.,:;'|!()[] ":
        return 0.42
    return 0.8 if letter.isupper() else 0.64

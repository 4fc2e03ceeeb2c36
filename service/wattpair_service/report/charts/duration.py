"""Power duration curve of one module on each face, against the AC limits of the candidates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.report.charts.drawing import (
    FAINT,
    INK,
    SOFT,
    WIDTH,
    Pen,
    Scale,
    apart,
    line,
    polyline,
    short,
    text,
    ticks,
)
from wattpair_service.words.language import Language

HEIGHT = 242.0
LEFT, RIGHT, TOP, BOTTOM = 38.0, 96.0, 22.0, 58.0
DASHES = (None, "7 3", "2 2.5", "9 3 2 3")
CURVES_MOST = len(DASHES)
"""More curves could not be distinguished."""
LABEL_EM = (RIGHT - 9.0) / 8.5
"""Room for a candidate's name beside the drawing, in em."""


@dataclass(frozen=True, slots=True)
class FaceCurve:
    """Hours [h] in which one module of a face could deliver at least each AC power [W]."""

    name: str
    power_w: FloatArray
    hours_h: FloatArray


@dataclass(frozen=True, slots=True)
class UnitLimit:
    """AC limit of a candidate per module [W]; `chosen` for the one that is built."""

    name: str
    power_w: float
    chosen: bool


def duration(pen: Pen, language: Language, curves: Sequence[FaceCurve], limits: Sequence[UnitLimit]) -> Markup:
    """Curves of the faces against the limits of the candidates."""
    highest = max(*(float(curve.power_w[-1]) for curve in curves), *(limit.power_w for limit in limits))
    power_marks = ticks(0.0, highest)
    longest = max(float(curve.hours_h[curve.power_w > 0.0].max(initial=0.0)) for curve in curves)
    hour_marks = ticks(0.0, max(longest, 1.0), 4)
    up = Scale(0.0, power_marks[-1], HEIGHT - BOTTOM, TOP)
    across = Scale(0.0, hour_marks[-1], LEFT, WIDTH - RIGHT)
    drawn = [text(2.0, 10.0, language.say("duration.power_axis"))]
    for mark in power_marks:
        drawn.append(line(LEFT, up(mark), WIDTH - RIGHT, up(mark), stroke=INK if mark == 0.0 else FAINT, width=0.7))
        drawn.append(text(LEFT - 4.0, up(mark) + 3.5, language.number(mark), anchor="end"))
    for mark in hour_marks:
        drawn.append(line(across(mark), up(0.0), across(mark), up(0.0) + 3.0, width=0.7))
        drawn.append(text(across(mark), up(0.0) + 13.0, language.number(mark), anchor="middle"))
    drawn.append(text((LEFT + WIDTH - RIGHT) / 2.0, up(0.0) + 25.0, language.say("duration.hours_axis"), anchor="middle"))
    drawn += _limits(pen, limits, up)
    for index, curve in enumerate(curves[:CURVES_MOST]):
        points = [(across(hours), up(power)) for power, hours in zip(curve.power_w, curve.hours_h, strict=True)]
        drawn.append(polyline(points, dash=DASHES[index]))
        x, y = 4.0 + index % 2 * 168.0, HEIGHT - 17.0 + index // 2 * 13.0
        drawn.append(line(x, y - 3.0, x + 22.0, y - 3.0, width=1.6, dash=DASHES[index]))
        drawn.append(text(x + 26.0, y, short(curve.name, 13.5)))
    description = language.say("duration.description", faces=len(curves), limits=len(limits))
    return pen.frame(HEIGHT, language.say("duration.title"), description, *drawn)


def _limits(pen: Pen, limits: Sequence[UnitLimit], up: Scale) -> list[Markup]:
    """Each candidate's limit as a horizontal line with a label at its end; labels are moved apart."""
    label_positions = apart([up(limit.power_w) for limit in limits], 11.0, TOP, HEIGHT - BOTTOM)
    drawn = []
    for limit, label_y in zip(limits, label_positions, strict=True):
        y = up(limit.power_w)
        colour, width = (pen.accent, 2.0) if limit.chosen else (SOFT, 0.8)
        drawn.append(line(LEFT, y, WIDTH - RIGHT, y, stroke=colour, width=width))
        drawn.append(line(WIDTH - RIGHT, y, WIDTH - RIGHT + 7.0, label_y, stroke=colour, width=0.8))
        label = short(limit.name, LABEL_EM)
        drawn.append(text(WIDTH - RIGHT + 9.0, label_y + 3.0, label, bold=limit.chosen, size=8.5))
    return drawn

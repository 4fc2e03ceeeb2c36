"""Chart of the energy that the roof delivers and loses in each month."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from wattpair_service.report.charts.drawing import FAINT, INK, WIDTH, Pen, Scale, box, line, text, ticks
from wattpair_service.words.language import Language

HEIGHT = 210.0
LEFT, RIGHT, TOP, BOTTOM = 38.0, 4.0, 30.0, 24.0


def months(pen: Pen, language: Language, delivered_kwh: Sequence[float], available_kwh: Sequence[float]) -> Markup:
    """Twelve bars: delivered energy, with the losses hatched above."""
    marks = ticks(0.0, max(*available_kwh, 1.0))
    up = Scale(0.0, marks[-1], HEIGHT - BOTTOM, TOP)
    pitch = (WIDTH - LEFT - RIGHT) / 12.0
    drawn = []
    for mark in marks:
        drawn.append(line(LEFT, up(mark), WIDTH - RIGHT, up(mark), stroke=INK if mark == 0.0 else FAINT, width=0.7))
        drawn.append(text(LEFT - 4.0, up(mark) + 3.5, language.number(mark), anchor="end"))
    for index, (delivered, available) in enumerate(zip(delivered_kwh, available_kwh, strict=True)):
        x = LEFT + (index + 0.14) * pitch
        wide = pitch * 0.72
        drawn.append(box(x, up(available), wide, up(delivered) - up(available), fill=pen.hatch, stroke=INK))
        drawn.append(box(x, up(delivered), wide, up(0.0) - up(delivered), fill=pen.accent, stroke=INK))
        drawn.append(text(x + wide / 2.0, HEIGHT - BOTTOM + 12.0, language.month(index + 1)[:3], anchor="middle"))
    drawn.append(text(2.0, 10.0, language.say("months.axis")))
    key = 128.0
    drawn += [box(key, 2.0, 10.0, 9.0, fill=pen.accent, stroke=INK), text(key + 14.0, 10.0, language.say("months.delivered"))]
    drawn += [box(key + 84.0, 2.0, 10.0, 9.0, fill=pen.hatch, stroke=INK), text(key + 98.0, 10.0, language.say("months.lost"))]
    best, worst = (pick(range(12), key=lambda index: delivered_kwh[index]) for pick in (max, min))
    description = language.say(
        "months.description",
        best=language.month(best + 1),
        best_kwh=language.number(delivered_kwh[best]),
        worst=language.month(worst + 1),
        worst_kwh=language.number(delivered_kwh[worst]),
    )
    return pen.frame(HEIGHT, language.say("months.title"), description, *drawn)

"""Energy from irradiation to meter: a bar that narrows from step to step; losses are hatched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from wattpair_service.report.charts.drawing import INK, SOFT, WIDTH, Pen, Scale, box, line, text
from wattpair_service.words.language import Language

ROW, BAR = 18.0, 132.0
TOP = 4.0
LEFT = 2.0


@dataclass(frozen=True, slots=True)
class Step:
    """Energy left after a step [kWh]. `key` names its words; `is_level` marks a subtotal, other steps are losses."""

    key: str
    left_kwh: float
    is_level: bool


def losses(pen: Pen, language: Language, steps: Sequence[Step]) -> Markup:
    """The chart; shares are of the first step, the irradiation."""
    first = max(steps[0].left_kwh, 1e-9)
    across = Scale(0.0, max(step.left_kwh for step in steps), LEFT, LEFT + BAR)
    drawn = []
    before = steps[0].left_kwh
    for index, step in enumerate(steps):
        y = TOP + index * ROW
        x, x_before = across(step.left_kwh), across(before)
        change = step.left_kwh - before
        drawn.append(box(LEFT, y, min(x, x_before) - LEFT, ROW, fill=pen.accent))
        if abs(x - x_before) > 0.05:
            drawn.append(box(min(x, x_before), y, abs(x_before - x), ROW, fill=pen.hatch, stroke=INK))
        if step.is_level:
            drawn += [line(LEFT, y, x, y, width=0.8), line(LEFT, y + ROW, x, y + ROW, width=0.8)]
        drawn.append(
            line(max(x, x_before) + 2.0, y + ROW / 2.0, LEFT + BAR + 8.0, y + ROW / 2.0, stroke=SOFT, width=0.6, dash="1 2")
        )
        name = language.say(f"losses.{step.key}")
        figure = step.left_kwh if step.is_level else change
        share = language.percent(figure / first, 1, signed=not step.is_level)
        middle = y + ROW / 2.0 + 3.5
        drawn.append(text(LEFT + BAR + 11.0, middle, name, bold=step.is_level, size=9.5))
        drawn.append(text(WIDTH - 1.0, middle, share, anchor="end", bold=step.is_level, size=9.5))
        before = step.left_kwh
    height = TOP + len(steps) * ROW + 4.0
    last = steps[-1].left_kwh
    description = language.say(
        "losses.description",
        first=language.number(steps[0].left_kwh),
        last=language.number(last),
        share=language.percent(last / first, 1),
    )
    return pen.frame(height, language.say("losses.title"), description, *drawn)

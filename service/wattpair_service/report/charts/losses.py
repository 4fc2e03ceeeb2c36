"""From light to meter: a stream that narrows with each loss, which leaves it as a hatched step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from wattpair_service.report.charts.drawing import INK, SOFT, WIDTH, Pen, Scale, box, line, text
from wattpair_service.report.language import Language

ROW, BAR = 18.0, 132.0
TOP = 4.0
LEFT = 2.0


@dataclass(frozen=True, slots=True)
class Step:
    """Energy that is left after a step [kWh]; `key` is among the words, and a level is named where the stream stands there."""

    key: str
    left_kwh: float
    is_level: bool


def losses(pen: Pen, language: Language, steps: Sequence[Step]) -> Markup:
    """The stream; the first step is the light that is offered, and shares are of it."""
    first = max(steps[0].left_kwh, 1e-9)
    across = Scale(0.0, max(step.left_kwh for step in steps), LEFT, LEFT + BAR)
    drawn = []
    before = steps[0].left_kwh
    for index, step in enumerate(steps):
        y = TOP + index * ROW
        x, was = across(step.left_kwh), across(before)
        change = step.left_kwh - before
        drawn.append(box(LEFT, y, min(x, was) - LEFT, ROW, fill=pen.accent))
        if abs(x - was) > 0.05:
            drawn.append(box(min(x, was), y, abs(was - x), ROW, fill=pen.hatch, stroke=INK))
        if step.is_level:
            drawn += [line(LEFT, y, x, y, width=0.8), line(LEFT, y + ROW, x, y + ROW, width=0.8)]
        drawn.append(
            line(max(x, was) + 2.0, y + ROW / 2.0, LEFT + BAR + 8.0, y + ROW / 2.0, stroke=SOFT, width=0.6, dash="1 2")
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

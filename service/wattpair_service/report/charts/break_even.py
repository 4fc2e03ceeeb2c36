"""Chart of the gain of the larger of two candidates over the module power, with the break-even power and its range."""

from __future__ import annotations

from markupsafe import Markup

from wattpair_service.engineering.selection.break_even import BreakEven, BreakEvenPower
from wattpair_service.report.charts.drawing import (
    FAINT,
    INK,
    PAPER,
    SOFT,
    WIDTH,
    Pen,
    Scale,
    box,
    line,
    polygon,
    polyline,
    text,
    ticks,
)
from wattpair_service.words.language import Language

HEIGHT = 210.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 8.0, 34.0, 40.0


def break_even(pen: Pen, language: Language, pair: BreakEven, currency: str | None, module_power_w: float) -> Markup:
    """The whole roof's curve for two candidates that are neighbours by AC power."""
    roof = pair.places[0]
    power = roof.power
    gains = [float(gain) for gain in roof.gains]
    marks = ticks(min(*gains, 0.0), max(*gains, 0.0))
    up = Scale(marks[0], marks[-1], HEIGHT - BOTTOM, TOP)
    low_w, high_w = float(pair.module_power_w[0]), float(pair.module_power_w[-1])
    across = Scale(low_w, high_w, LEFT, WIDTH - RIGHT)
    drawn = [text(2.0, 10.0, language.say("break_even.gain_axis", currency=currency or language.say("sheet.currency")))]
    if power.value_w is not None:
        left, right = across(power.low_w), across(power.high_w)
        drawn.append(box(left, TOP, right - left, HEIGHT - BOTTOM - TOP, fill=pen.hatch))
    for mark in marks:
        zero = abs(mark) < 1e-9
        drawn.append(line(LEFT, up(mark), WIDTH - RIGHT, up(mark), stroke=INK if zero else FAINT, width=1.0 if zero else 0.7))
        drawn.append(text(LEFT - 4.0, up(mark) + 3.5, language.number(mark), anchor="end"))
    for mark in ticks(low_w, high_w, 5)[1:-1]:
        if low_w <= mark <= high_w:
            drawn.append(line(across(mark), HEIGHT - BOTTOM, across(mark), HEIGHT - BOTTOM + 3.0, width=0.7))
            drawn.append(text(across(mark), HEIGHT - BOTTOM + 13.0, language.number(mark), anchor="middle"))
    drawn.append(
        text((LEFT + WIDTH - RIGHT) / 2.0, HEIGHT - BOTTOM + 26.0, language.say("break_even.power_axis"), anchor="middle")
    )
    points = [(across(float(w)), up(gain)) for w, gain in zip(pair.module_power_w, gains, strict=True)]
    # A white edge separates the curve from the hatching under it.
    drawn += [polyline(points, stroke=PAPER, width=4.0), polyline(points, stroke=pen.accent, width=2.2)]
    drawn += _module(language, across(module_power_w), up(0.0))
    if power.value_w is not None:
        x, y = across(power.value_w), up(0.0)
        drawn.append(polygon([(x - 5, y), (x, y - 5), (x + 5, y), (x, y + 5)], fill=PAPER, stroke=INK, width=1.6))
    title = language.say("break_even.title", larger=pair.larger, smaller=pair.smaller)
    return pen.frame(HEIGHT, title, in_words(language, pair, power), *drawn)


def _module(language: Language, x: float, zero: float) -> list[Markup]:
    """A mark at the power of the roof's module."""
    anchor = "start" if x < WIDTH * 0.5 else "end"
    offset = 3.0 if anchor == "start" else -3.0
    return [
        line(x, TOP - 6.0, x, HEIGHT - BOTTOM, stroke=SOFT, width=1.0, dash="3 2"),
        text(x + offset, TOP - 5.0, language.say("break_even.this_module"), anchor=anchor),
        line(x, zero - 3.0, x, zero + 3.0, width=1.6),
    ]


def in_words(language: Language, pair: BreakEven, power: BreakEvenPower) -> str:
    """The chart's result as a sentence."""
    return language.say(
        f"break_even.{power.pays}",
        larger=pair.larger,
        smaller=pair.smaller,
        value=language.number(power.value_w or 0.0),
        least=language.number(float(pair.module_power_w[0])),
        most=language.number(float(pair.module_power_w[-1])),
        expected=_expected_range(language, pair, power),
    )


def _expected_range(language: Language, pair: BreakEven, power: BreakEvenPower) -> str:
    """The range of the break-even power in words; where it reaches an end of the curve, it is open on that side."""
    first, last = float(pair.module_power_w[0]), float(pair.module_power_w[-1])
    open_below, open_above = power.low_w <= first, power.high_w >= last
    if power.low_w >= last:
        form = "beyond"
    elif power.high_w <= first:
        form = "before"
    elif open_below and open_above:
        form = "anywhere"
    else:
        form = "from" if open_above else "up_to" if open_below else "between"
    return language.say(f"break_even_power.{form}", low=language.number(power.low_w), high=language.number(power.high_w))

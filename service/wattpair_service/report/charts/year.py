"""Clipped energy by month and hour, as squares that grow and darken with it."""

from __future__ import annotations

import numpy as np
from markupsafe import Markup

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.report.charts.drawing import FAINT, INK, SOFT, WIDTH, Pen, box, line, text
from wattpair_service.words.language import Language

FIRST_HOUR, LAST_HOUR = 4, 21
"""Hours that are drawn where nothing outside them is clipped."""
LEFT, RIGHT, TOP, BOTTOM = 34.0, 44.0, 28.0, 28.0
ROW = 13.0
HEIGHT = TOP + 12 * ROW + BOTTOM


def year(pen: Pen, language: Language, clipped_kwh: FloatArray) -> Markup:
    """Squares by month (rows) and hour (columns), with each month's sum; `clipped_kwh` has shape (12, 24)."""
    clipping = np.flatnonzero(clipped_kwh.sum(axis=0) > 0.0)
    first = min(FIRST_HOUR, int(clipping[0])) if clipping.size else FIRST_HOUR
    last = max(LAST_HOUR, int(clipping[-1]) + 1) if clipping.size else LAST_HOUR
    column = (WIDTH - LEFT - RIGHT) / (last - first)
    most = float(clipped_kwh.max())
    drawn = [text(2.0, 10.0, language.say("year.axis")), text(WIDTH - 2.0, 22.0, language.say("year.sum"), anchor="end")]
    for month in range(12):
        middle = TOP + (month + 0.5) * ROW
        total = float(clipped_kwh[month].sum())
        drawn.append(line(LEFT, middle, WIDTH - RIGHT, middle, stroke=FAINT, width=0.5))
        drawn.append(text(LEFT - 4.0, middle + 3.5, language.month(month + 1)[:3], anchor="end"))
        drawn.append(text(WIDTH - 2.0, middle + 3.5, language.number(total, 1), anchor="end"))
        for hour in range(first, last):
            share = float(clipped_kwh[month, hour]) / most if most > 0.0 else 0.0
            if share > 0.001:
                side = max(1.2, min(ROW, column) * 0.94 * share**0.5)
                x = LEFT + (hour - first + 0.5) * column
                drawn.append(box(x - side / 2.0, middle - side / 2.0, side, side, fill=INK if share > 0.5 else pen.accent))
    under = TOP + 12 * ROW
    for hour in range(first + first % 2, last + 1, 2 if column >= 14.0 else 4):
        x = LEFT + (hour - first) * column
        drawn += [line(x, under, x, under + 3.0, stroke=SOFT, width=0.7), text(x, under + 13.0, hour, anchor="middle")]
    drawn.append(text((LEFT + WIDTH - RIGHT) / 2.0, under + 25.0, language.say("year.hours"), anchor="middle"))
    return pen.frame(HEIGHT, language.say("year.title"), _description(language, clipped_kwh), *drawn)


def _description(language: Language, clipped_kwh: FloatArray) -> str:
    if clipped_kwh.max() <= 0.0:
        return language.say("year.nothing")
    month, hour = (int(index) for index in np.unravel_index(int(clipped_kwh.argmax()), clipped_kwh.shape))
    return language.say(
        "year.description",
        month=language.month(month + 1),
        start=hour,
        end=hour + 1,
        kwh=language.number(float(clipped_kwh[month, hour]), 1),
        sum=language.number(float(clipped_kwh.sum()), 1),
    )

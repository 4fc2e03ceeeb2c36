"""A mark that shows a figure within its range; the text beside it has both numbers."""

from __future__ import annotations

from markupsafe import Markup

from wattpair_service.engineering.results import Range
from wattpair_service.report.charts.drawing import INK, SOFT, Scale, box, line
from wattpair_service.report.markup import element

WIDTH, HEIGHT = 150.0, 12.0


def range_mark(figure: Range, accent: str, words: str) -> Markup:
    """A thin line for the range and a block at the figure. Screen readers skip it: `words` stand beside it.

    A PDF has no such mark, and there `words` are its text alternative.
    """
    across = Scale(figure.low, figure.high, 4.0, WIDTH - 4.0)
    at, middle = across(figure.value), HEIGHT / 2.0
    ends = (across(figure.low), across(figure.high)) if figure.high > figure.low else (at, at)
    return element(
        "svg",
        element("title", words),
        line(ends[0], middle, ends[1], middle, stroke=SOFT),
        *(line(end, middle - 4.0, end, middle + 4.0, stroke=INK) for end in ends),
        box(at - 3.0, middle - 4.0, 6.0, 8.0, fill=accent, stroke=INK),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {WIDTH:g} {HEIGHT:g}",
        width=WIDTH,
        height=HEIGHT,
        aria_hidden="true",
    )

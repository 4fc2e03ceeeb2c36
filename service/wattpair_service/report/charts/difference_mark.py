"""A bar to the left or the right of zero; the figure stands beside it."""

from __future__ import annotations

from markupsafe import Markup

from wattpair_service.report.charts.drawing import INK, SOFT, Scale, box, line
from wattpair_service.report.markup import element

WIDTH, HEIGHT = 150.0, 10.0


def difference_mark(name: str, value: float, low: float, high: float, accent: str, words: str) -> Markup:
    """A bar from zero to a value, on a scale from `low` to `high`: filled to the right, hatched to the left.

    Screen readers skip it: `words` stand beside it. `name` is unique on the page.
    """
    across = Scale(min(low, 0.0), max(high, 0.0), 2.0, WIDTH - 2.0)
    zero, end = across(0.0), across(value)
    hatch = element("path", d="M0 5L5 0", stroke=INK, stroke_width=0.9)
    fill = accent if value > 0.0 else f"url(#{name}-hatch)"
    return element(
        "svg",
        element("title", words),
        element("defs", element("pattern", hatch, id=f"{name}-hatch", width=5, height=5, patternUnits="userSpaceOnUse")),
        *((box(min(zero, end), 1.5, abs(end - zero), HEIGHT - 3.0, fill=fill, stroke=INK),) if zero != end else ()),
        line(zero, 0.0, zero, HEIGHT, stroke=SOFT),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {WIDTH:g} {HEIGHT:g}",
        width=WIDTH,
        height=HEIGHT,
        aria_hidden="true",
    )

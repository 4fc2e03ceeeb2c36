"""A drawing of the sheet: a chart with its caption and the notes under it."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup


@dataclass(frozen=True, slots=True)
class Drawing:
    """A chart with its caption and the notes under it."""

    caption: str
    chart: Markup
    notes: tuple[str, ...] = ()

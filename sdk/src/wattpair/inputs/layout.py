"""Outlines on a face, and how modules may lie on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from wattpair.inputs.shared import Fields

OrientationWanted = Literal["portrait", "landscape", "best"]
"""Longer side of the modules up the slope, along the eaves, or the one of which more fit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A corner of an outline.

    Parameters
    ----------
    x_m : float
        Distance along the eaves, to the right [m].
    y_m : float
        Distance up the slope [m].
    """

    x_m: float
    y_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstruction:
    """What no module may lie on: a chimney, a window.

    Parameters
    ----------
    outline : sequence of Point
        Its corners, in order.
    """

    outline: Sequence[Point | Fields]

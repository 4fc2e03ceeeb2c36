"""From where the larger of two neighbouring candidates pays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakEvenPower:
    """Module power above which the larger pays.

    Attributes
    ----------
    pays : {"always", "never", "above"}
        Where on the curve the larger microinverter pays: always, never, or above value_w.
    value_w : float or None
        Break-even power; None where it pays always or never [W].
    low_w : float
        Lower end of its range [W].
    high_w : float
        Upper end of its range [W].
    covers : str
        What the range covers.
    """

    pays: Literal["always", "never", "above"]
    value_w: float | None
    low_w: float
    high_w: float
    covers: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceGap:
    """Price gap up to which the larger pays.

    Attributes
    ----------
    value : float
        Break-even price difference: larger unit minus smaller units for the same number of modules, in the caller's currency.
    low : float
        Lower end of its range, in the caller's currency.
    high : float
        Upper end of its range, in the caller's currency.
    asked : float
        Price difference in the request, in the caller's currency.
    covers : str
        What the range covers.
    """

    value: float
    low: float
    high: float
    asked: float
    covers: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceBreakEven:
    """Break-even of the whole roof, or of a face.

    Attributes
    ----------
    face : str or None
        Name of the face, computed by itself; None for the whole roof.
    power : BreakEvenPower
        Module power above which the larger pays.
    price_gap : PriceGap
        Price difference up to which the larger pays with the module of the request.
    gains : tuple of float
        Gain of the larger at each power of the curve: present value, in the caller's currency.
    """

    face: str | None
    power: BreakEvenPower
    price_gap: PriceGap
    gains: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakEven:
    """Break-even of two neighbours by AC power.

    Attributes
    ----------
    module : str
        Name of the module; the curve scales its current.
    smaller : str
        Name of the smaller microinverter.
    larger : str
        Name of the larger microinverter.
    module_power_w : tuple of float
        Module powers of the curve [W].
    places : tuple of PlaceBreakEven
        The whole roof, then each face where there are several.
    """

    module: str
    smaller: str
    larger: str
    module_power_w: tuple[float, ...]
    places: tuple[PlaceBreakEven, ...]

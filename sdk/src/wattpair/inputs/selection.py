"""What is on offer, and what energy is worth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wattpair.inputs.equipment import Microinverter, Module
from wattpair.inputs.shared import Fields

BreakEvenPairs = Literal["every", "recommended"]
"""Neighbouring candidates whose break-even is wanted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ModuleOffer:
    """A module on offer.

    Parameters
    ----------
    module : Module
        The module.
    price : float, optional
        Price of one module; needed to compare several modules.
    currency : str, optional
        Currency of the price, such as EUR; all that are given must be the same.
    """

    module: Module | Fields
    price: float | None = None
    currency: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A microinverter on offer.

    Parameters
    ----------
    microinverter : Microinverter
        The microinverter.
    price : float, optional
        Price of one unit; if any is missing, candidates are ranked by energy.
    currency : str, optional
        Currency of the price, such as EUR; all that are given must be the same.
    warranty_years : int, optional
        Years in which a failed unit is replaced free of charge, labour aside.
    failure_percent_per_year : float, optional
        Share of the units that fails each year; if left out, results show a band from 0.02 to 0.5 %, as no independent rate is
        published [%].
    """

    microinverter: Microinverter | Fields
    price: float | None = None
    currency: str | None = None
    warranty_years: int | None = None
    failure_percent_per_year: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tariff:
    """What energy is worth.

    Parameters
    ----------
    import_price_per_kwh : float
        Price of imported energy in the first year.
    export_price_per_kwh : float
        Price of exported energy in the first year; negative where exporting costs money.
    price_change_percent_per_year : float, optional
        Change of both prices from each year to the next, compounding [%].
    currency : str, optional
        Currency of both prices, such as EUR; all that are given must be the same.
    """

    import_price_per_kwh: float
    export_price_per_kwh: float
    price_change_percent_per_year: float | None = None
    currency: str | None = None

"""Output in an outage, and the caller's prices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from wattpair.inputs.shared import Fields


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """Output in an outage.

    Parameters
    ----------
    wanted : bool
        Whether output in an outage is wanted.
    grid_forming_units : bool, optional
        Whether the microinverters can form a grid of their own, by their maker's word.
    """

    wanted: bool
    grid_forming_units: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceItem:
    """One price.

    Parameters
    ----------
    part_number : str
        The caller's part number.
    cost : Decimal or str
        What one piece or metre costs the caller.
    price : Decimal or str, optional
        What the customer pays for it; cost plus markup where left out.
    """

    part_number: str
    cost: Decimal | str
    price: Decimal | str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartNumber:
    """Part number for a role of the bill.

    Parameters
    ----------
    role : str
        Role of the bill's lines.
    part_number : str
        The caller's part number.
    specification : str, optional
        Only lines with this specification; every other line of the role where left out.
    """

    role: str
    part_number: str
    specification: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceBook:
    """The caller's prices.

    Parameters
    ----------
    currency : str
        Currency of all prices.
    tax_percent : Decimal or str
        Tax on the net total.
    items : sequence of PriceItem
        Prices.
    part_numbers : sequence of PartNumber
        Part numbers by role.
    currency_decimals : int, optional
        Decimals that amounts are rounded to.
    markup_percent : Decimal or str, optional
        Markup on cost where an item has no price.
    """

    currency: str
    tax_percent: Decimal | str
    items: Sequence[PriceItem | Fields]
    part_numbers: Sequence[PartNumber | Fields]
    currency_decimals: int | None = None
    markup_percent: Decimal | str | None = None

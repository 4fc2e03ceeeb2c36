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
        Whether the microinverters can form a grid, according to their maker.
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
        The caller's cost of one piece or metre.
    price : Decimal or str, optional
        The customer's price of one piece or metre; cost plus markup if left out.
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
        Role of the part on the bill.
    part_number : str
        The caller's part number.
    specification : str, optional
        Limits it to lines with this specification; if left out, it is for every other line of the role.
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
        Decimal places of amounts.
    markup_percent : Decimal or str, optional
        Markup on cost where an item has no price.
    """

    currency: str
    tax_percent: Decimal | str
    items: Sequence[PriceItem | Fields]
    part_numbers: Sequence[PartNumber | Fields]
    currency_decimals: int | None = None
    markup_percent: Decimal | str | None = None

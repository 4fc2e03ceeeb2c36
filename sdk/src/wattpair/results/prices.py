"""The prices of a bill of materials; amounts are decimals, as the service rounds them."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedLine:
    """Price of one line of the bill.

    Attributes
    ----------
    part_number : str or None
        Part number; None without one.
    unit_price : Decimal or None
        Price of one piece or metre before tax; None without one.
    net : Decimal or None
        Price of the line before tax; None without one.
    """

    part_number: str | None
    unit_price: Decimal | None
    net: Decimal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingPrice:
    """A part without a price.

    Attributes
    ----------
    role : str
        Role of the part.
    specification : str or None
        Its size, rating or name; None without one.
    reason : str
        Why it has no price.
    """

    role: str
    specification: str | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """Prices of the bill.

    Attributes
    ----------
    currency : str
        Currency of all amounts.
    lines : tuple of PricedLine
        One for each line of the bill, in its order.
    net : Decimal
        Sum of the lines that have a price, before tax.
    tax_percent : Decimal
        Tax rate in percent.
    tax : Decimal
        Tax on net.
    total : Decimal
        Net plus tax.
    cost : Decimal
        The caller's cost of the same parts.
    margin : Decimal
        Net minus cost.
    margin_percent : Decimal or None
        Margin in percent of net; None where net is zero.
    complete : bool
        Whether every part has a price; documents need none.
    missing : tuple of MissingPrice
        Parts without a price, each once.
    """

    currency: str
    lines: tuple[PricedLine, ...]
    net: Decimal
    tax_percent: Decimal
    tax: Decimal
    total: Decimal
    cost: Decimal
    margin: Decimal
    margin_percent: Decimal | None
    complete: bool
    missing: tuple[MissingPrice, ...]

"""Prices a bill with the caller's price book. Amounts are decimals, never binary floats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, localcontext
from typing import Protocol

from wattpair_service.engineering.sentences import Sentence, fixed, sentence

HUNDRED = Decimal(100)
NO_PART_NUMBER = fixed("price.no_part_number")
NOT_IN_THE_BOOK = sentence("price.not_in_the_book", "part")
PRECISION = 60
"""Digits of intermediate results: far more than the largest price times the largest quantity has."""


class Line(Protocol):
    """The part of a bill line that pricing reads."""

    @property
    def role(self) -> str:
        """Role of the part."""

    @property
    def specification(self) -> str | None:
        """Size, rating or name."""

    @property
    def quantity(self) -> int:
        """Pieces or metres."""


@dataclass(frozen=True, slots=True)
class PriceItem:
    """A part's cost to the caller, and its price to the customer; None means cost plus markup."""

    part_number: str
    cost: Decimal
    price: Decimal | None


@dataclass(frozen=True, slots=True)
class PartNumber:
    """The part for a role; with a specification, only for lines that have the same one."""

    role: str
    specification: str | None
    part_number: str


@dataclass(frozen=True, slots=True)
class PriceBook:
    """Prices by part number, before tax, and the part numbers for each role."""

    currency: str
    currency_decimals: int
    tax_percent: Decimal
    markup_percent: Decimal
    items: tuple[PriceItem, ...]
    part_numbers: tuple[PartNumber, ...]

    @property
    def step(self) -> Decimal:
        """The smallest amount of the currency."""
        return Decimal(1).scaleb(-self.currency_decimals)

    def unit_price(self, item: PriceItem) -> Decimal:
        """Price to the customer of one piece or metre."""
        if item.price is not None:
            return item.price
        return (item.cost * (1 + self.markup_percent / HUNDRED)).quantize(self.step, ROUND_HALF_UP)


@dataclass(frozen=True, slots=True)
class PricedLine:
    """Price of the bill line with the same index; None where the line has no price."""

    part_number: str | None
    unit_price: Decimal | None
    net: Decimal | None


@dataclass(frozen=True, slots=True)
class MissingPrice:
    """A part without a price, and why."""

    role: str
    specification: str | None
    reason: Sentence


@dataclass(frozen=True, slots=True)
class Prices:
    """Totals over the lines that have a price; `complete` says whether all have one. `margin` is net less cost."""

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


def priced(lines: Sequence[Line], book: PriceBook, free_roles: Sequence[str] = ()) -> Prices:
    """Price each line and sum up. `free_roles` count as missing only where the book has a part number for them but no price."""
    with localcontext() as context:
        context.prec = PRECISION
        return _priced(lines, book, free_roles)


def _priced(lines: Sequence[Line], book: PriceBook, free_roles: Sequence[str]) -> Prices:
    step = book.step
    items = {item.part_number: item for item in book.items}
    # A part number for a role and specification takes precedence over one for the role alone.
    by_role = {(part.role, part.specification): part.part_number for part in book.part_numbers}
    priced_lines: list[PricedLine] = []
    missing: dict[MissingPrice, None] = {}
    net = cost = Decimal(0) * step
    for line in lines:
        number = by_role.get((line.role, line.specification), by_role.get((line.role, None)))
        item = items.get(number) if number is not None else None
        if item is None:
            reason = NO_PART_NUMBER if number is None else NOT_IN_THE_BOOK(part=number)
            if number is not None or line.role not in free_roles:
                missing[MissingPrice(line.role, line.specification, reason)] = None
            priced_lines.append(PricedLine(number, None, None))
            continue
        unit_price = book.unit_price(item)
        line_net = (unit_price * line.quantity).quantize(step, ROUND_HALF_UP)
        net += line_net
        cost += (item.cost * line.quantity).quantize(step, ROUND_HALF_UP)
        priced_lines.append(PricedLine(number, unit_price, line_net))
    tax = (net * book.tax_percent / HUNDRED).quantize(step, ROUND_HALF_UP)
    margin = net - cost
    return Prices(
        currency=book.currency,
        lines=tuple(priced_lines),
        net=net,
        tax_percent=book.tax_percent,
        tax=tax,
        total=net + tax,
        cost=cost,
        margin=margin,
        margin_percent=(margin / net * HUNDRED).quantize(Decimal("0.1"), ROUND_HALF_UP) if net else None,
        complete=not missing,
        missing=tuple(missing),
    )

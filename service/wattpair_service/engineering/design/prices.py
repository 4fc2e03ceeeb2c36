"""One price for each module and microinverter of a design: in the ranking, and on the bill.

The price book sells parts, and the ranking compares offers. An offer without a price of its own is ranked at the sales price of
its part; where it has one, and the book says another, both are named.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TypeVar

from wattpair_service.engineering.money.prices import PartNumber, PriceBook, PriceItem
from wattpair_service.engineering.results import Assumption
from wattpair_service.engineering.selection.request import ModuleOffer, SelectionRequest, UnitOffer

OfferT = TypeVar("OfferT", ModuleOffer, UnitOffer)

MODULE, UNIT, SPARE = "module", "microinverter", "microinverter_spare"
UNIT_ROLES = (UNIT, SPARE)


@dataclass(frozen=True, slots=True)
class _Part:
    """What the price book sells for an offer."""

    part_number: str
    price: Decimal


def ranked_offers(asked: SelectionRequest, book: PriceBook) -> SelectionRequest:
    """The same selection, in which every offer that the book knows has a price."""
    return replace(
        asked,
        modules=tuple(_with_price(each, book, MODULE, each.module.name) for each in asked.modules),
        units=tuple(_with_price(each, book, UNIT, each.microinverter.name) for each in asked.units),
    )


def price_assumptions(asked: SelectionRequest, book: PriceBook) -> Iterator[Assumption]:
    """The prices that `ranked_offers` takes from the book."""
    for field, role, name, price in _offers(asked):
        part = _sold(book, role, name)
        if price is None and part is not None:
            source = f"{name}: sales price of its part {part.part_number} in the price book"
            yield Assumption(f"{field}.price", float(part.price), None, source)


def price_cautions(asked: SelectionRequest, book: PriceBook) -> Iterator[str]:
    """Two prices for one thing, one price for several, and parts that are for nothing here."""
    for _, role, name, price in _offers(asked):
        part = _sold(book, role, name)
        if price is not None and part is not None and abs(Decimal(repr(price)) - part.price) > book.step / 2:
            yield (
                f"{name} is ranked at {price:g} {book.currency}, and its part {part.part_number} on the bill is sold at "
                f"{part.price:f} {book.currency}: give one price, or leave the first out."
            )
    names = _names(asked)
    for each in book.part_numbers:
        if each.role in names and each.specification is not None and each.specification not in names[each.role]:
            yield (
                f"The price book's part {each.part_number} of the role {each.role} is left out: its specification "
                f'"{each.specification}" is the name of no {_kind(each.role)}.'
            )


def shared_price_cautions(asked: SelectionRequest, book: PriceBook, module: str, unit: str) -> Iterator[str]:
    """Parts on the bill that the book gives for a role alone, where the request has several offers for it."""
    for role, name in ((MODULE, module), *((role, unit) for role in UNIT_ROLES)):
        part = part_of(book, role, name)
        if part is not None and part.specification is None and len(_names(asked)[role]) > 1:
            yield (
                f"The price book gives one part for every {_kind(role)}, {part.part_number} for the role {role}: check that "
                f"its price is that of {name}, or give each a part number with its name as specification."
            )


def part_of(book: PriceBook, role: str, name: str) -> PartNumber | None:
    """The part number of a role for a module or candidate: the one with its name goes before the one for the role alone."""
    found = {each.specification: each for each in book.part_numbers if each.role == role}
    return found.get(name, found.get(None))


def book_of(book: PriceBook, module: ModuleOffer, unit: UnitOffer) -> PriceBook:
    """The price book of one pairing: what is specified by its names goes before what is for the role alone."""
    names = {MODULE: module.module.name, **dict.fromkeys(UNIT_ROLES, unit.microinverter.name)}
    own = [part_of(book, role, name) for role, name in names.items()]
    others = (each for each in book.part_numbers if each.role not in names)
    return replace(book, part_numbers=(*(replace(each, specification=None) for each in own if each is not None), *others))


def _offers(asked: SelectionRequest) -> Iterator[tuple[str, str, str, float | None]]:
    """Field, role, name and price of each offer."""
    for module in asked.modules:
        yield "modules", MODULE, module.module.name, module.price
    for unit in asked.units:
        yield "candidates", UNIT, unit.microinverter.name, unit.price


def _kind(role: str) -> str:
    return "module" if role == MODULE else "candidate"


def _names(asked: SelectionRequest) -> dict[str, tuple[str, ...]]:
    """Names of the offers that may fill a role."""
    units = tuple(each.microinverter.name for each in asked.units)
    return {MODULE: tuple(each.module.name for each in asked.modules), **dict.fromkeys(UNIT_ROLES, units)}


def _with_price(offer: OfferT, book: PriceBook, role: str, name: str) -> OfferT:
    part = _sold(book, role, name)
    return offer if offer.price is not None or part is None else replace(offer, price=float(part.price))


def _sold(book: PriceBook, role: str, name: str) -> _Part | None:
    number = part_of(book, role, name)
    item = None if number is None else _item(book.items, number.part_number)
    return None if item is None else _Part(item.part_number, book.unit_price(item))


def _item(items: Iterable[PriceItem], part_number: str) -> PriceItem | None:
    return next((each for each in items if each.part_number == part_number), None)

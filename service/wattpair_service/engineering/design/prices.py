"""Matches the prices of a design's ranking with those of its bill.

The ranking compares offers, and the price book has parts. An offer without a price is ranked at the sales price of its part.
Where an offer's price differs from its part's, a caution names both.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TypeVar

from wattpair_service.engineering.cautions import Caution, caution_form
from wattpair_service.engineering.money.prices import PartNumber, PriceBook, PriceItem
from wattpair_service.engineering.results import Assumption
from wattpair_service.engineering.selection.request import ModuleOffer, SelectionRequest, UnitOffer
from wattpair_service.engineering.sentences import sentence

OfferT = TypeVar("OfferT", ModuleOffer, UnitOffer)

MODULE, UNIT, SPARE = "module", "microinverter", "microinverter_spare"
UNIT_ROLES = (UNIT, SPARE)
SALES_PRICE = sentence("source.sales_price", "name", "part")
TWO_PRICES = caution_form("two_prices", "seller", "order", "name", "asked", "currency", "part", "sold")
LEFT_OUT, ONE_PART = (
    {kind: caution_form(f"{code}_{kind}", "seller", "order", "part", "role", slot) for kind in ("module", "candidate")}
    for code, slot in (("part_of_no", "specification"), ("one_part_for_every", "name"))
)


@dataclass(frozen=True, slots=True)
class _Part:
    """The part of the price book for an offer, with its sales price."""

    part_number: str
    price: Decimal


def ranked_offers(request: SelectionRequest, book: PriceBook) -> SelectionRequest:
    """The same selection, with a price for every offer that has a part in the book."""
    return replace(
        request,
        modules=tuple(_with_price(each, book, MODULE, each.module.name) for each in request.modules),
        units=tuple(_with_price(each, book, UNIT, each.microinverter.name) for each in request.units),
    )


def price_assumptions(request: SelectionRequest, book: PriceBook) -> Iterator[Assumption]:
    """The prices that `ranked_offers` takes from the price book."""
    for field, role, name, price in _offers(request):
        part = _part_for(book, role, name)
        if price is None and part is not None:
            source = SALES_PRICE(name=name, part=part.part_number)
            yield Assumption(f"{field}.price", float(part.price), None, source)


def price_cautions(request: SelectionRequest, book: PriceBook) -> Iterator[Caution]:
    """Cautions on offers with two prices, and on parts whose specification names no offer."""
    for _, role, name, price in _offers(request):
        part = _part_for(book, role, name)
        if price is not None and part is not None and abs(Decimal(repr(price)) - part.price) > book.step / 2:
            yield TWO_PRICES(name=name, asked=price, currency=book.currency, part=part.part_number, sold=f"{part.price:f}")
    names = _names(request)
    for each in book.part_numbers:
        if each.role in names and each.specification is not None and each.specification not in names[each.role]:
            yield LEFT_OUT[_kind(each.role)](part=each.part_number, role=each.role, specification=each.specification)


def shared_price_cautions(request: SelectionRequest, book: PriceBook, module: str, unit: str) -> Iterator[Caution]:
    """Cautions on parts of the bill that the book gives for a role alone, where the request has several offers for it."""
    for role, name in ((MODULE, module), *((role, unit) for role in UNIT_ROLES)):
        part = part_of(book, role, name)
        if part is not None and part.specification is None and len(_names(request)[role]) > 1:
            yield ONE_PART[_kind(role)](part=part.part_number, role=role, name=name)


def part_of(book: PriceBook, role: str, name: str) -> PartNumber | None:
    """The part number of a role for a module or candidate; one with its name takes precedence over one for the role alone."""
    by_specification = {each.specification: each for each in book.part_numbers if each.role == role}
    return by_specification.get(name, by_specification.get(None))


def _offers(request: SelectionRequest) -> Iterator[tuple[str, str, str, float | None]]:
    """Request field, role, name and price of each offer."""
    for module in request.modules:
        yield "modules", MODULE, module.module.name, module.price
    for unit in request.units:
        yield "candidates", UNIT, unit.microinverter.name, unit.price


def _kind(role: str) -> str:
    return "module" if role == MODULE else "candidate"


def _names(request: SelectionRequest) -> dict[str, tuple[str, ...]]:
    """Names of the offers for each role."""
    units = tuple(each.microinverter.name for each in request.units)
    return {MODULE: tuple(each.module.name for each in request.modules), **dict.fromkeys(UNIT_ROLES, units)}


def _with_price(offer: OfferT, book: PriceBook, role: str, name: str) -> OfferT:
    part = _part_for(book, role, name)
    return offer if offer.price is not None or part is None else replace(offer, price=float(part.price))


def _part_for(book: PriceBook, role: str, name: str) -> _Part | None:
    number = part_of(book, role, name)
    item = None if number is None else _item(book.items, number.part_number)
    return None if item is None else _Part(item.part_number, book.unit_price(item))


def _item(items: Iterable[PriceItem], part_number: str) -> PriceItem | None:
    return next((each for each in items if each.part_number == part_number), None)

"""Prices in decimals."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from hypothesis import given, strategies as st

from wattpair_service.engineering.money.prices import PartNumber, PriceBook, PriceItem, priced
from wattpair_service.words.catalogue import english


@dataclass(frozen=True)
class Line:
    """A line of a bill."""

    role: str
    quantity: int
    specification: str | None = None


BOOK = PriceBook(
    currency="EUR",
    currency_decimals=2,
    tax_percent=Decimal(19),
    markup_percent=Decimal("12.5"),
    items=(PriceItem("M", Decimal("81.40"), Decimal("99.00")), PriceItem("C4", Decimal("1.135"), None)),
    part_numbers=(PartNumber("module", None, "M"), PartNumber("cable", "4 mm2", "C4"), PartNumber("gateway", None, "G")),
)


def test_prices_by_hand() -> None:
    prices = priced([Line("module", 3), Line("cable", 15, "4 mm2")], BOOK)
    assert [line.net for line in prices.lines] == [Decimal("297.00"), Decimal("19.20")]
    # 1.135 x 1.125 = 1.276875, rounded to 1.28; cost 3 x 81.40 + 15 x 1.135 = 244.20 + 17.025, each line rounded half up.
    assert (prices.net, prices.tax, prices.total) == (Decimal("316.20"), Decimal("60.08"), Decimal("376.28"))
    assert (prices.cost, prices.margin, prices.margin_percent) == (Decimal("261.23"), Decimal("54.97"), Decimal("17.4"))
    assert prices.complete


def test_missing_prices_are_listed_once_with_the_reason() -> None:
    lines = [Line("rail", 3), Line("rail", 4), Line("cable", 5, "6 mm2"), Line("gateway", 1), Line("paper", 1)]
    prices = priced(lines, BOOK, free_roles=("paper",))
    assert [(m.role, m.specification, english(m.reason)) for m in prices.missing] == [
        ("rail", None, "no part number for this role"),
        ("cable", "6 mm2", "no part number for this role"),
        ("gateway", None, "part number G is not in the price book"),
    ]
    assert not prices.complete
    assert prices.total == 0
    assert prices.margin_percent is None
    assert len(prices.lines) == len(lines)


MONEY = st.decimals(0, 10**9, places=4, allow_nan=False, allow_infinity=False)


@given(
    st.lists(st.tuples(MONEY, st.none() | MONEY, st.integers(1, 10**6)), min_size=1, max_size=20),
    st.decimals(0, 100, places=2),
    st.integers(0, 4),
)
def test_totals_add_up_to_the_last_digit(parts: list[tuple[Decimal, Decimal | None, int]], tax: Decimal, decimals: int) -> None:
    items = tuple(PriceItem(str(index), cost, price) for index, (cost, price, _) in enumerate(parts))
    numbers = tuple(PartNumber(item.part_number, None, item.part_number) for item in items)
    book = PriceBook("EUR", decimals, tax, Decimal("7.5"), items, numbers)
    prices = priced([Line(str(index), quantity) for index, (_, _, quantity) in enumerate(parts)], book)
    assert prices.net == sum((line.net for line in prices.lines if line.net is not None), Decimal(0))
    assert prices.total == prices.net + prices.tax
    assert prices.margin == prices.net - prices.cost
    assert all(-amount.as_tuple().exponent == decimals for amount in (prices.net, prices.tax, prices.cost))  # type: ignore[operator]
    assert abs(prices.tax - prices.net * tax / 100) <= Decimal(1).scaleb(-decimals) / 2

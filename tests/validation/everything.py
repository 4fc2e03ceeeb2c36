"""Every check of the ledger."""

from __future__ import annotations

from collections.abc import Iterator

from tests.validation import conversion, light, module_list, temperature, trade_case, voltage, yields
from tests.validation.ledger import Check


def all_checks() -> Iterator[Check]:
    """Every check of the ledger, in the order of the way of a request."""
    yield from light.checks()
    yield from temperature.checks()
    yield from module_list.checks()
    yield from voltage.checks()
    yield from conversion.checks()
    yield from yields.checks()
    yield from trade_case.checks()

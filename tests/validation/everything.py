"""Every check of the ledger."""

from __future__ import annotations

from collections.abc import Iterator

from tests.validation import (
    climate_stations,
    conversion,
    intra_hour,
    light,
    module_list,
    money,
    roof_to_meter,
    sap,
    temperature,
    trade_case,
    voltage,
    yields,
)
from tests.validation.ledger import Check


def all_checks() -> Iterator[Check]:
    """Every check of the ledger, in the order of the way of a request."""
    yield from light.checks()
    yield from sap.checks()
    yield from climate_stations.checks()
    yield from intra_hour.checks()
    yield from temperature.checks()
    yield from module_list.checks()
    yield from voltage.checks()
    yield from conversion.checks()
    yield from yields.checks()
    yield from trade_case.checks()
    yield from money.checks()
    yield from roof_to_meter.checks()

"""What an input must become for another candidate to come first: each value held against the selection there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests.selection_cases import AT_HOME, TARIFF, TERMS, offer, request, select
from wattpair_service.engineering.energy.home_use import HomeUse
from wattpair_service.engineering.energy.system_losses import SystemLosses
from wattpair_service.engineering.selection.request import SelectionRequest, SystemTerms
from wattpair_service.engineering.selection.sensitivity import Sensitivity


def of_tariff(asked: SelectionRequest, factor: float) -> SelectionRequest:
    prices = TARIFF.import_price_per_kwh * factor, TARIFF.export_price_per_kwh * factor
    return replace(asked, tariff=replace(TARIFF, import_price_per_kwh=prices[0], export_price_per_kwh=prices[1]))


def with_price(asked: SelectionRequest, price: float) -> SelectionRequest:
    """Another price of the recommended unit."""
    recommended = select(asked).recommendation.microinverter
    units = (replace(each, price=price) if each.microinverter.name == recommended else each for each in asked.units)
    return replace(asked, units=tuple(units))


INPUTS: dict[str, Callable[[SelectionRequest, float], SelectionRequest]] = {
    "price of the recommended unit": with_price,
    "tariff, import and export together, over what it is": of_tariff,
    "discount_rate_percent": lambda asked, percent: replace(asked, terms=replace(TERMS, discount_rate=percent / 100.0)),
    "price_change_percent_per_year": lambda asked, percent: replace(
        asked, tariff=replace(TARIFF, change_share_per_year=percent / 100.0)
    ),
    "failure_percent_per_year": lambda asked, percent: replace(
        asked, terms=replace(TERMS, failure_share_per_year=percent / 100.0)
    ),
    "share_used_at_home": lambda asked, share: replace(asked, home_use=HomeUse(share, None, None)),
}

# Close enough for each input to turn it; in the second, failures and their costs after the warranty decide too.
ROOFS = {
    "larger": request(offer(290.0, 100.0), offer(330.0, 106.0), offer(366.0, 112.0)),
    "longer warranty": request(
        offer(290.0, 100.0), offer(300.0, 101.5), replace(offer(310.0, 105.0), warranty_years=25), azimuths=(90.0, 200.0)
    ),
    "whole systems": request(
        *(
            replace(offer(power, price), system=SystemTerms(balance_of_plant=plant, connection_cost=cost))
            for power, price, plant, cost in (
                (290.0, 100.0, 500.0, 0.0),
                (330.0, 103.0, 520.0, 10.0),
                (366.0, 105.0, 535.0, 35.0),
            )
        ),
        losses=SystemLosses(0.02, 0.03, 0.01, 0.01),
    ),
}


def found_of(asked: SelectionRequest) -> dict[str, Sensitivity]:
    return {each.name: each for each in select(asked).sensitivities}


@pytest.mark.parametrize("name", INPUTS)
@pytest.mark.parametrize("roof", ROOFS)
def test_another_comes_first_at_the_value_and_not_before(name: str, roof: str) -> None:
    asked, sensitivity = ROOFS[roof], found_of(ROOFS[roof])[name]
    recommended = select(asked).recommendation.microinverter
    for value in np.linspace(sensitivity.low, sensitivity.high, 7):
        nearer = sensitivity.then is None or abs(value - sensitivity.now) < abs(sensitivity.then - sensitivity.now)
        if nearer:
            assert select(INPUTS[name](asked, float(value))).recommendation.microinverter == recommended
    if sensitivity.then is not None:
        away = sensitivity.then - sensitivity.now
        assert abs(away) > 1e-3, "else this shows nothing"
        before, behind = (sensitivity.now + away * (1.0 + part) for part in (-1e-6, 1e-6))
        assert select(INPUTS[name](asked, before)).recommendation.microinverter == recommended
        assert select(INPUTS[name](asked, behind)).recommendation.microinverter == sensitivity.first_then


def test_every_input_changes_the_recommendation_of_one_roof() -> None:
    turned = {name for asked in ROOFS.values() for name, each in found_of(asked).items() if each.then is not None}
    assert turned >= INPUTS.keys()


@pytest.mark.parametrize("factor", [0.2, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.5])
def test_the_nearest_of_two_break_evens_is_reported(factor: float) -> None:
    # From a low tariff to a high one the smallest comes first, then the middle one, then the largest.
    asked = request(offer(280.0, 100.0), offer(300.0, 104.0), offer(366.0, 112.0))
    name = "tariff, import and export together, over what it is"
    lower, upper = (found_of(of_tariff(asked, known))[name].then or 0.0 for known in (0.4, 1.0))
    found = found_of(of_tariff(asked, factor))[name]
    turn = min((0.4 * lower, upper), key=lambda each: abs(each / factor - 1.0))
    assert 0.0 < 0.4 * lower < upper < 1.0
    assert found.then == pytest.approx(turn / factor, rel=1e-8)
    below = turn < factor
    assert found.first_then == (("280 W" if below else "300 W") if turn != upper else "300 W" if below else "366 W")


def test_identical_candidates_change_nothing() -> None:
    twins = (offer(300.0, 100.0, name="one"), offer(300.0, 100.0, name="other"))
    for home_use in (AT_HOME, HomeUse(0.0, None, None), HomeUse(1.0, None, None)):
        assert all(each.then is None for each in select(request(*twins, home_use=home_use)).sensitivities[2:])

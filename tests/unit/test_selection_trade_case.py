"""The trade's own case, worked out: is the dearer unit worth it?

An installer fits ten modules of 420 W in the Netherlands and asks whether 366 W is worth some 30 a unit more than 290 W. Over a
year he measured 0.46 % more energy (trade fact without source, direction of the roof unknown), and holds that 420 W is where
the larger begins to pay. Prices, tariff and share at home are the test's own; the year is Amsterdam's typical one.

The gap of 30 is not earned back on either roof, as the trade says, and the power from which it is depends on the face more than
on the module. It does not show that half a percent between two real sets of units is more than their spread.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.selection_cases import offer, request, select


@pytest.mark.parametrize(
    ("azimuths", "gain_percent", "power_w", "gap"),
    [
        pytest.param((180.0,), 2.771, (445, 432, 465.5), (17.08, 12.29, 22.56), id="south"),
        pytest.param((90.0, 270.0), 0.402, (527, 426.5, 672), (0.046, 0.0, 1.551), id="east-west"),
    ],
)
def test_the_trades_own_case(
    azimuths: tuple[float, ...], gain_percent: float, power_w: tuple[float, float, float], gap: tuple[float, float, float]
) -> None:
    result = select(request(offer(290.0, 100.0), offer(366.0, 130.0), azimuths=azimuths))
    energies: list[Any] = [each.energy for each in result.candidates]
    small, large = (each.first_year.delivered_kwh for each in energies)
    assert 100.0 * (large / small - 1.0) == pytest.approx(gain_percent, abs=0.005)
    assert result.recommendation.microinverter == "290 W"
    (even,) = result.break_evens
    power, price_gap = even.places[0].power, even.places[0].price_gap
    assert power.pays == "above"
    assert price_gap.asked == pytest.approx(30.0)
    assert (power.value_w, power.low_w, power.high_w) == pytest.approx(power_w, abs=0.5)
    assert (price_gap.value, price_gap.low, price_gap.high) == pytest.approx(gap, abs=0.005)

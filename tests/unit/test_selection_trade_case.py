"""The trade's own case, worked out: is the dearer unit worth it?

An installer fits ten modules of 420 W in the Netherlands and asks whether 366 W is worth some 30 a unit more than 290 W. Over a
year he measured 0.46 % more energy (trade fact without source, direction of the roof unknown), and holds that 420 W is where
the larger begins to pay. Prices, tariff and share at home are the test's own. With Amsterdam's typical year (`pytest -s`
prints it):

                 energy of 366 W      pays above               up to a gap of
    south        +2.54 %              449 W (437 to 468)       14.98 (10.99 to 19.53)
    east-west    +0.25 %              532 W (524 to 541)       -0.82 (-0.91 to -0.74)
    reported     +0.46 %              420 W, rule of thumb     30 is "not worth it"

What it shows: the gap of 30 is not earned back on either roof, as the trade says, and the power from which it is depends on the
face more than on the module. What it cannot show: that half a percent between two real sets of units is more than their spread.
"""

from __future__ import annotations

import pytest

from tests.selection_cases import offer, request, select
from tests.validation.trade_case import REPORTED_PERCENT

ROOFS = {"south": (180.0,), "east-west": (90.0, 270.0)}


@pytest.mark.parametrize("roof", ROOFS)
def test_the_trade_s_own_case(roof: str) -> None:
    azimuths = ROOFS[roof]
    result = select(request(offer(290.0, 100.0), offer(366.0, 130.0), azimuths=azimuths))
    small, large = result.candidates
    assert small.energy is not None
    assert large.energy is not None
    gain = 100.0 * (large.energy.first_year.delivered_kwh / small.energy.first_year.delivered_kwh - 1.0)
    (even,) = result.break_evens
    whole = even.places[0]
    print(f"\n{roof}: {result.recommendation.sentence}")
    print(f"  energy of 366 W over 290 W: {gain:+.2f} %, reported {REPORTED_PERCENT} %")
    print(
        f"  pays {whole.power.pays} {whole.power.value_w and round(whole.power.value_w)} W "
        f"({whole.power.low_w:.0f} to {whole.power.high_w:.0f}); rule of thumb 420 W"
    )
    print(
        f"  up to a gap of {whole.price_gap.value:.2f} ({whole.price_gap.low:.2f} to {whole.price_gap.high:.2f}); asked 30.00"
    )
    assert whole.price_gap.asked == pytest.approx(30.0)
    assert (result.recommendation.microinverter == "366 W") == (whole.price_gap.value > 30.0)
    assert -0.5 < gain < 3.0
    assert (gain < REPORTED_PERCENT) == (roof == "east-west")


def test_the_dearer_unit_pays_from_a_higher_power_on_an_east_west_roof() -> None:
    found = {
        roof: select(request(offer(290.0, 100.0), offer(366.0, 130.0), azimuths=azimuths)).break_evens[0].places[0].power
        for roof, azimuths in ROOFS.items()
    }
    assert found["south"].value_w is not None
    assert found["east-west"].value_w is not None
    assert found["east-west"].value_w > found["south"].value_w

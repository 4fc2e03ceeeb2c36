"""Rates of return and paybacks of many series at once, beside what each is by itself."""

from __future__ import annotations

from itertools import accumulate

import numpy as np
import pytest
from hypothesis import example, given, settings, strategies as st
from scipy.optimize import brentq

from tests.builders import numbers
from wattpair_service.engineering.money.cash_flow import RETURN_RANGES, payback_years, rates_of_return


def worth(rate: float, flows: list[float]) -> float:
    return sum(flow / (1.0 + rate) ** year for year, flow in enumerate(flows))


def tables(low: float, high: float) -> st.SearchStrategy[list[list[float]]]:
    return st.integers(1, 30).flatmap(
        lambda years: st.lists(st.lists(numbers(low, high), min_size=years, max_size=years), min_size=1, max_size=6)
    )


COST_THEN_GAINS = st.builds(lambda gains, cost: [[-cost, *row] for row in gains], tables(0.1, 200.0), numbers(1.0, 3000.0))


@example([[1.0, 2.2e-309], [1.0, -1.0]])
@settings(max_examples=settings().max_examples * 2)
@given(tables(-200.0, 200.0) | COST_THEN_GAINS)
def test_a_rate_of_return_is_in_the_first_range_that_shows_one(flows: list[list[float]]) -> None:
    for row, found in zip(flows, rates_of_return(np.array(flows)).tolist(), strict=True):
        ends = [(low, high) for low, high in RETURN_RANGES if worth(low, row) * worth(high, row) < 0.0]
        assert np.isnan(found) == (not ends)
        if ends:
            low, high = ends[0]
            assert low <= found <= high
            nearby = [worth(found + apart, row) for apart in (-1e-6, 0.0, 1e-6)]
            scale = sum(abs(flow) / (1.0 + found) ** year for year, flow in enumerate(row))
            assert min(nearby) <= 0.0 <= max(nearby) or abs(nearby[1]) <= 1e-9 * scale
            if row[0] < 0.0 < min(row[1:], default=0.0):  # one rate only
                assert found == pytest.approx(brentq(worth, low, high, args=(row,), xtol=1e-13), abs=1e-10)


def test_rates_of_return_do_not_depend_on_other_rows() -> None:
    flows = np.array([[-100.0, 39.0, 59.0, 55.0, 20.0], [-100.0, 10.0, 0.0, 0.0, 0.0], [-1.0, 9.0, -20.0, 0.0, 0.0], [0.0] * 5])
    together = rates_of_return(flows)
    np.testing.assert_array_equal(together, np.concatenate([rates_of_return(flows[[row]]) for row in range(len(flows))]))
    np.testing.assert_allclose(together, [0.2809484, -0.9, np.nan, np.nan], rtol=1e-6)


@given(tables(-50.0, 100.0), st.lists(numbers(-100.0, 800.0) | st.just(0.0), min_size=6, max_size=6))
def test_a_payback_is_the_last_time_that_the_balance_turns(benefits: list[list[float]], costs: list[float]) -> None:
    found = payback_years(np.array(costs[: len(benefits)]), np.array(benefits)).tolist()
    for row, cost, years in zip(benefits, costs, found, strict=False):
        balance = list(accumulate(row, initial=-cost))
        if balance[-1] < -1e-9:
            assert np.isnan(years)
        elif min(balance) > 1e-9:
            assert years == 0.0
        elif balance[-1] > 1e-9:
            assert abs(np.interp(years, np.arange(len(balance)), balance)) <= 1e-9
            assert all(left >= -1e-9 for left in balance[int(np.ceil(years)) :])


@pytest.mark.parametrize(
    ("cost", "benefits", "expected"),
    [
        (100.0, [40.0] * 4, 2.5),
        (0.0, [1.0, 1.0], 0.0),
        (0.0, [-1.0, 0.5], np.nan),
        (-10.0, [1.0, 1.0], 0.0),
        (100.0, [10.0] * 4, np.nan),
        (100.0, [120.0, -40.0, 40.0], 2.5),
        (100.0, [50.0, 50.0], 2.0),
    ],
)
def test_paybacks(cost: float, benefits: list[float], expected: float) -> None:
    np.testing.assert_array_equal(payback_years(np.array([cost]), np.array([benefits])), [expected])

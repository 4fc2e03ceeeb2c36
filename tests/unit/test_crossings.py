"""Where curves cross zero for the last time, against a plain loop and curves whose crossing is known."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.builders import numbers
from wattpair_service.engineering.crossings import Guess, closed_in, last_crossing, relative_doubt
from wattpair_service.engineering.gain_curves import FACTORS, PARTS, _fine

FloatArray = npt.NDArray[np.float64]
Curve = Callable[[FloatArray], FloatArray]

X = np.array([0.6, 0.7, 0.9, 1.2, 1.6])
CLOSE = 5e-4
BOUNDS = (0.6, 1.6)


def by_a_loop(values: list[float]) -> float:
    for (x, value), (x_after, after) in reversed(list(pairwise(zip(X.tolist(), values, strict=True)))):
        if after <= 0.0:
            return math.nan
        if value <= 0.0:
            return float(x + (x_after - x) * value / (value - after))
    return math.nan


@given(st.lists(st.lists(st.integers(-2, 2).map(float) | numbers(-1e3, 1e3), min_size=5, max_size=5), min_size=2, max_size=6))
def test_the_last_crossing_is_that_of_a_plain_loop(curves: list[list[float]]) -> None:
    found = last_crossing(X, np.array(curves).T)
    np.testing.assert_allclose(found, [by_a_loop(curve) for curve in curves], rtol=1e-12)
    np.testing.assert_array_equal(last_crossing(X, np.array([curves, curves[::-1]]).T), np.array([found, found[::-1]]).T)
    assert np.isnan(last_crossing(X, np.full((5, 2), np.nan))).all()


@pytest.mark.filterwarnings("ignore:overflow encountered in divide:RuntimeWarning")  # scipy's, at slopes below 1e-308
@example([0.0, 1e-310, *[1.0] * 9])
@given(st.lists(numbers(-1e-15, 1e-15) | numbers(-1e3, 1e3), min_size=11, max_size=11))
def test_between_its_points_a_curve_is_no_higher_nor_lower(points: list[float]) -> None:
    fine = _fine(np.array(points)[:, None])[:, 0]
    np.testing.assert_array_equal(fine[::PARTS], points)
    for at, (one, other) in enumerate(pairwise(points)):
        part, rounding = fine[at * PARTS : (at + 1) * PARTS + 1], 1e-12 * max(map(abs, points))
        assert part.min() >= min(one, other) - rounding
        assert part.max() <= max(one, other) + rounding
    assert fine.size == PARTS * (FACTORS.size - 1) + 1


def found_on(curve: Curve, guess: Guess) -> tuple[FloatArray, int]:
    calls = list[FloatArray]()

    def exact(x: FloatArray) -> FloatArray:
        assert not np.isnan(x).all(), "a call without a point"
        assert np.isnan(x[np.isnan(guess.x)]).all(), "no point where no crossing is sought"
        calls.append(x)
        return curve(x)

    ends = np.full(guess.x.size, BOUNDS[0])
    below, close_enough = curve(ends) <= 0.0, np.full(guess.x.size, CLOSE)
    found = closed_in(exact, guess, bounds=BOUNDS, below_at_lowest=below, close_enough=close_enough)
    return found, len(calls)


def beside(root: FloatArray, away: FloatArray, slope: FloatArray, wrong: FloatArray) -> Guess:
    """A guess off the root; `doubt` knows how wrong its slope is."""
    used = slope * (1.0 + wrong)
    return Guess(np.clip(root + away, 0.61, 1.59), np.full(root.size, np.nan), used, relative_doubt(slope, used))


COLUMN = st.tuples(numbers(0.65, 1.55), numbers(-0.05, 0.05), numbers(-6.0, 6.0), numbers(-0.5, 0.5))


@given(st.lists(COLUMN, min_size=1, max_size=5))
def test_what_is_found_on_a_smooth_curve_is_close_enough(columns: list[tuple[float, float, float, float]]) -> None:
    root, away, bend, wrong = np.array(columns).T
    bend = np.where(np.abs(bend) < 1e-3, 1e-3, bend)

    def curve(x: FloatArray) -> FloatArray:
        return np.asarray(5.0 * np.expm1(bend * (x - root)) / bend)

    guess = beside(root, away, 5.0 * np.exp(bend * away), wrong)
    found, calls = found_on(curve, guess)
    assert np.all(np.abs(curve(found)) <= 1.5 * CLOSE)
    assert calls <= 10
    # Nothing that is sought beside it changes one.
    unsought = Guess(np.where(np.arange(root.size) == 0, guess.x, np.nan), guess.value, guess.slope, guess.doubt)
    alone, _ = found_on(curve, unsought)
    np.testing.assert_array_equal(alone[0], found[0])
    assert np.isnan(alone[1:]).all()


@example(1.5, 0.005, 1.332927646129337, -1.9458756822644592, -0.9377131448909173)
@given(numbers(0.65, 1.55), numbers(-0.05, 0.05), *[numbers(-2.0, 2.0)] * 2, numbers(-2.0, 1.0))
def test_a_jump_is_found(root: float, away: float, below: float, above: float, slope: float) -> None:
    def curve(x: FloatArray) -> FloatArray:
        return np.asarray(np.where(x < root, -(10.0**below), 10.0**above) + 10.0**slope * (x - root))

    found, _ = found_on(curve, beside(np.array([root]), np.array([away]), np.array([10.0**slope]), np.zeros(1)))
    assert abs(float(found[0]) - root) < 1e-3


def test_a_known_value_is_not_computed_and_a_curve_above_zero_has_no_crossing() -> None:
    found, _ = found_on(lambda x: x - 0.5, beside(np.array([0.9]), np.zeros(1), np.ones(1), np.zeros(1)))
    assert np.isnan(found).all()
    guess = Guess(*(np.array([value]) for value in (1.0, 1e-5, 1.0, 0.0)))
    found, calls = found_on(lambda x: x - 1.0 + 1e-5, guess)
    assert (found.tolist(), calls) == ([1.0], 0)


@pytest.mark.parametrize(("used", "expected"), [(1.0, 9.0), (20.0, 0.5), (10.0, 0.0), (0.0, 1.0), (-1.0, 1.0)])
def test_a_slope_is_in_doubt_by_its_distance_from_another(used: float, expected: float) -> None:
    assert relative_doubt(np.array([10.0]), np.array([used])).tolist() == [expected]

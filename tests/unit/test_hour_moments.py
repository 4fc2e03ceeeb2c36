"""Polynomials in place of conversions, against the conversions themselves at any voltage and power."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.builders import microinverters, numbers
from tests.unit.test_roof_years import BENT, HUNGRY, WASTEFUL, WITH_A_POLE
from wattpair_service.engineering.conversion import Conversion
from wattpair_service.engineering.equipment import Microinverter
from wattpair_service.engineering.hour_moments import CLOSE, REACH, HourScale, powers_of


def require_close(conversions: list[Conversion], scale: HourScale, in_series: int, shares: list[tuple[float, float]]) -> None:
    modules = np.full(len(conversions), 2.0 * in_series)
    fitted = scale.fitted(conversions, modules, np.full(len(conversions), float(in_series)))
    u, share = np.array(shares).T
    which, count = np.repeat(np.arange(len(conversions)), u.size), len(conversions)
    power_w = (fitted.highest_w[:, None] * share).ravel()
    found = fitted.power_at(which, np.tile(u, count), power_w).reshape(count, -1)
    volts = scale.middle_v + scale.half_v * u
    np.testing.assert_allclose(scale.u(volts), u, atol=1e-12)
    for row, conversion in enumerate(conversions):
        dc_w = fitted.highest_w[row] * share
        low_v, high_v = conversion.smooth_range_v
        inside = (volts * in_series >= low_v) & (volts * in_series <= high_v)
        exact = np.minimum(conversion.ac_power_w(dc_w * modules[row], volts * in_series) / modules[row], dc_w)
        assert np.all(np.abs(found[row] - exact)[inside] <= 2.0 * CLOSE * REACH * scale.highest_w)
        # At one voltage for all it is the same curve.
        together = fitted.power_w(powers_of(u), dc_w)[row]
        np.testing.assert_allclose(together, found[row], rtol=1e-12, atol=1e-12 * scale.highest_w)


SHARES = st.lists(st.tuples(numbers(-1.0, 1.0), numbers(0.0, 1.0)), min_size=1, max_size=20)
SCALES = st.builds(HourScale, numbers(15.0, 45.0), numbers(1e-3, 14.0), numbers(50.0, 600.0))


@given(st.lists(microinverters(), min_size=1, max_size=4), SCALES, st.integers(1, 2), SHARES)
def test_polynomials_match_conversions(
    units: list[Microinverter], scale: HourScale, in_series: int, shares: list[tuple[float, float]]
) -> None:
    require_close([each.conversion for each in units], scale, in_series, shares)


@given(SCALES, SHARES)
def test_polynomials_match_odd_conversions_or_leave_them_out(scale: HourScale, shares: list[tuple[float, float]]) -> None:
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        require_close([BENT, WITH_A_POLE, WASTEFUL, HUNGRY], scale, 1, shares)


@pytest.mark.parametrize("highest_v", [0.0, 45.0])
def test_scale_spans_the_lowest_and_highest_voltage(highest_v: float) -> None:
    scale = HourScale.of(np.array([10.0, 300.0]), np.array([30.0, 34.0]), highest_v)
    np.testing.assert_allclose(scale.u(np.array([30.0, max(highest_v, 34.0)])), [-1.0, 1.0], rtol=1e-12)
    assert scale.highest_w == 300.0

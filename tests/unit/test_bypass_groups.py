"""Bypass groups in series: closed properties, and the best of all currents by brute force."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, strategies as st

from tests.builders import numbers
from tests.unit.diodes import HIGH_VOLTAGE, MODULES, NO_SHUNT, ORDINARY
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.module.bypass_groups import BYPASS_FORWARD_V, Branches, series_branches
from wattpair_service.engineering.module.single_diode import curve_at, fit, maximum_power, voltage_at_current

UNSHADED_SHARE = 1e-4
"""Error that the docstring of `series_branches` allows, over the power of the unshaded module."""
ANY_MODULE = st.sampled_from([ORDINARY, HIGH_VOLTAGE, NO_SHUNT])
IRRADIANCE = numbers(0.0, 1300.0)
PATTERN = st.lists(IRRADIANCE, min_size=3, max_size=3)
TEMP_C = numbers(-25.0, 80.0)


def branches_of(module: Module, irradiance_w_m2: npt.ArrayLike, temp_cell_c: float, *, modules: int = 1) -> Branches:
    """Of groups given along the first axis in any order, three of which are a module."""
    irradiance = -np.sort(-np.asarray(irradiance_w_m2, dtype=float), axis=0)
    irradiance = irradiance.reshape(len(irradiance), -1)
    temps = np.full_like(irradiance, temp_cell_c)
    per_module = len(irradiance) // modules
    return series_branches(fit(module), irradiance_w_m2=irradiance, temp_cell_c=temps, groups_per_module=per_module)


def best_w(module: Module, irradiance_w_m2: npt.ArrayLike, temp_cell_c: float, *, modules: int = 1) -> FloatArray:
    power_w: FloatArray = branches_of(module, irradiance_w_m2, temp_cell_c, modules=modules).power_w.max(axis=0)
    return power_w


def unshaded_w(module: Module, irradiance_w_m2: float, temp_cell_c: float) -> float:
    curve = curve_at(fit(module), irradiance_w_m2=max(irradiance_w_m2, 1.0), cell_temp_c=temp_cell_c)
    return float(maximum_power(curve).power_w[0])


@pytest.mark.parametrize("module", MODULES)
@pytest.mark.parametrize("groups", [1, 2, 3, 4])
@pytest.mark.parametrize("modules", [1, 2, 8])
def test_equal_groups_have_the_maximum_power_of_whole_modules(module: Module, groups: int, modules: int) -> None:
    irradiance, temp = (each.ravel() for each in np.meshgrid([1.0, 5.0, 50.0, 300.0, 800.0, 1300.0], [-25.0, 10.0, 45.0, 80.0]))
    shape = (groups * modules, irradiance.size)
    branches = series_branches(
        fit(module), irradiance_w_m2=np.broadcast_to(irradiance, shape), temp_cell_c=np.broadcast_to(temp, shape),
        groups_per_module=groups,
    )  # fmt: skip
    whole = maximum_power(curve_at(fit(module), irradiance_w_m2=irradiance, cell_temp_c=temp))
    np.testing.assert_allclose(branches.power_w[-1], modules * whole.power_w, rtol=1e-8)
    # Power is flat at its maximum, so voltage and current are known less exactly than their product.
    np.testing.assert_allclose(branches.voltage_v[-1], modules * whole.voltage_v, rtol=1e-4)
    np.testing.assert_allclose(branches.current_a[-1], whole.current_a, rtol=1e-4)
    assert not branches.power_w[:-1].any()


@given(module=ANY_MODULE, pattern=PATTERN, temp_c=TEMP_C)
def test_the_branch_in_which_all_groups_conduct_is_always_there(module: Module, pattern: list[float], temp_c: float) -> None:
    branches = branches_of(module, pattern, temp_c)
    assert branches.current_a[-1, 0] > 0.0
    # Each branch's power is its voltage times its current, or it is not there.
    product = np.maximum(branches.voltage_v * branches.current_a, 0.0)
    np.testing.assert_allclose(branches.power_w, product, rtol=1e-12)
    if min(pattern) >= 1.0:
        darkest = unshaded_w(module, min(pattern), temp_c)
        # All groups at the darkest one's irradiance would give no more: the brighter ones only have higher voltages.
        assert branches.power_w[-1, 0] >= darkest * (1.0 - 1e-8)


@given(module=ANY_MODULE, pattern=PATTERN, temp_c=TEMP_C, group=st.integers(0, 2), left=numbers(0.0, 1.0))
def test_power_never_rises_when_a_group_darkens(
    module: Module, pattern: list[float], temp_c: float, group: int, left: float
) -> None:
    darker = [irradiance * (left if index == group else 1.0) for index, irradiance in enumerate(pattern)]
    before, after = (best_w(module, each, temp_c)[0] for each in (pattern, darker))
    # A branch may be left out where bypassing costs more than it gains; what that costs stays within the stated error.
    assert after <= before + UNSHADED_SHARE * unshaded_w(module, max(pattern), temp_c)


@pytest.mark.parametrize("module", MODULES)
def test_power_never_rises_along_a_dense_sweep(module: Module) -> None:
    # From a whole module to one with a dark group, so that the step at which a branch enters is crossed.
    middle = np.linspace(1000.0, 0.0, 2001)
    power_w = best_w(module, np.stack([np.full_like(middle, 1000.0), middle, middle]), 25.0)
    assert np.diff(power_w).max() <= 1e-8 * power_w[0]
    assert power_w[-1] < power_w[0] / 3.0
    one_w = best_w(module, np.stack([np.full_like(middle, 1000.0), np.full_like(middle, 1000.0), middle]), 25.0)
    assert np.diff(one_w).max() <= 1e-8 * one_w[0]
    # Closed form: two groups of three give two thirds of their power, less the forward voltage times the current.
    parameters, current = fit(module), np.linspace(0.0, 1.0, 40001) * 15.0
    whole = curve_at(parameters, irradiance_w_m2=np.full_like(current, 1000.0), cell_temp_c=25.0)
    two_groups_w = (voltage_at_current(whole, np.minimum(current, whole.photocurrent_a)) * 2 / 3 - BYPASS_FORWARD_V) * current
    lit = current < 0.999 * whole.photocurrent_a
    assert one_w[-1] == pytest.approx(two_groups_w[lit].max(), rel=1e-6)


def by_brute_force(module: Module, irradiance_w_m2: list[float], temp_c: float, *, modules: int) -> float:
    """Power at the best of many currents, each group at its own voltage or bypassed."""
    irradiance = np.array(irradiance_w_m2)
    curve = curve_at(fit(module), irradiance_w_m2=irradiance, cell_temp_c=temp_c)
    end = float(curve.photocurrent_a.max())
    best = 0.0
    # Then twice around the best current so far.
    low, high = 0.0, end
    for _ in range(3):
        current = np.linspace(low, high, 2001)
        total = np.zeros(current.size)
        for group in range(irradiance.size):
            voltage = np.full(current.size, -np.inf)
            able = current < curve.photocurrent_a[group] * (1.0 - 1e-12)
            alone = curve_at(fit(module), irradiance_w_m2=np.full(able.sum(), irradiance[group]), cell_temp_c=temp_c)
            voltage[able] = voltage_at_current(alone, current[able]) / (irradiance.size / modules)
            # Beyond its short circuit a group has no voltage of its own.
            total += np.fmax(voltage, -BYPASS_FORWARD_V)
        power = total * current
        at = int(power.argmax())
        best = max(best, float(power[at]))
        step = current[1] - current[0]
        low, high = max(current[at] - step, 0.0), min(current[at] + step, end)
    return best


@given(module=ANY_MODULE, pattern=st.lists(numbers(1.0, 1300.0), min_size=2, max_size=4), temp_c=TEMP_C)
def test_the_best_branch_is_the_best_of_all_currents(module: Module, pattern: list[float], temp_c: float) -> None:
    pattern = sorted(pattern, reverse=True)
    found, brute = best_w(module, pattern, temp_c)[0], by_brute_force(module, pattern, temp_c, modules=1)
    assert found == pytest.approx(brute, abs=UNSHADED_SHARE * unshaded_w(module, pattern[0], temp_c))


@given(module=ANY_MODULE, pattern=st.lists(numbers(1.0, 1300.0), min_size=6, max_size=6), temp_c=TEMP_C)
def test_two_modules_in_series_have_the_best_of_all_currents(module: Module, pattern: list[float], temp_c: float) -> None:
    pattern = sorted(pattern, reverse=True)
    found, brute = best_w(module, pattern, temp_c, modules=2)[0], by_brute_force(module, pattern, temp_c, modules=2)
    unshaded = 2.0 * unshaded_w(module, pattern[0], temp_c)
    assert found == pytest.approx(brute, abs=UNSHADED_SHARE * unshaded)
    # In series they give no more than each by itself at its best.
    each = sum(float(best_w(module, part, temp_c)[0]) for part in (pattern[:3], pattern[3:]))
    assert found <= each + UNSHADED_SHARE * unshaded


@given(module=ANY_MODULE, pattern=PATTERN, temp_c=TEMP_C)
def test_power_lies_between_the_darkest_and_the_brightest_groups(module: Module, pattern: list[float], temp_c: float) -> None:
    found, unshaded = best_w(module, pattern, temp_c)[0], unshaded_w(module, max(pattern), temp_c)
    mean = np.mean([unshaded_w(module, each, temp_c) if each >= 1.0 else 0.0 for each in pattern])
    assert found <= unshaded * (1.0 + 1e-8)
    # No more than if each group worked at its own best.
    assert found <= mean + UNSHADED_SHARE * max(unshaded, 1.0) + unshaded_w(module, 1.0, temp_c)

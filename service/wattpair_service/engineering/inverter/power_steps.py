"""What a microinverter makes of each operating point of a module, and what each limit takes off it.

This is the one definition of a year: clipping, selection, design and ageing all ask `power_steps`. Every point is taken by
itself, in this order:

available at maximum power -> start-up -> operating-voltage window -> input-current limit -> conversion -> AC power limit
(clipping) -> thermal derating.

Neglected: tracking error of the maximum-power search, hysteresis of starting and stopping, mismatch between the modules of
one unit, reactive power, switching off by the grid. Conversion is counted at the power before clipping, so that clipping
is what the AC limit alone costs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.equipment import Microinverter, ModuleLimits, ThermalDerating
from wattpair_service.engineering.module.dc_response import DcResponse
from wattpair_service.engineering.module.single_diode import DiodeCurve, current_at_voltage, scaled, select, voltage_at_current


@dataclass(frozen=True, slots=True, eq=False)
class Loss:
    """The points at which a step takes power, as flat indexes into the arrays of all points, and how much it takes [W]."""

    at: IntArray
    power_w: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class PowerSteps:
    """Power of one module at each operating point after the steps: arrays of one shape, (..., n) [W].

    Attributes
    ----------
    available_w : array
        At maximum power.
    start_up, voltage_window, input_current : Loss
        What start-up, operating-voltage window and input-current limit take, one after the other.
    at_input_w : array
        DC power after these.
    converted_w : array
        AC power before any limit of the AC side.
    clipped_w : array
        After the AC power limit.
    delivered_w : array
        After thermal derating.
    """

    available_w: FloatArray
    start_up: Loss
    voltage_window: Loss
    input_current: Loss
    at_input_w: FloatArray
    converted_w: FloatArray
    clipped_w: FloatArray
    delivered_w: FloatArray


def power_steps(
    response: DcResponse,
    microinverter: Microinverter,
    *,
    modules_per_input: int = 1,
    current_factor: FloatArray | float = 1.0,
) -> PowerSteps:
    """Power of one module with a microinverter after each step.

    Parameters
    ----------
    response : DcResponse
        The module's DC side at n operating points.
    microinverter : Microinverter
        Its limits are divided evenly over its modules, which see the same light.
    modules_per_input : int
        Modules in series on each input.
    current_factor : float or array, shape (..., 1)
        The module's current over that of the response, at the same voltages.

    Returns
    -------
    PowerSteps
        Of n points, or (..., n). No step adds power.
    """
    limits = microinverter.per_module(modules_per_input)
    points = _Points(response, limits, current_factor)
    power, voltage = points.available_w.copy(), response.maximum_power.voltage_v
    start_up = points.start(power)
    window, voltage = points.hold_voltage(power, voltage)
    current, voltage = points.hold_current(power, voltage)
    converted = microinverter.conversion.ac_power_w(power * limits.modules_per_unit, voltage * limits.in_series)
    converted /= limits.modules_per_unit
    # The curve never gives more than goes in.
    np.minimum(converted, power, out=converted)
    limit = _ac_limit_w(response, limits)
    clipped = delivered = np.minimum(converted, limit)
    if microinverter.derating is not None:
        delivered = np.minimum(clipped, limit * derating_factor(microinverter.derating, response.temp_under_module_c))
    return PowerSteps(points.available_w, start_up, window, current, power, converted, clipped, delivered)


def derating_factor(derating: ThermalDerating, temp_c: FloatArray) -> FloatArray:
    """Share of the AC limit that is left at an air temperature at the microinverter (0-1)."""
    factor = np.clip(1.0 - derating.percent_per_k / 100.0 * (temp_c - derating.start_temp_c), 0.0, 1.0)
    return np.where(temp_c > derating.shutdown_temp_c, 0.0, factor)


def _ac_limit_w(response: DcResponse, limits: ModuleLimits) -> FloatArray | float:
    """AC limit of one module at each point: in a surge of sun between clouds, which is short, the peak power."""
    if limits.ac_peak_power_w == limits.ac_power_w:
        return limits.ac_power_w
    return np.where(response.is_surge, limits.ac_peak_power_w, limits.ac_power_w)


class _Points:
    """The DC steps: each lowers `power`, an array of all points, where its limit counts, and tells what that takes."""

    def __init__(self, response: DcResponse, limits: ModuleLimits, current_factor: FloatArray | float) -> None:
        self._response, self._limits, self._factor = response, limits, current_factor
        self.available_w = np.asarray(response.maximum_power.power_w * current_factor)

    def start(self, power: FloatArray) -> Loss:
        """Nothing where the module has too little voltage or power to start the unit."""
        too_weak = (self._response.voltage_oc_v < self._limits.start_voltage_v) | (power < self._limits.start_power_w)
        at = np.flatnonzero(too_weak)
        return _lower(power, at, np.zeros(at.size))

    def hold_voltage(self, power: FloatArray, voltage_v: FloatArray) -> tuple[Loss, FloatArray]:
        """Hold the voltage inside the operating window; gives the voltages too [V]."""
        lowest, highest = self._limits.operating_voltage_min_v, self._limits.operating_voltage_max_v
        outside = (voltage_v < lowest) | (voltage_v > highest)
        if not outside.any():
            return _lower(power, np.empty(0, dtype=np.int64), np.empty(0)), voltage_v
        voltage_held_v = np.clip(voltage_v, lowest, highest)
        at = np.flatnonzero(outside & (power > 0.0))
        there = voltage_held_v[at % voltage_held_v.size]
        return _lower(power, at, there * current_at_voltage(self._curves(at), there)), voltage_held_v

    def hold_current(self, power: FloatArray, voltage_v: FloatArray) -> tuple[Loss, FloatArray]:
        """Move up the curve to the input-current limit; gives the voltages too [V].

        Where that point lies above the operating window no point suits both limits and the input stays off.
        """
        limit = self._limits.current_max_a
        at = np.flatnonzero(power > limit * voltage_v)
        if not at.size:
            return _lower(power, at, np.empty(0)), voltage_v
        start_voltage_v = voltage_v[at % voltage_v.size]
        higher = voltage_at_current(self._curves(at), limit, start_voltage_v)
        # A state inside the hour has the hour's voltage: its own curve may end below the limit.
        higher = np.where(np.isnan(higher), start_voltage_v, higher)
        voltage = np.broadcast_to(voltage_v, power.shape).copy()
        voltage.reshape(-1)[at] = higher
        return _lower(power, at, np.where(higher <= self._limits.operating_voltage_max_v, higher * limit, 0.0)), voltage

    def _curves(self, at: IntArray) -> DiodeCurve:
        size, factor = self._response.weight_h.size, self._factor
        if isinstance(factor, float):
            curve = select(self._response.curve, at)
            return curve if factor == 1.0 else scaled(curve, factor)
        return scaled(select(self._response.curve, at % size), np.repeat(factor, size)[at])


def _lower(power: FloatArray, at: IntArray, to: FloatArray) -> Loss:
    """Lower the power at some points, never raise it; gives what that takes."""
    flat = power.reshape(-1)
    before = flat[at]
    after = np.minimum(before, to)
    flat[at] = after
    return Loss(at, before - after)

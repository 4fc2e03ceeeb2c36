"""AC power of a module with a microinverter at each operating point, and the loss at each step.

This is the one definition of a year: clipping, selection, design and ageing all call `power_steps`. The points are independent
of each other. The steps, in order:

available at maximum power -> tracker -> start-up -> operating-voltage window -> input-current limit -> conversion -> AC power
limit (clipping) -> thermal derating.

A partly shaded module has several maxima. A global tracker holds the one that gives most after start-up, window and current
limit; a local one stays at that of the highest voltage.

Neglected: tracking error of the maximum-power search, hysteresis of starting and stopping, mismatch between equally lit modules
of one unit, reactive power, disconnection by the grid; that modules in parallel on one input share a voltage under shade.
Conversion is computed at the power before clipping, so that clipping is the loss by the AC limit alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.equipment import (
    ONE_MODULE,
    InputWiring,
    Microinverter,
    ModuleLimits,
    ThermalDerating,
    Tracker,
)
from wattpair_service.engineering.module.dc_response import DcResponse, OtherMaxima, UnitInput
from wattpair_service.engineering.module.single_diode import (
    DiodeCurve,
    OperatingPoint,
    current_at_voltage,
    scaled,
    select,
    voltage_at_current,
)


@dataclass(frozen=True, slots=True, eq=False)
class Loss:
    """Power that a step takes [W] at some points; `index` counts in the flattened array of all points."""

    index: IntArray
    power_w: FloatArray


NO_LOSS = Loss(np.empty(0, dtype=np.int64), np.empty(0))


@dataclass(frozen=True, slots=True, eq=False)
class PowerSteps:
    """Power of one module at each operating point after the steps: arrays of one shape, (..., n) [W].

    Attributes
    ----------
    available_w : array
        At maximum power.
    tracker, start_up, voltage_window, input_current : Loss
        Losses by a local tracker, at start-up, operating-voltage window and input-current limit, in this order.
    at_input_w : array
        DC power after these losses.
    converted_w : array
        AC power before AC limit and derating.
    limited_w : array
        After the AC power limit.
    delivered_w : array
        After thermal derating.
    """

    available_w: FloatArray
    tracker: Loss
    start_up: Loss
    voltage_window: Loss
    input_current: Loss
    at_input_w: FloatArray
    converted_w: FloatArray
    limited_w: FloatArray
    delivered_w: FloatArray


def power_steps(
    response: DcResponse,
    microinverter: Microinverter,
    *,
    input_wiring: InputWiring = ONE_MODULE,
    module_count: int | None = None,
    current_factor: FloatArray | float = 1.0,
) -> PowerSteps:
    """Power of one module with a microinverter after each step.

    Where the last input has fewer modules than the others, or inputs are shaded differently, it is the mean over the modules of
    the unit: each input has its own limits, and the unit converts their sum at the mean of their voltages, weighted with power.

    Parameters
    ----------
    response : DcResponse
        The module's DC response at n operating points.
    microinverter : Microinverter
        Its limits are divided evenly over its modules.
    input_wiring : InputWiring
        Modules on each input. In parallel they share the input-current limit at the module's own voltage.
    module_count : int, optional
        Modules on the unit, which fill its inputs one after another; if omitted, all inputs are full.
    current_factor : float or array, shape (..., 1)
        The module's current over that of the response, at the same voltages.

    Returns
    -------
    PowerSteps
        Of n points, or (..., n). No step adds power.
    """
    modules = module_count or microinverter.module_capacity(input_wiring)
    unit_inputs = response.inputs or [UnitInput(wiring, count, response) for wiring, count in input_wiring.filled(modules)]
    inputs = [
        (
            _DcSide.of(each.response, microinverter.per_module(each.wiring, modules), current_factor, microinverter.tracker),
            each.module_count / modules,
        )
        for each in unit_inputs
    ]
    dc = inputs[0][0] if len(inputs) == 1 else _DcSide.mean(inputs)
    limits = microinverter.per_module(input_wiring, modules)
    converted_w = microinverter.conversion.ac_power_w(dc.power_w * modules, dc.input_voltage_v)
    converted_w /= modules
    # Coefficients given by the caller could give more than the input.
    np.minimum(converted_w, dc.power_w, out=converted_w)
    ac_limit_w = _ac_limit_w(response, limits)
    limited_w = delivered_w = np.minimum(converted_w, ac_limit_w)
    if microinverter.derating is not None:
        factor = derating_factor(microinverter.derating, response.temp_under_module_c)
        delivered_w = np.minimum(limited_w, ac_limit_w * factor)
    return PowerSteps(
        dc.available_w,
        dc.tracker,
        dc.start_up,
        dc.voltage_window,
        dc.input_current,
        dc.power_w,
        converted_w,
        limited_w,
        delivered_w,
    )


def derating_factor(derating: ThermalDerating, temp_c: FloatArray) -> FloatArray:
    """Remaining share of the AC limit (0-1) at a temperature of the air at the microinverter [degC]."""
    factor = np.clip(1.0 - derating.percent_per_k / 100.0 * (temp_c - derating.start_temp_c), 0.0, 1.0)
    return np.where(temp_c > derating.shutdown_temp_c, 0.0, factor)


def _ac_limit_w(response: DcResponse, limits: ModuleLimits) -> FloatArray | float:
    """AC limit of one module at each point [W]: the peak power in a surge of sun between clouds, which is short."""
    if limits.ac_peak_power_w == limits.ac_power_w:
        return limits.ac_power_w
    return np.where(response.is_surge, limits.ac_peak_power_w, limits.ac_power_w)


@dataclass(frozen=True, slots=True, eq=False)
class _DcSide:
    """Power of one module after the DC steps, their losses, and the voltage of its input."""

    available_w: FloatArray
    tracker: Loss
    start_up: Loss
    voltage_window: Loss
    input_current: Loss
    power_w: FloatArray
    input_voltage_v: FloatArray

    @classmethod
    def of(cls, response: DcResponse, limits: ModuleLimits, current_factor: FloatArray | float, tracker: Tracker) -> _DcSide:
        available_w = np.asarray(response.maximum_power.power_w * current_factor)
        lost_by_tracker = NO_LOSS
        if tracker == "local" and response.other_maxima:
            response, point = _at_highest_voltage(response)
            lost_w = np.zeros_like(available_w)
            lost_w[..., point] = available_w[..., point] - response.maximum_power.power_w[point] * current_factor
            lost_by_tracker = _loss_of(lost_w)
        held = _HeldMaximum.of(response, limits, current_factor)
        for other in response.other_maxima:
            held = held.or_better(other, response, limits, current_factor)
        return cls(available_w, lost_by_tracker, *held.losses, held.power_w, held.voltage_v * limits.in_series)

    @classmethod
    def mean(cls, inputs: Sequence[tuple[_DcSide, float]]) -> _DcSide:
        """Of inputs with their shares of the unit's modules."""

        def loss(name: str) -> Loss:
            losses = [(getattr(side, name), share) for side, share in inputs]
            return Loss(
                np.concatenate([each.index for each, _ in losses]),
                np.concatenate([each.power_w * share for each, share in losses]),
            )

        available_w, power_w = (
            np.asarray(sum(getattr(side, name) * share for side, share in inputs)) for name in ("available_w", "power_w")
        )
        times_voltage = sum(side.power_w * share * side.input_voltage_v for side, share in inputs)
        first, _ = inputs[0]
        voltage_v = np.broadcast_to(first.input_voltage_v, power_w.shape).copy()
        np.divide(times_voltage, power_w, out=voltage_v, where=power_w > 0.0)
        at_limits = loss("start_up"), loss("voltage_window"), loss("input_current")
        return cls(available_w, loss("tracker"), *at_limits, power_w, voltage_v)


def _at_highest_voltage(response: DcResponse) -> tuple[DcResponse, IntArray]:
    """The response held at the maximum of the highest voltage, and the points where that is not the highest maximum."""
    best, curve = response.maximum_power, response.curve
    power_w, voltage_v, current_a = (each.copy() for each in (best.power_w, best.voltage_v, best.current_a))
    curves = {each.name: getattr(curve, each.name).copy() for each in fields(DiodeCurve)}
    points = []
    for other in response.other_maxima:
        row = np.flatnonzero(other.at_highest_voltage)
        point = other.point[row]
        points.append(point)
        power_w[point], voltage_v[point] = other.maximum_power.power_w[row], other.maximum_power.voltage_v[row]
        current_a[point] = other.maximum_power.current_a[row]
        for name, values in curves.items():
            values[point] = getattr(other.curve, name)[row]
    held = replace(
        response, curve=DiodeCurve(**curves), maximum_power=OperatingPoint(power_w, voltage_v, current_a), other_maxima=()
    )
    return held, np.concatenate(points)


@dataclass(frozen=True, slots=True, eq=False)
class _HeldMaximum:
    """Power and voltage of the points at the maximum that the tracker holds, and the losses at the three limits."""

    power_w: FloatArray
    voltage_v: FloatArray
    losses: tuple[Loss, Loss, Loss]

    @classmethod
    def of(cls, response: DcResponse, limits: ModuleLimits, current_factor: FloatArray | float) -> _HeldMaximum:
        points = _DcPoints(response, limits, current_factor)
        power_w, voltage_v = points.available_w.copy(), response.maximum_power.voltage_v
        start_up = points.apply_start_up(power_w)
        voltage_window, voltage_v = points.apply_voltage_window(power_w, voltage_v)
        input_current, voltage_v = points.apply_current_limit(power_w, voltage_v)
        return cls(power_w, voltage_v, (start_up, voltage_window, input_current))

    def or_better(
        self, other: OtherMaxima, response: DcResponse, limits: ModuleLimits, current_factor: FloatArray | float
    ) -> _HeldMaximum:
        """The same where it gives more, and the other maximum where that does, after each of the limits."""
        lost_w = np.stack([_dense(loss, self.power_w.shape) for loss in self.losses])
        is_limited = lost_w[..., other.point].reshape(-1, other.point.size).any(axis=0)
        if not is_limited.any():
            return self
        other = other.at_rows(np.flatnonzero(is_limited))
        point = other.point
        elsewhere = replace(
            response,
            curve=other.curve,
            maximum_power=other.maximum_power,
            voltage_oc_v=response.voltage_oc_v[point],
            weight_h=response.weight_h[point],
            other_maxima=(),
        )
        there = _HeldMaximum.of(elsewhere, limits, current_factor)
        other_lost_w = np.stack([_dense(loss, there.power_w.shape) for loss in there.losses])
        own_w = self.power_w[..., point] + _after(lost_w[..., point])
        other_w = there.power_w + _after(other_lost_w)
        best_w = np.maximum(own_w, np.minimum(other_w, own_w[0]))
        lost_w[..., point] = best_w[:-1] - best_w[1:]
        power_w, voltage_v = self.power_w.copy(), np.broadcast_to(self.voltage_v, self.power_w.shape).copy()
        power_w[..., point] = best_w[-1]
        voltage_v[..., point] = np.where(other_w[-1] > own_w[-1], there.voltage_v, voltage_v[..., point])
        first, second, third = (_loss_of(each) for each in lost_w)
        return _HeldMaximum(power_w, voltage_v, (first, second, third))


def _after(lost_w: FloatArray) -> FloatArray:
    """What power has to be added to the final one before each of three losses, and 0 after the last: shape (4, ...)."""
    zero = np.zeros_like(lost_w[:1])
    return np.concatenate([np.cumsum(lost_w[::-1], axis=0)[::-1], zero])


def _dense(loss: Loss, shape: tuple[int, ...]) -> FloatArray:
    power_w = np.zeros(shape)
    power_w.reshape(-1)[loss.index] = loss.power_w
    return power_w


def _loss_of(power_w: FloatArray) -> Loss:
    index = np.flatnonzero(power_w)
    return Loss(index, power_w.reshape(-1)[index])


class _DcPoints:
    """The DC steps. Each lowers the array `power_w` of all points in place where its limit is exceeded, and gives the loss."""

    def __init__(self, response: DcResponse, limits: ModuleLimits, current_factor: FloatArray | float) -> None:
        self._response, self._limits, self._current_factor = response, limits, current_factor
        self.available_w = np.asarray(response.maximum_power.power_w * current_factor)

    def apply_start_up(self, power_w: FloatArray) -> Loss:
        """No power where the module has too little voltage or power to start the unit."""
        limits = self._limits
        below_start = (self._response.voltage_oc_v < limits.start_voltage_v) | (power_w < limits.start_power_w)
        index = np.flatnonzero(below_start)
        return _lower(power_w, index, np.zeros(index.size))

    def apply_voltage_window(self, power_w: FloatArray, voltage_v: FloatArray) -> tuple[Loss, FloatArray]:
        """Clip the voltage to the operating window; gives the new voltages too [V]."""
        lowest_v, highest_v = self._limits.operating_voltage_min_v, self._limits.operating_voltage_max_v
        outside = (voltage_v < lowest_v) | (voltage_v > highest_v)
        if not outside.any():
            return _lower(power_w, np.empty(0, dtype=np.int64), np.empty(0)), voltage_v
        window_voltage_v = np.clip(voltage_v, lowest_v, highest_v)
        index = np.flatnonzero(outside & (power_w > 0.0))
        point_voltage_v = window_voltage_v[index % window_voltage_v.size]
        window_power_w = point_voltage_v * current_at_voltage(self._curves(index), point_voltage_v)
        return _lower(power_w, index, window_power_w), window_voltage_v

    def apply_current_limit(self, power_w: FloatArray, voltage_v: FloatArray) -> tuple[Loss, FloatArray]:
        """Raise the voltage along the curve until the current is at the input-current limit; gives the new voltages too [V].

        Where that voltage lies above the operating window no point satisfies both limits and the input stays off.
        """
        limit_a = self._limits.current_max_a
        index = np.flatnonzero(power_w > limit_a * voltage_v)
        if not index.size:
            return _lower(power_w, index, np.empty(0)), voltage_v
        point_voltage_v = voltage_v[index % voltage_v.size]
        limited_voltage_v = voltage_at_current(self._curves(index), limit_a, point_voltage_v)
        # A subhourly state has the hour's voltage: its own curve may end below the limit.
        limited_voltage_v = np.where(np.isnan(limited_voltage_v), point_voltage_v, limited_voltage_v)
        new_voltage_v = np.broadcast_to(voltage_v, power_w.shape).copy()
        new_voltage_v.reshape(-1)[index] = limited_voltage_v
        in_window = limited_voltage_v <= self._limits.operating_voltage_max_v
        return _lower(power_w, index, np.where(in_window, limited_voltage_v * limit_a, 0.0)), new_voltage_v

    def _curves(self, index: IntArray) -> DiodeCurve:
        """Current-voltage curves of the points at `index`, counted in the flattened array of all points."""
        size, factor = self._response.weight_h.size, self._current_factor
        if isinstance(factor, float):
            curve = select(self._response.curve, index)
            return curve if factor == 1.0 else scaled(curve, factor)
        return scaled(select(self._response.curve, index % size), np.repeat(factor, size)[index])


def _lower(power_w: FloatArray, index: IntArray, limit_w: FloatArray) -> Loss:
    """Lower the power at `index` to `limit_w` in place, where it is higher; gives the loss."""
    flat_w = power_w.reshape(-1)
    before_w = flat_w[index]
    after_w = np.minimum(before_w, limit_w)
    flat_w[index] = after_w
    return Loss(index, before_w - after_w)

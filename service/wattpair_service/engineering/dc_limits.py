"""What the DC side of a microinverter leaves of a module's power: start-up, operating-voltage window, input-current limit.

Most points of a year meet none of them: only those that do are computed and kept.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.dc_response import DcResponse
from wattpair_service.engineering.equipment import ModuleLimits
from wattpair_service.engineering.single_diode import (
    DiodeCurve,
    OperatingPoint,
    current_at_voltage,
    select,
    voltage_at_current,
)

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
Curves = Callable[[IntArray], DiodeCurve]


@dataclass(frozen=True, slots=True, eq=False)
class DcLimited:
    """The points of a response that a DC limit may change, and what is left there of one module's power.

    Attributes
    ----------
    index : array of int
        Which points, rising.
    available_w, started_w, in_window_w, power_w : array
        Before any limit, and after start-up, window and current limit [W].
    voltage_v : array
        DC voltage behind the limits [V].
    """

    index: IntArray
    available_w: FloatArray
    started_w: FloatArray
    in_window_w: FloatArray
    power_w: FloatArray
    voltage_v: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class DcJob:
    """Limits to hold a response against.

    `current_factor`, one number or one for each point, is the module's current, and so its power, over that of the response.
    """

    limits: ModuleLimits
    current_factor: FloatArray | float


def dc_limited(response: DcResponse, jobs: Sequence[DcJob]) -> list[DcLimited]:
    """Points of a response at which one of the limits counts, for each job; all of them are solved together."""
    if not jobs:
        return []
    indexes = [_met(response, job) for job in jobs]
    index, sizes = np.concatenate(indexes), [each.size for each in indexes]
    factor = np.concatenate(
        [
            job.current_factor[each] if isinstance(job.current_factor, np.ndarray) else np.full(each.size, job.current_factor)
            for job, each in zip(jobs, indexes, strict=True)
        ]
    )

    def limit(name: str) -> FloatArray:
        return np.repeat([float(getattr(job.limits, name)) for job in jobs], sizes)

    def curve(some: IntArray) -> DiodeCurve:
        return scaled_curve(select(response.curve, index[some]), factor[some])

    best = response.maximum_power
    available = best.power_w[index] * factor
    point = OperatingPoint(available, best.voltage_v[index], best.current_a[index] * factor)
    started = (response.voltage_oc_v[index] >= limit("start_voltage_v")) & (available >= limit("start_power_w"))
    point = replace(point, power_w=np.where(started, available, 0.0))
    started_w = point.power_w
    highest_v = limit("operating_voltage_max_v")
    point = _within_window(curve, point, limit("operating_voltage_min_v"), highest_v)
    in_window_w = point.power_w
    power, voltage = _within_current(curve, point, limit("current_max_a"), highest_v)
    whole = DcLimited(index, available, started_w, in_window_w, power, voltage)
    names, ends = [each.name for each in fields(DcLimited)], np.cumsum([0, *sizes]).tolist()
    return [DcLimited(**{name: getattr(whole, name)[start:end] for name in names}) for start, end in pairwise(ends)]


def _met(response: DcResponse, job: DcJob) -> IntArray:
    """Points at which a limit may count."""
    best, limits, factor = response.maximum_power, job.limits, job.current_factor
    met = (response.voltage_oc_v < limits.start_voltage_v) | (best.power_w < limits.start_power_w / factor)
    met |= best.power_w <= 0.0
    met |= best.voltage_v < limits.operating_voltage_min_v
    met |= best.voltage_v > limits.operating_voltage_max_v
    met |= best.current_a > limits.current_max_a / factor
    return np.flatnonzero(met)


def scaled_curve(curve: DiodeCurve, current_factor: FloatArray | float) -> DiodeCurve:
    """Curves of a module with the same voltages and `current_factor` times the current: exact for a single diode."""
    return DiodeCurve(
        photocurrent_a=curve.photocurrent_a * current_factor,
        saturation_current_a=curve.saturation_current_a * current_factor,
        series_resistance_ohm=curve.series_resistance_ohm / current_factor,
        shunt_resistance_ohm=curve.shunt_resistance_ohm / current_factor,
        a_v=curve.a_v,
    )


def _within_window(curve: Curves, point: OperatingPoint, lowest_v: FloatArray, highest_v: FloatArray) -> OperatingPoint:
    """The operating point after holding the voltage inside the operating window."""
    held = np.clip(point.voltage_v, lowest_v, highest_v)
    moved = np.flatnonzero((point.power_w > 0.0) & (held != point.voltage_v))
    if not moved.size:
        return point
    there = held[moved]
    flowing = current_at_voltage(curve(moved), there)
    return OperatingPoint(
        replaced(point.power_w, moved, np.minimum(there * flowing, point.power_w[moved])),
        replaced(point.voltage_v, moved, there),
        replaced(point.current_a, moved, flowing),
    )


def _within_current(
    curve: Curves, point: OperatingPoint, limit_a: FloatArray, highest_v: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Power and voltage after moving up the curve to the input-current limit.

    Where that point lies above the operating window no point suits both limits and the input stays off.
    """
    over = np.flatnonzero((point.power_w > 0.0) & (point.current_a > limit_a))
    if not over.size:
        return point.power_w, point.voltage_v
    limit, before_w = limit_a[over], point.power_w[over]
    higher = voltage_at_current(curve(over), limit)
    # A state inside the hour has the hour's voltage: its own curve may end below the limit.
    higher = np.where(np.isnan(higher), point.voltage_v[over], higher)
    power = np.where(higher <= highest_v[over], np.minimum(higher * limit, before_w), 0.0)
    return replaced(point.power_w, over, power), replaced(point.voltage_v, over, higher)


def replaced(values: FloatArray, index: IntArray, there: FloatArray) -> FloatArray:
    """A copy of `values` with some of them replaced."""
    found = values.copy()
    found[index] = there
    return found

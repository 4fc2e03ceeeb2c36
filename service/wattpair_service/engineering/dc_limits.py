"""What the DC side of a microinverter leaves of a module's power: start-up, operating-voltage window, input-current limit.

Most points of a year meet none of them: only those that do are computed and kept.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
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
BoolArray = npt.NDArray[np.bool_]
Curves = Callable[[IntArray], DiodeCurve]


@dataclass(frozen=True, slots=True, eq=False)
class CurrentFactors:
    """The current of each job's module, and so its power, over that of a response; several at once.

    `values` has shape (jobs, 1), or (jobs, k) with the column that each point of the response stands in.
    """

    values: FloatArray
    column: IntArray | None = None

    def at(self, points: IntArray) -> FloatArray:
        """Of every job at some points, shape (jobs, points) or (jobs, 1)."""
        return self.values if self.column is None else self.values[:, self.column[points]]

    def of(self, job: IntArray, point: IntArray) -> FloatArray:
        """Of pairs of job and point, job by job."""
        if self.column is None:
            return of_each(self.values[:, 0], job)
        return self.values[job, self.column[point]]


@dataclass(frozen=True, slots=True, eq=False)
class DcLimited:
    """The points of a response that a DC limit may change, and what is left there of one module's power.

    Attributes
    ----------
    job, index : array of int
        Whose limit and which point, job by job, each rising.
    available_w, started_w, in_window_w, power_w : array
        Before any limit, and after start-up, window and current limit [W].
    voltage_v : array
        DC voltage behind the limits [V].
    """

    job: IntArray
    index: IntArray
    available_w: FloatArray
    started_w: FloatArray
    in_window_w: FloatArray
    power_w: FloatArray
    voltage_v: FloatArray

    def by_job(self, count: int) -> list[DcLimited]:
        """The points of each job by itself."""
        ends = np.searchsorted(self.job, np.arange(count + 1)).tolist()
        names = [each.name for each in fields(self)]
        return [DcLimited(**{name: getattr(self, name)[start:end] for name in names}) for start, end in pairwise(ends)]


@dataclass(frozen=True, slots=True, eq=False)
class Unstarted:
    """The points at which the module is too weak for one of several jobs, hour by hour, and for which: shape (jobs, points)."""

    index: IntArray
    off: BoolArray


Limits = Mapping[str, FloatArray]
"""One column for each field of `ModuleLimits`, a value for each job."""


def columns(limits: Sequence[ModuleLimits]) -> Limits:
    """The limits of several jobs."""
    return {each.name: np.array([float(getattr(of, each.name)) for of in limits]) for each in fields(ModuleLimits)}


def dc_limited(response: DcResponse, limits: Limits, factors: CurrentFactors) -> DcLimited:
    """Points of a response at which one of the limits counts, for each job."""
    weak, moved = unstarted(response, limits, factors), dc_moved(response, limits, factors)
    job, at = pairs(weak.off)
    index = weak.index[at]
    available, nothing = response.maximum_power.power_w[index] * factors.of(job, index), np.zeros(index.size)
    off = DcLimited(job, index, available, nothing, nothing, nothing, response.maximum_power.voltage_v[index])
    both = {each.name: np.concatenate([getattr(off, each.name), getattr(moved, each.name)]) for each in fields(DcLimited)}
    order = np.lexsort((both["index"], both["job"]))
    return DcLimited(**{name: values[order] for name, values in both.items()})


def unstarted(response: DcResponse, limits: Limits, factors: CurrentFactors) -> Unstarted:
    """Points that do not come up to the start-up's voltage or power."""
    power_w, open_v = response.maximum_power.power_w, response.voltage_oc_v
    start_v, start_w = limits["start_voltage_v"], limits["start_power_w"]
    weakest = float((start_w / factors.values.min(axis=1)).max())
    index = np.flatnonzero((power_w < weakest) | (power_w <= 0.0) | (open_v < start_v.max()))
    index = index[np.argsort(response.interval[index], kind="stable")]
    return Unstarted(index, ~_started(response, limits, factors, index))


def _started(response: DcResponse, limits: Limits, factors: CurrentFactors, index: IntArray) -> BoolArray:
    available = response.maximum_power.power_w[index] * factors.at(index)
    enough = response.voltage_oc_v[index] >= limits["start_voltage_v"][:, None]
    return enough & (available >= limits["start_power_w"][:, None]) & (available > 0.0)


def dc_moved(response: DcResponse, limits: Limits, factors: CurrentFactors) -> DcLimited:
    """Points that have started and are moved along their curve by window or current limit; all are solved together."""
    best, curves = response.maximum_power, response.curve
    lowest_v, highest_v = limits["operating_voltage_min_v"], limits["operating_voltage_max_v"]
    least_a = float((limits["current_max_a"] / factors.values.max(axis=1)).min())
    some = np.flatnonzero((best.current_a > least_a) | (best.voltage_v < lowest_v.max()) | (best.voltage_v > highest_v.min()))
    voltage, factor = best.voltage_v[some], factors.at(some)
    met = best.current_a[some] * factor > limits["current_max_a"][:, None]
    met |= (voltage < lowest_v[:, None]) | (voltage > highest_v[:, None])
    job, at = pairs(met & _started(response, limits, factors, some))
    index = some[at]
    factor = factors.of(job, index)
    lowest, highest, most_a = (
        of_each(limits[name], job) for name in ("operating_voltage_min_v", "operating_voltage_max_v", "current_max_a")
    )

    def curve(here: IntArray) -> DiodeCurve:
        return scaled_curve(select(curves, index[here]), factor[here])

    available = best.power_w[index] * factor
    inside = _within_window(
        curve, OperatingPoint(available, best.voltage_v[index], best.current_a[index] * factor), lowest, highest
    )
    power, voltage = _within_current(curve, inside, most_a, highest)
    return DcLimited(job, index, available, available, inside.power_w, power, voltage)


def of_each(values: FloatArray, job: IntArray) -> FloatArray:
    """A value of each job at pairs of job and point, job by job: quicker than by index."""
    return np.repeat(values, np.diff(np.searchsorted(job, np.arange(values.size + 1))))


def pairs(mask: BoolArray) -> tuple[IntArray, IntArray]:
    """Row and column of each true value of a table, row by row."""
    flat, (rows, width) = np.flatnonzero(mask), mask.shape
    row = np.repeat(np.arange(rows), np.diff(np.searchsorted(flat, np.arange(rows + 1) * width)))
    return row, flat - row * width


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
    higher = voltage_at_current(curve(over), limit, point.voltage_v[over])
    # A state inside the hour has the hour's voltage: its own curve may end below the limit.
    higher = np.where(np.isnan(higher), point.voltage_v[over], higher)
    power = np.where(higher <= highest_v[over], np.minimum(higher * limit, before_w), 0.0)
    return replaced(point.power_w, over, power), replaced(point.voltage_v, over, higher)


def replaced(values: FloatArray, index: IntArray, there: FloatArray) -> FloatArray:
    """A copy of `values` with some of them replaced."""
    found = values.copy()
    found[index] = there
    return found

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


def dc_limited(response: DcResponse, limits: Sequence[ModuleLimits], factors: CurrentFactors) -> DcLimited:
    """Points of a response at which one of the limits counts, for each job; all of them are solved together."""
    table = {each.name: np.array([float(getattr(of, each.name)) for of in limits]) for each in fields(ModuleLimits)}
    job, index = _met(response, table, factors)
    factor, best = factors.of(job, index), response.maximum_power
    available, voltage = best.power_w[index] * factor, best.voltage_v[index]
    start_v, start_w = of_each(table["start_voltage_v"], job), of_each(table["start_power_w"], job)
    started = (response.voltage_oc_v[index] >= start_v) & (available >= start_w)
    started_w = np.where(started, available, 0.0)
    on = np.flatnonzero(started_w > 0.0)
    limit = {name: of_each(column, job[on]) for name, column in table.items() if name in _MOVING}
    point = OperatingPoint(available[on], voltage[on], best.current_a[index[on]] * factor[on])

    def curve(some: IntArray) -> DiodeCurve:
        return scaled_curve(select(response.curve, index[on[some]]), factor[on[some]])

    inside = _within_window(curve, point, limit["operating_voltage_min_v"], limit["operating_voltage_max_v"])
    power, higher = _within_current(curve, inside, limit["current_max_a"], limit["operating_voltage_max_v"])
    return DcLimited(
        job,
        index,
        available,
        started_w,
        replaced(started_w, on, inside.power_w),
        replaced(started_w, on, power),
        replaced(voltage, on, higher),
    )


_MOVING = ("operating_voltage_min_v", "operating_voltage_max_v", "current_max_a")


def _met(response: DcResponse, limit: Mapping[str, FloatArray], factors: CurrentFactors) -> tuple[IntArray, IntArray]:
    """Pairs of job and point at which a limit may count; only points that one of the jobs may meet are looked at closely."""
    best, open_v = response.maximum_power, response.voltage_oc_v
    lowest, highest = factors.values.min(axis=1), factors.values.max(axis=1)
    some = np.flatnonzero(
        (open_v < limit["start_voltage_v"].max())
        | (best.power_w <= max(0.0, float((limit["start_power_w"] / lowest).max())))
        | (best.voltage_v < limit["operating_voltage_min_v"].max())
        | (best.voltage_v > limit["operating_voltage_max_v"].min())
        | (best.current_a > (limit["current_max_a"] / highest).min())
    )
    factor = factors.at(some)
    power_w, voltage_v = best.power_w[some], best.voltage_v[some]
    met = (open_v[some] < limit["start_voltage_v"][:, None]) | (power_w < limit["start_power_w"][:, None] / factor)
    met |= power_w <= 0.0
    met |= voltage_v < limit["operating_voltage_min_v"][:, None]
    met |= voltage_v > limit["operating_voltage_max_v"][:, None]
    met |= best.current_a[some] > limit["current_max_a"][:, None] / factor
    job, at = pairs(met)
    return job, some[at]


def of_each(values: FloatArray, job: IntArray) -> FloatArray:
    """A value of each job at pairs of job and point, job by job: quicker than by index."""
    return np.repeat(values, np.bincount(job, minlength=values.size))


def pairs(mask: BoolArray) -> tuple[IntArray, IntArray]:
    """Row and column of each true value of a table, row by row."""
    flat = np.flatnonzero(mask)
    row = np.repeat(np.arange(mask.shape[0]), np.count_nonzero(mask, axis=1))
    return row, flat - row * mask.shape[1]


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

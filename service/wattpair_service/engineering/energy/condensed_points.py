"""A roof's DC response condensed to some thousand weighted points, for calculations that evaluate a year many times.

Points of similar power and voltage are merged into one with the same energy. Conversion and limits then apply to the mean of
such a group: the error is below 0.06 % of the yearly energy and 0.03 points of the clipped share. Where household load or
export limit counts, whole moments of the roof of the same month and hour are merged, so that the sum over the faces stays
right: the error is then below 0.4 % and 0.4 points. Both are asserted on random units. Reported energies come from all points;
break-even powers and their curves come from condensed points.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray, paired, without_gaps
from wattpair_service.engineering.energy.roof_dc import Cells, InCells, RoofDc, RoofTime
from wattpair_service.engineering.module.merged_points import maxima_of, merged_points
from wattpair_service.engineering.module.single_diode import OperatingPoint, scaled

EQUAL_STEPS = 40
"""Steps of power from 0 to the highest, for each face and for surges apart."""
LOW_POWER_SHARE = 0.2
"""Share of the highest power below which the steps are finer."""
LOW_POWER_LEVELS = 64
POWER_LEVELS = LOW_POWER_LEVELS + round((1.0 - LOW_POWER_SHARE) * EQUAL_STEPS)
VOLTAGE_LEVELS = 12
"""Equal steps of voltage within each level of power: an input-current limit acts on cold points and warm ones differently."""
BY_VOLTAGE_SHARE = 0.2
"""Share of the highest power from which points are split by voltage: below it no input-current limit is reached."""
CELL_LEVELS = 6
"""Equal steps of power within a face at a moment, where its modules are shaded differently."""
MOMENT_LEVELS = 24
"""Equal steps of the roof's power within each hour of the mean day of each month."""


def condensed(dc: RoofDc, *, moments: bool = False) -> RoofDc:
    """A roof's DC response in few points.

    Parameters
    ----------
    dc : RoofDc
        With n points.
    moments : bool
        Whether to merge whole moments of the roof, so that the faces' powers at the same time can still be summed.
    """
    if not dc.response.maximum_power.power_w.size:
        return dc
    few = _Moments.of(dc).condensed if moments else _condensed_points
    return few(dc) if dc.shaded is None else replace(few(dc), shaded=dc.shaded.changed(few))


def _condensed_points(dc: RoofDc) -> RoofDc:
    group = _by_power_and_voltage(dc)
    return replace(_merged(dc, group, np.arange(int(group.max()) + 1)), in_cells=None)


@dataclass(frozen=True, slots=True, eq=False)
class _Moments:
    """Merges moments of the same month and hour and of similar power of the whole roof, surges apart."""

    new_moment: IntArray
    time: RoofTime

    @classmethod
    def of(cls, dc: RoofDc) -> _Moments:
        moment_count, cells = dc.time.weight_h.size, dc.cells
        cell_power_w = dc.cell_power_w(dc.response.maximum_power.power_w, slice(None), cells.face.size)
        roof_power_w = np.bincount(cells.moment, weights=cell_power_w, minlength=moment_count).astype(np.float64)
        is_surge = np.bincount(dc.moment, weights=dc.response.is_surge, minlength=moment_count) > 0.0
        month_hour = ((dc.time.month - 1) * 24 + dc.time.hour) * 2 + is_surge
        new_moment = _by_equal_power_steps(roof_power_w, month_hour, MOMENT_LEVELS)
        new_count = int(new_moment.max()) + 1
        weight_h = np.bincount(new_moment, weights=dc.time.weight_h, minlength=new_count).astype(np.float64)
        example = np.zeros(new_count, dtype=np.int64)
        example[new_moment] = np.arange(moment_count)
        month, hour = dc.time.month[example], dc.time.hour[example]
        return cls(new_moment, replace(dc.time, weight_h=weight_h, month=month, hour=hour, merged_into=new_moment))

    def condensed(self, dc: RoofDc) -> RoofDc:
        """The points of such a roof, merged."""
        new_count = self.time.weight_h.size
        cell, cell_of_point = np.unique(dc.face * new_count + self.new_moment[dc.moment], return_inverse=True)
        group = cell_of_point
        if dc.in_cells is not None:
            power_w = dc.response.maximum_power.power_w
            level = np.minimum(power_w * (CELL_LEVELS / max(float(power_w.max()), 1e-9)), CELL_LEVELS - 1).astype(np.int64)
            group = paired(without_gaps(group * CELL_LEVELS + level), maxima_of(dc.response))
        cell_of_group = np.zeros(int(group.max()) + 1, dtype=np.int64)
        cell_of_group[group] = cell_of_point
        moment_of_cell = cell % new_count
        moment = moment_of_cell[cell_of_group]
        merged = _merged(replace(dc, time=self.time), group, moment)
        # A face may be dark in some of the merged moments: its power is spread over the hours of all of them.
        weight_h = self.time.weight_h[moment]
        share = merged.response.weight_h / weight_h
        if dc.in_cells is not None:
            cells = Cells(cell // new_count, moment_of_cell, self.time.weight_h[moment_of_cell], dc.face_count)
            return replace(merged, in_cells=InCells(cells, cell_of_group, share))
        best = merged.response.maximum_power
        return replace(
            merged,
            response=replace(
                merged.response,
                weight_h=weight_h,
                curve=scaled(merged.response.curve, share),
                maximum_power=OperatingPoint(best.power_w * share, best.voltage_v, best.current_a * share),
            ),
        )


def _by_power_and_voltage(dc: RoofDc) -> IntArray:
    """Group of each point, numbered without gaps: by face, surge or not, level of power and, at high power, voltage."""
    best, face = dc.response.maximum_power, dc.face
    bounds = np.searchsorted(face, np.arange(dc.face_count + 1))
    level = np.empty(face.size, dtype=np.int64)
    for start, end in zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True):
        if end > start:
            level[start:end] = _power_voltage_level(best.power_w[start:end], best.voltage_v[start:end])
    number = without_gaps((2 * face + dc.response.is_surge) * (POWER_LEVELS * (VOLTAGE_LEVELS + 1)) + level)
    return number if dc.in_cells is None else paired(number, maxima_of(dc.response))


def _power_voltage_level(power_w: FloatArray, voltage_v: FloatArray) -> IntArray:
    highest_w = float(power_w.max())
    by_voltage = np.flatnonzero(power_w >= BY_VOLTAGE_SHARE * highest_w)
    split_v = voltage_v[by_voltage]
    lowest_v, step_v = float(split_v.min()), max(float(np.ptp(split_v)), 1e-9) / VOLTAGE_LEVELS
    share = power_w / max(highest_w, 1e-9)
    # By the root at low power, to resolve start-up and own consumption, which are a few watts.
    power_level = np.where(
        share < LOW_POWER_SHARE,
        np.sqrt(share / LOW_POWER_SHARE) * LOW_POWER_LEVELS,
        LOW_POWER_LEVELS + (share - LOW_POWER_SHARE) * EQUAL_STEPS,
    )
    level = np.minimum(power_level.astype(np.int64), POWER_LEVELS - 1) * (VOLTAGE_LEVELS + 1)
    level[by_voltage] += np.minimum(((split_v - lowest_v) / step_v).astype(np.int64), VOLTAGE_LEVELS - 1) + 1
    return level


def _by_equal_power_steps(power_w: FloatArray, kind: IntArray, step_count: int) -> IntArray:
    """Group of each value, numbered without gaps: by kind, then in equal steps up to the highest power of that kind."""
    highest_w = np.zeros(int(kind.max()) + 1)
    np.maximum.at(highest_w, kind, power_w)
    step_w = np.where(highest_w > 0.0, highest_w, 1.0)[kind] / step_count
    return without_gaps(kind * step_count + np.minimum((power_w / step_w).astype(np.int64), step_count - 1))


def _merged(dc: RoofDc, group: IntArray, moment: IntArray) -> RoofDc:
    """One point for each group: weighted means of its points, its voltage such that power and current keep their means."""
    face = np.zeros(moment.size, dtype=np.int64)
    face[group] = dc.face
    return replace(dc, response=merged_points(dc.response, group, moment.size), face=face, moment=moment, hour_means=None)

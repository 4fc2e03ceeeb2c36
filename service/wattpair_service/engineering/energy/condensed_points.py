"""A roof's DC dc in some thousand weighted points, for what has to look at a year many times.

Points of like power and voltage become one, with their energy kept. Conversion and limits are then met at the mean of such a
group: of the yearly energy that costs less than 0.06 %, of the clipped share less than 0.03 points. Where the home's load or
the export limit counts, whole moments of the roof of the same month and hour become one, so that the faces still add up as they
did: that costs less than 0.4 % and 0.4 points. Both are asserted on random units. Reported energies come from all points;
break-even powers and their curves come from these.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.energy.roof_dc import RoofDc
from wattpair_service.engineering.module.dc_response import DcResponse
from wattpair_service.engineering.module.single_diode import DiodeCurve, OperatingPoint, scaled

FACE_LEVELS = 40
"""Groups of each face and kind of point, in equal steps of power."""
VOLTAGES = 12
"""Groups of each level of power by voltage, in equal steps: an input-current limit knows cold points from warm ones."""
LITTLE = 0.2
"""Share of the highest power below which the steps are finer."""
LOW_LEVELS = 32
LEVELS = LOW_LEVELS + round((1.0 - LITTLE) * FACE_LEVELS)
STRONG_SHARE = 0.2
"""Of the highest power, from which on a current limit may be met."""
CELL_LEVELS = 24
"""Groups of the roof's moments in each hour of the mean day of each month, in equal steps of power."""


def condensed(dc: RoofDc, *, moments: bool = False) -> RoofDc:
    """The dc in few points.

    Parameters
    ----------
    dc : RoofDc
        With n points.
    moments : bool
        Whether what the faces give at the same time is kept together.
    """
    response, best = dc.response, dc.response.maximum_power.power_w
    if not best.size:
        return dc
    if not moments:
        group = _by_power_and_voltage(dc)
        return _grouped(dc, group, np.arange(int(group.max()) + 1))
    slots = dc.time.weight_h.size
    together = np.bincount(dc.moment, weights=best, minlength=slots).astype(np.float64)
    surge = np.bincount(dc.moment, weights=response.is_surge, minlength=slots) > 0.0
    cell = ((dc.time.month - 1) * 24 + dc.time.hour) * 2 + surge
    level = _levels(together, cell, CELL_LEVELS)
    count = int(level.max()) + 1
    _, group = np.unique(dc.face * count + level[dc.moment], return_inverse=True)
    moment = np.zeros(int(group.max()) + 1, dtype=np.int64)
    moment[group] = level[dc.moment]
    weight = np.bincount(level, weights=dc.time.weight_h, minlength=count).astype(np.float64)
    first = np.zeros(count, dtype=np.int64)
    first[level] = np.arange(slots)
    time = replace(dc.time, weight_h=weight, month=dc.time.month[first], hour=dc.time.hour[first])
    found = _grouped(replace(dc, time=time), group, moment)
    # A moment in which only some of the grouped moments have light on a face still counts in full.
    share, few = found.response.weight_h / weight[moment], found.response
    best_of = few.maximum_power
    return replace(
        found,
        response=replace(
            few,
            weight_h=weight[moment],
            curve=scaled(few.curve, share),
            maximum_power=OperatingPoint(best_of.power_w * share, best_of.voltage_v, best_of.current_a * share),
        ),
    )


def _by_power_and_voltage(dc: RoofDc) -> IntArray:
    """Number of each point's group, from 0 without gaps: by face, surge or not, level of power and, where strong, voltage."""
    best, face = dc.response.maximum_power, dc.face
    bounds = np.searchsorted(face, np.arange(dc.face_count + 1))
    cell = np.empty(face.size, dtype=np.int64)
    for start, end in zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True):
        if end > start:
            cell[start:end] = _cells(best.power_w[start:end], best.voltage_v[start:end])
    return _numbered((2 * face + dc.response.is_surge) * (LEVELS * (VOLTAGES + 1)) + cell)


def _cells(power: FloatArray, voltage: FloatArray) -> IntArray:
    highest = float(power.max())
    strong = np.flatnonzero(power >= STRONG_SHARE * highest)
    warm = voltage[strong]
    low, step = float(warm.min()), max(float(np.ptp(warm)), 1e-9) / VOLTAGES
    share = power / max(highest, 1e-9)
    # By the root where there is little, so that start-up and own consumption, a few watts, are met.
    level = np.where(share < LITTLE, np.sqrt(share / LITTLE) * LOW_LEVELS, LOW_LEVELS + (share - LITTLE) * FACE_LEVELS)
    cell = np.minimum(level.astype(np.int64), LEVELS - 1) * (VOLTAGES + 1)
    cell[strong] += np.minimum(((warm - low) / step).astype(np.int64), VOLTAGES - 1) + 1
    return cell


def _levels(power: FloatArray, kind: IntArray, levels: int) -> IntArray:
    """Number of each point's group, from 0 without gaps: by kind, then by power in equal steps up to the kind's highest."""
    highest = np.zeros(int(kind.max()) + 1)
    np.maximum.at(highest, kind, power)
    step = np.where(highest > 0.0, highest, 1.0)[kind] / levels
    cell = kind * levels + np.minimum((power / step).astype(np.int64), levels - 1)
    return _numbered(cell)


def _numbered(cell: IntArray) -> IntArray:
    """The cells that are used, numbered from 0 without gaps."""
    used = np.bincount(cell) > 0
    return (np.cumsum(used) - 1)[cell]


def _grouped(dc: RoofDc, group: IntArray, moment: IntArray) -> RoofDc:
    response, count = dc.response, moment.size
    weight = np.bincount(group, weights=response.weight_h, minlength=count).astype(np.float64)
    weights = np.where(weight > 0.0, weight, 1.0)

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(group, weights=values * response.weight_h, minlength=count) / weights)

    def of_one(values: npt.NDArray[np.generic]) -> npt.NDArray[np.generic]:
        found = np.zeros(count, dtype=values.dtype)
        found[group] = values
        return found

    best = response.maximum_power
    power, current = mean(best.power_w), mean(best.current_a)
    voltage = np.divide(power, current, out=mean(best.voltage_v), where=current > 0.0)
    together = DcResponse(
        curve=DiodeCurve(*(mean(getattr(response.curve, each.name)) for each in fields(DiodeCurve))),
        maximum_power=OperatingPoint(power, voltage, current),
        voltage_oc_v=mean(response.voltage_oc_v),
        irradiance_w_m2=mean(response.irradiance_w_m2),
        temp_cell_c=mean(response.temp_cell_c),
        temp_under_module_c=mean(response.temp_under_module_c),
        weight_h=weight,
        month=np.asarray(of_one(response.month), dtype=np.int64),
        hour=np.asarray(of_one(response.hour), dtype=np.int64),
        is_surge=np.asarray(of_one(response.is_surge), dtype=np.bool_),
        dark_hours_by_month=response.dark_hours_by_month,
    )
    face = np.asarray(of_one(dc.face), dtype=np.int64)
    return replace(dc, response=together, face=face, moment=moment, hour_means=None)

"""A roof's DC response condensed to some thousand weighted points, for calculations that evaluate a year many times.

Points of similar power and voltage are merged into one with the same energy. Conversion and limits then apply to the mean of
such a group: the error is below 0.06 % of the yearly energy and 0.03 points of the clipped share. Where household load or
export limit counts, whole moments of the roof of the same month and hour are merged, so that the sum over the faces stays
right: the error is then below 0.4 % and 0.4 points. Both are asserted on random units. Reported energies come from all points;
break-even powers and their curves come from condensed points.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.energy.roof_dc import RoofDc
from wattpair_service.engineering.module.dc_response import DcResponse
from wattpair_service.engineering.module.single_diode import DiodeCurve, OperatingPoint, scaled

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
    if moments:
        return _condensed_moments(dc)
    group = _by_power_and_voltage(dc)
    return _merged(dc, group, np.arange(int(group.max()) + 1))


def _condensed_moments(dc: RoofDc) -> RoofDc:
    """Merge moments of the same month and hour and of similar power of the whole roof, surges apart."""
    response, moment_count = dc.response, dc.time.weight_h.size
    roof_power_w = np.bincount(dc.moment, weights=response.maximum_power.power_w, minlength=moment_count).astype(np.float64)
    is_surge = np.bincount(dc.moment, weights=response.is_surge, minlength=moment_count) > 0.0
    month_hour = ((dc.time.month - 1) * 24 + dc.time.hour) * 2 + is_surge
    new_moment = _by_equal_power_steps(roof_power_w, month_hour, MOMENT_LEVELS)
    new_count = int(new_moment.max()) + 1
    _, group = np.unique(dc.face * new_count + new_moment[dc.moment], return_inverse=True)
    moment_of_group = np.zeros(int(group.max()) + 1, dtype=np.int64)
    moment_of_group[group] = new_moment[dc.moment]
    weight_h = np.bincount(new_moment, weights=dc.time.weight_h, minlength=new_count).astype(np.float64)
    example = np.zeros(new_count, dtype=np.int64)
    example[new_moment] = np.arange(moment_count)
    time = replace(dc.time, weight_h=weight_h, month=dc.time.month[example], hour=dc.time.hour[example], merged_into=new_moment)
    merged = _merged(replace(dc, time=time), group, moment_of_group)
    # A face may be dark in some of the merged moments: its power is spread over the hours of all of them.
    lit_share = merged.response.weight_h / weight_h[moment_of_group]
    best = merged.response.maximum_power
    return replace(
        merged,
        response=replace(
            merged.response,
            weight_h=weight_h[moment_of_group],
            curve=scaled(merged.response.curve, lit_share),
            maximum_power=OperatingPoint(best.power_w * lit_share, best.voltage_v, best.current_a * lit_share),
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
    return _without_gaps((2 * face + dc.response.is_surge) * (POWER_LEVELS * (VOLTAGE_LEVELS + 1)) + level)


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
    return _without_gaps(kind * step_count + np.minimum((power_w / step_w).astype(np.int64), step_count - 1))


def _without_gaps(number: IntArray) -> IntArray:
    """The numbers that occur, numbered anew from 0 in their order."""
    occurs = np.bincount(number) > 0
    return (np.cumsum(occurs) - 1)[number]


def _merged(dc: RoofDc, group: IntArray, moment: IntArray) -> RoofDc:
    """One point for each group: weighted means of its points, its voltage such that power and current keep their means."""
    response, count = dc.response, moment.size
    weight_h = np.bincount(group, weights=response.weight_h, minlength=count).astype(np.float64)
    divisor_h = np.where(weight_h > 0.0, weight_h, 1.0)

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(group, weights=values * response.weight_h, minlength=count) / divisor_h)

    def of_one(values: npt.NDArray[np.generic]) -> npt.NDArray[np.generic]:
        """The value of one of the group's points, where all have the same."""
        result = np.zeros(count, dtype=values.dtype)
        result[group] = values
        return result

    best = response.maximum_power
    power_w, current_a = mean(best.power_w), mean(best.current_a)
    voltage_v = np.divide(power_w, current_a, out=mean(best.voltage_v), where=current_a > 0.0)
    merged = DcResponse(
        curve=DiodeCurve(*(mean(getattr(response.curve, each.name)) for each in fields(DiodeCurve))),
        maximum_power=OperatingPoint(power_w, voltage_v, current_a),
        voltage_oc_v=mean(response.voltage_oc_v),
        irradiance_w_m2=mean(response.irradiance_w_m2),
        temp_cell_c=mean(response.temp_cell_c),
        temp_under_module_c=mean(response.temp_under_module_c),
        weight_h=weight_h,
        month=np.asarray(of_one(response.month), dtype=np.int64),
        hour=np.asarray(of_one(response.hour), dtype=np.int64),
        is_surge=np.asarray(of_one(response.is_surge), dtype=np.bool_),
        dark_hours_by_month=response.dark_hours_by_month,
    )
    face = np.asarray(of_one(dc.face), dtype=np.int64)
    return replace(dc, response=merged, face=face, moment=moment, hour_means=None)

"""Points of a DC response merged into few: weighted means, which keep energy and current."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.arrays import FloatArray, IntArray, paired, without_gaps
from wattpair_service.engineering.module.dc_response import DcResponse, OtherMaxima, PointShade
from wattpair_service.engineering.module.single_diode import DiodeCurve, OperatingPoint


def merged_points(response: DcResponse, group: IntArray, count: int) -> DcResponse:
    """One point for each of `count` groups; `group` is that of each point. The points of a group have the same lower maxima."""
    mean = _Mean(group, response.weight_h, count)

    def of_one(values: npt.NDArray[np.generic]) -> npt.NDArray[np.generic]:
        """The value of one of the group's points, where all have the same."""
        result = np.zeros(count, dtype=values.dtype)
        result[group] = values
        return result

    return DcResponse(
        curve=mean.curve(response.curve),
        maximum_power=mean.operating_point(response.maximum_power),
        voltage_oc_v=mean(response.voltage_oc_v),
        irradiance_w_m2=mean(response.irradiance_w_m2),
        temp_cell_c=mean(response.temp_cell_c),
        temp_under_module_c=mean(response.temp_under_module_c),
        weight_h=np.bincount(group, weights=response.weight_h, minlength=count).astype(np.float64),
        month=np.asarray(of_one(response.month), dtype=np.int64),
        hour=np.asarray(of_one(response.hour), dtype=np.int64),
        is_surge=np.asarray(of_one(response.is_surge), dtype=np.bool_),
        dark_hours_by_month=response.dark_hours_by_month,
        shade=response.shade and PointShade(mean(response.shade.unshaded_w), mean(response.shade.irradiance_loss_w)),
        other_maxima=tuple(_merged_maxima(each, group, response.weight_h) for each in response.other_maxima),
        inputs=tuple(
            replace(each, response=merged_points(replace(each.response, weight_h=response.weight_h), group, count))
            for each in response.inputs
        ),
    )


def _merged_maxima(other: OtherMaxima, group: IntArray, weight_h: FloatArray) -> OtherMaxima:
    point, row = np.unique(group[other.point], return_inverse=True)
    mean = _Mean(row, weight_h[other.point], point.size)
    at_highest_voltage = np.zeros(point.size, dtype=np.bool_)
    at_highest_voltage[row] = other.at_highest_voltage
    return OtherMaxima(point, mean.curve(other.curve), mean.operating_point(other.maximum_power), at_highest_voltage)


class _Mean:
    """Weighted mean of values over the groups of their points."""

    def __init__(self, group: IntArray, weight_h: FloatArray, count: int) -> None:
        self._group, self._weight_h, self._count = group, weight_h, count
        total_h = np.bincount(group, weights=weight_h, minlength=count)
        self._divisor_h = np.where(total_h > 0.0, total_h, 1.0)

    def __call__(self, values: FloatArray) -> FloatArray:
        sums = np.bincount(self._group, weights=values * self._weight_h, minlength=self._count)
        return np.asarray(sums / self._divisor_h)

    def curve(self, curve: DiodeCurve) -> DiodeCurve:
        return DiodeCurve(*(self(getattr(curve, each.name)) for each in fields(DiodeCurve)))

    def operating_point(self, best: OperatingPoint) -> OperatingPoint:
        power_w, current_a = self(best.power_w), self(best.current_a)
        voltage_v = np.divide(power_w, current_a, out=self(best.voltage_v), where=current_a > 0.0)
        return OperatingPoint(power_w, voltage_v, current_a)


def maxima_of(response: DcResponse) -> IntArray:
    """A number, without gaps, for the lower maxima that each point has: only points with the same number are merged."""
    number = np.zeros(response.weight_h.size, dtype=np.int64)
    for index, other in enumerate(response.other_maxima):
        number[other.point] += 1 << index
    number = without_gaps(number)
    for each in response.inputs:
        number = paired(number, maxima_of(each.response))
    return number

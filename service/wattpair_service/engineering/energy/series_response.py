"""Response of the mean module of modules in series whose bypass groups have their own irradiance.

What the branches of their curve give, relative to the unshaded module by its own curve, is applied to the unshaded response:
its subhourly states keep their powers, and what is not shaded responds as without shade.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.module.bypass_groups import BYPASS_FORWARD_V, Branches
from wattpair_service.engineering.module.cell_temperature import AIR_UNDER_MODULE_SHARE
from wattpair_service.engineering.module.dc_response import DcResponse, OtherMaxima, PointShade
from wattpair_service.engineering.module.single_diode import DiodeCurve, OperatingPoint, select


@dataclass(frozen=True, slots=True, eq=False)
class GroupMeans:
    """Means over the groups at each point, relative to the unshaded module.

    The logarithm of effective irradiance, irradiance in the plane of array, cell temperature [degC], and the effective
    irradiance on the whole area.
    """

    log_irradiance: FloatArray
    poa_ratio: FloatArray
    temp_cell_c: FloatArray
    area_ratio: FloatArray


def series_response(
    unshaded: DcResponse,
    reference: OperatingPoint,
    branches: Branches,
    size: int,
    means: GroupMeans,
    group_counts: FloatArray | None = None,
) -> DcResponse:
    """Response of the mean of `size` modules in series at n points.

    Parameters
    ----------
    unshaded : DcResponse
        Of the mean module without shade.
    reference : OperatingPoint
        Its maximum power by its curve.
    branches : Branches
        Of all groups of the modules in series.
    means : GroupMeans
    group_counts : array, shape (branches, n), optional
        How many groups each row of the branches stands for, 0 for none; if omitted, one.
    """
    counts = np.ones((len(branches.power_w), 1)) if group_counts is None else group_counts
    conducting = np.broadcast_to(np.cumsum(counts, axis=0), branches.power_w.shape)
    maxima = _Maxima(
        unshaded,
        branches,
        power_ratio=branches.power_w / (size * reference.power_w),
        voltage_ratio=branches.voltage_v / (size * reference.voltage_v),
        current_ratio=branches.current_a / reference.current_a,
        best=branches.power_w.argmax(axis=0),
        conducting=conducting,
        size=size,
    )
    every, best_w = np.arange(maxima.best.size), unshaded.maximum_power.power_w
    temp_air_c, share = air_temperature(unshaded), AIR_UNDER_MODULE_SHARE
    return replace(
        unshaded,
        curve=maxima.curve(maxima.best, every),
        maximum_power=maxima.operating_point(maxima.best, every),
        other_maxima=maxima.others(),
        voltage_oc_v=unshaded.voltage_oc_v + unshaded.curve.a_v * means.log_irradiance,
        irradiance_w_m2=unshaded.irradiance_w_m2 * means.poa_ratio,
        temp_cell_c=means.temp_cell_c,
        temp_under_module_c=temp_air_c + share * (means.temp_cell_c - temp_air_c),
        shade=PointShade(best_w, best_w * (1.0 - means.area_ratio)),
    )


def air_temperature(response: DcResponse) -> FloatArray:
    """Temperature of the outside air at each point [degC], which the cell and the air under the module tell."""
    share = AIR_UNDER_MODULE_SHARE
    return np.asarray((response.temp_under_module_c - share * response.temp_cell_c) / (1.0 - share))


@dataclass(frozen=True, slots=True, eq=False)
class _Maxima:
    """Maxima of the mean module of chains at n points: power, voltage and current of each branch, relative to the unshaded one.

    `best` is the branch of the highest maximum; `conducting`, shape (branches, n), is how many groups conduct in each.
    """

    unshaded: DcResponse
    branches: Branches
    power_ratio: FloatArray
    voltage_ratio: FloatArray
    current_ratio: FloatArray
    best: IntArray
    conducting: FloatArray
    size: int

    def operating_point(self, branch: IntArray, point: IntArray) -> OperatingPoint:
        """Of a branch at each of some points."""
        best = self.unshaded.maximum_power
        power_w = best.power_w[point] * self.power_ratio[branch, point]
        voltage_v = best.voltage_v[point] * self.voltage_ratio[branch, point]
        return OperatingPoint(
            power_w, voltage_v, np.divide(power_w, voltage_v, out=np.zeros_like(power_w), where=voltage_v > 0.0)
        )

    def curve(self, branch: IntArray, point: IntArray) -> DiodeCurve:
        """A single diode near the maximum of a branch: its share of the cells, with the bypass diodes as a resistance."""
        curve, groups = select(self.unshaded.curve, point), self.conducting[-1, point]
        conducting, current = self.conducting[branch, point] / groups, np.maximum(self.current_ratio[branch, point], 1e-9)
        drop_v = (groups - self.conducting[branch, point]) * BYPASS_FORWARD_V / self.size
        drop_ohm = drop_v / np.maximum(self.branches.current_a[branch, point], 1e-3)
        return DiodeCurve(
            photocurrent_a=curve.photocurrent_a * current,
            saturation_current_a=curve.saturation_current_a,
            series_resistance_ohm=curve.series_resistance_ohm * conducting + drop_ohm,
            shunt_resistance_ohm=curve.shunt_resistance_ohm * (conducting / current),
            a_v=curve.a_v * conducting,
        )

    def others(self) -> tuple[OtherMaxima, ...]:
        """The lower maxima at higher voltages, branch by branch: only a voltage above the window asks for a lower one."""
        maxima, branch_count = [], len(self.power_ratio)
        # Of the rows that stand for groups, the last has no group bypassed.
        none_bypassed = branch_count - 1 - (self.power_ratio[::-1] > 0.0).argmax(axis=0)
        for branch in range(1, branch_count):
            point = np.flatnonzero((self.power_ratio[branch] > 0.0) & (self.best < branch))
            if point.size:
                branches = np.full(point.size, branch)
                last = none_bypassed[point] == branch
                maxima.append(OtherMaxima(point, self.curve(branches, point), self.operating_point(branches, point), last))
        return tuple(maxima)

"""DC response of the modules of a face under shade: each hour and each of its subhourly states by classes of alike modules.

Shade acts on the irradiance of each bypass group in each state: sun, even and shade have their own beam and diffuse irradiance.
What it leaves of power and voltage, relative to the unshaded module in the same state, is applied to the unshaded response. A
module without shade so responds as on a face without shade.

Neglected: heat that flows from cells in the sun to shaded ones, shade on the modules' backs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import groupby

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray, without_gaps
from wattpair_service.engineering.energy.series_response import GroupMeans, air_temperature, series_response
from wattpair_service.engineering.equipment import InputWiring
from wattpair_service.engineering.irradiance.plane_of_array import PlaneOfArray, PlaneParts
from wattpair_service.engineering.module.bypass_groups import BrighterCells, series_branches
from wattpair_service.engineering.module.dc_response import (
    DcResponse,
    PointShade,
    UnitInput,
    at_points,
)
from wattpair_service.engineering.module.merged_points import maxima_of, merged_points
from wattpair_service.engineering.module.single_diode import (
    OperatingPoint,
    SixParameters,
    curve_at,
    maximum_power,
)
from wattpair_service.engineering.shade.classes import Combinations, ShadeClasses, combinations
from wattpair_service.engineering.shade.module_points import HALVES

UNEVEN_HALF_GAIN = 0.06
"""A half with cells in the sun and out of it, beside one without: the other half sets the voltage, and the dark cells give
their short-circuit current, which is that much above the one at maximum power. Common practice, no source."""
POWER_STEP = 0.05
"""Kinds of an hour in the same step of power over the unshaded one are merged, for what follows the DC side."""


@dataclass(frozen=True, slots=True, eq=False)
class UnshadedPoints:
    """Points of a face without shade, n of them: whole hours or their even states, then states of shade, then of sun.

    Attributes
    ----------
    response : DcResponse
    irradiance_w_m2 : array
        Effective irradiance, rear side included [W/m2].
    parts : PlaneParts
        Irradiance of each point by its origin.
    state_of_hour : array of int, shape (2, hours)
        Point of an hour's state of shade and of sun, -1 where the hour has none. The point of its even state has its number.
    hour_of_year : array of int, shape (hours,)
        Number of each hour among the year's conditions.
    """

    response: DcResponse
    irradiance_w_m2: FloatArray
    parts: PlaneParts
    state_of_hour: IntArray
    hour_of_year: IntArray

    def reference(self, parameters: SixParameters) -> OperatingPoint:
        """Maximum power of the module by its curve at each point."""
        curve = curve_at(parameters, irradiance_w_m2=self.irradiance_w_m2, cell_temp_c=self.response.temp_cell_c)
        return maximum_power(curve)


@dataclass(frozen=True, slots=True, eq=False)
class KindPoints:
    """Points of kinds, each of which exists in one hour: the hour's states one after another, as in `UnshadedPoints`.

    `of_state`, shape (3, kinds), has the point of each kind's even state, shade and sun, -1 where there is none.
    """

    kind: IntArray
    unshaded_point: IntArray
    of_state: IntArray

    @classmethod
    def of(cls, hour: IntArray, state_of_hour: IntArray) -> KindPoints:
        """Points of kinds in these hours; `state_of_hour` as in `UnshadedPoints`."""
        unshaded = np.concatenate([hour[None], state_of_hour[:, hour]])
        exists = unshaded >= 0
        of_state = np.full(unshaded.shape, -1)
        of_state[exists] = np.arange(np.count_nonzero(exists))
        return cls(np.nonzero(exists)[1], unshaded[exists], of_state)


@dataclass(frozen=True, slots=True, eq=False)
class FacePoints:
    """Response of the units of a face: a point stands for some of the units in one subhourly state of an hour.

    Attributes
    ----------
    response : DcResponse
        The mean module of a unit.
    points : KindPoints
        Of kinds of units: those of a kind are shaded alike in one hour.
    share : array
        Share of the face's units that the point stands for in its hour (0-1).
    kind_of_unit : array of int, shape (suns, units)
    """

    response: DcResponse
    points: KindPoints
    share: FloatArray
    kind_of_unit: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class _Chains:
    """Kinds of chains of modules in series: response and points, the hour of each kind, and its share of the hour's chains."""

    response: DcResponse
    points: KindPoints
    hour: IntArray
    kind_of_chain: IntArray
    share: FloatArray
    state_of_hour: IntArray

    def merged(self) -> _Chains:
        """Kinds of an hour with about the same power and the same lower maxima as one."""
        power_w, shade = self.response.maximum_power.power_w, self.response.shade
        assert shade is not None, "a shaded response says what shade takes"
        even = self.points.of_state[0]
        level = np.rint(power_w[even] / np.maximum(shade.unshaded_w[even], 1e-9) / POWER_STEP).astype(np.int64)
        maxima = np.zeros((3, self.hour.size), dtype=np.int64)
        point_maxima = maxima_of(self.response)
        for state, point in enumerate(self.points.of_state):
            exists = np.flatnonzero(point >= 0)
            maxima[state, exists] = point_maxima[point[exists]]
        kind = self.hour
        for number in (level, *maxima):
            kind = without_gaps(kind * (int(number.max()) + 1) + number)
        hour = np.empty(int(kind.max()) + 1, dtype=np.int64)
        hour[kind] = self.hour
        points = KindPoints.of(hour, self.state_of_hour)
        group = np.empty(self.points.kind.size, dtype=np.int64)
        for old, new in zip(self.points.of_state, points.of_state[:, kind], strict=True):
            group[old[old >= 0]] = new[old >= 0]
        weighted = replace(self.response, weight_h=self.response.weight_h * self.share[self.points.kind])
        share = np.bincount(kind, weights=self.share).astype(np.float64)
        response = merged_points(weighted, group, points.kind.size)
        return _Chains(response, points, hour, kind[self.kind_of_chain], share, self.state_of_hour)


@dataclass(frozen=True, eq=False)
class ShadedFace:
    """A face under shade. `positions` is 1 where all modules are shaded alike, else the number of modules."""

    unshaded: UnshadedPoints
    classes: ShadeClasses
    parameters: SixParameters
    groups_per_module: int
    positions: int
    _units: dict[object, FacePoints] = field(default_factory=dict)
    _by_modules: dict[tuple[tuple[int, ...], bytes], _Chains] = field(default_factory=dict)

    def units(self, first: int, module_count: int, wiring: InputWiring, modules_per_unit: int) -> FacePoints:
        """Units on some modules of the face, filled one after another from the module numbered `first`."""
        key = first, module_count, wiring, modules_per_unit
        if key not in self._units:
            units = (first + np.arange(module_count)).reshape(-1, modules_per_unit) % self.positions
            self._units[key] = self._of_units(units, wiring)
        return self._units[key]

    def module_energy_wh(self) -> FloatArray:
        """Energy of each module at its maximum power in each month: shape (positions, 12).

        Modules of a class see about as much of the sky; what one sees more or less changes its power in proportion.
        """
        chains, classes = self._chains(np.arange(self.positions)[:, None]), self.classes
        points, kind_of_chain = chains.points, chains.kind_of_chain
        power_w, parts = chains.response.maximum_power.power_w, self.unshaded.parts.at_points(points.unshaded_point)
        # Without combination a chain's kind is its module's class.
        area = (classes.area_beam, classes.area_dome, classes.area_band)
        seen = parts.seen(*(each[points.kind] for each in area)).effective_irradiance_w_m2 / parts.unshaded_clean_share
        energy_wh = self.by_unit_and_month(power_w, points, kind_of_chain)
        month = self.unshaded.response.month[classes.suns.hour] - 1
        for part, of_class, of_module in (
            (parts.dome, classes.area_dome, classes.module_dome),
            (parts.band, classes.area_band, classes.module_band),
        ):
            slope_w = power_w * part * parts.sky_transmission / np.maximum(seen, 1e-9)
            more = of_module[month] - of_class[classes.of_module]
            energy_wh += self.by_unit_and_month(slope_w, points, kind_of_chain, more)
        return energy_wh

    def mean_darkness(self) -> float:
        """Share of the irradiance that the cells holding the currents miss, by energy: mean of the modules (0-1)."""
        points, light = KindPoints.of(self.classes.hour, self.unshaded.state_of_hour), self.class_light
        whole = self.unshaded.response
        share = _share_of_kind(self.classes, self.classes.of_module, points.of_state.shape[1])[points.kind]
        energy_wh = (whole.maximum_power.power_w * whole.weight_h)[points.unshaded_point] * share
        ratio = light.irradiance_w_m2.mean(axis=0) / self.unshaded.irradiance_w_m2[points.unshaded_point]
        return float(energy_wh @ (1.0 - ratio) / energy_wh.sum()) if energy_wh.sum() > 0.0 else 0.0

    def by_unit_and_month(
        self, power_w: FloatArray, points: KindPoints, kind_of_unit: IntArray, factor: FloatArray | float = 1.0
    ) -> FloatArray:
        """Energy of each unit in each month [Wh], shape (units, 12), from a power of each point.

        `factor`, shape (suns, units), multiplies the energy of each unit at each sun.
        """
        weight_h, month = self.unshaded.response.weight_h[points.unshaded_point], self.unshaded.response.month
        energy_wh = np.bincount(points.kind, weights=power_w * weight_h, minlength=points.of_state.shape[1])
        suns, units = self.classes.suns, kind_of_unit.shape[1]
        month_of_sun = month[suns.hour] - 1
        bins = (np.arange(units) * 12 + month_of_sun[:, None]).ravel()
        at_suns = (energy_wh[kind_of_unit] * suns.share[:, None] * factor).ravel()
        return np.bincount(bins, weights=at_suns, minlength=units * 12).astype(np.float64).reshape(units, 12)

    def _of_units(self, units: IntArray, wiring: InputWiring) -> FacePoints:
        layout = _chains(wiring, units.shape[1])
        ends = np.cumsum([size for _, size in layout]).tolist()
        of_chain = [units[:, end - size : end] for end, (_, size) in zip(ends, layout, strict=True)]
        sizes = list(dict.fromkeys(size for _, size in layout))
        alike = [self._chains(np.concatenate([each for each in of_chain if each.shape[1] == size])).merged() for size in sizes]
        if len(layout) == 1:
            return self._face_points(alike[0].response, alike[0].points, alike[0].kind_of_chain)
        # Kinds of chains of another size are numbered after those of the first, so that members stay in the chains' order.
        offsets = np.cumsum([0, *(each.hour.size for each in alike)]).tolist()
        numbers = [
            each.kind_of_chain.reshape(len(each.kind_of_chain), -1, len(units)) + start
            for each, start in zip(alike, offsets[:-1], strict=True)
        ]
        # Only modules whose inputs are wired alike may take each other's place.
        alike_wired = [len(list(chains)) for _, chains in groupby(wired for wired, _ in layout)]
        together = combinations(np.concatenate(numbers, axis=1).swapaxes(1, 2), alike_wired)
        points = KindPoints.of(alike[0].hour[together.members[0]], self.unshaded.state_of_hour)
        inputs = []
        for (wired, size), members in zip(layout, together.members, strict=True):
            number = sizes.index(size)
            index = alike[number].points.of_state[:, members - offsets[number]][points.of_state >= 0]
            inputs.append(UnitInput(wired, size, at_points(alike[number].response, index)))
        return self._face_points(mean_response(inputs), points, together.of_set)

    def _face_points(self, response: DcResponse, points: KindPoints, kind_of_unit: IntArray) -> FacePoints:
        share = _share_of_kind(self.classes, kind_of_unit, points.of_state.shape[1])[points.kind]
        weight_h = self.unshaded.response.weight_h[points.unshaded_point] * share
        return FacePoints(replace(response, weight_h=weight_h), points, share, kind_of_unit)

    @cached_property
    def reference(self) -> OperatingPoint:
        """Maximum power of the unshaded module by its curve at each of the unshaded points."""
        return self.unshaded.reference(self.parameters)

    def _chains(self, modules: IntArray) -> _Chains:
        """Chains of modules in series, shape (chains, modules): each kind of them by itself."""
        if modules.shape[1] == 1:
            # Whatever they are joined to: all modules of the face once.
            every = self._chains_of(np.arange(self.positions)[:, None])
            return replace(every, kind_of_chain=every.kind_of_chain[:, modules[:, 0]])
        return self._chains_of(modules)

    def _chains_of(self, modules: IntArray) -> _Chains:
        key = modules.shape, modules.tobytes()
        if key not in self._by_modules:
            kinds = combinations(self.classes.of_module[:, modules])
            hour = self.classes.hour[kinds.members[0]]
            points = KindPoints.of(hour, self.unshaded.state_of_hour)
            response = self._chain_response(kinds, points)
            share = _share_of_kind(self.classes, kinds.of_set, hour.size)
            self._by_modules[key] = _Chains(response, points, hour, kinds.of_set, share, self.unshaded.state_of_hour)
        return self._by_modules[key]

    @cached_property
    def class_light(self) -> ClassLight:
        """Light on the groups of a module of each class, in each state of its hour."""
        points = KindPoints.of(self.classes.hour, self.unshaded.state_of_hour)
        light = self.group_light(points.kind[None], points.unshaded_point)
        whole_w_m2 = self.unshaded.irradiance_w_m2[points.unshaded_point]
        return ClassLight(
            irradiance_w_m2=whole_w_m2 * light.ratio,
            bright_w_m2=whole_w_m2 * light.bright_ratio,
            bright_share=light.bright_share,
            poa_ratio=light.poa_ratio.mean(axis=0),
            area_ratio=light.area_ratio[0],
            of_state=points.of_state,
        )

    @property
    def class_response(self) -> DcResponse:
        """Response of a module of each class, at the points of `class_light`."""
        return self._chains_of(np.arange(self.positions)[:, None]).response

    def group_light(self, members: IntArray, index: IntArray) -> GroupLight:
        """Light on the groups of modules of some classes, shape (members, n), at the unshaded points at `index`."""
        classes, parts = self.classes, self.unshaded.parts.at_points(index)
        whole, on_groups, on_bright, on_area = parts.seen(), list[PlaneOfArray](), list[FloatArray](), list[FloatArray]()
        whole_w_m2 = np.maximum(whole.effective_irradiance_w_m2, 1e-9)
        for member in members:
            dome, band = classes.dome[:, member], classes.band[:, member]
            on_bright.append(parts.seen(1.0, dome, band).effective_irradiance_w_m2 / whole_w_m2)
            more = 1.0 + UNEVEN_HALF_GAIN / HALVES * classes.one_half[:, member]
            on_groups.append(parts.seen(classes.beam[:, member], dome * more, band * more))
            seen = parts.seen(classes.area_beam[member], classes.area_dome[member], classes.area_band[member])
            on_area.append(seen.effective_irradiance_w_m2 / whole_w_m2)
        return GroupLight(
            ratio=np.concatenate([each.effective_irradiance_w_m2 for each in on_groups]) / whole_w_m2,
            poa_ratio=np.concatenate([each.poa_global_w_m2 for each in on_groups]) / np.maximum(whole.poa_global_w_m2, 1e-9),
            bright_share=np.concatenate([classes.bright_share[:, member] for member in members]),
            bright_ratio=np.concatenate(on_bright),
            area_ratio=np.stack(on_area),
        )

    def _chain_response(self, kinds: Combinations, points: KindPoints) -> DcResponse:
        """Response of the mean module of modules in series, of the classes of `kinds`."""
        index, size = points.unshaded_point, len(kinds.members)
        light = self.group_light(kinds.members[:, points.kind], index).sorted()
        unshaded = at_points(self.unshaded.response, index)
        temp_group_c = light.temp_cell_c(unshaded)
        branches = series_branches(
            self.parameters,
            irradiance_w_m2=self.unshaded.irradiance_w_m2[index] * light.ratio,
            temp_cell_c=temp_group_c,
            groups_per_module=self.groups_per_module,
            brighter=BrighterCells(light.bright_share, self.unshaded.irradiance_w_m2[index] * light.bright_ratio, temp_group_c),
        )
        reference = OperatingPoint(*(getattr(self.reference, each)[index] for each in ("power_w", "voltage_v", "current_a")))
        means = GroupMeans(
            log_irradiance=np.log(np.maximum(light.ratio, 1e-9)).mean(axis=0),
            poa_ratio=light.poa_ratio.mean(axis=0),
            temp_cell_c=temp_group_c.mean(axis=0),
            area_ratio=light.area_ratio.mean(axis=0),
        )
        return series_response(unshaded, reference, branches, size, means)


@dataclass(frozen=True, slots=True, eq=False)
class ClassLight:
    """Light on a module of each class in each state: of its groups, shape (groups, points), and of the module, (points,).

    Effective irradiance of the cells that hold a group's current, of the brighter ones [W/m2] and the share of these; ratios to
    an unshaded module. `of_state`, shape (3, classes), has the point of each class's even state, shade and sun, -1 where there
    is none.
    """

    irradiance_w_m2: FloatArray
    bright_w_m2: FloatArray
    bright_share: FloatArray
    poa_ratio: FloatArray
    area_ratio: FloatArray
    of_state: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class GroupLight:
    """Light on bypass groups, shape (groups, n), and on modules, (modules, n), over that on an unshaded module.

    Effective irradiance of the cells that hold the current, irradiance in the plane of array, share and effective irradiance of
    brighter cells, and effective irradiance on the whole area.
    """

    ratio: FloatArray
    poa_ratio: FloatArray
    bright_share: FloatArray
    bright_ratio: FloatArray
    area_ratio: FloatArray

    def sorted(self) -> GroupLight:
        """The groups from the brightest to the darkest at each point."""
        order = np.argsort(-self.ratio, axis=0, kind="stable")

        def in_order(values: FloatArray) -> FloatArray:
            return np.take_along_axis(values, order, axis=0)

        poa_ratio, bright_share, bright_ratio = map(in_order, (self.poa_ratio, self.bright_share, self.bright_ratio))
        return GroupLight(in_order(self.ratio), poa_ratio, bright_share, bright_ratio, self.area_ratio)

    def temp_cell_c(self, unshaded: DcResponse) -> FloatArray:
        """Cell temperature of each group: as far above the air as its irradiance is over that of the unshaded module."""
        temp_air_c = air_temperature(unshaded)
        return np.asarray(temp_air_c + (unshaded.temp_cell_c - temp_air_c) * self.poa_ratio)


def _share_of_kind(classes: ShadeClasses, kind_of_unit: IntArray, kind_count: int) -> FloatArray:
    """Share of the units that each kind stands for in its hour (0-1)."""
    sun_share = np.broadcast_to(classes.suns.share[:, None] / kind_of_unit.shape[1], kind_of_unit.shape).ravel()
    return np.bincount(kind_of_unit.ravel(), weights=sun_share, minlength=kind_count).astype(np.float64)


def _chains(wiring: InputWiring, modules: int) -> list[tuple[InputWiring, int]]:
    """Modules in series of a unit one after another: how their input is wired, and how many they are."""
    chains: list[tuple[InputWiring, int]] = []
    for wired, count in wiring.filled(modules):
        size = 1 if wired.wiring == "parallel" else wired.modules_per_input
        chains += [(wired, size)] * (count // size)
    return chains


def mean_response(inputs: Sequence[UnitInput]) -> DcResponse:
    """Of a unit with these inputs."""
    modules = sum(each.module_count for each in inputs)

    def mean(values: Sequence[FloatArray]) -> FloatArray:
        return np.asarray(sum(each * one.module_count for each, one in zip(values, inputs, strict=True)) / modules)

    responses = [each.response for each in inputs]
    best, shades = [each.maximum_power for each in responses], [each.shade for each in responses if each.shade is not None]
    power_w, current_a = mean([each.power_w for each in best]), mean([each.current_a for each in best])
    return replace(
        responses[0],
        maximum_power=OperatingPoint(power_w, power_w / np.maximum(current_a, 1e-12), current_a),
        voltage_oc_v=mean([each.voltage_oc_v for each in responses]),
        irradiance_w_m2=mean([each.irradiance_w_m2 for each in responses]),
        temp_cell_c=mean([each.temp_cell_c for each in responses]),
        temp_under_module_c=mean([each.temp_under_module_c for each in responses]),
        shade=PointShade(mean([each.unshaded_w for each in shades]), mean([each.irradiance_loss_w for each in shades])),
        other_maxima=(),
        inputs=tuple(inputs),
    )

"""DC response of modules in strings on a string inverter, on the same points as that of a roof with microinverters.

All bypass groups of a string carry one current, wherever their modules lie. Its irradiances are put into few levels: each level
counts as often as it has groups. The points are the roof's moments and, under shade, the positions of the sun within them; the
inverter is one unit with all modules, whose inputs are the strings.

Neglected: strings in parallel on one tracker, resistance of the string's own leads beside that of the DC cable.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.energy.roof_dc import RoofDc
from wattpair_service.engineering.energy.series_response import GroupMeans, air_temperature, series_response
from wattpair_service.engineering.energy.shaded_face import ClassLight, ShadedFace, UnshadedPoints
from wattpair_service.engineering.module.bypass_groups import BrighterCells, series_branches
from wattpair_service.engineering.module.dc_response import EVEN, SHADE, DcResponse, OtherMaxima, PointShade, at_points
from wattpair_service.engineering.module.single_diode import DiodeCurve, OperatingPoint, SixParameters

LEVELS_MOST = 8
LEVEL_STEPS = (0.02, 0.04, 0.08, 0.15, 0.3)
"""Width of a level as a share of its brightest group's irradiance: the first that needs no more than `LEVELS_MOST`."""

LEAST_BEAM_W_M2 = 1.0
"""With less beam on all faces, a moment has one position of the sun."""

ModuleOnFace = tuple[int, int]
"""A face and a module on it, both by their numbers from 0."""
String = tuple[ModuleOnFace, ...]


@dataclass(frozen=True, slots=True, eq=False)
class FaceLight:
    """What a face's modules get.

    `point_of_moment` is the unshaded point of each of the roof's moments, -1 where the face is dark; `reference` the maximum
    power of each point by its curve; `shaded` is None where nothing stands before the sky.
    """

    unshaded: UnshadedPoints
    reference: OperatingPoint
    point_of_moment: IntArray
    shaded: ShadedFace | None

    @classmethod
    def of(cls, roof: RoofDc, number: int, points: UnshadedPoints | ShadedFace, parameters: SixParameters) -> FaceLight:
        """The face by its number; `roof` is that of the unshaded faces."""
        shaded = points if isinstance(points, ShadedFace) else None
        unshaded = points.unshaded if isinstance(points, ShadedFace) else points
        point_of_moment = np.full(roof.time.weight_h.size, -1)
        point_of_moment[roof.moment[roof.face == number]] = np.arange(unshaded.irradiance_w_m2.size)
        reference = points.reference if isinstance(points, ShadedFace) else points.reference(parameters)
        return cls(unshaded, reference, point_of_moment, shaded)


@dataclass(frozen=True, slots=True, eq=False)
class StringPoints:
    """The points of all strings, n of them.

    Moment of each, its hour in the year, its state, the number of the sun's position within the hour, and its share of the
    moment.
    """

    moment: IntArray
    hour: IntArray
    state: IntArray
    sun: IntArray
    share: FloatArray

    @classmethod
    def of(cls, roof: RoofDc, hour_of_moment: IntArray, state_of_moment: IntArray, faces: Sequence[FaceLight]) -> StringPoints:
        """The roof's moments in which any face is lit, with the positions of the sun in their hours."""
        moment, suns_of_hour = np.unique(roof.moment), np.ones(int(hour_of_moment.max()) + 1, dtype=np.int64)
        has_beam = np.zeros(moment.size, dtype=np.bool_)
        for face in faces:
            if face.shaded is not None:
                hours, point = face.unshaded.hour_of_year, face.point_of_moment[moment]
                suns_of_hour[hours] = np.bincount(face.shaded.classes.suns.hour, minlength=hours.size)
                has_beam |= (point >= 0) & (face.unshaded.parts.beam[point] > LEAST_BEAM_W_M2)
        # Where the sun stands matters to the beam alone.
        repeats = np.where(has_beam, suns_of_hour[hour_of_moment[moment]], 1)
        point = np.repeat(np.arange(moment.size), repeats)
        sun = np.arange(point.size) - np.repeat(np.cumsum(repeats) - repeats, repeats)
        moments = moment[point]
        return cls(moments, hour_of_moment[moments], state_of_moment[moments], sun, 1.0 / repeats[point])


def string_response(
    string: String, faces: Sequence[FaceLight], points: StringPoints, parameters: SixParameters, groups_per_module: int
) -> DcResponse:
    """Response of the mean module of a string at the points; its hours are not set."""
    parts = [
        _FacePart.of(faces[number], np.array([module for face, module in string if face == number]), points)
        for number in dict.fromkeys(face for face, _ in string)
    ]
    unshaded, reference, brightest_w_m2 = _mean_module(parts)
    temp_air_c = air_temperature(unshaded)
    groups = [group for part in parts for group in part.groups(groups_per_module)]
    irradiance_w_m2 = np.stack([each.irradiance_w_m2 for each in groups])
    levels = Levels.of(irradiance_w_m2, np.array([each.count for each in groups]))
    level_w_m2, brighter = levels.mean(irradiance_w_m2), _brighter_cells(levels, groups)
    if len(parts) == 1:
        rise_k_per_w_m2 = (unshaded.temp_cell_c - temp_air_c) / brightest_w_m2
    else:
        # Faces have their own temperatures: a state of shade finds one still warm from the sun and another one cool.
        rise_k = levels.mean(np.stack([each.rise_k_per_w_m2 * each.irradiance_w_m2 for each in groups]))
        rise_k_per_w_m2 = rise_k / np.maximum(level_w_m2, 1e-9)
    temp_cell_c = temp_air_c + rise_k_per_w_m2 * level_w_m2
    branches = series_branches(
        parameters,
        irradiance_w_m2=level_w_m2,
        temp_cell_c=temp_cell_c,
        groups_per_module=groups_per_module,
        group_counts=levels.counts,
        brighter=BrighterCells(*brighter, temp_cell_c),
    )
    logarithm = np.log(np.maximum(level_w_m2, 1e-6) / brightest_w_m2)
    means = GroupMeans(
        log_irradiance=(levels.counts * logarithm).sum(axis=0) / levels.counts.sum(axis=0),
        poa_ratio=_weighted(parts, lambda part: part.poa_ratio, lambda part: part.response.irradiance_w_m2),
        temp_cell_c=temp_air_c
        + sum(part.rise_k_per_w_m2 * part.irradiance_w_m2 * part.poa_ratio * part.module_count for part in parts) / len(string),
        area_ratio=_weighted(parts, lambda part: part.area_ratio, lambda part: part.response.maximum_power.power_w),
    )
    return series_response(unshaded, reference, branches, len(string), means, levels.counts)


@dataclass(frozen=True, slots=True, eq=False)
class _FacePart:
    """The modules of a string on one face, at n points.

    `response` and `reference` are those of the unshaded module and `irradiance_w_m2` its effective irradiance, 0 where the face
    is dark; `class_points`, shape (modules, n), the points of `ClassLight` of each module, None without shade.
    """

    module_count: int
    response: DcResponse
    reference: OperatingPoint
    irradiance_w_m2: FloatArray
    is_lit: BoolArray
    light: ClassLight | None
    class_points: IntArray | None

    @classmethod
    def of(cls, face: FaceLight, modules: IntArray, points: StringPoints) -> _FacePart:
        point = face.point_of_moment[points.moment]
        is_lit = point >= 0
        index = np.where(is_lit, point, 0)
        response, reference = at_points(face.unshaded.response, index), face.reference
        best = response.maximum_power
        response = replace(
            response, maximum_power=OperatingPoint(best.power_w * is_lit, best.voltage_v, best.current_a * is_lit)
        )
        light, class_points = None, None
        if face.shaded is not None:
            light, classes = face.shaded.class_light, face.shaded.classes
            number = np.zeros(int(points.hour.max()) + 1, dtype=np.int64)
            number[face.unshaded.hour_of_year] = np.arange(face.unshaded.hour_of_year.size)
            first = np.searchsorted(classes.suns.hour, number[points.hour])
            sun = np.minimum(first + points.sun, classes.suns.hour.size - 1)
            state = np.where(points.state == EVEN, 0, np.where(points.state == SHADE, 1, 2))
            class_points = light.of_state[state, classes.of_module[sun][:, modules % face.shaded.positions].T]
        return cls(
            module_count=modules.size,
            response=response,
            reference=OperatingPoint(
                reference.power_w[index] * is_lit, reference.voltage_v[index], reference.current_a[index] * is_lit
            ),
            irradiance_w_m2=face.unshaded.irradiance_w_m2[index] * is_lit,
            is_lit=is_lit,
            light=light,
            class_points=class_points,
        )

    def groups(self, groups_per_module: int) -> Iterator[_Groups]:
        """The groups of its modules."""
        if self.light is None or self.class_points is None:
            zeros = np.zeros(self.is_lit.size)
            yield _Groups(
                self.irradiance_w_m2, zeros, zeros, self.rise_k_per_w_m2, float(self.module_count * groups_per_module)
            )
            return
        of_groups, rise = (self.light.irradiance_w_m2, self.light.bright_w_m2, self.light.bright_share), self.rise_k_per_w_m2
        for module in self.class_points:
            for irradiance_w_m2, bright_w_m2, bright_share in zip(*of_groups, strict=True):
                yield _Groups(irradiance_w_m2[module] * self.is_lit, bright_w_m2[module], bright_share[module], rise, 1.0)

    @property
    def rise_k_per_w_m2(self) -> FloatArray:
        """How much warmer the unshaded module's cells are than the air, for each W/m2; 0 where the face is dark."""
        rise_k = self.response.temp_cell_c - air_temperature(self.response)
        return np.divide(rise_k, self.irradiance_w_m2, out=np.zeros_like(rise_k), where=self.irradiance_w_m2 > 0.0)

    @property
    def poa_ratio(self) -> FloatArray:
        """Irradiance in the plane of array over that without shade, mean of the modules."""
        return self._mean("poa_ratio")

    @property
    def area_ratio(self) -> FloatArray:
        """Effective irradiance on the whole area over that without shade, mean of the modules."""
        return self._mean("area_ratio")

    def _mean(self, name: str) -> FloatArray:
        if self.light is None or self.class_points is None:
            return np.ones(self.is_lit.size)
        values: FloatArray = getattr(self.light, name)
        return np.asarray(values[self.class_points].mean(axis=0))


def _weighted(
    parts: Sequence[_FacePart], value: Callable[[_FacePart], FloatArray], weight: Callable[[_FacePart], FloatArray]
) -> FloatArray:
    """Mean over the modules of all parts of a value, with a weight of its own."""
    total = sum(weight(part) * part.module_count for part in parts)
    return np.asarray(sum(value(part) * weight(part) * part.module_count for part in parts) / np.maximum(total, 1e-12))


def _mean_module(parts: Sequence[_FacePart]) -> tuple[DcResponse, OperatingPoint, FloatArray]:
    """Unshaded response and reference of the mean module, and the highest effective irradiance of the faces [W/m2].

    What has no mean, such as the curve, is that of the brightest face.
    """
    modules = sum(part.module_count for part in parts)
    brightest_w_m2 = np.maximum(np.max([part.irradiance_w_m2 for part in parts], axis=0), 1e-6)
    response, *others = (part.response for part in parts)
    for part, other in zip(parts[1:], others, strict=True):
        response = _where(part.irradiance_w_m2 >= brightest_w_m2, other, response)

    def mean(points: Sequence[OperatingPoint]) -> OperatingPoint:
        power_w = np.asarray(sum(each.power_w * part.module_count for each, part in zip(points, parts, strict=True)) / modules)
        times_voltage = sum(each.power_w * each.voltage_v * part.module_count for each, part in zip(points, parts, strict=True))
        voltage_v = np.divide(times_voltage, power_w * modules, out=points[0].voltage_v.copy(), where=power_w > 0.0)
        # Where all is dark, a tiny current keeps the ratios finite.
        return OperatingPoint(np.maximum(power_w, 1e-9), voltage_v, np.maximum(power_w, 1e-9) / np.maximum(voltage_v, 1e-9))

    irradiance_w_m2 = np.asarray(
        sum(part.response.irradiance_w_m2 * part.is_lit * part.module_count for part in parts) / modules
    )
    response = replace(
        response, maximum_power=mean([part.response.maximum_power for part in parts]), irradiance_w_m2=irradiance_w_m2
    )
    return response, mean([part.reference for part in parts]), brightest_w_m2


def _where(condition: BoolArray, first: DcResponse, second: DcResponse) -> DcResponse:
    """The curve, voltages and temperatures of one response where a condition holds, else of another."""
    names = ("voltage_oc_v", "temp_cell_c", "temp_under_module_c")
    curves = (
        np.where(condition, getattr(first.curve, each.name), getattr(second.curve, each.name)) for each in fields(DiodeCurve)
    )
    return replace(
        second,
        curve=DiodeCurve(*curves),
        **{name: np.where(condition, getattr(first, name), getattr(second, name)) for name in names},
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Groups:
    """Equal groups: irradiance of the cells that hold their current, that and the share of brighter cells, and their number.

    `rise_k_per_w_m2` is how much warmer the cells are than the air for each W/m2.
    """

    irradiance_w_m2: FloatArray
    bright_w_m2: FloatArray
    bright_share: FloatArray
    rise_k_per_w_m2: FloatArray
    count: float


def _brighter_cells(levels: Levels, groups: Sequence[_Groups]) -> tuple[FloatArray, FloatArray]:
    """Share of brighter cells in each level, and their irradiance [W/m2]."""
    share = np.stack([each.bright_share for each in groups])
    of_levels = levels.mean(share)
    times_share = levels.mean(share * np.stack([each.bright_w_m2 for each in groups]))
    return of_levels, times_share / np.maximum(of_levels, 1e-12)


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """Groups in few levels of irradiance at each of n points, the brightest first.

    Attributes
    ----------
    level : array of int, shape (groups, n)
        Level of each group.
    weight : array, shape (groups,)
        How often each group counts.
    counts : array, shape (levels, n)
        Groups in each level; 0 for no level.
    """

    level: IntArray
    weight: FloatArray
    counts: FloatArray

    @classmethod
    def of(cls, irradiance_w_m2: FloatArray, weight: FloatArray) -> Levels:
        """Of irradiances, shape (groups, n), each of which counts as often as `weight`, shape (groups,), says."""
        # The groups of a point side by side, which sorts twice as fast.
        by_point = np.ascontiguousarray(irradiance_w_m2.T)
        order = np.argsort(-by_point, axis=1)
        ordered = np.ascontiguousarray(np.take_along_axis(by_point, order, axis=1).T)
        ordered_level, too_many = np.zeros(ordered.shape, dtype=np.int64), np.arange(ordered.shape[1])
        for step in LEVEL_STEPS:
            ordered_level[:, too_many] = _level_numbers(ordered[:, too_many], step)
            too_many = np.flatnonzero(ordered_level[-1] >= LEVELS_MOST)
            if not too_many.size:
                break
        level = np.empty_like(ordered_level.T)
        np.put_along_axis(level, order, np.minimum(ordered_level, LEVELS_MOST - 1).T, axis=1)
        level = np.ascontiguousarray(level.T)
        empty = cls(level, weight, np.empty((int(level.max()) + 1, 0)))
        return replace(empty, counts=empty._sums(1.0))

    def mean(self, values: FloatArray) -> FloatArray:
        """Mean over the groups of each level, shape (levels, n), of a value of each group, (groups, n)."""
        return np.asarray(self._sums(values) / np.maximum(self.counts, 1e-12))

    def _sums(self, values: FloatArray | float) -> FloatArray:
        levels, points = len(self.counts), self.level.shape[1]
        weighted = np.broadcast_to(self.weight[:, None] * values, self.level.shape)
        bins = self.level * points + np.arange(points)
        sums = np.bincount(bins.ravel(), weights=weighted.ravel(), minlength=levels * points)
        return sums.astype(np.float64, copy=False).reshape(levels, points)


def _level_numbers(ordered: FloatArray, step: float) -> IntArray:
    """Number of the level of each group, which are in falling order along the first axis."""
    level, brightest = np.zeros(ordered.shape, dtype=np.int64), ordered[0].copy()
    for row in range(1, len(ordered)):
        is_new = ordered[row] < brightest * (1.0 - step)
        level[row] = level[row - 1] + is_new
        brightest = np.where(is_new, ordered[row], brightest)
    return level


def module_response(face: FaceLight, module: int, points: StringPoints) -> DcResponse:
    """Response of one module by itself at the points; its hours are not set."""
    point = face.point_of_moment[points.moment]
    is_lit = point >= 0
    if face.shaded is None:
        response = at_points(face.unshaded.response, np.where(is_lit, point, 0))
        power_w = response.maximum_power.power_w * is_lit
        response = replace(response, shade=PointShade(power_w, np.zeros(power_w.size)))
    else:
        part = _FacePart.of(face, np.array([module]), points)
        assert part.class_points is not None, "a shaded face has classes"
        response = at_points(face.shaded.class_response, np.where(is_lit, part.class_points[0], 0))
    best, others = response.maximum_power, response.other_maxima
    lit = replace(response, maximum_power=OperatingPoint(best.power_w * is_lit, best.voltage_v, best.current_a * is_lit))
    lit_others = tuple(each for each in (_where_lit(other, is_lit) for other in others) if each.point.size)
    shade = lit.shade
    assert shade is not None, "set above, or by the shaded face"
    return replace(lit, other_maxima=lit_others, shade=PointShade(shade.unshaded_w * is_lit, shade.irradiance_loss_w * is_lit))


def _where_lit(other: OtherMaxima, is_lit: BoolArray) -> OtherMaxima:
    return other.at_rows(np.flatnonzero(is_lit[other.point]))

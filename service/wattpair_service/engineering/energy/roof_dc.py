"""DC response of a module on all faces of a roof, joined in one array: each microinverter needs one pass over it.

Each point also has an index into the roof's moments. Where household load or export limit counts, the faces' powers at the
same moment, the same subhourly state of the same hour, are summed.

Under shade several points stand for one face at one moment, a cell, each for a share of the face's units. Which modules work
together then matters, so that units with other numbers of modules have points of their own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, fields, replace
from itertools import pairwise
from typing import Any

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.shaded_face import FacePoints, KindPoints, ShadedFace
from wattpair_service.engineering.equipment import ONE_MODULE, InputWiring, Module
from wattpair_service.engineering.inverter.power_steps import Loss
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face, PlaneOfArray
from wattpair_service.engineering.irradiance.subhourly import STATES, SubhourlyStates
from wattpair_service.engineering.module.dc_response import (
    EVEN,
    POINT_FIELDS,
    DcResponse,
    OtherMaxima,
    PointShade,
    SubhourlyPoints,
    at_points,
    lit_hours,
    with_subhourly_points,
)
from wattpair_service.engineering.module.single_diode import SixParameters


@dataclass(frozen=True, slots=True, eq=False)
class RoofTime:
    """The roof's moments: each subhourly state of each hour once, with its weight [h], month 1 to 12 and hour 0 to 23.

    Attributes
    ----------
    utc_offset_h, after_hour_h : float
        Of the standard time that month and hour are in, and from the start of `hour` to that of the moment's interval [h].
    hour_of_year : array of int or None
        Hour from 1 January on in a leap year's calendar; None for representative days. Where moments were merged it has an
        entry for each of them before.
    hour_weight_h : array
        Weight of each entry of `hour_of_year` [h].
    merged_into : array of int or None
        Moment of each entry of `hour_of_year` after merging; None where nothing was merged.
    """

    weight_h: FloatArray
    month: IntArray
    hour: IntArray
    utc_offset_h: float
    after_hour_h: float
    hour_of_year: IntArray | None
    hour_weight_h: FloatArray
    merged_into: IntArray | None = None


@dataclass(frozen=True, slots=True, eq=False)
class HourMeans:
    """What gives hourly means back from subhourly points, an entry for each point.

    `weight_h` is the whole weight of the point's hour where the point is its even state, 0 in sun and shade [h].
    `power_ratio` is the point's power over the hour's mean, `power_ratio_min` the lowest among the even states.
    """

    weight_h: FloatArray
    power_ratio: FloatArray
    power_ratio_min: float


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Weighted points of the faces: face of each, rising, its moment, and its hours."""

    face: IntArray
    moment: IntArray
    weight_h: FloatArray
    face_count: int

    def by_face(self, values: FloatArray) -> FloatArray:
        """Sums over each face of `values`, shape (..., cells), times the cells' hours: shape (..., faces)."""
        return sums_by_face(self.face, self.face_count, values, self.weight_h)

    def hours_by_face(self, index: IntArray, values: FloatArray | None = None) -> FloatArray:
        """Sums over each face of the hours of the cells at `index`, each times its value where `values` are given."""
        weight_h = self.weight_h[index]
        sums = np.bincount(
            self.face[index], weights=weight_h if values is None else weight_h * values, minlength=self.face_count
        )
        return sums.astype(np.float64, copy=False)


@dataclass(frozen=True, slots=True, eq=False)
class InCells:
    """Where points lie in cells: the cell of each point, and the share of the cell's modules that it stands for (0-1)."""

    cells: Cells
    cell: IntArray
    share: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class RoofDc:
    """DC response of one module on each face, the points of one face after those of another.

    Attributes
    ----------
    response : DcResponse
        Of all points.
    face : array of int
        Face of each point, rising.
    moment : array of int
        Index of each point's moment in `time`.
    hour_means : HourMeans or None
        For the year without subhourly variability; None for condensed points.
    dark_hours_by_month : array, shape (faces, 12)
        Hours without irradiance on each face.
    in_cells : InCells or None
        Where several points stand for a face at a moment; None where each point is a cell.
    shaded : ShadedRoof or None
        Gives the points of units under shade; None where all modules of a face respond alike.
    """

    response: DcResponse
    face: IntArray
    moment: IntArray
    hour_means: HourMeans | None
    time: RoofTime
    dark_hours_by_month: FloatArray
    in_cells: InCells | None = None
    shaded: ShadedRoof | None = None

    @property
    def face_count(self) -> int:
        """Number of faces."""
        return len(self.dark_hours_by_month)

    @property
    def dark_hours_h(self) -> FloatArray:
        """Hours of the year without irradiance on each face."""
        return np.asarray(self.dark_hours_by_month.sum(axis=1))

    @property
    def points(self) -> Cells:
        """The points as weighted points of the faces."""
        return Cells(self.face, self.moment, self.response.weight_h, self.face_count)

    @property
    def cells(self) -> Cells:
        """Each face at each of its moments once."""
        return self.points if self.in_cells is None else self.in_cells.cells

    def of_units(self, units: UnitsOnFaces) -> tuple[RoofDc, IntArray | slice]:
        """The points of the faces with such units, with the same numbers of faces and moments, and the cell of each point."""
        is_in = np.array(units.module_counts) > 0
        if self.shaded is not None or is_in.all():
            of_units = self if self.shaded is None else self.shaded.of_units(units)
            return of_units, slice(None) if of_units.in_cells is None else of_units.in_cells.cell
        index = np.flatnonzero(is_in[self.face])
        means = self.hour_means
        return replace(
            self,
            response=at_points(self.response, index),
            face=self.face[index],
            moment=self.moment[index],
            hour_means=means and replace(means, weight_h=means.weight_h[index], power_ratio=means.power_ratio[index]),
        ), index

    def by_face(self, values: FloatArray) -> FloatArray:
        """Sums over each face of `values`, shape (..., points), times the points' hours: shape (..., faces)."""
        return self.points.by_face(values)

    def loss_by_face(self, loss: Loss) -> FloatArray:
        """Energy of a loss on each face [Wh]."""
        return self.hours_by_face(loss.index, loss.power_w)

    def hours_by_face(self, index: IntArray, values: FloatArray | None = None) -> FloatArray:
        """Sums over each face of the hours of the points at `index`, each times its value where `values` are given."""
        return self.points.hours_by_face(index, values)

    def cell_power_w(self, point_power_w: FloatArray, cell: IntArray | slice, cell_count: int) -> FloatArray:
        """Power of each cell, shape (..., cells), from that of some points, which lie in the cells at `cell`."""
        shape = *point_power_w.shape[:-1], cell_count
        if self.in_cells is None:
            power_w = np.zeros(shape)
            power_w[..., cell] = point_power_w
            return power_w
        rows = (point_power_w * self.in_cells.share).reshape(-1, point_power_w.shape[-1])
        sums = [np.bincount(self.in_cells.cell, weights=row, minlength=cell_count) for row in rows]
        return np.asarray(sums, dtype=np.float64).reshape(shape)


@dataclass(frozen=True, slots=True)
class UnitsOnFaces:
    """Units with equally many modules: on each face how many modules they hold together, and the number of the first."""

    modules_per_unit: int
    module_counts: tuple[int, ...]
    first_modules: tuple[int, ...]
    wiring: InputWiring


@dataclass(frozen=True, slots=True, eq=False)
class ShadedRoof:
    """Gives the points of units on a roof with shade.

    `faces` has for each face its shaded modules or, without shade, the points of its modules; `change` is applied to what
    results, such as to condense it.
    """

    faces: tuple[ShadedFace | FacePoints, ...]
    cells: Cells
    hour_means: HourMeans
    time: RoofTime
    dark_hours_by_month: FloatArray
    change: Callable[[RoofDc], RoofDc] | None = None
    _cache: dict[UnitsOnFaces, RoofDc] = field(default_factory=dict)

    def of_units(self, units: UnitsOnFaces) -> RoofDc:
        """The points of such units; faces without any have none."""
        if units not in self._cache:
            dc = self._of_units(units)
            self._cache[units] = dc if self.change is None else self.change(dc)
        return self._cache[units]

    def _of_units(self, units: UnitsOnFaces) -> RoofDc:
        rows = zip(self.faces, units.module_counts, units.first_modules, strict=True)
        points = [(number, self._face_points(units, *row)) for number, row in enumerate(rows) if units.module_counts[number]]
        starts = np.searchsorted(self.cells.face, np.arange(len(self.faces)))
        cell = np.concatenate([each.points.unshaded_point + starts[number] for number, each in points])
        share = np.concatenate([each.share for _, each in points])
        means = self.hour_means
        return RoofDc(
            response=_joined_responses([each.response for _, each in points], self.dark_hours_by_month.sum(axis=0)),
            face=self.cells.face[cell],
            moment=self.cells.moment[cell],
            hour_means=HourMeans(means.weight_h[cell] * share, means.power_ratio[cell], means.power_ratio_min),
            time=self.time,
            dark_hours_by_month=self.dark_hours_by_month,
            in_cells=InCells(self.cells, cell, share),
            shaded=self,
        )

    def changed(self, change: Callable[[RoofDc], RoofDc]) -> ShadedRoof:
        """The same with a change applied to what it gives."""
        return replace(self, change=change, _cache={})

    @staticmethod
    def _face_points(units: UnitsOnFaces, face: ShadedFace | FacePoints, count: int, first: int) -> FacePoints:
        if isinstance(face, FacePoints):
            return face
        return face.units(first, count, units.wiring, units.modules_per_unit)


def sums_by_face(face: IntArray, face_count: int, values: FloatArray, weight_h: FloatArray) -> FloatArray:
    """Sums over each face of `values`, shape (..., points), times hours: shape (..., faces). `face` must not fall."""
    bounds = np.searchsorted(face, np.arange(face_count + 1)).tolist()
    return np.stack([values[..., start:end] @ weight_h[start:end] for start, end in pairwise(bounds)], axis=-1)


def roof_dc(cache: FaceCache, *, faces: tuple[Face, ...], module: Module, parameters: SixParameters) -> RoofDc:
    """DC response of a module on each face, with subhourly states; `parameters` are fitted to the module."""
    planes, responses = cache.planes(faces), cache.responses(faces, parameters, module.bifaciality)
    face_points = cache.subhourly_points(faces, module.temp_coefficient_pmp_percent_per_k / 100.0)
    first_moment, time = _roof_time(cache.conditions, cache.subhourly_states())
    points = _joined_points(face_points, [response.weight_h.size for response in responses])
    hourly = _joined_hours(responses)
    unshaded = RoofDc(
        response=with_subhourly_points(hourly, points),
        face=np.repeat(np.arange(len(faces)), [each.interval.size for each in face_points]),
        moment=np.concatenate([_moments(first_moment, *each) for each in zip(planes, face_points, strict=True)]),
        hour_means=HourMeans(
            weight_h=np.where(points.state == EVEN, hourly.weight_h[points.interval], 0.0),
            power_ratio=points.power_ratio,
            power_ratio_min=float(points.power_ratio[points.state == EVEN].min(initial=1.0)),
        ),
        time=time,
        dark_hours_by_month=np.array([each.dark_hours_by_month for each in responses]),
    )
    if not any(face.is_shaded for face in faces):
        return unshaded
    return _shaded(unshaded, [_on_face(cache, face, module, parameters, unshaded, number) for number, face in enumerate(faces)])


def _on_face(
    cache: FaceCache, face: Face, module: Module, parameters: SixParameters, unshaded: RoofDc, number: int
) -> ShadedFace | FacePoints:
    if face.is_shaded:
        return cache.shaded_face(face, module, parameters)
    points = np.flatnonzero(unshaded.face == number)
    response, own = at_points(unshaded.response, points), np.arange(points.size)
    power_w = response.maximum_power.power_w
    lit = replace(response, shade=PointShade(power_w, np.zeros_like(power_w)))
    return FacePoints(lit, KindPoints(own, own, own[None]), np.ones(points.size), own[None])


def _shaded(unshaded: RoofDc, faces: Sequence[ShadedFace | FacePoints]) -> RoofDc:
    """Each module by itself, and what gives the points of units."""
    assert unshaded.hour_means is not None, "points of a year have hourly means"
    roof = ShadedRoof(tuple(faces), unshaded.cells, unshaded.hour_means, unshaded.time, unshaded.dark_hours_by_month)
    counts = tuple(each.positions if isinstance(each, ShadedFace) else 1 for each in faces)
    return roof.of_units(UnitsOnFaces(1, counts, (0,) * len(counts), ONE_MODULE))


def _joined_responses(responses: Sequence[DcResponse], dark_hours_by_month: FloatArray) -> DcResponse:
    """The points of one response after those of another; inputs and lower maxima of the same number are joined."""
    starts = np.cumsum([0, *(each.weight_h.size for each in responses)]).tolist()
    others: list[OtherMaxima] = []
    for number in range(max(len(each.other_maxima) for each in responses)):
        parts = [
            (each.other_maxima[number], start)
            for each, start in zip(responses, starts, strict=False)
            if number < len(each.other_maxima)
        ]
        maxima = [part for part, _ in parts]
        others.append(
            OtherMaxima(
                np.concatenate([part.point + start for part, start in parts]),
                *(_field(maxima, name) for name in ("curve", "maximum_power", "at_highest_voltage")),
            )
        )
    inputs_each = max(responses, key=lambda each: len(each.inputs)).inputs
    inputs = tuple(
        replace(
            one,
            response=_joined_responses(
                [each.inputs[number].response if each.inputs else each for each in responses], dark_hours_by_month
            ),
        )
        for number, one in enumerate(inputs_each)
    )
    names = ("curve", "maximum_power", "shade", *POINT_FIELDS)
    joined = {name: _field(responses, name) for name in names}
    return DcResponse(**joined, dark_hours_by_month=dark_hours_by_month, other_maxima=tuple(others), inputs=inputs)


def _moments(first_moment: IntArray, plane: PlaneOfArray, points: SubhourlyPoints) -> IntArray:
    """Index of the roof's moment of each point of a face; an hour without subhourly states has a single moment."""
    lit = lit_hours(plane)
    start, end = first_moment[lit][points.interval], first_moment[lit + 1][points.interval]
    return np.asarray(np.minimum(start + points.state, end - 1))


def first_moments(hour_count: int, states: SubhourlyStates) -> IntArray:
    """Index of the first moment of each hour, with the number of moments at the end: hours that are split have three."""
    moments_of_hour = np.ones(hour_count, dtype=np.int64)
    moments_of_hour[states.index] = STATES
    return np.concatenate([[0], np.cumsum(moments_of_hour)])


def _roof_time(conditions: Conditions, states: SubhourlyStates) -> tuple[IntArray, RoofTime]:
    """Index of the first moment of each hour, with the number of moments at the end; and the moments."""
    first_moment = first_moments(conditions.weight_h.size, states)
    share = np.ones(int(first_moment[-1]))
    share[first_moment[states.index] + np.arange(STATES)[:, None]] = states.weight.T
    hour = np.repeat(np.arange(first_moment.size - 1), np.diff(first_moment))
    weight_h, hour_of_year = conditions.weight_h[hour] * share, conditions.hour_of_year
    time = RoofTime(
        weight_h=weight_h,
        month=conditions.month[hour],
        hour=conditions.hour[hour],
        utc_offset_h=conditions.utc_offset_h,
        after_hour_h=conditions.after_hour_h,
        hour_of_year=None if hour_of_year is None else hour_of_year[hour],
        hour_weight_h=weight_h,
    )
    return first_moment, time


def _joined_hours(responses: Sequence[DcResponse]) -> DcResponse:
    """The lit hours of one face after those of another."""
    dark = np.sum([each.dark_hours_by_month for each in responses], axis=0)
    joined = {name: _field(responses, name) for name in ("curve", "maximum_power", *POINT_FIELDS)}
    return DcResponse(**joined, dark_hours_by_month=dark)


def _joined_points(points: Sequence[SubhourlyPoints], hour_counts: Sequence[int]) -> SubhourlyPoints:
    """The points of one face after those of another; `interval` counts the hours of all faces, as `_joined_hours` does."""
    hours_before = np.cumsum(hour_counts) - hour_counts
    interval = np.concatenate([each.interval + start for each, start in zip(points, hours_before, strict=True)])
    names = ("state", "share", "power_ratio", "irradiance_ratio")
    return SubhourlyPoints(interval, *(_field(points, name) for name in names))


def _field(parts: Sequence[Any], name: str) -> Any:
    """A field of several dataclasses, its arrays concatenated; the field may itself be a dataclass of arrays."""
    values = [getattr(part, name) for part in parts]
    if isinstance(values[0], np.ndarray):
        return np.concatenate(values)
    return type(values[0])(*(_field(values, each.name) for each in fields(values[0])))

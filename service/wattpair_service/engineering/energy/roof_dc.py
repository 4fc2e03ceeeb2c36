"""DC response of a module on all faces of a roof, joined in one array: each microinverter needs one pass over it.

Each point also has an index into the roof's moments. Where household load or export limit counts, the faces' powers at the
same moment, the same subhourly state of the same hour, are summed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import Any

import numpy as np

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.inverter.power_steps import Loss
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face, PlaneOfArray
from wattpair_service.engineering.irradiance.subhourly import STATES, SubhourlyStates
from wattpair_service.engineering.module.dc_response import (
    EVEN,
    DcResponse,
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
    """

    response: DcResponse
    face: IntArray
    moment: IntArray
    hour_means: HourMeans | None
    time: RoofTime
    dark_hours_by_month: FloatArray

    @property
    def face_count(self) -> int:
        """Number of faces."""
        return len(self.dark_hours_by_month)

    @property
    def dark_hours_h(self) -> FloatArray:
        """Hours of the year without irradiance on each face."""
        return np.asarray(self.dark_hours_by_month.sum(axis=1))

    def of_faces(self, is_in: BoolArray) -> tuple[RoofDc, IntArray | slice]:
        """The points of some of the faces, with the same numbers of faces and moments, and the index of these points."""
        if is_in.all():
            return self, slice(None)
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
        return sums_by_face(self.face, self.face_count, values, self.response.weight_h)

    def loss_by_face(self, loss: Loss) -> FloatArray:
        """Energy of a loss on each face [Wh]."""
        return self.hours_by_face(loss.index, loss.power_w)

    def hours_by_face(self, index: IntArray, values: FloatArray | None = None) -> FloatArray:
        """Sums over each face of the hours of the points at `index`, each times its value where `values` are given."""
        weight_h = self.response.weight_h[index]
        sums = np.bincount(
            self.face[index], weights=weight_h if values is None else weight_h * values, minlength=self.face_count
        )
        return sums.astype(np.float64, copy=False)


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
    return RoofDc(
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


def _moments(first_moment: IntArray, plane: PlaneOfArray, points: SubhourlyPoints) -> IntArray:
    """Index of the roof's moment of each point of a face; an hour without subhourly states has a single moment."""
    lit = lit_hours(plane)
    start, end = first_moment[lit][points.interval], first_moment[lit + 1][points.interval]
    return np.asarray(np.minimum(start + points.state, end - 1))


def _roof_time(conditions: Conditions, states: SubhourlyStates) -> tuple[IntArray, RoofTime]:
    """Index of the first moment of each hour, with the number of moments at the end; and the moments."""
    moments_of_hour = np.ones(conditions.weight_h.size, dtype=np.int64)
    moments_of_hour[states.index] = STATES
    first_moment = np.concatenate([[0], np.cumsum(moments_of_hour)])
    share = np.ones(int(first_moment[-1]))
    share[first_moment[states.index] + np.arange(STATES)[:, None]] = states.weight.T
    hour = np.repeat(np.arange(moments_of_hour.size), moments_of_hour)
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
    names = (
        "curve", "maximum_power", "voltage_oc_v", "irradiance_w_m2", "temp_cell_c", "temp_under_module_c",
        "weight_h", "month", "hour", "is_surge",
    )  # fmt: skip
    dark = np.sum([each.dark_hours_by_month for each in responses], axis=0)
    return DcResponse(**{name: _field(responses, name) for name in names}, dark_hours_by_month=dark)


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

"""The DC dc of all faces of a roof as one array, so that a further microinverter costs one pass over it.

Every point of every face also has its moment on the roof's own time: where the export limit or the home's load counts, the
faces' powers at the same state of the same hour add up there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Any

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.inverter.power_steps import Loss
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face, PlaneOfArray
from wattpair_service.engineering.irradiance.subhourly import STATES, SubhourlyStates
from wattpair_service.engineering.module.dc_response import EVEN, DcResponse, SubhourlyPoints, lit_hours, with_subhourly_points
from wattpair_service.engineering.module.single_diode import SixParameters


@dataclass(frozen=True, slots=True, eq=False)
class RoofTime:
    """The roof's own points: each state of each hour once, with its weight [h], month 1 to 12 and hour 0 to 23."""

    weight_h: FloatArray
    month: IntArray
    hour: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class HourMeans:
    """The hour of each point, where it is an hour's even state: its whole weight [h], 0 in sun and shade.

    `power_ratio` is the even state's power over the hour's mean, `power_ratio_min` the lowest of them.
    """

    weight_h: FloatArray
    power_ratio: FloatArray
    power_ratio_min: float


@dataclass(frozen=True, slots=True, eq=False)
class RoofDc:
    """DC dc of one module on each of the faces, face after face.

    Attributes
    ----------
    response : DcResponse
        All faces joined.
    face : array of int
        Face of each point, rising.
    moment : array of int
        Index of each point in `time`.
    hour_means : HourMeans or None
        What makes of the points a year without what happens inside the hours; None of condensed points.
    dark_hours_h : array
        Hours without light on each face.
    """

    response: DcResponse
    face: IntArray
    moment: IntArray
    hour_means: HourMeans | None
    time: RoofTime
    dark_hours_h: FloatArray

    @property
    def face_count(self) -> int:
        """How many faces there are."""
        return int(self.dark_hours_h.size)

    def by_face(self, values: FloatArray) -> FloatArray:
        """Sums of `values`, shape (..., points), times the points' hours, over each face: shape (..., faces)."""
        return sums_by_face(self.face, self.face_count, values, self.response.weight_h)

    def loss_by_face(self, loss: Loss) -> FloatArray:
        """Sums of a loss at some of the points, times the points' hours, over each face."""
        return self.hours_by_face(loss.at, loss.power_w)

    def hours_by_face(self, at: IntArray, values: FloatArray | None = None) -> FloatArray:
        """Hours of some points, each times its value, over each face."""
        weight_h = self.response.weight_h[at]
        sums = np.bincount(self.face[at], weights=weight_h if values is None else weight_h * values, minlength=self.face_count)
        return sums.astype(np.float64, copy=False)


def sums_by_face(face: IntArray, face_count: int, values: FloatArray, weight_h: FloatArray) -> FloatArray:
    """Sums of `values`, shape (..., points), times hours over the faces of the points, which rise: shape (..., faces)."""
    bounds = np.searchsorted(face, np.arange(face_count + 1)).tolist()
    return np.stack([values[..., start:end] @ weight_h[start:end] for start, end in pairwise(bounds)], axis=-1)


def roof_dc(cache: FaceCache, *, faces: tuple[Face, ...], module: Module, parameters: SixParameters) -> RoofDc:
    """DC dc of a module on each face, with what happens inside the hours; `parameters` are fitted to the module."""
    planes, responses = cache.planes(faces), cache.responses(faces, parameters)
    of_faces = cache.subhourly_points(faces, module.temp_coefficient_pmp_percent_per_k / 100.0)
    first, time = _roof_time(cache.conditions, cache.subhourly_states())
    points = _joined_points(of_faces, [response.weight_h.size for response in responses])
    hourly = _joined_hours(responses)
    return RoofDc(
        response=with_subhourly_points(hourly, points),
        face=np.repeat(np.arange(len(faces)), [each.interval.size for each in of_faces]),
        moment=np.concatenate([_moments(first, *each) for each in zip(planes, of_faces, strict=True)]),
        hour_means=HourMeans(
            weight_h=np.where(points.state == EVEN, hourly.weight_h[points.interval], 0.0),
            power_ratio=points.power_ratio,
            power_ratio_min=float(points.power_ratio[points.state == EVEN].min(initial=1.0)),
        ),
        time=time,
        dark_hours_h=np.array([float(each.dark_hours_by_month.sum()) for each in responses]),
    )


def _moments(first: IntArray, plane: PlaneOfArray, points: SubhourlyPoints) -> IntArray:
    """Index of each point of a face in the roof's own; an hour that stays as it is has one there."""
    lit = lit_hours(plane)
    begin, end = first[lit][points.interval], first[lit + 1][points.interval]
    return np.asarray(np.minimum(begin + points.state, end - 1))


def _roof_time(conditions: Conditions, states: SubhourlyStates) -> tuple[IntArray, RoofTime]:
    """Where the points of each hour begin in the roof's own, and the end of the last; and these points."""
    size = np.ones(conditions.weight_h.size, dtype=np.int64)
    size[states.index] = STATES
    first = np.concatenate([[0], np.cumsum(size)])
    share = np.ones(int(first[-1]))
    share[first[states.index] + np.arange(STATES)[:, None]] = states.weight.T
    hour = np.repeat(np.arange(size.size), size)
    return first, RoofTime(conditions.weight_h[hour] * share, conditions.month[hour], conditions.hour[hour])


def _joined_hours(responses: Sequence[DcResponse]) -> DcResponse:
    """The lit hours of one face after those of another."""
    names = (
        "curve", "maximum_power", "voltage_oc_v", "irradiance_w_m2", "temp_cell_c", "temp_under_module_c",
        "weight_h", "month", "hour", "is_surge",
    )  # fmt: skip
    dark = np.sum([each.dark_hours_by_month for each in responses], axis=0)
    return DcResponse(**{name: _field(responses, name) for name in names}, dark_hours_by_month=dark)


def _joined_points(points: Sequence[SubhourlyPoints], hours: Sequence[int]) -> SubhourlyPoints:
    """The points of one face after those of another; each face's hours are counted on from those of the one before."""
    before = np.cumsum(hours) - hours
    interval = np.concatenate([each.interval + start for each, start in zip(points, before, strict=True)])
    return SubhourlyPoints(interval, *(_field(points, name) for name in ("state", "share", "power_ratio", "light_ratio")))


def _field(parts: Sequence[Any], name: str) -> Any:
    """A field of several dataclasses, arrays one after another; the field may itself be a dataclass of arrays."""
    values = [getattr(part, name) for part in parts]
    if isinstance(values[0], np.ndarray):
        return np.concatenate(values)
    return type(values[0])(*(_field(values, each.name) for each in fields(values[0])))

"""The DC side of all faces of a roof as one array, so that a further microinverter costs one pass over it.

Every point of every face also has its place on the roof's own time: where the export limit or the home's load counts, the
faces' powers at the same state of the same hour add up there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.conditions import Conditions
from wattpair_service.engineering.dc_limits import scaled_curve
from wattpair_service.engineering.dc_response import DcResponse, StatePoints, with_states
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.intra_hour import STATES, IntraHourSpread
from wattpair_service.engineering.plane_of_array import Face
from wattpair_service.engineering.roof_light import RoofLight
from wattpair_service.engineering.single_diode import OperatingPoint, SixParameters

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
T = TypeVar("T")


@dataclass(frozen=True, slots=True, eq=False)
class RoofTime:
    """The roof's own points: each state of each hour once, with its weight [h], month 1 to 12 and hour 0 to 23."""

    weight_h: FloatArray
    month: IntArray
    hour: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class RoofSide:
    """DC side of one module on each of the faces, face after face.

    Attributes
    ----------
    response, hourly : DcResponse
        All faces joined, with and without the spread inside the hour.
    face, hour_face : array of int
        Face of each point and of each lit hour, rising.
    place : array of int
        Index of each point of `response` in `time`.
    dark_hours_h : array
        Hours without light on each face.
    """

    response: DcResponse
    hourly: DcResponse
    face: IntArray
    hour_face: IntArray
    place: IntArray
    time: RoofTime
    dark_hours_h: FloatArray

    @property
    def face_count(self) -> int:
        """How many faces there are."""
        return int(self.dark_hours_h.size)

    def by_face(self, values: FloatArray) -> FloatArray:
        """Sums of `values`, one for each point of `response`, times the point's hours, over each face."""
        return self._sums(self.face, values * self.response.weight_h)

    def hours_by_face(self, values: FloatArray) -> FloatArray:
        """Sums of `values`, one for each lit hour, times its hours, over each face."""
        return self._sums(self.hour_face, values * self.response.hour_weight_h)

    def points_by_face(self, index: IntArray, values: FloatArray) -> FloatArray:
        """Sums of `values`, one for each of the points `index` of `response`, times the point's hours, over each face."""
        weighted = values * self.response.weight_h[index]
        return np.bincount(self.face[index], weights=weighted, minlength=self.face_count).astype(np.float64)

    def clipped_share_by_means(self, hourly_ac_w: FloatArray, ac_limit_w: float) -> FloatArray:
        """Clipping of each face as hourly means show it, as a share of the AC energy without a limit (0-1)."""
        clipped, unlimited = self.hours_by_face(np.maximum(hourly_ac_w - ac_limit_w, 0.0)), self.hours_by_face(hourly_ac_w)
        return np.divide(clipped, unlimited, out=np.zeros(self.face_count), where=unlimited > 0.0)

    def _sums(self, face: IntArray, values: FloatArray) -> FloatArray:
        bounds = np.searchsorted(face, np.arange(self.face_count + 1))
        found, lit = np.zeros(self.face_count), bounds[1:] > bounds[:-1]
        if lit.any():
            found[lit] = np.add.reduceat(values, bounds[:-1][lit])
        return found


def roof_side(
    light: RoofLight, spread: IntraHourSpread, *, faces: tuple[Face, ...], module: Module, parameters: SixParameters
) -> RoofSide:
    """DC side of a module on each face; `parameters` are fitted to the module."""
    responses = light.responses(faces, parameters)
    of_faces = light.points(faces, spread, module.temp_coefficient_pmp_percent_per_k / 100.0)
    hours = [response.weight_h.size for response in responses]
    hourly, points = _joined_responses(responses, hours), _joined_points(of_faces, hours)
    first, time = _roof_time(light.conditions, spread)
    return RoofSide(
        response=with_states(hourly, points),
        hourly=hourly,
        face=np.repeat(np.arange(len(faces)), [each.interval.size for each in of_faces]),
        hour_face=np.repeat(np.arange(len(faces)), hours),
        # An hour that stays as it is has one place.
        place=np.minimum(first[points.at] + points.state, first[points.at + 1] - 1),
        time=time,
        dark_hours_h=np.array([float(each.dark_hours_by_month.sum()) for each in responses]),
    )


def _roof_time(conditions: Conditions, spread: IntraHourSpread) -> tuple[IntArray, RoofTime]:
    """Where the points of each hour begin in the roof's own, and the end of the last; and these points."""
    size = np.ones(conditions.weight_h.size, dtype=np.int64)
    size[spread.index] = STATES
    first = np.concatenate([[0], np.cumsum(size)])
    share = np.ones(int(first[-1]))
    share[first[spread.index] + np.arange(STATES)[:, None]] = spread.weight.T
    hour = np.repeat(np.arange(size.size), size)
    return first, RoofTime(conditions.weight_h[hour] * share, conditions.month[hour], conditions.hour[hour])


def scaled(response: DcResponse, hour_factor: FloatArray) -> DcResponse:
    """The DC side of a module with the same voltages and `hour_factor` times the current in each lit hour.

    For a single diode this is exact.
    """
    factor, best = hour_factor[response.interval], response.maximum_power
    return replace(
        response,
        curve=scaled_curve(response.curve, factor),
        maximum_power=OperatingPoint(best.power_w * factor, best.voltage_v, best.current_a * factor),
        hour_power_w=response.hour_power_w * hour_factor,
    )


def scaled_module(module: Module, current_factor: float) -> Module:
    """The datasheet of that module; its size and mass stay, as cells of a better kind."""
    return replace(
        module,
        power_w=module.power_w * current_factor,
        current_sc_a=module.current_sc_a * current_factor,
        current_mp_a=module.current_mp_a * current_factor,
    )


def _joined_responses(responses: Sequence[DcResponse], hours: Sequence[int]) -> DcResponse:
    """One response after another; each keeps its own hours."""
    return replace(
        _joined(responses),
        interval=_counted_on([each.interval for each in responses], hours),
        dark_hours_by_month=np.sum([each.dark_hours_by_month for each in responses], axis=0),
    )


def _joined_points(points: Sequence[StatePoints], hours: Sequence[int]) -> StatePoints:
    return replace(_joined(points), interval=_counted_on([each.interval for each in points], hours))


def _counted_on(intervals: Sequence[IntArray], hours: Sequence[int]) -> IntArray:
    """Numbers of hours in one array; each part's begin behind those of the part before."""
    starts = np.cumsum(hours) - hours
    return np.concatenate([interval + start for interval, start in zip(intervals, starts, strict=True)])


def _joined(parts: Sequence[T]) -> T:
    """Dataclasses of arrays as one, the arrays of each field one after another."""

    def of_field(name: str) -> Any:
        values = [getattr(part, name) for part in parts]
        return _joined(values) if is_dataclass(values[0]) else np.concatenate(values)

    return type(parts[0])(**{each.name: of_field(each.name) for each in fields(parts[0])})  # type: ignore[arg-type]

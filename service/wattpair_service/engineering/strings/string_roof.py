"""A roof's modules as strings see them, shared by all string inverters that are compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from wattpair_service.engineering.arrays import IntArray
from wattpair_service.engineering.energy.face_cache import DARK, FaceCache, unshaded_points
from wattpair_service.engineering.energy.roof_dc import Cells, HourMeans, InCells, RoofDc, first_moments, roof_dc
from wattpair_service.engineering.energy.shaded_face import mean_response
from wattpair_service.engineering.equipment import ONE_MODULE, InputWiring, Module
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.irradiance.subhourly import STATES, SubhourlyStates
from wattpair_service.engineering.module.dc_response import EVEN, SUN, DcResponse, UnitInput
from wattpair_service.engineering.module.single_diode import SixParameters
from wattpair_service.engineering.strings.string_dc import (
    FaceLight,
    String,
    StringPoints,
    module_response,
    string_response,
)


@dataclass(frozen=True, eq=False)
class StringRoof:
    """The faces with one module, their points, and the responses of strings that were looked at."""

    unshaded: RoofDc
    faces: tuple[FaceLight, ...]
    points: StringPoints
    parameters: SixParameters
    groups_per_module: int
    _responses: dict[String, DcResponse] = field(default_factory=dict)
    _modules: dict[tuple[int, int], DcResponse] = field(default_factory=dict)

    @classmethod
    def of(cls, cache: FaceCache, faces: Sequence[Face], module: Module, parameters: SixParameters) -> StringRoof:
        """The roof of a calculation; its faces' modules may be in any string."""
        plain = tuple(replace(face, horizon=(), shade=None) for face in faces)
        unshaded = roof_dc(cache, faces=plain, module=module, parameters=parameters)
        lights = []
        for number, face in enumerate(faces):
            shaded = cache.shaded_face(face, module, parameters) if face.is_shaded else None
            own = shaded or unshaded_points(cache, face, module, parameters, subhourly=True)
            if not np.any(unshaded.face == number):
                raise EngineeringError(f'{DARK}; "{face.name}" gets none', ("faces",))
            lights.append(FaceLight.of(unshaded, number, own, parameters))
        hour, state = _hours_and_states(cache.conditions.weight_h.size, cache.subhourly_states())
        points = StringPoints.of(unshaded, hour, state, lights)
        return cls(unshaded, tuple(lights), points, parameters, module.cells.group_count)

    def with_strings(self, strings: Sequence[String]) -> RoofDc:
        """A roof whose single unit has these strings, one on each of its inputs."""
        return self._with_inputs([(self._string(string), InputWiring(len(string), "series")) for string in strings])

    def with_optimisers(self, strings: Sequence[String]) -> RoofDc:
        """A roof whose single unit has each module at its own maximum."""
        return self._with_inputs([(self._module(module), ONE_MODULE) for string in strings for module in string])

    def without_shade(self, strings: Sequence[String]) -> RoofDc | None:
        """The same with these strings and no shade; None where no string lies on several faces: it then has no mismatch."""
        if all(len({face for face, _ in string}) == 1 for string in strings):
            return None
        clear = replace(self, faces=tuple(replace(face, shaded=None) for face in self.faces), _responses={}, _modules={})
        return clear.with_strings(strings)

    def _string(self, string: String) -> DcResponse:
        if string not in self._responses:
            self._responses[string] = string_response(string, self.faces, self.points, self.parameters, self.groups_per_module)
        return self._responses[string]

    def _module(self, module: tuple[int, int]) -> DcResponse:
        face, number = module
        key = face, 0 if self.faces[face].shaded is None else number
        if key not in self._modules:
            self._modules[key] = module_response(self.faces[face], number, self.points)
        return self._modules[key]

    def _with_inputs(self, inputs: Sequence[tuple[DcResponse, InputWiring]]) -> RoofDc:
        points, time = self.points, self.unshaded.time
        weight_h = time.weight_h[points.moment] * points.share
        unit_inputs = [
            UnitInput(wiring, wiring.modules_per_input, replace(response, weight_h=weight_h)) for response, wiring in inputs
        ]
        lit_h = np.bincount(time.month[points.moment] - 1, weights=weight_h, minlength=12)
        dark_hours = np.maximum(np.bincount(time.month - 1, weights=time.weight_h, minlength=12) - lit_h, 0.0)
        response = replace(
            mean_response(unit_inputs),
            weight_h=weight_h,
            month=time.month[points.moment],
            hour=time.hour[points.moment],
            is_surge=points.state == SUN,
            dark_hours_by_month=dark_hours,
        )
        moments, cell = np.unique(points.moment, return_inverse=True)
        no_face = np.zeros(moments.size, dtype=np.int64)
        return RoofDc(
            response=response,
            face=np.zeros(points.moment.size, dtype=np.int64),
            moment=points.moment,
            hour_means=self._hour_means(),
            time=time,
            dark_hours_by_month=dark_hours[None],
            in_cells=InCells(Cells(no_face, moments, time.weight_h[moments], 1), cell, points.share),
        )

    def _hour_means(self) -> HourMeans:
        """Whole hours at their even states; where faces differ, by the face that is brightest then."""
        means, points = self.unshaded.hour_means, self.points
        assert means is not None, "points of a year have hourly means"
        weight_h, ratio, brightest = np.zeros((3, points.moment.size))
        starts = np.searchsorted(self.unshaded.face, np.arange(len(self.faces)))
        for start, face in zip(starts.tolist(), self.faces, strict=True):
            point = face.point_of_moment[points.moment]
            irradiance = np.where(point >= 0, face.unshaded.irradiance_w_m2[np.maximum(point, 0)], -1.0)
            brighter = irradiance > brightest
            at = start + np.maximum(point, 0)
            weight_h, ratio = (
                np.where(brighter, of_points[at], so_far)
                for of_points, so_far in ((means.weight_h, weight_h), (means.power_ratio, ratio))
            )
            brightest = np.maximum(brightest, irradiance)
        is_even = points.state == EVEN
        ratio = np.where(ratio > 0.0, ratio, 1.0)
        return HourMeans(weight_h * is_even * points.share, ratio, float(ratio[is_even].min(initial=1.0)))


def _hours_and_states(hour_count: int, states: SubhourlyStates) -> tuple[IntArray, IntArray]:
    """Hour and subhourly state of each of the roof's moments."""
    first = first_moments(hour_count, states)
    hour = np.repeat(np.arange(hour_count), np.diff(first))
    state = np.full(hour.size, EVEN)
    for number in range(STATES):
        state[first[states.index] + number] = number
    return hour, state

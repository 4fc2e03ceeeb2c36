"""Irradiance on a roof's faces and DC response of a module on them, each computed at its first use.

Results for a cached year are cached too, by the properties of the face: a request with another microinverter, price or number
of modules reuses them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.energy.shaded_face import ShadedFace, UnshadedPoints
from wattpair_service.engineering.equipment import Cells, Module
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import (
    Face,
    PlaneOfArray,
    PlaneParts,
    plane_parts,
    planes_of_array,
    sun_over,
)
from wattpair_service.engineering.irradiance.sky import Transposition, sky
from wattpair_service.engineering.irradiance.subhourly import SubhourlyStates, state_irradiance
from wattpair_service.engineering.irradiance.subhourly_on_faces import states_on_faces
from wattpair_service.engineering.module.dc_response import (
    SHADE,
    SUN,
    DcResponse,
    SubhourlyPoints,
    dc_responses,
    lit_hours,
    subhourly_points,
    with_subhourly_points,
)
from wattpair_service.engineering.module.rear_irradiance import rear_gain
from wattpair_service.engineering.module.single_diode import SixParameters
from wattpair_service.engineering.shade.classes import ShadeClasses
from wattpair_service.engineering.shade.on_face import shade_on_face
from wattpair_service.engineering.shade.suns import SUNS_PER_HOUR
from wattpair_service.engineering.site_year import SiteYear

T = TypeVar("T")

DARK = "only faces that get light in the year"
CACHED_RESULTS = 24
"""Cached irradiances, DC responses and subhourly points: those of two roofs of four faces. Each takes some 0.3 MB for an hourly
year."""

POINTS_TOGETHER = 8192
"""Points of a year whose DC responses are computed together: few calls where years are short, and no more than the processor's
cache holds where they are long."""


@dataclass(slots=True, eq=False)
class Slot:
    """Holds one cached result; empty until it is computed, so that several can be computed together."""

    result: Any = None


@lru_cache(maxsize=CACHED_RESULTS)
def cached_slot(*_key: Any) -> Slot:
    """The slot of a result for a cached year; a new one is empty."""
    return Slot()


@dataclass(frozen=True, slots=True, eq=False)
class FaceCache:
    """Results for faces in one year, shared by the parts of one calculation and, for a cached year, by later requests.

    All faces of one call are computed together.
    """

    year: SiteYear
    transposition: Transposition
    _own: dict[tuple[Any, ...], Slot] = field(default_factory=dict)
    _shaded: dict[tuple[Any, ...], ShadedFace] = field(default_factory=dict)
    _classes: dict[tuple[Any, ...], ShadeClasses] = field(default_factory=dict)

    @property
    def conditions(self) -> Conditions:
        """The year's weighted operating points."""
        return self.year.conditions

    def subhourly_states(self) -> SubhourlyStates:
        """Subhourly states of the year."""
        slot = self._own.setdefault((), Slot())
        if slot.result is None:
            slot.result = self.year.subhourly_states()
        states: SubhourlyStates = slot.result
        return states

    def plane(self, face: Face) -> PlaneOfArray:
        """Irradiance on a face."""
        return self.planes((face,))[0]

    def planes(self, faces: Sequence[Face]) -> list[PlaneOfArray]:
        """Irradiance on each face."""
        return self._results(_planes, faces)

    def response(self, face: Face, parameters: SixParameters, bifaciality: float = 0.0) -> DcResponse:
        """DC response of a module on a face, hour by hour."""
        return self.responses((face,), parameters, bifaciality)[0]

    def responses(self, faces: Sequence[Face], parameters: SixParameters, bifaciality: float = 0.0) -> list[DcResponse]:
        """DC response of a module on each face, hour by hour."""
        return self._results(_responses, faces, parameters, bifaciality)

    def subhourly_points(self, faces: Sequence[Face], power_coefficient_per_k: float) -> list[SubhourlyPoints]:
        """The points of each face with the subhourly states of its hours."""
        return self._results(_subhourly_points, faces, power_coefficient_per_k)

    def subhourly_response(
        self, face: Face, parameters: SixParameters, power_coefficient_per_k: float, bifaciality: float = 0.0
    ) -> DcResponse:
        """DC response of a module on a face with the subhourly states of its hours.

        Not cached: it needs more memory than the results that it is computed from, and less time.
        """
        response, (points,) = (
            self.response(face, parameters, bifaciality),
            self.subhourly_points((face,), power_coefficient_per_k),
        )
        return with_subhourly_points(response, points)

    def shaded_face(
        self,
        face: Face,
        module: Module,
        parameters: SixParameters,
        *,
        subhourly: bool = True,
        height_factor: float | None = None,
    ) -> ShadedFace:
        """A face under shade with its modules, with the subhourly states of its hours or without.

        With a `height_factor` all objects are so much higher, and an hour has one position of the sun: enough for a range.
        For this calculation only: it takes some ten times the memory of the other results, and a roof's shade is its own.
        """
        key = replace(face, name="", module_count=1), module.cells, module.bifaciality, parameters, subhourly, height_factor
        if key not in self._shaded:
            classes = self._shade_classes(face, module.cells, height_factor)
            self._shaded[key] = ShadedFace(
                unshaded=unshaded_points(self, face, module, parameters, subhourly=subhourly),
                classes=classes,
                parameters=parameters,
                groups_per_module=module.cells.group_count,
                positions=classes.of_module.shape[1],
            )
        return self._shaded[key]

    def _shade_classes(self, face: Face, cells: Cells, height_factor: float | None) -> ShadeClasses:
        key = replace(face, name="", module_count=1), cells, height_factor
        if key not in self._classes:
            suns, factor = (SUNS_PER_HOUR, 1.0) if height_factor is None else (1, height_factor)
            lit = lit_hours(self.plane(face))
            if not lit.size:
                raise EngineeringError(f'{DARK}; "{face.name}" gets none', ("faces",))
            self._classes[key] = shade_on_face(face, self.conditions, lit, cells, height_factor=factor, suns_per_hour=suns)
        return self._classes[key]

    def _results(self, function: Callable[..., Sequence[T]], faces: Sequence[Face], *others: Any) -> list[T]:
        # Neither the name of a face nor its number of modules changes its irradiance; shade enters after it.
        planes = [replace(face, name="", module_count=1, horizon=(), shade=None) for face in faces]
        slots = [self._slot((function, face, *others)) for face in planes]
        # By identity of the slot, so that equal faces are computed once.
        empty = {id(slot): (face, slot) for face, slot in zip(planes, slots, strict=True) if slot.result is None}
        if empty:
            results = function(self, [face for face, _ in empty.values()], *others)
            for (_, slot), result in zip(empty.values(), results, strict=True):
                slot.result = result
        return [slot.result for slot in slots]

    def _slot(self, key: tuple[Any, ...]) -> Slot:
        slot = self._own.get(key)
        if slot is None:
            # What the subhourly states depend on beside the conditions: another origin or elevation is another year.
            of_year = (self.year.irradiance_origin, self.year.climate.elevation_m, self.year.linke_turbidity_by_month)
            cached = self.conditions.is_cached
            slot = cached_slot(self.conditions, *of_year, self.transposition, *key) if cached else Slot()
            self._own[key] = slot
        return slot


def _planes(cache: FaceCache, faces: Sequence[Face]) -> Sequence[PlaneOfArray]:
    return planes_of_array(cache.conditions, faces, transposition=cache.transposition)


def _responses(cache: FaceCache, faces: Sequence[Face], parameters: SixParameters, bifaciality: float) -> Sequence[DcResponse]:
    planes, responses = cache.planes(faces), list[DcResponse]()
    batch_size = max(1, POINTS_TOGETHER // cache.conditions.weight_h.size)
    for start in range(0, len(faces), batch_size):
        batch = slice(start, start + batch_size)
        responses += dc_responses(
            cache.conditions, planes[batch], faces=faces[batch], parameters=parameters, bifaciality=bifaciality
        )
    return responses


def _subhourly_points(cache: FaceCache, faces: Sequence[Face], power_coefficient_per_k: float) -> Sequence[SubhourlyPoints]:
    planes = cache.planes(faces)
    on_faces = states_on_faces(
        cache.conditions,
        planes,
        cache.subhourly_states(),
        faces=faces,
        transposition=cache.transposition,
        power_coefficient_per_k=power_coefficient_per_k,
    )
    return [subhourly_points(*each) for each in zip(planes, on_faces, strict=True)]


def unshaded_points(
    cache: FaceCache, face: Face, module: Module, parameters: SixParameters, *, subhourly: bool
) -> UnshadedPoints:
    """The points of a face without shade, with the subhourly states of its hours or without."""
    conditions, plane, gain = cache.conditions, cache.plane(face), rear_gain(module.bifaciality, face)
    lit = lit_hours(plane)
    even = _parts(cache, face, lit, conditions.ghi_w_m2[lit], conditions.dni_w_m2[lit], conditions.dhi_w_m2[lit])
    irradiance_w_m2 = plane.effective_irradiance_w_m2[lit] * gain
    state_of_hour = np.full((2, lit.size), -1)
    if not subhourly:
        return UnshadedPoints(cache.response(face, parameters, module.bifaciality), irradiance_w_m2, even, state_of_hour, lit)
    (points,), states = (
        cache.subhourly_points((face,), module.temp_coefficient_pmp_percent_per_k / 100.0),
        cache.subhourly_states(),
    )
    for row, state in enumerate((SHADE, SUN)):
        of_state = np.flatnonzero(points.state == state)
        state_of_hour[row, points.interval[of_state]] = of_state
    variable = np.isin(states.index, lit)
    index, irradiance = states.index[variable], state_irradiance(conditions, states)
    ghi, dni, dhi = (each[variable] for each in (irradiance.ghi_w_m2, irradiance.dni_w_m2, irradiance.dhi_w_m2))
    shade_and_sun = (_parts(cache, face, index, ghi[:, state], dni[:, state], dhi[:, state]) for state in (SHADE, SUN))
    return UnshadedPoints(
        response=with_subhourly_points(cache.response(face, parameters, module.bifaciality), points),
        irradiance_w_m2=irradiance_w_m2[points.interval] * points.irradiance_ratio,
        parts=PlaneParts.joined((even, *shade_and_sun)),
        state_of_hour=state_of_hour,
        hour_of_year=lit,
    )


def _parts(
    cache: FaceCache, face: Face, index: IntArray, ghi_w_m2: FloatArray, dni_w_m2: FloatArray, dhi_w_m2: FloatArray
) -> PlaneParts:
    """Irradiance on the glass by its origin at some of the conditions, from this irradiance."""
    sun = sun_over(cache.conditions, index)
    over = sky(sun, ghi_w_m2=ghi_w_m2, dni_w_m2=dni_w_m2, dhi_w_m2=dhi_w_m2, transposition=cache.transposition)
    return plane_parts((face,), sun, over).of_face(0)

"""The light on a roof's faces and what a module makes of it, each computed when it is first asked for.

What belongs to a year that the service keeps itself is kept too, by the face's own figures: whoever changes a microinverter, a
price or a number of modules does not wait for the light again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, TypeVar

from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face, PlaneOfArray, planes_of_array
from wattpair_service.engineering.irradiance.sky import Transposition
from wattpair_service.engineering.irradiance.subhourly import IntraHourSpread
from wattpair_service.engineering.irradiance.subhourly_on_faces import face_spreads
from wattpair_service.engineering.module.dc_response import DcResponse, StatePoints, dc_responses, state_points, with_states
from wattpair_service.engineering.module.single_diode import SixParameters

T = TypeVar("T")

KEPT = 24
"""Planes, DC sides and states that are kept: those of two roofs of four faces. Of an hourly year each has some 0.3 MB."""

POINTS_TOGETHER = 8192
"""Points of a year whose DC sides are computed together: few calls where years are short, and no more than the processor's
cache holds where they are long."""


@dataclass(slots=True, eq=False)
class Place:
    """Where an answer is kept; empty until it is known, so that several can be computed together."""

    answer: Any = None


@lru_cache(maxsize=KEPT)
def kept(*_key: Any) -> Place:
    """The place of an answer for a year that the service keeps; a new one is empty."""
    return Place()


@dataclass(frozen=True, slots=True, eq=False)
class RoofLight:
    """Shared by the parts of one answer, which look at the same faces in the same year; with a kept year, by later answers.

    Faces that are asked for together are computed together.
    """

    conditions: Conditions
    transposition: Transposition
    _own: dict[tuple[Any, ...], Place] = field(default_factory=dict)

    def plane(self, face: Face) -> PlaneOfArray:
        """Light on a face."""
        return self.planes((face,))[0]

    def planes(self, faces: Sequence[Face]) -> list[PlaneOfArray]:
        """Light on each face."""
        return self._ask(_planes, faces)

    def response(self, face: Face, parameters: SixParameters) -> DcResponse:
        """DC side of a module on a face, hour by hour."""
        return self.responses((face,), parameters)[0]

    def responses(self, faces: Sequence[Face], parameters: SixParameters) -> list[DcResponse]:
        """DC side of a module on each face, hour by hour."""
        return self._ask(_responses, faces, parameters)

    def points(self, faces: Sequence[Face], spread: IntraHourSpread, power_coefficient_per_k: float) -> list[StatePoints]:
        """The points of each face with the spread inside the hour."""
        return self._ask(_points, faces, spread, power_coefficient_per_k)

    def swinging(
        self, face: Face, spread: IntraHourSpread, parameters: SixParameters, power_coefficient_per_k: float
    ) -> DcResponse:
        """DC side of a module on a face with the spread inside the hour.

        It takes more memory than all that it is made of, and less time: it is not kept.
        """
        (response,), (points,) = self.responses((face,), parameters), self.points((face,), spread, power_coefficient_per_k)
        return with_states(response, points)

    def _ask(self, function: Callable[..., Sequence[T]], faces: Sequence[Face], *others: Any) -> list[T]:
        # Neither the name of a face nor its number of modules changes its light.
        alike = [replace(face, name="", module_count=1) for face in faces]
        places = [self._place((function, face, *others)) for face in alike]
        # By identity, so that faces alike are one.
        empty = {id(place): (face, place) for face, place in zip(alike, places, strict=True) if place.answer is None}
        if empty:
            answers = function(self, [face for face, _ in empty.values()], *others)
            for (_, place), answer in zip(empty.values(), answers, strict=True):
                place.answer = answer
        return [place.answer for place in places]

    def _place(self, key: tuple[Any, ...]) -> Place:
        place = self._own.get(key)
        if place is None:
            place = kept(self.conditions, self.transposition, *key) if self.conditions.kept else Place()
            self._own[key] = place
        return place


def _planes(light: RoofLight, faces: Sequence[Face]) -> Sequence[PlaneOfArray]:
    return planes_of_array(light.conditions, faces, transposition=light.transposition)


def _responses(light: RoofLight, faces: Sequence[Face], parameters: SixParameters) -> Sequence[DcResponse]:
    planes, found = light.planes(faces), list[DcResponse]()
    together = max(1, POINTS_TOGETHER // light.conditions.weight_h.size)
    for start in range(0, len(faces), together):
        some = slice(start, start + together)
        found += dc_responses(light.conditions, planes[some], faces=faces[some], parameters=parameters)
    return found


def _points(
    light: RoofLight, faces: Sequence[Face], spread: IntraHourSpread, power_coefficient_per_k: float
) -> Sequence[StatePoints]:
    planes = light.planes(faces)
    states = face_spreads(
        light.conditions,
        planes,
        spread,
        faces=faces,
        transposition=light.transposition,
        power_coefficient_per_k=power_coefficient_per_k,
    )
    return [state_points(*each) for each in zip(planes, states, strict=True)]

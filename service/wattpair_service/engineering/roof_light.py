"""The light on a roof's faces and what a module makes of it, each computed when it is first asked for.

What belongs to a year that the service keeps itself is kept too, by the face's own figures: whoever changes a microinverter, a
price or a number of modules does not wait for the light again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.conditions import Conditions
from wattpair_service.engineering.dc_response import DARK_W_M2, DcResponse, dc_response, with_states
from wattpair_service.engineering.face_spread import face_spread
from wattpair_service.engineering.intra_hour import IntraHourSpread
from wattpair_service.engineering.plane_of_array import Face, PlaneOfArray, Transposition, plane_of_array
from wattpair_service.engineering.single_diode import SixParameters

IntArray = npt.NDArray[np.int64]
T = TypeVar("T")

KEPT = 24
"""Planes and DC sides that are kept: those of about two roofs of four faces. One is half a megabyte in the mean."""


@dataclass(frozen=True, slots=True, eq=False)
class SwingingSide:
    """DC side of a face with the spread inside the hour, and the interval of the conditions that each point belongs to."""

    response: DcResponse
    interval: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class RoofLight:
    """Shared by the parts of one answer, which look at the same faces in the same year; with a kept year, by later answers."""

    conditions: Conditions
    transposition: Transposition
    _own: dict[tuple[Any, ...], Any] = field(default_factory=dict)

    def plane(self, face: Face) -> PlaneOfArray:
        """Light on a face."""
        return self._ask(_plane, face)

    def response(self, face: Face, parameters: SixParameters) -> DcResponse:
        """DC side of a module on a face, hour by hour."""
        return self._ask(_response, face, parameters)

    def swinging(
        self, face: Face, spread: IntraHourSpread, parameters: SixParameters, power_coefficient_per_k: float
    ) -> SwingingSide:
        """The same with the spread inside the hour."""
        return self._ask(_swinging, face, spread, parameters, power_coefficient_per_k)

    def _ask(self, function: Callable[..., T], face: Face, *others: Any) -> T:
        # Neither the name of a face nor its number of modules changes its light.
        key = (function, replace(face, name="", module_count=1), *others)
        if key not in self._own:
            kept_year = self.conditions.kept
            self._own[key] = kept(self.conditions, self.transposition, *key) if kept_year else function(self, *key[1:])
        return self._own[key]  # type: ignore[no-any-return]


@lru_cache(maxsize=KEPT)
def kept(conditions: Conditions, transposition: Transposition, function: Callable[..., Any], *key: Any) -> Any:
    """What the function makes of a light of its own, so that nothing but its answer is held."""
    return function(RoofLight(conditions, transposition), *key)


def _plane(light: RoofLight, face: Face) -> PlaneOfArray:
    return plane_of_array(light.conditions, face, transposition=light.transposition)


def _response(light: RoofLight, face: Face, parameters: SixParameters) -> DcResponse:
    return dc_response(light.conditions, light.plane(face), face=face, parameters=parameters)


def _swinging(
    light: RoofLight, face: Face, spread: IntraHourSpread, parameters: SixParameters, power_coefficient_per_k: float
) -> SwingingSide:
    plane = light.plane(face)
    states = face_spread(
        light.conditions,
        plane,
        spread,
        face=face,
        transposition=light.transposition,
        power_coefficient_per_k=power_coefficient_per_k,
    )
    inside = with_states(light.response(face, parameters), plane, states)
    return SwingingSide(inside, np.flatnonzero(plane.effective_w_m2 > DARK_W_M2)[inside.interval])

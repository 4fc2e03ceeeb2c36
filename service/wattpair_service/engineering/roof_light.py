"""The light on a roof's faces and what a module makes of it, each computed when it is first asked for."""

from __future__ import annotations

from dataclasses import dataclass, field

from wattpair_service.engineering.conditions import Conditions
from wattpair_service.engineering.dc_response import DcResponse, dc_response
from wattpair_service.engineering.plane_of_array import Face, PlaneOfArray, Transposition, plane_of_array
from wattpair_service.engineering.single_diode import SixParameters


@dataclass(frozen=True, slots=True, eq=False)
class RoofLight:
    """Shared by the parts of one answer, which look at the same faces in the same year."""

    conditions: Conditions
    transposition: Transposition
    _planes: dict[Face, PlaneOfArray] = field(default_factory=dict)
    _responses: dict[tuple[Face, SixParameters], DcResponse] = field(default_factory=dict)

    def plane(self, face: Face) -> PlaneOfArray:
        """Light on a face."""
        if face not in self._planes:
            self._planes[face] = plane_of_array(self.conditions, face, transposition=self.transposition)
        return self._planes[face]

    def response(self, face: Face, parameters: SixParameters) -> DcResponse:
        """DC side of a module on a face, hour by hour."""
        key = (face, parameters)
        if key not in self._responses:
            self._responses[key] = dc_response(self.conditions, self.plane(face), face=face, parameters=parameters)
        return self._responses[key]

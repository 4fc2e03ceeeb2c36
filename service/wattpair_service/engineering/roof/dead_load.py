"""Dead load of the modules on a face. Wind and snow are not covered; a structural engineer decides."""

from __future__ import annotations

from dataclasses import dataclass

KG_PER_LB = 0.45359237
"""International pound, exact."""
M2_PER_FT2 = 0.3048**2
"""International foot, exact."""
STANDARD_GRAVITY_M_S2 = 9.80665


@dataclass(frozen=True, slots=True)
class PartMasses:
    """Masses in kg. Without `module_area_m2` the load on the modules' area is not computed."""

    module_kg: float
    unit_kg: float
    unit_bracket_kg: float
    mounting_per_module_kg: float
    module_area_m2: float | None
    guide_kg_m2: float


@dataclass(frozen=True, slots=True)
class FaceMass:
    """Mass of a face's modules, units and mounting [kg], and loads over the modules' area and the whole face [kg/m2].

    `within_guide` says whether the larger load is within the guide value; None without an area.
    """

    face: str
    mass_kg: float
    load_modules_kg_m2: float | None
    load_face_kg_m2: float | None
    within_guide: bool | None


def kg_m2(pounds_per_square_foot: float) -> float:
    """A load in psf as mass per area [kg/m2]."""
    return pounds_per_square_foot * KG_PER_LB / M2_PER_FT2


def face_mass(face: str, *, module_count: int, unit_count: int, area_m2: float | None, masses: PartMasses) -> FaceMass:
    """The dead load of one face."""
    mass = module_count * (masses.module_kg + masses.mounting_per_module_kg)
    mass += unit_count * (masses.unit_kg + masses.unit_bracket_kg)
    on_modules = None if masses.module_area_m2 is None else mass / (module_count * masses.module_area_m2)
    on_face = None if area_m2 is None else mass / area_m2
    loads = [load for load in (on_modules, on_face) if load is not None]
    return FaceMass(face, mass, on_modules, on_face, max(loads) <= masses.guide_kg_m2 if loads else None)

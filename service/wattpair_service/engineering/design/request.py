"""What the design of a whole roof is made from: faces by count or by size, offers, and the terms of circuits and bill."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from wattpair_service.engineering.circuits.circuits import UNIT_SPACING_M, CircuitFace, CircuitTerms
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.materials.bill_lines import FaceDetail
from wattpair_service.engineering.materials.bill_of_materials import MaterialTerms
from wattpair_service.engineering.money.prices import PriceBook
from wattpair_service.engineering.roof.layout import LENGTH_DIGITS, LayoutRequest, LayoutResult, layout
from wattpair_service.engineering.selection.request import SelectionRequest
from wattpair_service.engineering.site import Site


@dataclass(frozen=True, slots=True)
class AskedFace:
    """A face by its count or, where `layout` is given, by its size: the modules of `face` are then still to be counted.

    `unit_spacing_m` is None where it was not given. `detail` is what is known of a face that is given by its count.
    """

    face: Face
    layout: LayoutRequest | None
    unit_spacing_m: float | None
    detail: FaceDetail

    @property
    def name(self) -> str:
        """The face's name."""
        return self.face.name


@dataclass(frozen=True, slots=True)
class Wish:
    """Names of what is to be built; None leaves it to the ranking."""

    module: str | None
    microinverter: str | None


@dataclass(frozen=True, slots=True, eq=False)
class DesignRequest:
    """Everything that a design depends on but the weather and the region's electrical rules.

    `selection` has no faces yet: they are put in once their modules are counted.
    """

    site: Site
    currency: str | None
    faces: tuple[AskedFace, ...]
    selection: SelectionRequest
    wish: Wish
    circuits: CircuitTerms
    materials: MaterialTerms
    price_book: PriceBook | None


@dataclass(frozen=True, slots=True)
class CountedFace:
    """A face with its modules counted, and the layout that they were counted in."""

    asked: AskedFace
    face: Face
    layout: LayoutResult | None

    def circuit_face(self, modules_per_unit: int) -> CircuitFace:
        """The face as circuits see it: a laid-out face spaces its units by the modules that each of them serves."""
        spacing = self.asked.unit_spacing_m
        if spacing is None:
            laid = None if self.layout is None else round(modules_per_unit * self.layout.unit_spacing_m, LENGTH_DIGITS)
            spacing = UNIT_SPACING_M if laid is None else laid
        return CircuitFace(self.face.name, self.face.module_count, spacing)

    @property
    def detail(self) -> FaceDetail:
        """The face as the bill sees it."""
        if self.layout is None:
            return self.asked.detail
        found = self.layout.arrangement
        return FaceDetail(found.row_module_counts, self.layout.face_area_m2, found.row_segment_counts)


def counted(faces: tuple[AskedFace, ...]) -> Iterator[CountedFace]:
    """Each face with its modules counted.

    Raises
    ------
    EngineeringError
        As `layout.layout`, below the face concerned.
    """
    for number, asked in enumerate(faces):
        if asked.layout is None:
            yield CountedFace(asked, asked.face, None)
            continue
        try:
            found = layout(asked.layout)
        except EngineeringError as error:
            raise error.within(f"faces/{number}/layout") from error
        yield CountedFace(asked, replace(asked.face, module_count=found.arrangement.module_count), found)

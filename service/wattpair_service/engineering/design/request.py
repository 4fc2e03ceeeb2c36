"""The request of a design: faces by count or by size, offers, and the terms of circuits and bill."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from wattpair_service.engineering.circuits.circuits import CircuitFace, CircuitTerms
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.materials.bill_lines import FaceDetail, ModuleSize, PartChoices, ordered_spacing_m
from wattpair_service.engineering.materials.bill_of_materials import MaterialTerms
from wattpair_service.engineering.money.prices import PriceBook
from wattpair_service.engineering.roof.layout import Arrangement, LayoutRequest, LayoutResult, layout
from wattpair_service.engineering.roof.rows import Grid
from wattpair_service.engineering.selection.request import SelectionRequest
from wattpair_service.engineering.shade.scene import Placement
from wattpair_service.engineering.site import Site


@dataclass(frozen=True, slots=True)
class RequestedFace:
    """A face by its module count or, where `layout` is given, by its size: `face.module_count` is then still to be counted.

    `unit_spacing_m` is None where not given. `detail` applies to a face given by its count.
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
    """Names of the module and microinverter to build; None leaves the choice to the ranking."""

    module: str | None
    microinverter: str | None


@dataclass(frozen=True, slots=True, eq=False)
class DesignRequest:
    """All inputs of a design except the weather and the region's electrical rules.

    `selection` has no faces: `design` adds them once their modules are counted. `connection_costs` has names of grid connection
    procedures and their costs.
    """

    site: Site
    currency: str | None
    faces: tuple[RequestedFace, ...]
    selection: SelectionRequest
    wish: Wish
    circuits: CircuitTerms
    materials: MaterialTerms
    price_book: PriceBook | None
    connection_costs: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class CountedFace:
    """A face with its module count, and the layout that gave the count."""

    requested: RequestedFace
    face: Face
    layout: LayoutResult | None

    def circuit_face(self, modules_per_unit: int, module_size: ModuleSize, parts: PartChoices) -> CircuitFace:
        """The face for the circuits; where its unit spacing is not given, it is that of the trunk as ordered for its rows."""
        spacing_m = self.requested.unit_spacing_m
        if spacing_m is None:
            spacing_m = ordered_spacing_m(self.detail, self.face.module_count, modules_per_unit, module_size, parts)
        return CircuitFace(self.face.name, self.face.module_count, spacing_m)

    @property
    def stay_away(self) -> frozenset[int]:
        """Modules that the layout leaves out, by their numbers in the layout with them."""
        return frozenset() if self.requested.layout is None else frozenset(self.requested.layout.left_out)

    @property
    def detail(self) -> FaceDetail:
        """The face for the bill of materials."""
        if self.layout is None:
            return self.requested.detail
        assert self.requested.layout is not None, "a layout has its request"
        arrangement, gaps = self.layout.arrangement, self.requested.layout
        grid = Grid(arrangement.module_width_m, arrangement.module_height_m, gaps.column_gap_m, gaps.row_gap_m)
        return replace(
            self.requested.detail,
            segments=arrangement.segments,
            area_m2=self.layout.face_area_m2,
            orientation=arrangement.orientation,
            grid=grid,
            corners=tuple((each.x_m, each.y_m) for each in arrangement.modules),
        )


def counted(faces: tuple[RequestedFace, ...]) -> Iterator[CountedFace]:
    """Each face with its modules counted.

    Raises
    ------
    EngineeringError
        As `layout.layout`, with fields below the face concerned.
    """
    for number, requested in enumerate(faces):
        if requested.layout is None:
            yield CountedFace(requested, requested.face, None)
            continue
        try:
            result = layout(requested.layout)
        except EngineeringError as error:
            raise error.within(f"faces/{number}/layout") from error
        face = replace(
            requested.face,
            module_count=result.arrangement.module_count,
            shade=requested.face.shade and replace(requested.face.shade, placement=_placement(result.arrangement)),
        )
        assumptions = tuple(replace(each, name=f"faces.layout.{each.name}") for each in result.assumptions)
        yield CountedFace(requested, face, replace(result, assumptions=assumptions))


def _placement(arrangement: Arrangement) -> Placement:
    """Where the modules of a layout lie."""
    corners = tuple((each.x_m, each.y_m) for each in arrangement.modules)
    return Placement(corners, arrangement.module_width_m, arrangement.module_height_m, arrangement.orientation)

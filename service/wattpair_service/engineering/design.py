"""The whole job for one roof: climate, layout, checks, energy, choice, circuits and what has to be ordered.

Every part is what its own function gives for the same input. Circuits and bill are made for one kind of microinverter on one
kind of module; a mixed choice stays advice in the selection.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wattpair_service.engineering import findings
from wattpair_service.engineering.bill_of_materials import BillOfMaterials
from wattpair_service.engineering.circuits import CircuitsResult
from wattpair_service.engineering.clipping import ClippingResult
from wattpair_service.engineering.electrical_checks import Site
from wattpair_service.engineering.layout import LayoutRequest, LayoutResult
from wattpair_service.engineering.plane_of_array import Face
from wattpair_service.engineering.selection import SelectionResult
from wattpair_service.engineering.selection_request import ModuleOffer, SelectionRequest, UnitOffer
from wattpair_service.engineering.site_climate import SiteClimateResult
from wattpair_service.engineering.sizing import SizingResult

Basis = Literal["recommended", "named", "none_passes", "named_fails"]


@dataclass(frozen=True, slots=True)
class Pairing:
    """A module and a microinverter, by name."""

    module: str
    microinverter: str


@dataclass(frozen=True, slots=True)
class Built:
    """Which pairing circuits and bill are made for, and why; `pairing` is None where there is none to build."""

    basis: Basis
    pairing: Pairing | None
    sentence: str


@dataclass(frozen=True, slots=True, eq=False)
class FaceDesign:
    """One face as it is built; `outline` and `layout` are None where the request gave a count."""

    face: Face
    outline: LayoutRequest | None
    layout: LayoutResult | None


@dataclass(frozen=True, slots=True, eq=False)
class Design(findings.Result):
    """Every part of the job, with what is to be said of all of them, each thing once.

    The findings of the parts stand here alone: a part's own are empty.

    Attributes
    ----------
    site : Site
        Where the building stands.
    currency : str or None
        Of every price, None where the request names none.
    request : SelectionRequest
        What was asked: modules, candidates, faces with their counts, tariff and terms.
    built : Built
        The pairing that circuits and bill are for.
    module : ModuleOffer
        The module that is built or, where nothing is, the first of the request; `climate` is told for it.
    unit : UnitOffer or None
        The microinverter that is built.
    climate : SiteClimateResult
        The site's light and air, with the module's power and each candidate's ratio there.
    faces : tuple of FaceDesign
        In the order of the request.
    sizing : tuple of SizingResult
        Each module with every candidate.
    clipping : ClippingResult or None
        The module that is built with every candidate that passes on it; None where none does.
    selection : SelectionResult
        The ranking and what it rests on.
    circuits : CircuitsResult or None
        Circuits, voltage rise and connection route; None where nothing is built.
    bill_of_materials : BillOfMaterials or None
        Parts, dead load and prices; likewise.
    """

    site: Site
    currency: str | None
    request: SelectionRequest
    built: Built
    module: ModuleOffer
    unit: UnitOffer | None
    climate: SiteClimateResult
    faces: tuple[FaceDesign, ...]
    sizing: tuple[SizingResult, ...]
    clipping: ClippingResult | None
    selection: SelectionResult
    circuits: CircuitsResult | None
    bill_of_materials: BillOfMaterials | None

"""The answer of `design_roof`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wattpair.results.bill_of_materials import BillOfMaterialsResult
from wattpair.results.circuits import CircuitsResult
from wattpair.results.clipping import ClippingResult
from wattpair.results.layout import LayoutResult
from wattpair.results.selection import SelectionResult
from wattpair.results.shared import Result
from wattpair.results.site_climate import SiteClimateResult
from wattpair.results.sizing import SizingResult

BuiltBasis = Literal["recommended", "named", "none_passes", "named_fails", "unsuited"]
"""Why a pairing is built, or why none is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """A module and a microinverter.

    Attributes
    ----------
    module, microinverter : str
        Their names.
    """

    module: str
    microinverter: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """What circuits and bill are made for.

    Attributes
    ----------
    basis : {"recommended", "named", "none_passes", "named_fails", "unsuited"}
        Why: recommended, named by the request's `build`, or why nothing is built.
    pairing : Pairing or None
        The pairing; None where nothing is built.
    sentence : str
        The same in a sentence.
    """

    basis: BuiltBasis
    pairing: Pairing | None
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceDesign:
    """One face as it is built.

    Attributes
    ----------
    name : str
        Name of the face.
    module_count : int
        Modules on the face.
    layout : LayoutResult or None
        Positions of the modules; None where the request gave a count.
    """

    name: str
    module_count: int
    layout: LayoutResult | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignResult(Result):
    """Every part of the job. Assumptions, cautions and method stand here for all parts, whose own are empty.

    Attributes
    ----------
    currency : str or None
        Currency of every price; None where the request names none.
    built : Built
        The pairing that circuits and bill are for.
    climate : SiteClimateResult
        Irradiation and temperature, with the module that is built, else the requested one or the first.
    faces : tuple of FaceDesign
        The faces, in the order of the request.
    sizing : tuple of SizingResult
        Electrical checks: each module with every candidate.
    clipping : ClippingResult or None
        Energy of that module with every candidate that passes its checks; None where none does.
    selection : SelectionResult
        The recommendation and its basis.
    circuits : CircuitsResult or None
        Circuits, voltage rise and grid connection; None where nothing is built.
    bill_of_materials : BillOfMaterialsResult or None
        Parts, dead load and prices; None where nothing is built.
    """

    currency: str | None
    built: Built
    climate: SiteClimateResult
    faces: tuple[FaceDesign, ...]
    sizing: tuple[SizingResult, ...]
    clipping: ClippingResult | None
    selection: SelectionResult
    circuits: CircuitsResult | None
    bill_of_materials: BillOfMaterialsResult | None

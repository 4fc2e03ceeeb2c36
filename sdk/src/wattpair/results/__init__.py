"""What an answer is made of.

Field names are those of the service's contract; units are in the names, arrays are tuples. `cautions` must stay with what is
shown to people: tables carry them as `DataFrame.attrs["cautions"]`.
"""

from wattpair.results.bill_of_materials import BillLine, BillOfMaterialsResult, BranchCircuit, FaceMass
from wattpair.results.clipping import (
    AgedYear,
    Balance,
    ClippingResult,
    Duration,
    FaceClipping,
    FaceLight,
    PairingClipping,
    PairingYear,
    RoofTotal,
    SpreadUsed,
)
from wattpair.results.health import BrokenStation, Liveness, Readiness
from wattpair.results.problem import FieldError, Problem
from wattpair.results.shared import (
    Assumption,
    ClimateUsed,
    DesignTemperatures,
    Method,
    Range,
    Result,
    StationUsed,
    Verdict,
)
from wattpair.results.site_climate import (
    FaceClimate,
    HorizontalClimate,
    RatioAtLight,
    Season,
    SeasonLight,
    SiteClimateResult,
)
from wattpair.results.sizing import Check, PairingSizing, SizingResult

__all__ = [
    "AgedYear",
    "Assumption",
    "Balance",
    "BillLine",
    "BillOfMaterialsResult",
    "BranchCircuit",
    "BrokenStation",
    "Check",
    "ClimateUsed",
    "ClippingResult",
    "DesignTemperatures",
    "Duration",
    "FaceClimate",
    "FaceClipping",
    "FaceLight",
    "FaceMass",
    "FieldError",
    "HorizontalClimate",
    "Liveness",
    "Method",
    "PairingClipping",
    "PairingSizing",
    "PairingYear",
    "Problem",
    "Range",
    "RatioAtLight",
    "Readiness",
    "Result",
    "RoofTotal",
    "Season",
    "SeasonLight",
    "SiteClimateResult",
    "SizingResult",
    "SpreadUsed",
    "StationUsed",
    "Verdict",
]

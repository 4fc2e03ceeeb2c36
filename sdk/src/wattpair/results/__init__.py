"""What an answer is made of.

Field names are those of the service's contract; units are in the names, arrays are tuples. `cautions` must stay with what is
shown to people: tables carry them as `DataFrame.attrs["cautions"]`.
"""

from dataclasses import is_dataclass
from typing import Any

from wattpair.brief import brief
from wattpair.results.bill_of_materials import BackupPart, BackupResult, BillLine, BillOfMaterialsResult, FaceMass, Spares
from wattpair.results.break_even import BreakEven, BreakEvenPower, PlaceBreakEven, PriceGap
from wattpair.results.candidates import CandidateEnergy, CandidateMoney, CandidateResult, Replacements, StepUp
from wattpair.results.circuits import BranchCircuit, CircuitRise, CircuitsResult, FaceUnits
from wattpair.results.clipping import (
    AgedYear,
    Balance,
    ClippingResult,
    Duration,
    FaceClipping,
    FaceIrradiation,
    PairingClipping,
    PairingYear,
    RoofTotal,
    SubhourlyUsed,
)
from wattpair.results.connection import Connection, ConnectionCheck, Filing, PhaseTotal
from wattpair.results.design import Built, BuiltBasis, DesignResult, FaceDesign, Pairing
from wattpair.results.health import Liveness, Readiness
from wattpair.results.layout import Arrangement, LayoutResult, Orientation, OrientationCount, PlacedModule
from wattpair.results.prices import MissingPrice, PricedLine, Prices
from wattpair.results.problem import FieldError, Problem
from wattpair.results.regions import Region, RegionName, RegionsResult
from wattpair.results.selection import (
    Change,
    CutEnergy,
    ExportLimit,
    FaceChoice,
    MixedChoice,
    Recommendation,
    Scenario,
    SelectionResult,
    Sensitivity,
)
from wattpair.results.shared import Assumption, ClimateUsed, DesignTemperatures, Method, Range, Result, StationUsed, Verdict
from wattpair.results.site_climate import (
    FaceClimate,
    HorizontalClimate,
    RatioAtIrradiance,
    Season,
    SeasonIrradiation,
    SiteClimateResult,
)
from wattpair.results.sizing import Check, PairingSizing, SizingResult

__all__ = [
    "AgedYear",
    "Arrangement",
    "Assumption",
    "BackupPart",
    "BackupResult",
    "Balance",
    "BillLine",
    "BillOfMaterialsResult",
    "BranchCircuit",
    "BreakEven",
    "BreakEvenPower",
    "Built",
    "BuiltBasis",
    "CandidateEnergy",
    "CandidateMoney",
    "CandidateResult",
    "Change",
    "Check",
    "CircuitRise",
    "CircuitsResult",
    "ClimateUsed",
    "ClippingResult",
    "Connection",
    "ConnectionCheck",
    "CutEnergy",
    "DesignResult",
    "DesignTemperatures",
    "Duration",
    "ExportLimit",
    "FaceChoice",
    "FaceClimate",
    "FaceClipping",
    "FaceDesign",
    "FaceIrradiation",
    "FaceMass",
    "FaceUnits",
    "FieldError",
    "Filing",
    "HorizontalClimate",
    "LayoutResult",
    "Liveness",
    "Method",
    "MissingPrice",
    "MixedChoice",
    "Orientation",
    "OrientationCount",
    "Pairing",
    "PairingClipping",
    "PairingSizing",
    "PairingYear",
    "PhaseTotal",
    "PlaceBreakEven",
    "PlacedModule",
    "PriceGap",
    "PricedLine",
    "Prices",
    "Problem",
    "Range",
    "RatioAtIrradiance",
    "Readiness",
    "Recommendation",
    "Region",
    "RegionName",
    "RegionsResult",
    "Replacements",
    "Result",
    "RoofTotal",
    "Scenario",
    "Season",
    "SeasonIrradiation",
    "SelectionResult",
    "Sensitivity",
    "SiteClimateResult",
    "SizingResult",
    "Spares",
    "StationUsed",
    "StepUp",
    "SubhourlyUsed",
    "Verdict",
]

for _kind in (globals()[name] for name in __all__):
    if is_dataclass(_kind):
        _described: Any = _kind
        _described.__repr__ = brief  # a result is met in consoles and failing tests, where a year of values helps nobody

"""What an answer is made of.

Field names are those of the service's contract; units are in the names, arrays are tuples. `cautions` must stay with what is
shown to people: tables carry them as `DataFrame.attrs["cautions"]`.
"""

from wattpair.results.bill_of_materials import BillLine, BillOfMaterialsResult, BranchCircuit, FaceMass
from wattpair.results.clipping import (
    Balance,
    ClippingResult,
    Duration,
    FaceClipping,
    FaceLight,
    PairingClipping,
    PairingYear,
    RoofTotal,
)
from wattpair.results.problem import FieldError, Problem
from wattpair.results.shared import Assumption, Liveness, Method, Range, Result, Verdict
from wattpair.results.sizing import Check, PairingSizing, SizingResult

__all__ = [
    "Assumption",
    "Balance",
    "BillLine",
    "BillOfMaterialsResult",
    "BranchCircuit",
    "Check",
    "ClippingResult",
    "Duration",
    "FaceClipping",
    "FaceLight",
    "FaceMass",
    "FieldError",
    "Liveness",
    "Method",
    "PairingClipping",
    "PairingSizing",
    "PairingYear",
    "Problem",
    "Range",
    "Result",
    "RoofTotal",
    "SizingResult",
    "Verdict",
]

"""The answer of `list_materials`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from wattpair.frames import names_of, row_of
from wattpair.results.shared import Result

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True)
class BillLine:
    """One line of the bill.

    Attributes
    ----------
    role : str
        Role of the part, the same word each time.
    quantity : int
        Pieces to order.
    scope : {"face", "circuit", "system"}
        What the part belongs to.
    belongs_to : str or None
        Name of that face or circuit; None for the system.
    derivation : str
        How the quantity came about.
    """

    role: str
    quantity: int
    scope: Literal["face", "circuit", "system"]
    belongs_to: str | None
    derivation: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchCircuit:
    """One branch circuit.

    Attributes
    ----------
    name, face : str
        Name of the circuit and of the face that it serves.
    unit_count : int
        Microinverters on it.
    phase : int
        Phase, 1 to 3.
    current_a, device_rating_a : float
        Rated current of all its units, and the rating of its protective device [A].
    """

    name: str
    face: str
    unit_count: int
    phase: int
    current_a: float
    device_rating_a: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceMass:
    """Dead load of a face.

    Attributes
    ----------
    face : str
        Name of the face.
    mass_kg : float
        Mass of modules, microinverters and mounting [kg].
    """

    face: str
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BillOfMaterialsResult(Result):
    """Parts, circuits and masses.

    Attributes
    ----------
    lines : tuple of BillLine
        Parts in the order of installation: faces, then circuits, then the system.
    circuits : tuple of BranchCircuit
        Branch circuits.
    circuit_rule : str
        Rule by which the circuits were divided, with its source.
    unit_count : int
        Microinverters without spares.
    masses : tuple of FaceMass
        Dead load by face.
    mass_total_kg : float
        Dead load of the roof [kg].
    """

    lines: tuple[BillLine, ...]
    circuits: tuple[BranchCircuit, ...]
    circuit_rule: str
    unit_count: int
    masses: tuple[FaceMass, ...]
    mass_total_kg: float

    def to_frame(self) -> pd.DataFrame:
        """One row for each line of the bill, with the fields of `BillLine`."""
        return self._frame(map(row_of, self.lines), names_of(BillLine))

    def circuits_to_frame(self) -> pd.DataFrame:
        """One row for each branch circuit, with the fields of `BranchCircuit`."""
        return self._frame(map(row_of, self.circuits), names_of(BranchCircuit))

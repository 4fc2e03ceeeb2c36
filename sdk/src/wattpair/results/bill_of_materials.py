"""The answer of `list_materials`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from wattpair.frames import names_of, row_of
from wattpair.results.circuits import CIRCUIT_COLUMNS, BranchCircuit, circuit_row
from wattpair.results.connection import Connection
from wattpair.results.prices import PricedLine, Prices
from wattpair.results.shared import Result

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True)
class BillLine:
    """One line of the bill.

    Attributes
    ----------
    role : str
        Role of the part.
    quantity : int
        Quantity to order, in `unit`.
    unit : {"piece", "m"}
        Unit of the quantity.
    specification : str or None
        Size, rating, type or name; None where the role is enough.
    scope : {"face", "circuit", "system"}
        Whether the part belongs to a face, a circuit or the system.
    belongs_to : str or None
        Name of that face or circuit; None for the system.
    derivation : str
        How the quantity was derived.
    """

    role: str
    quantity: int
    unit: Literal["piece", "m"]
    specification: str | None
    scope: Literal["face", "circuit", "system"]
    belongs_to: str | None
    derivation: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceMass:
    """Dead load of a face.

    Attributes
    ----------
    face : str
        Name of the face.
    mass_kg : float
        Mass of modules, microinverters, brackets and mounting [kg].
    load_modules_kg_m2 : float or None
        Mass over the area of the modules; None without module_area_m2 [kg/m2].
    load_face_kg_m2 : float or None
        Mass over the area of the face; None without its area_m2 [kg/m2].
    within_guide : bool or None
        Whether the larger load is within the guide value; None without an area.
    """

    face: str
    mass_kg: float
    load_modules_kg_m2: float | None
    load_face_kg_m2: float | None
    within_guide: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Spares:
    """Spare microinverters.

    Attributes
    ----------
    expected_failures : float
        Expected failures of microinverters over the horizon.
    probability_of_any : float
        Probability that at least one fails, 0 to 1.
    spare_count : int
        Spares on the bill.
    derivation : str
        How the number was derived.
    """

    expected_failures: float
    probability_of_any: float
    spare_count: int
    derivation: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupPart:
    """A part that output in an outage needs.

    Attributes
    ----------
    role : str
        Role of the part.
    reason : str
        Why it is needed.
    """

    role: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupResult:
    """Output in an outage.

    Attributes
    ----------
    works_in_outage : bool
        Whether there is output in an outage.
    explanation : str
        The same in words.
    parts : tuple of BackupPart
        Parts that backup needs.
    """

    works_in_outage: bool
    explanation: str
    parts: tuple[BackupPart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BillOfMaterialsResult(Result):
    """Parts, circuits, masses and prices.

    Attributes
    ----------
    lines : tuple of BillLine
        Parts in the order of installation: faces, then circuits, then the system.
    circuits : tuple of BranchCircuit
        Branch circuits.
    circuit_rule : str
        Rule that limits the circuits, with its source.
    unit_count : int
        Microinverters without spares.
    masses : tuple of FaceMass
        Dead load by face; wind and snow are not covered.
    mass_total_kg : float
        Dead load of the roof [kg].
    dead_load_guide_kg_m2 : float
        Guide value that the dead loads are compared with [kg/m2].
    spares : Spares
        Spare microinverters.
    backup : BackupResult
        Output in an outage.
    connection : Connection
        The grid connection procedure.
    prices : Prices or None
        Prices; None without a price book.
    """

    lines: tuple[BillLine, ...]
    circuits: tuple[BranchCircuit, ...]
    circuit_rule: str
    unit_count: int
    masses: tuple[FaceMass, ...]
    mass_total_kg: float
    dead_load_guide_kg_m2: float
    spares: Spares
    backup: BackupResult
    connection: Connection
    prices: Prices | None

    def to_frame(self) -> pd.DataFrame:
        """One row for each line of the bill: the fields of `BillLine`, with a price book then those of `PricedLine`."""
        if self.prices is None:
            return self._frame(map(row_of, self.lines), names_of(BillLine))
        pairs = zip(self.lines, self.prices.lines, strict=True)
        return self._frame((row_of(line) | row_of(price) for line, price in pairs), names_of(BillLine) + names_of(PricedLine))

    def circuits_to_frame(self) -> pd.DataFrame:
        """One row for each branch circuit, with the fields of `BranchCircuit` but for `units_by_face`."""
        return self._frame(map(circuit_row, self.circuits), CIRCUIT_COLUMNS)

    def masses_to_frame(self) -> pd.DataFrame:
        """One row for each face, with the fields of `FaceMass`."""
        return self._frame(map(row_of, self.masses), names_of(FaceMass))

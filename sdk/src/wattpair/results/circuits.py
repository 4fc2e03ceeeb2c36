"""The answer of `plan_circuits`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wattpair.frames import Row, names_of, row_of
from wattpair.results.connection import Connection, ConnectionCheck, PhaseTotal
from wattpair.results.shared import Result

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceUnits:
    """Microinverters of a circuit on one face.

    Attributes
    ----------
    face : str
        Name of the face.
    unit_count : int
        Microinverters on it.
    """

    face: str
    unit_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchCircuit:
    """One branch circuit.

    Attributes
    ----------
    name : str
        Name of the circuit.
    face : str
        Face with its units; several are joined by +.
    units_by_face : tuple of FaceUnits
        Its units by face, in the order of the trunk.
    unit_count : int
        Microinverters on it.
    phase : int
        Phase, 1 to 3.
    current_a : float
        Rated current of all its units [A].
    device_rating_a : float
        Rating of its circuit breaker or fuse [A].
    """

    name: str
    face: str
    units_by_face: tuple[FaceUnits, ...]
    unit_count: int
    phase: int
    current_a: float
    device_rating_a: float


CIRCUIT_COLUMNS = [name for name in names_of(BranchCircuit) if name != "units_by_face"]


def circuit_row(circuit: BranchCircuit) -> Row:
    """A circuit as a row of a table, without the list within it."""
    return {name: getattr(circuit, name) for name in CIRCUIT_COLUMNS}


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitRise:
    """Voltage rise of one circuit.

    Attributes
    ----------
    circuit : str
        Name of the circuit.
    phase : int
        Phase, 1 to 3.
    trunk_end_fed_v : float
        Rise along the trunk with the home run at its end [V].
    trunk_centre_fed_v : float
        Rise along the trunk with the home run at its centre [V].
    trunk_v : float
        Rise along the trunk with the requested trunk_feed [V].
    home_run_v : float
        Rise along the home run [V].
    circuit_share : float
        Rise of trunk and home run as a share of the nominal voltage.
    supply_v : float
        Rise along the supply cable with all circuits of the phase feeding; the larger value, with the other phases idle or
        feeding [V].
    total_v : float
        Rise up to the connection point [V].
    total_share : float
        Rise up to the connection point as a share of the nominal voltage.
    home_run_size : str
        Conductor of the home run that was used.
    smallest_home_run_size : str or None
        Smallest home-run conductor that meets the voltage-rise limit, not thinner than the trunk nor, where the table says so,
        than its circuit breaker allows. Its current-carrying capacity is not checked. None where no conductor meets the limit
        or no limit is known.
    meets_limit : bool or None
        Whether the limit is met; None where the network operator sets it.
    explanation : str
        The same in words.
    """

    circuit: str
    phase: int
    trunk_end_fed_v: float
    trunk_centre_fed_v: float
    trunk_v: float
    home_run_v: float
    circuit_share: float
    supply_v: float
    total_v: float
    total_share: float
    home_run_size: str
    smallest_home_run_size: str | None
    meets_limit: bool | None
    explanation: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitsResult(Result):
    """Branch circuits, voltage rise and grid connection.

    Attributes
    ----------
    circuits : tuple of BranchCircuit
        Branch circuits in the order of the faces.
    circuit_rule : str
        Rule that limits the circuits, with its source.
    unit_count : int
        Microinverters.
    rises : tuple of CircuitRise
        Voltage rise of each circuit.
    rise_highest_share : float
        Highest rise up to the connection point, as a share of the nominal voltage.
    rise_limit_share : float or None
        Limit on the rise as a share of the nominal voltage; None where the network operator sets it.
    rise_limit_source : str
        Where the limit comes from.
    connection : Connection
        The grid connection procedure.
    """

    circuits: tuple[BranchCircuit, ...]
    circuit_rule: str
    unit_count: int
    rises: tuple[CircuitRise, ...]
    rise_highest_share: float
    rise_limit_share: float | None
    rise_limit_source: str
    connection: Connection

    def to_frame(self) -> pd.DataFrame:
        """One row for each branch circuit, with the fields of `BranchCircuit` but for `units_by_face`."""
        return self._frame(map(circuit_row, self.circuits), CIRCUIT_COLUMNS)

    def rises_to_frame(self) -> pd.DataFrame:
        """One row for each branch circuit, with the fields of `CircuitRise`."""
        return self._frame(map(row_of, self.rises), names_of(CircuitRise))

    def phases_to_frame(self) -> pd.DataFrame:
        """One row for each phase, with the fields of `PhaseTotal`."""
        return self._frame(map(row_of, self.connection.phases), names_of(PhaseTotal))

    def checks_to_frame(self) -> pd.DataFrame:
        """One row for each check of the connection, with the fields of `ConnectionCheck`."""
        return self._frame(map(row_of, self.connection.checks), names_of(ConnectionCheck))

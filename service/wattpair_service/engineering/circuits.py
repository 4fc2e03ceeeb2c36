"""From counts to the connection point: branch circuits, voltage rise and connection route of one system."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from wattpair_service.engineering import findings
from wattpair_service.engineering.branch_circuits import (
    BranchCircuit,
    BranchCircuitRules,
    FaceUnits,
    SplitRequest,
    phase_units,
    rule_in_words,
    split,
)
from wattpair_service.engineering.connection import Connection, ConnectionRules, SupplyPoint, connection
from wattpair_service.engineering.voltage_rise import CircuitOnTrunk, CircuitRise, Wiring, voltage_rises

SMALLEST_IS_VOLTAGE_ONLY = (
    "The smallest conductor is chosen for voltage rise, and for the device only where the table names one: check what it "
    "carries as it is installed."
)


@dataclass(frozen=True, slots=True)
class CircuitFace:
    """Modules on one face; `unit_spacing_m` is the trunk's length from one unit to the next."""

    name: str
    module_count: int
    unit_spacing_m: float


@dataclass(frozen=True, slots=True)
class CircuitsRequest:
    """Everything that circuits, rise and route depend on."""

    faces: tuple[CircuitFace, ...]
    phase_count: int
    unit_ac_current_a: float
    modules_per_unit: int
    units_per_trunk_max: int | None
    may_cross_faces: bool
    face_crossing_m: float
    branch_rules: BranchCircuitRules
    rules: ConnectionRules
    wiring: Wiring
    supply: SupplyPoint

    def face_units(self) -> tuple[FaceUnits, ...]:
        """Microinverters on each face; none serves two faces."""
        return tuple(FaceUnits(face.name, ceil(face.module_count / self.modules_per_unit)) for face in self.faces)

    def split_request(self) -> SplitRequest:
        """The same as the split sees it."""
        return SplitRequest(
            faces=self.face_units(),
            phase_count=self.phase_count,
            unit_ac_current_a=self.unit_ac_current_a,
            rules=self.branch_rules,
            units_per_trunk_max=self.units_per_trunk_max,
            balance_limit_a=self.rules.balance_limit_a(self.supply.voltage_v),
            may_cross_faces=self.may_cross_faces,
        )


@dataclass(frozen=True, slots=True, eq=False)
class CircuitsResult(findings.Result):
    """Circuits in the order of the faces, the rise of each, and the connection route."""

    circuits: tuple[BranchCircuit, ...]
    circuit_rule: str
    unit_count: int
    rises: tuple[CircuitRise, ...]
    rise_highest_share: float
    rise_limit_share: float | None
    rise_limit_source: str
    connection: Connection


def circuits(request: CircuitsRequest) -> CircuitsResult:
    """Branch circuits, voltage rise and connection route.

    Raises
    ------
    EngineeringError
        A unit is too large for its device, a cable size is not in the table, or the region does not know the supply.
    """
    request.rules.require_phases(request.phase_count)
    made = split(request.split_request())
    rises = rises_of(request, made)
    return CircuitsResult(
        circuits=made,
        circuit_rule=rule_in_words(request.split_request()),
        unit_count=sum(circuit.unit_count for circuit in made),
        rises=rises,
        rise_highest_share=max(rise.total_share for rise in rises),
        rise_limit_share=request.wiring.limit_share,
        rise_limit_source=request.wiring.limit_source,
        connection=connection_of(request, made),
        cautions=(*findings.ORDER_CAUTIONS, *trunk_caution(request), SMALLEST_IS_VOLTAGE_ONLY),
        method=(findings.COUNTING, findings.VOLTAGE_RISE, findings.CONNECTION_ROUTE),
    )


def connection_of(request: CircuitsRequest, made: tuple[BranchCircuit, ...]) -> Connection:
    """The connection route of the circuits."""
    units = phase_units(made, request.phase_count)
    return connection(request.rules, units, request.unit_ac_current_a, request.supply)


def rises_of(request: CircuitsRequest, made: tuple[BranchCircuit, ...]) -> tuple[CircuitRise, ...]:
    """The voltage rise of each circuit."""
    spacings = {face.name: face.unit_spacing_m for face in request.faces}
    on_trunks = [
        CircuitOnTrunk(
            circuit.name, circuit.phase, _positions(circuit, spacings, request.face_crossing_m), circuit.device_rating_a
        )
        for circuit in made
    ]
    return voltage_rises(
        on_trunks, unit_current_a=request.unit_ac_current_a, phase_count=request.phase_count, wiring=request.wiring
    )


def trunk_caution(request: CircuitsRequest) -> tuple[str, ...]:
    """A word where the trunk's own limit was not given."""
    return (findings.TRUNK_LIMIT,) if request.units_per_trunk_max is None else ()


def _positions(circuit: BranchCircuit, spacings: dict[str, float], crossing_m: float) -> tuple[float, ...]:
    """Where the units of a circuit stand along its trunk [m]."""
    positions: list[float] = []
    for part in circuit.units_by_face:
        start = positions[-1] + crossing_m if positions else 0.0
        positions += [start + index * spacings[part.name] for index in range(part.unit_count)]
    return tuple(positions)

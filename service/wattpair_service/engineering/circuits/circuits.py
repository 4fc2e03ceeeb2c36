"""Branch circuits, voltage rise and grid connection of one system."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from math import ceil

from wattpair_service.engineering import cautions, methods
from wattpair_service.engineering.circuits.branch_circuits import (
    BranchCircuit,
    BranchCircuitRules,
    FaceUnits,
    SplitRequest,
    phase_units,
    rule_in_words,
    split,
)
from wattpair_service.engineering.circuits.grid_connection import (
    ROUNDING,
    Connection,
    ConnectionCheck,
    ConnectionRules,
    SupplyPoint,
    connection,
)
from wattpair_service.engineering.circuits.voltage_rise import CircuitOnTrunk, CircuitRise, Wiring, voltage_rises
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.results import Result

UNIT_SPACING_M = 1.8
"""Trunk length from one microinverter to the next where the request has none. Common practice, no source."""
UNITS_MOST = 5000
"""Most microinverters of one result, so that people can still read it. Common practice, no source."""
SMALLEST_IS_VOLTAGE_ONLY = (
    "The smallest conductor is chosen by voltage only, and by its overcurrent device where the table names one: check its "
    "current-carrying capacity as installed."
)
ABOVE_RISE_LIMIT = (
    "The voltage rise of a circuit is above its limit: see the rises of the circuits (POST /v1/circuits) before ordering."
)
CHECK_FAILS = "A check of the connection fails: see the checks of the connection before ordering."
DEVICE_PROTECTS = (
    "the overcurrent device must not exceed the current-carrying capacity: common practice, no source (from the request)"
)


@dataclass(frozen=True, slots=True)
class CircuitFace:
    """Modules on one face; `unit_spacing_m` is the trunk length from one unit to the next."""

    name: str
    module_count: int
    unit_spacing_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitTerms:
    """Inputs of circuits, voltage rise and grid connection other than the microinverters and their faces."""

    phase_count: int
    units_per_trunk_max: int | None
    may_cross_faces: bool
    face_crossing_m: float
    branch_rules: BranchCircuitRules
    rules: ConnectionRules
    wiring: Wiring
    supply: SupplyPoint

    def request_for(
        self, faces: tuple[CircuitFace, ...], *, unit_ac_current_a: float, modules_per_unit: int
    ) -> CircuitsRequest:
        """A request with these terms for microinverters of one kind on faces."""
        return CircuitsRequest(
            **{each.name: getattr(self, each.name) for each in fields(CircuitTerms)},
            faces=faces,
            unit_ac_current_a=unit_ac_current_a,
            modules_per_unit=modules_per_unit,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitsRequest(CircuitTerms):
    """All inputs of circuits, voltage rise and grid connection."""

    faces: tuple[CircuitFace, ...]
    unit_ac_current_a: float
    modules_per_unit: int

    def require_units(self) -> None:
        """Refuse more units than `UNITS_MOST`.

        Raises
        ------
        EngineeringError
            There are more.
        """
        count = sum(units.unit_count for units in self.face_units())
        if count > UNITS_MOST:
            raise EngineeringError(
                f"faces for at most {UNITS_MOST} microinverters together; these are {count}: split the system", ("faces",)
            )

    def face_units(self) -> tuple[FaceUnits, ...]:
        """Number of microinverters on each face; none serves two faces."""
        return tuple(FaceUnits(face.name, ceil(face.module_count / self.modules_per_unit)) for face in self.faces)

    def split_request(self) -> SplitRequest:
        """Inputs of the split into branch circuits."""
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
class CircuitsResult(Result):
    """Circuits in the order of the faces, their voltage rises, and the grid connection."""

    circuits: tuple[BranchCircuit, ...]
    circuit_rule: str
    unit_count: int
    rises: tuple[CircuitRise, ...]
    rise_highest_share: float
    rise_limit_share: float | None
    rise_limit_source: str
    connection: Connection


def circuits(request: CircuitsRequest) -> CircuitsResult:
    """Branch circuits, voltage rise and grid connection.

    Raises
    ------
    EngineeringError
        A unit exceeds its overcurrent device, a cable size is not in the table, or the region has no such supply.
    """
    request.rules.require_phases(request.phase_count)
    request.require_units()
    branch_circuits = split(request.split_request())
    rises = rises_of(request, branch_circuits)
    grid_connection = grid_connection_of(request, branch_circuits)
    return CircuitsResult(
        circuits=branch_circuits,
        circuit_rule=rule_in_words(request.split_request()),
        unit_count=sum(circuit.unit_count for circuit in branch_circuits),
        rises=rises,
        rise_highest_share=max(rise.total_share for rise in rises),
        rise_limit_share=request.wiring.limit_share,
        rise_limit_source=request.wiring.limit_source,
        connection=grid_connection,
        cautions=(*cautions.ORDER_CAUTIONS, *cable_cautions(request, rises, grid_connection)),
        method=(methods.COUNTING, methods.VOLTAGE_RISE, methods.CONNECTION_ROUTE),
    )


def grid_connection_of(request: CircuitsRequest, branch_circuits: tuple[BranchCircuit, ...]) -> Connection:
    """The grid connection of the circuits, with the checks of the cables."""
    units = phase_units(branch_circuits, request.phase_count)
    by_rules = connection(request.rules, units, request.unit_ac_current_a, request.supply)
    return replace(by_rules, checks=(*by_rules.checks, *_ampacity_checks(request, by_rules)))


def _cables(request: CircuitsRequest) -> tuple[tuple[str, float | None], ...]:
    """Name and ampacity [A] of each cable of the system; cables without a length are left out."""
    wiring = request.wiring
    return (
        ("trunk", wiring.trunk_ampacity_a),
        *((("home run", wiring.home_run_ampacity_a),) if wiring.home_run_length_m > 0.0 else ()),
        *((("supply", wiring.supply_ampacity_a),) if wiring.supply_length_m > 0.0 else ()),
    )


def _ampacity_checks(request: CircuitsRequest, grid_connection: Connection) -> Iterator[ConnectionCheck]:
    """Check the current that each cable needs to carry against its ampacity."""
    factor = request.branch_rules.continuous_current_factor
    highest = max(phase.current_a for phase in grid_connection.phases) * factor
    for cable, ampacity in _cables(request):
        if ampacity is None:
            continue
        if cable == "supply":
            needed = max(highest, request.supply.main_device_a or 0.0)
            reason = f"the fullest phase times {factor:g} is {highest:.4g} A" + (
                f", the main device {request.supply.main_device_a:g} A" if request.supply.main_device_a else ""
            )
        else:
            needed = request.branch_rules.device_rating_a
            reason = f"the overcurrent device is {needed:g} A"
        yield ConnectionCheck(
            name=f"{cable} carrying capacity",
            value=needed,
            limit=ampacity,
            unit="A",
            meets=needed <= ampacity * (1.0 + ROUNDING),
            source=DEVICE_PROTECTS,
            explanation=f"{reason}; the request gives the {cable} {ampacity:g} A",
        )


def rises_of(request: CircuitsRequest, branch_circuits: tuple[BranchCircuit, ...]) -> tuple[CircuitRise, ...]:
    """The voltage rise of each circuit."""
    spacings = {face.name: face.unit_spacing_m for face in request.faces}
    on_trunks = [
        CircuitOnTrunk(
            circuit.name, circuit.phase, _positions(circuit, spacings, request.face_crossing_m), circuit.device_rating_a
        )
        for circuit in branch_circuits
    ]
    return voltage_rises(
        on_trunks, unit_current_a=request.unit_ac_current_a, phase_count=request.phase_count, wiring=request.wiring
    )


def cable_cautions(request: CircuitsRequest, rises: Sequence[CircuitRise], grid_connection: Connection) -> tuple[str, ...]:
    """Cautions on what was not checked of the cables and on checks that fail."""
    unchecked = [cable for cable, ampacity in _cables(request) if ampacity is None]
    possible = (
        (request.units_per_trunk_max is None, cautions.TRUNK_LIMIT),
        (bool(unchecked), f"The current-carrying capacity of these cables was not checked: {', '.join(unchecked)}."),
        (request.wiring.home_run_size is None, SMALLEST_IS_VOLTAGE_ONLY),
        (any(rise.meets_limit is False for rise in rises), ABOVE_RISE_LIMIT),
        (any(check.meets is False for check in grid_connection.checks), CHECK_FAILS),
    )
    return tuple(caution for applies, caution in possible if applies)


def _positions(circuit: BranchCircuit, spacings: dict[str, float], crossing_m: float) -> tuple[float, ...]:
    """Positions of a circuit's units along its trunk [m]."""
    positions: list[float] = []
    for part in circuit.units_by_face:
        start = positions[-1] + crossing_m if positions else 0.0
        positions += [start + index * spacings[part.name] for index in range(part.unit_count)]
    return tuple(positions)

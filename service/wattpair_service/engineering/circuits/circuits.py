"""Branch circuits, their cables and devices, voltage rise and grid connection of one system."""

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
from wattpair_service.engineering.circuits.cable_checks import CableCheck, CableRun, cable_check
from wattpair_service.engineering.circuits.devices import Device, ResidualCurrentNeed, devices_of
from wattpair_service.engineering.circuits.grid_connection import (
    Connection,
    ConnectionRules,
    SupplyPoint,
    connection,
)
from wattpair_service.engineering.circuits.voltage_rise import CircuitOnTrunk, CircuitRise, Wiring, voltage_rises
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.inverter.electrical_checks import Verdict
from wattpair_service.engineering.results import Result

UNIT_SPACING_M = 1.8
"""Trunk length from one microinverter to the next where the request has none. Common practice, no source."""
TRUNK_SIZE_INDEX = 1
"""Default trunk: the second thinnest conductor of a table (2.5 mm2, 12 AWG). Common practice, no source."""
LOADED_OF_ONE_PHASE, LOADED_OF_THREE_PHASES = 2, 3
NO_RESIDUAL_CURRENT_DEVICE = ResidualCurrentNeed((), is_declared_free_of_dc=False)
UNITS_MOST = 5000
"""Most microinverters of one result, so that people can still read it. Common practice, no source."""
ABOVE_RISE_LIMIT = (
    "The voltage rise of a circuit is above its limit: see the rises of the circuits (POST /v1/circuits) before ordering."
)
CHECK_FAILS = "A check of the connection fails: see the checks of the connection before ordering."
CABLE_FAILS = (
    "A cable is not protected by its circuit breaker: do not build it so; see the checks of the cables for the smallest "
    "conductor that is."
)
INSTALLATION_ASSUMED = (
    "How these cables are installed was assumed: {cables}. Their carrying capacity depends on it: give the installation of "
    "each."
)
CAPACITY_FROM_TABLES = (
    "Carrying capacities were read in copies of published tables: the electrician confirms them in the code that applies."
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
    trunk_phase_count: int = 1
    residual_current: ResidualCurrentNeed = NO_RESIDUAL_CURRENT_DEVICE
    installations_assumed: tuple[str, ...] = ()

    def request_for(
        self,
        faces: tuple[CircuitFace, ...],
        *,
        unit_ac_current_a: float,
        modules_per_unit: int,
        unit_phase_count: int = 1,
    ) -> CircuitsRequest:
        """A request with these terms for microinverters of one kind on faces."""
        return CircuitsRequest(
            **{each.name: getattr(self, each.name) for each in fields(CircuitTerms)},
            faces=faces,
            unit_ac_current_a=unit_ac_current_a,
            modules_per_unit=modules_per_unit,
            unit_phase_count=unit_phase_count,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitsRequest(CircuitTerms):
    """All inputs of circuits, voltage rise and grid connection."""

    faces: tuple[CircuitFace, ...]
    unit_ac_current_a: float
    modules_per_unit: int
    unit_phase_count: int = 1

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
            trunk_phase_count=max(self.trunk_phase_count, self.unit_phase_count),
            unit_phase_count=self.unit_phase_count,
        )


@dataclass(frozen=True, slots=True, eq=False)
class CircuitsResult(Result):
    """Circuits in the order of the faces, their cables and devices, their voltage rises, and the grid connection.

    `verdict` is "fail" where a check of a cable, the board or the phases fails, "caution" where the voltage rise is above its
    limit or a figure is missing.
    """

    verdict: Verdict
    circuits: tuple[BranchCircuit, ...]
    circuit_rule: str
    unit_count: int
    cables: tuple[CableCheck, ...]
    devices: tuple[Device, ...]
    rises: tuple[CircuitRise, ...]
    rise_highest_share: float
    rise_limit_share: float | None
    rise_limit_source: str
    connection: Connection


@dataclass(frozen=True, slots=True)
class AcSide:
    """All that is built from the units to the connection point."""

    circuits: tuple[BranchCircuit, ...]
    rises: tuple[CircuitRise, ...]
    cables: tuple[CableCheck, ...]
    devices: tuple[Device, ...]
    connection: Connection

    @property
    def verdict(self) -> Verdict:
        """The worst of all checks."""
        checks = [check.meets for check in self.connection.checks]
        if not all(cable.meets for cable in self.cables) or False in checks:
            return "fail"
        if None in checks or any(rise.meets_limit is False for rise in self.rises):
            return "caution"
        return "ok"


def circuits(request: CircuitsRequest) -> CircuitsResult:
    """Branch circuits, cables and devices, voltage rise and grid connection.

    Raises
    ------
    EngineeringError
        A unit exceeds its overcurrent device, a cable size is not in the table, or the region has no such supply.
    """
    built = ac_side(request)
    return CircuitsResult(
        verdict=built.verdict,
        circuits=built.circuits,
        circuit_rule=rule_in_words(request.split_request()),
        unit_count=sum(circuit.unit_count for circuit in built.circuits),
        cables=built.cables,
        devices=built.devices,
        rises=built.rises,
        rise_highest_share=max(rise.total_share for rise in built.rises),
        rise_limit_share=request.wiring.limit_share,
        rise_limit_source=request.wiring.limit_source,
        connection=built.connection,
        cautions=(*cautions.ORDER_CAUTIONS, *cable_cautions(request, built)),
        method=(methods.COUNTING, methods.CABLE_PROTECTION, methods.VOLTAGE_RISE, methods.CONNECTION_ROUTE),
    )


def ac_side(request: CircuitsRequest) -> AcSide:
    """Circuits, voltage rises, cables, devices and grid connection; raises as `circuits` does."""
    request.rules.require_phases(request.phase_count)
    request.require_units()
    branch_circuits = split(request.split_request())
    wiring = _as_split(request, branch_circuits)
    grid_connection = connection(
        request.rules,
        branch_circuits,
        request.supply,
        unit_ac_current_a=request.unit_ac_current_a,
        phase_count=request.phase_count,
        unit_phase_count=request.unit_phase_count,
    )
    currents = [units * request.unit_ac_current_a for units in phase_units(branch_circuits, request.phase_count)]
    system_current_a = max(currents) * request.branch_rules.continuous_current_factor
    devices = devices_of(
        request.rules.devices,
        request.rules.residual_current,
        circuits=len(branch_circuits),
        branch_rating_a=request.branch_rules.device_rating_a,
        trunk_phase_count=len(branch_circuits[0].phases),
        phase_count=request.phase_count,
        system_current_a=system_current_a,
        need=request.residual_current,
    )
    main_a = request.supply.board.main_device_a or _system_device_a(devices) or system_current_a
    supply_size = wiring.supply.size or _smallest_supply(wiring, main_a)
    rises = voltage_rises(
        [_on_trunk(request, circuit) for circuit in branch_circuits],
        unit_current_a=request.unit_ac_current_a,
        phase_currents_a=currents,
        supply_size=supply_size,
        wiring=wiring,
    )
    cables = tuple(_cable_checks(request, wiring, branch_circuits, rises, supply_size, system_current_a, main_a))
    return AcSide(branch_circuits, rises, cables, devices, grid_connection)


def _as_split(request: CircuitsRequest, branch_circuits: Sequence[BranchCircuit]) -> Wiring:
    """The wiring with what the split decides: loaded conductors, home runs that run together, and a size for the trunk."""
    wiring = request.wiring
    loaded = LOADED_OF_THREE_PHASES if len(branch_circuits[0].phases) > 1 else LOADED_OF_ONE_PHASE
    trunk = replace(wiring.trunk, loaded_conductors=loaded)
    if trunk.size is None:
        trunk = replace(trunk, size=_trunk_size(trunk, request.branch_rules.device_rating_a))
    installation = wiring.home_run.installation
    if installation.circuits_together is None:
        installation = replace(installation, circuits_together=len(branch_circuits))
    home_run = replace(wiring.home_run, installation=installation, loaded_conductors=loaded)
    of_supply = LOADED_OF_THREE_PHASES if request.phase_count > 1 else LOADED_OF_ONE_PHASE
    return replace(wiring, trunk=trunk, home_run=home_run, supply=replace(wiring.supply, loaded_conductors=of_supply))


def _trunk_size(trunk: CableRun, device_rating_a: float) -> str:
    """The second thinnest conductor of the table, or the next that the circuit breaker protects; the thickest where none is."""
    conductors = trunk.table.conductors[TRUNK_SIZE_INDEX:]
    return next((each for each in conductors if trunk.is_protected(each, device_rating_a)), conductors[-1]).size


def _system_device_a(devices: Sequence[Device]) -> float | None:
    """Rating of the device behind which the whole system lies [A]."""
    return next((each.rating_a for each in reversed(devices) if each.role in ("branch_breaker", "pv_main_breaker")), None)


def _smallest_supply(wiring: Wiring, device_rating_a: float) -> str:
    """The smallest conductor that the device protects; the thickest where none is."""
    return next(wiring.supply.protected(device_rating_a), wiring.table.conductors[-1]).size


def _cable_checks(
    request: CircuitsRequest,
    wiring: Wiring,
    branch_circuits: Sequence[BranchCircuit],
    rises: Sequence[CircuitRise],
    supply_size: str,
    system_current_a: float,
    main_a: float,
) -> Iterator[CableCheck]:
    """The protection of trunk and home run of each circuit, and of the supply cable, as far as they have a length."""
    factor = request.branch_rules.continuous_current_factor
    alike: dict[tuple[CableRun, str, float], list[str]] = {}
    for circuit in branch_circuits:
        alike.setdefault((wiring.trunk, wiring.trunk_size, circuit.current_a), []).append(circuit.name)
    for circuit, rise in zip(branch_circuits, rises, strict=True):
        if wiring.home_run_length_m > 0.0:
            alike.setdefault((wiring.home_run, rise.home_run_size, circuit.current_a), []).append(circuit.name)
    for (run, size, current_a), names in alike.items():
        yield cable_check(
            run,
            size=size,
            circuits=tuple(names),
            design_current_a=current_a * factor,
            device_rating_a=request.branch_rules.device_rating_a,
            device="circuit breaker",
        )
    if wiring.supply_length_m > 0.0:
        yield cable_check(
            wiring.supply,
            size=supply_size,
            circuits=(),
            design_current_a=system_current_a,
            device_rating_a=main_a,
            device="main device" if request.supply.board.main_device_a else "main circuit breaker of the system",
        )


def _on_trunk(request: CircuitsRequest, circuit: BranchCircuit) -> CircuitOnTrunk:
    spacings = {face.name: face.unit_spacing_m for face in request.faces}
    positions = _positions(circuit, spacings, request.face_crossing_m)
    return CircuitOnTrunk(circuit.name, circuit.phases, positions, circuit.device_rating_a, request.unit_phase_count > 1)


def cable_cautions(request: CircuitsRequest, built: AcSide) -> tuple[str, ...]:
    """Cautions on what was assumed of the cables and on checks that fail."""
    assumed = [cable for cable in request.installations_assumed if cable in {check.cable for check in built.cables}]
    possible = (
        (request.units_per_trunk_max is None, cautions.TRUNK_LIMIT),
        (bool(assumed), INSTALLATION_ASSUMED.format(cables=", ".join(assumed))),
        (True, CAPACITY_FROM_TABLES),
        (not all(check.meets for check in built.cables), CABLE_FAILS),
        (any(rise.meets_limit is False for rise in built.rises), ABOVE_RISE_LIMIT),
        (any(check.meets is False for check in built.connection.checks), CHECK_FAILS),
    )
    return tuple(caution for applies, caution in possible if applies)


def _positions(circuit: BranchCircuit, spacings: dict[str, float], crossing_m: float) -> tuple[float, ...]:
    """Positions of a circuit's units along its trunk [m]."""
    positions: list[float] = []
    for part in circuit.units_by_face:
        start = positions[-1] + crossing_m if positions else 0.0
        positions += [start + index * spacings[part.name] for index in range(part.unit_count)]
    return tuple(positions)

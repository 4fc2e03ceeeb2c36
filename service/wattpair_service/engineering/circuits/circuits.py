"""Branch circuits, their cables and devices, voltage rise and grid connection of one system."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from math import ceil

from wattpair_service.engineering import cautions, methods
from wattpair_service.engineering.cautions import Caution, caution, caution_form
from wattpair_service.engineering.circuits.branch_circuits import (
    BranchCircuit,
    BranchCircuitRules,
    FaceUnits,
    SplitRequest,
    phase_units,
    rule_in_words,
    split,
)
from wattpair_service.engineering.circuits.cable_checks import (
    CABLES,
    CableCheck,
    CableName,
    CableRun,
    cable_check,
    unknown_check,
)
from wattpair_service.engineering.circuits.conductors import INSTALLATIONS
from wattpair_service.engineering.circuits.devices import (
    ADDITIONAL_PROTECTION_MA,
    Device,
    ResidualCurrentNeed,
    devices_of,
)
from wattpair_service.engineering.circuits.grid_connection import (
    MEETS_VERDICTS,
    Connection,
    ConnectionCheck,
    ConnectionRules,
    SupplyPoint,
    connection,
)
from wattpair_service.engineering.circuits.voltage_rise import CircuitOnTrunk, CircuitRise, Wiring, voltage_rises
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.inverter.electrical_checks import VERDICTS, Verdict
from wattpair_service.engineering.results import Result
from wattpair_service.engineering.sentences import Sentence, Words, fixed, sentence

UNIT_SPACING_M = 1.8
"""Trunk length from one microinverter to the next where the request has none. Common practice, no source."""
TRUNK_SIZE_INDEX = 1
"""Default trunk: the second thinnest conductor of a table (2.5 mm2, 12 AWG). Common practice, no source."""
LOADED_OF_ONE_PHASE, LOADED_OF_THREE_PHASES = 2, 3
NO_RESIDUAL_CURRENT_DEVICE = ResidualCurrentNeed((), is_declared_free_of_dc=False)
FIXED_METHODS = frozenset({"clipped_direct", "conduit_on_wall", "insulated_wall", "in_ground"})
"""Ways of installing that need conduit, ducts or clips, which the order does not have."""
CONCEALED_METHODS = frozenset({"insulated_wall", "above_ceiling", "above_ceiling_thick_insulation", "surrounded_by_insulation"})
USUAL_BRANCH_DEVICE_A = 20.0
"""Rating of a branch circuit's breaker that units and trunks usually allow. Common practice, no source."""
TRIP_MULTIPLE = {"B": 5.0, "C": 10.0, "D": 20.0}
"""Multiple of its rating at which a breaker trips at once, IEC 60898-1 (from memory)."""
TRIP_VOLTAGE_FACTOR = 0.95
LOOP_IMPEDANCE = fixed("source.loop_impedance")
TOUCH_VOLTAGE_V = 50.0
EARTH_ELECTRODE = fixed("source.earth_electrode")
UNITS_MOST = 5000
"""Most microinverters of one result, so that people can still read it. Common practice, no source."""
ABOVE_RISE_LIMIT = caution("above_rise_limit", "electrician", "ac")
CHECK_FAILS = caution("check_fails", "electrician", "connection")
CABLE_FAILS = caution("cable_fails", "electrician", "ac")
CABLE_UNKNOWN = caution_form("cable_unknown", "electrician", "ac", "cables")
CHECK_MISSING = caution("check_missing", "electrician", "connection")
CONCEALED = caution("concealed_cable", "electrician", "ac")
INSTALLATION_ASSUMED = caution_form("installation_assumed", "electrician", "ac", "cables")
FIXINGS_NOT_ORDERED = caution_form("cable_fixings", "electrician", "order", "methods")
CAPACITY_FROM_TABLES = caution("capacity_from_tables", "electrician", "ac")
DEVICE_NOT_MADE = sentence("connection.device_not_made", "current_a", "largest_a")
BRANCH_DEVICE = sentence("connection.branch_device", "rating_a", "allowed")
BRANCH_DEVICE_UNKNOWN = fixed("connection.branch_device_unknown")
BRANCH_DEVICE_MOST = sentence("connection.branch_device_most", "current_a")
DATASHEETS = fixed("source.datasheets")
LOOP = sentence("connection.loop_impedance", "value_ohm", "rating_a", "curve", "limit_ohm")
RISE = sentence("connection.voltage_rise", "circuit", "explanation")
CIRCUIT = sentence("detail.circuit", "number")
ELECTRODE = sentence("connection.earth_electrode", "value_ohm", "residual_ma", "limit_ohm")


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
    branch_device_max_a: float | None = None
    supply_loop_impedance_ohm: float | None = None
    earth_electrode_ohm: float | None = None
    installations_assumed: tuple[CableName, ...] = ()

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

    @property
    def home_run_is_concealed(self) -> bool:
        """Whether the home run lies inside a wall or ceiling."""
        return self.wiring.home_run.installation.method.name in CONCEALED_METHODS

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
            existing_a=tuple(self.supply.existing_a(phase + 1) for phase in range(self.phase_count)),
        )


@dataclass(frozen=True, slots=True, eq=False)
class CircuitsResult(Result):
    """Circuits in the order of the faces, their cables and devices, their voltage rises, and the grid connection.

    `verdict` is "fail" where a check of a cable, the board or the phases fails, "caution" where the voltage rise is above its
    limit or a figure is missing.
    """

    verdict: Verdict
    circuits: tuple[BranchCircuit, ...]
    circuit_rule: Sentence
    unit_count: int
    cables: tuple[CableCheck, ...]
    devices: tuple[Device, ...]
    rises: tuple[CircuitRise, ...]
    rise_highest_share: float
    rise_limit_share: float | None
    rise_limit_source: Words
    connection: Connection


@dataclass(frozen=True, slots=True)
class AcSide:
    """All that is built from the units to the connection point; `unchecked` names cables of which nothing is known."""

    circuits: tuple[BranchCircuit, ...]
    rises: tuple[CircuitRise, ...]
    cables: tuple[CableCheck, ...]
    devices: tuple[Device, ...]
    connection: Connection
    unchecked: tuple[CableName, ...]

    @property
    def verdict(self) -> Verdict:
        """The worst of all checks: one that could not be made is a caution."""
        checks = [*(MEETS_VERDICTS[cable.meets] for cable in self.cables), *(check.verdict for check in self.connection.checks)]
        if any(device.rating_a is None for device in self.devices):
            return "fail"
        return max(checks + (["caution"] if self.unchecked else []), key=VERDICTS.index)

    @property
    def rated_loss_share(self) -> float:
        """Share of the rated power of all units that the cables take at that power."""
        losses = zip(self.circuits, self.rises, strict=True)
        counted = sum(circuit.unit_count * rise.rated_loss_share for circuit, rise in losses)
        return counted / sum(circuit.unit_count for circuit in self.circuits)

    @property
    def has_missing_check(self) -> bool:
        """Whether a check could not be made."""
        return None in [*(cable.meets for cable in self.cables), *(check.meets for check in self.connection.checks)]


def circuits(request: CircuitsRequest, built: AcSide | None = None) -> CircuitsResult:
    """Branch circuits, cables and devices, voltage rise and grid connection; `built` is the request's `ac_side` where known.

    Raises
    ------
    EngineeringError
        A unit exceeds its overcurrent device, a cable size is not in the table, or the region has no such supply.
    """
    built = built or ac_side(request)
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
    branch_circuits = tuple(
        replace(circuit, line_conductors=request.rules.line_conductors(circuit.phases))
        for circuit in split(request.split_request())
    )
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
    # The supply cable carries what is on the premises already, too, and household load: the main device protects it.
    supply_currents = [phase.current_a for phase in grid_connection.phases]
    main_a = request.supply.board.main_device_a
    system_a = next((each.rating_a for each in devices if each.role == "pv_main_breaker"), None)
    supply_size = wiring.supply.size or _smallest(wiring, wiring.supply, main_a or system_a or max(supply_currents))
    system_size = None
    if wiring.system_cable is not None and system_a is not None:
        system_size = wiring.system_cable.size or _smallest(wiring, wiring.system_cable, system_a)
    given = Sizes(wiring.trunk_size, wiring.home_run.size, supply_size, system_size)
    ordered = _to_order(request, wiring, given, main_device_a=main_a, system_device_a=system_a)

    def rises_with(sizes: Sizes) -> tuple[CircuitRise, ...]:
        return voltage_rises(
            [_on_trunk(request, circuit) for circuit in branch_circuits],
            unit_current_a=request.unit_ac_current_a,
            phase_currents_a=supply_currents,
            supply_size=sizes.supply,
            wiring=wiring,
            system_size=sizes.system,
            system_currents_a=currents,
            trunk_size=sizes.trunk,
            home_run_size=sizes.home_run,
        )

    rises = rises_with(ordered)
    if ordered != given:
        rises = tuple(rise.beside(as_given) for rise, as_given in zip(rises, rises_with(given), strict=True))
    factor = request.branch_rules.continuous_current_factor
    cables = (
        *_circuit_cables(request, wiring, branch_circuits, rises),
        *_system_cable(wiring, system_size, design_current_a=system_current_a, device_rating_a=system_a),
        *_supply_cable(wiring, supply_size, design_current_a=max(supply_currents) * factor, main_device_a=main_a),
    )
    checks = (
        *grid_connection.checks,
        *_device_checks(request, devices, system_current_a),
        *_fault_checks(request, wiring, branch_circuits, rises, ordered),
        _rise_check(wiring, rises),
    )
    unchecked = () if _is_known(wiring.home_run, wiring.home_run_length_m) else (wiring.home_run.name,)
    return AcSide(branch_circuits, rises, cables, devices, replace(grid_connection, checks=checks), unchecked)


def _system_cable(
    wiring: Wiring, size: str | None, *, design_current_a: float, device_rating_a: float | None
) -> Iterator[CableCheck]:
    """The protection of the cable from the sub-board to the board, where there is one."""
    run = wiring.system_cable
    if run is None or size is None or device_rating_a is None or not _is_known(run, wiring.system_cable_length_m):
        return
    yield cable_check(
        run,
        size=size,
        circuits=(),
        design_current_a=design_current_a,
        device_rating_a=device_rating_a,
        device="main circuit breaker of the system",
    )


def _supply_cable(wiring: Wiring, size: str, *, design_current_a: float, main_device_a: float | None) -> Iterator[CableCheck]:
    """The protection of the supply cable by the main device of the house, where the request has one or the other."""
    if not _is_known(wiring.supply, wiring.supply_length_m):
        return
    if main_device_a is None:
        yield unknown_check(wiring.supply, size=size, design_current_a=design_current_a, missing="main_device_a")
        return
    yield cable_check(
        wiring.supply,
        size=size,
        circuits=(),
        design_current_a=design_current_a,
        device_rating_a=main_device_a,
        device="main device",
    )


def _is_known(run: CableRun, length_m: float) -> bool:
    """Whether a request says anything of a cable."""
    return length_m > 0.0 or run.size is not None


def _device_checks(request: CircuitsRequest, devices: Sequence[Device], system_current_a: float) -> Iterator[ConnectionCheck]:
    """Devices that are made, and the circuits' breakers against what units and trunk allow, which a usual rating is within."""
    if any(device.rating_a is None for device in devices):
        largest = min(max(request.rules.devices.ratings_a), max(request.rules.devices.isolator_ratings_a))
        words = DEVICE_NOT_MADE(current_a=system_current_a, largest_a=largest)
        source = request.rules.devices.source
        yield ConnectionCheck("device of the system", system_current_a, largest, "A", False, source, words)
    rating_a, most_a = request.branch_rules.device_rating_a, request.branch_device_max_a
    if most_a is None and rating_a <= USUAL_BRANCH_DEVICE_A:
        return
    meets = None if most_a is None else rating_a <= most_a
    allowed = BRANCH_DEVICE_UNKNOWN if most_a is None else BRANCH_DEVICE_MOST(current_a=most_a)
    words = BRANCH_DEVICE(rating_a=rating_a, allowed=allowed)
    yield ConnectionCheck("circuit breaker of a circuit", rating_a, most_a, "A", meets, DATASHEETS, words)


def _fault_checks(
    request: CircuitsRequest,
    wiring: Wiring,
    branch_circuits: Sequence[BranchCircuit],
    rises: Sequence[CircuitRise],
    sizes: Sizes,
) -> Iterator[ConnectionCheck]:
    """Disconnection in a fault, where the request gives the supply's loop impedance or the electrode's resistance."""
    curve = request.rules.devices.curve
    if request.supply_loop_impedance_ohm is not None and curve is not None:
        rating_a = request.branch_rules.device_rating_a
        limit = TRIP_VOLTAGE_FACTOR * wiring.voltage_v / (TRIP_MULTIPLE[curve] * rating_a)
        runs = (
            (_on_trunk(request, circuit).positions_m[-1], sizes.trunk, wiring.home_run_length_m, rise.home_run_size)
            for circuit, rise in zip(branch_circuits, rises, strict=True)
        )
        of_system = 0.0 if sizes.system is None else wiring.system_cable_length_m * wiring.loop_ohm_m(sizes.system)
        value = (
            request.supply_loop_impedance_ohm
            + of_system
            + max(
                trunk_m * wiring.loop_ohm_m(trunk_size) + home_m * wiring.loop_ohm_m(home_size)
                for trunk_m, trunk_size, home_m, home_size in runs
            )
        )
        words = LOOP(value_ohm=value, rating_a=rating_a, curve=curve, limit_ohm=limit)
        yield ConnectionCheck("loop impedance", value, limit, "ohm", value <= limit, LOOP_IMPEDANCE, words)
    if request.earth_electrode_ohm is not None:
        limit = TOUCH_VOLTAGE_V / (ADDITIONAL_PROTECTION_MA / 1000.0)
        value = request.earth_electrode_ohm
        words = ELECTRODE(value_ohm=value, residual_ma=ADDITIONAL_PROTECTION_MA, limit_ohm=limit)
        yield ConnectionCheck("earth electrode", value, limit, "ohm", value <= limit, EARTH_ELECTRODE, words)


def _rise_check(wiring: Wiring, rises: Sequence[CircuitRise]) -> ConnectionCheck:
    """The highest voltage rise against its limit."""
    number, worst = max(enumerate(rises, 1), key=lambda each: each[1].total_share)
    words = RISE(circuit=CIRCUIT(number=number), explanation=worst.explanation)
    return ConnectionCheck(
        name="voltage rise",
        value=worst.total_share,
        limit=wiring.limit_share,
        unit="share",
        meets=worst.meets_limit,
        source=wiring.limit_source,
        explanation=words,
        is_binding=wiring.limit_is_binding,
    )


@dataclass(frozen=True, slots=True)
class Sizes:
    """Conductors of the cables; None for a home run that is still to be chosen, and where there is no system cable."""

    trunk: str
    home_run: str | None
    supply: str
    system: str | None


def _to_order(
    request: CircuitsRequest, wiring: Wiring, given: Sizes, *, main_device_a: float | None, system_device_a: float | None
) -> Sizes:
    """The conductors that are ordered: those given, but where their device does not protect them."""
    rating_a = request.branch_rules.device_rating_a
    home_run, system, supply = given.home_run, given.system, given.supply
    if home_run is not None:
        home_run = wiring.home_run.to_order(home_run, rating_a)
    if system is not None and wiring.system_cable is not None and system_device_a is not None:
        system = wiring.system_cable.to_order(system, system_device_a)
    if main_device_a is not None:
        supply = wiring.supply.to_order(supply, main_device_a)
    return Sizes(wiring.trunk.to_order(given.trunk, rating_a), home_run, supply, system)


def _as_split(request: CircuitsRequest, branch_circuits: Sequence[BranchCircuit]) -> Wiring:
    """The wiring with what the split decides: loaded conductors, home runs that run together, and a size for the trunk."""
    wiring = request.wiring
    loaded = LOADED_OF_THREE_PHASES if len(branch_circuits[0].phases) > 1 else LOADED_OF_ONE_PHASE
    trunk = replace(wiring.trunk, loaded_conductors=loaded)
    if trunk.size is None:
        trunk = replace(trunk, size=_trunk_size(trunk, request.branch_rules.device_rating_a))
    installation = wiring.home_run.installation
    if installation.circuits_together is None:
        installation = replace(installation, circuits_together=_circuits_together(request, branch_circuits))
    home_run = replace(wiring.home_run, installation=installation, loaded_conductors=loaded)
    of_supply = LOADED_OF_THREE_PHASES if request.phase_count > 1 else LOADED_OF_ONE_PHASE
    system = wiring.system_cable and replace(wiring.system_cable, loaded_conductors=of_supply)
    supply = replace(wiring.supply, loaded_conductors=of_supply)
    return replace(wiring, trunk=trunk, home_run=home_run, system_cable=system, supply=supply)


def _circuits_together(request: CircuitsRequest, branch_circuits: Sequence[BranchCircuit]) -> int:
    """Home runs that run together: no fewer than without generation that is there already, which may be taken away again."""
    terms = request.split_request()
    without = split(replace(terms, existing_a=())) if any(terms.existing_a) else branch_circuits
    return max(len(branch_circuits), len(without))


def _trunk_size(trunk: CableRun, device_rating_a: float) -> str:
    """The second thinnest conductor of the table, or the next that the circuit breaker protects; the thickest where none is."""
    conductors = trunk.table.conductors[TRUNK_SIZE_INDEX:]
    return next((each for each in conductors if trunk.is_protected(each, device_rating_a)), conductors[-1]).size


def _smallest(wiring: Wiring, run: CableRun, device_rating_a: float) -> str:
    """The smallest conductor that the device protects; the thickest where none is."""
    return next(run.protected(device_rating_a), wiring.table.conductors[-1]).size


def _circuit_cables(
    request: CircuitsRequest, wiring: Wiring, branch_circuits: Sequence[BranchCircuit], rises: Sequence[CircuitRise]
) -> Iterator[CableCheck]:
    """The protection of trunk and home run of each circuit; those that are alike once."""
    factor = request.branch_rules.continuous_current_factor
    alike: dict[tuple[CableRun, str, float], list[str]] = {}
    for circuit in branch_circuits:
        alike.setdefault((wiring.trunk, wiring.trunk_size, circuit.current_a), []).append(circuit.name)
    for circuit, rise in zip(branch_circuits, rises, strict=True):
        if _is_known(wiring.home_run, wiring.home_run_length_m):
            size = wiring.home_run.size or rise.home_run_size
            alike.setdefault((wiring.home_run, size, circuit.current_a), []).append(circuit.name)
    for (run, size, current_a), names in alike.items():
        yield cable_check(
            run,
            size=size,
            circuits=tuple(names),
            design_current_a=current_a * factor,
            device_rating_a=request.branch_rules.device_rating_a,
            device="circuit breaker",
        )


def _on_trunk(request: CircuitsRequest, circuit: BranchCircuit) -> CircuitOnTrunk:
    spacings = {face.name: face.unit_spacing_m for face in request.faces}
    positions = _positions(circuit, spacings, request.face_crossing_m)
    return CircuitOnTrunk(circuit.name, circuit.phases, positions, circuit.device_rating_a, request.unit_phase_count > 1)


def cable_cautions(request: CircuitsRequest, built: AcSide) -> tuple[Caution, ...]:
    """Cautions on what was assumed of the cables and on checks that fail."""
    assumed = [cable for cable in request.installations_assumed if cable in {check.cable for check in built.cables}]
    runs = (request.wiring.home_run, request.wiring.system_cable, request.wiring.supply)
    ordered = {check.cable for check in built.cables if check.size_to_order is not None}
    methods_of_runs = dict.fromkeys(
        run.installation.method.name for run in runs if run is not None and run.name in ordered and run.capacity_a is None
    )
    fixed_methods = tuple(INSTALLATIONS[name] for name in methods_of_runs if name in FIXED_METHODS)
    possible = (
        (request.rules.asks_rapid_shutdown, cautions.RAPID_SHUTDOWN),
        (any(device.role == "residual_current_device" for device in built.devices), cautions.RESIDUAL_CURRENT),
        (bool(fixed_methods), FIXINGS_NOT_ORDERED(methods=fixed_methods)),
        (request.units_per_trunk_max is None, cautions.TRUNK_LIMIT),
        (bool(assumed), INSTALLATION_ASSUMED(cables=tuple(CABLES[cable] for cable in assumed))),
        (True, CAPACITY_FROM_TABLES),
        (bool(built.unchecked), CABLE_UNKNOWN(cables=tuple(CABLES[cable] for cable in built.unchecked))),
        (request.home_run_is_concealed and not request.residual_current.reasons, CONCEALED),
        (False in [check.meets for check in built.cables], CABLE_FAILS),
        (any(rise.meets_limit is False for rise in built.rises), ABOVE_RISE_LIMIT),
        (any(check.verdict == "fail" for check in built.connection.checks), CHECK_FAILS),
        (built.has_missing_check, CHECK_MISSING),
    )
    return tuple(caution for applies, caution in possible if applies)


def _positions(circuit: BranchCircuit, spacings: dict[str, float], crossing_m: float) -> tuple[float, ...]:
    """Positions of a circuit's units along its trunk [m]."""
    positions: list[float] = []
    for part in circuit.units_by_face:
        start = positions[-1] + crossing_m if positions else 0.0
        positions += [start + index * spacings[part.name] for index in range(part.unit_count)]
    return tuple(positions)

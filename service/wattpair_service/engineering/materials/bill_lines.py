"""The lines of a bill: each part with its quantity, the derivation of that, and the face or circuit it belongs to."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Literal

from wattpair_service.engineering.circuits.branch_circuits import BranchCircuit
from wattpair_service.engineering.circuits.cable_checks import CableCheck
from wattpair_service.engineering.circuits.circuits import AcSide, CircuitsRequest
from wattpair_service.engineering.circuits.devices import Device
from wattpair_service.engineering.equipment import InputWiring
from wattpair_service.engineering.materials.backup import Backup
from wattpair_service.engineering.materials.material_rules import MaterialRules
from wattpair_service.engineering.materials.mounting import FaceRows, MountingSystem, full_rows, missing_leads_m
from wattpair_service.engineering.materials.spares import Spares
from wattpair_service.engineering.materials.trunk_system import JOINTS_OF_EXTENSION, Drops, TrunkSystem
from wattpair_service.engineering.roof.layout import Orientation
from wattpair_service.engineering.roof.rows import Grid
from wattpair_service.engineering.rounding import ROUNDING

Scope = Literal["face", "circuit", "system"]
Unit = Literal["piece", "m"]

TRANSFORMER_PRIMARIES_A = (10, 15, 20, 25, 30, 40, 50, 60, 75, 100, 150, 200, 250, 300, 400, 500, 600, 800, 1000, 2000)
"""Rated primary currents of current transformers [A], after IEC 61869-2, from memory."""
PHASES = {1: "single-phase", 2: "two-phase", 3: "three-phase"}

ROLES = (
    "module", "microinverter", "rail", "rail_splice", "rail_end_cap", "roof_attachment", "attachment_screw", "flashing",
    "end_clamp", "mid_clamp", "unit_fixing", "bonding_jumper", "earth_lug", "cable_clip", "dc_extension_leads",
    "dc_branch_connectors", "dc_input_cap", "trunk_joint", "trunk_extension_cable", "trunk_cable_section", "trunk_cable",
    "trunk_connector", "trunk_spare_drop", "trunk_drop_cap", "trunk_end_cap", "junction_box", "roof_cable_entry",
    "home_run_cable", "branch_circuit_protective_device", "circuit_label", "sub_board", "system_circuit_breaker",
    "residual_current_device", "system_cable", "supply_cable", "ac_isolator", "surge_protective_device", "generation_meter",
    "bonding_conductor", "communication_gateway", "current_transformer_production", "current_transformer_grid",
    "backup_isolating_device", "backup_controller", "backup_label", "grid_forming_source", "system_label",
    "disconnect_tool", "microinverter_spare", "commissioning_document", "network_operator_document",
)  # fmt: skip
"""Every role that a line may have."""
DOCUMENT_ROLES = ("commissioning_document", "network_operator_document")
"""Roles of documents, which are not bought."""


@dataclass(frozen=True, slots=True)
class FaceDetail:
    """What is known of a face beside its number of modules; each is None where it is not.

    `segments` has for each row the modules of each of its segments, which adjoin without a gap. `grid` is the modules' size on
    the face where a layout tells it. `unit_spacing_m` is the trunk from unit to unit.
    """

    segments: tuple[tuple[int, ...], ...] | None = None
    area_m2: float | None = None
    orientation: Orientation | None = None
    grid: Grid | None = None
    unit_spacing_m: float | None = None


@dataclass(frozen=True, slots=True)
class ModuleSize:
    """Length and width of a module [m]."""

    length_m: float
    width_m: float

    def grid(self, orientation: Orientation, mounting: MountingSystem) -> Grid:
        """Its size on a face and the gaps of the mounting system."""
        across, up = (self.width_m, self.length_m) if orientation == "portrait" else (self.length_m, self.width_m)
        return Grid(across, up, mounting.column_gap_m, mounting.row_gap_m)


def face_rows(detail: FaceDetail, module_count: int, size: ModuleSize, mounting: MountingSystem) -> FaceRows:
    """The rows of a face; where only the number of modules is known, full rows in portrait."""
    orientation = detail.orientation or "portrait"
    grid = detail.grid or size.grid(orientation, mounting)
    segments = detail.segments or full_rows(module_count, grid.width_m + grid.column_gap_m)
    return FaceRows(segments, grid, orientation, detail.segments is None, detail.orientation is None)


@dataclass(frozen=True, slots=True)
class PartChoices:
    """Choices of parts that counts do not decide. Currents in A; the allowance is a share of each cable's length."""

    gateway_units_max: int
    spare_drops_per_circuit: int
    transformer_secondary_a: float
    no_dc_fault_current_declared: bool
    cable_allowance_share: float
    rules: MaterialRules
    mounting: MountingSystem
    trunk: TrunkSystem


@dataclass(frozen=True, slots=True)
class BillLine:
    """One line to order. `belongs_to` is the face's or circuit's name, None for the system as a whole."""

    role: str
    quantity: int
    unit: Unit
    specification: str | None
    scope: Scope
    belongs_to: str | None
    derivation: str


@dataclass(frozen=True, slots=True)
class Plan:
    """All inputs of the lines."""

    request: CircuitsRequest
    details: tuple[FaceDetail, ...]
    rows: tuple[FaceRows, ...]
    input_wiring: InputWiring
    choices: PartChoices
    built: AcSide
    spares: Spares
    backup: Backup

    def cable(self, name: str, circuit: str | None = None) -> CableCheck | None:
        """The check of a cable, of one circuit or of the system; None where the system has no such cable."""
        of_circuit = (check for check in self.built.cables if circuit is None or circuit in check.circuits)
        return next((check for check in of_circuit if check.cable == name), None)

    def metres(self, length_m: float) -> int:
        """Whole metres of cable to order, with the allowance."""
        return ceil(length_m * (1.0 + self.choices.cable_allowance_share) - ROUNDING)

    def place(self, face: str) -> int:
        """Index of a face."""
        return next(index for index, each in enumerate(self.request.faces) if each.name == face)

    def unit_spacing_m(self, face: str) -> float:
        """Trunk from one unit of a face to the next [m]: as given, else the pitch of the modules times those of a unit."""
        place = self.place(face)
        return self.details[place].unit_spacing_m or self.request.modules_per_unit * self.rows[place].module_pitch_m

    def drops(self, face: str) -> Drops:
        """The trunk's drops on a face."""
        return self.choices.trunk.drops(self.rows[self.place(face)].orientation, self.unit_spacing_m(face))

    @property
    def highest_a(self) -> float:
        """Rated current of the system on its fullest phase [A]."""
        return max(phase.current_a - phase.existing_a for phase in self.built.connection.phases)

    @property
    def line_conductors(self) -> int:
        """Line conductors of the supply: two in a split phase."""
        return self.request.phase_count * self.choices.rules.lines_per_phase

    def device(self, role: str) -> Device | None:
        """The devices of a role; None where the system has none."""
        return next((device for device in self.built.devices if device.role == role), None)


def bill_lines(plan: Plan) -> tuple[BillLine, ...]:
    """Every line with a quantity above 0: faces, then circuits, then the system; always in the same order."""
    lines = (*_face_lines(plan), *_circuit_lines(plan), *_system_lines(plan))
    return tuple(line for line in lines if line.quantity > 0)


def _face_lines(plan: Plan) -> Iterator[BillLine]:
    request = plan.request
    for face, units, rows in zip(request.faces, request.face_units(), plan.rows, strict=True):
        name = face.name

        def line(
            role: str, quantity: int, why: str, specification: str | None = None, unit: Unit = "piece", name: str = name
        ) -> BillLine:
            return BillLine(role, quantity, unit, specification, "face", name, why)

        yield line("module", face.module_count, "the modules of the face")
        yield line("microinverter", units.unit_count, f"{face.module_count} modules, {request.modules_per_unit} on each unit")
        yield from _mounting_lines(plan.choices.mounting, rows, units.unit_count, line)
        yield from _dc_lines(plan, rows, units.unit_count, line)
        yield from _row_crossings(plan, name, rows, line)


def _row_crossings(plan: Plan, face: str, rows: FaceRows, line: Callable[..., BillLine]) -> Iterator[BillLine]:
    """What leads a trunk from one row of a face to the next, where its drops are too close together to reach that far."""
    trunk = plan.cable("trunk")
    if plan.choices.trunk.sold_by_length or plan.drops(face).reach_m >= rows.row_pitch_m - ROUNDING:
        return
    trunks = sum(any(part.name == face for part in circuit.units_by_face) for circuit in plan.built.circuits)
    crossings = max(0, len(rows.segments) - trunks)
    why = f"{len(rows.segments)} rows on {trunks} trunks: {rows.row_pitch_m:.3g} m to the next row, {crossings} times"
    yield line("trunk_joint", JOINTS_OF_EXTENSION * crossings, f"{why}, with a joint at both ends")
    if trunk is not None and trunk.size_to_order is not None:
        yield line("trunk_extension_cable", plan.metres(crossings * rows.row_pitch_m), why, trunk.size_to_order, "m")


def _mounting_lines(mounting: MountingSystem, rows: FaceRows, units: int, line: Callable[..., BillLine]) -> Iterator[BillLine]:
    """What holds the modules of a face, and bonds them."""
    segments, lines, attachment = rows.segment_counts, mounting.lines_per_row, mounting.attachment
    modules, text = sum(segments), rows.in_words()
    lengths = [mounting.run_length_m(count, rows.grid) for count in segments]
    metres = ", ".join(f"{length:.2f}" for length in dict.fromkeys(lengths))
    if mounting.rails_per_row:
        runs = [length for length in lengths for _ in range(lines)]
        splices = sum(mounting.pieces(length) - 1 for length in runs)
        why = f"{text}: {len(runs)} runs of {metres} m" + (", offcuts reused" if mounting.offcuts_reused else "")
        yield line("rail", mounting.rails_to_order(runs), why, f"{mounting.rail_length_m:.4g} m")
        yield line("rail_splice", splices, f"{text}: one between the pieces of a run, of {metres} m")
        yield line("rail_end_cap", 2 * len(runs), f"both ends of {len(runs)} runs")
    attachments = lines * sum(map(mounting.attachments, lengths))
    why = (
        f"{lines * len(lengths)} lines of {metres} m: at most {attachment.spacing_max_m:.4g} m apart and "
        f"{attachment.cantilever_max_m:.4g} m from the end"
    )
    yield line("roof_attachment", attachments, why, attachment.kind)
    yield line("attachment_screw", attachment.screws * attachments, f"{attachment.screws} for each attachment", attachment.kind)
    yield line("flashing", attachment.flashings * attachments, f"{attachment.flashings} for each attachment", attachment.kind)
    frame = None if mounting.frame_height_mm is None else f"frame of {mounting.frame_height_mm:g} mm"
    yield line("end_clamp", 2 * lines * len(segments), f"{text}: {2 * lines} for each row or segment", frame)
    yield line("mid_clamp", lines * (modules - len(segments)), f"{text}: {lines} between neighbours", frame)
    yield line("unit_fixing", mounting.unit_fixings_per_unit * units, f"{mounting.unit_fixings_per_unit} for each unit")
    if mounting.bonding_jumpers == "module":
        yield line("bonding_jumper", modules, "one for each module")
    elif mounting.bonding_jumpers == "rail":
        jumpers = max(0, mounting.rails_per_row - 1) * len(segments)
        yield line("bonding_jumper", jumpers, f"{text}: from each further rail to the first")
    yield line("earth_lug", earth_lugs(mounting, rows), f"{text}: one for each {mounting.earth_lugs}")
    clips = mounting.cable_clips_per_module
    yield line("cable_clip", clips * modules, f"{clips} for each module")


def earth_lugs(mounting: MountingSystem, rows: FaceRows) -> int:
    """Lugs that the bonding conductor goes to on a face."""
    return {"segment": len(rows.segment_counts), "row": len(rows.segments), "none": 0}[mounting.earth_lugs]


def _dc_lines(plan: Plan, rows: FaceRows, units: int, line: Callable[..., BillLine]) -> Iterator[BillLine]:
    """What connects the modules of a face with their units."""
    per_unit, per_input = plan.request.modules_per_unit, plan.input_wiring.modules_per_input
    modules, inputs = sum(rows.segment_counts), per_unit // per_input
    lead_m = plan.choices.mounting.module_lead_length_m
    missing_m = missing_leads_m(rows, per_unit, lead_m)
    why = f"a pair for each module more than its leads of {lead_m:.3g} m from its unit"
    length = f"at least {ceil(10.0 * max(missing_m, default=0.0) - ROUNDING) / 10.0:g} m"
    yield line("dc_extension_leads", len(missing_m), why, length)
    full, rest = divmod(modules, per_unit)
    filled = full * inputs + ceil(rest / per_input)
    if plan.input_wiring.wiring == "parallel":
        yield line("dc_branch_connectors", modules - filled, "a pair for each further module in parallel on an input")
    why = f"{units} units with {inputs} inputs, of which {filled} are filled: one for each unused"
    yield line("dc_input_cap", units * inputs - filled, why)


def _circuit_lines(plan: Plan) -> Iterator[BillLine]:
    request, choices = plan.request, plan.choices
    wiring = request.wiring
    caps = 2 if wiring.trunk_feed == "centre" else 1
    breaker = plan.device("branch_breaker")
    for circuit, rise in zip(plan.built.circuits, plan.built.rises, strict=True):

        def line(
            role: str, quantity: int, why: str, specification: str | None = None, unit: Unit = "piece", name: str = circuit.name
        ) -> BillLine:
            return BillLine(role, quantity, unit, specification, "circuit", name, why)

        yield from _trunk_lines(plan, circuit, line)
        yield line("trunk_end_cap", caps, f"trunk fed at its {wiring.trunk_feed}")
        yield line("junction_box", 1, "where the trunk meets its home run")
        entries = choices.mounting.roof_entries_per_circuit
        yield line("roof_cable_entry", entries, "where the home run goes through the roof")
        home_run = plan.cable("home run", circuit.name)
        if home_run is not None and home_run.size_to_order is not None:
            metres = plan.metres(wiring.home_run_length_m)
            yield line("home_run_cable", metres, _why(home_run, rise.explanation), home_run.size_to_order, "m")
        specification = None if breaker is None else breaker.in_words()
        yield line("branch_circuit_protective_device", 1, _device_derivation(request, circuit), specification)
        yield line("circuit_label", 1, "one at the overcurrent device", circuit.name)


def _trunk_lines(plan: Plan, circuit: BranchCircuit, line: Callable[..., BillLine]) -> Iterator[BillLine]:
    """The trunk of a circuit over all its faces."""
    choices = plan.choices
    system, trunk = choices.trunk, plan.cable("trunk", circuit.name)
    size = None if trunk is None else trunk.size_to_order
    parts, crossing_m = circuit.units_by_face, plan.request.face_crossing_m
    length_m = (len(parts) - 1) * crossing_m
    spare_drops, skipped = choices.spare_drops_per_circuit, 0
    sections: dict[str, tuple[int, str]] = {}
    for part in parts:
        drops, spacing_m = plan.drops(part.name), plan.unit_spacing_m(part.name)
        length_m += part.unit_count * spacing_m
        skipped += part.unit_count * (drops.sections_per_unit - 1)
        specification = f"{size}, drops every {drops.spacing_m:.4g} m, {plan.rows[plan.place(part.name)].orientation}"
        why = f"{drops.sections_per_unit} for each microinverter, {spacing_m:.3g} m from one to the next"
        there, _ = sections.get(specification, (0, why))
        sections[specification] = (there + part.unit_count * drops.sections_per_unit, why)
    if system.sold_by_length:
        if size is not None:
            metres = plan.metres(length_m)
            yield line("trunk_cable", metres, _why(trunk, "the spacing of each unit, and from face to face"), size, "m")
        yield line("trunk_connector", circuit.unit_count + spare_drops, "one for each microinverter and spare drop")
        yield line("trunk_drop_cap", spare_drops, "one for each spare drop")
        return
    if size is not None:
        for specification, (quantity, why) in sections.items():
            yield line("trunk_cable_section", quantity, _why(trunk, why), specification)
        yield line("trunk_spare_drop", spare_drops, "spare drops as requested", next(iter(sections)))
    yield line("trunk_drop_cap", spare_drops + skipped, "one for each drop that stays unused")
    crossings = sum(plan.drops(part.name).reach_m < crossing_m - ROUNDING for part in parts[:-1])
    why = f"{crossing_m:.3g} m from face to face, {crossings} times"
    yield line("trunk_joint", JOINTS_OF_EXTENSION * crossings, f"{why}, with a joint at both ends")
    if size is not None:
        yield line("trunk_extension_cable", plan.metres(crossings * crossing_m), why, size, "m")


def _system_lines(plan: Plan) -> Iterator[BillLine]:
    def line(role: str, quantity: int, why: str, specification: str | None = None, unit: Unit = "piece") -> BillLine:
        return BillLine(role, quantity, unit, specification, "system", None, why)

    yield from _board_lines(plan, line)
    yield from _bonding_conductor(plan, line)
    yield from _measuring_lines(plan, line)
    for part in plan.backup.parts:
        yield line(part.role, 1, part.reason)
    voltage_v = plan.request.wiring.voltage_v
    for label in plan.choices.rules.labels:
        yield line("system_label", label.count, f"{label.where}: {label.source}", label.text_for(plan.highest_a, voltage_v))
    yield line("disconnect_tool", plan.choices.trunk.disconnect_tools, "for the connectors of the trunk, for the job")
    yield line("microinverter_spare", plan.spares.spare_count, plan.spares.derivation)
    rules, connection = plan.request.rules, plan.built.connection
    for document in rules.documents:
        yield line("commissioning_document", 1, rules.documents_source, document)
    for filing in connection.filings:
        yield line("network_operator_document", 1, f"{connection.route}: {filing.when}", filing.document)


def _board_lines(plan: Plan, line: Callable[..., BillLine]) -> Iterator[BillLine]:
    """Sub-board, devices and cables that the whole system shares, and the surge protection."""
    wiring, surge = plan.request.wiring, plan.choices.rules.surge_protection
    if plan.device("pv_main_breaker") is not None:
        yield line("sub_board", 1, "for the circuit breakers of the circuits and that of the system", _sub_board(plan))
    for device_role, role in DEVICE_ROLES.items():
        device = plan.device(device_role)
        if device is not None:
            yield line(role, device.quantity, device.protects, device.in_words())
    system = plan.cable("system cable")
    if system is not None and system.size_to_order is not None:
        metres = plan.metres(wiring.system_cable_length_m)
        yield line("system_cable", metres, system.explanation, system.size_to_order, "m")
    supply = plan.cable("supply cable")
    # A supply cable whose size is given is there already: it is on the bill where it must be replaced.
    if supply is not None and supply.size_to_order is not None and (wiring.supply.size is None or not supply.meets):
        metres = plan.metres(wiring.supply_length_m)
        yield line("supply_cable", metres, supply.explanation, supply.size_to_order, "m")
    if surge.asked:
        specification = f"AC, type 2, {plan.line_conductors + 1} poles"
        yield line("surge_protective_device", 1, f"at the board: {surge.source}", specification)


def _measuring_lines(plan: Plan, line: Callable[..., BillLine]) -> Iterator[BillLine]:
    """Meter, gateways and current transformers."""
    request, choices, highest = plan.request, plan.choices, plan.highest_a
    if choices.rules.generation_meter.asked:
        specification = f"{PHASES[request.phase_count]}, at least {highest:.4g} A"
        yield line("generation_meter", 1, choices.rules.generation_meter.source, specification)
    unit_count = sum(circuit.unit_count for circuit in plan.built.circuits)
    gateways = ceil(unit_count / choices.gateway_units_max)
    yield line("communication_gateway", gateways, f"{unit_count} microinverters, up to {choices.gateway_units_max} on each")
    ratio = _ratio(highest, choices.transformer_secondary_a)
    yield line("current_transformer_production", request.phase_count, f"one for each phase, up to {highest:.4g} A", ratio)
    main = request.supply.board.main_device_a
    of_grid = None if main is None else _ratio(max(highest, main), choices.transformer_secondary_a)
    rating = f", up to {max(highest, main):.4g} A" if main else "; give main_device_a for its ratio"
    yield line("current_transformer_grid", plan.line_conductors, f"one for each line conductor{rating}", of_grid)


def _bonding_conductor(plan: Plan, line: Callable[..., BillLine]) -> Iterator[BillLine]:
    """The conductor from lug to lug, from face to face, and down to the board beside the home run."""
    mounting, request, rules = plan.choices.mounting, plan.request, plan.choices.rules
    if mounting.earth_lugs == "none":
        return
    on_faces = sum((earth_lugs(mounting, rows) - 1) * rows.row_pitch_m for rows in plan.rows)
    crossings = (len(plan.rows) - 1) * request.face_crossing_m
    down = request.wiring.home_run_length_m
    lengths = f"{on_faces:.4g} m between lugs, {crossings:.4g} m between faces, {down:.4g} m to the board"
    metres = plan.metres(on_faces + crossings + down)
    yield line("bonding_conductor", metres, f"{lengths}; {rules.bonding_source}", rules.bonding_size, "m")


DEVICE_ROLES = {
    "pv_main_breaker": "system_circuit_breaker",
    "residual_current_device": "residual_current_device",
    "isolator": "ac_isolator",
}
"""Roles of the devices that the whole system shares."""


def _why(cable: CableCheck | None, otherwise: str) -> str:
    """Why a conductor is on the bill: its check, where that changed it."""
    return otherwise if cable is None or cable.meets else f"in place of {cable.size}: {cable.explanation}"


def _sub_board(plan: Plan) -> str:
    """What a sub-board must take: its devices with their poles, and its current."""
    devices = [device for device in plan.built.devices if device.role in ("branch_breaker", "pv_main_breaker")]
    poles = sum(device.quantity * device.poles for device in devices)
    main = devices[-1].rating_a
    return f"{sum(device.quantity for device in devices)} circuit breakers, {poles} poles" + (f", {main:g} A" if main else "")


def _device_derivation(request: CircuitsRequest, circuit: BranchCircuit) -> str:
    factor = request.branch_rules.continuous_current_factor
    return (
        f"{circuit.device_rating_a:g} A: {circuit.unit_count} x {request.unit_ac_current_a:.3g} A = {circuit.current_a:.3g} A, "
        f"times {factor:g} is {circuit.current_a * factor:.3g} A"
    )


def _ratio(current_a: float, secondary_a: float) -> str:
    primary = _first_at_least(current_a, TRANSFORMER_PRIMARIES_A)
    return f"at least {current_a:.4g} A to {secondary_a:g} A" if primary is None else f"{primary:g} A to {secondary_a:g} A"


def _first_at_least(needed: float, ratings: Sequence[float]) -> float | None:
    return next((rating for rating in sorted(ratings) if rating >= needed * (1.0 - ROUNDING)), None)

"""The lines of a bill: each part with its quantity, the derivation of that, and the face or circuit it belongs to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, dist
from typing import Literal

from wattpair_service.engineering.circuits.branch_circuits import BranchCircuit
from wattpair_service.engineering.circuits.cable_checks import CableCheck, CableName, CableRun
from wattpair_service.engineering.circuits.circuits import AcSide, CircuitsRequest
from wattpair_service.engineering.circuits.devices import POLES, RATING, Device
from wattpair_service.engineering.equipment import InputWiring
from wattpair_service.engineering.materials.backup import Backup
from wattpair_service.engineering.materials.material_rules import MaterialRules
from wattpair_service.engineering.materials.mounting import (
    ATTACHMENT_KINDS,
    ORIENTATIONS,
    SCREW_KINDS,
    FaceRows,
    MountingSystem,
    full_rows,
)
from wattpair_service.engineering.materials.placed_units import PlacedUnit, missing_leads_m
from wattpair_service.engineering.materials.spares import Spares
from wattpair_service.engineering.materials.trunk_system import JOINTS_OF_EXTENSION, Drops, Step, TrunkSystem
from wattpair_service.engineering.roof.layout import LENGTH_DIGITS, Orientation
from wattpair_service.engineering.roof.outline import Point
from wattpair_service.engineering.roof.rows import Grid
from wattpair_service.engineering.rounding import ROUNDING
from wattpair_service.engineering.sentences import Sentence, Words, family, fixed, sentence

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
"""Every role that a line may have, in the order of the sheet."""
DOCUMENT_ROLES = ("commissioning_document", "network_operator_document")
"""Roles of documents, which are not bought."""
ROLE_NAMES = family("role", ROLES)
PHASE_NAMES = family("phases", PHASES.values())

Part = tuple[str, Words]
"""What a price book names a part by, and the same in words."""
Line = Callable[..., "BillLine"]
"""Makes the lines of a face, a circuit or the system."""

MODULES, FOR_EACH_MODULE, FURTHER_IN_PARALLEL, SPARE_DROPS, FOR_EACH_SPARE_DROP, FOR_EACH_UNUSED_DROP = (
    fixed(f"why.{each}")
    for each in (
        *("modules", "for_each_module", "further_in_parallel", "spare_drops", "for_each_spare_drop"),
        "for_each_unused_drop",
    )
)
UNITS = sentence("why.units", "modules", "on_each")
RUN = sentence("why.run", "length_m")
RAILS, RAILS_WITH_OFFCUTS = (sentence(f"why.{each}", "rows", "runs", "lengths") for each in ("rails", "rails_with_offcuts"))
SPLICES = sentence("why.splices", "rows", "lengths")
RAIL_ENDS = sentence("why.rail_ends", "runs")
ATTACHMENTS = sentence("why.attachments", "lines", "lengths", "spacing_m", "cantilever_m")
FOR_EACH_ATTACHMENT, MORE_FOR_EACH_UNIT, MORE_FOR_EACH_MODULE = (
    sentence(f"why.more_for_each_{each}", "count") for each in ("attachment", "unit", "module")
)
END_CLAMPS, MID_CLAMPS = (sentence(f"why.{each}_clamps", "rows", "count") for each in ("end", "mid"))
RAIL_JUMPERS = sentence("why.rail_jumpers", "rows")
LUG_FOR_EACH = {each: sentence(f"why.lug_for_each_{each}", "rows") for each in ("segment", "row")}
EXTENSION_LEADS = sentence("why.extension_leads", "length_m")
INPUT_CAPS = sentence("why.input_caps", "units", "inputs", "filled")
EXTENSION, EXTENSIONS = sentence("why.extension", "count", "length_m"), sentence("why.extensions", "lengths")
JOINTS = sentence("why.joints", "extensions")
SECTIONS, MORE_SECTIONS = sentence("why.sections", "spacing_m", "further"), sentence("why.more_sections", "count")
TRUNK_LENGTH, CONNECTORS, JUNCTION, ROOF_ENTRY, CIRCUIT_LABEL, FOR_BREAKERS, TOOL = (
    fixed(f"why.{each}")
    for each in ("trunk_length", "connectors", "junction", "roof_entry", "circuit_label", "for_breakers", "tool")
)
FED_AT = {feed: fixed(f"why.fed_at_{feed}") for feed in ("end", "centre")}
AT_THE_BOARD = sentence("why.at_the_board", "source")
GATEWAYS = sentence("why.gateways", "units", "most")
TRANSFORMER, GRID_TRANSFORMER = (sentence(f"why.{each}", "current_a") for each in ("transformer", "grid_transformer"))
GRID_TRANSFORMER_UNKNOWN = fixed("why.grid_transformer_unknown")
BONDING = sentence("why.bonding", "on_faces_m", "crossings_m", "down_m", "source")
LABEL = sentence("why.label", "where", "source")
DUE = sentence("why.due", "route", "when")
IN_PLACE_OF = sentence("why.in_place_of", "size", "check")
DEVICE = sentence("why.device", "rating_a", "units", "unit_a", "current_a", "factor", "design_a")

LENGTH, LENGTH_AT_LEAST = (sentence(f"detail.{each}", "length_m") for each in ("length", "length_at_least"))
FRAME = sentence("detail.frame", "height_mm")
SCREW, OF_ATTACHMENT = sentence("detail.screw", "screw", "attachment"), sentence("detail.of_attachment", "attachment")
TRUNK_SECTION = sentence("detail.trunk_section", "cable", "spacing_m", "orientation")
CORES = {
    (neutral, single_wires): sentence(f"detail.{form}_{'with' if neutral else 'without'}_neutral", "count", "size", "lines")
    for neutral in (True, False)
    for single_wires, form in ((False, "cores"), (True, "single_wires"))
}
CIRCUIT = sentence("detail.circuit", "number")
SURGE = sentence("detail.surge", "poles")
METER = sentence("detail.meter", "phases", "current_a")
SUB_BOARD = sentence("device.sub_board", "breakers", "parts")
RATIO, RATIO_AT_LEAST = (sentence(f"device.{each}", "primary_a", "secondary_a") for each in ("ratio", "ratio_at_least"))


@dataclass(frozen=True, slots=True)
class FaceDetail:
    """What is known of a face beside its number of modules; each is None where it is not.

    `segments` has for each row the modules of each of its segments, which adjoin without a gap. `grid` is the modules' size on
    the face where a layout tells it, `corners` their lower left corners [m]. `unit_spacing_m` is the trunk from unit to unit.
    """

    segments: tuple[tuple[int, ...], ...] | None = None
    area_m2: float | None = None
    orientation: Orientation | None = None
    grid: Grid | None = None
    unit_spacing_m: float | None = None
    corners: tuple[Point, ...] | None = None


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
    return FaceRows(segments, grid, orientation, detail.segments is None, detail.orientation is None, detail.corners)


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


def ordered_spacing_m(
    detail: FaceDetail, module_count: int, modules_per_unit: int, size: ModuleSize, parts: PartChoices
) -> float:
    """Trunk from one unit to the next as it is ordered for the rows of a face without a spacing of its own [m]."""
    rows = face_rows(detail, module_count, size, parts.mounting)
    return parts.trunk.spacing_m(rows.orientation, round(modules_per_unit * rows.module_pitch_m, LENGTH_DIGITS))


@dataclass(frozen=True, slots=True)
class BillLine:
    """One line to order. `belongs_to` is the face's or circuit's name, None for the system as a whole.

    `specification` is what a price book names the part by; `detail` says the same in words, where it has any.
    """

    role: str
    quantity: int
    unit: Unit
    specification: str | None
    scope: Scope
    belongs_to: str | None
    derivation: Words
    detail: Words | None = None


@dataclass(frozen=True, slots=True)
class PartNames:
    """Names of module and microinverter; None where they are not known."""

    module: str | None = None
    unit: str | None = None


NO_NAMES = PartNames()


@dataclass(frozen=True, slots=True)
class Plan:
    """All inputs of the lines; `rows`, `units` and `unit_spacings_m` (trunk from unit to unit) for each face."""

    request: CircuitsRequest
    details: tuple[FaceDetail, ...]
    rows: tuple[FaceRows, ...]
    units: tuple[tuple[PlacedUnit, ...], ...]
    unit_spacings_m: tuple[float, ...]
    input_wiring: InputWiring
    choices: PartChoices
    built: AcSide
    spares: Spares
    backup: Backup
    names: PartNames

    def cable(self, name: CableName, circuit: str | None = None) -> CableCheck | None:
        """The check of a cable, of one circuit or of the system; None where the system has no such cable."""
        of_circuit = (check for check in self.built.cables if circuit is None or circuit in check.circuits)
        return next((check for check in of_circuit if check.cable == name), None)

    def cores(self, run: CableRun | None, size: str, phases: int) -> Part:
        """A cable for a number of phases: lines, neutral and earth, as single wires in a conduit.

        A split phase has its neutral in the supply cable alone: units on both lines are assumed to need none.
        """
        lines = phases * self.choices.rules.lines_per_phase
        with_neutral = not self.choices.rules.is_split_phase or (run is not None and run.name == "supply cable")
        single_wires = run is not None and run.installation.method.name == "conduit_on_wall"
        count = lines + with_neutral + 1
        named = "L" if lines == 1 else tuple(f"L{line}" for line in range(1, lines + 1))
        in_words = CORES[with_neutral, single_wires](count=count, size=size, lines=named)
        return f"{count} x {size}" + (", single wires" if single_wires else ""), in_words

    def metres(self, length_m: float) -> int:
        """Whole metres of cable to order, with the allowance."""
        return ceil(length_m * (1.0 + self.choices.cable_allowance_share) - ROUNDING)

    def place(self, face: str) -> int:
        """Index of a face."""
        return next(index for index, each in enumerate(self.request.faces) if each.name == face)

    def drops(self, face: str) -> Drops:
        """The trunk's drops on a face."""
        place = self.place(face)
        return self.choices.trunk.drops(self.rows[place].orientation, self.unit_spacings_m[place])

    def trunk_steps(self, circuit: BranchCircuit) -> Iterator[tuple[str, tuple[Step, ...]]]:
        """Each face of a circuit, with the trunk to each of the circuit's units on it, from the one before."""
        steps: list[Step] = []
        for face in (part.name for part in circuit.units_by_face):
            place, drops = self.place(face), self.drops(face)
            given_m, crossing_m = self.details[place].unit_spacing_m, self.request.face_crossing_m
            units = [unit for unit in self.units[place] if unit.circuit == circuit.name]
            # The section of the first unit leads to the junction box.
            steps = [drops.step(crossing_m) if steps else Step(self.unit_spacings_m[place], 1, extended=False)]
            for one, other in pairwise(units):
                beside, in_row = one.segment == other.segment, one.segment[0] == other.segment[0]
                length_m = given_m if given_m is not None and beside else dist(one.place, other.place)
                steps.append(drops.step(length_m, over_a_gap=in_row and not beside))
            yield face, tuple(steps)

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
    for face, units, rows in zip(request.faces, plan.units, plan.rows, strict=True):
        line = _line_of("face", face.name)
        why = UNITS(modules=face.module_count, on_each=request.modules_per_unit)
        yield line("module", face.module_count, MODULES, plan.names.module)
        yield line("microinverter", len(units), why, plan.names.unit)
        yield from _mounting_lines(plan.choices.mounting, rows, len(units), line)
        yield from _dc_lines(plan, rows, units, line)


def unit_spacing_m(units: Sequence[PlacedUnit], *, alone_m: float) -> float:
    """Trunk from one unit of a face to the next [m]: the longest within a segment, else from row to row; `alone_m` for one.

    Units next to each other are what a drop spacing is chosen for; the ends of rows need a piece without drops.
    """
    pairs = [*pairwise(units)]
    beside = [dist(one.place, other.place) for one, other in pairs if one.segment == other.segment]
    over_rows = [dist(one.place, other.place) for one, other in pairs if one.segment[0] != other.segment[0]]
    return max(beside or over_rows, default=alone_m)


def _line_of(scope: Scope, belongs_to: str | None) -> Line:
    def line(
        role: str,
        quantity: int,
        why: Words,
        specification: str | None = None,
        detail: Words | None = None,
        unit: Unit = "piece",
    ) -> BillLine:
        return BillLine(role, quantity, unit, specification, scope, belongs_to, why, detail)

    return line


def _mounting_lines(mounting: MountingSystem, rows: FaceRows, units: int, line: Line) -> Iterator[BillLine]:
    """What holds the modules of a face, and bonds them."""
    segments, lines, attachment = rows.segment_counts, mounting.lines_per_row, mounting.attachment
    modules, in_words = sum(segments), rows.in_words()
    lengths = [mounting.run_length_m(count, rows.grid) for count in segments]
    metres = tuple(RUN(length_m=length) for length in dict.fromkeys(round(length, 2) for length in lengths))
    if mounting.rails_per_row:
        runs = [length for length in lengths for _ in range(lines)]
        splices = sum(mounting.pieces(length) - 1 for length in runs)
        why = (RAILS_WITH_OFFCUTS if mounting.offcuts_reused else RAILS)(rows=in_words, runs=len(runs), lengths=metres)
        made_m = mounting.rail_length_m
        yield line("rail", mounting.rails_to_order(runs), why, f"{made_m:.4g} m", LENGTH(length_m=made_m))
        yield line("rail_splice", splices, SPLICES(rows=in_words, lengths=metres))
        yield line("rail_end_cap", 2 * len(runs), RAIL_ENDS(runs=len(runs)))
    attachments = lines * sum(map(mounting.attachments, lengths))
    why = ATTACHMENTS(
        lines=lines * len(lengths),
        lengths=metres,
        spacing_m=attachment.spacing_max_m,
        cantilever_m=attachment.cantilever_max_m,
    )
    kind: Part = attachment.kind, ATTACHMENT_KINDS[attachment.kind]
    yield line("roof_attachment", attachments, why, *kind)
    screw: Part = (
        f"{attachment.screw} for {attachment.kind}",
        SCREW(screw=SCREW_KINDS[attachment.screw], attachment=ATTACHMENT_KINDS[attachment.kind]),
    )
    flashing: Part = f"for {attachment.kind}", OF_ATTACHMENT(attachment=ATTACHMENT_KINDS[attachment.kind])
    for role, count, part in (
        ("attachment_screw", attachment.screws, screw), ("flashing", attachment.flashings, flashing),
    ):  # fmt: skip
        yield line(role, count * attachments, FOR_EACH_ATTACHMENT(count=count), *part)
    height_mm = mounting.frame_height_mm
    frame = () if height_mm is None else (f"frame of {height_mm:g} mm", FRAME(height_mm=height_mm))
    yield line("end_clamp", 2 * lines * len(segments), END_CLAMPS(rows=in_words, count=2 * lines), *frame)
    yield line("mid_clamp", lines * (modules - len(segments)), MID_CLAMPS(rows=in_words, count=lines), *frame)
    fixings, clips = mounting.unit_fixings_per_unit, mounting.cable_clips_per_module
    yield line("unit_fixing", fixings * units, MORE_FOR_EACH_UNIT(count=fixings))
    if mounting.bonding_jumpers == "module":
        yield line("bonding_jumper", modules, FOR_EACH_MODULE)
    elif mounting.bonding_jumpers == "rail":
        yield line("bonding_jumper", max(0, mounting.rails_per_row - 1) * len(segments), RAIL_JUMPERS(rows=in_words))
    if mounting.earth_lugs != "none":
        yield line("earth_lug", earth_lugs(mounting, rows), LUG_FOR_EACH[mounting.earth_lugs](rows=in_words))
    yield line("cable_clip", clips * modules, MORE_FOR_EACH_MODULE(count=clips))


def earth_lugs(mounting: MountingSystem, rows: FaceRows) -> int:
    """Lugs that the bonding conductor goes to on a face."""
    return {"segment": len(rows.segment_counts), "row": len(rows.segments), "none": 0}[mounting.earth_lugs]


def _dc_lines(plan: Plan, rows: FaceRows, units: Sequence[PlacedUnit], line: Line) -> Iterator[BillLine]:
    """What connects the modules of a face with their units."""
    per_unit, per_input = plan.request.modules_per_unit, plan.input_wiring.modules_per_input
    modules, inputs = sum(rows.segment_counts), per_unit // per_input
    lead_m = plan.choices.mounting.module_lead_length_m
    missing_m = missing_leads_m(rows, units, lead_m)
    longest_m = ceil(10.0 * max(missing_m, default=0.0) - ROUNDING) / 10.0
    length: Part = f"at least {longest_m:g} m", LENGTH_AT_LEAST(length_m=longest_m)
    yield line("dc_extension_leads", len(missing_m), EXTENSION_LEADS(length_m=lead_m), *length)
    full, rest = divmod(modules, per_unit)
    filled = full * inputs + ceil(rest / per_input)
    if plan.input_wiring.wiring == "parallel":
        yield line("dc_branch_connectors", modules - filled, FURTHER_IN_PARALLEL)
    why = INPUT_CAPS(units=len(units), inputs=inputs, filled=filled)
    yield line("dc_input_cap", len(units) * inputs - filled, why)


def _circuit_lines(plan: Plan) -> Iterator[BillLine]:
    request, choices = plan.request, plan.choices
    wiring = request.wiring
    caps = 2 if wiring.trunk_feed == "centre" else 1
    breaker = plan.device("branch_breaker")
    of_breaker = () if breaker is None else (breaker.specification(), breaker.in_words())
    for number, (circuit, rise) in enumerate(zip(plan.built.circuits, plan.built.rises, strict=True), 1):
        line = _line_of("circuit", circuit.name)
        yield from _trunk_lines(plan, circuit, line)
        yield line("trunk_end_cap", caps, FED_AT[wiring.trunk_feed])
        yield line("junction_box", 1, JUNCTION)
        yield line("roof_cable_entry", choices.mounting.roof_entries_per_circuit, ROOF_ENTRY)
        home_run = plan.cable("home run", circuit.name)
        if home_run is not None and home_run.size_to_order is not None:
            metres = plan.metres(wiring.home_run_length_m)
            cable = plan.cores(wiring.home_run, home_run.size_to_order, len(circuit.phases))
            yield line("home_run_cable", metres, _why(home_run, rise.explanation), *cable, unit="m")
        yield line("branch_circuit_protective_device", 1, _device_derivation(request, circuit), *of_breaker)
        yield line("circuit_label", 1, CIRCUIT_LABEL, circuit.name, CIRCUIT(number=number))


def _trunk_lines(plan: Plan, circuit: BranchCircuit, line: Line) -> Iterator[BillLine]:
    """The trunk of a circuit over all its faces."""
    choices = plan.choices
    system, trunk = choices.trunk, plan.cable("trunk", circuit.name)
    size = None if trunk is None else trunk.size_to_order
    # A trunk is a cable of its own, however it lies.
    cable = None if size is None else plan.cores(None, size, len(circuit.phases))
    by_face = dict(plan.trunk_steps(circuit))
    steps = [step for of_face in by_face.values() for step in of_face]
    spare_drops = choices.spare_drops_per_circuit
    if system.sold_by_length:
        if cable is not None:
            length_m = sum(step.length_m for step in steps)
            yield line("trunk_cable", plan.metres(length_m), _why(trunk, TRUNK_LENGTH), *cable, unit="m")
        yield line("trunk_connector", circuit.unit_count + spare_drops, CONNECTORS)
        yield line("trunk_drop_cap", spare_drops, FOR_EACH_SPARE_DROP)
        return
    sections: dict[Part, list[Step]] = {}
    for face, of_face in by_face.items():
        if cable is not None:
            section = _section(cable, plan.drops(face), plan.rows[plan.place(face)].orientation)
            sections.setdefault(section, []).extend(of_face)
    for section, of_section in sections.items():
        quantity = sum(step.sections for step in of_section)
        more = quantity - len(of_section)
        longest_m = round(max((step.length_m for step in of_section if not step.extended), default=0.0), 2)
        why = SECTIONS(spacing_m=longest_m, further=(MORE_SECTIONS(count=more),) if more else ())
        yield line("trunk_cable_section", quantity, _why(trunk, why), *section)
    if sections:
        yield line("trunk_spare_drop", spare_drops, SPARE_DROPS, *next(iter(sections)))
    yield line("trunk_drop_cap", spare_drops + sum(step.sections - 1 for step in steps), FOR_EACH_UNUSED_DROP)
    extended = Counter(round(step.length_m, 2) for step in steps if step.extended)
    extensions = EXTENSIONS(lengths=tuple(EXTENSION(count=count, length_m=length) for length, count in extended.items()))
    yield line("trunk_joint", JOINTS_OF_EXTENSION * extended.total(), JOINTS(extensions=extensions))
    if cable is not None:
        length_m = sum(step.length_m for step in steps if step.extended)
        yield line("trunk_extension_cable", plan.metres(length_m), extensions, *cable, unit="m")


def _section(cable: Part, drops: Drops, orientation: Orientation) -> Part:
    """A section of trunk: its cable, drop spacing, and how the modules lie."""
    specification, in_words = cable
    detail = TRUNK_SECTION(cable=in_words, spacing_m=drops.spacing_m, orientation=ORIENTATIONS[orientation])
    return f"{specification}, drops every {drops.spacing_m:.4g} m, {orientation}", detail


def _system_lines(plan: Plan) -> Iterator[BillLine]:
    line = _line_of("system", None)
    yield from _board_lines(plan, line)
    yield from _bonding_conductor(plan, line)
    yield from _measuring_lines(plan, line)
    for part in plan.backup.parts:
        yield line(part.role, 1, part.reason)
    for label in plan.choices.rules.labels:
        text = label.text_for(plan.highest_a, plan.request.wiring.voltage_v)
        yield line("system_label", label.count, LABEL(where=label.where, source=label.source), text)
    yield line("disconnect_tool", plan.choices.trunk.disconnect_tools, TOOL)
    yield line("microinverter_spare", plan.spares.spare_count, plan.spares.derivation, plan.names.unit)
    rules, connection = plan.request.rules, plan.built.connection
    for document in rules.documents:
        yield line("commissioning_document", 1, rules.documents_source, str(document), document)
    for filing in connection.filings:
        due = DUE(route=connection.route, when=filing.when)
        yield line("network_operator_document", 1, due, str(filing.document), filing.document)


def _board_lines(plan: Plan, line: Line) -> Iterator[BillLine]:
    """Sub-board, devices and cables that the whole system shares, and the surge protection."""
    wiring, surge = plan.request.wiring, plan.choices.rules.surge_protection
    if plan.device("pv_main_breaker") is not None:
        yield line("sub_board", 1, FOR_BREAKERS, *_sub_board(plan))
    for device_role, role in DEVICE_ROLES.items():
        device = plan.device(device_role)
        if device is not None:
            yield line(role, device.quantity, device.protects, device.specification(), device.in_words())
    system = plan.cable("system cable")
    if system is not None and system.size_to_order is not None:
        metres = plan.metres(wiring.system_cable_length_m)
        cable = plan.cores(wiring.system_cable, system.size_to_order, plan.request.phase_count)
        yield line("system_cable", metres, system.explanation, *cable, unit="m")
    supply = plan.cable("supply cable")
    # A supply cable whose size is given is there already: it is on the bill where it must be replaced.
    if supply is not None and supply.size_to_order is not None and (wiring.supply.size is None or not supply.meets):
        metres = plan.metres(wiring.supply_length_m)
        cable = plan.cores(wiring.supply, supply.size_to_order, plan.request.phase_count)
        yield line("supply_cable", metres, supply.explanation, *cable, unit="m")
    if surge.asked:
        poles = plan.line_conductors + 1
        why = AT_THE_BOARD(source=surge.source)
        yield line("surge_protective_device", 1, why, f"AC, type 2, {poles} poles", SURGE(poles=poles))


def _measuring_lines(plan: Plan, line: Line) -> Iterator[BillLine]:
    """Meter, gateways and current transformers."""
    request, choices, highest = plan.request, plan.choices, plan.highest_a
    if choices.rules.generation_meter.asked:
        phases = PHASES[request.phase_count]
        detail = METER(phases=PHASE_NAMES[phases], current_a=highest)
        why = choices.rules.generation_meter.source
        yield line("generation_meter", 1, why, f"{phases}, at least {highest:.4g} A", detail)
    unit_count = sum(circuit.unit_count for circuit in plan.built.circuits)
    gateways = ceil(unit_count / choices.gateway_units_max)
    yield line("communication_gateway", gateways, GATEWAYS(units=unit_count, most=choices.gateway_units_max))
    ratio = _ratio(highest, choices.transformer_secondary_a)
    yield line("current_transformer_production", request.phase_count, TRANSFORMER(current_a=highest), *ratio)
    main = request.supply.board.main_device_a
    if main is None:
        yield line("current_transformer_grid", plan.line_conductors, GRID_TRANSFORMER_UNKNOWN)
    else:
        most = max(highest, main)
        ratio = _ratio(most, choices.transformer_secondary_a)
        yield line("current_transformer_grid", plan.line_conductors, GRID_TRANSFORMER(current_a=most), *ratio)


def _bonding_conductor(plan: Plan, line: Line) -> Iterator[BillLine]:
    """The conductor from lug to lug, from face to face, and down to the board beside the home run."""
    mounting, request, rules = plan.choices.mounting, plan.request, plan.choices.rules
    if mounting.earth_lugs == "none":
        return
    on_faces_m = sum((earth_lugs(mounting, rows) - 1) * rows.row_pitch_m for rows in plan.rows)
    crossings_m = (len(plan.rows) - 1) * request.face_crossing_m
    down_m = request.wiring.home_run_length_m
    why = BONDING(on_faces_m=on_faces_m, crossings_m=crossings_m, down_m=down_m, source=rules.bonding_source)
    metres = plan.metres(on_faces_m + crossings_m + down_m)
    yield line("bonding_conductor", metres, why, rules.bonding_size, unit="m")


DEVICE_ROLES = {
    "pv_main_breaker": "system_circuit_breaker",
    "residual_current_device": "residual_current_device",
    "isolator": "ac_isolator",
}
"""Roles of the devices that the whole system shares."""


def _why(cable: CableCheck | None, otherwise: Words) -> Words:
    """Why a conductor is on the bill: its check, where that changed it."""
    return otherwise if cable is None or cable.meets else IN_PLACE_OF(size=cable.size, check=cable.explanation)


def _sub_board(plan: Plan) -> Part:
    """What a sub-board must take: its devices with their poles, and its current."""
    devices = [device for device in plan.built.devices if device.role in ("branch_breaker", "pv_main_breaker")]
    poles = sum(device.quantity * device.poles for device in devices)
    main = devices[-1].rating_a
    count = sum(device.quantity for device in devices)
    specification = f"{count} circuit breakers, {poles} poles" + (f", {main:g} A" if main else "")
    rating = () if main is None else (RATING(value=main),)
    return specification, SUB_BOARD(breakers=count, parts=(POLES(value=poles), *rating))


def _device_derivation(request: CircuitsRequest, circuit: BranchCircuit) -> Sentence:
    factor = request.branch_rules.continuous_current_factor
    return DEVICE(
        rating_a=circuit.device_rating_a,
        units=circuit.unit_count,
        unit_a=request.unit_ac_current_a,
        current_a=circuit.current_a,
        factor=factor,
        design_a=circuit.current_a * factor,
    )


def _ratio(current_a: float, secondary_a: float) -> Part:
    """The ratio of a current transformer that is made for a current [A]."""
    primary = _first_at_least(current_a, TRANSFORMER_PRIMARIES_A)
    if primary is None:
        in_words = RATIO_AT_LEAST(primary_a=current_a, secondary_a=secondary_a)
        return f"at least {current_a:.4g} A to {secondary_a:g} A", in_words
    return f"{primary:g} A to {secondary_a:g} A", RATIO(primary_a=primary, secondary_a=secondary_a)


def _first_at_least(needed: float, ratings: Sequence[float]) -> float | None:
    return next((rating for rating in sorted(ratings) if rating >= needed * (1.0 - ROUNDING)), None)

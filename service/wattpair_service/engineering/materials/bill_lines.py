"""The lines of a bill: each part with its quantity, the derivation of that, and the face or circuit it belongs to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Literal

from wattpair_service.engineering.circuits.branch_circuits import BranchCircuit
from wattpair_service.engineering.circuits.cable_checks import CableCheck
from wattpair_service.engineering.circuits.circuits import AcSide, CircuitsRequest
from wattpair_service.engineering.circuits.devices import POLES, RATING, Device
from wattpair_service.engineering.materials.backup import Backup
from wattpair_service.engineering.materials.spares import Spares
from wattpair_service.engineering.rounding import ROUNDING
from wattpair_service.engineering.sentences import Given, Sentence, Words, family, fixed, sentence

Scope = Literal["face", "circuit", "system"]
Unit = Literal["piece", "m"]

TRANSFORMER_PRIMARIES_A = (10, 15, 20, 25, 30, 40, 50, 60, 75, 100, 150, 200, 250, 300, 400, 500, 600, 800, 1000, 2000)
"""Rated primary currents of current transformers [A], after IEC 61869-2, from memory."""
RAILS_PER_ROW = 2
CLAMPS_PER_RAIL_END = 2

ROLES = (
    "module", "microinverter", "mounting_set", "rail", "end_clamp", "mid_clamp", "trunk_joint", "trunk_cable_section",
    "trunk_spare_drop", "trunk_drop_cap", "trunk_end_cap", "junction_box", "home_run_cable", "branch_circuit_protective_device",
    "circuit_label", "sub_board", "system_circuit_breaker", "residual_current_device", "system_cable", "supply_cable",
    "ac_isolator", "communication_gateway", "current_transformer_production", "current_transformer_grid",
    "backup_isolating_device", "backup_controller", "backup_label", "grid_forming_source", "system_label",
    "microinverter_spare", "commissioning_document", "network_operator_document",
)  # fmt: skip
"""Every role that a line may have."""
DOCUMENT_ROLES = ("commissioning_document", "network_operator_document")
"""Roles of documents, which are not bought."""
ROLE_NAMES = family("role", ROLES)

MODULES, FOR_EACH_MODULE, FOR_EACH_UNIT, SPARE_DROPS, FOR_EACH_SPARE_DROP, CROSSING, JUNCTION, CIRCUIT_LABEL, FOR_BREAKERS = (
    fixed(f"why.{each}")
    for each in (
        *("modules", "for_each_module", "for_each_unit", "spare_drops", "for_each_spare_drop", "crossing", "junction"),
        *("circuit_label", "for_breakers"),
    )
)
UNITS = sentence("why.units", "modules", "on_each")
ROWS = sentence("why.rows", "rows", "modules")
RAILS = sentence("why.rails", "rows", "length_m")
SEGMENTS = sentence("why.segments", "rows", "segments")
END_CLAMPS, MID_CLAMPS = (sentence(f"why.{each}_clamps", "segments") for each in ("end", "mid"))
JOINTS = sentence("why.joints", "rows", "trunks")
FED_AT = {feed: fixed(f"why.fed_at_{feed}") for feed in ("end", "centre")}
GATEWAYS = sentence("why.gateways", "units", "most")
TRANSFORMER, TRANSFORMER_UNKNOWN = sentence("why.transformer", "current_a"), fixed("why.transformer_unknown")
SYSTEM_LABEL = fixed("why.system_label")
DUE = sentence("why.due", "route", "when")
IN_PLACE_OF = sentence("why.in_place_of", "size", "check")
DEVICE = sentence("why.device", "rating_a", "units", "unit_a", "current_a", "factor", "design_a")
SUB_BOARD = sentence("device.sub_board", "breakers", "parts")
RATIO, RATIO_AT_LEAST = (sentence(f"device.{each}", "primary_a", "secondary_a") for each in ("ratio", "ratio_at_least"))


@dataclass(frozen=True, slots=True)
class FaceDetail:
    """Modules and segments in each row of a face where its layout is known, and its area [m2]."""

    row_module_counts: tuple[int, ...] | None
    area_m2: float | None
    row_segment_counts: tuple[int, ...] | None = None

    @property
    def segment_count(self) -> int:
        """Segments of modules without a gap; one for each row where their number is unknown."""
        return sum(self.row_segment_counts or (1,) * len(self.row_module_counts or ()))


@dataclass(frozen=True, slots=True)
class PartChoices:
    """Choices of parts that counts do not decide. Currents in A."""

    gateway_units_max: int
    spare_drops_per_circuit: int
    transformer_secondary_a: float
    no_dc_fault_current_declared: bool


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
class Plan:
    """All inputs of the lines."""

    request: CircuitsRequest
    details: tuple[FaceDetail, ...]
    choices: PartChoices
    built: AcSide
    spares: Spares
    backup: Backup

    def cable(self, name: str, circuit: str | None = None) -> CableCheck | None:
        """The check of a cable, of one circuit or of the system; None where the system has no such cable."""
        of_circuit = (check for check in self.built.cables if circuit is None or circuit in check.circuits)
        return next((check for check in of_circuit if check.cable == name), None)

    def device(self, role: str) -> Device | None:
        """The devices of a role; None where the system has none."""
        return next((device for device in self.built.devices if device.role == role), None)


def bill_lines(plan: Plan) -> tuple[BillLine, ...]:
    """Every line with a quantity above 0: faces, then circuits, then the system; always in the same order."""
    lines = (*_face_lines(plan), *_circuit_lines(plan), *_system_lines(plan))
    return tuple(line for line in lines if line.quantity > 0)


def _face_lines(plan: Plan) -> Iterator[BillLine]:
    request = plan.request
    for face, units, detail in zip(request.faces, request.face_units(), plan.details, strict=True):

        def line(role: str, quantity: int, why: Words, unit: Unit = "piece", name: str = face.name) -> BillLine:
            return BillLine(role, quantity, unit, None, "face", name, why)

        yield line("module", face.module_count, MODULES)
        yield line("microinverter", units.unit_count, UNITS(modules=face.module_count, on_each=request.modules_per_unit))
        rows = detail.row_module_counts
        if rows is None:
            yield line("mounting_set", face.module_count, FOR_EACH_MODULE)
            continue
        in_rows = ROWS(rows=len(rows), modules=tuple(map(str, rows)))
        length_m = RAILS_PER_ROW * sum(rows) * face.unit_spacing_m
        yield line("rail", ceil(length_m - ROUNDING), RAILS(rows=in_rows, length_m=face.unit_spacing_m), "m")
        segments = detail.segment_count
        in_segments = SEGMENTS(rows=in_rows, segments=segments)
        yield line("end_clamp", RAILS_PER_ROW * CLAMPS_PER_RAIL_END * segments, END_CLAMPS(segments=in_segments))
        yield line("mid_clamp", RAILS_PER_ROW * (sum(rows) - segments), MID_CLAMPS(segments=in_segments))
        trunks = sum(any(part.name == face.name for part in circuit.units_by_face) for circuit in plan.built.circuits)
        joints = max(0, len(rows) - trunks)
        yield line("trunk_joint", joints, JOINTS(rows=len(rows), trunks=trunks))


def _circuit_lines(plan: Plan) -> Iterator[BillLine]:
    request, choices = plan.request, plan.choices
    wiring = request.wiring
    caps = 2 if wiring.trunk_feed == "centre" else 1
    breaker = plan.device("branch_breaker")
    for circuit, rise in zip(plan.built.circuits, plan.built.rises, strict=True):
        trunk, home_run = plan.cable("trunk", circuit.name), plan.cable("home run", circuit.name)
        trunk_size = None if trunk is None else trunk.size_to_order

        def line(
            role: str,
            quantity: int,
            why: Words,
            specification: str | None = None,
            unit: Unit = "piece",
            name: str = circuit.name,
        ) -> BillLine:
            return BillLine(role, quantity, unit, specification, "circuit", name, why)

        spare_drops = choices.spare_drops_per_circuit
        if trunk_size is not None:
            yield line("trunk_cable_section", circuit.unit_count, _why(trunk, FOR_EACH_UNIT), trunk_size)
            yield line("trunk_spare_drop", spare_drops, SPARE_DROPS, trunk_size)
        yield line("trunk_drop_cap", spare_drops, FOR_EACH_SPARE_DROP)
        yield line("trunk_end_cap", caps, FED_AT[wiring.trunk_feed])
        crossings = len(circuit.units_by_face) - 1
        yield line("trunk_joint", crossings, CROSSING)
        yield line("junction_box", 1, JUNCTION)
        metres = ceil(wiring.home_run_length_m - ROUNDING)
        if home_run is not None and home_run.size_to_order is not None:
            yield line("home_run_cable", metres, _why(home_run, rise.explanation), home_run.size_to_order, "m")
        role, why = "branch_circuit_protective_device", _device_derivation(request, circuit)
        yield line(role, 1, why) if breaker is None else _device_line(role, breaker, why, circuit.name)
        yield line("circuit_label", 1, CIRCUIT_LABEL)


def _system_lines(plan: Plan) -> Iterator[BillLine]:
    request, choices = plan.request, plan.choices
    unit_count = sum(circuit.unit_count for circuit in plan.built.circuits)
    connection = plan.built.connection

    def line(role: str, quantity: int, why: Words) -> BillLine:
        return BillLine(role, quantity, "piece", None, "system", None, why)

    if plan.device("pv_main_breaker") is not None:
        yield _sub_board(plan)
    for device_role, role in DEVICE_ROLES.items():
        device = plan.device(device_role)
        if device is not None:
            yield _device_line(role, device, device.protects)
    wiring = request.wiring
    system = plan.cable("system cable")
    if system is not None and system.size_to_order is not None:
        metres = ceil(wiring.system_cable_length_m - ROUNDING)
        yield BillLine("system_cable", metres, "m", system.size_to_order, "system", None, system.explanation)
    supply = plan.cable("supply cable")
    # A supply cable whose size is given is there already: it is on the bill where it must be replaced.
    if supply is not None and supply.size_to_order is not None and (wiring.supply.size is None or not supply.meets):
        metres = ceil(wiring.supply_length_m - ROUNDING)
        yield BillLine("supply_cable", metres, "m", supply.size_to_order, "system", None, supply.explanation)
    gateways = ceil(unit_count / choices.gateway_units_max)
    yield line("communication_gateway", gateways, GATEWAYS(units=unit_count, most=choices.gateway_units_max))
    highest = max(phase.current_a - phase.existing_a for phase in connection.phases)
    count, secondary_a, main = request.phase_count, choices.transformer_secondary_a, request.supply.board.main_device_a
    yield _transformer("current_transformer_production", count, highest, secondary_a)
    yield _transformer("current_transformer_grid", count, main and max(highest, main), secondary_a)
    for part in plan.backup.parts:
        yield line(part.role, 1, part.reason)
    yield line("system_label", 1, SYSTEM_LABEL)
    yield line("microinverter_spare", plan.spares.spare_count, plan.spares.derivation)
    for document in request.rules.documents:
        yield _document("commissioning_document", document, request.rules.documents_source)
    for filing in connection.filings:
        due = DUE(route=connection.route, when=filing.when)
        yield _document("network_operator_document", filing.document, due)


DEVICE_ROLES = {
    "pv_main_breaker": "system_circuit_breaker",
    "residual_current_device": "residual_current_device",
    "isolator": "ac_isolator",
}
"""Roles of the devices that the whole system shares."""


def _why(cable: CableCheck | None, otherwise: Words) -> Words:
    """Why a conductor is on the bill: its check, where that changed it."""
    return otherwise if cable is None or cable.meets else IN_PLACE_OF(size=cable.size, check=cable.explanation)


def _device_line(role: str, device: Device, why: Words, circuit: str | None = None) -> BillLine:
    """One device of a circuit, or the devices of the system."""
    scope: Scope = "system" if circuit is None else "circuit"
    quantity = device.quantity if circuit is None else 1
    return BillLine(role, quantity, "piece", device.specification(), scope, circuit, why, device.in_words())


def _document(role: str, document: Given, why: Words) -> BillLine:
    return BillLine(role, 1, "piece", str(document), "system", None, why, document)


def _sub_board(plan: Plan) -> BillLine:
    """What a sub-board must take: its devices with their poles, and its current."""
    devices = [device for device in plan.built.devices if device.role in ("branch_breaker", "pv_main_breaker")]
    poles = sum(device.quantity * device.poles for device in devices)
    main = devices[-1].rating_a
    count = sum(device.quantity for device in devices)
    specification = f"{count} circuit breakers, {poles} poles" + (f", {main:g} A" if main else "")
    rating = () if main is None else (RATING(value=main),)
    detail = SUB_BOARD(breakers=count, parts=(POLES(value=poles), *rating))
    return BillLine("sub_board", 1, "piece", specification, "system", None, FOR_BREAKERS, detail)


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


def _transformer(role: str, count: int, current_a: float | None, secondary_a: float) -> BillLine:
    """Current transformers for a current [A], with the ratio that is made for it; without one where it is not known."""
    if current_a is None:
        return BillLine(role, count, "piece", None, "system", None, TRANSFORMER_UNKNOWN)
    primary = _first_at_least(current_a, TRANSFORMER_PRIMARIES_A)
    if primary is None:
        ratio = f"at least {current_a:.4g} A to {secondary_a:g} A"
        detail = RATIO_AT_LEAST(primary_a=current_a, secondary_a=secondary_a)
    else:
        ratio, detail = f"{primary:g} A to {secondary_a:g} A", RATIO(primary_a=primary, secondary_a=secondary_a)
    return BillLine(role, count, "piece", ratio, "system", None, TRANSFORMER(current_a=current_a), detail)


def _first_at_least(needed: float, ratings: Sequence[float]) -> float | None:
    return next((rating for rating in sorted(ratings) if rating >= needed * (1.0 - ROUNDING)), None)

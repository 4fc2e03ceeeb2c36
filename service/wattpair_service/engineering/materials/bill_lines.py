"""The lines of a bill: each part with its quantity, the derivation of that, and the face or circuit it belongs to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Literal

from wattpair_service.engineering.circuits.branch_circuits import BranchCircuit
from wattpair_service.engineering.circuits.cable_checks import CableCheck
from wattpair_service.engineering.circuits.circuits import AcSide, CircuitsRequest
from wattpair_service.engineering.circuits.devices import Device
from wattpair_service.engineering.materials.backup import Backup
from wattpair_service.engineering.materials.spares import Spares
from wattpair_service.engineering.rounding import ROUNDING

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

        def line(role: str, quantity: int, why: str, unit: Unit = "piece", name: str = face.name) -> BillLine:
            return BillLine(role, quantity, unit, None, "face", name, why)

        yield line("module", face.module_count, "the modules of the face")
        yield line("microinverter", units.unit_count, f"{face.module_count} modules, {request.modules_per_unit} on each unit")
        rows = detail.row_module_counts
        if rows is None:
            yield line("mounting_set", face.module_count, "one for each module")
            continue
        rows_text = f"{len(rows)} rows of {', '.join(map(str, rows))} modules"
        length_m = RAILS_PER_ROW * sum(rows) * face.unit_spacing_m
        yield line(
            "rail", ceil(length_m - ROUNDING), f"{rows_text}, two rails of {face.unit_spacing_m:g} m for each module", "m"
        )
        segments = detail.segment_count
        segments_text = f"{rows_text} in {segments} segments without a gap"
        yield line("end_clamp", RAILS_PER_ROW * CLAMPS_PER_RAIL_END * segments, f"{segments_text}, four for each segment")
        yield line("mid_clamp", RAILS_PER_ROW * (sum(rows) - segments), f"{segments_text}, two between neighbours")
        trunks = sum(any(part.name == face.name for part in circuit.units_by_face) for circuit in plan.built.circuits)
        joints = max(0, len(rows) - trunks)
        yield line("trunk_joint", joints, f"{len(rows)} rows on {trunks} trunks: one where a trunk continues in the next row")


def _circuit_lines(plan: Plan) -> Iterator[BillLine]:
    request, choices = plan.request, plan.choices
    wiring = request.wiring
    caps = 2 if wiring.trunk_feed == "centre" else 1
    breaker = plan.device("branch_breaker")
    for circuit, rise in zip(plan.built.circuits, plan.built.rises, strict=True):
        trunk, home_run = plan.cable("trunk", circuit.name), plan.cable("home run", circuit.name)
        trunk_size = None if trunk is None else trunk.size_to_order

        def line(
            role: str, quantity: int, why: str, specification: str | None = None, unit: Unit = "piece", name: str = circuit.name
        ) -> BillLine:
            return BillLine(role, quantity, unit, specification, "circuit", name, why)

        spare_drops = choices.spare_drops_per_circuit
        if trunk_size is not None:
            yield line("trunk_cable_section", circuit.unit_count, _why(trunk, "one for each microinverter"), trunk_size)
            yield line("trunk_spare_drop", spare_drops, "spare drops as requested", trunk_size)
        yield line("trunk_drop_cap", spare_drops, "one for each spare drop")
        yield line("trunk_end_cap", caps, f"trunk fed at its {wiring.trunk_feed}")
        crossings = len(circuit.units_by_face) - 1
        yield line("trunk_joint", crossings, "one where the trunk crosses from one face to the next")
        yield line("junction_box", 1, "where the trunk meets its home run")
        metres = ceil(wiring.home_run_length_m - ROUNDING)
        if home_run is not None and home_run.size_to_order is not None:
            yield line("home_run_cable", metres, _why(home_run, rise.explanation), home_run.size_to_order, "m")
        specification = None if breaker is None else breaker.in_words()
        yield line("branch_circuit_protective_device", 1, _device_derivation(request, circuit), specification)
        yield line("circuit_label", 1, "one at the overcurrent device, with the circuit's name")


def _system_lines(plan: Plan) -> Iterator[BillLine]:
    request, choices = plan.request, plan.choices
    unit_count = sum(circuit.unit_count for circuit in plan.built.circuits)
    connection = plan.built.connection

    def line(role: str, quantity: int, why: str, specification: str | None = None) -> BillLine:
        return BillLine(role, quantity, "piece", specification, "system", None, why)

    if plan.device("pv_main_breaker") is not None:
        yield line("sub_board", 1, "for the circuit breakers of the circuits and that of the system", _sub_board(plan))
    for device_role, role in DEVICE_ROLES.items():
        device = plan.device(device_role)
        if device is not None:
            yield line(role, device.quantity, device.protects, device.in_words())
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
    yield line("communication_gateway", gateways, f"{unit_count} microinverters, up to {choices.gateway_units_max} on each")
    highest = max(phase.current_a - phase.existing_a for phase in connection.phases)
    ratio = _ratio(highest, choices.transformer_secondary_a)
    yield line("current_transformer_production", request.phase_count, f"one for each phase, up to {highest:.4g} A", ratio)
    main = request.supply.board.main_device_a
    of_grid = None if main is None else _ratio(max(highest, main), choices.transformer_secondary_a)
    why = "one for each phase" + (f", up to {max(highest, main):.4g} A" if main else "; give main_device_a for its ratio")
    yield line("current_transformer_grid", request.phase_count, why, of_grid)
    for part in plan.backup.parts:
        yield line(part.role, 1, part.reason)
    yield line("system_label", 1, "one set at the supply and the isolator: two sources, isolate both")
    yield line("microinverter_spare", plan.spares.spare_count, plan.spares.derivation)
    for document in request.rules.documents:
        yield line("commissioning_document", 1, request.rules.documents_source, document)
    for filing in connection.filings:
        yield line("network_operator_document", 1, f"{connection.route}: {filing.when}", filing.document)


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

"""The parts to order for a roof, their dead load, and their prices by the caller's price book."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from wattpair_service.engineering import cautions, methods
from wattpair_service.engineering.cautions import Caution, caution
from wattpair_service.engineering.circuits.branch_circuits import BranchCircuit, rule_in_words
from wattpair_service.engineering.circuits.cable_checks import CableCheck
from wattpair_service.engineering.circuits.circuits import AcSide, CircuitsRequest, ac_side, cable_cautions
from wattpair_service.engineering.circuits.devices import Device
from wattpair_service.engineering.circuits.grid_connection import Connection
from wattpair_service.engineering.equipment import InputWiring
from wattpair_service.engineering.inverter.electrical_checks import Verdict
from wattpair_service.engineering.materials.backup import Backup, BackupWish, backup
from wattpair_service.engineering.materials.bill_lines import (
    DOCUMENT_ROLES,
    NO_NAMES,
    BillLine,
    FaceDetail,
    ModuleSize,
    PartChoices,
    PartNames,
    Plan,
    bill_lines,
    face_rows,
    unit_spacing_m,
)
from wattpair_service.engineering.materials.material_rules import MaterialRules
from wattpair_service.engineering.materials.mounting import ORIENTATION_SOURCE, ROWS_SOURCE, FaceRows
from wattpair_service.engineering.materials.placed_units import PlacedUnit, placed_units
from wattpair_service.engineering.materials.spares import SparePolicy, Spares, spares
from wattpair_service.engineering.money.prices import PriceBook, Prices, priced
from wattpair_service.engineering.results import Assumption, Result
from wattpair_service.engineering.roof.dead_load import FaceMass, PartMasses, face_mass
from wattpair_service.engineering.sentences import Sentence, family, fixed

NO_NEUTRAL = fixed("source.no_neutral")
family("name", ("neutral_for_units",))
NO_HOME_RUN = caution("no_home_run", "electrician", "order")
NOT_ORDERED = caution("cable_not_ordered", "electrician", "order")
MISSING_PRICES = caution("missing_prices", "office", "order")
FIXINGS = caution("fixings", "electrician", "order")
BALLAST = caution("ballast", "electrician", "order")
TOO_HEAVY = caution("too_heavy", "electrician", "roof")


@dataclass(frozen=True, slots=True)
class Order:
    """All inputs of a bill; `details` in the order of the faces."""

    circuits: CircuitsRequest
    details: tuple[FaceDetail, ...]
    module_size: ModuleSize
    input_wiring: InputWiring
    choices: PartChoices
    spares: SparePolicy
    backup: BackupWish
    masses: PartMasses
    price_book: PriceBook | None
    names: PartNames


@dataclass(frozen=True, slots=True)
class MaterialTerms:
    """Inputs of parts and masses other than circuits, module and microinverter; masses in kg."""

    choices: PartChoices
    spares: SparePolicy
    backup: BackupWish
    unit_bracket_kg: float
    mounting_per_module_kg: float
    guide_kg_m2: float

    def order(
        self,
        circuits: CircuitsRequest,
        details: tuple[FaceDetail, ...],
        *,
        module_size: ModuleSize,
        input_wiring: InputWiring,
        module_mass_kg: float,
        module_area_m2: float | None,
        unit_mass_kg: float,
        price_book: PriceBook | None,
        names: PartNames = NO_NAMES,
    ) -> Order:
        """The order for circuits with one kind of module and microinverter."""
        masses = PartMasses(
            module_kg=module_mass_kg,
            unit_kg=unit_mass_kg,
            unit_bracket_kg=self.unit_bracket_kg,
            mounting_per_module_kg=self.mounting_per_module_kg,
            module_area_m2=module_area_m2,
            guide_kg_m2=self.guide_kg_m2,
        )
        return Order(
            circuits, details, module_size, input_wiring, self.choices, self.spares, self.backup, masses, price_book, names
        )


@dataclass(frozen=True, slots=True, eq=False)
class BillOfMaterials(Result):
    """Lines in the order of installation, the circuits, masses and prices.

    `placed_units` has the microinverters of each face, as far as its rows are known.
    """

    lines: tuple[BillLine, ...]
    placed_units: tuple[tuple[PlacedUnit, ...], ...]
    verdict: Verdict
    circuits: tuple[BranchCircuit, ...]
    cables: tuple[CableCheck, ...]
    devices: tuple[Device, ...]
    circuit_rule: Sentence
    unit_count: int
    masses: tuple[FaceMass, ...]
    mass_total_kg: float
    dead_load_guide_kg_m2: float
    spares: Spares
    backup: Backup
    connection: Connection
    prices: Prices | None


def bill_of_materials(order: Order, built: AcSide | None = None) -> BillOfMaterials:
    """Lines, circuits, masses and prices of an order.

    Quantities are whole and never negative; the units over all circuits equal the units of all faces. `built` is the AC side
    of the order's circuits where it is known.

    Raises
    ------
    EngineeringError
        As `circuits.circuits`.
    """
    declared = order.choices.no_dc_fault_current_declared
    need = replace(order.circuits.residual_current, is_declared_free_of_dc=declared)
    request = replace(order.circuits, residual_current=need)
    built = built or ac_side(request)
    unit_count = sum(circuit.unit_count for circuit in built.circuits)
    rows = tuple(
        face_rows(detail, face.module_count, order.module_size, order.choices.mounting)
        for face, detail in zip(request.faces, order.details, strict=True)
    )
    units = tuple(
        placed_units(
            face.name,
            each,
            built.circuits,
            modules_per_unit=request.modules_per_unit,
            modules_per_input=order.input_wiring.modules_per_input,
            unit_phase_count=request.unit_phase_count,
        )
        for face, each in zip(request.faces, rows, strict=True)
    )
    plan = Plan(
        request=request,
        details=order.details,
        rows=rows,
        units=units,
        unit_spacings_m=tuple(
            detail.unit_spacing_m or unit_spacing_m(placed, alone_m=request.modules_per_unit * each.module_pitch_m)
            for detail, each, placed in zip(order.details, rows, units, strict=True)
        ),
        input_wiring=order.input_wiring,
        choices=order.choices,
        built=built,
        spares=spares(unit_count, order.spares),
        backup=backup(order.backup),
        names=order.names,
    )
    lines = bill_lines(plan)
    masses = tuple(
        face_mass(
            face.name, module_count=face.module_count, unit_count=units.unit_count, area_m2=detail.area_m2, masses=order.masses
        )
        for face, units, detail in zip(request.faces, request.face_units(), order.details, strict=True)
    )
    prices = None if order.price_book is None else priced(lines, order.price_book, DOCUMENT_ROLES)
    return BillOfMaterials(
        lines=lines,
        placed_units=units,
        verdict=built.verdict,
        circuits=built.circuits,
        cables=built.cables,
        devices=built.devices,
        circuit_rule=rule_in_words(request.split_request()),
        unit_count=unit_count,
        masses=masses,
        mass_total_kg=sum(mass.mass_kg for mass in masses),
        dead_load_guide_kg_m2=order.masses.guide_kg_m2,
        spares=plan.spares,
        backup=plan.backup,
        connection=built.connection,
        prices=prices,
        assumptions=tuple(_assumptions(rows, order.choices.rules)),
        cautions=(*cautions.ORDER_CAUTIONS, FIXINGS, *_further_cautions(plan, masses, prices)),
        method=(
            methods.COUNTING,
            methods.CABLE_PROTECTION,
            methods.VOLTAGE_RISE,
            methods.CONNECTION_ROUTE,
            methods.SPARES,
            methods.DEAD_LOAD,
            *(() if prices is None else (methods.PRICES,)),
        ),
    )


def _assumptions(faces: tuple[FaceRows, ...], rules: MaterialRules) -> Iterator[Assumption]:
    """Rows and orientation of faces of which they were not given, and cables without a neutral."""
    for counts in dict.fromkeys(rows.row_counts for rows in faces if rows.is_assumed):
        yield Assumption("faces.row_module_counts", list(counts), None, ROWS_SOURCE)
    for orientation in dict.fromkeys(rows.orientation for rows in faces if rows.is_orientation_assumed):
        yield Assumption("faces.module_orientation", orientation, None, ORIENTATION_SOURCE)
    if rules.is_split_phase:
        yield Assumption("neutral_for_units", False, None, NO_NEUTRAL)


def _further_cautions(plan: Plan, masses: tuple[FaceMass, ...], prices: Prices | None) -> tuple[Caution, ...]:
    """Cautions that depend on this bill."""
    possible = (
        (plan.request.wiring.home_run_length_m == 0.0, NO_HOME_RUN),
        (any(cable.size_to_order is None for cable in plan.built.cables), NOT_ORDERED),
        (plan.choices.mounting.covering == "flat", BALLAST),
        (any(mass.within_guide is False for mass in masses), TOO_HEAVY),
        (prices is not None and not prices.complete, MISSING_PRICES),
    )
    return (*cable_cautions(plan.request, plan.built), *(caution for applies, caution in possible if applies))

"""What has to be ordered, from counts.

Each line says how its quantity came about and which face or circuit it belongs to. Neglected here: cable cross-sections,
voltage rise, fixings by length of rail, and units that serve modules of two faces.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor
from typing import Literal

from wattpair_service.engineering import findings
from wattpair_service.engineering.errors import EngineeringError

Scope = Literal["face", "circuit", "system"]


@dataclass(frozen=True, slots=True)
class BranchCircuitRules:
    """What a code asks of an AC branch circuit. The rated output current times the factor must not exceed the device."""

    device_rating_a: float
    continuous_current_factor: float
    source: str


@dataclass(frozen=True, slots=True)
class FaceCount:
    """Modules on one face."""

    name: str
    module_count: int


@dataclass(frozen=True, slots=True)
class Order:
    """Everything that the counts depend on. Masses in kg; shares 0 to 1."""

    faces: tuple[FaceCount, ...]
    phase_count: int
    unit_ac_current_a: float
    modules_per_unit: int
    rules: BranchCircuitRules
    units_per_trunk_max: int | None
    trunk_feed: str
    gateway_units_max: int
    spare_share: float
    module_mass_kg: float
    unit_mass_kg: float
    mounting_mass_per_module_kg: float


@dataclass(frozen=True, slots=True)
class BranchCircuit:
    """One AC circuit of units on one face behind one protective device."""

    name: str
    face: str
    unit_count: int
    phase: int
    current_a: float
    device_rating_a: float


@dataclass(frozen=True, slots=True)
class BillLine:
    """One line to order. `belongs_to` is the face's or circuit's name, None for the system as a whole."""

    role: str
    quantity: int
    scope: Scope
    belongs_to: str | None
    derivation: str


@dataclass(frozen=True, slots=True)
class FaceMass:
    """What a face's modules, units and mounting weigh [kg]."""

    face: str
    mass_kg: float


@dataclass(frozen=True, slots=True, eq=False)
class BillOfMaterials(findings.Result):
    """Lines in the order of installation, the circuits behind them, and masses."""

    lines: tuple[BillLine, ...]
    circuits: tuple[BranchCircuit, ...]
    circuit_rule: str
    unit_count: int
    masses: tuple[FaceMass, ...]
    mass_total_kg: float


def units_per_circuit(order: Order) -> int:
    """Most units that one branch circuit may carry: by its device, and by its trunk cable where a limit is given.

    Raises
    ------
    EngineeringError
        Not even one unit fits on the device.
    """
    # Rounding must not cost a unit that fits exactly.
    by_device = floor(order.rules.device_rating_a / order.rules.continuous_current_factor / order.unit_ac_current_a + 1e-9)
    if by_device < 1:
        raise EngineeringError(
            f"one microinverter of {order.unit_ac_current_a:g} A times {order.rules.continuous_current_factor:g} exceeds the "
            f"protective device of {order.rules.device_rating_a:g} A; a larger device is needed",
            ("unit_ac_current_a",),
        )
    return by_device if order.units_per_trunk_max is None else min(by_device, order.units_per_trunk_max)


def bill_of_materials(order: Order) -> BillOfMaterials:
    """Lines, circuits and masses of an order.

    Quantities are whole and never negative; the units over all circuits equal the units of all faces.
    """
    circuits = _circuits(order)
    unit_count = sum(circuit.unit_count for circuit in circuits)
    masses = tuple(FaceMass(face.name, _face_mass_kg(order, face)) for face in order.faces)
    return BillOfMaterials(
        lines=tuple(line for line in _lines(order, circuits, unit_count) if line.quantity > 0),
        circuits=circuits,
        circuit_rule=(
            f"at most {units_per_circuit(order)} units of {order.unit_ac_current_a:.3g} A: current times "
            f"{order.rules.continuous_current_factor:g} within a device of {order.rules.device_rating_a:g} A"
            + ("" if order.units_per_trunk_max is None else f", and at most {order.units_per_trunk_max} on a trunk")
            + f" ({order.rules.source})"
        ),
        unit_count=unit_count,
        masses=masses,
        mass_total_kg=sum(mass.mass_kg for mass in masses),
        cautions=(*findings.ORDER_CAUTIONS, *((findings.TRUNK_LIMIT,) if order.units_per_trunk_max is None else ())),
        method=(findings.COUNTING,),
    )


def _face_units(order: Order, face: FaceCount) -> int:
    return ceil(face.module_count / order.modules_per_unit)


def _face_mass_kg(order: Order, face: FaceCount) -> float:
    per_module = order.module_mass_kg + order.mounting_mass_per_module_kg
    return face.module_count * per_module + _face_units(order, face) * order.unit_mass_kg


def _circuits(order: Order) -> tuple[BranchCircuit, ...]:
    """Fewest circuits on each face, as even as whole units allow, each on the phase with the fewest units so far."""
    most = units_per_circuit(order)
    load = [0] * order.phase_count
    circuits: list[BranchCircuit] = []
    for face in order.faces:
        units = _face_units(order, face)
        count = ceil(units / most)
        for index in range(count):
            share = units // count + (index < units % count)
            phase = load.index(min(load))
            load[phase] += share
            circuits.append(
                BranchCircuit(
                    name=f"circuit {len(circuits) + 1}",
                    face=face.name,
                    unit_count=share,
                    phase=phase + 1,
                    current_a=share * order.unit_ac_current_a,
                    device_rating_a=order.rules.device_rating_a,
                )
            )
    return tuple(circuits)


def _lines(order: Order, circuits: tuple[BranchCircuit, ...], unit_count: int) -> Iterator[BillLine]:
    for face in order.faces:
        units = _face_units(order, face)
        yield BillLine("module", face.module_count, "face", face.name, "as given for the face")
        on_each = f"{face.module_count} modules, {order.modules_per_unit} on each unit"
        yield BillLine("microinverter", units, "face", face.name, on_each)
        yield BillLine("mounting_set", face.module_count, "face", face.name, "one for each module")
    caps = 2 if order.trunk_feed == "centre" else 1
    for circuit in circuits:
        yield BillLine("trunk_cable_section", circuit.unit_count, "circuit", circuit.name, "one for each microinverter")
        yield BillLine("trunk_end_cap", caps, "circuit", circuit.name, f"trunk fed at its {order.trunk_feed}")
        yield BillLine("branch_circuit_protective_device", 1, "circuit", circuit.name, _device_derivation(order, circuit))
    yield BillLine("ac_isolator", 1, "system", None, "one for the whole system, at the supply")
    yield BillLine(
        "communication_gateway",
        ceil(unit_count / order.gateway_units_max),
        "system",
        None,
        f"{unit_count} microinverters, up to {order.gateway_units_max} on each",
    )
    yield BillLine("current_transformer_production", order.phase_count, "system", None, "one for each phase")
    yield BillLine("current_transformer_grid", order.phase_count, "system", None, "one for each phase")
    yield BillLine(
        "microinverter_spare",
        ceil(unit_count * order.spare_share - 1e-9),
        "system",
        None,
        f"{order.spare_share * 100:g} % of {unit_count}, rounded up",
    )


def _device_derivation(order: Order, circuit: BranchCircuit) -> str:
    factor = order.rules.continuous_current_factor
    return (
        f"{circuit.device_rating_a:g} A: {circuit.unit_count} x {order.unit_ac_current_a:.3g} A = {circuit.current_a:.3g} A, "
        f"times {factor:g} is {circuit.current_a * factor:.3g} A"
    )

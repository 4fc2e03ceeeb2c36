"""The whole system with each candidate: its circuits, its bill, and what the ranking counts of them beside modules and units.

Circuits depend on the microinverter and the number of modules alone: each candidate is planned once for all modules. Its bill
depends on the module's size too: there is one for each pairing.

Parts without a price: a role counts only where each of its lines has a price for every pairing that may come first: one that
passes its electrical checks and can be built. A part that lacks its price for one of them would make that one look cheaper; so
it counts for none, and the result names its role. A part that only another pairing lacks is left out of that one alone.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from wattpair_service.engineering.cautions import Caution, caution_form
from wattpair_service.engineering.circuits import grid_connection
from wattpair_service.engineering.circuits.cable_checks import CABLES
from wattpair_service.engineering.circuits.circuits import AcSide, CircuitFace, CircuitsRequest, ac_side
from wattpair_service.engineering.circuits.unit_on_circuits import circuit_current_a, why_unsuited
from wattpair_service.engineering.design.prices import MODULE, UNIT_ROLES
from wattpair_service.engineering.design.request import CountedFace, DesignRequest
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.materials.bill_lines import DOCUMENT_ROLES, ROLE_NAMES, ModuleSize, PartNames
from wattpair_service.engineering.materials.bill_of_materials import BillOfMaterials, bill_of_materials
from wattpair_service.engineering.materials.spares import SparePolicy
from wattpair_service.engineering.selection.request import ModuleOffer, Obstacle, SystemTerms, UnitOffer
from wattpair_service.engineering.sentences import sentence

UNPRICED_DIFFER = caution_form("unpriced_differ", "seller", "estimate", "roles")
CHECKS_FAIL = sentence("unsuited.checks_fail", "checks")
SAID = sentence("unsuited.said", "message")

COUNTED_APART = (MODULE, *UNIT_ROLES, *DOCUMENT_ROLES)
"""Roles outside the balance of plant. Spare units are for the replacements, which the ranking counts by expected failures."""


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """Circuits of one candidate, and its bill with each module, by the module's name."""

    circuits: CircuitsRequest
    ac_side: AcSide
    bills: Mapping[str, BillOfMaterials]


def plans(request: DesignRequest, faces: tuple[CountedFace, ...], units: Sequence[UnitOffer]) -> dict[str, Plan | Obstacle]:
    """Each candidate's plan, or why its circuits are not possible, by its name.

    Raises
    ------
    EngineeringError
        No candidate can be planned, or not the one that the request names, for a reason other than the candidate itself.
    """
    found: dict[str, Plan | Obstacle] = {}
    errors: dict[str, EngineeringError] = {}
    for unit in units:
        name, supply = unit.microinverter.name, request.circuits.supply
        reason = why_unsuited(unit.microinverter, supply.voltage_v, request.circuits.branch_rules, request.circuits.phase_count)
        try:
            found[name] = _plan(request, faces, unit) if reason is None else Obstacle("unsuited", reason)
        except EngineeringError as error:
            errors[name], found[name] = error, Obstacle("unsuited", SAID(message=error.message))
    named = request.wish.microinverter
    if errors and (named in errors or all(isinstance(each, Obstacle) for each in found.values())):
        raise errors[named] if named in errors else next(iter(errors.values()))
    return found


def circuit_faces(request: DesignRequest, faces: tuple[CountedFace, ...], modules_per_unit: int) -> tuple[CircuitFace, ...]:
    """The faces for the circuits, with the first module of the request."""
    size = module_size(request.selection.modules[0])
    return tuple(each.circuit_face(modules_per_unit, size, request.materials.choices) for each in faces)


def module_size(offer: ModuleOffer) -> ModuleSize:
    """The size of a module on offer."""
    return ModuleSize(offer.module.length_m, offer.module.width_m)


def _plan(request: DesignRequest, faces: tuple[CountedFace, ...], unit: UnitOffer) -> Plan:
    microinverter = unit.microinverter
    modules_per_unit = microinverter.module_capacity(request.selection.input_wiring)
    declared = request.materials.choices.no_dc_fault_current_declared
    need = replace(request.circuits.residual_current, is_declared_free_of_dc=declared)
    circuits = replace(request.circuits, residual_current=need).request_for(
        circuit_faces(request, faces, modules_per_unit),
        unit_ac_current_a=circuit_current_a(microinverter, request.circuits.supply.voltage_v),
        modules_per_unit=modules_per_unit,
        unit_phase_count=microinverter.ac_phase_count,
    )
    try:
        built = ac_side(circuits)
    except EngineeringError as error:
        paths = tuple(each if each == "faces" else f"circuits/{each}" for each in error.fields)
        raise EngineeringError(error.message, paths) from error
    modules = request.selection.modules
    return Plan(circuits, built, {each.module.name: _bill(request, faces, each, unit, circuits, built) for each in modules})


def _bill(
    request: DesignRequest,
    faces: tuple[CountedFace, ...],
    module: ModuleOffer,
    unit: UnitOffer,
    circuits: CircuitsRequest,
    built: AcSide,
) -> BillOfMaterials:
    """The bill of a pairing with its circuits."""
    order = replace(request.materials, spares=spare_policy(request, unit)).order(
        circuits,
        tuple(each.detail for each in faces),
        module_size=module_size(module),
        input_wiring=request.selection.input_wiring,
        module_mass_kg=module.module.mass_kg,
        module_area_m2=module.module.area_m2,
        unit_mass_kg=unit.microinverter.mass_kg,
        price_book=request.price_book,
        names=PartNames(module.module.name, unit.microinverter.name),
    )
    return bill_of_materials(order, built)


def spare_policy(request: DesignRequest, unit: UnitOffer) -> SparePolicy:
    """The spare policy, with the failure rate, horizon and warranty of the ranking where it has none of its own."""
    rate, horizon = request.selection.failure_rate(unit), request.selection.terms.horizon_years
    return request.materials.spares.with_defaults(rate, horizon, unit.warranty_years)


Pairing = tuple[str, str]
"""Names of module and microinverter."""


@dataclass(frozen=True, slots=True)
class Unpriced:
    """Parts without a price in the bills of the pairings that may come first.

    `differing` are those of the `roles` whose parts are not the same in each bill: their prices may turn the order. `is_all`
    says that no part of the balance of plant has a price.
    """

    roles: tuple[str, ...]
    differing: tuple[str, ...]
    is_all: bool

    @classmethod
    def of(cls, request: DesignRequest, planned: Mapping[str, Plan | Obstacle], passing: Collection[Pairing]) -> Unpriced:
        """Of the pairings that pass their electrical checks and can be built; without one of those that pass, else of all."""
        own = {unit.microinverter.name: unit.system.obstacle for unit in request.selection.units}
        planned_alone = {unit: plan for unit, plan in planned.items() if isinstance(plan, Plan)}
        bills = {(module, unit): bill for unit, plan in planned_alone.items() for module, bill in plan.bills.items()}
        passed = {pairing: bill for pairing, bill in bills.items() if pairing in passing}
        buildable = {unit for unit, plan in planned_alone.items() if not (own[unit] or _failing(plan.ac_side))}
        first = [bill for (_, unit), bill in passed.items() if unit in buildable]
        compared = first or list((passed or bills).values())
        roles = tuple(dict.fromkeys(role for each in compared for role, net in _lines(each) if net is None))
        return cls(
            roles,
            tuple(role for role in roles if len({_needed(each, role) for each in compared}) > 1),
            all(role in roles for each in compared for role, _ in _lines(each)),
        )

    def cautions(self) -> Iterator[Caution]:
        """A caution where parts without a price differ; those that all pairings need alike cannot turn the order."""
        if self.differing:
            yield UNPRICED_DIFFER(roles=tuple(ROLE_NAMES[role] for role in self.differing))


def systems(request: DesignRequest, planned: Mapping[str, Plan | Obstacle], unpriced: Unpriced) -> dict[Pairing, SystemTerms]:
    """What the plan of each pairing says of the whole system; what the request says of it itself stays.

    Raises
    ------
    EngineeringError
        The request gives the cost of a connection procedure that the region does not have.
    """
    costs = dict(_connection_costs(request))
    return {
        (module.module.name, unit.microinverter.name): _system(
            unit.system, planned[unit.microinverter.name], module.module.name, unpriced, costs
        )
        for module in request.selection.modules
        for unit in request.selection.units
    }


def _connection_costs(request: DesignRequest) -> Iterator[tuple[str, float]]:
    procedures = [route.code for route in request.circuits.rules.routes]
    for index, (procedure, cost) in enumerate(request.connection_costs):
        if procedure not in procedures:
            known = ", ".join(f'"{each}"' for each in procedures)
            text = f"one of the region's procedures, each once: {known}"
            raise EngineeringError(text, (f"connection_costs/{index}/procedure",))
        procedures.remove(procedure)
        yield procedure, cost


def _lines(bill: BillOfMaterials) -> Iterator[tuple[str, Decimal | None]]:
    """Role and net price of each line of the balance of plant."""
    if bill.prices is not None:
        for line, price in zip(bill.lines, bill.prices.lines, strict=True):
            if line.role not in COUNTED_APART:
                yield line.role, price.net


def _needed(bill: BillOfMaterials, role: str) -> tuple[tuple[str, int], ...]:
    """Specification and quantity of each line of a role."""
    return tuple(sorted((line.specification or "", line.quantity) for line in bill.lines if line.role == role))


def _system(
    own: SystemTerms, plan: Plan | Obstacle, module: str, unpriced: Unpriced, connection_costs: Mapping[str, float]
) -> SystemTerms:
    """What the request says of the system, and where it says nothing what the plan does; without a plan there is no system."""
    if isinstance(plan, Obstacle):
        return replace(own, obstacle=plan)
    connection, lines = plan.ac_side.connection, tuple(_lines(plan.bills[module]))
    route = next(each for each in connection.routes if each.applies)
    left_out = tuple(dict.fromkeys((*unpriced.roles, *(role for role, net in lines if net is None))))
    counted = [net for role, net in lines if net is not None and role not in left_out]
    terms = SystemTerms(
        balance_of_plant=None if unpriced.is_all else float(sum(counted, Decimal(0))),
        unpriced_roles=() if unpriced.is_all else left_out,
        differing_roles=unpriced.differing,
        rated_cable_share=plan.ac_side.rated_loss_share,
        connection_procedure=connection.route,
        needs_agreement=not route.asks_nobody,
        connection_cost=connection_costs.get(connection.route_code),
        obstacle=_failing(plan.ac_side),
    )
    names = [
        name
        for name in ("connection_cost", "rated_cable_share", "obstacle", "connection_procedure", "balance_of_plant")
        if getattr(own, name) is not None
    ]
    names += [beside for name, besides in BESIDE.items() if name in names for beside in besides]
    return replace(terms, **{name: getattr(own, name) for name in names})


BESIDE = {
    "connection_procedure": ("needs_agreement",),
    "balance_of_plant": ("unpriced_roles", "differing_roles"),
}
"""What goes with a figure of the request's own."""


def _failing(built: AcSide) -> Obstacle | None:
    """The checks of cables, devices and connection that fail."""
    if built.verdict != "fail":
        return None
    names = [
        *(CABLES[cable.cable] for cable in built.cables if cable.meets is False),
        *(grid_connection.CHECKS[check.name] for check in built.connection.checks if check.verdict == "fail"),
    ]
    return Obstacle("fails", CHECKS_FAIL(checks=tuple(dict.fromkeys(names))))

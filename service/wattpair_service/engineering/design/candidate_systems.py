"""The whole system with each candidate: its circuits, its bill, and what the ranking counts of them beside modules and units.

All of it depends on the microinverter and the number of modules alone, so each candidate is planned once for all modules.

Parts without a price: a role counts only where each of its lines has a price for every candidate that needs it. A part that
lacks its price for one candidate would make that one look cheaper; so it counts for none, and the result names its role.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from wattpair_service.engineering.cautions import Caution, caution_form
from wattpair_service.engineering.circuits import grid_connection
from wattpair_service.engineering.circuits.cable_checks import CABLES
from wattpair_service.engineering.circuits.circuits import AcSide, CircuitsRequest, ac_side
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
    """Circuits and bill of one candidate; the bill is with the first module of the request."""

    circuits: CircuitsRequest
    ac_side: AcSide
    bill: BillOfMaterials


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


def _plan(request: DesignRequest, faces: tuple[CountedFace, ...], unit: UnitOffer) -> Plan:
    microinverter = unit.microinverter
    modules_per_unit = microinverter.input_count * request.selection.input_wiring.modules_per_input
    declared = request.materials.choices.no_dc_fault_current_declared
    need = replace(request.circuits.residual_current, is_declared_free_of_dc=declared)
    circuits = replace(request.circuits, residual_current=need).request_for(
        tuple(each.circuit_face(modules_per_unit) for each in faces),
        unit_ac_current_a=circuit_current_a(microinverter, request.circuits.supply.voltage_v),
        modules_per_unit=modules_per_unit,
        unit_phase_count=microinverter.ac_phase_count,
    )
    try:
        built = ac_side(circuits)
    except EngineeringError as error:
        paths = tuple(each if each == "faces" else f"circuits/{each}" for each in error.fields)
        raise EngineeringError(error.message, paths) from error
    return Plan(circuits, built, bill(request, faces, request.selection.modules[0], unit, circuits, built))


def bill(
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
        module_size=ModuleSize(module.module.length_m, module.module.width_m),
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


def with_systems(
    request: DesignRequest, units: Sequence[UnitOffer], planned: Mapping[str, Plan | Obstacle]
) -> tuple[UnitOffer, ...]:
    """The candidates with what their plans say of the whole system; what the request says of it itself stays.

    Raises
    ------
    EngineeringError
        The request gives the cost of a connection procedure that the region does not have.
    """
    costs = dict(_connection_costs(request))
    bills = [each.bill for each in planned.values() if isinstance(each, Plan)]
    unpriced = tuple(dict.fromkeys(role for each in bills for role in _unpriced_roles(each)))
    return tuple(
        replace(unit, system=_system(unit.system, planned[unit.microinverter.name], unpriced, costs)) for unit in units
    )


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


def _unpriced_roles(bill: BillOfMaterials) -> Iterator[str]:
    return (role for role, net in _lines(bill) if net is None)


def unpriced_cautions(planned: Mapping[str, Plan | Obstacle]) -> Iterator[Caution]:
    """A caution where parts without a price differ between candidates; those that all need alike cannot turn the order."""
    bills = [each.bill for each in planned.values() if isinstance(each, Plan)]
    unpriced = dict.fromkeys(role for each in bills for role in _unpriced_roles(each))
    differing = [role for role in unpriced if len({_needed(each, role) for each in bills}) > 1]
    if differing:
        yield UNPRICED_DIFFER(roles=tuple(ROLE_NAMES[role] for role in differing))


def _needed(bill: BillOfMaterials, role: str) -> tuple[tuple[str, int], ...]:
    """Specification and quantity of each line of a role."""
    return tuple(sorted((line.specification or "", line.quantity) for line in bill.lines if line.role == role))


def _system(
    own: SystemTerms, plan: Plan | Obstacle, unpriced_roles: tuple[str, ...], connection_costs: Mapping[str, float]
) -> SystemTerms:
    """What the request says of the system, and where it says nothing what the plan does; without a plan there is no system."""
    if isinstance(plan, Obstacle):
        return replace(own, obstacle=plan)
    connection, counted = plan.ac_side.connection, [net for role, net in _lines(plan.bill) if role not in unpriced_roles]
    route = next(each for each in connection.routes if each.applies)
    terms = SystemTerms(
        balance_of_plant=None if plan.bill.prices is None else float(sum(filter(None, counted), Decimal(0))),
        unpriced_roles=unpriced_roles,
        rated_cable_share=plan.ac_side.rated_loss_share,
        connection_procedure=connection.route,
        needs_agreement=not route.asks_nobody,
        connection_cost=connection_costs.get(connection.route_code),
        obstacle=_failing(plan.ac_side),
    )
    if own.balance_of_plant is not None:
        terms = replace(terms, balance_of_plant=own.balance_of_plant, unpriced_roles=own.unpriced_roles)
    if own.connection_procedure is not None:
        terms = replace(terms, connection_procedure=own.connection_procedure, needs_agreement=own.needs_agreement)
    if own.connection_cost is not None:
        terms = replace(terms, connection_cost=own.connection_cost)
    if own.rated_cable_share is not None:
        terms = replace(terms, rated_cable_share=own.rated_cable_share)
    return replace(terms, obstacle=own.obstacle or terms.obstacle)


def _failing(built: AcSide) -> Obstacle | None:
    """The checks of cables, devices and connection that fail."""
    if built.verdict != "fail":
        return None
    names = [
        *(CABLES[cable.cable] for cable in built.cables if cable.meets is False),
        *(grid_connection.CHECKS[check.name] for check in built.connection.checks if check.meets is False),
    ]
    return Obstacle("fails", CHECKS_FAIL(checks=tuple(dict.fromkeys(names))))

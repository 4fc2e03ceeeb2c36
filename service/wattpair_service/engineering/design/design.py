"""The design of one roof: climate, layout, electrical checks, energy, selection, circuits and bill of materials.

Each part equals the result of its own function for the same input. Circuits and bill are for one kind of microinverter on one
kind of module; a mixed choice is only advice in the selection.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

from wattpair_service.engineering.circuits.circuits import CABLE_FAILS, CHECK_FAILS, CircuitsResult, CircuitTerms, circuits
from wattpair_service.engineering.circuits.unit_on_circuits import circuit_current_a, current_caution, why_unsuited
from wattpair_service.engineering.design.prices import (
    book_of,
    price_assumptions,
    price_cautions,
    ranked_offers,
    shared_price_cautions,
)
from wattpair_service.engineering.design.request import CountedFace, DesignRequest, Wish, counted
from wattpair_service.engineering.energy.clipping import ClippingRequest, ClippingResult, clipping
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.site_climate import SiteClimateRequest, SiteClimateResult, site_climate
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.inverter.electrical_checks import VERDICTS, ElectricalRules, Verdict, needs_site_record
from wattpair_service.engineering.inverter.sizing import SizingRequest, SizingResult, sizing
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.materials.bill_lines import ModuleSize
from wattpair_service.engineering.materials.bill_of_materials import BillOfMaterials, bill_of_materials
from wattpair_service.engineering.materials.spares import SparePolicy
from wattpair_service.engineering.money.replacements import BAND_CENTRE, BAND_CENTRE_SOURCE
from wattpair_service.engineering.results import Assumption, Result
from wattpair_service.engineering.roof.layout import LayoutRequest, LayoutResult
from wattpair_service.engineering.selection.candidates import Candidate
from wattpair_service.engineering.selection.request import ModuleOffer, SelectionRequest, UnitOffer
from wattpair_service.engineering.selection.selection import SelectionResult, selection
from wattpair_service.engineering.site import Site
from wattpair_service.engineering.site_year import SiteYear

T = TypeVar("T")
ResultT = TypeVar("ResultT", bound=Result)

GROUPS_FOR_BUILDING = ("circuits", "materials", "price_book")
"""Groups of a request whose defaults only circuits and bill use."""

SPARE_DEFAULTS = ("materials.failure_percent_per_year", "materials.spare_horizon_years", "materials.spare_warranty_years")
"""Fields whose defaults follow from the rest of the request; the design reports their values as assumptions."""

Basis = Literal["recommended", "named", "none_passes", "named_fails", "unsuited"]


@dataclass(frozen=True, slots=True)
class Pairing:
    """A module and a microinverter, by name."""

    module: str
    microinverter: str


@dataclass(frozen=True, slots=True)
class Built:
    """The pairing of circuits and bill, and the reason for it; `pairing` is None where none can be built."""

    basis: Basis
    pairing: Pairing | None
    sentence: str


@dataclass(frozen=True, slots=True, eq=False)
class FaceDesign:
    """One face with its module count; `outline` and `layout` are None where the request gave the count."""

    face: Face
    outline: LayoutRequest | None
    layout: LayoutResult | None


@dataclass(frozen=True, slots=True, eq=False)
class Design(Result):
    """All parts of a design.

    Assumptions, cautions and methods of all parts are collected here, each once; those of the parts are empty.

    Attributes
    ----------
    site : Site
        Where the building stands.
    currency : str or None
        Currency of every price; None where the request names none.
    request : SelectionRequest
        The selection: modules, candidates, faces with their counts, tariff and terms.
    verdict : Verdict or None
        The worse of the pairing's verdict and that of its circuits; None where nothing is built.
    built : Built
        The pairing of circuits and bill.
    module : ModuleOffer
        The module that is built or, where nothing is built, the first of the request; `climate` is for it.
    unit : UnitOffer or None
        The microinverter that is built; None where nothing is.
    climate : SiteClimateResult
        Irradiation and air temperature at the site, the module's power there, and each candidate's DC to AC ratio.
    faces : tuple of FaceDesign
        In the order of the request.
    sizing : tuple of SizingResult
        Each module with every candidate.
    clipping : ClippingResult or None
        `module` with every candidate that passes on it; None where none does.
    selection : SelectionResult
        The ranking and its details.
    circuits : CircuitsResult or None
        Circuits, voltage rise and grid connection; None where nothing is built.
    bill_of_materials : BillOfMaterials or None
        Parts, dead load and prices; None where nothing is built.
    """

    site: Site
    currency: str | None
    request: SelectionRequest
    verdict: Verdict | None
    built: Built
    module: ModuleOffer
    unit: UnitOffer | None
    climate: SiteClimateResult
    faces: tuple[FaceDesign, ...]
    sizing: tuple[SizingResult, ...]
    clipping: ClippingResult | None
    selection: SelectionResult
    circuits: CircuitsResult | None
    bill_of_materials: BillOfMaterials | None


def design(
    request: DesignRequest,
    rules: ElectricalRules,
    year: SiteYear,
) -> Design:
    """Compute every part of the design of a roof.

    Parameters
    ----------
    request : DesignRequest
        At least one face, module and candidate.
    rules : ElectricalRules
        The region's.
    year : SiteYear
        The site's.

    Raises
    ------
    EngineeringError
        As raised by the parts; its fields are paths within the request.
    """
    faces = tuple(counted(request.faces))
    compared = replace(request.selection, faces=tuple(each.face for each in faces))
    if request.price_book is not None:
        compared = ranked_offers(compared, request.price_book)
    cache = FaceCache(year, compared.transposition)
    selected = selection(compared, rules, year, cache=cache)
    built = built_pairing(request.wish, selected)
    names = built.pairing or request.wish
    module = next((each for each in compared.modules if each.module.name == names.module), compared.modules[0])
    unit = None
    if built.pairing is not None:
        unit = next(each for each in compared.units if each.microinverter.name == built.pairing.microinverter)
        built = _unless_unsuited(built, unit, request.circuits)
        unit = unit if built.pairing is not None else None
    climate = site_climate(
        SiteClimateRequest(
            compared.faces,
            module.module,
            tuple(each.microinverter for each in compared.units),
            compared.transposition,
            compared.input_wiring,
        ),
        year,
        cache=cache,
    )
    sizings = tuple(
        sizing(_sizing_request(compared, offer), rules, year.design_temperatures, year, cache=cache)
        for offer in compared.modules
    )
    clipping_request = _clipping_request(compared, module, selected)
    clipping_result = None if clipping_request is None else clipping(clipping_request, year, cache=cache)
    circuits_result, bill = (None, None) if unit is None else _circuits_and_bill(request, faces, module, unit)
    layouts = tuple(each.layout for each in faces if each.layout is not None)
    optional_parts = (climate, *layouts, *sizings, clipping_result, selected, circuits_result, bill)
    parts = [part for part in optional_parts if part is not None]
    own_assumptions = tuple(_assumptions(request, faces, unit))
    return Design(
        site=request.site,
        currency=request.currency,
        request=compared,
        built=built,
        module=module,
        unit=unit,
        climate=_without_notes(climate),
        faces=tuple(
            FaceDesign(each.face, each.requested.layout, each.layout and _without_notes(each.layout)) for each in faces
        ),
        sizing=tuple(_without_notes(each) for each in sizings),
        clipping=clipping_result and _without_notes(clipping_result),
        selection=_without_notes(selected),
        circuits=circuits_result and _without_notes(circuits_result),
        bill_of_materials=bill and _without_notes(bill),
        assumptions=_unique([*own_assumptions, *(each for part in parts for each in part.assumptions)]),
        verdict=_verdict(built, sizings, circuits_result),
        cautions=_unique(
            [*_failing(circuits_result), *_cautions(request, module, unit), *(each for part in parts for each in part.cautions)]
        ),
        method=_unique([each for part in parts for each in part.method]),
        unused=GROUPS_FOR_BUILDING if unit is None else SPARE_DEFAULTS,
    )


def _verdict(built: Built, sizings: Iterable[SizingResult], planned: CircuitsResult | None) -> Verdict | None:
    """The worse of the pairing's and its circuits' verdicts; None where nothing is built."""
    if built.pairing is None or planned is None:
        return None
    of_pairing = next(
        each.verdict
        for result in sizings
        if result.module == built.pairing.module
        for each in result.pairings
        if each.microinverter == built.pairing.microinverter
    )
    return max(of_pairing, planned.verdict, key=VERDICTS.index)


def _failing(planned: CircuitsResult | None) -> Iterator[str]:
    """What stands before all other cautions: that the circuits must not be built as they are."""
    return (each for each in (CABLE_FAILS, CHECK_FAILS) if planned is not None and each in planned.cautions)


def built_pairing(wish: Wish, selected: SelectionResult) -> Built:
    """The pairing to build: the best ranked of those that the request allows."""
    ranked = [each for each in selected.candidates if each.rank is not None]
    allowed = [each for each in ranked if _fits(each, wish)]
    if not ranked:
        return Built("none_passes", None, "Nothing is built: no candidate passes its electrical checks.")
    named = _pairing_name(wish.module, wish.microinverter)
    if not allowed:
        reason = "fails its checks"
        if any(needs_site_record(each.reasons) and each.verdict != "fail" for each in selected.candidates if _fits(each, wish)):
            reason = "must not be built before the site's own record low is given as site.temp_lowest_c"
        return Built("named_fails", None, f"Nothing is built: the request names {named}, which {reason}; see sizing.")
    best, first = (min(each, key=lambda candidate: candidate.rank or 0) for each in (ranked, allowed))
    pairing, name = Pairing(first.module, first.microinverter), _pairing_name(first.module, first.microinverter)
    mixed = next((each for each in selected.mixed_choices if each.module == first.module and each.worthwhile), None)
    advice = "" if mixed is None else " A second kind on some of the faces would be worth more: see selection.mixed_choices."
    if wish == Wish(None, None):
        return Built("recommended", pairing, f"{name}, as recommended.{advice}")
    both_named = None not in (wish.module, wish.microinverter)
    choice = "as named in the request" if both_named else f"of which the request names {named}"
    comparison = "also recommended" if first is best else f"{_pairing_name(best.module, best.microinverter)} is recommended"
    return Built("named", pairing, f"{name}, {choice}; {comparison}.{advice}")


def _unless_unsuited(built: Built, unit: UnitOffer, terms: CircuitTerms) -> Built:
    """The same or, where the unit does not suit the circuits, nothing to build and the reason."""
    reason = why_unsuited(unit.microinverter, terms.supply.voltage_v, terms.branch_rules, terms.phase_count)
    if built.pairing is None or reason is None:
        return built
    name = _pairing_name(built.pairing.module, built.pairing.microinverter)
    choice = "recommended" if built.basis == "recommended" else "named in the request"
    return Built("unsuited", None, f"Nothing is built: {name} is {choice}, but does not suit the circuits: {reason}.")


def _fits(candidate: Candidate, wish: Wish) -> bool:
    return wish.module in (None, candidate.module) and wish.microinverter in (None, candidate.microinverter)


def _pairing_name(module: str | None, microinverter: str | None) -> str:
    return " on ".join(name for name in (microinverter, module) if name is not None)


def _sizing_request(compared: SelectionRequest, offer: ModuleOffer) -> SizingRequest:
    """Every candidate on one module; the mountings are those of the faces."""
    return SizingRequest(
        module=offer.module,
        microinverters=tuple(each.microinverter for each in compared.units),
        mounting=compared.faces[0].mounting,
        input_wiring=compared.input_wiring,
        cold_voltage_by_table=False,
        faces=compared.faces,
        transposition=compared.transposition,
    )


def _clipping_request(compared: SelectionRequest, offer: ModuleOffer, selected: SelectionResult) -> ClippingRequest | None:
    """The candidates that pass on one module; None where none does."""
    passing = {each.microinverter for each in selected.candidates if each.module == offer.module.name and each.rank is not None}
    units = tuple(each.microinverter for each in compared.units if each.microinverter.name in passing)
    if not units:
        return None
    return ClippingRequest(
        module=offer.module,
        microinverters=units,
        faces=compared.faces,
        transposition=compared.transposition,
        input_wiring=compared.input_wiring,
        degradation_share_per_year=compared.terms.degradation_share_per_year,
    )


def _circuits_and_bill(
    request: DesignRequest, faces: tuple[CountedFace, ...], module: ModuleOffer, unit: UnitOffer
) -> tuple[CircuitsResult, BillOfMaterials]:
    microinverter = unit.microinverter
    modules_per_unit = microinverter.input_count * request.selection.input_wiring.modules_per_input
    declared = request.materials.choices.no_dc_fault_current_declared
    need = replace(request.circuits.residual_current, is_declared_free_of_dc=declared)
    circuits_request = replace(request.circuits, residual_current=need).request_for(
        tuple(each.circuit_face(modules_per_unit) for each in faces),
        unit_ac_current_a=circuit_current_a(microinverter, request.circuits.supply.voltage_v),
        modules_per_unit=modules_per_unit,
        unit_phase_count=microinverter.ac_phase_count,
    )
    order = replace(request.materials, spares=_spare_policy(request, unit)).order(
        circuits_request,
        tuple(each.detail for each in faces),
        module_size=ModuleSize(module.module.length_m, module.module.width_m),
        input_wiring=request.selection.input_wiring,
        module_mass_kg=module.module.mass_kg,
        module_area_m2=module.module.area_m2,
        unit_mass_kg=microinverter.mass_kg,
        price_book=request.price_book and book_of(request.price_book, module, unit),
    )
    try:
        return circuits(circuits_request), bill_of_materials(order)
    except EngineeringError as error:
        paths = tuple(each if each == "faces" else f"circuits/{each}" for each in error.fields)
        raise EngineeringError(str(error), paths) from error


def _spare_policy(request: DesignRequest, unit: UnitOffer) -> SparePolicy:
    """The spare policy, with the failure rate, horizon and warranty of the ranking where it has none of its own."""
    rate, horizon = request.selection.failure_rate(unit), request.selection.terms.horizon_years
    return request.materials.spares.with_defaults(rate, horizon, unit.warranty_years)


def _assumptions(request: DesignRequest, faces: tuple[CountedFace, ...], unit: UnitOffer | None) -> Iterator[Assumption]:
    """Prices of the ranking, rate and horizon of the spares, and unit spacings, where the request does not give them."""
    if request.price_book is not None:
        yield from price_assumptions(request.selection, request.price_book)
    if unit is None:
        return
    requested, policy = request.materials.spares, _spare_policy(request, unit)
    if requested.failure_share_per_year is None:
        rate = policy.failure_share_per_year
        source = BAND_CENTRE_SOURCE if rate is None else "that of the candidate or the request"
        yield Assumption(SPARE_DEFAULTS[0], (BAND_CENTRE if rate is None else rate) * 100.0, "%", source)
    if requested.horizon_years is None:
        yield Assumption(SPARE_DEFAULTS[1], policy.horizon_years, None, "horizon_years of the request")
    if requested.warranty_years is None:
        yield Assumption(SPARE_DEFAULTS[2], policy.warranty_years, None, "warranty_years of the candidate")
    modules = unit.microinverter.input_count * request.selection.input_wiring.modules_per_input
    for each in faces:
        if each.requested.unit_spacing_m is None:
            origin = "common practice, no source" if each.layout is None else "the layout's spacing times the modules of a unit"
            spacing = each.circuit_face(modules).unit_spacing_m
            yield Assumption("faces.unit_spacing_m", spacing, "m", f"{each.face.name}: {origin}")


def _cautions(request: DesignRequest, module: ModuleOffer, unit: UnitOffer | None) -> Iterator[str]:
    """Cautions on the parts together; each part has its own besides."""
    compared, book = request.selection, request.price_book
    voltage_v = request.circuits.supply.voltage_v
    if unit is not None and (caution := current_caution(unit.microinverter, voltage_v)) is not None:
        yield caution
    if book is not None:
        yield from price_cautions(compared, book)
    if book is not None and unit is not None:
        yield from shared_price_cautions(compared, book, module.module.name, unit.microinverter.name)


def _without_notes(part: ResultT) -> ResultT:
    """A part without assumptions, cautions and methods."""
    return replace(part, assumptions=(), cautions=(), method=())


def _unique(items: Iterable[T]) -> tuple[T, ...]:
    """The distinct items in their order, compared by `repr`: the value of an assumption may be an unhashable list."""
    by_text: dict[str, T] = {}
    for item in items:
        by_text.setdefault(repr(item), item)
    return tuple(by_text.values())

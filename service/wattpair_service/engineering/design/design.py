"""The whole job for one roof: climate, layout, checks, energy, choice, circuits and what has to be ordered.

Every part is what its own function gives for the same input. Circuits and bill are made for one kind of microinverter on one
kind of module; a mixed choice stays advice in the selection.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

from wattpair_service.engineering.circuits.circuits import CircuitsResult, CircuitTerms, circuits
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
from wattpair_service.engineering.inverter.electrical_checks import ElectricalRules
from wattpair_service.engineering.inverter.sizing import SizingRequest, SizingResult, sizing
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.materials.bill_of_materials import BillOfMaterials, bill_of_materials
from wattpair_service.engineering.materials.spares import FAILURE_SHARE_SOURCE, SparePolicy
from wattpair_service.engineering.results import Assumption, Result
from wattpair_service.engineering.roof.layout import LayoutRequest, LayoutResult
from wattpair_service.engineering.selection.candidates import Candidate
from wattpair_service.engineering.selection.request import ModuleOffer, SelectionRequest, UnitOffer
from wattpair_service.engineering.selection.selection import SelectionResult, selection
from wattpair_service.engineering.site import Site
from wattpair_service.engineering.site_year import SiteYear

T = TypeVar("T")
ResultT = TypeVar("ResultT", bound=Result)

NEEDED_BY_WHAT_IS_BUILT = ("circuits", "materials", "price_book")
"""Groups of a request whose defaults only circuits and bill rest on."""

SPARES_FOLLOW = ("materials.failure_percent_per_year", "materials.spare_horizon_years")
"""Defaults that follow from the rest of the request; the design tells of them with their values."""

Basis = Literal["recommended", "named", "none_passes", "named_fails", "unsuited"]


@dataclass(frozen=True, slots=True)
class Pairing:
    """A module and a microinverter, by name."""

    module: str
    microinverter: str


@dataclass(frozen=True, slots=True)
class Built:
    """Which pairing circuits and bill are made for, and why; `pairing` is None where there is none to build."""

    basis: Basis
    pairing: Pairing | None
    sentence: str


@dataclass(frozen=True, slots=True, eq=False)
class FaceDesign:
    """One face as it is built; `outline` and `layout` are None where the request gave a count."""

    face: Face
    outline: LayoutRequest | None
    layout: LayoutResult | None


@dataclass(frozen=True, slots=True, eq=False)
class Design(Result):
    """Every part of the job, with what is to be said of all of them, each thing once.

    The findings of the parts stand here alone: a part's own are empty.

    Attributes
    ----------
    site : Site
        Where the building stands.
    currency : str or None
        Of every price, None where the request names none.
    request : SelectionRequest
        What was compared: modules, candidates, faces with their counts, tariff and terms.
    built : Built
        The pairing that circuits and bill are for.
    module : ModuleOffer
        The module that is built or, where nothing is, the first of the request; `climate` is told for it.
    unit : UnitOffer or None
        The microinverter that is built.
    climate : SiteClimateResult
        The site's light and air, with the module's power and each candidate's ratio there.
    faces : tuple of FaceDesign
        In the order of the request.
    sizing : tuple of SizingResult
        Each module with every candidate.
    clipping : ClippingResult or None
        The module that is built with every candidate that passes on it; None where none does.
    selection : SelectionResult
        The ranking and what it rests on.
    circuits : CircuitsResult or None
        Circuits, voltage rise and connection route; None where nothing is built.
    bill_of_materials : BillOfMaterials or None
        Parts, dead load and prices; likewise.
    """

    site: Site
    currency: str | None
    request: SelectionRequest
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
    """Compute every part, each feeding the next.

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
        As the parts; its fields are paths within a request.
    """
    counts = tuple(counted(request.faces))
    asked = replace(request.selection, faces=tuple(each.face for each in counts))
    if request.price_book is not None:
        asked = ranked_offers(asked, request.price_book)
    cache = FaceCache(year, asked.transposition)
    selected = selection(asked, rules, year, cache=cache)
    built = built_pairing(request.wish, selected)
    wanted = built.pairing or request.wish
    module = next((each for each in asked.modules if each.module.name == wanted.module), asked.modules[0])
    unit = None
    if built.pairing is not None:
        unit = next(each for each in asked.units if each.microinverter.name == built.pairing.microinverter)
        built = suited(built, unit, request.circuits)
        unit = unit if built.pairing is not None else None
    told = site_climate(
        SiteClimateRequest(asked.faces, module.module, tuple(each.microinverter for each in asked.units), asked.transposition),
        year,
        cache=cache,
    )
    sized = tuple(
        sizing(_sizing_request(asked, offer), rules, year.design_temperatures, year, cache=cache) for offer in asked.modules
    )
    compared = _clipping_request(asked, module, selected)
    clipped = None if compared is None else clipping(compared, year, cache=cache)
    wired, bill = (None, None) if unit is None else _circuits_and_bill(request, counts, module, unit)
    laid = tuple(each.layout for each in counts if each.layout is not None)
    parts = (told, *laid, *sized, clipped, selected, wired, bill)
    said = [part for part in parts if part is not None]
    own = tuple(_assumptions(request, counts, unit))
    return Design(
        site=request.site,
        currency=request.currency,
        request=asked,
        built=built,
        module=module,
        unit=unit,
        climate=_silent(told),
        faces=tuple(FaceDesign(each.face, each.asked.layout, each.layout and _silent(each.layout)) for each in counts),
        sizing=tuple(_silent(each) for each in sized),
        clipping=clipped and _silent(clipped),
        selection=_silent(selected),
        circuits=wired and _silent(wired),
        bill_of_materials=bill and _silent(bill),
        assumptions=_each_once([*own, *(each for part in said for each in part.assumptions)]),
        cautions=_each_once([*_cautions(request, module, unit), *(each for part in said for each in part.cautions)]),
        method=_each_once([each for part in said for each in part.method]),
        unused=NEEDED_BY_WHAT_IS_BUILT if unit is None else SPARES_FOLLOW,
    )


def built_pairing(wish: Wish, selected: SelectionResult) -> Built:
    """The pairing that is built: the best ranked of those that the caller's wish leaves."""
    ranked = [each for each in selected.candidates if each.rank is not None]
    left = [each for each in ranked if _fits(each, wish)]
    if not ranked:
        return Built("none_passes", None, "Nothing is built: no candidate passes its electrical checks.")
    if not left:
        named = _in_words(wish.module, wish.microinverter)
        return Built("named_fails", None, f"Nothing is built: {named} is asked for but fails its checks; see sizing.")
    best, first = (min(each, key=lambda candidate: candidate.rank or 0) for each in (ranked, left))
    pairing, name = Pairing(first.module, first.microinverter), _in_words(first.module, first.microinverter)
    mixed = next((each for each in selected.mixed_choices if each.module == first.module and each.worthwhile), None)
    advice = "" if mixed is None else " A second kind on some of the faces would be worth more: see selection.mixed_choices."
    if wish == Wish(None, None):
        return Built("recommended", pairing, f"{name}, as recommended.{advice}")
    whole = None not in (wish.module, wish.microinverter)
    asked = "as" if whole else f"of which {_in_words(wish.module, wish.microinverter)} is"
    other = "as recommended too" if first is best else f"recommended is {_in_words(best.module, best.microinverter)}"
    return Built("named", pairing, f"{name}, {asked} asked for in the request; {other}.{advice}")


def suited(built: Built, unit: UnitOffer, terms: CircuitTerms) -> Built:
    """The same or, where circuits cannot be made for the unit, why nothing is built."""
    why = why_unsuited(unit.microinverter, terms.supply.voltage_v, terms.branch_rules)
    if built.pairing is None or why is None:
        return built
    name = _in_words(built.pairing.module, built.pairing.microinverter)
    which = "recommended" if built.basis == "recommended" else "asked for"
    return Built("unsuited", None, f"Nothing is built: {name} is {which}, but no circuit can be made for it: {why}.")


def _fits(candidate: Candidate, wish: Wish) -> bool:
    return wish.module in (None, candidate.module) and wish.microinverter in (None, candidate.microinverter)


def _in_words(module: str | None, microinverter: str | None) -> str:
    return " on ".join(name for name in (microinverter, module) if name is not None)


def _sizing_request(asked: SelectionRequest, offer: ModuleOffer) -> SizingRequest:
    """Every candidate on one module; the faces' mountings are the only ones."""
    return SizingRequest(
        module=offer.module,
        microinverters=tuple(each.microinverter for each in asked.units),
        mounting=asked.faces[0].mounting,
        modules_per_input=asked.modules_per_input,
        cold_voltage_by_table=False,
        faces=asked.faces,
        transposition=asked.transposition,
    )


def _clipping_request(asked: SelectionRequest, offer: ModuleOffer, selected: SelectionResult) -> ClippingRequest | None:
    """The candidates that pass on a module; None where none does."""
    passing = {each.microinverter for each in selected.candidates if each.module == offer.module.name and each.rank is not None}
    units = tuple(each.microinverter for each in asked.units if each.microinverter.name in passing)
    if not units:
        return None
    return ClippingRequest(
        module=offer.module,
        microinverters=units,
        faces=asked.faces,
        transposition=asked.transposition,
        modules_per_input=asked.modules_per_input,
        degradation_share_per_year=asked.terms.degradation_share_per_year,
    )


def _circuits_and_bill(
    request: DesignRequest, counts: tuple[CountedFace, ...], module: ModuleOffer, unit: UnitOffer
) -> tuple[CircuitsResult, BillOfMaterials]:
    device = unit.microinverter
    modules_per_unit = device.input_count * request.selection.modules_per_input
    asked = request.circuits.serving(
        tuple(each.circuit_face(modules_per_unit) for each in counts),
        unit_ac_current_a=circuit_current_a(device, request.circuits.supply.voltage_v),
        modules_per_unit=modules_per_unit,
    )
    order = replace(request.materials, spares=_spare_policy(request, unit)).order(
        asked,
        tuple(each.detail for each in counts),
        module_mass_kg=module.module.mass_kg,
        module_area_m2=module.module.area_m2,
        unit_mass_kg=device.mass_kg,
        price_book=request.price_book and book_of(request.price_book, module, unit),
    )
    try:
        return circuits(asked), bill_of_materials(order)
    except EngineeringError as error:
        places = tuple(each if each == "faces" else f"circuits/{each}" for each in error.fields)
        raise EngineeringError(str(error), places) from error


def _spare_policy(request: DesignRequest, unit: UnitOffer) -> SparePolicy:
    """Spares by the failures that the ranking counts with, where the terms of the bill have no rate or horizon of their own."""
    asked = request.selection
    return request.materials.spares.following(asked.failure_rate(unit), asked.terms.horizon_years)


def _assumptions(request: DesignRequest, counts: tuple[CountedFace, ...], unit: UnitOffer | None) -> Iterator[Assumption]:
    """Prices for the ranking, and the spacing of microinverters where the request does not say it."""
    if request.price_book is not None:
        yield from price_assumptions(request.selection, request.price_book)
    if unit is None:
        return
    given, policy = request.materials.spares, _spare_policy(request, unit)
    if given.failure_share_per_year is None:
        known = request.selection.failure_rate(unit) is not None
        source = "that of the candidate or the request" if known else FAILURE_SHARE_SOURCE
        yield Assumption(SPARES_FOLLOW[0], policy.share_or_usual * 100.0, "%", source)
    if given.horizon_years is None:
        yield Assumption(SPARES_FOLLOW[1], policy.horizon_years, None, "horizon_years of the request")
    modules = unit.microinverter.input_count * request.selection.modules_per_input
    for each in counts:
        if each.asked.unit_spacing_m is None:
            why = "common practice, no source" if each.layout is None else "the layout's spacing times the modules of a unit"
            spacing = each.circuit_face(modules).unit_spacing_m
            yield Assumption("faces.unit_spacing_m", spacing, "m", f"{each.face.name}: {why}")


def _cautions(request: DesignRequest, module: ModuleOffer, unit: UnitOffer | None) -> Iterator[str]:
    """What the parts together must be read with, beside what each of them says."""
    asked, book = request.selection, request.price_book
    if unit is not None and (said := current_caution(unit.microinverter, request.circuits.supply.voltage_v)) is not None:
        yield said
    if book is not None:
        yield from price_cautions(asked, book)
    if book is not None and unit is not None:
        yield from shared_price_cautions(asked, book, module.module.name, unit.microinverter.name)


def _silent(part: ResultT) -> ResultT:
    return replace(part, assumptions=(), cautions=(), method=())


def _each_once(said: Iterable[T]) -> tuple[T, ...]:
    """In their order. They are told apart by what they print: an assumption's value may be a list."""
    found: dict[str, T] = {}
    for each in said:
        found.setdefault(repr(each), each)
    return tuple(found.values())

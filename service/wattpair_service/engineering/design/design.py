"""The design of one roof: climate, layout, electrical checks, energy, selection, circuits and bill of materials.

Each part equals the result of its own function for the same input. Circuits and bill are for one kind of microinverter on one
kind of module; a mixed choice is only advice in the selection.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

from wattpair_service.engineering.cautions import Caution
from wattpair_service.engineering.circuits.circuits import CABLE_FAILS, CHECK_FAILS, CircuitsResult, circuits
from wattpair_service.engineering.circuits.unit_on_circuits import current_caution
from wattpair_service.engineering.design.candidate_systems import (
    Plan,
    Unpriced,
    circuit_faces,
    plans,
    spare_policy,
    systems,
)
from wattpair_service.engineering.design.module_positions import FacePositions, face_positions
from wattpair_service.engineering.design.prices import (
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
from wattpair_service.engineering.inverter.electrical_checks import (
    VERDICTS,
    ElectricalRules,
    Verdict,
    is_buildable,
    needs_site_record,
)
from wattpair_service.engineering.inverter.sizing import SizingRequest, SizingResult, sizing
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.materials.bill_of_materials import BillOfMaterials
from wattpair_service.engineering.materials.placed_units import PlacedUnit
from wattpair_service.engineering.money.replacements import BAND_CENTRE, BAND_CENTRE_SOURCE
from wattpair_service.engineering.results import Assumption, Result
from wattpair_service.engineering.roof.layout import LayoutRequest, LayoutResult
from wattpair_service.engineering.selection.candidates import Candidate
from wattpair_service.engineering.selection.ranking import PAIRING
from wattpair_service.engineering.selection.request import ModuleOffer, Obstacle, SelectionRequest, UnitOffer
from wattpair_service.engineering.selection.selection import SelectionResult, selection
from wattpair_service.engineering.sentences import Sentence, family, fixed, sentence
from wattpair_service.engineering.shade.scene_checks import unused_shade_fields
from wattpair_service.engineering.site import Site
from wattpair_service.engineering.site_year import SiteYear

T = TypeVar("T")
ResultT = TypeVar("ResultT", bound=Result)

GROUPS_FOR_BUILDING = ("circuits", "materials", "price_book")
"""Groups of a request whose defaults only circuits and bill use."""

SPARE_DEFAULTS = ("materials.failure_percent_per_year", "materials.spare_horizon_years", "materials.spare_warranty_years")
"""Fields whose defaults follow from the rest of the request; the design reports their values as assumptions."""

Basis = Literal["recommended", "named", "none_passes", "named_fails", "unsuited"]

NONE_PASSES = fixed("built.none_passes")
NAMED_FAILS, NAMED_WAITS, NAMES_ONE = (sentence(f"built.{each}", "named") for each in ("fails", "waits", "names_one"))
BUILT = sentence("built.sentences", "parts")
RECOMMENDED, IS_RECOMMENDED = (sentence(f"built.{each}", "name") for each in ("recommended", "is_recommended"))
RECOMMENDED_FAILS, BEST_FAILS = sentence("built.recommended_fails", "name", "reason"), sentence("built.best_fails", "name")
NAMED = sentence("built.named", "name", "choice", "comparison")
AS_NAMED, ALSO_RECOMMENDED, SECOND_KIND = (fixed(f"built.{each}") for each in ("as_named", "also_recommended", "second_kind"))
RECOMMENDED_UNSUITED, NAMED_UNSUITED = (
    sentence(f"built.{each}_unsuited", "name", "reason") for each in ("recommended", "named")
)
OF_CANDIDATE, MODULE_PITCH, DROPS_AS_MADE = (
    fixed(f"source.{each}") for each in ("of_candidate", "module_pitch", "drops_as_made")
)
HORIZON, WARRANTY = fixed("source.horizon"), fixed("source.warranty")
OF_FACE = sentence("source.of_face", "face", "source")
family("name", ("failure_percent_per_year", "spare_horizon_years", "unit_spacing_m"))


@dataclass(frozen=True, slots=True)
class Pairing:
    """A module and a microinverter, by name."""

    module: str
    microinverter: str


@dataclass(frozen=True, slots=True)
class Built:
    """The pairing of circuits and bill, and the reason for it; `pairing` is None where none can be built.

    `wanted` is the pairing that the request names or that is recommended, with None for what it leaves open.
    """

    basis: Basis
    pairing: Pairing | None
    sentence: Sentence
    wanted: Wish


@dataclass(frozen=True, slots=True, eq=False)
class FaceDesign:
    """One face with its module count; `outline` and `layout` are None where the request gave the count.

    `units` are its microinverters in the order of the trunk; none without a layout, or where nothing is built. `positions` are
    its modules one by one where shade differs from one to the next.
    """

    face: Face
    outline: LayoutRequest | None
    layout: LayoutResult | None
    units: tuple[PlacedUnit, ...] = ()
    positions: FacePositions | None = None


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
    planned = plans(request, faces, compared.units)
    cache = FaceCache(year, compared.transposition)
    sizings = tuple(_sizings(compared, rules, year, cache))
    passing = {
        (result.module, each.microinverter) for result in sizings for each in result.pairings if is_buildable(each.checks)
    }
    unpriced = Unpriced.of(request, planned, passing)
    compared = replace(compared, systems=systems(request, planned, unpriced))
    selected = selection(compared, rules, year, cache=cache)
    built = built_pairing(request.wish, selected)
    names = built.pairing or request.wish
    module = next((each for each in compared.modules if each.module.name == names.module), compared.modules[0])
    unit = None
    if built.pairing is not None:
        unit = next(each for each in compared.units if each.microinverter.name == built.pairing.microinverter)
        built = _unless_unsuited(built, compared.systems[module.module.name, unit.microinverter.name].obstacle)
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
    clipping_request = _clipping_request(compared, module, selected)
    clipping_result = None if clipping_request is None else clipping(clipping_request, year, cache=cache)
    circuits_result, order = None, None
    if unit is not None:
        plan = planned[unit.microinverter.name]
        assert isinstance(plan, Plan), "a unit without plan is unsuited"
        circuits_result = circuits(plan.circuits, plan.ac_side)
        order = plan.bills[module.module.name]
    layouts = tuple(each.layout for each in faces if each.layout is not None)
    optional_parts = (climate, *layouts, *sizings, clipping_result, selected, circuits_result, order)
    positions: dict[str, FacePositions | None] = {}
    if unit is not None:
        names_built = module.module.name, unit.microinverter.name
        candidate = next(each for each in selected.candidates if (each.module, each.microinverter) == names_built)
        stay_away = {each.face.name: each.stay_away for each in faces}
        positions = {
            face.name: face_positions(compared, cache, face, module, unit, candidate, stay_away[face.name])
            for face in compared.faces
        }
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
            _face(each, () if order is None else order.placed_units[place], positions.get(each.face.name))
            for place, each in enumerate(faces)
        ),
        sizing=tuple(_without_notes(each) for each in sizings),
        clipping=clipping_result and _without_notes(clipping_result),
        selection=_without_notes(selected),
        circuits=circuits_result and _without_notes(circuits_result),
        bill_of_materials=order and _without_notes(order),
        assumptions=_unique([*own_assumptions, *(each for part in parts for each in part.assumptions)]),
        verdict=_verdict(built, sizings, circuits_result),
        cautions=_unique(
            [
                *_failing(circuits_result),
                *_cautions(request, module, unit),
                *(unpriced.cautions() if compared.has_money else ()),
                *(each for part in parts for each in part.cautions),
            ]
        ),
        method=_unique([each for part in parts for each in part.method]),
        unused=(
            *(GROUPS_FOR_BUILDING if unit is None else SPARE_DEFAULTS),
            *unused_shade_fields(compared.faces),
        ),
    )


def _face(counted_face: CountedFace, units: tuple[PlacedUnit, ...], positions: FacePositions | None) -> FaceDesign:
    """A face, with its microinverters where a layout tells the places of its modules."""
    face, laid_out = counted_face.face, counted_face.layout
    if laid_out is None:
        return FaceDesign(face, None, None, (), positions)
    return FaceDesign(face, counted_face.requested.layout, _without_notes(laid_out), units, positions)


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


def _failing(planned: CircuitsResult | None) -> Iterator[Caution]:
    """What stands before all other cautions: that the circuits must not be built as they are."""
    return (each for each in (CABLE_FAILS, CHECK_FAILS) if planned is not None and each in planned.cautions)


def built_pairing(wish: Wish, selected: SelectionResult) -> Built:
    """The pairing to build: the best ranked of those that the request allows."""
    ranked = [each for each in selected.candidates if each.rank is not None]
    allowed = [each for each in ranked if _fits(each, wish)]
    if not ranked:
        return Built("none_passes", None, NONE_PASSES, wish)
    named = _pairing_name(wish.module, wish.microinverter)
    if not allowed:
        waits = any(
            needs_site_record(each.reasons) and each.verdict != "fail" for each in selected.candidates if _fits(each, wish)
        )
        return Built("named_fails", None, (NAMED_WAITS if waits else NAMED_FAILS)(named=named), wish)
    best, first = (min(each, key=lambda candidate: candidate.rank or 0) for each in (ranked, allowed))
    pairing, name = Pairing(first.module, first.microinverter), _pairing_name(first.module, first.microinverter)
    mixed = next((each for each in selected.mixed_choices if each.module == first.module and each.worthwhile), None)
    advice = () if mixed is None else (SECOND_KIND,)
    obstacle = best.system.obstacle
    if wish == Wish(None, None):
        recommended = RECOMMENDED(name=name) if obstacle is None else RECOMMENDED_FAILS(name=name, reason=obstacle.reason)
        return Built("recommended", pairing, BUILT(parts=(recommended, *advice)), Wish(first.module, first.microinverter))
    both_named = None not in (wish.module, wish.microinverter)
    choice = AS_NAMED if both_named else NAMES_ONE(named=named)
    best_name = _pairing_name(best.module, best.microinverter)
    comparison = ALSO_RECOMMENDED if first is best else IS_RECOMMENDED(name=best_name)
    if obstacle is not None:
        comparison = BEST_FAILS(name=best_name)
    words = BUILT(parts=(NAMED(name=name, choice=choice, comparison=comparison), *advice))
    return Built("named", pairing, words, wish)


def _unless_unsuited(built: Built, obstacle: Obstacle | None) -> Built:
    """The same or, where no circuits are possible for the unit, nothing to build and the reason."""
    if built.pairing is None or obstacle is None or obstacle.kind != "unsuited":
        return built
    name = _pairing_name(built.pairing.module, built.pairing.microinverter)
    form = RECOMMENDED_UNSUITED if built.basis == "recommended" else NAMED_UNSUITED
    wanted = Wish(built.pairing.module, built.pairing.microinverter)
    return Built("unsuited", None, form(name=name, reason=obstacle.reason), wanted)


def _fits(candidate: Candidate, wish: Wish) -> bool:
    return wish.module in (None, candidate.module) and wish.microinverter in (None, candidate.microinverter)


def _pairing_name(module: str | None, microinverter: str | None) -> str | Sentence:
    if module is not None and microinverter is not None:
        return PAIRING(unit=microinverter, module=module)
    return module or microinverter or ""


def _sizings(compared: SelectionRequest, rules: ElectricalRules, year: SiteYear, cache: FaceCache) -> Iterator[SizingResult]:
    for number, offer in enumerate(compared.modules):
        try:
            yield sizing(_sizing_request(compared, offer), rules, year.design_temperatures, year, cache=cache)
        except EngineeringError as error:
            raise error.within(f"modules/{number}") from error


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


def _assumptions(request: DesignRequest, faces: tuple[CountedFace, ...], unit: UnitOffer | None) -> Iterator[Assumption]:
    """Prices of the ranking, rate and horizon of the spares, and unit spacings, where the request does not give them."""
    if request.price_book is not None:
        yield from price_assumptions(request.selection, request.price_book)
    if unit is None:
        return
    requested, policy = request.materials.spares, spare_policy(request, unit)
    if requested.failure_share_per_year is None:
        rate = policy.failure_share_per_year
        source = BAND_CENTRE_SOURCE if rate is None else OF_CANDIDATE
        yield Assumption(SPARE_DEFAULTS[0], (BAND_CENTRE if rate is None else rate) * 100.0, "%", source)
    if requested.horizon_years is None:
        yield Assumption(SPARE_DEFAULTS[1], policy.horizon_years, None, HORIZON)
    if requested.warranty_years is None:
        yield Assumption(SPARE_DEFAULTS[2], policy.warranty_years, None, WARRANTY)
    modules = unit.microinverter.module_capacity(request.selection.input_wiring)
    origin = MODULE_PITCH if request.materials.choices.trunk.sold_by_length else DROPS_AS_MADE
    for each, of_circuits in zip(faces, circuit_faces(request, faces, modules), strict=True):
        if each.requested.unit_spacing_m is None:
            source = OF_FACE(face=each.face.name, source=origin)
            yield Assumption("faces.unit_spacing_m", of_circuits.unit_spacing_m, "m", source)


def _cautions(request: DesignRequest, module: ModuleOffer, unit: UnitOffer | None) -> Iterator[Caution]:
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

"""Every string inverter on offer against the recommended microinverter."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache as cached

from wattpair_service.engineering.cautions import Caution, caution
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.lifetime_energy import Worth
from wattpair_service.engineering.energy.shade_loss import face_shade
from wattpair_service.engineering.equipment import InputWiring
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.inverter.electrical_checks import ElectricalCheck, ElectricalRules, check_pairing
from wattpair_service.engineering.module.rear_irradiance import rear_current_factor
from wattpair_service.engineering.module.single_diode import SixParameters, fit
from wattpair_service.engineering.selection.evaluation import Evaluated
from wattpair_service.engineering.selection.request import ModuleOffer, SelectionRequest
from wattpair_service.engineering.sentences import Sentence, family
from wattpair_service.engineering.site_year import SiteYear
from wattpair_service.engineering.strings.comparison import StringComparison, comparison
from wattpair_service.engineering.strings.offer import StringInverterOffer
from wattpair_service.engineering.strings.string_roof import StringRoof
from wattpair_service.engineering.strings.string_system import string_system
from wattpair_service.engineering.strings.stringing import CheckLength, Stringing, stringing

RANGE_MODULES = 8
"""Modules of a face that show its range: on 13 roofs of 16 to 24 modules within 0.07 of the loss of what all of them show."""
DC_SIDE = caution("string_dc_side", "electrician", "dc")
DC_FAULTS = caution("string_dc_faults", "electrician", "dc")
STRING_ORDER = family(
    "string_order", ("dc_isolator", "dc_connectors", "dc_cable", "arc_fault", "rapid_shutdown", "surge", "string_voltages")
)
UNIT_ORDER = family("unit_order", ("trunk", "branch_circuits", "overcurrent_devices", "grid_separation", "unit_places"))


@dataclass(frozen=True, slots=True, eq=False)
class StringCandidate:
    """One string inverter: its strings with their checks, and the comparison; None where it must not be built.

    `to_order` and `to_order_for_units` say what has to be ordered and checked for it, and for the microinverters.
    """

    name: str
    stringing: Stringing
    comparison: StringComparison | None
    to_order: tuple[Sentence, ...]
    to_order_for_units: tuple[Sentence, ...]


def string_candidates(
    request: SelectionRequest,
    rules: ElectricalRules,
    year: SiteYear,
    cache: FaceCache,
    worth: Worth | None,
    best: Evaluated,
) -> tuple[StringCandidate, ...]:
    """Compare each string inverter of a request with its best pairing, on that pairing's module.

    Raises
    ------
    EngineeringError
        Given strings contradict the roof or the inverter.
    """
    module, parameters = best.module, fit(best.panel)
    roof = StringRoof.of(cache, request.faces, module.module, parameters)
    shade_range = _shade_range(request, cache, module, parameters)
    found = []
    for number, offer in enumerate(request.string_inverters):
        checks = _checks(request, rules, year, module, parameters, offer)
        counts = [face.module_count for face in request.faces]
        try:
            strings = stringing(counts, offer.inverter.input_count, checks, offer.strings)
        except EngineeringError as error:
            raise error.within(f"string_inverters/{number}") from error
        compared = None
        if strings.obstacle is None:
            system = string_system(request, module, roof, offer, strings)
            compared = comparison(request, worth, best, system, shade_range, request.repair_days)
        found.append(StringCandidate(offer.name, strings, compared, tuple(STRING_ORDER.values()), tuple(UNIT_ORDER.values())))
    return tuple(found)


def _checks(
    request: SelectionRequest,
    rules: ElectricalRules,
    year: SiteYear,
    module: ModuleOffer,
    parameters: SixParameters,
    offer: StringInverterOffer,
) -> CheckLength:
    """Electrical checks of a string by its length; optimisers regulate a string's voltage, so that its length is theirs."""
    mountings = frozenset(face.mounting for face in request.faces)

    @cached
    def of_length(length: int) -> tuple[ElectricalCheck, ...]:
        if offer.optimiser is not None:
            return ()
        return check_pairing(
            module=module.module,
            parameters=parameters,
            microinverter=offer.inverter,
            design=year.design_temperatures,
            mountings=mountings,
            rules=rules,
            by_table=False,
            input_wiring=InputWiring(length, "series"),
            site_irradiance_w_m2={},
            rear_current_factor=rear_current_factor(module.module.bifaciality, mountings, request.faces),
            module_counts=[length],
        )

    return of_length


def _shade_range(
    request: SelectionRequest, cache: FaceCache, module: ModuleOffer, parameters: SixParameters
) -> tuple[float, float]:
    """Low and high end of what shade takes from the roof, relative to its value."""
    value = low = high = 0.0
    for face in request.faces:
        shade = face_shade(cache, face, module.module, parameters, range_modules=RANGE_MODULES)
        if shade is not None:
            value += shade.unshaded_kwh * shade.loss_share.value
            low += shade.unshaded_kwh * shade.loss_share.low
            high += shade.unshaded_kwh * shade.loss_share.high
    return (low / value, high / value) if value > 0.0 else (1.0, 1.0)


def string_cautions(candidates: tuple[StringCandidate, ...]) -> Iterator[Caution]:
    """What goes with string inverters, whose DC side carries hundreds of volts."""
    if candidates:
        yield DC_SIDE
        yield DC_FAULTS

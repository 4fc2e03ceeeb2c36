"""Every string inverter on offer against the recommended microinverter."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache as cached

from wattpair_service.engineering.cautions import Caution, caution
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.lifetime_energy import Worth
from wattpair_service.engineering.energy.shade_loss import face_shade
from wattpair_service.engineering.equipment import ONE_MODULE, InputWiring, Microinverter
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.inverter.electrical_checks import CheckName, ElectricalCheck, ElectricalRules, check_pairing
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

OPTIMISER_CHECKS = frozenset[CheckName](
    {"open_circuit_voltage_cold", "mp_voltage_cold_operating_window", "mp_voltage_hot_operating_window"}
)
"""What an optimiser's limits say of its module; currents are not among them."""
OPTIMISERS = caution("string_optimisers", "electrician", "dc")
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
    best: Evaluated | None,
) -> tuple[StringCandidate, ...]:
    """Compare each string inverter of a request with its best pairing, on that pairing's module.

    Where no pairing passes, its strings are checked alone, on the first module.

    Raises
    ------
    EngineeringError
        Given strings contradict the roof or the inverter.
    """
    module = request.modules[0] if best is None else best.module
    parameters = fit(module.module)

    @cached
    def of_roof() -> tuple[StringRoof, tuple[float, float]]:
        roof = StringRoof.of(cache, request.faces, module.module, parameters)
        return roof, _shade_range(request, cache, module, parameters)

    found = []
    for number, offer in enumerate(request.string_inverters):
        checks = _checks(request, rules, year, module, parameters, offer)
        counts = [face.module_count for face in request.faces]
        try:
            strings = stringing(
                counts, offer.inverter.input_count, checks, offer.strings, has_optimisers=offer.optimiser is not None
            )
        except EngineeringError as error:
            raise error.within(f"string_inverters/{number}") from error
        compared = None
        if strings.obstacle is None and best is not None:
            roof, shade_range = of_roof()
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
    """Electrical checks of a string by its length.

    Optimisers regulate a string's voltage: its length is their maker's, and the module must fit the optimiser.
    """
    mountings = frozenset(face.mounting for face in request.faces)
    rear_factor = rear_current_factor(module.module.bifaciality, mountings, request.faces)

    def of_inputs(unit: Microinverter, wiring: InputWiring) -> tuple[ElectricalCheck, ...]:
        return check_pairing(
            module=module.module,
            parameters=parameters,
            microinverter=unit,
            design=year.design_temperatures,
            mountings=mountings,
            rules=rules,
            by_table=False,
            input_wiring=wiring,
            site_irradiance_w_m2={},
            rear_current_factor=rear_factor,
            module_counts=[wiring.modules_per_input],
        )

    if offer.optimiser is not None:
        of_module = of_inputs(offer.optimiser.at_module(offer.inverter), ONE_MODULE)
        of_optimiser = tuple(each for each in of_module if each.name in OPTIMISER_CHECKS)
        return lambda _: of_optimiser

    @cached
    def of_length(length: int) -> tuple[ElectricalCheck, ...]:
        return of_inputs(offer.inverter, InputWiring(length, "series"))

    return of_length


def _shade_range(
    request: SelectionRequest, cache: FaceCache, module: ModuleOffer, parameters: SixParameters
) -> tuple[float, float]:
    """Low and high end of what shade takes from the roof, relative to its value."""
    value = low = high = 0.0
    for face in request.faces:
        shade = face_shade(cache, face, module.module, parameters)
        if shade is not None:
            value += shade.unshaded_kwh * shade.loss_share.value
            low += shade.unshaded_kwh * shade.loss_share.low
            high += shade.unshaded_kwh * shade.loss_share.high
    return (low / value, high / value) if value > 0.0 else (1.0, 1.0)


def string_cautions(offers: Sequence[StringInverterOffer]) -> Iterator[Caution]:
    """What goes with string inverters, whose DC side carries hundreds of volts."""
    if offers:
        yield DC_SIDE
        yield DC_FAULTS
    if any(offer.optimiser is not None for offer in offers):
        yield OPTIMISERS

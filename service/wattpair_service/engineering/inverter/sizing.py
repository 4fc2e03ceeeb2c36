"""Electrical checks of one module with one or many microinverters at a site."""

from __future__ import annotations

from dataclasses import dataclass

from wattpair_service.engineering import cautions, methods
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.equipment import InputWiring, Microinverter, Module
from wattpair_service.engineering.errors import DatasheetError, EngineeringError
from wattpair_service.engineering.inverter.electrical_checks import (
    ElectricalCheck,
    ElectricalRules,
    Verdict,
    check_pairing,
    verdict_of,
)
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.irradiance.sky import Transposition
from wattpair_service.engineering.module.rear_irradiance import rear_current_factor, rear_gain
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.results import Result
from wattpair_service.engineering.sentences import Words
from wattpair_service.engineering.shade.scene_checks import SHADE_FIELDS
from wattpair_service.engineering.site import DesignTemperatures
from wattpair_service.engineering.site_year import SiteYear


@dataclass(frozen=True, slots=True)
class SizingRequest:
    """One module and its candidates. `faces` may be empty: the result then has no DC/AC ratio at the site's irradiance."""

    module: Module
    microinverters: tuple[Microinverter, ...]
    mounting: str
    input_wiring: InputWiring
    cold_voltage_by_table: bool
    faces: tuple[Face, ...]
    transposition: Transposition


@dataclass(frozen=True, slots=True)
class PairingSizing:
    """Checks of one pairing and the worst verdict among them."""

    microinverter: str
    verdict: Verdict
    checks: tuple[ElectricalCheck, ...]


@dataclass(frozen=True, slots=True, eq=False)
class SizingResult(Result):
    """Checks of every pairing, in the order of the request."""

    module: str
    place: Words
    edition: str
    design_temperatures: DesignTemperatures
    pairings: tuple[PairingSizing, ...]


def sizing(
    request: SizingRequest,
    rules: ElectricalRules,
    design: DesignTemperatures,
    year: SiteYear | None,
    *,
    cache: FaceCache | None = None,
) -> SizingResult:
    """Check every pairing of the request.

    Parameters
    ----------
    request : SizingRequest
        At least one candidate.
    rules : ElectricalRules
        The region's.
    design : DesignTemperatures
        The site's extremes.
    year : SiteYear or None
        The site's; None without the DC/AC ratio at the irradiance of the faces.
    cache : FaceCache, optional
        For this year and the request's transposition, to share results with other calculations.

    Raises
    ------
    EngineeringError
        The region has no table of cold-voltage factors, or the site is colder than the table; or no single diode can
        represent the module.
    """
    _require_table(request, rules, design.lowest_c)
    try:
        parameters = fit(request.module)
    except DatasheetError as error:
        raise error.within("module") from error
    bifaciality, site_irradiance_w_m2 = request.module.bifaciality, {}
    if year is not None:
        cache = cache or FaceCache(year, request.transposition)
        for face in request.faces:
            front_w_m2 = cache.response(face, parameters, bifaciality).energy_weighted_irradiance_w_m2
            site_irradiance_w_m2[face.name] = front_w_m2 * rear_gain(bifaciality, face)
    mountings = frozenset({request.mounting, *(face.mounting for face in request.faces)})
    pairings = []
    for microinverter in request.microinverters:
        checks = check_pairing(
            module=request.module,
            parameters=parameters,
            microinverter=microinverter,
            design=design,
            mountings=mountings,
            rules=rules,
            by_table=request.cold_voltage_by_table,
            input_wiring=request.input_wiring,
            site_irradiance_w_m2=site_irradiance_w_m2,
            rear_current_factor=rear_current_factor(bifaciality, mountings, request.faces),
            module_counts=[face.module_count for face in request.faces],
        )
        pairings.append(PairingSizing(microinverter.name, verdict_of(checks), checks))
    irradiance_methods = (methods.TRANSPOSITIONS[request.transposition],) if site_irradiance_w_m2 else ()
    return SizingResult(
        module=request.module.name,
        place=rules.place,
        edition=rules.edition,
        design_temperatures=design,
        pairings=tuple(pairings),
        cautions=cautions.ELECTRICAL_CAUTIONS,
        unused=SHADE_FIELDS,
        method=(methods.SINGLE_DIODE, methods.CELL_TEMPERATURE, *irradiance_methods),
    )


def _require_table(request: SizingRequest, rules: ElectricalRules, temp_lowest_c: float) -> None:
    if not request.cold_voltage_by_table:
        return
    if rules.cold_voltage_factors is None:
        raise EngineeringError(
            f'"module_coefficient": the rules of region {rules.region} have no table of cold-voltage factors',
            ("cold_voltage_method",),
        )
    coldest = min(rules.cold_voltage_factors)[0]
    if temp_lowest_c < coldest:
        raise EngineeringError(
            f'at least {coldest:g} with cold_voltage_method "code_table": the table ends there', ("site/temp_lowest_c",)
        )

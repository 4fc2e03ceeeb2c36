"""Yearly energy balance and clipping of every face with every microinverter."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

import numpy as np

from wattpair_service.engineering import cautions, methods
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.energy_balance import (
    AGES,
    AgedYear,
    EnergyBalance,
    PairingYear,
    clipped_share,
    pairing_year,
    total,
)
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.shade_loss import FaceShade, face_shade
from wattpair_service.engineering.energy.shaded_face import ShadedFace
from wattpair_service.engineering.equipment import InputWiring, Microinverter, Module
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face, PlaneOfArray
from wattpair_service.engineering.irradiance.sky import Transposition
from wattpair_service.engineering.irradiance.subhourly import VARIABILITY_ADDED, SubhourlyStates, clipped_share_range
from wattpair_service.engineering.module.dc_response import DcResponse, by_month
from wattpair_service.engineering.module.single_diode import SixParameters, fit
from wattpair_service.engineering.results import Range, Result
from wattpair_service.engineering.sentences import Words, fixed
from wattpair_service.engineering.shade.scene_checks import require_possible, shade_cautions, unused_shade_fields
from wattpair_service.engineering.site import ClimateUsed
from wattpair_service.engineering.site_year import SiteYear

# Thevenard and Pelland 2013, 10.1016/j.solener.2011.05.006: combined uncertainty of a yield in one year.
YIELD_SIGMA_SHARE = 0.087
NORMAL_QUANTILE_90 = 1.28155
YIELD_COVERS = fixed("covers.yield")
CLIPPING_COVERS_OTHER = fixed("covers.clipping_other")
CLIPPING_COVERS = fixed("covers.clipping")


@dataclass(frozen=True, slots=True)
class ClippingRequest:
    """Faces, their module, and the microinverters to compare."""

    module: Module
    microinverters: tuple[Microinverter, ...]
    faces: tuple[Face, ...]
    transposition: Transposition
    input_wiring: InputWiring
    degradation_share_per_year: float


@dataclass(frozen=True, slots=True, eq=False)
class FaceIrradiation:
    """Irradiation of a face over the year: in the plane of array before losses (`poa_`), and effective, on the cells."""

    poa_kwh_m2: float
    poa_kwh_m2_by_month: FloatArray
    effective_irradiation_kwh_m2: float
    energy_weighted_irradiance_w_m2: float


@dataclass(frozen=True, slots=True, eq=False)
class PairingClipping:
    """One module of a face with one microinverter; where modules do not fill the last unit, the mean over all modules.

    `ac_limit_per_module_w` is that of a full unit. `clipped_share_hourly_means` is computed from hourly means, without
    subhourly variability (0-1).
    """

    microinverter: str
    ac_limit_per_module_w: float
    clipped_share: Range
    clipped_share_hourly_means: float
    per_module: PairingYear


@dataclass(frozen=True, slots=True, eq=False)
class FaceClipping:
    """One face with every microinverter."""

    face: str
    module_count: int
    irradiation: FaceIrradiation
    shade: FaceShade | None
    pairings: tuple[PairingClipping, ...]


@dataclass(frozen=True, slots=True)
class RoofTotal:
    """All faces with the same microinverter."""

    microinverter: str
    balance: EnergyBalance
    delivered_range_kwh: Range
    clipped_share: Range
    clipped_share_hourly_means: float
    ageing: tuple[AgedYear, ...]
    specific_yield_kwh_per_kwp: float


@dataclass(frozen=True, slots=True)
class SubhourlyUsed:
    """Subhourly variability: origin of the irradiance, factor of the variability added for it, and turbidity of the clear sky.

    `turbidity_from_hours_share` is the share of hours whose turbidity follows from the irradiance itself (0-1).
    """

    origin: str
    variability_factor: float
    linke_turbidity: float
    turbidity_from_hours_share: float


@dataclass(frozen=True, slots=True, eq=False)
class ClippingResult(Result):
    """Faces in the order of the request, then the whole roof for each microinverter."""

    module: str
    climate: ClimateUsed
    subhourly: SubhourlyUsed
    ghi_kwh_m2: float
    faces: tuple[FaceClipping, ...]
    totals: tuple[RoofTotal, ...]


def clipping(request: ClippingRequest, year: SiteYear, *, cache: FaceCache | None = None) -> ClippingResult:
    """Energy balance of every face with every microinverter.

    Parameters
    ----------
    request : ClippingRequest
        At least one face and one microinverter.
    year : SiteYear
        The site's.
    cache : FaceCache, optional
        For this year and the request's transposition, to share results with other calculations.

    Raises
    ------
    DatasheetError
        A module that no single diode can represent.
    EngineeringError
        Shade that contradicts itself or the modules.
    """
    try:
        parameters = fit(request.module)
    except DatasheetError as error:
        raise error.within("module") from error
    cache = cache or FaceCache(year, request.transposition)
    require_possible(request.faces)
    faces = tuple(_face(request, face, cache, parameters) for face in request.faces)
    return ClippingResult(
        module=request.module.name,
        climate=year.climate,
        subhourly=_subhourly_used(cache.subhourly_states()),
        ghi_kwh_m2=year.conditions.ghi_kwh_m2,
        faces=faces,
        totals=tuple(_roof_total(request, faces, index, year.climate) for index in range(len(request.microinverters))),
        cautions=(*cautions.ENERGY_CAUTIONS, *shade_cautions(request.faces)),
        unused=unused_shade_fields(request.faces),
        method=(
            methods.TRANSPOSITIONS[request.transposition],
            *(methods.SHADE if any(face.is_shaded for face in request.faces) else ()),
            methods.REFLECTION,
            methods.CELL_TEMPERATURE,
            methods.SINGLE_DIODE,
            methods.SUBHOURLY,
            methods.CONVERSION,
            methods.ENERGY_BALANCE,
        ),
    )


def _face(request: ClippingRequest, face: Face, cache: FaceCache, parameters: SixParameters) -> FaceClipping:
    """One face with each microinverter, with and without subhourly variability."""
    module = request.module
    conditions, plane, hourly = cache.conditions, cache.plane(face), cache.response(face, parameters, module.bifaciality)
    states, count = cache.subhourly_states(), face.module_count
    irradiation = _face_irradiation(conditions, plane, hourly)
    if face.is_shaded:
        shaded = cache.shaded_face(face, module, parameters)
        shaded_hourly = cache.shaded_face(face, module, parameters, subhourly=False)
        pairings = [_pairing(request, count, shaded, shaded_hourly, states, unit) for unit in request.microinverters]
    else:
        coefficient_per_k = module.temp_coefficient_pmp_percent_per_k / 100.0
        response = cache.subhourly_response(face, parameters, coefficient_per_k, module.bifaciality)
        pairings = [_pairing(request, count, response, hourly, states, unit) for unit in request.microinverters]
    shade = face_shade(cache, face, module, parameters)
    return FaceClipping(face.name, count, irradiation, shade, tuple(pairings))


def _face_irradiation(conditions: Conditions, plane: PlaneOfArray, response: DcResponse) -> FaceIrradiation:
    monthly_kwh_m2 = by_month(conditions.month, plane.poa_global_w_m2 * conditions.weight_h) / 1000.0
    return FaceIrradiation(
        poa_kwh_m2=float(monthly_kwh_m2.sum()),
        poa_kwh_m2_by_month=monthly_kwh_m2,
        effective_irradiation_kwh_m2=float(plane.effective_irradiance_w_m2 @ conditions.weight_h) / 1000.0,
        energy_weighted_irradiance_w_m2=response.energy_weighted_irradiance_w_m2,
    )


def _pairing(
    request: ClippingRequest,
    module_count: int,
    response: DcResponse | ShadedFace,
    hourly: DcResponse | ShadedFace,
    states: SubhourlyStates,
    unit: Microinverter,
) -> PairingClipping:
    year = pairing_year(
        response,
        unit,
        input_wiring=request.input_wiring,
        module_count=module_count,
        degradation_share_per_year=request.degradation_share_per_year,
    )
    share = year.year.clipped_share
    hourly_share = clipped_share(hourly, unit, input_wiring=request.input_wiring, module_count=module_count)
    low, high = clipped_share_range(share=share, hourly_share=hourly_share, states=states)
    return PairingClipping(
        microinverter=unit.name,
        ac_limit_per_module_w=unit.per_module(request.input_wiring).ac_power_w,
        clipped_share=Range(share, low, min(high, 1.0), _covers(states)),
        clipped_share_hourly_means=hourly_share,
        per_module=year,
    )


def _covers(states: SubhourlyStates) -> Words:
    return CLIPPING_COVERS if states.origin == "measured_hourly" else CLIPPING_COVERS_OTHER


def delivered_range(delivered_kwh: float, climate: ClimateUsed) -> Range:
    """Delivered energy of a typical year [kWh] with the range of single years, wider by the weather's error where known."""
    # Night draw may exceed the output where there is next to no irradiance: the range then lies around a negative value.
    half_width_kwh = NORMAL_QUANTILE_90 * hypot(YIELD_SIGMA_SHARE, climate.level_error_share or 0.0) * abs(delivered_kwh)
    return Range(delivered_kwh, delivered_kwh - half_width_kwh, delivered_kwh + half_width_kwh, YIELD_COVERS)


def _roof_total(request: ClippingRequest, faces: tuple[FaceClipping, ...], index: int, climate: ClimateUsed) -> RoofTotal:
    pairings = [face.pairings[index] for face in faces]
    counts = [face.module_count for face in faces]
    balance = total(pairing.per_module.year.scaled(count) for pairing, count in zip(pairings, counts, strict=True))
    rated_kwp = sum(counts) * request.module.power_w / 1000.0
    unlimited_kwh = [pairing.per_module.year.unlimited_kwh * count for pairing, count in zip(pairings, counts, strict=True)]

    def mean_over_faces(shares: list[float]) -> float:
        total_kwh = sum(unlimited_kwh)
        clipped_kwh = sum(share * face_kwh for share, face_kwh in zip(shares, unlimited_kwh, strict=True))
        return clipped_kwh / total_kwh if total_kwh > 0.0 else 0.0

    return RoofTotal(
        microinverter=request.microinverters[index].name,
        balance=balance,
        delivered_range_kwh=delivered_range(balance.delivered_kwh, climate),
        clipped_share=Range(
            balance.clipped_share,
            mean_over_faces([pairing.clipped_share.low for pairing in pairings]),
            mean_over_faces([pairing.clipped_share.high for pairing in pairings]),
            pairings[0].clipped_share.covers,
        ),
        clipped_share_hourly_means=mean_over_faces([pairing.clipped_share_hourly_means for pairing in pairings]),
        ageing=tuple(_roof_aged(age, pairings, counts) for age in range(len(AGES))),
        specific_yield_kwh_per_kwp=balance.delivered_kwh / rated_kwp,
    )


def _roof_aged(age: int, pairings: list[PairingClipping], counts: list[int]) -> AgedYear:
    """A later year of the whole roof; its clipped share is weighted with each face's energy without an AC limit."""
    aged = [pairing.per_module.ageing[age] for pairing in pairings]
    unlimited_kwh = [pairing.per_module.year.unlimited_kwh * count for pairing, count in zip(pairings, counts, strict=True)]
    clipped_kwh = sum(each.clipped_share * face_kwh for each, face_kwh in zip(aged, unlimited_kwh, strict=True))
    return AgedYear(
        year=aged[0].year,
        remaining_share=aged[0].remaining_share,
        clipped_share=clipped_kwh / sum(unlimited_kwh) if sum(unlimited_kwh) > 0.0 else 0.0,
        delivered_kwh=sum(each.delivered_kwh * count for each, count in zip(aged, counts, strict=True)),
    )


def _subhourly_used(states: SubhourlyStates) -> SubhourlyUsed:
    index = states.index
    return SubhourlyUsed(
        origin=states.origin,
        variability_factor=VARIABILITY_ADDED[states.origin],
        linke_turbidity=float(np.mean(states.linke_turbidity[index])) if index.size else float(np.mean(states.linke_turbidity)),
        turbidity_from_hours_share=states.inverted_share,
    )

"""Yearly energy of every face with every microinverter: what is delivered, what is lost, and where."""

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
from wattpair_service.engineering.equipment import Microinverter, Module
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face, PlaneOfArray
from wattpair_service.engineering.irradiance.sky import Transposition
from wattpair_service.engineering.irradiance.subhourly import VARIABILITY_ADDED, SubhourlyStates, clipped_share_range
from wattpair_service.engineering.module.dc_response import DcResponse, by_month
from wattpair_service.engineering.module.single_diode import SixParameters, fit
from wattpair_service.engineering.results import Range, Result
from wattpair_service.engineering.site import ClimateUsed
from wattpair_service.engineering.site_year import SiteYear

# Thevenard and Pelland 2013, 10.1016/j.solener.2011.05.006: combined uncertainty of a yield in one year.
YIELD_SIGMA_SHARE = 0.087
NORMAL_QUANTILE_90 = 1.28155
YIELD_COVERS = (
    "80 % of single years (P90 to P10): weather, models and equipment, with the 8.7 % standard uncertainty that Thevenard and "
    "Pelland 2013 (10.1016/j.solener.2011.05.006) found for one system, and the error of the weather's "
    "own level where that is known"
)
CLIPPING_COVERS_OTHER = (
    "what minutes would show, as far as is known: the width was set from measured minutes treated like light of this origin, "
    "not tested on such data themselves; module, microinverter and the year's weather are not covered"
)
CLIPPING_COVERS = (
    "what minutes would show, in at least 80 % of cases: it held in every case at three stations measured each minute, each "
    "left out of the calibration in turn; module, microinverter and the year's weather are not covered"
)


@dataclass(frozen=True, slots=True)
class ClippingRequest:
    """Faces with one kind of module, and the microinverters to compare."""

    module: Module
    microinverters: tuple[Microinverter, ...]
    faces: tuple[Face, ...]
    transposition: Transposition
    modules_per_input: int
    degradation_share_per_year: float


@dataclass(frozen=True, slots=True, eq=False)
class FaceIrradiation:
    """Light on a face over the year: before any loss, and what reaches the cells."""

    poa_kwh_m2: float
    poa_kwh_m2_by_month: FloatArray
    effective_irradiation_kwh_m2: float
    energy_weighted_irradiance_w_m2: float


@dataclass(frozen=True, slots=True, eq=False)
class PairingClipping:
    """One module of a face with one microinverter.

    `clipped_share_hourly_means` is what the same year shows without the spread inside the hour.
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
    """The spread inside the hour: how the light was obtained, how much of the swing was added for that, and the sky behind it.

    `turbidity_from_hours_share` is the share of hours whose own light told the turbidity (0-1).
    """

    origin: str
    variability_added_share: float
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
        Of this year and the request's transposition, where other parts of an answer look at the same faces.

    Raises
    ------
    DatasheetError
        A module that no single diode can represent.
    """
    try:
        parameters = fit(request.module)
    except DatasheetError as error:
        raise error.within("module") from error
    cache = cache or FaceCache(year, request.transposition)
    faces = tuple(_face(request, face, cache, parameters) for face in request.faces)
    return ClippingResult(
        module=request.module.name,
        climate=year.climate,
        subhourly=_subhourly_used(cache.subhourly_states()),
        ghi_kwh_m2=year.conditions.ghi_kwh_m2,
        faces=faces,
        totals=tuple(_roof_total(request, faces, index, year.climate) for index in range(len(request.microinverters))),
        cautions=cautions.ENERGY_CAUTIONS,
        method=(
            methods.SUN_POSITION,
            methods.TRANSPOSITIONS[request.transposition],
            methods.REFLECTION,
            methods.CELL_TEMPERATURE,
            methods.SINGLE_DIODE,
            methods.SUBHOURLY,
            methods.CONVERSION,
            methods.ENERGY_BALANCE,
        ),
    )


def _face(request: ClippingRequest, face: Face, cache: FaceCache, parameters: SixParameters) -> FaceClipping:
    """One face: its irradiance and DC response once, then each microinverter with and without what happens inside the hours."""
    conditions, plane, hourly = cache.conditions, cache.plane(face), cache.response(face, parameters)
    response = cache.subhourly_response(face, parameters, request.module.temp_coefficient_pmp_percent_per_k / 100.0)
    states = cache.subhourly_states()
    pairings = tuple(_pairing(request, response, hourly, states, unit) for unit in request.microinverters)
    return FaceClipping(face.name, face.module_count, _face_irradiation(conditions, plane, hourly), pairings)


def _face_irradiation(conditions: Conditions, plane: PlaneOfArray, response: DcResponse) -> FaceIrradiation:
    monthly = by_month(conditions.month, plane.poa_global_w_m2 * conditions.weight_h) / 1000.0
    return FaceIrradiation(
        poa_kwh_m2=float(monthly.sum()),
        poa_kwh_m2_by_month=monthly,
        effective_irradiation_kwh_m2=float(plane.effective_irradiance_w_m2 @ conditions.weight_h) / 1000.0,
        energy_weighted_irradiance_w_m2=response.energy_weighted_irradiance_w_m2,
    )


def _pairing(
    request: ClippingRequest, response: DcResponse, hourly: DcResponse, states: SubhourlyStates, unit: Microinverter
) -> PairingClipping:
    year = pairing_year(
        response,
        unit,
        modules_per_input=request.modules_per_input,
        degradation_share_per_year=request.degradation_share_per_year,
    )
    share = year.year.clipped_share
    by_means = clipped_share(hourly, unit, modules_per_input=request.modules_per_input)
    low, high = clipped_share_range(share=share, hourly_share=by_means, states=states)
    return PairingClipping(
        microinverter=unit.name,
        ac_limit_per_module_w=unit.per_module(request.modules_per_input).ac_power_w,
        clipped_share=Range(share, low, min(high, 1.0), _covers(states)),
        clipped_share_hourly_means=by_means,
        per_module=year,
    )


def _covers(states: SubhourlyStates) -> str:
    return CLIPPING_COVERS if states.origin == "measured_hourly" else CLIPPING_COVERS_OTHER


def delivered_range(delivered_kwh: float, climate: ClimateUsed) -> Range:
    """Delivered energy of a typical year [kWh] with the range of single years, wider by the weather's own error where known."""
    # Night draw may exceed the output where there is next to no light: the range then lies around a negative value.
    half = NORMAL_QUANTILE_90 * hypot(YIELD_SIGMA_SHARE, climate.level_error_share or 0.0) * abs(delivered_kwh)
    return Range(delivered_kwh, delivered_kwh - half, delivered_kwh + half, YIELD_COVERS)


def _roof_total(request: ClippingRequest, faces: tuple[FaceClipping, ...], index: int, climate: ClimateUsed) -> RoofTotal:
    pairings = [face.pairings[index] for face in faces]
    counts = [face.module_count for face in faces]
    balance = total([pairing.per_module.year.scaled(count) for pairing, count in zip(pairings, counts, strict=True)])
    peak_kw = sum(counts) * request.module.power_w / 1000.0
    weights = [pairing.per_module.year.unlimited_kwh * count for pairing, count in zip(pairings, counts, strict=True)]

    def over_faces(values: list[float]) -> float:
        whole = sum(weights)
        return sum(value * weight for value, weight in zip(values, weights, strict=True)) / whole if whole > 0.0 else 0.0

    return RoofTotal(
        microinverter=request.microinverters[index].name,
        balance=balance,
        delivered_range_kwh=delivered_range(balance.delivered_kwh, climate),
        clipped_share=Range(
            balance.clipped_share,
            over_faces([pairing.clipped_share.low for pairing in pairings]),
            over_faces([pairing.clipped_share.high for pairing in pairings]),
            pairings[0].clipped_share.covers,
        ),
        clipped_share_hourly_means=over_faces([pairing.clipped_share_hourly_means for pairing in pairings]),
        ageing=tuple(_roof_aged(age, pairings, counts) for age in range(len(AGES))),
        specific_yield_kwh_per_kwp=balance.delivered_kwh / peak_kw,
    )


def _roof_aged(age: int, pairings: list[PairingClipping], counts: list[int]) -> AgedYear:
    """A later year of the whole roof; its clipped share is weighted with what each face would give without a limit."""
    aged = [pairing.per_module.ageing[age] for pairing in pairings]
    weights = [pairing.per_module.year.unlimited_kwh * count for pairing, count in zip(pairings, counts, strict=True)]
    clipped = sum(each.clipped_share * weight for each, weight in zip(aged, weights, strict=True))
    return AgedYear(
        year=aged[0].year,
        remaining_share=aged[0].remaining_share,
        clipped_share=clipped / sum(weights) if sum(weights) > 0.0 else 0.0,
        delivered_kwh=sum(each.delivered_kwh * count for each, count in zip(aged, counts, strict=True)),
    )


def _subhourly_used(states: SubhourlyStates) -> SubhourlyUsed:
    at = states.index
    return SubhourlyUsed(
        origin=states.origin,
        variability_added_share=VARIABILITY_ADDED[states.origin],
        linke_turbidity=float(np.mean(states.linke_turbidity[at])) if at.size else float(np.mean(states.linke_turbidity)),
        turbidity_from_hours_share=states.inverted_share,
    )

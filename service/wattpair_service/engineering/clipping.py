"""Yearly energy of every face with every microinverter: what is delivered, what is lost, and where."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering import findings
from wattpair_service.engineering.conditions import Conditions
from wattpair_service.engineering.dc_response import DcResponse, by_month, dc_response
from wattpair_service.engineering.energy_balance import EnergyBalance, PairingYear, pairing_year, total
from wattpair_service.engineering.equipment import Microinverter, Module
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.plane_of_array import Face, PlaneOfArray, Transposition, plane_of_array
from wattpair_service.engineering.single_diode import fit

FloatArray = npt.NDArray[np.float64]

# Thevenard and Pelland 2013, 10.1016/j.solener.2011.05.006: combined uncertainty of a yield in one year.
YIELD_SIGMA_SHARE = 0.087
NORMAL_QUANTILE_90 = 1.28155
YIELD_COVERS = (
    "80 % of single years (P90 to P10): weather, models and equipment, with the 8.7 % standard uncertainty that Thevenard and "
    "Pelland 2013 (10.1016/j.solener.2011.05.006) found for one system; other systems and places differ"
)
# What plain hourly means were seen to hide at worst, in points of clipped share.
HOURLY_MEANS_HIDE_AT_WORST = 0.035
CLIPPING_COVERS = (
    "what hourly means hide: from nothing to the worst case seen at stations measured each minute (3.5 points); models and "
    "equipment are not covered"
)


@dataclass(frozen=True, slots=True)
class ClippingRequest:
    """Faces with one kind of module, and the microinverters to compare."""

    module: Module
    microinverters: tuple[Microinverter, ...]
    faces: tuple[Face, ...]
    transposition: Transposition
    modules_per_input: int = 1


@dataclass(frozen=True, slots=True, eq=False)
class FaceLight:
    """Light on a face over the year: before any loss, and what reaches the cells."""

    in_plane_kwh_m2: float
    in_plane_kwh_m2_by_month: FloatArray
    effective_kwh_m2: float
    energy_weighted_irradiance_w_m2: float


@dataclass(frozen=True, slots=True, eq=False)
class PairingClipping:
    """One module of a face with one microinverter."""

    microinverter: str
    ac_limit_per_module_w: float
    clipped_share: findings.Range
    per_module: PairingYear


@dataclass(frozen=True, slots=True, eq=False)
class FaceClipping:
    """One face with every microinverter."""

    face: str
    module_count: int
    light: FaceLight
    pairings: tuple[PairingClipping, ...]


@dataclass(frozen=True, slots=True)
class RoofTotal:
    """All faces with the same microinverter."""

    microinverter: str
    balance: EnergyBalance
    delivered_range_kwh: findings.Range
    clipped_share: findings.Range
    specific_yield_kwh_per_kwp: float


@dataclass(frozen=True, slots=True, eq=False)
class ClippingResult:
    """Faces in the order of the request, then the whole roof for each microinverter."""

    module: str
    weather_source: str
    ghi_kwh_m2: float
    faces: tuple[FaceClipping, ...]
    totals: tuple[RoofTotal, ...]
    assumptions: tuple[findings.Assumption, ...]
    cautions: tuple[str, ...]
    method: tuple[findings.Method, ...]


def clipping(request: ClippingRequest, conditions: Conditions, *, weather_source: str) -> ClippingResult:
    """Energy balance of every face with every microinverter.

    Parameters
    ----------
    request : ClippingRequest
        At least one face and one microinverter.
    conditions : Conditions
        The site's year.
    weather_source : str
        Where the conditions come from, for the result.

    Raises
    ------
    DatasheetError
        A module that no single diode can represent.
    """
    try:
        parameters = fit(request.module)
    except DatasheetError as error:
        raise error.within("module") from error
    faces = []
    for face in request.faces:
        plane = plane_of_array(conditions, face, transposition=request.transposition)
        response = dc_response(conditions, plane, face=face, parameters=parameters)
        pairings = tuple(_pairing(response, unit, request.modules_per_input) for unit in request.microinverters)
        faces.append(FaceClipping(face.name, face.module_count, _face_light(conditions, plane, response), pairings))
    return ClippingResult(
        module=request.module.name,
        weather_source=weather_source,
        ghi_kwh_m2=conditions.ghi_kwh_m2,
        faces=tuple(faces),
        totals=tuple(_roof_total(request, faces, index) for index in range(len(request.microinverters))),
        assumptions=(),
        cautions=findings.ENERGY_CAUTIONS,
        method=(
            findings.SUN_POSITION,
            findings.TRANSPOSITIONS[request.transposition],
            findings.REFLECTION,
            findings.CELL_TEMPERATURE,
            findings.SINGLE_DIODE,
            findings.CONVERSION,
            findings.ENERGY_BALANCE,
        ),
    )


def _face_light(conditions: Conditions, plane: PlaneOfArray, response: DcResponse) -> FaceLight:
    monthly = by_month(conditions.month, plane.global_w_m2 * conditions.weight_h) / 1000.0
    return FaceLight(
        in_plane_kwh_m2=float(monthly.sum()),
        in_plane_kwh_m2_by_month=monthly,
        effective_kwh_m2=float(plane.effective_w_m2 @ conditions.weight_h) / 1000.0,
        energy_weighted_irradiance_w_m2=response.energy_weighted_irradiance_w_m2,
    )


def _pairing(response: DcResponse, microinverter: Microinverter, modules_per_input: int) -> PairingClipping:
    year = pairing_year(response, microinverter, modules_per_input=modules_per_input)
    return PairingClipping(
        microinverter=microinverter.name,
        ac_limit_per_module_w=microinverter.per_module(modules_per_input).ac_power_w,
        clipped_share=_clipped_range(year.year),
        per_module=year,
    )


def _roof_total(request: ClippingRequest, faces: list[FaceClipping], index: int) -> RoofTotal:
    balance = total([face.pairings[index].per_module.year.scaled(face.module_count) for face in faces])
    peak_kw = sum(face.module_count for face in faces) * request.module.power_w / 1000.0
    spread = NORMAL_QUANTILE_90 * YIELD_SIGMA_SHARE * abs(balance.delivered_kwh)
    return RoofTotal(
        microinverter=request.microinverters[index].name,
        balance=balance,
        delivered_range_kwh=findings.Range(
            balance.delivered_kwh, balance.delivered_kwh - spread, balance.delivered_kwh + spread, YIELD_COVERS
        ),
        clipped_share=_clipped_range(balance),
        specific_yield_kwh_per_kwp=balance.delivered_kwh / peak_kw,
    )


def _clipped_range(balance: EnergyBalance) -> findings.Range:
    share = balance.clipped_share
    return findings.Range(share, share, min(share + HOURLY_MEANS_HIDE_AT_WORST, 1.0), CLIPPING_COVERS)

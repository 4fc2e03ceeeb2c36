"""Irradiation at a site by month, level of irradiance and season, and the DC/AC ratio at the season's mean irradiance.

Neglected: differences from year to year other than by a published standard deviation, and trends.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

import numpy as np

from wattpair_service.engineering import cautions, methods
from wattpair_service.engineering.arrays import BoolArray, FloatArray
from wattpair_service.engineering.energy.clipping import NORMAL_QUANTILE_90
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.equipment import ONE_MODULE, InputWiring, Microinverter, Module
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.irradiance.sky import Transposition
from wattpair_service.engineering.module.dc_response import DcResponse, by_month
from wattpair_service.engineering.module.rear_irradiance import rear_gain
from wattpair_service.engineering.module.single_diode import curve_at, fit, maximum_power
from wattpair_service.engineering.results import Range, Result
from wattpair_service.engineering.sentences import Cited, fixed, sentence
from wattpair_service.engineering.shade.scene_checks import SHADE_FIELDS
from wattpair_service.engineering.site import ClimateUsed, DesignTemperatures, StationUsed
from wattpair_service.engineering.site_year import SiteYear

SINGLE_YEAR_SIGMA_SHARE = 0.039
SINGLE_YEAR_SOURCE = Cited("Thevenard and Pelland 2013, 10.1016/j.solener.2011.05.006, mean of Canadian sites")
SINGLE_YEAR_COVERS = sentence("covers.single_year", "share", "source", "level")
LEVEL_UNKNOWN = fixed("covers.level_unknown")
LEVEL_ERROR = sentence("covers.level_error", "share")
LEVEL_STEP_W_M2 = 100.0
LEVEL_COUNT = 13
"""Levels of irradiance from 0 to 100 W/m2 up to 1200 W/m2 and more."""

SEASONS: dict[str, tuple[int, ...]] = {
    "year": tuple(range(1, 13)),
    "december_to_february": (12, 1, 2),
    "march_to_may": (3, 4, 5),
    "june_to_august": (6, 7, 8),
    "september_to_november": (9, 10, 11),
}
WITHOUT_SHADE = cautions.caution("without_shade", "office", "estimate")


@dataclass(frozen=True, slots=True)
class SiteClimateRequest:
    """Faces, and microinverters with their module. Each tuple may be empty; microinverters need a module."""

    faces: tuple[Face, ...]
    module: Module | None
    microinverters: tuple[Microinverter, ...]
    transposition: Transposition
    input_wiring: InputWiring = ONE_MODULE


@dataclass(frozen=True, slots=True)
class RatioAtIrradiance:
    """Module power at an irradiance over the AC limit per module."""

    microinverter: str
    dc_ac_ratio: float


@dataclass(frozen=True, slots=True)
class SeasonIrradiation:
    """Energy-weighted mean irradiance of a season in the plane of array, and module power at it.

    `temp_cell_c` is the cell temperature with the same weights. Everything after `irradiance_w_m2` is None, or empty, without
    a module or where its cells get no irradiance.
    """

    season: str
    poa_kwh_m2: float
    irradiance_w_m2: float
    temp_cell_c: float | None
    module_power_w: float | None
    ratios: tuple[RatioAtIrradiance, ...]


@dataclass(frozen=True, slots=True, eq=False)
class FaceClimate:
    """Irradiation of one face. `energy_share_by_level`: shares of the year's energy by steps of 100 W/m2; they add up to 1."""

    face: str
    poa_kwh_m2_by_month: FloatArray
    poa_kwh_m2: Range
    level_lower_edges_w_m2: FloatArray
    energy_share_by_level: FloatArray
    seasons: tuple[SeasonIrradiation, ...]


@dataclass(frozen=True, slots=True, eq=False)
class HorizontalClimate:
    """Irradiation of the horizontal and air temperature, by month."""

    ghi_kwh_m2_by_month: FloatArray
    ghi_kwh_m2: Range
    diffuse_share: float
    temp_air_c_by_month: FloatArray


def horizontal_climate(conditions: Conditions, climate: ClimateUsed) -> HorizontalClimate:
    """Monthly irradiation of the horizontal and mean air temperature."""
    ghi_kwh_m2 = by_month(conditions.month, conditions.ghi_w_m2 * conditions.weight_h) / 1000.0
    dhi_kwh_m2 = float(conditions.dhi_w_m2 @ conditions.weight_h) / 1000.0
    hours = by_month(conditions.month, conditions.weight_h)
    total_kwh_m2 = float(ghi_kwh_m2.sum())
    return HorizontalClimate(
        ghi_kwh_m2_by_month=ghi_kwh_m2,
        ghi_kwh_m2=single_year(total_kwh_m2, climate),
        diffuse_share=min(dhi_kwh_m2 / total_kwh_m2, 1.0) if total_kwh_m2 > 0.0 else 1.0,
        temp_air_c_by_month=by_month(conditions.month, conditions.temp_air_c * conditions.weight_h) / hours,
    )


def single_year(value: float, climate: ClimateUsed) -> Range:
    """A yearly figure with the range of single years, wider by the error of the weather's long-term level where known."""
    error_share = climate.level_error_share
    half_width = NORMAL_QUANTILE_90 * hypot(SINGLE_YEAR_SIGMA_SHARE, error_share or 0.0) * value
    level = LEVEL_UNKNOWN if error_share is None else LEVEL_ERROR(share=error_share)
    covers = SINGLE_YEAR_COVERS(share=SINGLE_YEAR_SIGMA_SHARE, source=SINGLE_YEAR_SOURCE, level=level)
    return Range(value, value - half_width, value + half_width, covers)


def face_climate(cache: FaceCache, face: Face, request: SiteClimateRequest) -> FaceClimate:
    """Irradiation of a face by month, level and season.

    Raises
    ------
    DatasheetError
        A module that no single diode can represent.
    """
    conditions, plane = cache.conditions, cache.plane(face)
    energy_wh_m2 = plane.poa_global_w_m2 * conditions.weight_h
    monthly_kwh_m2 = by_month(conditions.month, energy_wh_m2) / 1000.0
    level = np.minimum((plane.poa_global_w_m2 // LEVEL_STEP_W_M2).astype(np.int64), LEVEL_COUNT - 1)
    by_level_wh_m2 = np.bincount(level, weights=energy_wh_m2, minlength=LEVEL_COUNT)
    total_wh_m2 = float(energy_wh_m2.sum())
    return FaceClimate(
        face=face.name,
        poa_kwh_m2_by_month=monthly_kwh_m2,
        poa_kwh_m2=single_year(float(monthly_kwh_m2.sum()), cache.year.climate),
        level_lower_edges_w_m2=LEVEL_STEP_W_M2 * np.arange(LEVEL_COUNT, dtype=np.float64),
        energy_share_by_level=by_level_wh_m2 / total_wh_m2 if total_wh_m2 > 0.0 else np.zeros(LEVEL_COUNT),
        seasons=_seasons(cache, face, request),
    )


def _seasons(cache: FaceCache, face: Face, request: SiteClimateRequest) -> tuple[SeasonIrradiation, ...]:
    conditions, plane, response = cache.conditions, cache.plane(face), None
    if request.module is not None:
        try:
            parameters = fit(request.module)
        except DatasheetError as error:
            raise error.within("module") from error
        response = cache.response(face, parameters, request.module.bifaciality)
    energy_wh_m2 = plane.poa_global_w_m2 * conditions.weight_h
    gain = 1.0 if request.module is None else rear_gain(request.module.bifaciality, face)
    return tuple(
        _season(name, np.isin(conditions.month, months), plane.poa_global_w_m2, energy_wh_m2, response, request, gain)
        for name, months in SEASONS.items()
    )


def _season(
    name: str,
    in_season: BoolArray,
    irradiance_w_m2: FloatArray,
    energy_wh_m2: FloatArray,
    response: DcResponse | None,
    request: SiteClimateRequest,
    gain: float,
) -> SeasonIrradiation:
    total_wh_m2 = float(energy_wh_m2[in_season].sum())
    if total_wh_m2 <= 0.0:
        return SeasonIrradiation(name, 0.0, 0.0, None, None, ())
    mean_w_m2 = float(energy_wh_m2[in_season] @ irradiance_w_m2[in_season]) / total_wh_m2
    if response is None or request.module is None:
        return SeasonIrradiation(name, total_wh_m2 / 1000.0, mean_w_m2, None, None, ())
    lit = np.isin(response.month, SEASONS[name])
    if not lit.any():
        # Twilight, or shading that leaves the cells in the dark.
        return SeasonIrradiation(name, total_wh_m2 / 1000.0, mean_w_m2, None, None, ())
    weight = (response.irradiance_w_m2 * response.weight_h)[lit]
    temp_cell_c = float(weight @ response.temp_cell_c[lit]) / float(weight.sum())
    curve = curve_at(fit(request.module), irradiance_w_m2=mean_w_m2 * gain, cell_temp_c=temp_cell_c)
    power_w = float(maximum_power(curve).power_w[0])
    ratios = tuple(
        RatioAtIrradiance(each.name, power_w / each.per_module(request.input_wiring).ac_power_w)
        for each in request.microinverters
    )
    return SeasonIrradiation(name, total_wh_m2 / 1000.0, mean_w_m2, temp_cell_c, power_w, ratios)


@dataclass(frozen=True, slots=True, eq=False)
class SiteClimateResult(Result):
    """Irradiation and air temperature of the site, then each face in the order of the request."""

    climate: ClimateUsed
    horizontal: HorizontalClimate
    linke_turbidity_by_month: tuple[float, ...] | None
    design_temperatures: DesignTemperatures
    nearest_station: StationUsed | None
    faces: tuple[FaceClimate, ...]


def site_climate(request: SiteClimateRequest, year: SiteYear, *, cache: FaceCache | None = None) -> SiteClimateResult:
    """Irradiation, air temperature and DC/AC ratios of a year at a site.

    Parameters
    ----------
    request : SiteClimateRequest
        Faces, module and microinverters.
    year : SiteYear
        The site's.
    cache : FaceCache, optional
        For this year and the request's transposition, to share results with other calculations.

    Raises
    ------
    DatasheetError
        A module that no single diode can represent.
    """
    cache = cache or FaceCache(year, request.transposition)
    transposed = (methods.TRANSPOSITIONS[request.transposition],) if request.faces else ()
    with_module = (methods.CELL_TEMPERATURE, methods.SINGLE_DIODE) if request.module and request.faces else ()
    return SiteClimateResult(
        climate=year.climate,
        horizontal=horizontal_climate(year.conditions, year.climate),
        linke_turbidity_by_month=year.linke_turbidity_by_month,
        design_temperatures=year.design_temperatures,
        nearest_station=year.nearest_station,
        faces=tuple(face_climate(cache, face, request) for face in request.faces),
        cautions=(cautions.YIELD,),
        unused=SHADE_FIELDS,
        method=(*transposed, *with_module),
    )

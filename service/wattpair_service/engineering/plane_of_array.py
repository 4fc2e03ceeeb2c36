"""Light on a face: transposition, own horizon, reflection at the glass, soiling.

Neglected: spectrum, snow, reflections from neighbouring buildings, light on a bifacial module's back, and shading by
near objects other than by a flat share or the face's horizon (which takes beam, not diffuse light).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
import pvlib

from wattpair_service.engineering.conditions import Conditions

FloatArray = npt.NDArray[np.float64]
Transposition = Literal["perez_1990", "hay_davies_1980", "isotropic"]

# Angular loss coefficient of clean glass, Martin and Ruiz 2001, 10.1016/S0927-0248(00)00408-6.
MARTIN_RUIZ_A_R = 0.16


@dataclass(frozen=True, slots=True)
class HorizonPoint:
    """Height of the horizon seen from the face in one direction."""

    azimuth_deg: float
    elevation_deg: float


@dataclass(frozen=True, slots=True)
class Face:
    """One roof plane and how it is used.

    `azimuth_deg` is clockwise from north (180 = south). `shading_share` and `soiling_share` (0-1) take that share of all
    light; `horizon`, in order of azimuth, takes the beam while the sun stands below it.
    """

    name: str
    tilt_deg: float
    azimuth_deg: float
    module_count: int
    mounting: str
    shading_share: float
    soiling_share: float
    albedo: float
    horizon: tuple[HorizonPoint, ...]


@dataclass(frozen=True, slots=True, eq=False)
class PlaneOfArray:
    """Light on a face at each condition [W/m2].

    `global_w_m2` falls on the glass, after the horizon and before any other loss; `effective_w_m2` is what reaches the
    cells.
    """

    global_w_m2: FloatArray
    effective_w_m2: FloatArray


def plane_of_array(conditions: Conditions, face: Face, *, transposition: Transposition) -> PlaneOfArray:
    """Light on a face at each condition.

    Parameters
    ----------
    conditions : Conditions
        n points.
    face : Face
        Tilt 0 to 90 [deg].
    transposition : str
        `perez_1990` (Perez et al. 1990, 10.1016/0038-092X(90)90055-H, all-sites coefficients), `hay_davies_1980` (Hay and
        Davies 1980) or `isotropic` (Hottel and Woertz 1942).

    Returns
    -------
    PlaneOfArray
        Arrays of length n, never negative or NaN.
    """
    lit = (conditions.ghi_w_m2 > 0.0) | (conditions.dni_w_m2 > 0.0) | (conditions.dhi_w_m2 > 0.0)
    if lit.all():
        return _lit_plane(conditions, face, transposition)
    day, plane = _lit_plane(conditions.where(lit), face, transposition), PlaneOfArray(*np.zeros((2, lit.size)))
    plane.global_w_m2[lit], plane.effective_w_m2[lit] = day.global_w_m2, day.effective_w_m2
    return plane


def _lit_plane(conditions: Conditions, face: Face, transposition: Transposition) -> PlaneOfArray:
    tilt, azimuth = face.tilt_deg, face.azimuth_deg
    incidence_deg = pvlib.irradiance.aoi(tilt, azimuth, conditions.zenith_deg, conditions.azimuth_deg)
    clear = ~_behind_horizon(conditions, face.horizon)
    beam = np.where(clear, conditions.dni_w_m2 * np.maximum(np.cos(np.radians(incidence_deg)), 0.0), 0.0)
    around_sun, rest_of_sky = _sky_diffuse(conditions, tilt, azimuth, transposition)
    around_sun = np.where(clear, around_sun, 0.0)
    ground = pvlib.irradiance.get_ground_diffuse(tilt, conditions.ghi_w_m2, face.albedo)
    diffuse_factor = pvlib.iam.martin_ruiz_diffuse(tilt, a_r=MARTIN_RUIZ_A_R)
    # Its ground term is 0/0 below a millionth of a degree, where no light comes from the ground.
    ground_factor = np.nan_to_num(diffuse_factor["ground"])
    direct_factor = pvlib.iam.martin_ruiz(incidence_deg, a_r=MARTIN_RUIZ_A_R)
    through_glass = (beam + around_sun) * direct_factor + rest_of_sky * diffuse_factor["sky"] + ground * ground_factor
    kept = (1.0 - face.shading_share) * (1.0 - face.soiling_share)
    return PlaneOfArray(
        global_w_m2=beam + around_sun + rest_of_sky + ground,
        effective_w_m2=through_glass * kept,
    )


def _sky_diffuse(
    conditions: Conditions, tilt_deg: float, azimuth_deg: float, transposition: Transposition
) -> tuple[FloatArray, FloatArray]:
    """Diffuse light from around the sun and from the rest of the sky [W/m2], each not negative."""
    dhi, dni, extra = conditions.dhi_w_m2, conditions.dni_w_m2, conditions.dni_extra_w_m2
    zenith, sun_azimuth = conditions.zenith_deg, conditions.azimuth_deg
    if transposition == "isotropic":
        return np.zeros_like(dhi), pvlib.irradiance.isotropic(tilt_deg, dhi)
    if transposition == "hay_davies_1980":
        parts = pvlib.irradiance.haydavies(tilt_deg, azimuth_deg, dhi, dni, extra, zenith, sun_azimuth, return_components=True)
        around_sun = np.nan_to_num(parts["poa_circumsolar"])
        return around_sun, np.nan_to_num(parts["poa_isotropic"])
    airmass = pvlib.atmosphere.get_relative_airmass(np.minimum(zenith, 89.0))
    # Perez's coefficients divide by the diffuse irradiance: a dark sky is set apart.
    lit = dhi > 0.0
    parts = pvlib.irradiance.perez(
        tilt_deg, azimuth_deg, np.where(lit, dhi, 1.0), dni, extra, zenith, sun_azimuth, airmass, return_components=True
    )
    around_sun = np.where(lit, np.maximum(parts["poa_circumsolar"], 0.0), 0.0)
    total = np.where(lit, np.maximum(parts["poa_sky_diffuse"], 0.0), 0.0)
    return np.minimum(around_sun, total), np.maximum(total - around_sun, 0.0)


def _behind_horizon(conditions: Conditions, horizon: tuple[HorizonPoint, ...]) -> npt.NDArray[np.bool_]:
    if not horizon:
        return np.zeros(conditions.zenith_deg.shape, dtype=bool)
    height = np.interp(
        conditions.azimuth_deg,
        [point.azimuth_deg for point in horizon],
        [point.elevation_deg for point in horizon],
        period=360.0,
    )
    return np.asarray(90.0 - conditions.zenith_deg < height)

"""Irradiance by direction of origin at each moment, independent of any face: computed once for all faces of a roof."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pvlib

from wattpair_service.engineering.arrays import FloatArray

Transposition = Literal["perez_1990", "hay_davies_1980", "isotropic"]

# Perez et al. 1990, 10.1016/0038-092X(90)90055-H: lower edges of the classes of the sky's clearness, and the coefficients of
# its all-sites composite, a row for each class. The first three give the brightness around the sun, the others that of the
# band above the horizon: constant, by the sky's brightness, by the sun's zenith.
CLEARNESS_EDGES = (1.065, 1.23, 1.5, 1.95, 2.8, 4.5, 6.2)
BRIGHTNESS = np.array(
    [
        [-0.008, 0.588, -0.062, -0.060, 0.072, -0.022],
        [0.130, 0.683, -0.151, -0.019, 0.066, -0.029],
        [0.330, 0.487, -0.221, 0.055, -0.064, -0.026],
        [0.568, 0.187, -0.295, 0.109, -0.152, -0.014],
        [0.873, -0.392, -0.362, 0.226, -0.462, 0.001],
        [1.132, -1.237, -0.412, 0.288, -0.823, 0.056],
        [1.060, -1.600, -0.359, 0.264, -1.127, 0.131],
        [0.678, -0.327, -0.250, 0.156, -1.377, 0.251],
    ]
)
CLEARNESS_KAPPA = 1.041
AIRMASS_ZENITH_MAX_DEG = 89.0
LOWEST_COSINE_PEREZ = float(np.cos(np.radians(85.0)))
LOWEST_COSINE_HAY_DAVIES = 0.01745
"""Lower bound of the cosine of the zenith: circumsolar irradiance would grow without bound as the sun nears the horizon."""


@dataclass(frozen=True, slots=True, eq=False)
class Sun:
    """Sun at n moments: angles, unit vector, and extraterrestrial normal irradiance [W/m2]."""

    zenith_deg: FloatArray
    azimuth_deg: FloatArray
    extra_w_m2: FloatArray
    east: FloatArray
    north: FloatArray
    up: FloatArray

    @classmethod
    def of(cls, *, zenith_deg: FloatArray, azimuth_deg: FloatArray, extra_w_m2: FloatArray) -> Sun:
        """From its angles, azimuth clockwise from north."""
        zenith, azimuth = np.radians(zenith_deg), np.radians(azimuth_deg)
        horizontal = np.sin(zenith)
        vector = horizontal * np.sin(azimuth), horizontal * np.cos(azimuth), np.cos(zenith)
        return cls(zenith_deg, azimuth_deg, extra_w_m2, *vector)


@dataclass(frozen=True, slots=True, eq=False)
class Sky:
    """Irradiance by direction of origin [W/m2].

    Attributes
    ----------
    beam, around_sun : array
        Beam and circumsolar, on a plane normal to the beam.
    dome : array
        From the isotropic part of the sky, on a horizontal plane.
    band : array
        From the horizon band, on a vertical plane; negative where the sky is darker there.
    whole : array
        Global horizontal; the ground reflects a part of it.
    """

    beam: FloatArray
    around_sun: FloatArray
    dome: FloatArray
    band: FloatArray
    whole: FloatArray


def sky(sun: Sun, *, ghi_w_m2: FloatArray, dni_w_m2: FloatArray, dhi_w_m2: FloatArray, transposition: Transposition) -> Sky:
    """Irradiance of the sky by direction of origin.

    Parameters
    ----------
    sun : Sun
        At n moments.
    ghi_w_m2, dni_w_m2, dhi_w_m2 : array, shape (..., n)
        Global horizontal, direct normal and diffuse horizontal irradiance [W/m2], not negative.
    transposition : str
        `perez_1990` (Perez et al. 1990, 10.1016/0038-092X(90)90055-H, all-sites coefficients), `hay_davies_1980` (Hay and
        Davies 1980) or `isotropic` (Hottel and Woertz 1942).
    """
    if transposition == "isotropic":
        zero = np.zeros_like(dhi_w_m2)
        return Sky(dni_w_m2, zero, dhi_w_m2, zero, ghi_w_m2)
    if transposition == "hay_davies_1980":
        share = dni_w_m2 / sun.extra_w_m2
        around = dhi_w_m2 * share / np.maximum(sun.up, LOWEST_COSINE_HAY_DAVIES)
        return Sky(dni_w_m2, around, np.maximum(dhi_w_m2 * (1.0 - share), 0.0), np.zeros_like(dhi_w_m2), ghi_w_m2)
    around_share, band_share = _perez_shares(sun, dni_w_m2, dhi_w_m2)
    around = dhi_w_m2 * around_share
    return Sky(
        beam=dni_w_m2,
        around_sun=around / np.maximum(sun.up, LOWEST_COSINE_PEREZ),
        dome=dhi_w_m2 - around,
        band=dhi_w_m2 * band_share,
        whole=ghi_w_m2,
    )


def _perez_shares(sun: Sun, dni_w_m2: FloatArray, dhi_w_m2: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Shares of the diffuse irradiance that are circumsolar, and from the horizon band."""
    zenith = np.radians(sun.zenith_deg)
    airmass = pvlib.atmosphere.get_relative_airmass(np.minimum(sun.zenith_deg, AIRMASS_ZENITH_MAX_DEG))
    brightness = dhi_w_m2 * (airmass / sun.extra_w_m2)
    by_zenith = CLEARNESS_KAPPA * zenith * zenith * zenith
    # Without diffuse irradiance the shares do not matter, but must be finite.
    diffuse = np.where(dhi_w_m2 > 0.0, dhi_w_m2, 1.0)
    clearness = ((dhi_w_m2 + dni_w_m2) / diffuse + by_zenith) / (1.0 + by_zenith)
    clearness_class = np.zeros(clearness.shape, dtype=np.int8)
    for edge in CLEARNESS_EDGES:
        clearness_class += clearness >= edge
    around, by_brightness, by_angle, band, band_by_brightness, band_by_angle = np.take(BRIGHTNESS.T, clearness_class, axis=1)
    around_share = np.maximum(around + by_brightness * brightness + by_angle * zenith, 0.0)
    return around_share, band + band_by_brightness * brightness + band_by_angle * zenith

"""Irradiance on a face: transposition, reflection at the glass, a flat share of shading, soiling.

Shade by the horizon and by objects enters after it, as factors on the parts of the irradiance; see the package `shade`.
Neglected: spectrum, snow, reflections from objects. A bifacial module's back: `module.rear_irradiance`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt
import pvlib

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.sky import Sky, Sun, Transposition, sky
from wattpair_service.engineering.shade.scene import Shade

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

    `azimuth_deg` is clockwise from north (180 = south). `shading_share` and `soiling_share` (0-1) are shares lost of all
    effective irradiance; `horizon`, in order of azimuth, and `shade` are what stands before the sky. `rear_irradiance_share` is
    the irradiance on the back over the front's (0-1); None for that of the mounting.
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
    rear_irradiance_share: float | None = None
    shade: Shade | None = None

    @property
    def is_shaded(self) -> bool:
        """Whether a horizon or an object stands before the sky."""
        return bool(self.horizon) or (self.shade is not None and self.shade.is_anything)


@dataclass(frozen=True, slots=True, eq=False)
class PlaneOfArray:
    """Irradiance on a face at each condition [W/m2].

    `poa_global_w_m2` is on the glass, before any loss; `effective_irradiance_w_m2` is on the cells, before shade by the horizon
    and by objects.
    """

    poa_global_w_m2: FloatArray
    effective_irradiance_w_m2: FloatArray


def plane_of_array(conditions: Conditions, face: Face, *, transposition: Transposition) -> PlaneOfArray:
    """Irradiance on one face; see `planes_of_array`."""
    return planes_of_array(conditions, (face,), transposition=transposition)[0]


def planes_of_array(conditions: Conditions, faces: Sequence[Face], *, transposition: Transposition) -> tuple[PlaneOfArray, ...]:
    """Irradiance on each face at each condition; all faces are computed together.

    Parameters
    ----------
    conditions : Conditions
        n points.
    faces : sequence of Face
        Tilt 0 to 90 [deg].
    transposition : str
        Model of the diffuse irradiance; see `sky`.

    Returns
    -------
    tuple of PlaneOfArray
        One for each face: arrays of length n, never negative or NaN.
    """
    lit = np.flatnonzero((conditions.ghi_w_m2 > 0.0) | (conditions.dni_w_m2 > 0.0) | (conditions.dhi_w_m2 > 0.0))
    sun = sun_over(conditions, lit)
    lit_planes = irradiance_on_faces(
        faces,
        sun,
        sky(
            sun,
            ghi_w_m2=conditions.ghi_w_m2[lit],
            dni_w_m2=conditions.dni_w_m2[lit],
            dhi_w_m2=conditions.dhi_w_m2[lit],
            transposition=transposition,
        ),
    )
    poa_w_m2, effective_w_m2 = np.zeros((2, len(faces), conditions.ghi_w_m2.size))
    poa_w_m2[:, lit], effective_w_m2[:, lit] = lit_planes.poa_global_w_m2, lit_planes.effective_irradiance_w_m2
    return tuple(PlaneOfArray(*rows) for rows in zip(poa_w_m2, effective_w_m2, strict=True))


def sun_over(conditions: Conditions, index: IntArray) -> Sun:
    """The sun at some of the conditions."""
    return Sun.of(
        zenith_deg=conditions.zenith_deg[index],
        azimuth_deg=conditions.azimuth_deg[index],
        extra_w_m2=conditions.dni_extra_w_m2[index],
    )


def irradiance_on_faces(faces: Sequence[Face], sun: Sun, sky_irradiance: Sky) -> PlaneOfArray:
    """Irradiance on each face from a sky.

    Parameters
    ----------
    faces : sequence of Face
    sun : Sun
        At n moments.
    sky_irradiance : Sky
        Arrays of shape (..., n) under that sun.

    Returns
    -------
    PlaneOfArray
        Arrays of shape (faces, ..., n).
    """
    return plane_parts(faces, sun, sky_irradiance).seen()


@dataclass(frozen=True, slots=True, eq=False)
class PlaneParts:
    """Irradiance on the glass of each face by its origin [W/m2], and the transmission of clean glass for it (0-1).

    Arrays broadcast to (faces, ..., n). `band` may be negative.
    """

    beam: FloatArray
    around_sun: FloatArray
    dome: FloatArray
    band: FloatArray
    ground: FloatArray
    direct_transmission: FloatArray
    sky_transmission: FloatArray
    ground_transmission: FloatArray
    unshaded_clean_share: FloatArray

    def seen(
        self,
        beam_factor: FloatArray | float = 1.0,
        dome_factor: FloatArray | float = 1.0,
        band_factor: FloatArray | float = 1.0,
    ) -> PlaneOfArray:
        """Irradiance where these shares of beam with circumsolar, sky dome and horizon band arrive (0-1)."""
        diffuse = self.dome * dome_factor + self.band * band_factor
        # The band may be negative: the sum of the diffuse parts, not each of them, is kept from falling below zero.
        around_sun = np.maximum(self.around_sun * beam_factor + np.minimum(diffuse, 0.0), 0.0)
        diffuse = np.maximum(diffuse, 0.0)
        direct = self.beam * beam_factor + around_sun
        effective = direct * self.direct_transmission + diffuse * self.sky_transmission
        effective = effective + self.ground * self.ground_transmission
        return PlaneOfArray(direct + diffuse + self.ground, effective * self.unshaded_clean_share)

    def of_face(self, face: int) -> PlaneParts:
        """The parts of one face, all of one shape."""
        return self._each(lambda values: np.broadcast_to(values, self.beam.shape)[face])

    def at_points(self, index: IntArray) -> PlaneParts:
        """Of one face, at some of its points."""
        return self._each(lambda values: values[index])

    @classmethod
    def joined(cls, several: Sequence[PlaneParts]) -> PlaneParts:
        """The points of one after those of another, of one face."""
        return cls(*(np.concatenate([getattr(parts, each.name) for parts in several]) for each in fields(cls)))

    def _each(self, change: Callable[[FloatArray], FloatArray]) -> PlaneParts:
        return PlaneParts(*(change(getattr(self, each.name)) for each in fields(self)))


def plane_parts(faces: Sequence[Face], sun: Sun, sky_irradiance: Sky) -> PlaneParts:
    """The parts of `irradiance_on_faces`."""

    def of_faces(values: npt.ArrayLike) -> FloatArray:
        by_face = np.asarray(values, dtype=np.float64)
        return by_face.reshape(len(faces), *(1,) * (sky_irradiance.dome.ndim - by_face.ndim + 1), *by_face.shape[1:])

    tilt_deg = np.array([face.tilt_deg for face in faces])
    cos_tilt, sin_tilt = np.cos(np.radians(tilt_deg)), np.sin(np.radians(tilt_deg))
    glass = pvlib.iam.martin_ruiz_diffuse(tilt_deg, a_r=MARTIN_RUIZ_A_R)
    cosine = np.stack([_incidence_cosine(face, sun) for face in faces])
    incidence_cosine = of_faces(cosine)
    return PlaneParts(
        beam=sky_irradiance.beam * incidence_cosine,
        around_sun=sky_irradiance.around_sun * incidence_cosine,
        dome=sky_irradiance.dome * of_faces((1.0 + cos_tilt) / 2.0),
        band=sky_irradiance.band * of_faces(sin_tilt),
        ground=sky_irradiance.whole * of_faces([face.albedo for face in faces] * (1.0 - cos_tilt) / 2.0),
        direct_transmission=of_faces(_direct_factor(cosine)),
        sky_transmission=of_faces(glass["sky"]),
        # 0/0 below a millionth of a degree of tilt, where the ground reflects nothing onto the face.
        ground_transmission=of_faces(np.nan_to_num(glass["ground"])),
        unshaded_clean_share=of_faces([(1.0 - face.shading_share) * (1.0 - face.soiling_share) for face in faces]),
    )


def _incidence_cosine(face: Face, sun: Sun) -> FloatArray:
    """Cosine of the sun's angle of incidence, 0 where the sun is behind the face."""
    tilt, azimuth = np.radians(face.tilt_deg), np.radians(face.azimuth_deg)
    horizontal = np.cos(azimuth) * sun.north + np.sin(azimuth) * sun.east
    return np.asarray(np.maximum(np.cos(tilt) * sun.up + np.sin(tilt) * horizontal, 0.0))


def _direct_factor(cosine: FloatArray) -> FloatArray:
    """Transmission of clean glass at an angle of incidence over that at normal incidence (0-1)."""
    return np.asarray(np.expm1(-cosine / MARTIN_RUIZ_A_R) / np.expm1(-1.0 / MARTIN_RUIZ_A_R))

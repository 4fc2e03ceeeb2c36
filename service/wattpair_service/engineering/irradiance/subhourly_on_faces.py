"""Subhourly states on the faces: power and effective irradiance of each state over the hour's mean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face, PlaneOfArray, irradiance_on_faces, sun_over
from wattpair_service.engineering.irradiance.sky import Transposition, sky
from wattpair_service.engineering.irradiance.subhourly import (
    STATES,
    SubhourlyStates,
    power_ratios,
    state_irradiance,
)
from wattpair_service.engineering.module.cell_temperature import cell_temperature

_SHADE_AND_SUN = slice(0, 3, 2)  # shade and sun; the even state is the interval itself


@dataclass(frozen=True, slots=True, eq=False)
class FaceStates:
    """Subhourly states of a face; `index` counts in the conditions' order, the other arrays have shape (m, 3).

    `power_ratio` and `irradiance_ratio` are power and effective irradiance over the interval's mean, each with a weighted mean
    of 1.
    """

    index: IntArray
    weight: FloatArray
    power_ratio: FloatArray
    irradiance_ratio: FloatArray


def states_on_faces(
    conditions: Conditions,
    planes: Sequence[PlaneOfArray],
    states: SubhourlyStates,
    *,
    faces: Sequence[Face],
    transposition: Transposition,
    power_coefficient_per_k: float,
) -> tuple[FaceStates, ...]:
    """Subhourly states on each face; sun and shade are transposed, the even state is the interval's own irradiance.

    Parameters
    ----------
    conditions, planes, states
        Of the same n intervals; a plane for each face.
    faces : sequence of Face
    transposition : str
        As for `planes`.
    power_coefficient_per_k : float
        Relative change of the module's power [1/K], negative.
    """
    index, irradiance, sun = states.index, state_irradiance(conditions, states), sun_over(conditions, states.index)
    shade_and_sun_sky = sky(
        sun,
        ghi_w_m2=irradiance.ghi_w_m2.T[_SHADE_AND_SUN],
        dni_w_m2=irradiance.dni_w_m2.T[_SHADE_AND_SUN],
        dhi_w_m2=irradiance.dhi_w_m2.T[_SHADE_AND_SUN],
        transposition=transposition,
    )
    on_faces = irradiance_on_faces(faces, sun, shade_and_sun_sky)
    poa_global_w_m2 = _with_even(on_faces.poa_global_w_m2, [plane.poa_global_w_m2[index] for plane in planes])
    effective_w_m2 = _with_even(
        on_faces.effective_irradiance_w_m2, [plane.effective_irradiance_w_m2[index] for plane in planes]
    )
    temp_air_c, wind_speed_m_s = conditions.temp_air_c[index], conditions.wind_speed_m_s[index]
    temp_cell_c = np.empty_like(poa_global_w_m2)
    for number, face in enumerate(faces):
        temp_cell_c[number] = cell_temperature(
            mounting=face.mounting,
            irradiance_w_m2=poa_global_w_m2[number],
            temp_air_c=temp_air_c,
            wind_speed_m_s=wind_speed_m_s,
        )
    weight = states.weight.T
    power_ratio, irradiance_ratio = (
        power_ratios(
            weight=weight,
            effective_irradiance_w_m2=effective_w_m2,
            temp_cell_c=temp_cell_c,
            power_coefficient_per_k=coefficient_per_k,
        )
        for coefficient_per_k in (power_coefficient_per_k, 0.0)
    )
    return tuple(FaceStates(index, states.weight, *ratios) for ratios in zip(power_ratio.mT, irradiance_ratio.mT, strict=True))


def _with_even(shade_and_sun: FloatArray, even: Sequence[FloatArray]) -> FloatArray:
    """Values of shade, even and sun, shape (faces, 3, m)."""
    faces, _, intervals = shade_and_sun.shape
    values = np.empty((faces, STATES, intervals))
    values[:, _SHADE_AND_SUN], values[:, 1] = shade_and_sun, even
    return values

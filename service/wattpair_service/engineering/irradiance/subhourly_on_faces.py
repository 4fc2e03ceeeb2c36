"""The states of the hours that swing, seen from the faces: their power over the hour's own."""

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
    """States of a face; `index` counts in the conditions' order, the rest has shape (m, 3).

    `power_ratio` and `light_ratio` are power and effective irradiance over the interval's own, each with a weighted mean of 1
    (current at maximum power goes with the light).
    """

    index: IntArray
    weight: FloatArray
    power_ratio: FloatArray
    light_ratio: FloatArray


def states_on_faces(
    conditions: Conditions,
    planes: Sequence[PlaneOfArray],
    states: SubhourlyStates,
    *,
    faces: Sequence[Face],
    transposition: Transposition,
    power_coefficient_per_k: float,
) -> tuple[FaceStates, ...]:
    """Carry the states to each face: each is transposed by itself, the even one is what the plane already holds.

    Parameters
    ----------
    conditions, planes, states
        Of the same n hours; a plane for each face.
    faces : sequence of Face
        Give horizon and mounting.
    transposition : str
        As for `planes`.
    power_coefficient_per_k : float
        Relative change of the module's power [1/K], negative.
    """
    at, irradiance, sun = states.index, state_irradiance(conditions, states), sun_over(conditions, states.index)
    changed = sky(
        sun,
        ghi_w_m2=irradiance.ghi_w_m2.T[_SHADE_AND_SUN],
        dni_w_m2=irradiance.dni_w_m2.T[_SHADE_AND_SUN],
        dhi_w_m2=irradiance.dhi_w_m2.T[_SHADE_AND_SUN],
        transposition=transposition,
    )
    seen = irradiance_on_faces(faces, sun, changed)
    poa_global_w_m2 = _with_even(seen.poa_global_w_m2, [plane.poa_global_w_m2[at] for plane in planes])
    effective = _with_even(seen.effective_irradiance_w_m2, [plane.effective_irradiance_w_m2[at] for plane in planes])
    temp_air_c, wind_speed_m_s = conditions.temp_air_c[at], conditions.wind_speed_m_s[at]
    temp_c = np.empty_like(poa_global_w_m2)
    for number, face in enumerate(faces):
        temp_c[number] = cell_temperature(
            mounting=face.mounting,
            irradiance_w_m2=poa_global_w_m2[number],
            temp_air_c=temp_air_c,
            wind_speed_m_s=wind_speed_m_s,
        )
    weight = states.weight.T
    power = power_ratios(
        weight=weight, effective_irradiance_w_m2=effective, temp_cell_c=temp_c, power_coefficient_per_k=power_coefficient_per_k
    )
    light = power_ratios(weight=weight, effective_irradiance_w_m2=effective, temp_cell_c=temp_c, power_coefficient_per_k=0.0)
    return tuple(FaceStates(at, states.weight, *ratios) for ratios in zip(power.mT, light.mT, strict=True))


def _with_even(changed: FloatArray, even: Sequence[FloatArray]) -> FloatArray:
    """States in their order, shape (faces, 3, m)."""
    faces, _, hours = changed.shape
    found = np.empty((faces, STATES, hours))
    found[:, _SHADE_AND_SUN], found[:, 1] = changed, even
    return found

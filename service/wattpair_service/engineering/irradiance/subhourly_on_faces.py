"""The states of the hours that swing, seen from the faces: their power over the hour's own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face, PlaneOfArray, light_on, sun_over
from wattpair_service.engineering.irradiance.sky import Transposition, sky
from wattpair_service.engineering.irradiance.subhourly import (
    STATES,
    IntraHourSpread,
    power_ratios,
    state_irradiance,
)
from wattpair_service.engineering.module.cell_temperature import cell_temperature

_SWINGING = slice(0, 3, 2)  # shade and sun; the even state is the interval itself


@dataclass(frozen=True, slots=True, eq=False)
class FaceSpread:
    """States of a face; `index` counts in the conditions' order, the rest has shape (m, 3).

    `power_ratio` and `light_ratio` are power and effective irradiance over the interval's own, each with a weighted mean of 1
    (current at maximum power goes with the light).
    """

    index: IntArray
    weight: FloatArray
    power_ratio: FloatArray
    light_ratio: FloatArray


def face_spreads(
    conditions: Conditions,
    planes: Sequence[PlaneOfArray],
    spread: IntraHourSpread,
    *,
    faces: Sequence[Face],
    transposition: Transposition,
    power_coefficient_per_k: float,
) -> tuple[FaceSpread, ...]:
    """Carry the states to each face: each is transposed by itself, the even one is what the plane already holds.

    Parameters
    ----------
    conditions, planes, spread
        Of the same n hours; a plane for each face.
    faces : sequence of Face
        Give horizon and mounting.
    transposition : str
        As for `planes`.
    power_coefficient_per_k : float
        Relative change of the module's power [1/K], negative.
    """
    at, states, sun = spread.index, state_irradiance(conditions, spread), sun_over(conditions, spread.index)
    swinging = sky(
        sun,
        ghi_w_m2=states.ghi_w_m2.T[_SWINGING],
        dni_w_m2=states.dni_w_m2.T[_SWINGING],
        dhi_w_m2=states.dhi_w_m2.T[_SWINGING],
        transposition=transposition,
    )
    seen = light_on(faces, sun, swinging)
    global_w_m2 = _with_even(seen.global_w_m2, [plane.global_w_m2[at] for plane in planes])
    effective = _with_even(seen.effective_w_m2, [plane.effective_w_m2[at] for plane in planes])
    temp_air_c, wind_speed_m_s = conditions.temp_air_c[at], conditions.wind_speed_m_s[at]
    temp_c = np.empty_like(global_w_m2)
    for number, face in enumerate(faces):
        temp_c[number] = cell_temperature(
            mounting=face.mounting,
            irradiance_w_m2=global_w_m2[number],
            temp_air_c=temp_air_c,
            wind_speed_m_s=wind_speed_m_s,
        )
    weight = spread.weight.T
    power = power_ratios(
        weight=weight, effective_w_m2=effective, temp_cell_c=temp_c, power_coefficient_per_k=power_coefficient_per_k
    )
    light = power_ratios(weight=weight, effective_w_m2=effective, temp_cell_c=temp_c, power_coefficient_per_k=0.0)
    return tuple(FaceSpread(at, spread.weight, *ratios) for ratios in zip(power.mT, light.mT, strict=True))


def _with_even(swinging: FloatArray, even: Sequence[FloatArray]) -> FloatArray:
    """States in their order, shape (faces, 3, m)."""
    faces, _, hours = swinging.shape
    found = np.empty((faces, STATES, hours))
    found[:, _SWINGING], found[:, 1] = swinging, even
    return found

"""The states of the hours that swing, seen from one face: their power over the hour's own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.cell_temperature import cell_temperature
from wattpair_service.engineering.conditions import Conditions
from wattpair_service.engineering.intra_hour import (
    IntraHourSpread,
    power_ratios,
    state_irradiance,
)
from wattpair_service.engineering.plane_of_array import Face, PlaneOfArray, Transposition, plane_of_array

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_SWINGING = (0, 2)  # the columns shade and sun; the even state is the interval itself


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


def face_spread(
    conditions: Conditions,
    plane: PlaneOfArray,
    spread: IntraHourSpread,
    *,
    face: Face,
    transposition: Transposition,
    power_coefficient_per_k: float,
) -> FaceSpread:
    """Carry the states to a face: each is transposed by itself, the even one is what `plane` already holds.

    Parameters
    ----------
    conditions, plane, spread
        Of the same n hours.
    face : Face
        Gives horizon and mounting.
    transposition : str
        As for `plane`.
    power_coefficient_per_k : float
        Relative change of the module's power [1/K], negative.
    """
    at, states = spread.index, state_irradiance(conditions, spread)
    shape = (at.size, len(_SWINGING))

    def spread_out(values: FloatArray) -> FloatArray:
        return np.broadcast_to(values[at][:, None], shape).ravel()

    swinging = Conditions(
        zenith_deg=spread_out(conditions.zenith_deg),
        azimuth_deg=spread_out(conditions.azimuth_deg),
        ghi_w_m2=states.ghi_w_m2[:, _SWINGING].ravel(),
        dni_w_m2=states.dni_w_m2[:, _SWINGING].ravel(),
        dhi_w_m2=states.dhi_w_m2[:, _SWINGING].ravel(),
        dni_extra_w_m2=spread_out(conditions.dni_extra_w_m2),
        temp_air_c=spread_out(conditions.temp_air_c),
        wind_speed_m_s=spread_out(conditions.wind_speed_m_s),
        weight_h=spread_out(conditions.weight_h),
        month=np.repeat(conditions.month[at], len(_SWINGING)),
        hour=np.repeat(conditions.hour[at], len(_SWINGING)),
        sequence=np.repeat(conditions.sequence[at], len(_SWINGING)),
    )
    seen = plane_of_array(swinging, face, transposition=transposition)
    global_w_m2 = _with_even(seen.global_w_m2.reshape(shape), plane.global_w_m2[at])
    effective = _with_even(seen.effective_w_m2.reshape(shape), plane.effective_w_m2[at])
    temp_c = cell_temperature(
        mounting=face.mounting,
        irradiance_w_m2=global_w_m2,
        temp_air_c=conditions.temp_air_c[at][:, None],
        wind_speed_m_s=conditions.wind_speed_m_s[at][:, None],
    )
    power = power_ratios(
        weight=spread.weight, effective_w_m2=effective, temp_cell_c=temp_c, power_coefficient_per_k=power_coefficient_per_k
    )
    light = power_ratios(weight=spread.weight, effective_w_m2=effective, temp_cell_c=temp_c, power_coefficient_per_k=0.0)
    return FaceSpread(at, spread.weight, power, light)


def _with_even(swinging: FloatArray, even: FloatArray) -> FloatArray:
    return np.stack([swinging[:, 0], even, swinging[:, 1]], axis=1)

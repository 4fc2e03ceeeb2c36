"""What one module on a face could give at each condition: computed once, shared by every microinverter compared."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.cell_temperature import AIR_UNDER_MODULE_SHARE, cell_temperature
from wattpair_service.engineering.conditions import Conditions
from wattpair_service.engineering.face_spread import FaceSpread
from wattpair_service.engineering.plane_of_array import Face, PlaneOfArray
from wattpair_service.engineering.single_diode import (
    DiodeCurve,
    OperatingPoint,
    SixParameters,
    curve_at,
    maximum_power,
    open_circuit_voltage,
    select,
)

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

SUN_STATE = np.array([False, False, True])
"""Which of the columns shade, even and sun is the burst of sun."""

DARK_W_M2 = 1e-3
"""Effective irradiance up to which a face counts as dark: no module starts so low."""


@dataclass(frozen=True, slots=True, eq=False)
class DcResponse:
    """One module's DC side over the lit points of a year (arrays of equal length), and the hours that are dark.

    A point is a lit hour or, with the spread inside the hour, one of its states; see `with_states`.

    Attributes
    ----------
    curve : DiodeCurve
        Current-voltage curve at each point.
    maximum_power : OperatingPoint
        Power [W], voltage [V] and current [A] at the maximum power point.
    voltage_oc_v : array
        Open-circuit voltage [V].
    irradiance_w_m2 : array
        Global irradiance in the plane [W/m2].
    temp_cell_c, temp_under_module_c : array
        Cell temperature and temperature of the air at the microinverter [degC].
    weight_h : array
        Hours that each point stands for.
    month, hour : array of int
        Month 1 to 12, hour 0 to 23.
    interval : array of int
        Which lit hour the point belongs to, counted from 0.
    share : array
        Share of that hour that the point stands for (0-1).
    brief : array of bool
        Whether the point is a burst of sun between clouds, shorter than the hour.
    hour_power_w, hour_voltage_v, hour_weight_h : array
        Mean power [W] and voltage [V] at maximum power of each lit hour, and the hours that it stands for.
    dark_hours_by_month : array, shape (12,)
        Hours without light on the face.
    """

    curve: DiodeCurve
    maximum_power: OperatingPoint
    voltage_oc_v: FloatArray
    irradiance_w_m2: FloatArray
    temp_cell_c: FloatArray
    temp_under_module_c: FloatArray
    weight_h: FloatArray
    month: IntArray
    hour: IntArray
    interval: IntArray
    share: FloatArray
    brief: BoolArray
    hour_power_w: FloatArray
    hour_voltage_v: FloatArray
    hour_weight_h: FloatArray
    dark_hours_by_month: FloatArray

    @property
    def energy_weighted_irradiance_w_m2(self) -> float:
        """Mean in-plane irradiance, weighted with its own energy: the light at which the year's energy arrives [W/m2]."""
        energy = self.irradiance_w_m2 * self.weight_h
        total = float(energy.sum())
        return float(energy @ self.irradiance_w_m2) / total if total > 0 else 0.0


def dc_response(conditions: Conditions, plane: PlaneOfArray, *, face: Face, parameters: SixParameters) -> DcResponse:
    """DC side of one module on a face.

    Parameters
    ----------
    conditions, plane : Conditions, PlaneOfArray
        n points each, of the same face.
    face : Face
        Gives the mounting.
    parameters : SixParameters
        The module's fitted single diode.

    Returns
    -------
    DcResponse
        At the points where light reaches the cells, in the conditions' order.
    """
    lit = plane.effective_w_m2 > DARK_W_M2
    irradiance, temp_air = plane.global_w_m2[lit], conditions.temp_air_c[lit]
    temp_cell = cell_temperature(
        mounting=face.mounting,
        irradiance_w_m2=irradiance,
        temp_air_c=temp_air,
        wind_speed_m_s=conditions.wind_speed_m_s[lit],
    )
    curve = curve_at(parameters, irradiance_w_m2=plane.effective_w_m2[lit], cell_temp_c=temp_cell)
    count, best, weight_h = irradiance.size, maximum_power(curve), conditions.weight_h[lit]
    return DcResponse(
        curve=curve,
        maximum_power=best,
        voltage_oc_v=open_circuit_voltage(curve),
        irradiance_w_m2=irradiance,
        temp_cell_c=temp_cell,
        temp_under_module_c=temp_air + AIR_UNDER_MODULE_SHARE * (temp_cell - temp_air),
        weight_h=weight_h,
        month=conditions.month[lit],
        hour=conditions.hour[lit],
        interval=np.arange(count),
        share=np.ones(count),
        brief=np.zeros(count, dtype=bool),
        hour_power_w=best.power_w,
        hour_voltage_v=best.voltage_v,
        hour_weight_h=weight_h,
        dark_hours_by_month=by_month(conditions.month[~lit], conditions.weight_h[~lit]),
    )


def with_states(response: DcResponse, plane: PlaneOfArray, states: FaceSpread) -> DcResponse:
    """The same year with each swinging hour in its states: shade, even and sun.

    A state's power is the hour's times its ratio, so that the hour's own energy stays as it is; its voltage at maximum power is
    the hour's, its open-circuit voltage moves with the logarithm of the light.

    Parameters
    ----------
    response : DcResponse
        Hour by hour.
    plane : PlaneOfArray
        The light that it was computed from.
    states : FaceSpread
        Of the same face.
    """
    number = np.cumsum(plane.effective_w_m2 > DARK_W_M2) - 1
    seen = plane.effective_w_m2[states.index] > DARK_W_M2
    swinging = number[states.index[seen]]
    weight, power, light = (values[seen] for values in (states.weight, states.power_ratio, states.light_ratio))
    count = weight.shape[1]
    still = np.ones(response.weight_h.size, dtype=bool)
    still[swinging] = False
    at = np.concatenate([np.flatnonzero(still), np.repeat(swinging, count)])
    power_ratio, light_ratio, share = (
        np.concatenate([np.ones(int(still.sum())), values.ravel()]) for values in (power, np.maximum(light, 1e-6), weight)
    )
    best, curve = response.maximum_power, select(response.curve, at)
    return DcResponse(
        curve=replace(
            curve,
            photocurrent_a=curve.photocurrent_a * light_ratio,
            shunt_resistance_ohm=curve.shunt_resistance_ohm / light_ratio,
        ),
        maximum_power=OperatingPoint(
            power_w=best.power_w[at] * power_ratio, voltage_v=best.voltage_v[at], current_a=best.current_a[at] * power_ratio
        ),
        voltage_oc_v=response.voltage_oc_v[at] + curve.a_v * np.log(light_ratio),
        irradiance_w_m2=response.irradiance_w_m2[at] * light_ratio,
        temp_cell_c=response.temp_cell_c[at],
        temp_under_module_c=response.temp_under_module_c[at],
        weight_h=response.weight_h[at] * share,
        month=response.month[at],
        hour=response.hour[at],
        interval=at,
        share=share,
        brief=np.concatenate([np.zeros(int(still.sum()), dtype=bool), np.tile(SUN_STATE, swinging.size)]),
        hour_power_w=response.hour_power_w,
        hour_voltage_v=response.hour_voltage_v,
        hour_weight_h=response.hour_weight_h,
        dark_hours_by_month=response.dark_hours_by_month,
    )


def by_month(month: IntArray, values: FloatArray) -> FloatArray:
    """Sums of `values` for January to December, shape (12,)."""
    return np.bincount(month - 1, weights=values, minlength=12).astype(np.float64)

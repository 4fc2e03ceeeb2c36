"""What one module on a face could give at each condition: computed once, shared by every microinverter compared."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.cell_temperature import AIR_UNDER_MODULE_SHARE, cell_temperature
from wattpair_service.engineering.conditions import Conditions
from wattpair_service.engineering.plane_of_array import Face, PlaneOfArray
from wattpair_service.engineering.single_diode import (
    DiodeCurve,
    OperatingPoint,
    SixParameters,
    curve_at,
    maximum_power,
    open_circuit_voltage,
)

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

DARK_W_M2 = 1e-3
"""Effective irradiance up to which a face counts as dark: no module starts so low."""


@dataclass(frozen=True, slots=True, eq=False)
class DcResponse:
    """One module's DC side over the lit points of a year (arrays of equal length), and the hours that are dark.

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
    return DcResponse(
        curve=curve,
        maximum_power=maximum_power(curve),
        voltage_oc_v=open_circuit_voltage(curve),
        irradiance_w_m2=irradiance,
        temp_cell_c=temp_cell,
        temp_under_module_c=temp_air + AIR_UNDER_MODULE_SHARE * (temp_cell - temp_air),
        weight_h=conditions.weight_h[lit],
        month=conditions.month[lit],
        hour=conditions.hour[lit],
        dark_hours_by_month=by_month(conditions.month[~lit], conditions.weight_h[~lit]),
    )


def by_month(month: IntArray, values: FloatArray) -> FloatArray:
    """Sums of `values` for January to December, shape (12,)."""
    return np.bincount(month - 1, weights=values, minlength=12).astype(np.float64)

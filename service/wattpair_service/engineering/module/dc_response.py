"""What one module on a face could give at each condition: computed once, shared by every microinverter compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face, PlaneOfArray
from wattpair_service.engineering.irradiance.subhourly import STATES
from wattpair_service.engineering.irradiance.subhourly_on_faces import FaceStates
from wattpair_service.engineering.module.cell_temperature import AIR_UNDER_MODULE_SHARE, cell_temperature
from wattpair_service.engineering.module.single_diode import (
    DiodeCurve,
    OperatingPoint,
    SixParameters,
    curve_at,
    maximum_power,
    open_circuit_voltage,
    select,
)

SHADE, EVEN, SUN = range(STATES)

DARK_W_M2 = 1e-3
"""Effective irradiance up to which a face counts as dark: no module starts so low."""


@dataclass(frozen=True, slots=True, eq=False)
class DcResponse:
    """One module's DC side over the lit points of a year (arrays of equal length), and the hours that are dark.

    A point is a lit hour or, with the spread inside the hour, one of its states; see `with_subhourly_points`.

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
    is_surge : array of bool
        Whether the point is a surge of sun between clouds, shorter than the hour.
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
    is_surge: BoolArray
    dark_hours_by_month: FloatArray

    @property
    def energy_weighted_irradiance_w_m2(self) -> float:
        """Mean in-plane irradiance, weighted with its own energy: the light at which the year's energy arrives [W/m2]."""
        energy = self.irradiance_w_m2 * self.weight_h
        total = float(energy.sum())
        return float(energy @ self.irradiance_w_m2) / total if total > 0 else 0.0


def dc_response(conditions: Conditions, plane: PlaneOfArray, *, face: Face, parameters: SixParameters) -> DcResponse:
    """DC side of one module on one face; see `dc_responses`."""
    return dc_responses(conditions, (plane,), faces=(face,), parameters=parameters)[0]


def dc_responses(
    conditions: Conditions, planes: Sequence[PlaneOfArray], *, faces: Sequence[Face], parameters: SixParameters
) -> tuple[DcResponse, ...]:
    """DC side of one module on each face; all faces are computed together.

    Parameters
    ----------
    conditions : Conditions
        n points.
    planes : sequence of PlaneOfArray
        n points each, for each face.
    faces : sequence of Face
        Give the mounting.
    parameters : SixParameters
        The module's fitted single diode.

    Returns
    -------
    tuple of DcResponse
        For each face at the points where light reaches the cells, in the conditions' order.
    """
    lit = [lit_hours(plane) for plane in planes]
    irradiance, effective = (
        np.concatenate([getattr(plane, name)[at] for plane, at in zip(planes, lit, strict=True)])
        for name in ("poa_global_w_m2", "effective_irradiance_w_m2")
    )
    ends = np.cumsum([at.size for at in lit]).tolist()
    parts = [slice(end - at.size, end) for end, at in zip(ends, lit, strict=True)]
    temp_air, temp_cell = np.empty_like(irradiance), np.empty_like(irradiance)
    for face, at, part in zip(faces, lit, parts, strict=True):
        temp_air[part] = conditions.temp_air_c[at]
        temp_cell[part] = cell_temperature(
            mounting=face.mounting,
            irradiance_w_m2=irradiance[part],
            temp_air_c=temp_air[part],
            wind_speed_m_s=conditions.wind_speed_m_s[at],
        )
    curve = curve_at(parameters, irradiance_w_m2=effective, cell_temp_c=temp_cell)
    best, voltage_oc = maximum_power(curve), open_circuit_voltage(curve)
    temp_under = temp_air + AIR_UNDER_MODULE_SHARE * (temp_cell - temp_air)

    def of_face(plane: PlaneOfArray, at: IntArray, part: slice) -> DcResponse:
        dark = np.flatnonzero(plane.effective_irradiance_w_m2 <= DARK_W_M2)
        return DcResponse(
            curve=select(curve, part),
            maximum_power=OperatingPoint(best.power_w[part], best.voltage_v[part], best.current_a[part]),
            voltage_oc_v=voltage_oc[part],
            irradiance_w_m2=irradiance[part],
            temp_cell_c=temp_cell[part],
            temp_under_module_c=temp_under[part],
            weight_h=conditions.weight_h[at],
            month=conditions.month[at],
            hour=conditions.hour[at],
            is_surge=np.broadcast_to(np.False_, at.size),
            dark_hours_by_month=by_month(conditions.month[dark], conditions.weight_h[dark]),
        )

    return tuple(of_face(*each) for each in zip(planes, lit, parts, strict=True))


@dataclass(frozen=True, slots=True, eq=False)
class SubhourlyPoints:
    """The points of lit hours, some of which swing: each hour in order, as it is or in its even state, then the rest.

    Attributes
    ----------
    interval : array of int
        Which lit hour the point belongs to, counted from 0.
    state : array of int
        0 for shade, 1 for even or an hour that stays as it is, 2 for sun.
    share : array
        Share of that hour that the point stands for (0-1).
    power_ratio, light_ratio : array
        Power and effective irradiance over the hour's own.
    """

    interval: IntArray
    state: npt.NDArray[np.int8]
    share: FloatArray
    power_ratio: FloatArray
    light_ratio: FloatArray


def subhourly_points(plane: PlaneOfArray, states: FaceStates) -> SubhourlyPoints:
    """The points of a face's lit hours; `plane` and `states` are of that face."""
    lit = lit_hours(plane)
    number = np.zeros(plane.effective_irradiance_w_m2.size, dtype=np.int64)
    number[lit] = np.arange(lit.size)
    seen = plane.effective_irradiance_w_m2[states.index] > DARK_W_M2
    which = slice(None) if seen.all() else np.flatnonzero(seen)
    swinging = number[states.index[which]]

    def of_points(values: FloatArray) -> FloatArray:
        shade, even, sun = values.T[:, which]
        hours = np.ones(lit.size)
        hours[swinging] = even
        return np.concatenate([hours, shade, sun])

    return SubhourlyPoints(
        interval=np.concatenate([np.arange(lit.size), swinging, swinging]),
        state=np.repeat(np.array([EVEN, SHADE, SUN], dtype=np.int8), [lit.size, swinging.size, swinging.size]),
        share=of_points(states.weight),
        power_ratio=of_points(states.power_ratio),
        light_ratio=np.maximum(of_points(states.light_ratio), 1e-6),
    )


def with_subhourly_points(response: DcResponse, points: SubhourlyPoints) -> DcResponse:
    """The same year with each swinging hour in its states: shade, even and sun.

    A state's power is the hour's times its ratio, so that the hour's own energy stays as it is; its voltage at maximum power is
    the hour's, its open-circuit voltage moves with the logarithm of the light.

    Parameters
    ----------
    response : DcResponse
        Hour by hour.
    points : SubhourlyPoints
        Of the same lit hours.
    """
    at, light_ratio = points.interval, points.light_ratio
    best, curve = response.maximum_power, select(response.curve, at)
    return DcResponse(
        curve=replace(
            curve,
            photocurrent_a=curve.photocurrent_a * light_ratio,
            shunt_resistance_ohm=curve.shunt_resistance_ohm / light_ratio,
        ),
        maximum_power=OperatingPoint(
            power_w=best.power_w[at] * points.power_ratio,
            voltage_v=best.voltage_v[at],
            current_a=best.current_a[at] * points.power_ratio,
        ),
        voltage_oc_v=response.voltage_oc_v[at] + curve.a_v * np.log(light_ratio),
        irradiance_w_m2=response.irradiance_w_m2[at] * light_ratio,
        temp_cell_c=response.temp_cell_c[at],
        temp_under_module_c=response.temp_under_module_c[at],
        weight_h=response.weight_h[at] * points.share,
        month=response.month[at],
        hour=response.hour[at],
        is_surge=points.state == SUN,
        dark_hours_by_month=response.dark_hours_by_month,
    )


def lit_hours(plane: PlaneOfArray) -> IntArray:
    """Indexes of the conditions in which light reaches the cells."""
    return np.flatnonzero(plane.effective_irradiance_w_m2 > DARK_W_M2)


def by_month(month: IntArray, values: FloatArray) -> FloatArray:
    """Sums of `values` for January to December, shape (12,)."""
    return np.bincount(month - 1, weights=values, minlength=12).astype(np.float64)

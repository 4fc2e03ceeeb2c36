"""DC response of one module on a face at each condition: computed once, shared by every microinverter compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.equipment import InputWiring
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face, PlaneOfArray
from wattpair_service.engineering.irradiance.subhourly import STATES
from wattpair_service.engineering.irradiance.subhourly_on_faces import FaceStates
from wattpair_service.engineering.module.cell_temperature import AIR_UNDER_MODULE_SHARE, cell_temperature
from wattpair_service.engineering.module.rear_irradiance import rear_gain
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
class PointShade:
    """Power of the unshaded module at each point, and what it would lose if power went with the irradiance on its area [W]."""

    unshaded_w: FloatArray
    irradiance_loss_w: FloatArray

    def at(self, index: IntArray) -> PointShade:
        """At some of the points."""
        return PointShade(self.unshaded_w[index], self.irradiance_loss_w[index])


@dataclass(frozen=True, slots=True, eq=False)
class OtherMaxima:
    """A lower maximum of some partly shaded points, each at most once; `at_highest_voltage` where no group is bypassed."""

    point: IntArray
    curve: DiodeCurve
    maximum_power: OperatingPoint
    at_highest_voltage: BoolArray

    def at(self, index: IntArray, point_count: int) -> OtherMaxima:
        """Of the points at `index`, of `point_count`; a point may occur several times."""
        row = np.full(point_count, -1)
        row[self.point] = np.arange(self.point.size)
        rows = row[index]
        point = np.flatnonzero(rows >= 0)
        return replace(self.at_rows(rows[point]), point=point)

    def at_rows(self, rows: IntArray) -> OtherMaxima:
        """Some of them, by their place here."""
        best = self.maximum_power
        return OtherMaxima(
            self.point[rows],
            select(self.curve, rows),
            OperatingPoint(best.power_w[rows], best.voltage_v[rows], best.current_a[rows]),
            self.at_highest_voltage[rows],
        )


@dataclass(frozen=True, slots=True, eq=False)
class UnitInput:
    """One input of a microinverter: how its modules are wired, how many they are, and the response of one, as a mean."""

    wiring: InputWiring
    module_count: int
    response: DcResponse


@dataclass(frozen=True, slots=True, eq=False)
class DcResponse:
    """One module's DC response at the lit points of a year (arrays of equal length), and the hours that are dark.

    A point is a lit hour, or one of its subhourly states; see `with_subhourly_points`.

    Attributes
    ----------
    curve : DiodeCurve
        Current-voltage curve at each point.
    maximum_power : OperatingPoint
        Power [W], voltage [V] and current [A] at the maximum power point.
    voltage_oc_v : array
        Open-circuit voltage [V].
    irradiance_w_m2 : array
        Global irradiance in the plane of array, on the front [W/m2].
    temp_cell_c, temp_under_module_c : array
        Cell temperature and temperature of the air at the microinverter [degC].
    weight_h : array
        Hours that each point stands for.
    month, hour : array of int
        Month 1 to 12, hour 0 to 23.
    is_surge : array of bool
        Whether the point is a surge of sun between clouds, shorter than the hour.
    dark_hours_by_month : array, shape (12,)
        Hours without irradiance on the face.
    shade : PointShade or None
        What shade takes at each point; None where nothing stands before the sky.
    other_maxima : tuple of OtherMaxima
        Lower maxima of partly shaded modules.
    inputs : tuple of UnitInput
        Of a microinverter whose inputs have other irradiance than one another; the response itself is then their mean. Empty
        where all modules of a unit respond alike.
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
    shade: PointShade | None = None
    other_maxima: tuple[OtherMaxima, ...] = ()
    inputs: tuple[UnitInput, ...] = ()

    @property
    def energy_weighted_irradiance_w_m2(self) -> float:
        """Mean irradiance in the plane of array, weighted with its own energy [W/m2]."""
        energy_wh_m2 = self.irradiance_w_m2 * self.weight_h
        total_wh_m2 = float(energy_wh_m2.sum())
        return float(energy_wh_m2 @ self.irradiance_w_m2) / total_wh_m2 if total_wh_m2 > 0 else 0.0


def dc_response(
    conditions: Conditions, plane: PlaneOfArray, *, face: Face, parameters: SixParameters, bifaciality: float = 0.0
) -> DcResponse:
    """DC response of one module on one face; see `dc_responses`."""
    return dc_responses(conditions, (plane,), faces=(face,), parameters=parameters, bifaciality=bifaciality)[0]


def dc_responses(
    conditions: Conditions,
    planes: Sequence[PlaneOfArray],
    *,
    faces: Sequence[Face],
    parameters: SixParameters,
    bifaciality: float = 0.0,
) -> tuple[DcResponse, ...]:
    """DC response of one module on each face; all faces are computed together.

    Parameters
    ----------
    conditions : Conditions
        n points.
    planes : sequence of PlaneOfArray
        One for each face, of n points.
    faces : sequence of Face
        Only mounting and rear irradiance are used.
    parameters : SixParameters
        The module's fitted single diode.
    bifaciality : float
        Of the module (0-1). The irradiance on its back gives current and heat like that on its front.

    Returns
    -------
    tuple of DcResponse
        For each face at the points with irradiance on the cells, in the conditions' order.
    """
    lit = [lit_hours(plane) for plane in planes]
    poa_w_m2, effective_w_m2 = (
        np.concatenate([getattr(plane, name)[index] for plane, index in zip(planes, lit, strict=True)])
        for name in ("poa_global_w_m2", "effective_irradiance_w_m2")
    )
    ends = np.cumsum([index.size for index in lit]).tolist()
    parts = [slice(end - index.size, end) for end, index in zip(ends, lit, strict=True)]
    temp_air_c, temp_cell_c = np.empty_like(poa_w_m2), np.empty_like(poa_w_m2)
    for face, index, part in zip(faces, lit, parts, strict=True):
        gain = rear_gain(bifaciality, face)
        effective_w_m2[part] *= gain
        temp_air_c[part] = conditions.temp_air_c[index]
        temp_cell_c[part] = cell_temperature(
            mounting=face.mounting,
            irradiance_w_m2=poa_w_m2[part] * gain,
            temp_air_c=temp_air_c[part],
            wind_speed_m_s=conditions.wind_speed_m_s[index],
        )
    curve = curve_at(parameters, irradiance_w_m2=effective_w_m2, cell_temp_c=temp_cell_c)
    best, voltage_oc_v = maximum_power(curve), open_circuit_voltage(curve)
    temp_under_module_c = temp_air_c + AIR_UNDER_MODULE_SHARE * (temp_cell_c - temp_air_c)

    def of_face(plane: PlaneOfArray, index: IntArray, part: slice) -> DcResponse:
        dark = np.flatnonzero(plane.effective_irradiance_w_m2 <= DARK_W_M2)
        return DcResponse(
            curve=select(curve, part),
            maximum_power=OperatingPoint(best.power_w[part], best.voltage_v[part], best.current_a[part]),
            voltage_oc_v=voltage_oc_v[part],
            irradiance_w_m2=poa_w_m2[part],
            temp_cell_c=temp_cell_c[part],
            temp_under_module_c=temp_under_module_c[part],
            weight_h=conditions.weight_h[index],
            month=conditions.month[index],
            hour=conditions.hour[index],
            is_surge=np.broadcast_to(np.False_, index.size),
            dark_hours_by_month=by_month(conditions.month[dark], conditions.weight_h[dark]),
        )

    return tuple(of_face(*each) for each in zip(planes, lit, parts, strict=True))


@dataclass(frozen=True, slots=True, eq=False)
class SubhourlyPoints:
    """The points of a face's lit hours with subhourly states.

    In this order: each hour, whole or in its even state; the shade states; the sun states.

    Attributes
    ----------
    interval : array of int
        Lit hour of the point, counted from 0.
    state : array of int
        0 for shade, 1 for even or a whole hour, 2 for sun.
    share : array
        Share of the hour that the point stands for (0-1).
    power_ratio, irradiance_ratio : array
        Power and effective irradiance over the hour's mean.
    """

    interval: IntArray
    state: npt.NDArray[np.int8]
    share: FloatArray
    power_ratio: FloatArray
    irradiance_ratio: FloatArray


def subhourly_points(plane: PlaneOfArray, states: FaceStates) -> SubhourlyPoints:
    """The points of a face's lit hours; `plane` and `states` are of that face."""
    lit = lit_hours(plane)
    lit_number = np.zeros(plane.effective_irradiance_w_m2.size, dtype=np.int64)
    lit_number[lit] = np.arange(lit.size)
    is_lit = plane.effective_irradiance_w_m2[states.index] > DARK_W_M2
    row = slice(None) if is_lit.all() else np.flatnonzero(is_lit)
    variable = lit_number[states.index[row]]

    def of_points(values: FloatArray) -> FloatArray:
        shade, even, sun = values.T[:, row]
        whole_or_even = np.ones(lit.size)
        whole_or_even[variable] = even
        return np.concatenate([whole_or_even, shade, sun])

    return SubhourlyPoints(
        interval=np.concatenate([np.arange(lit.size), variable, variable]),
        state=np.repeat(np.array([EVEN, SHADE, SUN], dtype=np.int8), [lit.size, variable.size, variable.size]),
        share=of_points(states.weight),
        power_ratio=of_points(states.power_ratio),
        irradiance_ratio=np.maximum(of_points(states.irradiance_ratio), 1e-6),
    )


def with_subhourly_points(response: DcResponse, points: SubhourlyPoints) -> DcResponse:
    """The same year with each variable hour split into its states: shade, even and sun.

    A state's power is the hour's times its ratio, so the energy of the hour does not change. Its voltage at maximum power is
    the hour's; its open-circuit voltage changes with the logarithm of the irradiance.

    Parameters
    ----------
    response : DcResponse
        Of lit hours.
    points : SubhourlyPoints
        Of the same lit hours.
    """
    hour, irradiance_ratio = points.interval, points.irradiance_ratio
    best, curve = response.maximum_power, select(response.curve, hour)
    return DcResponse(
        curve=replace(
            curve,
            photocurrent_a=curve.photocurrent_a * irradiance_ratio,
            shunt_resistance_ohm=curve.shunt_resistance_ohm / irradiance_ratio,
        ),
        maximum_power=OperatingPoint(
            power_w=best.power_w[hour] * points.power_ratio,
            voltage_v=best.voltage_v[hour],
            current_a=best.current_a[hour] * points.power_ratio,
        ),
        voltage_oc_v=response.voltage_oc_v[hour] + curve.a_v * np.log(irradiance_ratio),
        irradiance_w_m2=response.irradiance_w_m2[hour] * irradiance_ratio,
        temp_cell_c=response.temp_cell_c[hour],
        temp_under_module_c=response.temp_under_module_c[hour],
        weight_h=response.weight_h[hour] * points.share,
        month=response.month[hour],
        hour=response.hour[hour],
        is_surge=points.state == SUN,
        dark_hours_by_month=response.dark_hours_by_month,
    )


def at_points(response: DcResponse, index: IntArray) -> DcResponse:
    """Some of the points of a response; a point may occur several times."""
    arrays = {name: getattr(response, name)[index] for name in POINT_FIELDS}
    best, others = response.maximum_power, [each.at(index, response.weight_h.size) for each in response.other_maxima]
    return replace(
        response,
        curve=select(response.curve, index),
        maximum_power=OperatingPoint(best.power_w[index], best.voltage_v[index], best.current_a[index]),
        shade=response.shade and response.shade.at(index),
        other_maxima=tuple(each for each in others if each.point.size),
        inputs=tuple(replace(each, response=at_points(each.response, index)) for each in response.inputs),
        **arrays,
    )


POINT_FIELDS = (
    "voltage_oc_v", "irradiance_w_m2", "temp_cell_c", "temp_under_module_c", "weight_h", "month", "hour", "is_surge",
)  # fmt: skip
"""Fields of a response that are arrays over its points."""


def lit_hours(plane: PlaneOfArray) -> IntArray:
    """Indexes of the conditions with irradiance on the cells."""
    return np.flatnonzero(plane.effective_irradiance_w_m2 > DARK_W_M2)


def by_month(month: IntArray, values: FloatArray) -> FloatArray:
    """Sums of `values` for January to December, shape (12,)."""
    return np.bincount(month - 1, weights=values, minlength=12).astype(np.float64)

"""What the DC side of a microinverter leaves of a module's power: start-up, operating-voltage window, input-current limit.

Most points of a year meet none of them: only those that do are computed and kept.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.dc_response import DcResponse
from wattpair_service.engineering.equipment import ModuleLimits
from wattpair_service.engineering.single_diode import DiodeCurve, current_at_voltage, select, voltage_at_current

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class DcLimited:
    """The points of a response that a DC limit may change, and what is left there of one module's power.

    Attributes
    ----------
    index : array of int
        Which points, rising.
    available_w, started_w, in_window_w, power_w : array
        Before any limit, and after start-up, window and current limit [W].
    voltage_v : array
        DC voltage behind the limits [V].
    """

    index: IntArray
    available_w: FloatArray
    started_w: FloatArray
    in_window_w: FloatArray
    power_w: FloatArray
    voltage_v: FloatArray


def dc_limited(response: DcResponse, limits: ModuleLimits, current_factor: FloatArray | float = 1.0) -> DcLimited:
    """Points at which one of the limits counts.

    Parameters
    ----------
    response : DcResponse
        Of n points.
    limits : ModuleLimits
        The microinverter's, for each module.
    current_factor : float or array of n
        The module's current, and so its power, over that of the response; see `roof_side.scaled`.
    """
    best = response.maximum_power
    met = (response.voltage_oc_v < limits.start_voltage_v) | (best.power_w < limits.start_power_w / current_factor)
    met |= (best.voltage_v < limits.operating_voltage_min_v) | (best.voltage_v > limits.operating_voltage_max_v)
    met |= best.current_a > limits.current_max_a / current_factor
    index = np.flatnonzero(met)
    factor = current_factor[index] if isinstance(current_factor, np.ndarray) else current_factor
    curve = select(response.curve, index)
    if isinstance(factor, np.ndarray) or factor != 1.0:
        curve = scaled_curve(curve, factor)
    available = best.power_w[index] * factor
    started = (response.voltage_oc_v[index] >= limits.start_voltage_v) & (available >= limits.start_power_w)
    started_w = np.where(started, available, 0.0)
    in_window_w, voltage, current = _within_window(
        curve, limits, started_w, best.voltage_v[index], best.current_a[index] * factor
    )
    power, voltage = _within_current(curve, limits, in_window_w, voltage, current)
    return DcLimited(index, available, started_w, in_window_w, power, voltage)


def scaled_curve(curve: DiodeCurve, current_factor: FloatArray | float) -> DiodeCurve:
    """Curves of a module with the same voltages and `current_factor` times the current: exact for a single diode."""
    return DiodeCurve(
        photocurrent_a=curve.photocurrent_a * current_factor,
        saturation_current_a=curve.saturation_current_a * current_factor,
        series_resistance_ohm=curve.series_resistance_ohm / current_factor,
        shunt_resistance_ohm=curve.shunt_resistance_ohm / current_factor,
        a_v=curve.a_v,
    )


def _within_window(
    curve: DiodeCurve, limits: ModuleLimits, power: FloatArray, voltage: FloatArray, current: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Power, voltage and current after holding the voltage inside the operating window."""
    held = np.clip(voltage, limits.operating_voltage_min_v, limits.operating_voltage_max_v)
    moved = (power > 0.0) & (held != voltage)
    if not moved.any():
        return power, voltage, current
    power, voltage, current = power.copy(), voltage.copy(), current.copy()
    voltage[moved] = held[moved]
    current[moved] = current_at_voltage(select(curve, moved), held[moved])
    power[moved] = np.minimum(voltage[moved] * current[moved], power[moved])
    return power, voltage, current


def _within_current(
    curve: DiodeCurve, limits: ModuleLimits, power: FloatArray, voltage: FloatArray, current: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Power and voltage after moving up the curve to the input-current limit.

    Where that point lies above the operating window no point suits both limits and the input stays off.
    """
    limit = limits.current_max_a
    over = (power > 0.0) & (current > limit)
    if not over.any():
        return power, voltage
    power, voltage = power.copy(), voltage.copy()
    higher = voltage_at_current(select(curve, over), limit)
    # A state inside the hour has the hour's voltage: its own curve may end below the limit.
    higher = np.where(np.isnan(higher), voltage[over], higher)
    inside = higher <= limits.operating_voltage_max_v
    power[over] = np.where(inside, np.minimum(higher * limit, power[over]), 0.0)
    voltage[over] = higher
    return power, voltage

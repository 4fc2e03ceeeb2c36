"""Current-voltage curve of a module: the six-parameter single-diode model, fitted to a datasheet.

    current = IL - Io (exp(vd / a) - 1) - vd / Rsh        voltage = vd - current Rs

The voltage vd across the diode is the unknown: given vd, current and voltage are explicit, so each quantity of the curve
takes one Newton iteration over arrays. Model: Dobos 2012 (10.1115/1.4005759) on De Soto, Klein and Beckman 2006
(10.1016/j.solener.2005.06.010). Neglected: reverse bias, bypass diodes, spectrum, change of Rs with temperature.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import lru_cache
from math import exp, inf

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.module.datasheet_figures import COEFFICIENTS, POINTS, check_figures
from wattpair_service.engineering.newton import newton

STC_W_M2 = 1000.0
STC_TEMP_C = 25.0
BOLTZMANN_EV_PER_K = 8.617333262e-5  # CODATA 2018
BAND_GAP_EV = 1.121  # of silicon at 25 degC (De Soto et al. 2006)
BAND_GAP_SLOPE_PER_K = -0.0002677  # relative change (De Soto et al. 2006)
GAMMA_RANGE_C = (-10.0, 50.0)
"""Cell temperatures between which the power coefficient is the mean slope (the procedure of Dobos 2012)."""

_T_REF_K = STC_TEMP_C + 273.15
_SATURATION_GROWTH = 3.0 + BAND_GAP_EV * (1.0 / _T_REF_K - BAND_GAP_SLOPE_PER_K) / BOLTZMANN_EV_PER_K
"""d ln Io / d ln T at 25 degC. Voc / a stays below it, or Voc would rise with temperature."""

# Limits of a plausible datasheet: no source; all modules of the list named in `fit` lie within the second and third.
_VOC_OVER_A_MIN = 10.0  # ideality of about 2.5 with 0.65 V a cell; a crystalline module has 20 to 30
_ADJUST_MAX_PERCENT = 75.0  # the list needs -48 to +67
_SC_RAISED_MAX_PERCENT = 5.0  # the list needs up to 4.94
_STEP_TOLERANCE = 1e-8  # of `a`; the remaining error is the square of it
_SHUNT_STEP_TOLERANCE = 1e-6  # of the distance to where the shunt takes all; the error is half the square of it, of `a`
_SHUNT_END_TOLERANCE = 1e-11  # of `a`; decides next to that point
_STRAIGHT_STEP_TOLERANCE = 3e-5  # for a nearly linear equation: the error is a tenth of the square


@dataclass(frozen=True, slots=True)
class SixParameters:
    """The fitted model at 1000 W/m2 and 25 degC.

    `a_ref_v` is ideality x cells in series x thermal voltage. `adjust_percent` lowers the short-circuit coefficient
    `isc_coefficient_a_per_k` to (1 - adjust/100) of the datasheet's and raises that of open-circuit voltage to
    (1 + adjust/100), so that the coefficient of power is right. `shunt_resistance_ref_ohm` may be infinite.
    `current_sc_raised_percent`: how far the model's short-circuit current lies above the datasheet's (see `fit`).
    """

    a_ref_v: float
    photocurrent_ref_a: float
    saturation_current_ref_a: float
    series_resistance_ohm: float
    shunt_resistance_ref_ohm: float
    adjust_percent: float
    isc_coefficient_a_per_k: float
    current_sc_raised_percent: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class DiodeCurve:
    """Current-voltage curves at n conditions: arrays of one shape, n >= 1, broadcast on construction.

    Photocurrent >= 0 (0 is dark), saturation current, shunt resistance (may be infinite) and `a_v` > 0, series >= 0.
    """

    photocurrent_a: FloatArray
    saturation_current_a: FloatArray
    series_resistance_ohm: FloatArray
    shunt_resistance_ohm: FloatArray
    a_v: FloatArray

    def __post_init__(self) -> None:
        names = [field.name for field in fields(self)]
        if all(type(each) is np.ndarray and each.shape == self.a_v.shape != () for each in map(self.__getattribute__, names)):
            return  # the usual case; the rest is slow, and a selection makes hundreds of curves
        values = [np.atleast_1d(np.asarray(getattr(self, name), dtype=np.float64)) for name in names]
        alike = len({value.shape for value in values}) == 1
        for name, value in zip(names, values if alike else np.broadcast_arrays(*values), strict=True):
            object.__setattr__(self, name, value)


@dataclass(frozen=True, slots=True, eq=False)
class OperatingPoint:
    """Power [W], voltage [V] and current [A] at n conditions."""

    power_w: FloatArray
    voltage_v: FloatArray
    current_a: FloatArray


@lru_cache(maxsize=512)
def fit(module: Module) -> SixParameters:
    """Fit the model to a datasheet; the last 512 results are cached.

    The six parameters of Dobos 2012 (10.1115/1.4005759), with another solution of the equations. For a given `a` the points
    at short circuit, open circuit and maximum power are linear in IL, Io and 1/Rsh; dP/dV = 0 then fixes Rs, and the
    coefficient of open-circuit voltage fixes `adjust` in closed form. One equation in `a` remains, with a bracketed root: the
    power coefficient, as mean slope over `GAMMA_RANGE_C`. Where the current at maximum power is so close to the short-circuit
    current that 1/Rsh would be negative (a quarter of the list of the California Energy Commission), it is set to zero
    and the model's short-circuit current is raised accordingly: the maximum power point stays right.

    Parameters
    ----------
    module : Module
        Datasheet at 1000 W/m2, 25 degC; finite figures. The rated power [W] only serves as a check.

    Returns
    -------
    SixParameters
        They reproduce maximum power point, open-circuit voltage, coefficients and, unless raised, short circuit to 1e-6.

    Raises
    ------
    DatasheetError
        With the fields that no single diode can fit together.
    """
    check_figures(module)
    target = module.temp_coefficient_pmp_percent_per_k
    lowest, highest = module.voltage_oc_v / _SATURATION_GROWTH, _largest_a(module)

    def excess(a_v: float) -> float:
        return _power_coefficient(_fitted_at(module, a_v), module) - target

    excess_max, excess_min = excess(lowest), excess(highest)
    if not excess_min <= 0.0 <= excess_max:
        possible = f"With the other figures it can be {excess_min + target:.3f} to {excess_max + target:.3f} %/K."
        message = f"No diode has the power coefficient of {target:g} %/K. {possible}"
        raise DatasheetError(message, (*COEFFICIENTS, *POINTS))
    parameters = _fitted_at(module, float(brentq(excess, lowest, highest, xtol=1e-12)))
    if abs(parameters.adjust_percent) > _ADJUST_MAX_PERCENT:
        message = "The coefficients of power and of voltage contradict each other: no diode has both."
        raise DatasheetError(message, COEFFICIENTS)
    if parameters.current_sc_raised_percent > _SC_RAISED_MAX_PERCENT:
        message = "The current at maximum power is too close to the short-circuit current for any diode."
        raise DatasheetError(message, ("current_sc_a", "current_mp_a"))
    return parameters


def _largest_a(module: Module) -> float:
    """Find the largest `a` [V] without a negative series resistance: a larger one makes the curve's knee rounder."""
    misfits: tuple[Callable[[float], float], ...] = (
        lambda a_v: _three_points(module, a_v, 0.0)[0],
        lambda a_v: _no_shunt_misfit(module, a_v, 0.0),
    )
    lowest, highest = module.voltage_oc_v / _SATURATION_GROWTH, module.voltage_oc_v / _VOC_OVER_A_MIN
    for misfit in misfits:
        if misfit(lowest) >= 0.0:
            fill_factor = module.voltage_mp_v * module.current_mp_a / (module.voltage_oc_v * module.current_sc_a)
            message = f"A fill factor of {fill_factor:.3f} with these voltages and currents is beyond any silicon diode."
            raise DatasheetError(message, POINTS)
        if misfit(highest) > 0.0:
            highest = float(brentq(misfit, lowest, highest, xtol=1e-12))
    return highest * (1.0 - 1e-9)  # slightly below, so that the root for the series resistance stays in its bracket


def _three_points(module: Module, a_v: float, series_ohm: float) -> tuple[float, float, float]:
    """(misfit, diode current at open circuit [A], shunt conductance [S]) from the three points and dP/dV.

    Exponentials are relative to open circuit, so that none overflows. `misfit`, from the slope at maximum power, rises
    with the series resistance and has no pole.
    """
    voc, isc, vmp, imp = module.voltage_oc_v, module.current_sc_a, module.voltage_mp_v, module.current_mp_a
    below_sc, below_mp = voc - isc * series_ohm, voc - vmp - imp * series_ohm
    not_sc, not_mp = 1.0 - exp(-below_sc / a_v), 1.0 - exp(-below_mp / a_v)
    determinant = not_mp * below_sc - not_sc * below_mp
    diode = (imp * below_sc - isc * below_mp) / determinant
    shunt = (not_mp * isc - not_sc * imp) / determinant
    slope = diode * (1.0 - not_mp) / a_v + shunt
    return (slope * (vmp - imp * series_ohm) - imp) * determinant, diode, shunt


def _no_shunt_misfit(module: Module, a_v: float, series_ohm: float) -> float:
    """Slope error at maximum power with no shunt, open circuit and maximum power given; rises with both arguments."""
    voltage, current = module.voltage_mp_v, module.current_mp_a
    at_mp = exp((voltage + current * series_ohm - module.voltage_oc_v) / a_v)
    return at_mp * (voltage - current * series_ohm) - a_v * (1.0 - at_mp)


def _fitted_at(module: Module, a_v: float) -> SixParameters:
    """All parameters for a given `a` [V]; the power coefficient is left open."""
    voc, isc, imp = module.voltage_oc_v, module.current_sc_a, module.current_mp_a
    series_max = (voc - module.voltage_mp_v) / imp * (1.0 - 1e-6)  # there the diode has all of the open-circuit voltage
    series = float(brentq(lambda rs: _three_points(module, a_v, rs)[0], 0.0, series_max, xtol=1e-13))
    raised, (_, diode, shunt) = 0.0, _three_points(module, a_v, series)
    if shunt < 0.0:
        series = float(brentq(lambda rs: _no_shunt_misfit(module, a_v, rs), 0.0, series_max, xtol=1e-13))
        shunt = 0.0
        diode = imp / (1.0 - exp((module.voltage_mp_v + imp * series - voc) / a_v))
        raised = diode * (1.0 - exp((isc * series - voc) / a_v)) / isc - 1.0
    alpha = module.temp_coefficient_isc_percent_per_k / 100.0 * isc
    saturation = diode * exp(-voc / a_v)
    return SixParameters(
        a_ref_v=a_v,
        photocurrent_ref_a=diode - saturation + shunt * voc,
        saturation_current_ref_a=saturation,
        series_resistance_ohm=series,
        shunt_resistance_ref_ohm=1.0 / shunt if shunt > 0.0 else inf,
        adjust_percent=100.0 * _adjust(module, a_v, diode, saturation, shunt, alpha),
        isc_coefficient_a_per_k=alpha,
        current_sc_raised_percent=100.0 * raised,
    )


def _adjust(module: Module, a_v: float, diode_a: float, saturation_a: float, shunt_s: float, alpha: float) -> float:
    """Share by which the coefficients are adjusted, from the slope of open-circuit voltage over temperature at 25 degC.

    The curve at zero current, differentiated: (diode/a + 1/Rsh) dVoc/dT = alpha (1 - x) - loss, dVoc/dT = beta (1 + x).
    """
    beta = module.temp_coefficient_voc_percent_per_k / 100.0 * module.voltage_oc_v
    loss = (_SATURATION_GROWTH * (diode_a - saturation_a) - diode_a * module.voltage_oc_v / a_v) / _T_REF_K
    expected = (diode_a / a_v + shunt_s) * beta
    return (alpha - loss - expected) / (expected + alpha)


def _power_coefficient(parameters: SixParameters, module: Module) -> float:
    """Mean slope of maximum power over `GAMMA_RANGE_C` [% of the power at 25 degC per K]."""
    cold, warm = maximum_power(curve_at(parameters, irradiance_w_m2=STC_W_M2, cell_temp_c=GAMMA_RANGE_C)).power_w
    slope = float(warm - cold) / (GAMMA_RANGE_C[1] - GAMMA_RANGE_C[0])
    return slope / (module.voltage_mp_v * module.current_mp_a) * 100.0


def curve_at(parameters: SixParameters, *, irradiance_w_m2: npt.ArrayLike, cell_temp_c: npt.ArrayLike) -> DiodeCurve:
    """A module's curve at each condition (De Soto et al. 2006, 10.1016/j.solener.2005.06.010, Dobos' adjust).

    Parameters
    ----------
    parameters : SixParameters
    irradiance_w_m2, cell_temp_c : array_like
        Effective irradiance [W/m2], 0 to about 1500, below zero counts as dark; cell temperature [degC],
        about -40 to 100. They are broadcast together. NaN in either gives NaN results at that point.
    """
    suns = np.maximum(np.atleast_1d(np.asarray(irradiance_w_m2, dtype=np.float64)), 0.0) / STC_W_M2
    warmer = np.asarray(cell_temp_c, dtype=np.float64) - STC_TEMP_C
    ratio = 1.0 + warmer / _T_REF_K
    # Eg_ref/kT_ref - Eg/kT, with both terms over one denominator.
    growth = BAND_GAP_EV / (BOLTZMANN_EV_PER_K * _T_REF_K) * (1.0 - (1.0 + BAND_GAP_SLOPE_PER_K * warmer) / ratio)
    slope = parameters.isc_coefficient_a_per_k * (1.0 - parameters.adjust_percent / 100.0)
    shunt = np.divide(parameters.shunt_resistance_ref_ohm, suns, out=np.full(suns.shape, np.inf), where=suns > 0.0)
    return DiodeCurve(
        photocurrent_a=suns * np.maximum(parameters.photocurrent_ref_a + slope * warmer, 0.0),
        saturation_current_a=parameters.saturation_current_ref_a * (ratio * ratio * ratio) * np.exp(growth),
        series_resistance_ohm=np.array(parameters.series_resistance_ohm),
        shunt_resistance_ohm=shunt,
        a_v=parameters.a_ref_v * ratio,
    )


def select(curve: DiodeCurve, which: npt.NDArray[np.bool_ | np.intp] | slice) -> DiodeCurve:
    """Pick curves by a mask, an index array or a slice."""
    return DiodeCurve(*(getattr(curve, field.name)[which] for field in fields(curve)))


def scaled(curve: DiodeCurve, current_factor: FloatArray | float) -> DiodeCurve:
    """Curves of a module with the same voltages and `current_factor` times the current: exact for a single diode."""
    return DiodeCurve(
        photocurrent_a=curve.photocurrent_a * current_factor,
        saturation_current_a=curve.saturation_current_a * current_factor,
        series_resistance_ohm=curve.series_resistance_ohm / current_factor,
        shunt_resistance_ohm=curve.shunt_resistance_ohm / current_factor,
        a_v=curve.a_v,
    )


def maximum_power(curve: DiodeCurve) -> OperatingPoint:
    """Find the maximum power point of each curve, to about 1e-10. Dark curves give zeros, NaN gives NaN."""
    lit = curve.photocurrent_a > 0.0
    diode_v = np.zeros(lit.shape)
    diode_v[lit] = _diode_voltage_at_maximum(curve if lit.all() else select(curve, lit)).ravel()
    current = _current(curve, diode_v)
    voltage = diode_v - current * curve.series_resistance_ohm
    return OperatingPoint(power_w=voltage * current, voltage_v=voltage, current_a=current)


def open_circuit_voltage(curve: DiodeCurve) -> FloatArray:
    """Find the open-circuit voltage of each curve [V], to about 1e-10. Dark curves give 0, NaN gives NaN."""
    return _diode_voltage_at_loss(curve, curve.photocurrent_a)


def short_circuit_current(curve: DiodeCurve) -> FloatArray:
    """Find the short-circuit current of each curve [A], to about 1e-10. Dark curves give 0, NaN gives NaN."""
    return current_at_voltage(curve, 0.0)


def current_at_voltage(curve: DiodeCurve, voltage_v: npt.ArrayLike) -> FloatArray:
    """Find the current [A] of each curve at a voltage [V] >= 0, broadcast with the curve, to about 1e-10.

    At and above the open-circuit voltage the current is 0. NaN gives NaN.
    """
    curve, voltage = _aligned(curve, voltage_v)
    series, a_v, conductance = curve.series_resistance_ohm, curve.a_v, 1.0 / curve.shunt_resistance_ohm
    # At least the open-circuit voltage: beyond it the current is 0 anyway and the exponential could overflow.
    bound = a_v * np.log1p(curve.photocurrent_a / curve.saturation_current_a)
    voltage = np.minimum(voltage, bound)

    def step(
        diode_v: FloatArray, a_v: FloatArray, photocurrent: FloatArray, saturation: FloatArray, series: FloatArray,
        conductance: FloatArray, voltage: FloatArray,
    ) -> FloatArray:  # fmt: skip
        diode = saturation * np.exp(diode_v / a_v)
        current = photocurrent + saturation - diode - diode_v * conductance
        excess = diode_v - current * series - voltage
        slope = 1.0 + series * (diode / a_v + conductance)
        # Halley's correction: the exponential is known already, so it is nearly free.
        halley = np.minimum(excess * series * diode / (2.0 * (a_v * slope) ** 2), 0.5)
        return excess / (slope * (1.0 - halley))

    photocurrent, saturation = curve.photocurrent_a, curve.saturation_current_a
    start = np.minimum(voltage + photocurrent * series, bound)
    arguments = (a_v, photocurrent, saturation, series, conductance, voltage)
    diode_v = newton(step, start, arguments, tolerance=_STEP_TOLERANCE * a_v)
    return np.maximum(_current(curve, diode_v), 0.0)


def voltage_at_current(curve: DiodeCurve, current_a: npt.ArrayLike, near_v: FloatArray | None = None) -> FloatArray:
    """Find the voltage [V] of each curve at a current [A], broadcast with the curve, to about 1e-10.

    Outside 0 to the short-circuit current there is no such point: NaN. NaN gives NaN. `near_v` are first guesses [V].
    """
    curve, current = _aligned(curve, current_a)
    loss, in_series_v = np.maximum(curve.photocurrent_a - current, 0.0), current * curve.series_resistance_ohm
    voltage = _diode_voltage_at_loss(curve, loss, None if near_v is None else near_v + in_series_v) - in_series_v
    # Where the curve is flat, rounding of the current can make the voltage negative: the current decides.
    on_curve, at_zero = current >= 0.0, voltage <= 0.0
    if at_zero.any():
        on_curve[at_zero] &= current[at_zero] <= short_circuit_current(select(curve, at_zero)) * (1.0 + 1e-12)
    return np.where(on_curve, np.maximum(voltage, 0.0), np.nan)


def _aligned(curve: DiodeCurve, values: npt.ArrayLike) -> tuple[DiodeCurve, FloatArray]:
    """Curve and values, broadcast to one shape."""
    values = np.asarray(values, dtype=np.float64)
    shape = np.broadcast_shapes(curve.a_v.shape, values.shape)
    if shape != curve.a_v.shape:
        curve = DiodeCurve(*(np.broadcast_to(getattr(curve, field.name), shape) for field in fields(curve)))
    return curve, np.broadcast_to(values, shape)


def _current(curve: DiodeCurve, diode_v: FloatArray) -> FloatArray:
    diode = curve.saturation_current_a * (np.exp(diode_v / curve.a_v) - 1.0)
    return curve.photocurrent_a - diode - diode_v / curve.shunt_resistance_ohm


def _diode_voltage_at_loss(curve: DiodeCurve, loss_a: FloatArray, start: FloatArray | None = None) -> FloatArray:
    """Diode voltage [V] at which diode and shunt together take `loss_a` >= 0 [A].

    Newton's method on vd/a = ln(1 + (loss - vd/Rsh)/Io), which is convex; `end` is where the shunt takes all the loss. It
    converges from any `start`.
    """
    conductance, saturation, a_v = 1.0 / curve.shunt_resistance_ohm, curve.saturation_current_a, curve.a_v
    end = np.divide(loss_a, conductance, out=np.full(a_v.shape, np.inf), where=conductance > 0.0)

    def step(
        diode_v: FloatArray, a_v: FloatArray, loss_a: FloatArray, saturation: FloatArray, conductance: FloatArray
    ) -> FloatArray:
        through_diode = np.maximum(loss_a - diode_v * conductance, 0.0)
        excess = diode_v - a_v * np.log(1.0 + through_diode / saturation)
        return excess / (1.0 + a_v * conductance / (through_diode + saturation))

    # Where the shunt takes nearly all, a step covers nine tenths of the distance; where it takes little the equation is nearly
    # linear.
    start = np.minimum(a_v * np.log1p(loss_a / saturation) if start is None else start, 0.999 * end)
    arguments, tolerance = (a_v, loss_a, saturation, conductance), _SHUNT_END_TOLERANCE * np.minimum(a_v, start)
    return newton(step, start, arguments, tolerance=tolerance, end=end, end_tolerance=_SHUNT_STEP_TOLERANCE)


def _diode_voltage_at_maximum(curve: DiodeCurve) -> FloatArray:
    """Diode voltage [V] at maximum power of lit curves: ln I (1 + 2 Rs D) = ln D vd, D = -dI/dvd; nearly linear.

    Voltages are in units of `a` and currents in units of the source current IL + Io. Then D = x + g and I = 1 - x - g vd, with
    the diode's share x of the source current and the shunt's conductance g.
    """
    photocurrent, a_v = curve.photocurrent_a, curve.a_v
    source = photocurrent + curve.saturation_current_a
    conductance_unit = source / a_v
    shunt = 1.0 / (curve.shunt_resistance_ohm * conductance_unit)
    double_series = 2.0 * curve.series_resistance_ohm * conductance_unit
    ideal_open_circuit = np.log(source / curve.saturation_current_a)
    start = _start_of_maximum(ideal_open_circuit, shunt, double_series)
    np.divide(0.5, shunt, out=start, where=2.0 * shunt * start > 1.0)
    # With a series resistance beyond that of any module a step could pass open circuit, where the logarithm ends.
    end = _diode_voltage_at_loss(curve, photocurrent) / a_v if np.any(double_series > start) else None

    def step(diode_v: FloatArray, ideal_open_circuit: FloatArray, shunt: FloatArray, double_series: FloatArray) -> FloatArray:
        diode = np.exp(diode_v - ideal_open_circuit)
        slope = diode + shunt
        current = 1.0 - diode - diode_v * shunt
        series = 1.0 + double_series * slope
        excess = np.log(slope * diode_v / (current * series))
        return excess / (1.0 / diode_v + slope / current + diode / (slope * series))

    tolerance = _STRAIGHT_STEP_TOLERANCE * np.minimum(start, 1.0)
    return a_v * newton(step, start, (ideal_open_circuit, shunt, double_series), tolerance=tolerance, end=end)


def _start_of_maximum(ideal_open_circuit: FloatArray, shunt: FloatArray, double_series: FloatArray) -> FloatArray:
    """First guess of the diode voltage u at maximum power in those units, within a hundredth in daylight.

    `ideal_open_circuit` is the open-circuit voltage without shunt. From (x + g) u = (1 - x - g u) (1 + 2 Rs (x + g)) follows
    about u = ideal_open_circuit + ln x, with x from the previous u.
    """
    guess = ideal_open_circuit - np.log1p(ideal_open_circuit)
    # The bounds 0.2 and 0.1 only keep the logarithms finite: no module's series or shunt resistance reaches them.
    lowest = 0.2 * guess
    series_drop = double_series * (1.0 - 1.0 / (1.0 + np.maximum(guess - double_series, lowest)))
    for _ in range(2):
        divisor = 1.0 + np.maximum(guess - series_drop, lowest)
        guess = ideal_open_circuit + np.log(np.maximum(1.0 - 2.0 * shunt * guess, 0.1) / divisor)
    return np.asarray(guess)

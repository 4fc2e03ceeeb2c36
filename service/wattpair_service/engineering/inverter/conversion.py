"""From DC power at the input to AC power before any limit.

Two published forms, both quadratic in DC power:

- `LossCurve`: own consumption, a part proportional to power and a part that grows with its square (Schmidt and Sauer
  1996, Sonnenenergie 4; voltage dependence by linear terms as in Driesse et al. 2008, 10.1109/PVSC.2008.4922827).
- `SandiaCurve`: the coefficients of King et al. 2007, SAND2007-5036, as test laboratories publish them.

Neglected: warm-up, efficiency against temperature, power factor other than one, differences between units.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Protocol

import numpy as np
from scipy.optimize import lsq_linear

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.errors import DatasheetError

# Weights by load share. European: published form of EN 50530; CEC: Sandia test protocol of 2004. Both from secondary sources.
EUROPEAN_WEIGHTS: Mapping[float, float] = {0.05: 0.03, 0.10: 0.06, 0.20: 0.13, 0.30: 0.10, 0.50: 0.48, 1.00: 0.20}
CEC_WEIGHTS: Mapping[float, float] = {0.10: 0.04, 0.20: 0.05, 0.30: 0.12, 0.50: 0.21, 0.75: 0.53, 1.00: 0.05}

# The default part-load shape: efficiency over DC load, relative to the nominal one (NREL/TP-6A20-62641, 2014, eq. 11).
_SHAPE_NOMINAL = 0.9637
_SHAPE_CONSTANT = 0.9858
_SHAPE_INVERSE = -0.0059
_SHAPE_SLOPE = -0.0162

HIGHEST_LOAD = 2.0
"""DC load, in multiples of the rated power, up to which a curve must rise to be accepted."""

POINT_TOLERANCE_PERCENT = 1.5
"""Deviation of a measured efficiency from the fitted curve, in points, that counts as an error. Common practice, no source."""


class Conversion(Protocol):
    """DC to AC conversion of a microinverter, before any limit."""

    @property
    def own_consumption_w(self) -> float:
        """DC power below which there is no output [W]."""

    def ac_power_w(self, dc_power_w: FloatArray, dc_voltage_v: FloatArray) -> FloatArray:
        """AC power before any limit [W], never negative, in a new array; the voltage array broadcasts to the power."""


@dataclass(frozen=True, slots=True)
class LossCurve:
    """Losses as a quadratic in DC load y = DC power / `rated_power_w`, each term linear in DC voltage.

    loss = rated_power_w * sum((loss[i] + loss_by_voltage[i] * u) * y**i), u = DC voltage / `reference_voltage_v` - 1,
    with the voltage clipped to `voltage_range_v`, where the curve was measured.
    """

    rated_power_w: float
    loss: tuple[float, float, float]
    reference_voltage_v: float = 1.0
    loss_by_voltage: tuple[float, float, float] = (0.0, 0.0, 0.0)
    voltage_range_v: tuple[float, float] = (1.0, 1.0)

    @property
    def own_consumption_w(self) -> float:
        """DC power below which there is no output at the reference voltage [W]."""
        constant, linear, square = self.loss
        slope = 1.0 - linear
        return 2.0 * constant / (slope + sqrt(slope * slope - 4.0 * square * constant)) * self.rated_power_w

    def ac_power_w(self, dc_power_w: FloatArray, dc_voltage_v: FloatArray) -> FloatArray:
        """AC power before any limit [W]; see `Conversion`."""
        offset: FloatArray | float = 0.0
        if any(self.loss_by_voltage):
            offset = np.clip(dc_voltage_v, *self.voltage_range_v) / self.reference_voltage_v - 1.0
        k0, k1, k2 = (a + b * offset for a, b in zip(self.loss, self.loss_by_voltage, strict=True))
        ac_power_w = np.asarray(dc_power_w * (-k2 / self.rated_power_w))
        ac_power_w += 1.0 - k1
        ac_power_w *= dc_power_w
        ac_power_w -= self.rated_power_w * k0
        return np.maximum(ac_power_w, 0.0, out=ac_power_w)


@dataclass(frozen=True, slots=True)
class SandiaCurve:
    """The Sandia inverter model's coefficients, without its power limit (SAND2007-5036, eq. 1 to 4)."""

    ac_power_w_ref: float
    dc_power_w_ref: float
    dc_voltage_v_ref: float
    start_power_w: float
    c0_per_w: float
    c1_per_v: float
    c2_per_v: float
    c3_per_v: float

    @property
    def own_consumption_w(self) -> float:
        """DC power below which there is no output at the reference voltage [W]."""
        return self.start_power_w

    def ac_power_w(self, dc_power_w: FloatArray, dc_voltage_v: FloatArray) -> FloatArray:
        """AC power before any limit [W]; see `Conversion`."""
        # AC = x (Pac / span + c0 (x - span)), with x the DC power above the start power, and span the rated x.
        # In place, since this takes most of a selection's time.
        offset = dc_voltage_v - self.dc_voltage_v_ref
        start = offset * (self.start_power_w * self.c2_per_v)
        start += self.start_power_w
        span = offset * (self.dc_power_w_ref * self.c1_per_v)
        span += self.dc_power_w_ref
        span -= start
        curvature = np.multiply(offset, self.c0_per_w * self.c3_per_v, out=offset)
        curvature += self.c0_per_w
        above_start = dc_power_w - start
        ac_power_w = above_start - span
        ac_power_w *= curvature
        ac_power_w += np.divide(self.ac_power_w_ref, span, out=span)
        ac_power_w *= above_start
        # Zero at zero input, not minus the own consumption: the night draw is a loss of its own.
        return np.maximum(ac_power_w, 0.0, out=ac_power_w)


def weighted_efficiency(efficiency_by_load: Mapping[float, float], weights: Mapping[float, float]) -> float:
    """Weighted mean of efficiencies at the weights' load shares, in the efficiencies' own unit.

    Parameters
    ----------
    efficiency_by_load : mapping of load share [0-1] to efficiency
        Must hold every load share that `weights` names.
    weights : mapping of load share [0-1] to weight
        Weights that add up to one, such as `CEC_WEIGHTS`.

    Raises
    ------
    KeyError
        A load share is missing.
    """
    return sum(weight * efficiency_by_load[load] for load, weight in weights.items())


def _shape(load: float) -> float:
    return (_SHAPE_SLOPE * load + _SHAPE_INVERSE / load + _SHAPE_CONSTANT) / _SHAPE_NOMINAL


def from_weighted_efficiency(*, ac_power_w: float, efficiency_percent: float, weights: Mapping[float, float]) -> LossCurve:
    """Loss curve with the default part-load shape, scaled to the datasheet's weighted efficiency.

    The shape is the median of test results in NREL/TP-6A20-62641 (eq. 11), over the load in DC power. It does not depend on
    voltage.

    Parameters
    ----------
    ac_power_w : float
        Rated AC power [W], above 0.
    efficiency_percent : float
        Weighted efficiency [%], 70 to 99.5.
    weights : mapping
        `EUROPEAN_WEIGHTS` or `CEC_WEIGHTS`.
    """
    scale = efficiency_percent / 100.0 / weighted_efficiency({load: _shape(load) for load in weights}, weights)
    full_load = scale * _shape(1.0)
    factor = scale / _SHAPE_NOMINAL
    loss = (-factor * _SHAPE_INVERSE, 1.0 - factor * _SHAPE_CONSTANT, -factor * _SHAPE_SLOPE)
    return LossCurve(rated_power_w=ac_power_w / full_load, loss=loss)


@dataclass(frozen=True, slots=True)
class EfficiencyPoint:
    """A measured efficiency: AC power over the rated power, and DC voltage, None where it was not varied."""

    load_share: float
    efficiency_percent: float
    dc_voltage_v: float | None = None


def from_points(*, ac_power_w: float, points: Sequence[EfficiencyPoint]) -> LossCurve:
    """Quadratic loss curve fitted to measured efficiencies, by least squares in efficiency.

    Parameters
    ----------
    ac_power_w : float
        Rated AC power [W], above 0.
    points : sequence of EfficiencyPoint
        At least three different load shares; at each of two or more voltages when the voltage is given.

    Raises
    ------
    DatasheetError
        Too few points, a voltage for some points only, or a curve whose output would not rise with its input.
    """
    voltages = sorted({p.dc_voltage_v for p in points if p.dc_voltage_v is not None})
    if voltages and any(p.dc_voltage_v is None for p in points):
        raise DatasheetError("either every efficiency point has a dc_voltage_v or none", ("efficiency_points",))
    for voltage in {p.dc_voltage_v for p in points}:
        if len({p.load_share for p in points if p.dc_voltage_v == voltage}) < 3:
            raise DatasheetError(
                "at least three different load shares are needed, at each DC voltage given", ("efficiency_points",)
            )
    ac_share = np.array([p.load_share for p in points])
    efficiency = np.array([p.efficiency_percent for p in points]) / 100.0
    load = ac_share / efficiency
    reference_v = float(np.mean(voltages)) if voltages else 1.0
    offset = np.array([(p.dc_voltage_v or reference_v) / reference_v - 1.0 for p in points])
    powers = np.stack([np.ones_like(load), load, load**2], axis=1)
    terms = np.hstack([powers, powers * offset[:, None]]) if len(voltages) > 1 else powers
    lower = np.full(terms.shape[1], -np.inf)
    lower[[0, 2]] = 0.0
    solution = lsq_linear(terms / load[:, None], (load - ac_share) / load, bounds=(lower, np.inf)).x
    loss = (float(solution[0]), float(solution[1]), float(solution[2]))
    slopes = (float(solution[3]), float(solution[4]), float(solution[5])) if len(voltages) > 1 else (0.0, 0.0, 0.0)
    curve = LossCurve(
        rated_power_w=ac_power_w,
        loss=loss,
        reference_voltage_v=reference_v,
        loss_by_voltage=slopes,
        voltage_range_v=(voltages[0], voltages[-1]) if voltages else (1.0, 1.0),
    )
    dc_power_w = np.linspace(0.0, HIGHEST_LOAD * curve.rated_power_w, 201)
    below_input = all(np.all(curve.ac_power_w(dc_power_w, np.full(201, v)) <= dc_power_w) for v in curve.voltage_range_v)
    if not below_input or not _rises(curve, dc_power_w, curve.voltage_range_v):
        raise DatasheetError(
            "the points do not lie on a curve whose output rises with its input and stays below it",
            ("efficiency_points",),
        )
    _require_close(curve, points, reference_v)
    return curve


def _require_close(curve: LossCurve, points: Sequence[EfficiencyPoint], reference_v: float) -> None:
    """Refuse points that deviate from a smooth curve: one of them is probably a typing error."""
    for point in points:
        dc_power_w = point.load_share / (point.efficiency_percent / 100.0) * curve.rated_power_w
        ac_power_w = curve.ac_power_w(np.array([dc_power_w]), np.array([point.dc_voltage_v or reference_v]))
        fitted_percent = 100.0 * float(ac_power_w[0]) / dc_power_w
        if abs(fitted_percent - point.efficiency_percent) > POINT_TOLERANCE_PERCENT:
            raise DatasheetError(
                f"points on one smooth curve; the nearest gives {fitted_percent:.1f} % where the point at load share "
                f"{point.load_share:g} says {point.efficiency_percent:g} %",
                ("efficiency_points",),
            )


def require_rising(curve: SandiaCurve, *, voltage_min_v: float, voltage_max_v: float) -> None:
    """Refuse coefficients whose output falls with rising input anywhere in the operating window.

    Raises
    ------
    DatasheetError
        The curve falls, or has a pole, at a DC voltage [V] between the two.
    """
    dc_power_w = np.linspace(0.0, HIGHEST_LOAD * curve.dc_power_w_ref, 201)
    if not _rises(curve, dc_power_w, np.linspace(voltage_min_v, voltage_max_v, 9)):
        raise DatasheetError(
            f"these coefficients give no output that rises with the input at {voltage_min_v:g} to {voltage_max_v:g} V",
            ("sandia_curve",),
        )


def _rises(curve: Conversion, dc_power_w: FloatArray, voltages_v: Iterable[float]) -> bool:
    """Whether output rises with input at all voltages, and at least half of the inputs give output."""
    for voltage in voltages_v:
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            ac_power_w = curve.ac_power_w(dc_power_w, np.full_like(dc_power_w, voltage))
            producing = ac_power_w[ac_power_w > 0]
            # Written so that a NaN does not pass.
            if producing.size < dc_power_w.size / 2 or not np.all(np.diff(producing) > 0):
                return False
    return True

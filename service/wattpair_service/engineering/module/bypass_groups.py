"""Maximum power of bypass groups in series, each at its own irradiance and temperature.

A group is a part of a module's cells, in series, with a bypass diode across it. Groups in series carry one current. The k
brightest groups conduct and the others are bypassed, for each k: every local maximum of the curve is one of these branches. A
branch is computed with its bypassed groups at the diode's forward voltage, so it never exceeds the true curve, and the best of
all branches is the true maximum.

Within a branch the unknown is the diode voltage of its darkest group. At the maximum, voltage equals current times the sum of
the groups' differential resistances: an equation whose logarithm is nearly linear in the unknown.

Neglected: the bypass diode's own curve (a constant forward voltage stands for it), reverse current of shaded cells, more than
two levels of irradiance among the cells of a group.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.module.single_diode import DiodeCurve, SixParameters, curve_at
from wattpair_service.engineering.newton import newton

BYPASS_FORWARD_V = 0.5
"""Forward voltage of a conducting bypass diode, a Schottky diode. Common practice, no source."""
DISTINCT_SHARE_PER_GROUP = 0.45
"""A branch is computed where the next darker group has less irradiance than its darkest one, by this share over the number of
groups: a smaller difference costs less than the voltage of the bypassed group."""
_STEPS_MOST = 10
"""A few points step from side to side of a bend of the curve, where the maximum lies, without end."""
_STEP_TOLERANCE = 0.01  # of `a`; the step before the last leaves an error of its square, of power some 1e-10
EVEN_SHARE = 0.98
"""Cells of a group whose irradiances differ by less count as equal."""
_DARK_W_M2 = 1e-3
"""A darker group counts as having this irradiance: the logarithms stay finite."""
_VOLTAGE_FLOOR_V = 1e-3
"""Where bypass diodes take more voltage than the conducting groups give, the search ends here and the branch has no power."""


@dataclass(frozen=True, slots=True, eq=False)
class Branches:
    """Maximum power [W], voltage [V] and current [A] of each branch: arrays of shape (groups, n).

    Row k - 1 is the branch in which the k brightest groups conduct. Power is 0 where bypassing gains nothing, and where a
    branch gives none; the last row, in which all groups conduct, always has its own maximum.
    """

    power_w: FloatArray
    voltage_v: FloatArray
    current_a: FloatArray


def series_branches(
    parameters: SixParameters,
    *,
    irradiance_w_m2: FloatArray,
    temp_cell_c: FloatArray,
    groups_per_module: int,
    group_counts: FloatArray | None = None,
    brighter: BrighterCells | None = None,
) -> Branches:
    """Local maxima of groups in series.

    Parameters
    ----------
    parameters : SixParameters
        Of a whole module; a group has an equal share of its cells.
    irradiance_w_m2 : array, shape (groups, n)
        Effective irradiance of the cells that hold each group's current [W/m2], falling along the first axis; 0 to about 1500,
        without NaN.
    temp_cell_c : array, shape (groups, n)
        Cell temperature of each group [degC].
    groups_per_module : int
        Groups of a module: with 6 groups of 3 there are two modules in series.
    group_counts : array, shape (groups, n), optional
        How many equal groups each row stands for, 0 for none; if omitted, one. Rows without groups come last.
    brighter : BrighterCells, optional
        Cells of the groups that have more irradiance than those that hold the group's current; if omitted, none has.

    Returns
    -------
    Branches
        Against the full curve within 1e-4 of the power of an unshaded module.
    """
    rows, points = irradiance_w_m2.shape
    counts = np.ones((rows, points)) if group_counts is None else group_counts
    if brighter is not None:
        is_uneven = np.asarray(brighter.is_uneven(irradiance_w_m2).any(axis=0))
        if not is_uneven.any():
            brighter = None
        elif not is_uneven.all():
            return _apart(parameters, irradiance_w_m2, temp_cell_c, groups_per_module, counts, brighter, is_uneven)
    conducting_counts = np.cumsum(counts, axis=0)
    total = conducting_counts[-1]
    lit_w_m2 = np.maximum(irradiance_w_m2, _DARK_W_M2)
    curve = curve_at(parameters, irradiance_w_m2=lit_w_m2, cell_temp_c=temp_cell_c)
    of_brighter = None if brighter is None else brighter.curve(parameters, lit_w_m2)
    power, voltage, current = np.zeros((3, rows, points))
    # Bypassing gains nothing where the next darker group has nearly the irradiance of the darkest conducting one.
    distinct_share = 1.0 - DISTINCT_SHARE_PER_GROUP / total
    for row in range(rows):
        exists = counts[row] > 0.0
        if row < rows - 1:
            is_last = counts[row + 1] == 0.0
            exists &= is_last | (irradiance_w_m2[row + 1] < distinct_share * irradiance_w_m2[row])
        index = np.flatnonzero(exists)
        if not index.size:
            continue
        branch_curve, modules = _rows(curve, row + 1, index), counts[: row + 1, index] / groups_per_module
        if brighter is not None and of_brighter is not None:
            share = brighter.share[: row + 1, index]
            branch_curve = _stacked(_rows(of_brighter, row + 1, index), branch_curve)
            modules = np.concatenate([modules * share, modules * (1.0 - share)])
        branch = _Branch(
            curve=branch_curve,
            modules=modules,
            drop_v=(total[index] - conducting_counts[row, index]) * BYPASS_FORWARD_V,
        )
        branch_voltage, branch_current = branch.maximum()
        voltage[row, index], current[row, index] = branch_voltage, branch_current
        power[row, index] = np.maximum(branch_voltage * branch_current, 0.0)
    return Branches(power, voltage, current)


@dataclass(frozen=True, slots=True, eq=False)
class BrighterCells:
    """Share of each group's cells with more irradiance than those that hold its current (0 to below 1), and their irradiance.

    At the group's current they have more voltage than at their own maximum. Arrays of shape (groups, n); [W/m2] and [degC].
    """

    share: FloatArray
    irradiance_w_m2: FloatArray
    temp_cell_c: FloatArray

    def is_uneven(self, irradiance_w_m2: FloatArray) -> BoolArray:
        """Whether the cells of a group differ so much that it matters."""
        return np.asarray((self.share > 0.0) & (irradiance_w_m2 < EVEN_SHARE * self.irradiance_w_m2))

    def curve(self, parameters: SixParameters, at_least_w_m2: FloatArray) -> DiodeCurve:
        """Curves of whole modules of such cells."""
        irradiance = np.maximum(self.irradiance_w_m2, at_least_w_m2)
        return curve_at(parameters, irradiance_w_m2=irradiance, cell_temp_c=self.temp_cell_c)

    def at(self, points: BoolArray) -> BrighterCells:
        """Some of the points."""
        return BrighterCells(self.share[:, points], self.irradiance_w_m2[:, points], self.temp_cell_c[:, points])


def _apart(
    parameters: SixParameters,
    irradiance_w_m2: FloatArray,
    temp_cell_c: FloatArray,
    groups_per_module: int,
    counts: FloatArray,
    brighter: BrighterCells,
    is_uneven: BoolArray,
) -> Branches:
    """Points with uneven groups and others by themselves, as the first take more time."""
    whole = Branches(*np.zeros((3, *irradiance_w_m2.shape)))
    for points, cells in ((is_uneven, brighter.at(is_uneven)), (~is_uneven, None)):
        part = series_branches(
            parameters,
            irradiance_w_m2=irradiance_w_m2[:, points],
            temp_cell_c=temp_cell_c[:, points],
            groups_per_module=groups_per_module,
            group_counts=counts[:, points],
            brighter=cells,
        )
        whole.power_w[:, points], whole.voltage_v[:, points] = part.power_w, part.voltage_v
        whole.current_a[:, points] = part.current_a
    return whole


def _rows(curve: DiodeCurve, count: int, index: IntArray) -> DiodeCurve:
    return DiodeCurve(*(getattr(curve, each.name)[:count, index] for each in fields(DiodeCurve)))


def _stacked(first: DiodeCurve, second: DiodeCurve) -> DiodeCurve:
    return DiodeCurve(*(np.concatenate([getattr(first, each.name), getattr(second, each.name)]) for each in fields(DiodeCurve)))


@dataclass(frozen=True, slots=True, eq=False)
class _BranchPoint:
    """A branch at a current, arrays of shape (n,): resistances are differential, so is the darkest group's conductance."""

    voltage_v: FloatArray
    current_a: FloatArray
    resistance_ohm: FloatArray
    resistance_slope_ohm_per_a: FloatArray
    darkest_s: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Branch:
    """Conducting groups, the darkest in the last row: curves of whole modules, and the modules that each row makes up.

    Both have shape (rows, n). `drop_v`, shape (n,), is what the bypassed groups' diodes take.
    """

    curve: DiodeCurve
    modules: FloatArray
    drop_v: FloatArray

    def maximum(self) -> tuple[FloatArray, FloatArray]:
        """Voltage [V] and current [A] at the branch's maximum power."""

        def step(diode_v: FloatArray, point: IntArray) -> FloatArray:
            at = (self if point.size == self.drop_v.size else self.columns(point)).at(diode_v)
            voltage_v = np.maximum(at.voltage_v, _VOLTAGE_FLOOR_V)
            excess = np.log(voltage_v / (at.current_a * at.resistance_ohm))
            slope = at.resistance_ohm / voltage_v + 1.0 / at.current_a + at.resistance_slope_ohm_per_a / at.resistance_ohm
            return np.asarray(excess / (at.darkest_s * slope))

        curve = self.curve
        a_v, photocurrent, saturation = curve.a_v[-1], curve.photocurrent_a[-1], curve.saturation_current_a[-1]
        open_circuit = np.log1p(photocurrent / saturation)
        # The brighter the other groups, the less they bend the curve where the darkest one does: its voltage is then lower.
        through = photocurrent / (1.0 + open_circuit)
        bending = self.modules * (through / (through + curve.photocurrent_a - photocurrent))
        bending_share = bending.sum(axis=0) / self.modules.sum(axis=0)
        start = a_v * np.maximum(open_circuit - np.log1p(open_circuit) + np.log(bending_share), 0.3 * open_circuit)
        end = np.minimum(a_v * open_circuit, 0.999 * photocurrent * curve.shunt_resistance_ohm[-1])
        start = np.minimum(start, 0.9 * end)
        points = np.arange(start.size)
        diode_v = newton(step, start, (points,), tolerance=_STEP_TOLERANCE * a_v, end=end, steps_most=_STEPS_MOST)
        at = self.at(diode_v)
        return at.voltage_v, at.current_a

    def at(self, darkest_v: FloatArray) -> _BranchPoint:
        """The branch at a diode voltage of its darkest group, as of a whole module."""
        curve = self.curve
        a_v, saturation, conductance = curve.a_v, curve.saturation_current_a, 1.0 / curve.shunt_resistance_ohm
        through = saturation[-1] * np.expm1(darkest_v / a_v[-1])
        current_a = np.maximum(curve.photocurrent_a[-1] - through - darkest_v * conductance[-1], 1e-9)
        diode_v = np.empty_like(a_v)
        diode_v[-1] = darkest_v
        for row in range(len(a_v) - 1):
            loss = np.maximum(curve.photocurrent_a[row] - current_a, 0.0)
            diode_v[row] = _diode_voltage(loss, a_v[row], saturation[row], conductance[row])
        diode_a = saturation * np.exp(diode_v / a_v)
        slope_s = diode_a / a_v + conductance
        return _BranchPoint(
            voltage_v=(self.modules * (diode_v - current_a * curve.series_resistance_ohm)).sum(axis=0) - self.drop_v,
            current_a=current_a,
            resistance_ohm=(self.modules * (1.0 / slope_s + curve.series_resistance_ohm)).sum(axis=0),
            resistance_slope_ohm_per_a=(self.modules * diode_a / (a_v * a_v * slope_s**3)).sum(axis=0),
            darkest_s=slope_s[-1],
        )

    def columns(self, point: IntArray) -> _Branch:
        """Some of the points."""
        curve = DiodeCurve(*(getattr(self.curve, each.name)[:, point] for each in fields(DiodeCurve)))
        return _Branch(curve, self.modules[:, point], self.drop_v[point])


def _diode_voltage(loss_a: FloatArray, a_v: FloatArray, saturation_a: FloatArray, conductance_s: FloatArray) -> FloatArray:
    """Diode voltage [V] at which diode and shunt take `loss_a`: two Newton steps, as the shunt takes little of it."""
    diode_v = np.minimum(a_v * np.log1p(loss_a / saturation_a), 0.999 * loss_a / np.maximum(conductance_s, 1e-12))
    for _ in range(2):
        through = np.maximum(loss_a - diode_v * conductance_s, 0.0)
        excess = diode_v - a_v * np.log1p(through / saturation_a)
        diode_v = diode_v - excess / (1.0 + a_v * conductance_s / (through + saturation_a))
    return diode_v

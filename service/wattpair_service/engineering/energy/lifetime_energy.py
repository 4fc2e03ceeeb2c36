"""Energy of a roof over the years as its modules age, split into used at home, exported and curtailed by the export limit.

A module's power falls as it ages, so clipping shrinks: AC power is the smaller of the aged power and the AC limit, at each
point and in each year. Conversion and the DC limits stay as in the first year.

A face has full units and, where its modules do not fill the last one, a unit with the modules that are left. The points are
evaluated for each number of modules on a unit, and each number counts with its modules.

The household uses a share of all energy, or up to its load; see `home_use`. What is split is the power that the losses of every
hour between units and meter leave (`kept_share`). The export limit is a power of the whole roof. The
night draw of the units is imported: it is subtracted from the energy used at home, at the price of its hours. A face by itself
gets a share of household load and export limit in proportion to its modules.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import Protocol

import numpy as np
from scipy.interpolate import PchipInterpolator

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.energy.energy_balance import EnergyBalance
from wattpair_service.engineering.energy.home_use import Flows, Household, Tariff
from wattpair_service.engineering.energy.roof_dc import RoofDc, UnitsOnFaces
from wattpair_service.engineering.equipment import InputWiring, Microinverter
from wattpair_service.engineering.inverter.power_steps import PowerSteps, power_steps
from wattpair_service.engineering.irradiance.conditions import HOURS_PER_YEAR
from wattpair_service.engineering.module.dc_response import PointShade, by_month
from wattpair_service.engineering.money.cash_flow import discount_factors

AGE_STEP = 0.04
"""Loss of module power between the ages at which household load and export limit are applied hour by hour. Energy changes
smoothly between them: it misses at most 0.01 % of a year's energy."""


@dataclass(frozen=True, slots=True, eq=False)
class Worth:
    """Present value of one unit of money at the tariff of the first year, earned in each year."""

    factors: FloatArray

    @classmethod
    def of(cls, tariff: Tariff, discount_rate: float, years: int) -> Worth:
        """Discounted to today; a year's energy is valued at the end of the year."""
        return cls((1.0 + tariff.change_share_per_year) ** np.arange(float(years)) * discount_factors(discount_rate, years))


@dataclass(frozen=True, slots=True, eq=False)
class YearlySplit:
    """Energy used at home, exported and curtailed by the export limit (`cut_kwh`) [kWh]; years along the last axis.

    `home_value` and `exported_value` are the first two times the price of each hour, at the tariff of the first year; 0 without
    a tariff.
    """

    home_kwh: FloatArray
    exported_kwh: FloatArray
    cut_kwh: FloatArray
    home_value: FloatArray
    exported_value: FloatArray

    @property
    def useful_kwh(self) -> FloatArray:
        """Energy used at home or exported [kWh]."""
        return self.home_kwh + self.exported_kwh

    @property
    def energy_value(self) -> FloatArray:
        """Value of each year's energy at the tariff of the first year."""
        return self.home_value + self.exported_value

    def less(self, other: YearlySplit) -> YearlySplit:
        """Difference of this split and another, term by term."""
        return YearlySplit(*(getattr(self, each.name) - getattr(other, each.name) for each in fields(self)))

    def value(self, worth: Worth) -> FloatArray:
        """Present value of all years [currency]."""
        return self.energy_value @ worth.factors


@dataclass(frozen=True, slots=True, eq=False)
class MonthlySplit:
    """Energy of the whole roof in each month of the first year [kWh].

    Used at home, less the night draw; exported; the night draw; and the household load, None without one.
    """

    home_kwh: FloatArray
    exported_kwh: FloatArray
    night_kwh: FloatArray
    load_kwh: FloatArray | None

    @property
    def imported_kwh(self) -> FloatArray | None:
        """Imported for load and night draw; None without a load."""
        return None if self.load_kwh is None else self.load_kwh - self.home_kwh


class Roof(Protocol):
    """The properties of a roof that these functions need."""

    @property
    def dc(self) -> RoofDc:
        """DC response of one module on each face."""

    @property
    def input_wiring(self) -> InputWiring:
        """Modules on each input."""

    @property
    def counts(self) -> FloatArray:
        """Modules on each face."""

    @property
    def remaining(self) -> FloatArray:
        """Module power in each year over that of the first year (0-1); never rises."""

    @property
    def household(self) -> Household:
        """Household load, prices and export limit."""


@dataclass(frozen=True, slots=True, eq=False)
class LifetimeEnergy:
    """Energy of the whole roof with one microinverter; all splits are of the power that the losses of every hour leave.

    Attributes
    ----------
    balance_kwh : array, shape (faces, 13)
        First year of each face, all its modules, in the order of `EnergyBalance`.
    delivered_kwh, lost_kwh : array, shape (faces, years)
        AC energy net of the night draw, and energy lost to AC limit and thermal derating; both before the export limit.
    night_kwh : float
        Yearly night draw of the whole roof.
    clipped_share_hourly_means : array, shape (faces,)
        Clipped share of the first year computed from hourly means (0-1).
    lost_faces : YearlySplit
        How `lost_kwh` would be split without AC limit and derating, each face by itself; shape (faces, years).
    faces, roof : YearlySplit
        Each face by itself, shape (faces, years), and the whole roof, shape (years,).
    night_value : array, shape (faces,)
        Yearly night draw of each face at the import prices of its hours.
    mean_load : float
        Energy-weighted mean of the first year's power over the rated power, as if all faces peaked together.
    months : MonthlySplit
        Months of the first year.
    """

    balance_kwh: FloatArray
    delivered_kwh: FloatArray
    lost_kwh: FloatArray
    night_kwh: float
    clipped_share_hourly_means: FloatArray
    lost_faces: YearlySplit
    faces: YearlySplit
    roof: YearlySplit
    night_value: FloatArray
    mean_load: float
    months: MonthlySplit

    @property
    def balance(self) -> EnergyBalance:
        """First year of the whole roof."""
        return EnergyBalance(*self.balance_kwh.sum(axis=0).tolist())

    @property
    def balances(self) -> tuple[EnergyBalance, ...]:
        """First year of each face, all its modules."""
        return tuple(EnergyBalance(*face) for face in self.balance_kwh.tolist())


def _keeps_all(_: float) -> float:
    return 1.0


def lifetime_energy(
    roof: Roof, microinverter: Microinverter, kept_share: Callable[[float], float] = _keeps_all
) -> LifetimeEnergy:
    """Energy of the roof with a microinverter, year by year.

    `kept_share` gives, for the units' mean load (see `LifetimeEnergy`), the share of their power in every hour that arrives
    where it meets household load and export limit (0-1).
    """
    groups, dc = _unit_groups(roof, microinverter), roof.dc
    night = _Night.of(roof, groups)

    def summed(face_wh: Callable[[_UnitGroup], FloatArray]) -> FloatArray:
        """Energy of all modules of each face [kWh], from that of one module [Wh]."""
        return np.asarray(sum(face_wh(each) * each.counts for each in groups) / 1000.0)

    available_kwh, converted_kwh = summed(lambda each: each.dc.by_face(each.steps.available_w)), _converted_kwh(groups)
    unshaded_kwh, shade_irradiance_kwh = (summed(lambda each, name=name: each.shade_wh(name)) for name in PointShade.__slots__)  # type: ignore[misc]
    dc_losses_kwh = [
        summed(lambda each, name=name: each.dc.loss_by_face(getattr(each.steps, name)))  # type: ignore[misc]
        for name in ("tracker", "start_up", "voltage_window", "input_current")
    ]
    conversion_kwh = available_kwh - sum(dc_losses_kwh) - converted_kwh
    clipping_kwh = summed(lambda each: each.lost_wh(each.steps.limited_w[each.limited.index]))
    clipping_and_derating_kwh = summed(lambda each: each.lost_wh(each.limited.delivered_w))
    balance_kwh = [
        unshaded_kwh,
        shade_irradiance_kwh,
        unshaded_kwh - shade_irradiance_kwh - available_kwh,
        available_kwh,
        *dc_losses_kwh,
        conversion_kwh,
        clipping_kwh,
        clipping_and_derating_kwh - clipping_kwh,
        night.kwh,
        converted_kwh - clipping_and_derating_kwh - night.kwh,
    ]
    delivered_kwh, lost_kwh = _delivered_and_lost_kwh(roof, groups, converted_kwh, night.kwh)
    mean_load = _mean_load(groups, microinverter, float((converted_kwh - clipping_and_derating_kwh).sum()))
    kept = kept_share(mean_load)
    splits = _splits(roof, groups, delivered_kwh, night, kept)
    hourly_clipped_kwh = summed(lambda each: each.clipped_wh_of_hourly_means(microinverter))
    return LifetimeEnergy(
        balance_kwh=np.stack(balance_kwh, axis=-1),
        delivered_kwh=delivered_kwh,
        lost_kwh=lost_kwh,
        night_kwh=float(night.kwh.sum()),
        clipped_share_hourly_means=np.divide(
            hourly_clipped_kwh, converted_kwh, out=np.zeros(dc.face_count), where=converted_kwh > 0.0
        ),
        lost_faces=_faces_without_ac_limit(roof, groups, splits, delivered_kwh + lost_kwh, night, kept).less(splits.faces),
        faces=splits.faces,
        roof=splits.roof,
        night_value=night.value,
        mean_load=mean_load,
        months=_first_year_by_month(roof, groups, kept),
    )


def _mean_load(groups: Sequence[_UnitGroup], microinverter: Microinverter, produced_kwh: float) -> float:
    """Energy-weighted mean of the power of the units over their rated power."""
    squared = 0.0
    for each in groups:
        rated_w = microinverter.ac_power_w / each.modules_per_unit
        squared += float(each.dc.by_face(each.steps.delivered_w**2) @ each.counts) / rated_w / 1000.0
    return squared / produced_kwh if produced_kwh > 0.0 else 0.0


def lifetime_splits(
    roof: Roof, microinverter: Microinverter, current_factor: FloatArray, kept_share: float
) -> tuple[YearlySplit, YearlySplit]:
    """Yearly splits with modules whose currents are scaled by k factors, `current_factor` of shape (k, 1).

    `kept_share` is that of `lifetime_energy`. Gives the split of each face by itself, shape (k, faces, years), and of the roof,
    (k, years).
    """
    groups = _unit_groups(roof, microinverter, current_factor)
    night = _Night.of(roof, groups)
    delivered_kwh, _ = _delivered_and_lost_kwh(roof, groups, _converted_kwh(groups), night.kwh)
    splits = _splits(roof, groups, delivered_kwh, night, kept_share)
    return splits.faces, splits.roof


@dataclass(frozen=True, slots=True, eq=False)
class _UnitGroup:
    """The units with the same number of modules, on the faces that have such units.

    Attributes
    ----------
    dc : RoofDc
        The points of these faces, and `cell` the cell of the roof that each lies in.
    counts : array, shape (faces,)
        Modules of each face that are on such units.
    modules_per_unit : int
        Modules on each of these units.
    steps : PowerSteps
        Of one module, at these points.
    limited : _LimitedPoints
        Those of the points that AC limit or thermal derating reduces.
    night_draw_kw : array, shape (faces,)
        Draw of each face's units while they deliver nothing.
    """

    dc: RoofDc
    cell: IntArray | slice
    counts: FloatArray
    modules_per_unit: int
    steps: PowerSteps
    limited: _LimitedPoints
    night_draw_kw: FloatArray

    @property
    def is_idle(self) -> BoolArray:
        """Whether the units deliver nothing, shape (..., points); they draw as in the dark."""
        return self.steps.delivered_w <= 0.0

    def shade_wh(self, name: str) -> FloatArray:
        """Energy of one module on each face [Wh] by a field of `PointShade`."""
        shade = self.dc.response.shade
        if shade is None:
            return np.zeros(self.dc.face_count) if name == "irradiance_loss_w" else self.dc.by_face(self.steps.available_w)
        return self.dc.by_face(getattr(shade, name))

    def lost_wh(self, power_w: FloatArray) -> FloatArray:
        """Energy of one module on each face [Wh] that is lost where a limit leaves these powers at the limited points."""
        return self.dc.hours_by_face(self.limited.index, self.limited.converted_w - power_w)

    def clipped_wh_of_hourly_means(self, microinverter: Microinverter) -> FloatArray:
        """Clipped energy by hourly means [Wh]: the power of each hour's even state, scaled to the hour's mean."""
        means, limit_w = self.dc.hour_means, microinverter.ac_power_w / self.modules_per_unit
        assert means is not None, "condensed points have no hourly means"
        index = np.flatnonzero(self.steps.converted_w > limit_w * means.power_ratio_min)
        over_limit_w = np.maximum(self.steps.converted_w[index] / means.power_ratio[index] - limit_w, 0.0)
        clipped_wh = np.bincount(
            self.dc.face[index], weights=over_limit_w * means.weight_h[index], minlength=self.dc.face_count
        )
        return clipped_wh.astype(np.float64, copy=False)


def _unit_groups(roof: Roof, microinverter: Microinverter, current_factor: FloatArray | float = 1.0) -> list[_UnitGroup]:
    """The full units of all faces, then the units that the modules left on some faces do not fill."""
    counts_by_modules: dict[int, FloatArray] = {}
    firsts_by_modules: dict[int, list[int]] = {}
    for face, face_count in enumerate(roof.counts.tolist()):
        first = 0
        for on_unit, count in microinverter.unit_fillings(round(face_count), roof.input_wiring).items():
            counts_by_modules.setdefault(on_unit, np.zeros(roof.counts.size))[face] = count
            firsts_by_modules.setdefault(on_unit, [0] * roof.counts.size)[face] = first
            first += count
    groups = []
    for modules, counts in counts_by_modules.items():
        module_counts = tuple(round(count) for count in counts.tolist())
        units = UnitsOnFaces(modules, module_counts, tuple(firsts_by_modules[modules]), roof.input_wiring)
        dc, cell = roof.dc.of_units(units)
        steps = power_steps(
            dc.response,
            microinverter,
            input_wiring=roof.input_wiring,
            module_count=modules,
            current_factor=current_factor,
        )
        night_draw_kw = counts / modules * microinverter.night_draw_w / 1000.0
        groups.append(_UnitGroup(dc, cell, counts, modules, steps, _LimitedPoints.of(steps), night_draw_kw))
    return groups


def _converted_kwh(groups: Sequence[_UnitGroup]) -> FloatArray:
    """AC energy of each face before AC limit and derating, shape (..., faces) [kWh]."""
    return np.asarray(sum(each.dc.by_face(each.steps.converted_w) * each.counts for each in groups) / 1000.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Night:
    """Yearly draw of each face's units while they deliver nothing, shape (..., faces) [kWh], and its value at import prices."""

    kwh: FloatArray
    value: FloatArray

    @classmethod
    def of(cls, roof: Roof, groups: Sequence[_UnitGroup]) -> _Night:
        household = roof.household
        kwh, value = np.zeros(roof.dc.face_count), np.zeros(roof.dc.face_count)
        for each in groups:
            dc, is_idle, draw_kw = each.dc, each.is_idle, each.night_draw_kw
            idle_lit_h = dc.hours_by_face(np.flatnonzero(is_idle)) if is_idle.ndim == 1 else dc.by_face(_as_float(is_idle))
            kwh = kwh + (dc.dark_hours_h + idle_lit_h) * draw_kw
            if household.import_price is not None:
                price = household.import_price[household.slot[dc.moment]]
                delivering = dc.by_face(np.where(is_idle, 0.0, price))
                value = value + (household.mean_import_price * HOURS_PER_YEAR - delivering) * draw_kw
        if household.import_price is None:
            value = kwh * household.mean_import_price
        return cls(kwh, value)

    @property
    def of_the_roof(self) -> _Night:
        """All faces together."""
        return _Night(self.kwh.sum(axis=-1), self.value.sum(axis=-1))


def _as_float(mask: BoolArray) -> FloatArray:
    return mask.astype(np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class _LimitedPoints:
    """The points that AC limit or thermal derating reduces in the first year: AC power before and after, (..., points) [W].

    Aged modules give no more power, so no other point reaches a limit in a later year.
    """

    index: IntArray
    converted_w: FloatArray
    delivered_w: FloatArray

    @classmethod
    def of(cls, steps: PowerSteps) -> _LimitedPoints:
        is_limited = steps.delivered_w < steps.converted_w
        index = np.flatnonzero(is_limited if is_limited.ndim == 1 else is_limited.any(axis=0))
        return cls(index, steps.converted_w.take(index, axis=-1), steps.delivered_w.take(index, axis=-1))


def _delivered_and_lost_kwh(
    roof: Roof, groups: Sequence[_UnitGroup], converted_kwh: FloatArray, night_kwh: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """AC energy net of the night draw, and energy lost to AC limit and derating, of each face: shape (..., faces, years)."""
    lost_kwh = np.asarray(sum(_lost_wh(roof.remaining, each) * each.counts[:, None] for each in groups) / 1000.0)
    return converted_kwh[..., None] * roof.remaining - lost_kwh - night_kwh[..., None], lost_kwh


def _lost_wh(remaining: FloatArray, group: _UnitGroup) -> FloatArray:
    """Energy that one module on each face loses to AC limit and derating in each year, shape (..., faces, years) [Wh].

    A point is limited in the first years only, as long as the remaining share exceeds limit over first-year power. So each
    point's power is added to the last year in which it is limited, and sums from the last year backwards give every year.
    """
    limited, dc = group.limited, group.dc
    limit_share = np.divide(
        limited.delivered_w, limited.converted_w, out=np.ones_like(limited.delivered_w), where=limited.converted_w > 0.0
    )
    limited_years = np.searchsorted(-remaining, -limit_share)
    shape = *limited.converted_w.shape[:-1], dc.face_count, remaining.size + 1
    row = np.arange(math.prod(shape[:-2])).reshape(*shape[:-2], 1) * shape[-2] + dc.face[limited.index]
    bins = (row * shape[-1] + limited_years).ravel()
    weight_h = dc.response.weight_h[limited.index]

    def by_year_wh(power_w: FloatArray) -> FloatArray:
        by_limited_years = np.bincount(bins, weights=(power_w * weight_h).ravel(), minlength=math.prod(shape)).reshape(shape)
        return np.asarray(np.cumsum(by_limited_years[..., :0:-1], axis=-1)[..., ::-1])

    return np.maximum(by_year_wh(limited.converted_w) * remaining - by_year_wh(limited.delivered_w), 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Splits:
    """Split of each face by itself, and of the whole roof.

    Of the hours at each of `_sampled_ages`: power of each cell's face [W], and the split of the faces [kWh]. Both are empty
    where a share of the energy is used at home.
    """

    faces: YearlySplit
    roof: YearlySplit
    power_by_age_w: Sequence[FloatArray] = ()
    faces_by_age_kwh: Sequence[FloatArray] = ()


def _splits(roof: Roof, groups: Sequence[_UnitGroup], delivered_kwh: FloatArray, night: _Night, kept_share: float) -> _Splits:
    if roof.household.by_share:
        of_roof = _split_by_share(delivered_kwh.sum(axis=-2), night.of_the_roof, roof.household, kept_share)
        return _Splits(_split_by_share(delivered_kwh, night, roof.household, kept_share), of_roof)
    power_by_age_w = [_power_w(roof, groups, remaining, kept_share, limited=True) for remaining in _sampled_ages(roof)]
    by_age_kwh = [_face_split_kwh(roof, power_w) for power_w in power_by_age_w]
    faces, of_roof = _split_of_every_year(roof, by_age_kwh, night), _hourly_roof_split(roof, power_by_age_w, night)
    return _Splits(faces, of_roof, power_by_age_w, by_age_kwh)


def _faces_without_ac_limit(
    roof: Roof, groups: Sequence[_UnitGroup], splits: _Splits, unlimited_kwh: FloatArray, night: _Night, kept_share: float
) -> YearlySplit:
    """Split of each face by itself, had its units neither AC limit nor derating: other only at the points that they reduce."""
    if roof.household.by_share:
        return _split_by_share(unlimited_kwh, night, roof.household, kept_share)
    is_limited = np.zeros(roof.dc.cells.face.size, dtype=np.bool_)
    for each in groups:
        is_limited[np.arange(is_limited.size)[each.cell][each.limited.index]] = True
    index, by_age_kwh = np.flatnonzero(is_limited), []
    rows = zip(_sampled_ages(roof), splits.power_by_age_w, splits.faces_by_age_kwh, strict=True)
    for remaining, limited_w, split_kwh in rows:
        unlimited_w = _power_w(roof, groups, remaining, kept_share, limited=False)
        added_kwh = _face_split_kwh(roof, unlimited_w, index) - _face_split_kwh(roof, limited_w, index)
        by_age_kwh.append(split_kwh + added_kwh)
    return _split_of_every_year(roof, by_age_kwh, night)


def _power_w(roof: Roof, groups: Sequence[_UnitGroup], remaining: float, kept_share: float, *, limited: bool) -> FloatArray:
    """Power of all modules of each cell's face as they age that is kept [W]; AC limit and derating where `limited`."""
    total_w, cell_count = np.zeros(()), roof.dc.cells.face.size
    for each in groups:
        power_w = each.steps.converted_w * remaining
        if limited:
            np.minimum(power_w, each.steps.delivered_w, out=power_w)
        power_w *= (kept_share * each.counts)[each.dc.face]
        total_w = total_w + each.dc.cell_power_w(power_w, each.cell, cell_count)
    return total_w


def _face_split_kwh(roof: Roof, power_w: FloatArray, index: IntArray | None = None) -> FloatArray:
    """Split of each face by itself, with its share of household load and export limit; only of the cells at `index`."""
    cells = roof.dc.cells
    face_share = (roof.counts / roof.counts.sum())[cells.face]
    if index is None:
        return _split_kwh(roof, power_w, roof.household.flows(power_w, cells.moment, face_share), cells.by_face)
    flows = roof.household.flows(power_w[index], cells.moment[index], face_share[index])
    return _split_kwh(roof, power_w[index], flows, lambda each: cells.hours_by_face(index, each))


def _hourly_roof_split(roof: Roof, power_by_age_w: Sequence[FloatArray], night: _Night) -> YearlySplit:
    """Split of all faces together, behind one grid connection."""

    def energy_wh(power_w: FloatArray) -> FloatArray:
        return np.asarray(power_w @ roof.dc.time.weight_h)

    roof_power_w = (_at_moments(roof.dc, power_w) for power_w in power_by_age_w)
    by_age_kwh = [_split_kwh(roof, power_w, roof.household.flows(power_w, slice(None)), energy_wh) for power_w in roof_power_w]
    return _split_of_every_year(roof, by_age_kwh, night.of_the_roof)


def _at_moments(dc: RoofDc, face_power_w: FloatArray) -> FloatArray:
    """Power of the whole roof at each of its moments [W], from that of each cell's face."""
    moment, moment_count = dc.cells.moment, dc.time.weight_h.size
    rows = face_power_w.reshape(math.prod(face_power_w.shape[:-1]), moment.size)
    sums = [np.bincount(moment, weights=row, minlength=moment_count) for row in rows]
    return np.asarray(sums, dtype=np.float64).reshape(*face_power_w.shape[:-1], moment_count)


def _split_kwh(roof: Roof, power_w: FloatArray, flows: Flows, energy_wh: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """Energy used at home, exported and cut [kWh], then values where prices change, along the first axis.

    `energy_wh` sums powers over the hours.
    """
    home_wh, exported_wh = (energy_wh(each) for each in (flows.home_w, flows.exported_w))
    is_limited = roof.household.use.export_limit_w is not None
    cut_wh = energy_wh(power_w) - home_wh - exported_wh if is_limited else np.zeros_like(home_wh)
    values = [energy_wh(each) for each in (flows.home_value, flows.exported_value) if each is not None]
    return np.array([home_wh, exported_wh, cut_wh, *values]) / 1000.0


def _split_of_every_year(roof: Roof, by_age_kwh: Sequence[FloatArray], night: _Night) -> YearlySplit:
    """Split of every year from those of the sampled ages; the night draw is imported."""
    columns = np.moveaxis(_at_every_year(roof, np.array(by_age_kwh)), 0, -1)
    (home_kwh, exported_kwh, cut_kwh), values = columns[:3], columns[3:]
    if not len(values):
        return _at_flat_prices(roof.household, home_kwh - night.kwh[..., None], exported_kwh, cut_kwh)
    home_value, exported_value = values
    return YearlySplit(
        home_kwh - night.kwh[..., None], exported_kwh, cut_kwh, home_value - night.value[..., None], exported_value
    )


def _split_by_share(delivered_kwh: FloatArray, night: _Night, household: Household, kept_share: float) -> YearlySplit:
    """Split by a constant share used at home, at flat prices and without export limit."""
    share, night_kwh = household.use.share_used_at_home, night.kwh[..., None]
    assert share is not None, "without a household load there is a share"
    produced_kwh = kept_share * (delivered_kwh + night_kwh)
    home_kwh = share * produced_kwh
    return _at_flat_prices(household, home_kwh - night_kwh, produced_kwh - home_kwh, np.zeros_like(home_kwh))


def _at_flat_prices(household: Household, home_kwh: FloatArray, exported_kwh: FloatArray, cut_kwh: FloatArray) -> YearlySplit:
    tariff = household.tariff
    return YearlySplit(
        home_kwh, exported_kwh, cut_kwh, home_kwh * tariff.import_price_per_kwh, exported_kwh * tariff.export_price_per_kwh
    )


def _first_year_by_month(roof: Roof, groups: Sequence[_UnitGroup], kept_share: float) -> MonthlySplit:
    """Split of the roof in each month of the first year."""
    household, time = roof.household, roof.dc.time
    power_w, night_kwh = _power_w(roof, groups, 1.0, kept_share, limited=True), np.zeros(12)
    for each in groups:
        idle = np.flatnonzero(each.is_idle)
        idle_kwh = each.dc.response.weight_h[idle] * each.night_draw_kw[each.dc.face[idle]]
        night_kwh += each.night_draw_kw @ each.dc.dark_hours_by_month + by_month(each.dc.response.month[idle], idle_kwh)
    if household.by_share:
        cells = roof.dc.cells
        total_kwh = by_month(time.month[cells.moment], power_w * cells.weight_h) / 1000.0
        home_kwh = total_kwh * (household.use.share_used_at_home or 0.0)
        return MonthlySplit(home_kwh - night_kwh, total_kwh - home_kwh, night_kwh, None)
    flows = household.flows(_at_moments(roof.dc, power_w), slice(None))
    home_kwh, exported_kwh = (by_month(time.month, each * time.weight_h) / 1000.0 for each in (flows.home_w, flows.exported_w))
    return MonthlySplit(home_kwh - night_kwh, exported_kwh, night_kwh, household.load_kwh_by_month)


def _sampled_ages(roof: Roof) -> FloatArray:
    """Remaining shares of module power to compute hour by hour, rising: those of a few years, else some in equal steps."""
    remaining = roof.remaining
    ages = 1 + math.ceil(float(remaining[0] - remaining[-1]) / AGE_STEP)
    return np.linspace(remaining[-1], remaining[0], ages) if ages < remaining.size else np.unique(remaining)


def _at_every_year(roof: Roof, values: FloatArray) -> FloatArray:
    """Values at `_sampled_ages`, along the first axis, interpolated to every year by monotone cubics."""
    ages = _sampled_ages(roof)
    if ages.size < 2:
        return np.repeat(values, roof.remaining.size, axis=0)
    # Between values near the smallest number that there is, a slope's inverse is infinite, and the slope taken is then 0.
    with np.errstate(over="ignore"):
        return np.asarray(PchipInterpolator(ages, values, axis=0)(roof.remaining))

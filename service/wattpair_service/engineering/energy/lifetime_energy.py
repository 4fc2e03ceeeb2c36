"""Energy of a roof over the years as its modules age, split into used at home, exported and curtailed by the export limit.

A module's power falls as it ages, so clipping shrinks: AC power is the smaller of the aged power and the AC limit, at each
point and in each year. Conversion and the DC limits stay as in the first year.

The household uses a share of all energy, or up to its load, given for each hour of a mean day of each month. The export limit
is a power of the whole roof. The night draw of the units is imported: it is subtracted from the energy used at home. A face by
itself gets a share of household load and export limit in proportion to its modules. Neglected: variability of the household
load inside the hour and from day to day, storage, a tariff that changes over the day.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy.interpolate import PchipInterpolator

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.energy.energy_balance import EnergyBalance
from wattpair_service.engineering.energy.roof_dc import RoofDc
from wattpair_service.engineering.equipment import InputWiring, Microinverter
from wattpair_service.engineering.inverter.power_steps import PowerSteps, power_steps
from wattpair_service.engineering.money.cash_flow import discount_factors

SAMPLED_AGES_MAX = 7
"""Module ages for which household load and export limit are applied hour by hour; between them energy changes smoothly."""


@dataclass(frozen=True, slots=True, eq=False)
class HomeUse:
    """Share used at home (0-1), or household load [W] by month and hour, shape (12, 24); one of the two is None.

    `export_limit_w` is the export limit of the grid connection [W], None without a limit.
    """

    share_used_at_home: float | None
    load_w: FloatArray | None
    export_limit_w: float | None

    @property
    def of_the_roof(self) -> bool:
        """Whether the split needs the sum of all faces' powers hour by hour."""
        return self.load_w is not None or self.export_limit_w is not None


@dataclass(frozen=True, slots=True)
class Tariff:
    """Energy prices in the first year [currency/kWh], and their relative change from each year to the next."""

    import_price_per_kwh: float
    export_price_per_kwh: float
    change_share_per_year: float


@dataclass(frozen=True, slots=True, eq=False)
class Worth:
    """Present value of a kilowatt-hour of each year, used at home or exported [currency/kWh]."""

    home: FloatArray
    exported: FloatArray

    @classmethod
    def of(cls, tariff: Tariff, discount_rate: float, years: int) -> Worth:
        """Discounted to today; a year's energy is valued at the end of the year."""
        factors = (1.0 + tariff.change_share_per_year) ** np.arange(float(years)) * discount_factors(discount_rate, years)
        return cls(tariff.import_price_per_kwh * factors, tariff.export_price_per_kwh * factors)


@dataclass(frozen=True, slots=True, eq=False)
class YearlySplit:
    """Energy used at home, exported and curtailed by the export limit (`cut_kwh`) [kWh]; years along the last axis."""

    home_kwh: FloatArray
    exported_kwh: FloatArray
    cut_kwh: FloatArray

    @property
    def useful_kwh(self) -> FloatArray:
        """Energy used at home or exported [kWh]."""
        return self.home_kwh + self.exported_kwh

    def less(self, other: YearlySplit) -> YearlySplit:
        """Difference of this split and another, term by term."""
        return YearlySplit(self.home_kwh - other.home_kwh, self.exported_kwh - other.exported_kwh, self.cut_kwh - other.cut_kwh)

    def value(self, worth: Worth) -> FloatArray:
        """Present value of all years [currency]."""
        return self.home_kwh @ worth.home + self.exported_kwh @ worth.exported


class Roof(Protocol):
    """The properties of a roof that these functions need."""

    @property
    def dc(self) -> RoofDc:
        """DC response of one module on each face."""

    @property
    def input_wiring(self) -> InputWiring:
        """Modules on each input."""

    @property
    def available_kwh(self) -> FloatArray:
        """First-year energy of one module on each face at maximum power [kWh]."""

    @property
    def counts(self) -> FloatArray:
        """Modules on each face."""

    @property
    def remaining(self) -> FloatArray:
        """Module power in each year over that of the first year (0-1); never rises."""

    @property
    def home_use(self) -> HomeUse:
        """Household load and export limit."""


@dataclass(frozen=True, slots=True, eq=False)
class LifetimeEnergy:
    """Energy of the whole roof with one microinverter.

    Attributes
    ----------
    balance_kwh : array, shape (faces, 9)
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
    mean_load : float
        Energy-weighted mean of the first year's power over the rated power, as if all faces peaked together.
    """

    balance_kwh: FloatArray
    delivered_kwh: FloatArray
    lost_kwh: FloatArray
    night_kwh: float
    clipped_share_hourly_means: FloatArray
    lost_faces: YearlySplit
    faces: YearlySplit
    roof: YearlySplit
    mean_load: float

    @property
    def balance(self) -> EnergyBalance:
        """First year of the whole roof."""
        return EnergyBalance(*self.balance_kwh.sum(axis=0).tolist())

    @property
    def balances(self) -> tuple[EnergyBalance, ...]:
        """First year of each face, all its modules."""
        return tuple(EnergyBalance(*face) for face in self.balance_kwh.tolist())


def lifetime_energy(roof: Roof, microinverter: Microinverter) -> LifetimeEnergy:
    """Energy of the roof with a microinverter, year by year."""
    steps = power_steps(roof.dc.response, microinverter, input_wiring=roof.input_wiring)
    dc, night_kwh = roof.dc, _night_kwh(roof, microinverter, steps)
    limited = _LimitedPoints.of(steps)
    converted_kwh = dc.by_face(steps.converted_w) / 1000.0
    dc_losses_kwh = [dc.loss_by_face(each) / 1000.0 for each in (steps.start_up, steps.voltage_window, steps.input_current)]
    conversion_kwh = roof.available_kwh - sum(dc_losses_kwh) - converted_kwh
    clipping_kwh, clipping_and_derating_kwh = (
        dc.hours_by_face(limited.index, limited.converted_w - power_w) / 1000.0
        for power_w in (steps.limited_w[limited.index], limited.delivered_w)
    )
    balance_kwh = [
        roof.available_kwh,
        *dc_losses_kwh,
        conversion_kwh,
        clipping_kwh,
        clipping_and_derating_kwh - clipping_kwh,
        night_kwh,
        converted_kwh - clipping_and_derating_kwh - night_kwh,
    ]
    delivered_kwh, lost_kwh = _delivered_and_lost_kwh(roof, limited, converted_kwh, night_kwh)
    roof_night_kwh = night_kwh * roof.counts
    face_splits, roof_split = _splits(roof, steps, delivered_kwh, roof_night_kwh)
    unlimited_splits = _face_splits_without_ac_limit(roof, steps, delivered_kwh + lost_kwh, roof_night_kwh)
    return LifetimeEnergy(
        balance_kwh=np.stack(balance_kwh, axis=-1) * roof.counts[:, None],
        delivered_kwh=delivered_kwh,
        lost_kwh=lost_kwh,
        night_kwh=float(night_kwh @ roof.counts),
        clipped_share_hourly_means=_clipped_share_hourly_means(
            dc, steps, microinverter.per_module(roof.input_wiring).ac_power_w, converted_kwh
        ),
        lost_faces=unlimited_splits.less(face_splits),
        faces=face_splits,
        roof=roof_split,
        mean_load=_mean_load(roof, steps, microinverter, converted_kwh - clipping_and_derating_kwh),
    )


def _mean_load(roof: Roof, steps: PowerSteps, microinverter: Microinverter, produced_kwh: FloatArray) -> float:
    """Energy-weighted mean of the power over the rated power; `produced_kwh` is of one module on each face."""
    produced = float(produced_kwh @ roof.counts)
    squared = float(roof.dc.by_face(steps.delivered_w**2) @ roof.counts) / 1000.0
    rated_w = microinverter.per_module(roof.input_wiring).ac_power_w
    return squared / (rated_w * produced) if produced > 0.0 else 0.0


def lifetime_splits(roof: Roof, microinverter: Microinverter, current_factor: FloatArray) -> tuple[YearlySplit, YearlySplit]:
    """Yearly splits with modules whose currents are scaled by k factors, `current_factor` of shape (k, 1).

    Gives the split of each face by itself, shape (k, faces, years), and of the roof, (k, years).
    """
    steps = power_steps(roof.dc.response, microinverter, input_wiring=roof.input_wiring, current_factor=current_factor)
    night_kwh = _night_kwh(roof, microinverter, steps)
    converted_kwh = roof.dc.by_face(steps.converted_w) / 1000.0
    delivered_kwh, _ = _delivered_and_lost_kwh(roof, _LimitedPoints.of(steps), converted_kwh, night_kwh)
    return _splits(roof, steps, delivered_kwh, night_kwh * roof.counts)


def _clipped_share_hourly_means(dc: RoofDc, steps: PowerSteps, limit_w: float, converted_kwh: FloatArray) -> FloatArray:
    """Clipped share of each face from hourly means (0-1): the power of each hour's even state, scaled to the hour's mean."""
    means = dc.hour_means
    assert means is not None, "condensed points have no hourly means"
    index = np.flatnonzero(steps.converted_w > limit_w * means.power_ratio_min)
    over_limit_w = np.maximum(steps.converted_w[index] / means.power_ratio[index] - limit_w, 0.0)
    clipped_kwh = np.bincount(dc.face[index], weights=over_limit_w * means.weight_h[index], minlength=dc.face_count) / 1000.0
    return np.divide(clipped_kwh, converted_kwh, out=np.zeros_like(clipped_kwh), where=converted_kwh > 0.0)


def _night_kwh(roof: Roof, microinverter: Microinverter, steps: PowerSteps) -> FloatArray:
    """Yearly draw per module while its unit delivers nothing, on each face, shape (..., faces) [kWh]."""
    dc, is_idle = roof.dc, steps.delivered_w <= 0.0
    idle_lit_h = dc.hours_by_face(np.flatnonzero(is_idle)) if is_idle.ndim == 1 else dc.by_face(is_idle.astype(np.float64))
    idle_h = dc.dark_hours_h + idle_lit_h
    return np.asarray(idle_h * (microinverter.per_module(roof.input_wiring).night_draw_w / 1000.0))


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
    roof: Roof, limited: _LimitedPoints, converted_kwh: FloatArray, night_kwh: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """AC energy net of the night draw, and energy lost to AC limit and derating, of each face: shape (..., faces, years).

    A point is limited in the first years only, as long as the remaining share exceeds limit over first-year power. So each
    point's power is added to the last year in which it is limited, and sums from the last year backwards give every year.
    """
    remaining, module_counts = roof.remaining, roof.counts[:, None]
    limit_share = np.divide(
        limited.delivered_w, limited.converted_w, out=np.ones_like(limited.delivered_w), where=limited.converted_w > 0.0
    )
    limited_years = np.searchsorted(-remaining, -limit_share)
    shape = *converted_kwh.shape, remaining.size + 1
    row = np.arange(math.prod(shape[:-2])).reshape(*shape[:-2], 1) * shape[-2] + roof.dc.face[limited.index]
    bins = (row * shape[-1] + limited_years).ravel()
    weight_h = roof.dc.response.weight_h[limited.index]

    def by_year_wh(power_w: FloatArray) -> FloatArray:
        by_limited_years = np.bincount(bins, weights=(power_w * weight_h).ravel(), minlength=math.prod(shape)).reshape(shape)
        return np.asarray(np.cumsum(by_limited_years[..., :0:-1], axis=-1)[..., ::-1])

    lost_wh = np.maximum(by_year_wh(limited.converted_w) * remaining - by_year_wh(limited.delivered_w), 0.0)
    lost_kwh = lost_wh / 1000.0 * module_counts
    unlimited_kwh = converted_kwh[..., None] * module_counts * remaining
    return unlimited_kwh - lost_kwh - (night_kwh * roof.counts)[..., None], lost_kwh


def _splits(roof: Roof, steps: PowerSteps, delivered_kwh: FloatArray, night_kwh: FloatArray) -> tuple[YearlySplit, YearlySplit]:
    """Split of each face by itself, and of the whole roof."""
    use = roof.home_use
    if use.of_the_roof:
        power_by_age_w = _power_by_age_w(roof, steps, limited=True)
        return _hourly_face_splits(roof, power_by_age_w, night_kwh), _hourly_roof_split(roof, power_by_age_w, night_kwh)
    return (
        _split_by_share(delivered_kwh, night_kwh, use),
        _split_by_share(delivered_kwh.sum(axis=-2), night_kwh.sum(axis=-1), use),
    )


def _face_splits_without_ac_limit(
    roof: Roof, steps: PowerSteps, unlimited_kwh: FloatArray, night_kwh: FloatArray
) -> YearlySplit:
    """Split of each face by itself, had its units neither AC limit nor derating."""
    if roof.home_use.of_the_roof:
        return _hourly_face_splits(roof, _power_by_age_w(roof, steps, limited=False), night_kwh)
    return _split_by_share(unlimited_kwh, night_kwh, roof.home_use)


def _power_by_age_w(roof: Roof, steps: PowerSteps, *, limited: bool) -> list[FloatArray]:
    """AC power of all modules of each point's face [W], for each of `_sampled_ages`; AC limit and derating where `limited`."""
    module_counts = roof.counts[roof.dc.face]
    converted_w, delivered_w = steps.converted_w * module_counts, steps.delivered_w * module_counts
    aged_w = (converted_w * remaining for remaining in _sampled_ages(roof.remaining))
    return [np.minimum(power_w, delivered_w) if limited else power_w for power_w in aged_w]


def _hourly_face_splits(roof: Roof, power_by_age_w: Sequence[FloatArray], night_kwh: FloatArray) -> YearlySplit:
    """Split of each face by itself, with its share of household load and export limit."""
    use, dc, response = roof.home_use, roof.dc, roof.dc.response
    face_share = (roof.counts / roof.counts.sum())[dc.face]
    export_limit_w = None if use.export_limit_w is None else use.export_limit_w * face_share
    load_w = None if use.load_w is None else use.load_w[response.month - 1, response.hour] * face_share
    by_age_kwh = [_split_kwh(power_w, use, load_w, export_limit_w, dc.by_face) for power_w in power_by_age_w]
    return _split_of_every_year(roof.remaining, by_age_kwh, night_kwh)


def _hourly_roof_split(roof: Roof, power_by_age_w: Sequence[FloatArray], night_kwh: FloatArray) -> YearlySplit:
    """Split of all faces together, behind one grid connection."""
    use, dc, time = roof.home_use, roof.dc, roof.dc.time
    load_w = None if use.load_w is None else use.load_w[time.month - 1, time.hour]
    moment_count = time.weight_h.size

    def roof_power_w(face_power_w: FloatArray) -> FloatArray:
        rows = face_power_w.reshape(math.prod(face_power_w.shape[:-1]), dc.moment.size)
        sums = [np.bincount(dc.moment, weights=row, minlength=moment_count) for row in rows]
        return np.asarray(sums, dtype=np.float64).reshape(*face_power_w.shape[:-1], moment_count)

    def energy_wh(power_w: FloatArray) -> FloatArray:
        return np.asarray(power_w @ time.weight_h)

    by_age_kwh = [_split_kwh(roof_power_w(power_w), use, load_w, use.export_limit_w, energy_wh) for power_w in power_by_age_w]
    return _split_of_every_year(roof.remaining, by_age_kwh, night_kwh.sum(axis=-1))


def _split_kwh(
    power_w: FloatArray,
    use: HomeUse,
    load_w: FloatArray | None,
    export_limit_w: FloatArray | float | None,
    energy_wh: Callable[[FloatArray], FloatArray],
) -> FloatArray:
    """Energy used at home, exported and curtailed [kWh], along the first axis; `energy_wh` sums powers over the hours."""
    total_wh = energy_wh(power_w)
    if load_w is None:
        share = use.share_used_at_home or 0.0
        home_wh, surplus_w = share * total_wh, power_w * (1.0 - share)
    else:
        home_w = np.minimum(power_w, load_w)
        home_wh, surplus_w = energy_wh(home_w), power_w - home_w
    exported_wh = total_wh - home_wh if export_limit_w is None else energy_wh(np.minimum(surplus_w, export_limit_w))
    return np.array([home_wh, exported_wh, total_wh - home_wh - exported_wh]) / 1000.0


def _split_of_every_year(remaining: FloatArray, by_age_kwh: Sequence[FloatArray], night_kwh: FloatArray) -> YearlySplit:
    """Split of every year from those of the sampled ages; the night draw is imported."""
    home_kwh, exported_kwh, cut_kwh = np.moveaxis(_at_every_year(remaining, np.array(by_age_kwh)), 0, -1)
    return YearlySplit(home_kwh - night_kwh[..., None], exported_kwh, cut_kwh)


def _split_by_share(delivered_kwh: FloatArray, night_kwh: FloatArray, use: HomeUse) -> YearlySplit:
    """Split by a constant share used at home, without export limit."""
    assert use.share_used_at_home is not None, "without a household load there is a share"
    yearly_night_kwh = night_kwh[..., None]
    home_kwh = use.share_used_at_home * (delivered_kwh + yearly_night_kwh) - yearly_night_kwh
    return YearlySplit(home_kwh, delivered_kwh - home_kwh, np.zeros_like(home_kwh))


def _sampled_ages(remaining: FloatArray) -> FloatArray:
    """Remaining shares of module power to compute hour by hour, rising: all of a few years, else some in equal steps."""
    if remaining.size <= SAMPLED_AGES_MAX or remaining[-1] == remaining[0]:
        return np.unique(remaining)
    return np.linspace(remaining[-1], remaining[0], SAMPLED_AGES_MAX)


def _at_every_year(remaining: FloatArray, values: FloatArray) -> FloatArray:
    """Values at `_sampled_ages`, along the first axis, interpolated to every year by monotone cubics."""
    ages = _sampled_ages(remaining)
    if ages.size < 2:
        return np.repeat(values, remaining.size, axis=0)
    return np.asarray(PchipInterpolator(ages, values, axis=0)(remaining))

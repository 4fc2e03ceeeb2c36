"""Energy of a roof over the years as its modules age, and what of it is used at home, sold, or cut at the connection.

As a module ages its power before the AC limit falls, so that clipping shrinks: AC power is the smaller of the aged power and
the limit, at each point and in each year. Conversion and the limits before it stay as in the first year.

The home takes a share of all energy, or its load at each hour of a mean day of each month. The connection lets out at most its
export limit, a power of the whole roof. What the units draw at night is bought: it is taken off what is used at home. A face
by itself has that part of load and export limit which its modules are of the roof's. Neglected: the load's own swing inside the
hour and from day to day, storage, a tariff that changes over the day.
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
from wattpair_service.engineering.equipment import Microinverter
from wattpair_service.engineering.inverter.power_steps import PowerSteps, power_steps
from wattpair_service.engineering.money.cash_flow import discount_factors

AGES_MOST = 7
"""Ages at which load and export limit are met hour by hour; between them energy changes smoothly."""


@dataclass(frozen=True, slots=True, eq=False)
class HomeUse:
    """Who takes the energy: a share used at home (0-1), or the load [W] by month and hour, shape (12, 24); one is None.

    `export_limit_w` [W] is what the connection lets out, None where it lets out all.
    """

    share_used_at_home: float | None
    load_w: FloatArray | None
    export_limit_w: float | None

    @property
    def of_the_roof(self) -> bool:
        """Whether the faces' powers have to be added up hour by hour."""
        return self.load_w is not None or self.export_limit_w is not None


@dataclass(frozen=True, slots=True)
class Tariff:
    """Prices of energy [currency/kWh] in the first year, and the share by which they change from each year to the next."""

    import_price_per_kwh: float
    export_price_per_kwh: float
    change_share_per_year: float


@dataclass(frozen=True, slots=True, eq=False)
class Worth:
    """What a kilowatt-hour of each year is worth today, used at home and exported."""

    home: FloatArray
    exported: FloatArray

    @classmethod
    def of(cls, tariff: Tariff, discount_rate: float, years: int) -> Worth:
        """Discounted to today; energies of a year fall at its end."""
        grown = (1.0 + tariff.change_share_per_year) ** np.arange(float(years)) * discount_factors(discount_rate, years)
        return cls(tariff.import_price_per_kwh * grown, tariff.export_price_per_kwh * grown)


@dataclass(frozen=True, slots=True, eq=False)
class YearlySplit:
    """Energy used at home, exported and cut at the connection [kWh], with the years along the last axis."""

    home_kwh: FloatArray
    exported_kwh: FloatArray
    cut_kwh: FloatArray

    @property
    def useful_kwh(self) -> FloatArray:
        """Used at home or exported."""
        return self.home_kwh + self.exported_kwh

    def less(self, other: YearlySplit) -> YearlySplit:
        """What this has more than the other."""
        return YearlySplit(self.home_kwh - other.home_kwh, self.exported_kwh - other.exported_kwh, self.cut_kwh - other.cut_kwh)

    def value(self, worth: Worth) -> FloatArray:
        """Worth today of all years."""
        return self.home_kwh @ worth.home + self.exported_kwh @ worth.exported


class Roof(Protocol):
    """What this file needs to know of a roof and its terms."""

    @property
    def dc(self) -> RoofDc:
        """The DC dc."""

    @property
    def modules_per_input(self) -> int:
        """In series on each input."""

    @property
    def available_kwh(self) -> FloatArray:
        """First year of one module on each face at maximum power."""

    @property
    def counts(self) -> FloatArray:
        """Modules on each face."""

    @property
    def remaining(self) -> FloatArray:
        """Module power in each year over that of the first."""

    @property
    def home_use(self) -> HomeUse:
        """Who takes the energy."""


@dataclass(frozen=True, slots=True, eq=False)
class LifetimeEnergy:
    """One microinverter on the whole roof.

    Attributes
    ----------
    steps_kwh : array, shape (faces, 9)
        First year of each face, all its modules, in the order of `EnergyBalance`.
    delivered_kwh, lost_kwh : array, shape (faces, years)
        Delivered to the AC dc net of the night draw, and lost at the AC limit, before any cut at the connection.
    night_kwh : float
        Yearly night draw of the whole roof.
    clipped_share_hourly_means : array, shape (faces,)
        What would be clipped of the first year if each hour were as its mean (0-1).
    lost_faces : YearlySplit
        What would come of the lost energy at home, exported and cut, each face by itself; shape (faces, years).
    faces, roof : YearlySplit
        Of shapes (faces, years), each face by itself, and (years,).
    """

    steps_kwh: FloatArray
    delivered_kwh: FloatArray
    lost_kwh: FloatArray
    night_kwh: float
    clipped_share_hourly_means: FloatArray
    lost_faces: YearlySplit
    faces: YearlySplit
    roof: YearlySplit

    @property
    def balance(self) -> EnergyBalance:
        """First year of the whole roof."""
        return EnergyBalance(*self.steps_kwh.sum(axis=0).tolist())

    @property
    def balances(self) -> tuple[EnergyBalance, ...]:
        """First year of each face, all its modules."""
        return tuple(EnergyBalance(*face) for face in self.steps_kwh.tolist())


def lifetime_energy(roof: Roof, microinverter: Microinverter) -> LifetimeEnergy:
    """Energy of the roof with a microinverter, year by year."""
    steps = power_steps(roof.dc.response, microinverter, modules_per_input=roof.modules_per_input)
    dc, night_kwh = roof.dc, _night_kwh(roof, microinverter, steps)
    limited = _Limited.of(steps)
    converted = dc.by_face(steps.converted_w) / 1000.0
    before_conversion = [dc.loss_by_face(each) / 1000.0 for each in (steps.start_up, steps.voltage_window, steps.input_current)]
    clipping, both = (
        dc.hours_by_face(limited.at, limited.before_w - each) / 1000.0 for each in (steps.clipped_w[limited.at], limited.kept_w)
    )
    delivered, lost = _yearly(roof, limited, converted, night_kwh)
    faces, whole, free_faces = _splits(roof, steps, delivered, lost, night_kwh * roof.counts, free=True)
    conversion = roof.available_kwh - sum(before_conversion) - converted
    balance = [
        roof.available_kwh, *before_conversion, conversion, clipping, both - clipping, night_kwh, converted - both - night_kwh
    ]  # fmt: skip
    return LifetimeEnergy(
        steps_kwh=np.stack(balance, axis=-1) * roof.counts[:, None],
        delivered_kwh=delivered,
        lost_kwh=lost,
        night_kwh=float(night_kwh @ roof.counts),
        clipped_share_hourly_means=_clipped_by_means(
            dc, steps, microinverter.per_module(roof.modules_per_input).ac_power_w, converted
        ),
        lost_faces=free_faces.less(faces),
        faces=faces,
        roof=whole,
    )


def lifetime_splits(roof: Roof, microinverter: Microinverter, current_factor: FloatArray) -> tuple[YearlySplit, YearlySplit]:
    """Split of the energy over the years with modules of k other currents, shape (k, 1).

    Each face by itself, shape (k, faces, years), and the roof, (k, years).
    """
    steps = power_steps(
        roof.dc.response, microinverter, modules_per_input=roof.modules_per_input, current_factor=current_factor
    )
    night_kwh = _night_kwh(roof, microinverter, steps)
    converted = roof.dc.by_face(steps.converted_w) / 1000.0
    delivered, lost = _yearly(roof, _Limited.of(steps), converted, night_kwh)
    faces, whole, _ = _splits(roof, steps, delivered, lost, night_kwh * roof.counts)
    return faces, whole


def _clipped_by_means(dc: RoofDc, steps: PowerSteps, limit_w: float, converted_kwh: FloatArray) -> FloatArray:
    """Clipped share of each face if each hour were as its mean: its even state, less what that gives more than the mean."""
    means = dc.hour_means
    assert means is not None, "asked for of all points"
    at = np.flatnonzero(steps.converted_w > limit_w * means.power_ratio_min)
    over_w = np.maximum(steps.converted_w[at] / means.power_ratio[at] - limit_w, 0.0)
    lost_kwh = np.bincount(dc.face[at], weights=over_w * means.weight_h[at], minlength=dc.face_count) / 1000.0
    return np.divide(lost_kwh, converted_kwh, out=np.zeros_like(lost_kwh), where=converted_kwh > 0.0)


def _night_kwh(roof: Roof, microinverter: Microinverter, steps: PowerSteps) -> FloatArray:
    """Drawn by one module's share of its unit while it gives nothing, on each face, shape (..., faces)."""
    dc, idle = roof.dc, steps.delivered_w <= 0.0
    lit_h = dc.hours_by_face(np.flatnonzero(idle)) if idle.ndim == 1 else dc.by_face(idle.astype(np.float64))
    idle_h = dc.dark_hours_h + lit_h
    return np.asarray(idle_h * (microinverter.per_module(roof.modules_per_input).night_draw_w / 1000.0))


@dataclass(frozen=True, slots=True, eq=False)
class _Limited:
    """The points at which AC limit or heat takes power in the first year, before and after: shape (..., points) [W].

    No other can be at a limit later, since the power before it never grows.
    """

    at: IntArray
    before_w: FloatArray
    kept_w: FloatArray

    @classmethod
    def of(cls, steps: PowerSteps) -> _Limited:
        limited = steps.delivered_w < steps.converted_w
        at = np.flatnonzero(limited if limited.ndim == 1 else limited.any(axis=0))
        return cls(at, steps.converted_w.take(at, axis=-1), steps.delivered_w.take(at, axis=-1))


def _yearly(roof: Roof, limited: _Limited, converted_kwh: FloatArray, night_kwh: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Delivered, and lost at the AC limit and to heat, by all modules of each face in each year: shape (..., faces, years)."""
    remaining, counts = roof.remaining, roof.counts[:, None]
    # What remains never grows: a point is at its limit in the first years, as many as leave more than the limit.
    share = np.divide(limited.kept_w, limited.before_w, out=np.ones_like(limited.kept_w), where=limited.before_w > 0.0)
    years = np.searchsorted(-remaining, -share)
    shape = *converted_kwh.shape, remaining.size + 1
    cells = np.arange(math.prod(shape[:-2])).reshape(*shape[:-2], 1) * shape[-2] + roof.dc.face[limited.at]
    group = (cells * shape[-1] + years).ravel()
    weight_h = roof.dc.response.weight_h[limited.at]

    def in_each_year(power_w: FloatArray) -> FloatArray:
        sums = np.bincount(group, weights=(power_w * weight_h).ravel(), minlength=math.prod(shape)).reshape(shape)
        return np.asarray(np.cumsum(sums[..., :0:-1], axis=-1)[..., ::-1])

    lost = np.maximum(in_each_year(limited.before_w) * remaining - in_each_year(limited.kept_w), 0.0) / 1000.0 * counts
    return converted_kwh[..., None] * counts * remaining - lost - (night_kwh * roof.counts)[..., None], lost


def _splits(
    roof: Roof, steps: PowerSteps, delivered: FloatArray, lost: FloatArray, night: FloatArray, *, free: bool = False
) -> tuple[YearlySplit, YearlySplit, YearlySplit]:
    """Faces by themselves, the roof, and, where `free`, the faces as though their units had no AC limit."""
    use = roof.home_use
    if use.of_the_roof:
        by_age = _face_powers(roof, steps, limited=True)
        faces = _face_flows(roof, by_age, night)
        free_faces = _face_flows(roof, _face_powers(roof, steps, limited=False), night) if free else faces
        return faces, _roof_flows(roof, by_age, night), free_faces
    alone, together = _shared_out(delivered, night, use), _shared_out(delivered.sum(axis=-2), night.sum(axis=-1), use)
    return alone, together, _shared_out(delivered + lost, night, use) if free else alone


def _face_powers(roof: Roof, steps: PowerSteps, *, limited: bool) -> list[FloatArray]:
    """Power of all modules of each point's face at some ages [W]; `limited` is whether the AC limit counts."""
    counts = roof.counts[roof.dc.face]
    converted_w, kept_w = steps.converted_w * counts, steps.delivered_w * counts
    aged = (converted_w * remaining for remaining in _ages(roof.remaining))
    return [np.minimum(each, kept_w) if limited else each for each in aged]


def _face_flows(roof: Roof, powers_w: Sequence[FloatArray], night_kwh: FloatArray) -> YearlySplit:
    """Each face as though it stood alone, with its part of load and export limit."""
    use, dc, response = roof.home_use, roof.dc, roof.dc.response
    part = (roof.counts / roof.counts.sum())[dc.face]
    limit_w = None if use.export_limit_w is None else use.export_limit_w * part
    load_w = None if use.load_w is None else use.load_w[response.month - 1, response.hour] * part
    by_age = [_taken(each_w, use, load_w, limit_w, dc.by_face) for each_w in powers_w]
    return _year_by_year(roof.remaining, by_age, night_kwh)


def _roof_flows(roof: Roof, powers_w: Sequence[FloatArray], night_kwh: FloatArray) -> YearlySplit:
    """All faces together behind one connection."""
    use, dc, time = roof.home_use, roof.dc, roof.dc.time
    load_w = None if use.load_w is None else use.load_w[time.month - 1, time.hour]
    size = time.weight_h.size

    def together(face_w: FloatArray) -> FloatArray:
        rows = face_w.reshape(math.prod(face_w.shape[:-1]), dc.moment.size)
        sums = [np.bincount(dc.moment, weights=row, minlength=size) for row in rows]
        return np.asarray(sums, dtype=np.float64).reshape(*face_w.shape[:-1], size)

    def summed(power_w: FloatArray) -> FloatArray:
        return np.asarray(power_w @ time.weight_h)

    by_age = [_taken(together(each_w), use, load_w, use.export_limit_w, summed) for each_w in powers_w]
    return _year_by_year(roof.remaining, by_age, night_kwh.sum(axis=-1))


def _taken(
    power_w: FloatArray,
    use: HomeUse,
    load_w: FloatArray | None,
    limit_w: FloatArray | float | None,
    summed: Callable[[FloatArray], FloatArray],
) -> FloatArray:
    """Energy used at home, exported and cut [kWh], along the first axis; what follows from the rest is not added up."""
    total = summed(power_w)
    if load_w is None:
        share = use.share_used_at_home or 0.0
        home, surplus_w = share * total, power_w * (1.0 - share)
    else:
        home_w = np.minimum(power_w, load_w)
        home, surplus_w = summed(home_w), power_w - home_w
    exported = total - home if limit_w is None else summed(np.minimum(surplus_w, limit_w))
    return np.array([home, exported, total - home - exported]) / 1000.0


def _year_by_year(remaining: FloatArray, by_age: Sequence[FloatArray], night_kwh: FloatArray) -> YearlySplit:
    """From some ages to every year; the draw at night is bought."""
    home, exported, cut = np.moveaxis(_between(remaining, np.array(by_age)), 0, -1)
    return YearlySplit(home - night_kwh[..., None], exported, cut)


def _shared_out(delivered_kwh: FloatArray, night_kwh: FloatArray, use: HomeUse) -> YearlySplit:
    assert use.share_used_at_home is not None, "a share or a load is given"
    night = night_kwh[..., None]
    home = use.share_used_at_home * (delivered_kwh + night) - night
    return YearlySplit(home, delivered_kwh - home, np.zeros_like(home))


def _ages(remaining: FloatArray) -> FloatArray:
    """Ages at which the roof is looked at hour by hour, rising in what remains: all of a few years, else some of them."""
    if remaining.size <= AGES_MOST or remaining[-1] == remaining[0]:
        return np.unique(remaining)
    return np.linspace(remaining[-1], remaining[0], AGES_MOST)


def _between(remaining: FloatArray, values: FloatArray) -> FloatArray:
    """Values at `_ages`, along the first axis, carried to every year by monotone cubics."""
    ages = _ages(remaining)
    if ages.size < 2:
        return np.repeat(values, remaining.size, axis=0)
    return np.asarray(PchipInterpolator(ages, values, axis=0)(remaining))

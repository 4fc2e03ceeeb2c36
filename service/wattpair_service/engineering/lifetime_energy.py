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
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields
from typing import Protocol

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator

from wattpair_service.engineering.cash_flow import discount_factors
from wattpair_service.engineering.energy_balance import EnergyBalance
from wattpair_service.engineering.face_years import FaceYears, YearJob
from wattpair_service.engineering.pairing_power import PairingJob, PairingPower, pairing_powers
from wattpair_service.engineering.roof_side import RoofSide
from wattpair_service.engineering.roof_years import RoofYears, roof_years, some_at_a_time

CELLS_MOST = 1000
"""Of the table by which years are counted; where modules age so fast that it would need more, they are searched for."""
AGES_MOST = 7
"""Ages at which load and export limit are met hour by hour; between them energy changes smoothly."""

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


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

    @classmethod
    def joined(cls, splits: Sequence[YearlySplit]) -> YearlySplit:
        """Those of some jobs after those of others."""
        if len(splits) == 1:
            return splits[0]
        return cls(*(np.concatenate([getattr(split, each.name) for split in splits]) for each in fields(cls)))

    @property
    def useful_kwh(self) -> FloatArray:
        """Used at home or exported."""
        return self.home_kwh + self.exported_kwh

    def of(self, job: int) -> YearlySplit:
        """One job of several."""
        return YearlySplit(self.home_kwh[job], self.exported_kwh[job], self.cut_kwh[job])

    def less(self, other: YearlySplit) -> YearlySplit:
        """What this has more than the other."""
        return YearlySplit(self.home_kwh - other.home_kwh, self.exported_kwh - other.exported_kwh, self.cut_kwh - other.cut_kwh)

    def value(self, worth: Worth) -> FloatArray:
        """Worth today of all years."""
        return self.home_kwh @ worth.home + self.exported_kwh @ worth.exported


class Roof(Protocol):
    """What this file needs to know of a roof and its terms."""

    @property
    def side(self) -> RoofSide:
        """The DC side."""

    @property
    def years(self) -> FaceYears:
        """Its points and hours, prepared for many microinverters."""

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
        Delivered to the AC side net of the night draw, and lost at the AC limit, before any cut at the connection.
    night_kwh : float
        Yearly night draw of the whole roof.
    lost_faces : YearlySplit
        What would come of the lost energy at home, exported and cut, each face by itself; shape (faces, years).
    faces, roof : YearlySplit
        Of shapes (faces, years), each face by itself, and (years,).
    """

    steps_kwh: FloatArray
    delivered_kwh: FloatArray
    lost_kwh: FloatArray
    night_kwh: float
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


def lifetime_energies(roof: Roof, jobs: Sequence[YearJob], first: RoofYears) -> list[LifetimeEnergy]:
    """Energy of the roof with each microinverter, year by year; `first` is the jobs' first year."""
    aged = _aged(roof, first)
    faces, whole, free_faces = _splits(roof, jobs, aged, free=True)
    without = free_faces.less(faces)
    night, steps = aged.night_kwh.sum(axis=1).tolist(), _steps(roof, first)
    return [
        LifetimeEnergy(
            steps[job], aged.delivered_kwh[job], aged.lost_kwh[job], night[job], without.of(job), faces.of(job), whole.of(job)
        )
        for job in range(len(jobs))
    ]


def lifetime_splits(roof: Roof, jobs: Sequence[YearJob]) -> tuple[YearlySplit, YearlySplit]:
    """Split of the energy over the years: each face by itself, shape (jobs, faces, years), and the roof, (jobs, years)."""
    # The points at a limit are many: those of some jobs are let go before the next.
    parts = [_splits(roof, some, _aged(roof, roof_years(roof.years, some)))[:2] for some in some_at_a_time(roof.years, jobs)]
    faces, whole = (YearlySplit.joined(splits) for splits in zip(*parts, strict=True))
    return faces, whole


@dataclass(frozen=True, slots=True, eq=False)
class _Aged:
    """All modules of each face [kWh]: delivered and lost at the limit in each year, and drawn at night; job by job."""

    delivered_kwh: FloatArray
    lost_kwh: FloatArray
    night_kwh: FloatArray


def _steps(roof: Roof, first: RoofYears) -> FloatArray:
    """First year of each face, all its modules, from what each step takes off: shape (jobs, faces, 9)."""
    taken = first.start_up_kwh, first.voltage_window_kwh, first.current_limit_kwh
    available = np.broadcast_to(roof.years.available_kwh, first.converted_kwh.shape)
    conversion = available - sum(taken) - first.converted_kwh
    limited = first.clipping_kwh, first.derating_kwh, first.night_draw_kwh
    steps = np.array([available, *taken, conversion, *limited, first.converted_kwh - sum(limited)]) * roof.counts
    return np.ascontiguousarray(np.moveaxis(steps, 0, -1))


def _aged(roof: Roof, first: RoofYears) -> _Aged:
    """Each year's energy; only points at a limit in the first year can be at it later."""
    held, remaining = first.held, roof.remaining
    # What remains never grows: a point is at its limit in the first years only, as many as leave more than the limit.
    shape = *first.converted_kwh.shape, remaining.size + 1
    group = held.place * shape[-1] + _years_above(_share(held.kept_w, held.before_w), remaining)

    def in_each_year(power_w: FloatArray) -> FloatArray:
        sums = np.bincount(group, weights=power_w * held.weight_kh, minlength=math.prod(shape)).reshape(shape)
        return np.asarray(np.cumsum(sums[..., :0:-1], axis=-1)[..., ::-1])

    counts = roof.counts[:, None]
    lost = np.maximum(in_each_year(held.before_w) * remaining - in_each_year(held.kept_w), 0.0) * counts
    night = first.night_draw_kwh * roof.counts
    return _Aged(first.converted_kwh[..., None] * counts * remaining - lost - night[..., None], lost, night)


def _share(part: FloatArray, whole: FloatArray) -> FloatArray:
    return np.divide(part, whole, out=np.ones_like(part), where=whole > 0.0)


def _years_above(share: FloatArray, remaining: FloatArray) -> IntArray:
    """In how many years more remains than each share.

    By a table with the end of at most one year in each cell, which is quicker than a search for each.
    """
    found = np.full(share.size, remaining.size)
    some = np.flatnonzero(share >= remaining[-1])
    low, span = remaining[-1], remaining[0] - remaining[-1]
    if span <= CELLS_MOST * np.diff(-remaining).min(initial=np.inf) and span > 0.0:
        cells = math.ceil(span / np.diff(-remaining).min()) + 1
        above = np.searchsorted(-remaining, -(low + span * np.arange(1.0, cells + 1.0) / cells))
        least = above[np.minimum(((share[some] - low) * (cells / span)).astype(np.int64), cells - 1)]
        found[some] = least + (remaining[least] > share[some])
    else:
        found[some] = np.searchsorted(-remaining, -share[some])
    return found


def _splits(
    roof: Roof, jobs: Sequence[YearJob], aged: _Aged, *, free: bool = False
) -> tuple[YearlySplit, YearlySplit, YearlySplit]:
    """Faces by themselves, the roof, and, where `free`, the faces as though their units had no AC limit; job by job."""
    if roof.home_use.of_the_roof:
        powers = zip(_powers(roof, jobs), aged.night_kwh, strict=True)
        faces, whole, free_faces = zip(*(_flows(roof, power, night, free=free) for power, night in powers), strict=True)
        return _stacked(faces), _stacked(whole), _stacked(free_faces)
    delivered, night, use = aged.delivered_kwh, aged.night_kwh, roof.home_use
    alone, together = _shared_out(delivered, night, use), _shared_out(delivered.sum(axis=1), night.sum(axis=1), use)
    return alone, together, _shared_out(delivered + aged.lost_kwh, night, use) if free else alone


def _powers(roof: Roof, jobs: Sequence[YearJob]) -> Iterator[PairingPower]:
    """Point by point, where the faces' powers have to be added up."""
    side = roof.side
    factors = (job.factor[side.hour_face] if isinstance(job.factor, np.ndarray) else job.factor for job in jobs)
    pairs = zip(jobs, factors, strict=True)
    return pairing_powers(side.response, [PairingJob(job.microinverter, job.limits, factor) for job, factor in pairs])


def _stacked(splits: Sequence[YearlySplit]) -> YearlySplit:
    return YearlySplit(*(np.array([getattr(split, each.name) for split in splits]) for each in fields(YearlySplit)))


def _flows(
    roof: Roof, power: PairingPower, night_kwh: FloatArray, *, free: bool
) -> tuple[YearlySplit, YearlySplit, YearlySplit]:
    """`_splits` of one job, hour by hour at some ages."""
    powers_w = _face_powers(roof, power)
    faces = _face_flows(roof, powers_w, night_kwh)
    free_faces = _face_flows(roof, _face_powers(roof, power, held=False), night_kwh) if free else faces
    return faces, _roof_flows(roof, powers_w, night_kwh), free_faces


def _face_powers(roof: Roof, power: PairingPower, *, held: bool = True) -> list[FloatArray]:
    """Power of all modules of each point's face at some ages [W]; `held` is whether the AC limit counts."""
    counts, at = roof.counts[roof.side.face], power.held
    converted_w, kept_w = power.converted_w * counts, at.derated_w * counts[at.index]
    found = [converted_w * remaining for remaining in _ages(roof.remaining)]
    for power_w in found if held else ():
        power_w[at.index] = np.minimum(power_w[at.index], kept_w)
    return found


def _face_flows(roof: Roof, powers_w: Sequence[FloatArray], night_kwh: FloatArray) -> YearlySplit:
    """Each face as though it stood alone, with its part of load and export limit."""
    use, side, response = roof.home_use, roof.side, roof.side.response
    part = (roof.counts / roof.counts.sum())[side.face]
    limit_w = None if use.export_limit_w is None else use.export_limit_w * part
    load_w = None if use.load_w is None else use.load_w[response.month - 1, response.hour] * part
    by_age = [_taken(each_w, use, load_w, limit_w, side.by_face) for each_w in powers_w]
    return _year_by_year(roof.remaining, by_age, night_kwh[:, None])


def _roof_flows(roof: Roof, powers_w: Sequence[FloatArray], night_kwh: FloatArray) -> YearlySplit:
    """All faces together behind one connection."""
    use, side, time = roof.home_use, roof.side, roof.side.time
    load_w = None if use.load_w is None else use.load_w[time.month - 1, time.hour]

    def summed(each_w: FloatArray) -> FloatArray:
        return np.asarray(each_w @ time.weight_h)

    together_w = (np.bincount(side.place, weights=each_w, minlength=time.weight_h.size) for each_w in powers_w)
    by_age = [_taken(each_w.astype(np.float64, copy=False), use, load_w, use.export_limit_w, summed) for each_w in together_w]
    return _year_by_year(roof.remaining, by_age, night_kwh.sum())


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
    return YearlySplit(home - night_kwh, exported, cut)


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

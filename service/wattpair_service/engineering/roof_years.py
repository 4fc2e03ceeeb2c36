"""A year of many microinverters on the faces of a roof at once: what each limit takes, in sums.

The same figures as `pairing_power` gives point by point. Nothing is computed at a point or in an hour that no limit touches:
there moments of the hours stand for them (`hour_moments`), so that a further microinverter costs what its own limits do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.conversion import Conversion, ac_powers_w
from wattpair_service.engineering.dc_limits import CurrentFactors, DcLimited, dc_limited, of_each, pairs
from wattpair_service.engineering.dc_response import DcResponse
from wattpair_service.engineering.equipment import Microinverter, ModuleLimits
from wattpair_service.engineering.hour_moments import FittedConversions, HourMoments, sums_by_face
from wattpair_service.engineering.pairing_power import POINTS_TOGETHER, ROUNDING, derating_factor

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class YearJob:
    """A microinverter and its limits for each module; `factor`, one number or one for each face, is the module's current over
    that of the response.
    """

    microinverter: Microinverter
    limits: ModuleLimits
    factor: FloatArray | float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class FaceYears:
    """A response with the face of each of its points and lit hours, both rising, and the dark hours of each face."""

    response: DcResponse
    face: IntArray
    hour_face: IntArray
    dark_hours_h: FloatArray
    moments: HourMoments
    _fitted: dict[tuple[int, ...], tuple[Sequence[YearJob], FittedConversions]] = field(default_factory=dict)

    @classmethod
    def of(cls, response: DcResponse, face: IntArray, hour_face: IntArray, dark_hours_h: FloatArray) -> FaceYears:
        """With the moments of its hours."""
        bounds = np.searchsorted(hour_face, np.arange(dark_hours_h.size + 1))
        moments = HourMoments.of(response.hour_power_w, response.hour_voltage_v, response.hour_weight_h, bounds)
        return cls(response, face, hour_face, dark_hours_h, moments)

    def by_means(self, hourly: DcResponse) -> FaceYears:
        """The same hours without what happens inside them."""
        return replace(self, response=hourly, face=self.hour_face)

    @property
    def available_kwh(self) -> FloatArray:
        """Yearly energy of one module on each face at maximum power."""
        return self.moments.sums[:, 1, 0] / 1000.0

    def fitted(self, units: Sequence[YearJob]) -> FittedConversions:
        """Polynomials of the units' conversions; kept, for a break-even asks again and again."""
        key = tuple(id(unit.microinverter) for unit in units)
        if key not in self._fitted:
            conversions = [unit.microinverter.conversion for unit in units]
            modules, in_series = (
                np.array([float(getattr(unit.limits, name)) for unit in units]) for name in ("modules_per_unit", "in_series")
            )
            # The microinverters are held with it, so that their identities stay theirs.
            self._fitted[key] = units, self.moments.fitted(conversions, modules, in_series)
        return self._fitted[key][1]


@dataclass(frozen=True, slots=True, eq=False)
class HeldPoints:
    """The points at which the AC limit or the thermal derating holds the power down.

    `place` is job x faces + face; `before_w` and `kept_w` [W] are without and with both; `weight_kh` is in 1,000 hours.
    """

    place: IntArray
    before_w: FloatArray
    kept_w: FloatArray
    weight_kh: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class RoofYears:
    """Yearly energy of one module, for each job on each face: shape (jobs, faces) [kWh].

    `converted_kwh` is AC energy before the AC limit, the others are what each limit takes, and the draw at night.
    """

    start_up_kwh: FloatArray
    voltage_window_kwh: FloatArray
    current_limit_kwh: FloatArray
    converted_kwh: FloatArray
    clipping_kwh: FloatArray
    derating_kwh: FloatArray
    night_draw_kwh: FloatArray
    held: HeldPoints

    @property
    def clipped_share(self) -> FloatArray:
        """Clipping as a share of the AC energy without a limit (0-1), 0 where that is nothing."""
        clipped, unlimited = self.clipping_kwh, self.converted_kwh
        return np.divide(clipped, unlimited, out=np.zeros_like(clipped), where=unlimited > 0.0)


def roof_years(years: FaceYears, jobs: Sequence[YearJob]) -> RoofYears:
    """The year of each job, one or more, on each face."""
    together = max(1, POINTS_TOGETHER // max(years.face.size, 1))
    batches = [_together(years, jobs[start : start + together]) for start in range(0, len(jobs), together)]
    if len(batches) == 1:
        return batches[0]
    names = [each.name for each in fields(RoofYears) if each.name != "held"]
    sums = {name: np.concatenate([getattr(batch, name) for batch in batches]) for name in names}
    held = {each.name: np.concatenate([getattr(batch.held, each.name) for batch in batches]) for each in fields(HeldPoints)}
    first = np.cumsum([0, *(batch.converted_kwh.size for batch in batches)])[:-1]
    held["place"] = held["place"] + np.repeat(first, [batch.held.place.size for batch in batches])
    return RoofYears(**sums, held=HeldPoints(**held))


@dataclass(frozen=True, slots=True, eq=False)
class _Batch:
    """Jobs that are computed together: `limit` holds their limits by name."""

    years: FaceYears
    jobs: Sequence[YearJob]
    limit: dict[str, FloatArray]
    conversions: Sequence[Conversion]
    fitted: FittedConversions
    factors: FloatArray

    @property
    def at_points(self) -> CurrentFactors:
        return CurrentFactors(self.factors, None if self.factors.shape[1] == 1 else self.years.face)

    @property
    def at_hours(self) -> CurrentFactors:
        return CurrentFactors(self.factors, None if self.factors.shape[1] == 1 else self.years.hour_face)

    def ac_power_w(self, job: IntArray, power_w: FloatArray, voltage_v: FloatArray) -> FloatArray:
        """AC power of one module before any limit at pairs of job and hour, job by job."""
        counts = np.bincount(job, minlength=len(self.jobs))
        modules, in_series = (np.repeat(self.limit[name], counts) for name in ("modules_per_unit", "in_series"))
        found = ac_powers_w(self.conversions, counts, power_w * modules, voltage_v * in_series)
        # The curve never gives more than goes in.
        return np.minimum(found / modules, power_w)

    def by_face(self, job: IntArray, face: IntArray, values: FloatArray) -> FloatArray:
        """Sums of values at pairs of job and face."""
        faces = self.years.dark_hours_h.size
        shape = len(self.jobs), faces
        return np.bincount(job * faces + face, weights=values, minlength=shape[0] * faces).astype(np.float64).reshape(shape)

    def at_point(self, job: IntArray, point: IntArray, values: FloatArray) -> FloatArray:
        """Sums of values at pairs of job and point, times the point's hours."""
        return self.by_face(job, self.years.face[point], values * self.years.response.weight_h[point])


def _together(years: FaceYears, jobs: Sequence[YearJob]) -> RoofYears:
    batch = _batch(years, jobs)
    limited = dc_limited(years.response, [job.limits for job in jobs], batch.at_points)
    hours = _hours(batch, limited)
    held = _held(batch, limited, hours)
    steps = (limited.available_w, limited.started_w, limited.in_window_w, limited.power_w)
    start_up, window, current = (
        batch.at_point(limited.job, limited.index, before - after) / 1000.0 for before, after in pairwise(steps)
    )
    return RoofYears(
        start_up_kwh=start_up,
        voltage_window_kwh=window,
        current_limit_kwh=current,
        converted_kwh=hours.converted_wh / 1000.0,
        clipping_kwh=batch.at_point(held.job, held.index, held.before_w - held.clipped_w) / 1000.0,
        derating_kwh=batch.at_point(held.job, held.index, held.clipped_w - held.kept_w) / 1000.0,
        night_draw_kwh=_idle_hours_h(batch, limited, hours, held) * batch.limit["night_draw_w"][:, None] / 1000.0,
        held=HeldPoints(
            place=held.job * years.dark_hours_h.size + years.face[held.index],
            before_w=held.before_w,
            kept_w=held.kept_w,
            weight_kh=years.response.weight_h[held.index] / 1000.0,
        ),
    )


def _batch(years: FaceYears, jobs: Sequence[YearJob]) -> _Batch:
    units = {id(job.microinverter): job for job in jobs}
    number = {unit: place for place, unit in enumerate(units)}
    which = np.array([number[id(job.microinverter)] for job in jobs])
    factors = [job.factor for job in jobs]
    one_for_all = not any(isinstance(factor, np.ndarray) for factor in factors)
    columns = 1 if one_for_all else years.dark_hours_h.size
    return _Batch(
        years,
        jobs,
        {each.name: np.array([float(getattr(job.limits, each.name)) for job in jobs]) for each in fields(ModuleLimits)},
        [job.microinverter.conversion for job in jobs],
        years.fitted(tuple(units.values())).of(which),
        np.array([np.broadcast_to(factor, columns) for factor in factors]),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Hours:
    """The hours that are looked at one by one: DC and AC power in tables of shape (jobs, hours).

    `column` is where each lit hour stands, one past the last for those that no limit touches.
    """

    column: IntArray
    power_w: FloatArray
    ac_power_w: FloatArray
    converted_wh: FloatArray
    idle_h: FloatArray


def _hours(batch: _Batch, limited: DcLimited) -> _Hours:
    """Mean power of the hours that a DC limit touches, or in which there is next to nothing, and each face's energy."""
    years, response, fitted = batch.years, batch.years.response, batch.fitted
    whole_w, voltage_v, weight_h = response.hour_power_w, response.hour_voltage_v, response.hour_weight_h
    sound = fitted.highest_w >= batch.factors.max(axis=1) * years.moments.highest_w
    # Where the modules are stronger than the polynomial reaches every hour is looked at.
    dim_w = np.where(sound, fitted.dim_w, np.inf)
    low_v, high_v = np.array([each.smooth_range_v for each in batch.conversions]).T / batch.limit["in_series"]
    looked = (whole_w <= (dim_w / batch.factors.min(axis=1)).max()) | (voltage_v < low_v.max()) | (voltage_v > high_v.min())
    hour = response.interval[limited.index]
    looked[hour] = True
    at = np.flatnonzero(looked)
    column = np.full(looked.size, at.size)
    column[at] = np.arange(at.size)

    def summed(some: IntArray | slice, values: FloatArray) -> FloatArray:
        cell = limited.job[some] * at.size + column[hour[some]]
        shares = values * response.share[limited.index[some]]
        return np.bincount(cell, weights=shares, minlength=len(batch.jobs) * at.size).reshape(-1, at.size)

    whole = whole_w[at] * batch.at_hours.at(at)
    power = whole - summed(slice(None), limited.available_w - limited.power_w)
    power[power < ROUNDING * whole] = 0.0
    best_v = response.maximum_power.voltage_v[limited.index]
    moved = np.flatnonzero(limited.voltage_v != best_v)
    volts = voltage_v[at] + summed(moved, limited.voltage_v[moved] - best_v[moved])
    ac_power = fitted.power_w(years.moments.powers_of_u[:, at], power)
    exactly = (volts != voltage_v[at]) | (volts < low_v[:, None]) | (volts > high_v[:, None]) | ~sound[:, None]
    job, here = pairs(exactly)
    ac_power[job, here] = batch.ac_power_w(job, power[job, here], volts[job, here])
    bounds = np.searchsorted(years.hour_face[at], np.arange(years.dark_hours_h.size + 1))
    untouched = years.moments.sums - sums_by_face(whole_w[at], years.moments.powers_of_u[:, at], weight_h[at], bounds)

    def by_face(values: FloatArray) -> FloatArray:
        parts = zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True)
        return np.stack([values[:, start:end] @ weight_h[at[start:end]] for start, end in parts], axis=1)

    energy_wh = np.where(sound[:, None], fitted.energy_wh(untouched, batch.factors), 0.0)
    return _Hours(column, power, ac_power, energy_wh + by_face(ac_power), by_face(ac_power <= 0.0))


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    job: IntArray
    index: IntArray
    before_w: FloatArray
    clipped_w: FloatArray
    kept_w: FloatArray


def _held(batch: _Batch, limited: DcLimited, hours: _Hours) -> _Held:
    """Points above what the AC side lets through, as `pairing_power` finds them."""
    response, limit, factors = batch.years.response, batch.limit, batch.at_points
    lowest = np.minimum(limit["ac_power_w"], limit["ac_peak_power_w"])
    derating = [job.microinverter.derating for job in batch.jobs]
    hot = np.array([np.inf if each is None else each.start_temp_c for each in derating])
    power_w = response.maximum_power.power_w
    # AC power never exceeds DC power: all other points lie below.
    some = np.flatnonzero((power_w > (lowest / batch.factors.max(axis=1)).min()) | (response.temp_under_module_c > hot.min()))
    dc_power = np.repeat(power_w[some][None], len(batch.jobs), axis=0) * factors.at(some)
    place = np.full(power_w.size, some.size)
    place[some] = np.arange(some.size)
    seen = place[limited.index] < some.size
    dc_power[limited.job[seen], place[limited.index[seen]]] = limited.power_w[seen]
    left: FloatArray | float = 1.0
    if np.isfinite(hot.min()):
        left = np.array([np.broadcast_to(derating_factor(each, response.temp_under_module_c[some]), some.size) for each in derating])
    job, here = pairs(dc_power > lowest[:, None] * left)
    index = some[here]
    before = dc_power[job, here] * _efficiency(batch, hours, job, response.interval[index])
    most = np.where(response.brief[index], of_each(limit["ac_peak_power_w"], job), of_each(limit["ac_power_w"], job))
    clipped = np.minimum(before, most)
    kept = np.minimum(clipped, most * (left[job, here] if isinstance(left, np.ndarray) else left))
    over = np.flatnonzero(kept < before)
    return _Held(job[over], index[over], before[over], clipped[over], kept[over])


def _efficiency(batch: _Batch, hours: _Hours, job: IntArray, hour: IntArray) -> FloatArray:
    """Conversion efficiency of pairs of job and hour."""
    response, column = batch.years.response, hours.column[hour]
    power = response.hour_power_w[hour] * batch.at_hours.of(job, hour)
    ac_power = batch.ac_power_w(job, power, response.hour_voltage_v[hour])
    looked = np.flatnonzero(column < hours.power_w.shape[1])
    row, at = job[looked], column[looked]
    power[looked], ac_power[looked] = hours.power_w[row, at], hours.ac_power_w[row, at]
    return np.divide(ac_power, power, out=np.zeros_like(power), where=power > 0.0)


def _idle_hours_h(batch: _Batch, limited: DcLimited, hours: _Hours, held: _Held) -> FloatArray:
    """Hours without output: dark ones, lit ones, and points of the others at which a limit leaves nothing."""
    off = np.flatnonzero(limited.power_w <= 0.0)
    job, index = limited.job[off], limited.index[off]
    counted = hours.ac_power_w[job, hours.column[batch.years.response.interval[index]]] > 0.0
    shut = np.flatnonzero(held.kept_w <= 0.0)
    stopped, points = np.concatenate([job[counted], held.job[shut]]), np.concatenate([index[counted], held.index[shut]])
    return batch.years.dark_hours_h + hours.idle_h + batch.at_point(stopped, points, np.ones(points.size))

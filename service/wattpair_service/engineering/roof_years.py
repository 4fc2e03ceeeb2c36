"""A year of many microinverters on the faces of a roof at once: what each limit takes, in sums.

The same figures as `pairing_power` gives point by point. Nothing is computed at a point or in an hour that no limit touches:
there moments of the hours stand for them (`hour_moments`), so that a further microinverter costs what its own limits do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.dc_limits import (
    CurrentFactors,
    DcLimited,
    Limits,
    Unstarted,
    dc_moved,
    of_each,
    pairs,
    unstarted,
)
from wattpair_service.engineering.face_years import FaceYears, Units, YearJob
from wattpair_service.engineering.hour_moments import sums_by_face
from wattpair_service.engineering.pairing_power import POINTS_TOGETHER, ROUNDING, derating_factor

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class HeldPoints:
    """The points at which the AC limit or the thermal derating may hold the power down.

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
    batches = [_together(years, some) for some in some_at_a_time(years, jobs)]
    if len(batches) == 1:
        return batches[0]
    names = [each.name for each in fields(RoofYears) if each.name != "held"]
    sums = {name: np.concatenate([getattr(batch, name) for batch in batches]) for name in names}
    held = {each.name: np.concatenate([getattr(batch.held, each.name) for batch in batches]) for each in fields(HeldPoints)}
    first = np.cumsum([0, *(batch.converted_kwh.size for batch in batches)])[:-1]
    held["place"] = held["place"] + np.repeat(first, [batch.held.place.size for batch in batches])
    return RoofYears(**sums, held=HeldPoints(**held))


def some_at_a_time(years: FaceYears, jobs: Sequence[YearJob]) -> list[Sequence[YearJob]]:
    """The jobs in parts, for whose tables there is memory."""
    together = max(1, POINTS_TOGETHER // max(years.face.size, 1))
    return [jobs[start : start + together] for start in range(0, len(jobs), together)]


@dataclass(frozen=True, slots=True, eq=False)
class _Columns:
    """A table's columns: where those of each face begin, and the end of the last; and the hours of each."""

    bounds: IntArray
    weight_h: FloatArray

    def by_face(self, table: FloatArray | BoolArray) -> FloatArray:
        """Sums of the columns, each times its hours, over each face."""
        parts = pairwise(self.bounds.tolist())
        return np.stack([table[:, start:end] @ self.weight_h[start:end] for start, end in parts], axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class _Batch:
    """Jobs that are computed together, and the points that limits touch: tables have shape (jobs, points) or (jobs, hours)."""

    years: FaceYears
    jobs: Sequence[YearJob]
    units: Units
    factors: FloatArray

    @property
    def limits(self) -> Limits:
        return self.units.limits

    @property
    def smooth_range_v(self) -> FloatArray:
        """Lowest and highest voltage of one module, of each job, between which the conversion is a quadratic."""
        ranges_v = np.array([job.microinverter.conversion.smooth_range_v for job in self.jobs])
        return np.asarray(ranges_v.T / self.limits["in_series"])

    @property
    def at_points(self) -> CurrentFactors:
        return CurrentFactors(self.factors, None if self.factors.shape[1] == 1 else self.years.face)

    @property
    def at_hours(self) -> CurrentFactors:
        return CurrentFactors(self.factors, None if self.factors.shape[1] == 1 else self.years.hour_face)

    def columns(self, face: IntArray, weight_h: FloatArray) -> _Columns:
        """Of a table of points or hours, whose faces rise, with their hours."""
        return _Columns(np.searchsorted(face, np.arange(self.years.dark_hours_h.size + 1)), weight_h)

    def of_pairs(self, job: IntArray, point: IntArray, *values: FloatArray) -> list[FloatArray]:
        """Sums of values at pairs of job and point, each times its hours, over each face."""
        faces, weight_h = self.years.dark_hours_h.size, self.years.response.weight_h[point]
        place, size = job * faces + self.years.face[point], len(self.jobs) * faces
        sums = (np.bincount(place, weights=each * weight_h, minlength=size) for each in values)
        return [each.astype(np.float64, copy=False).reshape(-1, faces) for each in sums]


def _together(years: FaceYears, jobs: Sequence[YearJob]) -> RoofYears:
    batch, response = _batch(years, jobs), years.response
    weak = unstarted(response, batch.limits, batch.at_points)
    weak_columns = batch.columns(years.face[weak.index], response.weight_h[weak.index])
    moved = dc_moved(response, batch.limits, batch.at_points)
    near = _near(batch)
    hours = _hours(batch, weak, moved, near)
    held = _held(batch, weak, moved, near, hours)
    window, current = batch.of_pairs(
        moved.job, moved.index, moved.available_w - moved.in_window_w, moved.in_window_w - moved.power_w
    )
    clipping, derating = batch.of_pairs(held.job, held.index, held.before_w - held.clipped_w, held.clipped_w - held.kept_w)
    lost_w = weak.off * (response.maximum_power.power_w[weak.index] * batch.at_points.at(weak.index))
    idle_h = years.dark_hours_h + _idle_h(batch, weak, weak_columns, moved, held, hours)
    return RoofYears(
        start_up_kwh=weak_columns.by_face(lost_w) / 1000.0,
        voltage_window_kwh=window / 1000.0,
        current_limit_kwh=current / 1000.0,
        converted_kwh=hours.converted_wh / 1000.0,
        clipping_kwh=clipping / 1000.0,
        derating_kwh=derating / 1000.0,
        night_draw_kwh=idle_h * batch.limits["night_draw_w"][:, None] / 1000.0,
        held=HeldPoints(
            place=held.job * years.dark_hours_h.size + years.face[held.index],
            before_w=held.before_w,
            kept_w=held.kept_w,
            weight_kh=response.weight_h[held.index] / 1000.0,
        ),
    )


def _batch(years: FaceYears, jobs: Sequence[YearJob]) -> _Batch:
    faces = years.dark_hours_h.size if any(isinstance(job.factor, np.ndarray) for job in jobs) else 1
    factors = np.empty((len(jobs), faces))
    for row, job in zip(factors, jobs, strict=True):
        row[:] = job.factor
    return _Batch(years, jobs, years.met.of(jobs), factors)


@dataclass(frozen=True, slots=True, eq=False)
class _Near:
    """Points that may be above what an AC side lets through.

    `lowest_w` is the lower of each job's AC limits, as a column, and `left` what the heat leaves of them at the points (0-1).
    """

    index: IntArray
    lowest_w: FloatArray
    left: FloatArray | float


def _near(batch: _Batch) -> _Near:
    response = batch.years.response
    lowest = np.minimum(batch.limits["ac_power_w"], batch.limits["ac_peak_power_w"])
    # AC power never exceeds DC power: all other points lie below.
    above = response.maximum_power.power_w > (lowest / batch.factors.max(axis=1)).min()
    deratings = [job.microinverter.derating for job in batch.jobs]
    if not any(deratings):
        return _Near(np.flatnonzero(above), lowest[:, None], 1.0)
    hot_c = min(each.start_temp_c for each in deratings if each is not None)
    index = np.flatnonzero(above | (response.temp_under_module_c > hot_c))
    temp_c = response.temp_under_module_c[index]
    left = np.array([np.broadcast_to(derating_factor(each, temp_c), temp_c.size) for each in deratings])
    return _Near(index, lowest[:, None], left)


@dataclass(frozen=True, slots=True, eq=False)
class _Hours:
    """The hours of points that limits may touch, and those with next to no power: DC and AC power, shape (jobs, hours).

    `column` is where each lit hour stands; `converted_wh` are each face's AC energy over all hours.
    """

    column: IntArray
    power_w: FloatArray
    ac_power_w: FloatArray
    converted_wh: FloatArray
    idle_h: FloatArray


def _hours(batch: _Batch, weak: Unstarted, moved: DcLimited, near: _Near) -> _Hours:
    years, response, fitted = batch.years, batch.years.response, batch.units.fitted
    whole_w, voltage_v, weight_h = response.hour_power_w, response.hour_voltage_v, response.hour_weight_h
    sound = fitted.highest_w >= batch.factors.max(axis=1) * years.moments.highest_w
    # Where the modules are stronger than the polynomial reaches every hour is looked at.
    dim_w = np.where(sound, fitted.dim_w, np.inf)
    low_v, high_v = batch.smooth_range_v
    looked = (whole_w <= (dim_w / batch.factors.min(axis=1)).max()) | (voltage_v < low_v.max()) | (voltage_v > high_v.min())
    for index in (weak.index, moved.index, near.index):
        looked[response.interval[index]] = True
    at = np.flatnonzero(looked)
    column = np.empty(looked.size, dtype=np.int64)
    column[at] = np.arange(at.size)
    cell = moved.job * at.size + column[response.interval[moved.index]]

    def summed(values: FloatArray) -> FloatArray:
        shares = values * response.share[moved.index]
        sums = np.bincount(cell, weights=shares, minlength=len(batch.jobs) * at.size)
        return sums.astype(np.float64, copy=False)

    whole = whole_w[at] * batch.at_hours.at(at)
    power = whole - summed(moved.available_w - moved.power_w).reshape(whole.shape)
    weak_hour, weak_w = _weak_hours(batch, weak)
    power[:, column[weak_hour]] -= weak_w
    power[power < ROUNDING * whole] = 0.0
    powers_of_u = years.moments.powers_of_u[:, at]
    raised_v = summed(moved.voltage_v - response.maximum_power.voltage_v[moved.index])
    ac_power = _at_own_voltages(batch, sound, voltage_v[at], raised_v, power, fitted.power_w(powers_of_u, power))
    columns = batch.columns(years.hour_face[at], weight_h[at])
    untouched = years.moments.sums - sums_by_face(whole_w[at], powers_of_u, columns.weight_h, columns.bounds)
    energy_wh = np.where(sound[:, None], fitted.energy_wh(untouched, batch.factors), 0.0)
    return _Hours(
        column,
        power,
        ac_power,
        converted_wh=energy_wh + columns.by_face(ac_power),
        idle_h=columns.by_face(ac_power <= 0.0),
    )


def _at_own_voltages(
    batch: _Batch, sound: BoolArray, voltage_v: FloatArray, raised_v: FloatArray, power: FloatArray, ac_power: FloatArray
) -> FloatArray:
    """AC power, set right in hours whose voltage a limit has moved by `raised_v`, and where no polynomial stands for it.

    Tables are of shape (jobs, hours); `raised_v` is one, flat.
    """
    size, dc_w, ac_w = max(voltage_v.size, 1), power.ravel(), ac_power.ravel()
    low_v, high_v = batch.smooth_range_v
    moved = np.flatnonzero(raised_v)
    job, volts = moved // size, voltage_v[moved % size] + raised_v[moved]
    u = batch.years.met.scale.u(volts)
    ac_w[moved] = batch.units.fitted.power_at(job, u, dc_w[moved])
    beyond = moved[(np.abs(u) > 1.0) | (volts < low_v[job]) | (volts > high_v[job])]
    odd = np.flatnonzero(~sound | (low_v > voltage_v.min(initial=np.inf)) | (high_v < voltage_v.max(initial=-np.inf)))
    row, column = pairs(~sound[odd, None] | (voltage_v < low_v[odd, None]) | (voltage_v > high_v[odd, None]))
    exact = np.union1d(beyond, odd[row] * size + column)
    volts = voltage_v[exact % size] + raised_v[exact]
    ac_w[exact] = _ac_power_w(batch, exact // size, dc_w[exact], volts)
    return ac_w.reshape(ac_power.shape)


def _weak_hours(batch: _Batch, weak: Unstarted) -> tuple[IntArray, FloatArray]:
    """Hours with points that do not start for one of the jobs, and what each job loses there in the mean [W]."""
    response, index = batch.years.response, weak.index
    hour = response.interval[index]
    first = np.flatnonzero(np.diff(hour, prepend=-1))
    if not first.size:
        return hour, np.zeros((len(batch.jobs), 0))
    lost = response.maximum_power.power_w[index] * response.share[index] * batch.at_points.at(index)
    return hour[first], np.add.reduceat(weak.off * lost, first, axis=1)


def _ac_power_w(batch: _Batch, job: IntArray, power_w: FloatArray, voltage_v: FloatArray) -> FloatArray:
    """AC power of one module before any limit at pairs of job and hour, job by job."""
    found, ends = np.empty(job.size), np.searchsorted(job, np.arange(len(batch.jobs) + 1)).tolist()
    counts = zip(batch.limits["modules_per_unit"], batch.limits["in_series"], strict=True)
    for each, (modules, in_series), (start, end) in zip(batch.jobs, counts, pairwise(ends), strict=True):
        if end > start:
            part = slice(start, end)
            power = each.microinverter.conversion.ac_power_w(power_w[part] * modules, voltage_v[part] * in_series)
            np.divide(power, modules, out=found[part])
    # The curve never gives more than goes in.
    return np.minimum(found, power_w)


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    job: IntArray
    index: IntArray
    before_w: FloatArray
    clipped_w: FloatArray
    kept_w: FloatArray


def _held(batch: _Batch, weak: Unstarted, moved: DcLimited, near: _Near, hours: _Hours) -> _Held:
    """Points above what the AC side lets through, as `pairing_power` finds them."""
    response, limits, some = batch.years.response, batch.limits, near.index
    dc_power = np.multiply(response.maximum_power.power_w[some], batch.at_points.at(some))
    place = np.full(response.weight_h.size, -1)
    place[some] = np.arange(some.size)
    too_weak, seen = place[weak.index] >= 0, place[moved.index] >= 0
    if too_weak.any():
        dc_power[:, place[weak.index[too_weak]]] *= ~weak.off[:, too_weak]
    dc_power[moved.job[seen], place[moved.index[seen]]] = moved.power_w[seen]
    job, here = pairs(dc_power > near.lowest_w * near.left)
    index = some[here]
    at = job * hours.power_w.shape[1] + hours.column[response.interval[index]]
    before = dc_power.ravel()[job * some.size + here] * (hours.ac_power_w.ravel()[at] / hours.power_w.ravel()[at])
    most = np.where(response.brief[index], of_each(limits["ac_peak_power_w"], job), of_each(limits["ac_power_w"], job))
    clipped = np.minimum(before, most)
    kept = clipped if isinstance(near.left, float) else np.minimum(clipped, most * near.left[job, here])
    return _Held(job, index, before, clipped, kept)


def _idle_h(batch: _Batch, weak: Unstarted, columns: _Columns, moved: DcLimited, held: _Held, hours: _Hours) -> FloatArray:
    """Lit hours without output, and in all others the points at which a limit leaves nothing."""
    response = batch.years.response
    output = hours.ac_power_w[:, hours.column[response.interval[weak.index]]] > 0.0
    off_h = columns.by_face(weak.off & output)
    off, shut = np.flatnonzero(moved.power_w <= 0.0), np.flatnonzero((held.kept_w <= 0.0) & (held.before_w > 0.0))
    off = off[hours.ac_power_w[moved.job[off], hours.column[response.interval[moved.index[off]]]] > 0.0]
    job = np.concatenate([moved.job[off], held.job[shut]])
    (further_h,) = batch.of_pairs(job, np.concatenate([moved.index[off], held.index[shut]]), np.ones(job.size))
    return hours.idle_h + off_h + further_h

"""AC power of a module with a microinverter over the points of a year, and what each limit takes off it.

The limits are met at few of the points: only there is anything kept, so that a further microinverter costs little more than one
pass over the hours.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.dc_limits import CurrentFactors, DcLimited, columns, dc_limited, replaced
from wattpair_service.engineering.dc_response import DcResponse
from wattpair_service.engineering.equipment import Microinverter, ModuleLimits, ThermalDerating

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

POINTS_TOGETHER = 1_000_000
"""Points times microinverters whose DC limits are solved together: a bound for the memory."""

ROUNDING = 1e-12
"""Share of an hour's power below which what the limits leave of it is rounding, not power."""


@dataclass(frozen=True, slots=True, eq=False)
class Held:
    """The points at which the AC limit or the thermal derating holds the power down, rising, and power there [W]."""

    index: IntArray
    before_w: FloatArray
    clipped_w: FloatArray
    derated_w: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class PairingJob:
    """A microinverter and its limits for each module.

    `hour_factor`, one number or one for each lit hour, is the module's current over that of a response; see `roof_side.scaled`.
    """

    microinverter: Microinverter
    limits: ModuleLimits
    hour_factor: FloatArray | float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class PairingPower:
    """One module with one microinverter.

    Attributes
    ----------
    response : DcResponse
        Of n points in m lit hours.
    limits : ModuleLimits
        The microinverter's, for each module.
    current_factor : float or array of n
        The module's current over that of the response.
    limited : DcLimited
        The points that a DC limit changes.
    held : Held
        The points that the AC limit or the derating changes.
    hour_ac_w : array of m
        Mean AC power of each lit hour before the AC limit [W].
    efficiency : array of m
        Conversion efficiency of each lit hour (0-1).
    """

    response: DcResponse
    limits: ModuleLimits
    current_factor: FloatArray | float
    limited: DcLimited
    held: Held
    hour_ac_w: FloatArray
    efficiency: FloatArray

    @property
    def available_w(self) -> FloatArray:
        """DC power of each point at maximum power [W]."""
        return self.response.maximum_power.power_w * self.current_factor

    @property
    def dc_power_w(self) -> FloatArray:
        """DC power of each point behind the DC limits [W]."""
        return replaced(self.available_w, self.limited.index, self.limited.power_w)

    @property
    def converted_w(self) -> FloatArray:
        """AC power of each point before the AC limit [W]."""
        return self.dc_power_w * self.efficiency[self.response.interval]

    @property
    def idle_hours(self) -> IntArray:
        """The lit hours without any output."""
        return np.flatnonzero(self.hour_ac_w <= 0.0)

    @property
    def stopped(self) -> IntArray:
        """The points without output in the other hours."""
        off = self.limited.index[self.limited.power_w <= 0.0]
        shut_down = self.held.index[self.held.derated_w <= 0.0]
        return np.concatenate([off[self.hour_ac_w[self.response.interval[off]] > 0.0], shut_down])


def pairing_power(response: DcResponse, microinverter: Microinverter, limits: ModuleLimits) -> PairingPower:
    """Power of one module with a microinverter; `limits` are the microinverter's, for each module."""
    return next(pairing_powers(response, [PairingJob(microinverter, limits)]))


def pairing_powers(response: DcResponse, jobs: Sequence[PairingJob]) -> Iterator[PairingPower]:
    """Power of one module with each microinverter, one after the other; the DC limits of some are solved together.

    Notes
    -----
    The states inside an hour share the conversion efficiency at the hour's mean power. So the spread inside the hour leaves the
    energy before the AC limit as it is; an efficiency for each state would differ from this by less than a tenth of a percent.
    """
    for job, limited in _limited(response, jobs):
        factor = _point_factor(response, job)
        hour_power, hour_ac = _hour_powers(response, job, limited)
        efficiency = np.divide(hour_ac, hour_power, out=np.zeros_like(hour_ac), where=hour_power > 0.0)
        dc_power = replaced(response.maximum_power.power_w * factor, limited.index, limited.power_w)
        held = _held(response, job.limits, job.microinverter.derating, dc_power, efficiency)
        yield PairingPower(response, job.limits, factor, limited, held, hour_ac, efficiency)


def _limited(response: DcResponse, jobs: Sequence[PairingJob]) -> Iterator[tuple[PairingJob, DcLimited]]:
    """Each job and what the DC limits leave."""
    together = max(1, POINTS_TOGETHER // max(response.weight_h.size, 1))
    for start in range(0, len(jobs), together):
        batch = jobs[start : start + together]
        factors = [_point_factor(response, job) for job in batch]
        limited = dc_limited(response, columns([job.limits for job in batch]), _stacked(factors, response.weight_h.size))
        yield from zip(batch, limited.by_job(len(batch)), strict=True)


def _stacked(factors: Sequence[FloatArray | float], points: int) -> CurrentFactors:
    if not any(isinstance(factor, np.ndarray) for factor in factors):
        return CurrentFactors(np.array(factors, dtype=np.float64)[:, None])
    return CurrentFactors(np.array([np.broadcast_to(factor, points) for factor in factors]), np.arange(points))


def _point_factor(response: DcResponse, job: PairingJob) -> FloatArray | float:
    return job.hour_factor[response.interval] if isinstance(job.hour_factor, np.ndarray) else job.hour_factor


def _hour_powers(response: DcResponse, job: PairingJob, limited: DcLimited) -> tuple[FloatArray, FloatArray]:
    """Mean power of each lit hour behind the DC limits, and after the conversion [W]."""
    limits, conversion = job.limits, job.microinverter.conversion
    power = _hour_power(response, limited, job.hour_factor)
    voltage = _hour_voltage(response, limited) if conversion.by_voltage else response.hour_voltage_v
    ac_power = conversion.ac_power_w(power * limits.modules_per_unit, voltage * limits.in_series) / limits.modules_per_unit
    # The curve never gives more than goes in.
    return power, np.minimum(ac_power, power)


def _hour_power(response: DcResponse, limited: DcLimited, hour_factor: FloatArray | float) -> FloatArray:
    """Mean power of each lit hour behind the DC limits [W]."""
    whole, at = response.hour_power_w * hour_factor, limited.index
    lost = (limited.available_w - limited.power_w) * response.share[at]
    left = whole - np.bincount(response.interval[at], weights=lost, minlength=whole.size)
    left[left < ROUNDING * whole] = 0.0
    return np.asarray(left)


def _hour_voltage(response: DcResponse, limited: DcLimited) -> FloatArray:
    """Mean voltage of each lit hour behind the DC limits [V]."""
    at, hours = limited.index, response.hour_voltage_v.size
    moved = (limited.voltage_v - response.maximum_power.voltage_v[at]) * response.share[at]
    return np.asarray(response.hour_voltage_v + np.bincount(response.interval[at], weights=moved, minlength=hours))


def _held(
    response: DcResponse,
    limits: ModuleLimits,
    derating: ThermalDerating | None,
    dc_power_w: FloatArray,
    efficiency: FloatArray,
) -> Held:
    """Points above what the AC side lets through."""
    factor = derating_factor(derating, response.temp_under_module_c)
    lowest = min(limits.ac_power_w, limits.ac_peak_power_w)
    # AC power never exceeds DC power: all other points lie below.
    near = np.flatnonzero(dc_power_w > lowest * factor)
    limit = np.where(response.brief[near], limits.ac_peak_power_w, limits.ac_power_w)
    before = dc_power_w[near] * efficiency[response.interval[near]]
    clipped = np.minimum(before, limit)
    derated = np.minimum(clipped, limit * (factor[near] if isinstance(factor, np.ndarray) else factor))
    over = derated < before
    return Held(near[over], before[over], clipped[over], derated[over])


def derating_factor(derating: ThermalDerating | None, temp_c: FloatArray) -> FloatArray | float:
    """Share of the AC limit that is left at an air temperature at the microinverter (0-1)."""
    if derating is None:
        return 1.0
    factor = np.clip(1.0 - derating.percent_per_k / 100.0 * (temp_c - derating.start_temp_c), 0.0, 1.0)
    return np.where(temp_c > derating.shutdown_temp_c, 0.0, factor)

"""Where the energy of one module goes on its way through a microinverter, each loss by its own name.

The losses are the differences between the steps of `power_steps`, so that they, the night draw and the delivered energy add up
exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.equipment import Microinverter
from wattpair_service.engineering.inverter.power_steps import Loss, PowerSteps, power_steps
from wattpair_service.engineering.module.dc_response import DcResponse, by_month

AGES = (1, 10, 25)
"""Years of the module's life that are looked at."""

DURATION_LEVELS = 41
"""Points of a power duration curve, from zero to the highest power before the limit."""


@dataclass(frozen=True, slots=True)
class EnergyBalance:
    """Energy of one module over a span of time [kWh], in the order in which it is lost."""

    available_kwh: float
    start_up_kwh: float
    voltage_window_kwh: float
    input_current_limit_kwh: float
    conversion_kwh: float
    clipping_kwh: float
    thermal_derating_kwh: float
    night_draw_kwh: float
    delivered_kwh: float

    @property
    def unlimited_kwh(self) -> float:
        """What the microinverter would deliver without an AC limit [kWh]: available energy less every loss before clipping."""
        return self.delivered_kwh + self.night_draw_kwh + self.thermal_derating_kwh + self.clipping_kwh

    @property
    def clipped_share(self) -> float:
        """Clipping as a share of what the microinverter would deliver without an AC limit (0-1); 0 where that is nothing."""
        return self.clipping_kwh / self.unlimited_kwh if self.unlimited_kwh > 0 else 0.0

    def scaled(self, factor: float) -> EnergyBalance:
        """The balance of `factor` such modules."""
        return EnergyBalance(*(getattr(self, field.name) * factor for field in fields(self)))


def total(balances: list[EnergyBalance]) -> EnergyBalance:
    """Sum of balances, term by term."""
    return EnergyBalance(*(sum(getattr(b, field.name) for b in balances) for field in fields(EnergyBalance)))


@dataclass(frozen=True, slots=True, eq=False)
class DurationCurve:
    """Hours of the year in which the AC power before the limit is at least each level.

    `ac_power_w` [W] rises from zero; `hours_h` falls. Per module.
    """

    ac_power_w: FloatArray
    hours_h: FloatArray


@dataclass(frozen=True, slots=True)
class AgedYear:
    """A later year of one module, as the module ages: `year` counts from 1, `remaining_share` is of the first year's power."""

    year: int
    remaining_share: float
    clipped_share: float
    delivered_kwh: float


@dataclass(frozen=True, slots=True, eq=False)
class PairingYear:
    """A year of one module with one microinverter on one face; energies per module.

    `clipped_kwh_by_month_hour` has shape (12, 24): months from January, hours of the day in standard time.
    """

    year: EnergyBalance
    months: tuple[EnergyBalance, ...]
    clipped_hours_h: float
    clipped_kwh_by_month_hour: FloatArray
    duration: DurationCurve
    ageing: tuple[AgedYear, ...]


def pairing_year(
    response: DcResponse,
    microinverter: Microinverter,
    *,
    modules_per_input: int = 1,
    degradation_share_per_year: float = 0.0,
) -> PairingYear:
    """Energy balance of one module of a face with one microinverter.

    Parameters
    ----------
    response : DcResponse
        The face's DC side.
    microinverter : Microinverter
        Its limits are divided evenly over its modules, which see the same light.
    modules_per_input : int
        Modules in series on each input.
    degradation_share_per_year : float
        Share of its power that the module loses from each year to the next (0-1), compounding.

    Returns
    -------
    PairingYear
        Losses and delivered energy add up to the available energy to rounding (1e-9 relative). Delivered energy is
        net of the night draw and may be negative where there is next to no light.
    """
    steps = power_steps(response, microinverter, modules_per_input=modules_per_input)
    off = steps.delivered_w <= 0.0
    idle_hours = response.dark_hours_by_month + by_month(response.month[off], response.weight_h[off])
    night_draw = idle_hours * microinverter.per_module(modules_per_input).night_draw_w / 1000.0
    months = _monthly_balances(response, steps, night_draw)
    clipped_w = steps.converted_w - steps.clipped_w
    energy = clipped_w * response.weight_h / 1000.0
    cell = (response.month - 1) * 24 + response.hour
    return PairingYear(
        year=total(list(months)),
        months=months,
        clipped_hours_h=float(response.weight_h[clipped_w > 0.0].sum()),
        clipped_kwh_by_month_hour=np.bincount(cell, weights=energy, minlength=288).reshape(12, 24).astype(np.float64),
        duration=_duration_curve(steps.converted_w, response),
        ageing=tuple(
            _aged(response, steps, float(night_draw.sum()), year, (1.0 - degradation_share_per_year) ** (year - 1))
            for year in AGES
        ),
    )


def clipped_share(response: DcResponse, microinverter: Microinverter, *, modules_per_input: int = 1) -> float:
    """Clipping as a share of what the microinverter would deliver without an AC limit (0-1), and nothing else."""
    steps = power_steps(response, microinverter, modules_per_input=modules_per_input)
    unlimited, clipped = (float(each @ response.weight_h) for each in (steps.converted_w, steps.clipped_w))
    return 1.0 - clipped / unlimited if unlimited > 0.0 else 0.0


def _aged(response: DcResponse, steps: PowerSteps, night_draw_kwh: float, year: int, remaining: float) -> AgedYear:
    """A later year: power before the AC limit falls with the module's, conversion and the other limits as in the first."""
    converted = steps.converted_w * remaining
    clipped = np.minimum(converted, steps.clipped_w)
    unlimited = float(converted @ response.weight_h)
    lost = unlimited - float(clipped @ response.weight_h)
    delivered = float(np.minimum(clipped, steps.delivered_w) @ response.weight_h) / 1000.0 - night_draw_kwh
    return AgedYear(year, remaining, lost / unlimited if unlimited > 0.0 else 0.0, delivered)


def _monthly_balances(response: DcResponse, steps: PowerSteps, night_draw_kwh: FloatArray) -> tuple[EnergyBalance, ...]:
    def of_points(power_w: FloatArray) -> FloatArray:
        return by_month(response.month, power_w * response.weight_h) / 1000.0

    def of_loss(loss: Loss) -> FloatArray:
        return by_month(response.month[loss.at], loss.power_w * response.weight_h[loss.at]) / 1000.0

    at_input, converted, clipped, given = map(
        of_points, (steps.at_input_w, steps.converted_w, steps.clipped_w, steps.delivered_w)
    )
    columns = [
        of_points(steps.available_w),
        *map(of_loss, (steps.start_up, steps.voltage_window, steps.input_current)),
        at_input - converted,
        converted - clipped,
        clipped - given,
        night_draw_kwh,
        given - night_draw_kwh,
    ]
    return tuple(EnergyBalance(*(float(column[month]) for column in columns)) for month in range(12))


def _duration_curve(ac_power_w: FloatArray, response: DcResponse) -> DurationCurve:
    levels = np.linspace(0.0, float(ac_power_w.max(initial=0.0)), DURATION_LEVELS)
    order = np.argsort(ac_power_w)
    below = np.concatenate([[0.0], np.cumsum(response.weight_h[order])])
    first = np.searchsorted(ac_power_w[order], levels, side="left")
    hours = below[-1] - below[first]
    # At least nothing is what every hour gives, the dark ones too.
    hours[0] += float(response.dark_hours_by_month.sum())
    return DurationCurve(ac_power_w=levels, hours_h=hours)

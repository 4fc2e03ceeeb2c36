"""Energy balance of one module with a microinverter, with each loss by name.

The losses are the differences between the steps of `power_steps`. So losses, night draw and delivered energy add up exactly to
the available energy. What shade takes before it is split: by the irradiance that is missing on the module's area, as if power
went with it, and by mismatch, because cells and modules in series carry one current.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.shaded_face import ShadedFace
from wattpair_service.engineering.equipment import ONE_MODULE, InputWiring, Microinverter
from wattpair_service.engineering.inverter.power_steps import Loss, PowerSteps, power_steps
from wattpair_service.engineering.module.dc_response import DcResponse, by_month

AGES = (1, 10, 25)
"""Years of the module's life for which results are given."""

DURATION_LEVELS = 41
"""Points of a power duration curve, from zero to the highest power before the limit."""


@dataclass(frozen=True, slots=True)
class EnergyBalance:
    """Energy of one module over a period [kWh], in the order of the losses."""

    unshaded_kwh: float
    shade_irradiance_kwh: float
    shade_mismatch_kwh: float
    available_kwh: float
    tracker_kwh: float
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
        """AC energy without an AC limit [kWh]: available energy less every loss before clipping."""
        return self.delivered_kwh + self.night_draw_kwh + self.thermal_derating_kwh + self.clipping_kwh

    @property
    def clipped_share(self) -> float:
        """Clipping as a share of the AC energy without an AC limit (0-1); 0 where there is none."""
        return self.clipping_kwh / self.unlimited_kwh if self.unlimited_kwh > 0 else 0.0

    def scaled(self, factor: float) -> EnergyBalance:
        """The balance times `factor`, such as a number of modules."""
        return EnergyBalance(*(getattr(self, field.name) * factor for field in fields(self)))


def total(balances: Iterable[EnergyBalance]) -> EnergyBalance:
    """Sum of balances, term by term."""
    rows = [[getattr(balance, field.name) for field in fields(EnergyBalance)] for balance in balances]
    return EnergyBalance(*(sum(column) for column in zip(*rows, strict=True)))


@dataclass(frozen=True, slots=True, eq=False)
class DurationCurve:
    """Hours of the year in which the AC power before the limit is at least each level.

    `ac_power_w` [W] rises from zero; `hours_h` falls. Per module.
    """

    ac_power_w: FloatArray
    hours_h: FloatArray


@dataclass(frozen=True, slots=True)
class AgedYear:
    """A year of one ageing module: `year` counts from 1, `remaining_share` is its power over that of the first year (0-1)."""

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
    response: DcResponse | ShadedFace,
    microinverter: Microinverter,
    *,
    input_wiring: InputWiring = ONE_MODULE,
    module_count: int | None = None,
    degradation_share_per_year: float = 0.0,
) -> PairingYear:
    """Energy balance of one module of a face with one microinverter.

    Parameters
    ----------
    response : DcResponse or ShadedFace
        Of the module on that face; of each of its modules where they are shaded differently, which needs `module_count`.
    microinverter : Microinverter
        Its limits are divided evenly over its modules.
    input_wiring : InputWiring
        Modules on each input.
    module_count : int, optional
        Modules on the face. Where they do not fill the last unit, the result is the mean over the modules of all units. If
        omitted, all units are full.
    degradation_share_per_year : float
        Share of its power that the module loses from each year to the next (0-1), compounding.

    Returns
    -------
    PairingYear
        Losses and delivered energy add up to the available energy to rounding (1e-9 relative). Delivered energy is
        net of the night draw and may be negative where there is next to no irradiance.
    """
    units = _units(response, microinverter, input_wiring, module_count)
    months = tuple(total(each) for each in zip(*(_months(microinverter, unit) for unit in units), strict=True))
    clipped_h, clipped_kwh_by_month_hour = 0.0, np.zeros(288)
    for unit in units:
        points, clipping_w = unit.response, unit.steps.converted_w - unit.steps.limited_w
        clipped_h += float(points.weight_h[clipping_w > 0.0].sum()) * unit.share
        month_hour, clipping_kwh = (points.month - 1) * 24 + points.hour, clipping_w * unit.share * points.weight_h / 1000.0
        clipped_kwh_by_month_hour += np.bincount(month_hour, weights=clipping_kwh, minlength=288)
    return PairingYear(
        year=total(months),
        months=months,
        clipped_hours_h=clipped_h,
        clipped_kwh_by_month_hour=clipped_kwh_by_month_hour.reshape(12, 24),
        duration=_duration_curve(units),
        ageing=tuple(
            _aged(units, total(months).night_draw_kwh, year, (1.0 - degradation_share_per_year) ** (year - 1)) for year in AGES
        ),
    )


def clipped_share(
    response: DcResponse | ShadedFace,
    microinverter: Microinverter,
    *,
    input_wiring: InputWiring = ONE_MODULE,
    module_count: int | None = None,
) -> float:
    """Clipping as a share of the AC energy without an AC limit (0-1)."""
    units = _units(response, microinverter, input_wiring, module_count)
    unlimited_wh = sum(float(each.steps.converted_w @ each.response.weight_h) * each.share for each in units)
    limited_wh = sum(float(each.steps.limited_w @ each.response.weight_h) * each.share for each in units)
    return 1.0 - limited_wh / unlimited_wh if unlimited_wh > 0.0 else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Units:
    """The units with the same number of modules: the response and power steps of one, and their share of the modules (0-1)."""

    modules_per_unit: int
    response: DcResponse
    steps: PowerSteps
    share: float


def _units(
    response: DcResponse | ShadedFace, microinverter: Microinverter, input_wiring: InputWiring, module_count: int | None
) -> list[_Units]:
    modules = module_count or microinverter.module_capacity(input_wiring)
    units, first = [], 0
    for on_unit, count in microinverter.unit_fillings(modules, input_wiring).items():
        if isinstance(response, ShadedFace):
            of_units = response.units(first, count, input_wiring, on_unit).response
        else:
            of_units = response
        steps = power_steps(of_units, microinverter, input_wiring=input_wiring, module_count=on_unit)
        units.append(_Units(on_unit, of_units, steps, count / modules))
        first += count
    return units


def _aged(units: Sequence[_Units], night_draw_kwh: float, year: int, remaining: float) -> AgedYear:
    """A later year: AC power before the limit falls with the module's power; DC losses and conversion as in the first year."""
    unlimited_wh = limited_wh = delivered_wh = 0.0
    for each in units:
        converted_w, weight_h = each.steps.converted_w * remaining, each.response.weight_h
        limited_w = np.minimum(converted_w, each.steps.limited_w)
        delivered_w = np.minimum(limited_w, each.steps.delivered_w)
        unlimited_wh += float(converted_w @ weight_h) * each.share
        limited_wh += float(limited_w @ weight_h) * each.share
        delivered_wh += float(delivered_w @ weight_h) * each.share
    clipped = (unlimited_wh - limited_wh) / unlimited_wh if unlimited_wh > 0.0 else 0.0
    return AgedYear(year, remaining, clipped, delivered_wh / 1000.0 - night_draw_kwh)


def _months(microinverter: Microinverter, units: _Units) -> list[EnergyBalance]:
    """Balances of one module on such units in each month, times the share of the face's modules on them."""
    is_idle, response = units.steps.delivered_w <= 0.0, units.response
    idle_h = response.dark_hours_by_month + by_month(response.month[is_idle], response.weight_h[is_idle])
    night_draw_kwh = idle_h * microinverter.night_draw_w / units.modules_per_unit / 1000.0
    return [each.scaled(units.share) for each in _monthly_balances(response, units.steps, night_draw_kwh)]


def _monthly_balances(response: DcResponse, steps: PowerSteps, night_draw_kwh: FloatArray) -> tuple[EnergyBalance, ...]:
    def energy_kwh(power_w: FloatArray) -> FloatArray:
        return by_month(response.month, power_w * response.weight_h) / 1000.0

    def loss_kwh(loss: Loss) -> FloatArray:
        return by_month(response.month[loss.index], loss.power_w * response.weight_h[loss.index]) / 1000.0

    at_input_kwh, converted_kwh, clipped_kwh, delivered_kwh = map(
        energy_kwh, (steps.at_input_w, steps.converted_w, steps.limited_w, steps.delivered_w)
    )
    shade, available_kwh = response.shade, energy_kwh(steps.available_w)
    unshaded_kwh = available_kwh if shade is None else energy_kwh(shade.unshaded_w)
    shade_irradiance_kwh = np.zeros(12) if shade is None else energy_kwh(shade.irradiance_loss_w)
    columns = [
        unshaded_kwh,
        shade_irradiance_kwh,
        unshaded_kwh - shade_irradiance_kwh - available_kwh,
        available_kwh,
        *map(loss_kwh, (steps.tracker, steps.start_up, steps.voltage_window, steps.input_current)),
        at_input_kwh - converted_kwh,
        converted_kwh - clipped_kwh,
        clipped_kwh - delivered_kwh,
        night_draw_kwh,
        delivered_kwh - night_draw_kwh,
    ]
    return tuple(EnergyBalance(*(float(column[month]) for column in columns)) for month in range(12))


def _duration_curve(units: Sequence[_Units]) -> DurationCurve:
    levels_w = np.linspace(0.0, max(float(each.steps.converted_w.max(initial=0.0)) for each in units), DURATION_LEVELS)
    hours_h = np.zeros(DURATION_LEVELS)
    for each in units:
        order = np.argsort(each.steps.converted_w)
        cumulative_h = np.concatenate([[0.0], np.cumsum(each.response.weight_h[order])])
        first_at_level = np.searchsorted(each.steps.converted_w[order], levels_w, side="left")
        hours_h += (cumulative_h[-1] - cumulative_h[first_at_level]) * each.share
    # Every hour has at least zero power, dark hours too.
    hours_h[0] += float(units[0].response.dark_hours_by_month.sum())
    return DurationCurve(ac_power_w=levels_w, hours_h=hours_h)

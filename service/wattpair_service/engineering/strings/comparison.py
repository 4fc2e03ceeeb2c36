"""Microinverters against a string inverter on the same roof: the difference of energy taken apart, and of money.

Both begin with the same unshaded energy, module by module, so that the difference of what arrives at the meter is the sum of
the differences of their losses. The range of the difference takes shade by the tolerance of distances and heights, the mismatch
of equal modules between half and twice its value (published measurements lie that far apart), and each conversion's datasheet
to 0.3 % of its energy; they are independent of one another.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import hypot
from typing import Literal, get_args

from wattpair_service.engineering.energy.energy_balance import EnergyBalance
from wattpair_service.engineering.energy.lifetime_energy import Worth
from wattpair_service.engineering.money.replacements import BAND_CENTRE
from wattpair_service.engineering.results import Range
from wattpair_service.engineering.selection.evaluation import Evaluated
from wattpair_service.engineering.selection.request import SelectionRequest
from wattpair_service.engineering.sentences import Sentence, family, fixed, sentence
from wattpair_service.engineering.strings.string_system import (
    StringSystem,
    inverters_paid,
    replacement_years,
    system_cost,
)

DAYS_PER_YEAR = 365.0
CONVERSION_SHARE = 0.003
"""Uncertainty of a conversion's yearly energy by its datasheet. Common practice, no source."""
MISMATCH_FACTORS = (0.5, 2.0)

Cause = Literal[
    "shade", "orientation", "tolerance", "start_up", "limits", "conversion", "clipping", "derating", "standby", "cables",
    "availability",
]  # fmt: skip
CAUSES: tuple[Cause, ...] = get_args(Cause)
family("cause", CAUSES)
COVERS = fixed("covers.string_comparison")
YIELDS_MORE, YIELDS_LESS = (
    sentence(f"string_comparison.yields_{each}", "microinverter", "inverter", "percent", "low", "high")
    for each in ("more", "less")
)
COSTS_MORE, COSTS_LESS = (sentence(f"string_comparison.costs_{each}", "energy", "amount", "years") for each in ("more", "less"))
WORTH_MORE, WORTH_LESS = (sentence(f"string_comparison.worth_{each}", "costs", "amount") for each in ("more", "less"))


@dataclass(frozen=True, slots=True)
class CauseKwh:
    """One cause of the difference: energy of the first year that each side loses by it [kWh]."""

    cause: Cause
    microinverters_kwh: float
    string_inverter_kwh: float

    @property
    def difference_kwh(self) -> float:
        """How much more the microinverters yield by it [kWh]."""
        return self.string_inverter_kwh - self.microinverters_kwh


@dataclass(frozen=True, slots=True)
class TurningPoints:
    """What would make both worth the same, each by itself; None where no value does.

    The extra price of the string inverter, its replacements included where they have no price of their own; its life [years];
    and the factor on what shade takes more from the strings.
    """

    extra_price: float | None
    life_years: float | None
    shade_factor: float | None


@dataclass(frozen=True, slots=True)
class MoneyDifference:
    """Present values over the horizon: cost and net value of the microinverters less those of the string inverter."""

    extra_cost: float
    extra_value: float
    net_gain: float
    balance_of_plant_counts: bool
    turning: TurningPoints


@dataclass(frozen=True, slots=True, eq=False)
class StringComparison:
    """The recommended microinverter against one string inverter.

    `energy_share` is the energy at the meter that microinverters yield more, over that of the string inverter. `better` is by
    net value, or by energy where a price is missing. `replaced_in_years` are the years in which the inverter is replaced.
    """

    module: str
    microinverter: str
    system: StringSystem
    microinverters_kwh: float
    string_inverter_kwh: float
    energy_share: Range
    causes: tuple[CauseKwh, ...]
    money: MoneyDifference | None
    better: Literal["microinverters", "string_inverter"]
    replaced_in_years: tuple[int, ...]
    sentence: Sentence


def comparison(
    request: SelectionRequest,
    worth: Worth | None,
    micro: Evaluated,
    system: StringSystem,
    shade_range: tuple[float, float],
    repair_days: float,
) -> StringComparison:
    """Compare one pairing with one string inverter.

    Parameters
    ----------
    request : SelectionRequest
    worth : Worth or None
        Present value of energy; None without a tariff.
    micro : Evaluated
        The pairing.
    system : StringSystem
        The string inverter on the same roof.
    shade_range : tuple of float
        Low and high end of the shade's loss relative to its value, by the tolerance of distances and heights.
    repair_days : float
        From a failure to the repair.
    """
    rate = request.failure_rate(micro.unit)
    micro_down = (BAND_CENTRE if rate is None else rate) * repair_days / DAYS_PER_YEAR
    string_down = down_share(repair_days, system.offer.expected_life_years)
    micro_kwh = micro.balance.delivered_kwh - micro.losses.lost(_produced(micro.balance)).total_kwh
    string_kwh = system.at_meter_kwh
    causes = _causes(micro, system, micro_down * micro_kwh, string_down * string_kwh)
    micro_kwh, string_kwh = micro_kwh * (1.0 - micro_down), string_kwh * (1.0 - string_down)
    share = _share(causes, micro_kwh, string_kwh, shade_range)
    money = None
    if worth is not None:
        money = _money(request, worth, micro, system, (micro_down, string_down), causes)
    gain = micro_kwh - string_kwh if money is None else money.net_gain
    return StringComparison(
        module=micro.panel.name,
        microinverter=micro.name,
        system=system,
        microinverters_kwh=micro_kwh,
        string_inverter_kwh=string_kwh,
        energy_share=share,
        causes=causes,
        money=money,
        better="microinverters" if gain > 0.0 else "string_inverter",
        replaced_in_years=tuple(replacement_years(system.offer.expected_life_years, request.terms.horizon_years)),
        sentence=_sentence(request, micro.name, system.offer.name, share, money),
    )


def down_share(repair_days: float, life_years: float) -> float:
    """Share of the time in which a string inverter waits for its repair: once in its life."""
    return repair_days / DAYS_PER_YEAR / life_years


def _produced(balance: EnergyBalance) -> float:
    return balance.delivered_kwh + balance.night_draw_kwh


def _causes(micro: Evaluated, system: StringSystem, micro_down_kwh: float, string_down_kwh: float) -> tuple[CauseKwh, ...]:
    one, other = micro.balance, system.balance
    one_lost, other_lost = micro.losses.lost(_produced(one)), system.lost

    def shade(balance: EnergyBalance, orientation_kwh: float) -> float:
        return balance.shade_irradiance_kwh + balance.shade_mismatch_kwh + balance.tracker_kwh - orientation_kwh

    def limits(balance: EnergyBalance) -> float:
        return balance.voltage_window_kwh + balance.input_current_limit_kwh

    rows: dict[Cause, tuple[float, float]] = {
        "shade": (shade(one, 0.0), shade(other, system.orientation_kwh)),
        "orientation": (0.0, system.orientation_kwh),
        "tolerance": (one_lost.mismatch_kwh, other_lost.mismatch_kwh),
        "start_up": (one.start_up_kwh, other.start_up_kwh),
        "limits": (limits(one), limits(other)),
        "conversion": (one.conversion_kwh, other.conversion_kwh - system.cable_kwh),
        "clipping": (one.clipping_kwh, other.clipping_kwh),
        "derating": (one.thermal_derating_kwh, other.thermal_derating_kwh),
        "standby": (one.night_draw_kwh, other.night_draw_kwh),
        "cables": (one_lost.ac_cable_kwh, other_lost.ac_cable_kwh + system.cable_kwh),
        "availability": (
            one_lost.snow_kwh + one_lost.downtime_kwh + micro_down_kwh,
            other_lost.snow_kwh + other_lost.downtime_kwh + string_down_kwh,
        ),
    }
    return tuple(CauseKwh(cause, *rows[cause]) for cause in CAUSES)


def _share(causes: tuple[CauseKwh, ...], micro_kwh: float, string_kwh: float, shade_range: tuple[float, float]) -> Range:
    by_cause = {each.cause: each.difference_kwh for each in causes}
    difference = micro_kwh - string_kwh
    conversion = CONVERSION_SHARE * hypot(micro_kwh, string_kwh)

    def end(shade_factor: float, mismatch_factor: float, sign: float) -> float:
        parts = by_cause["shade"] * (shade_factor - 1.0), by_cause["tolerance"] * (mismatch_factor - 1.0), conversion
        return difference + sign * hypot(*parts)

    low, high = end(shade_range[0], MISMATCH_FACTORS[0], -1.0), end(shade_range[1], MISMATCH_FACTORS[1], 1.0)
    if string_kwh <= 0.0:
        return Range(0.0, 0.0, 0.0, COVERS)
    return Range(difference / string_kwh, low / string_kwh, high / string_kwh, COVERS)


def _money(
    request: SelectionRequest,
    worth: Worth,
    micro: Evaluated,
    system: StringSystem,
    down: tuple[float, float],
    causes: tuple[CauseKwh, ...],
) -> MoneyDifference | None:
    if micro.cost is None or system.cost is None:
        return None
    modules = request.module_count
    has_plant = system.offer.balance_of_plant is not None and micro.unit.system.balance_of_plant is not None
    micro_cost = micro.units_cost + (micro.plant_cost if has_plant else 0.0)
    plant = (system.offer.balance_of_plant or 0.0) if has_plant else 0.0
    string_cost = system.cost + plant
    always_up_value = float(system.energy.roof.value(worth))
    string_value = always_up_value * (1.0 - down[1])
    extra_value = micro.value * (1.0 - down[0]) - string_value
    net_gain = extra_value - (micro_cost - string_cost)

    def gain_at(life_years: float) -> float:
        cost = system_cost(request, system.offer, modules, life_years)
        assert cost is not None, "the same prices are known"
        longer_up_value = always_up_value * (down[1] - down_share(request.repair_days, life_years))
        return net_gain - longer_up_value + cost - (system.cost or 0.0)

    shade_kwh = next(each.difference_kwh for each in causes if each.cause == "shade")
    available_kwh = system.balance.available_kwh
    # Shade takes of the DC energy, of which not all arrives at the meter.
    shade_value = shade_kwh * string_value / available_kwh if available_kwh > 0.0 else 0.0
    shade_factor = 1.0 - net_gain / shade_value if shade_value > 0.0 else None
    return MoneyDifference(
        extra_cost=micro_cost - string_cost,
        extra_value=extra_value,
        net_gain=net_gain,
        balance_of_plant_counts=has_plant,
        turning=TurningPoints(
            extra_price=_turning_price(request, system, net_gain),
            life_years=_turning_life(gain_at, request.terms.horizon_years),
            shade_factor=shade_factor if shade_factor is not None and shade_factor >= 0.0 else None,
        ),
    )


def _turning_price(request: SelectionRequest, system: StringSystem, net_gain: float) -> float | None:
    """Change of the string inverter's price at which both are worth the same; None where it would cost less than nothing."""
    price = system.offer.price
    assert price is not None, "computed only where prices are known"
    extra = -net_gain / inverters_paid(request.terms, system.offer)
    return extra if price + extra >= 0.0 else None


def _turning_life(gain_at: Callable[[float], float], horizon_years: int) -> float | None:
    """Shortest life in whole years from which on the microinverters no longer lead; None where no life turns it."""
    leads = [gain_at(float(years)) > 0.0 for years in range(1, horizon_years + 1)]
    if leads[-1] or not any(leads):
        return None
    return float(len(leads) - leads[::-1].index(True) + 1)


def _sentence(
    request: SelectionRequest, microinverter: str, inverter: str, share: Range, money: MoneyDifference | None
) -> Sentence:
    ends = sorted(abs(each) if share.low * share.high > 0.0 else each for each in (share.low, share.high))
    form = YIELDS_MORE if share.value >= 0.0 else YIELDS_LESS
    if share.value < 0.0 and share.low * share.high <= 0.0:
        ends = sorted(-each for each in (share.low, share.high))
    low, high = ends
    energy = form(
        microinverter=microinverter, inverter=inverter, percent=abs(share.value) * 100.0, low=low * 100.0, high=high * 100.0
    )
    if money is None:
        return energy
    form = COSTS_MORE if money.extra_cost >= 0.0 else COSTS_LESS
    costs = form(energy=energy, amount=request.money(abs(money.extra_cost)), years=request.terms.horizon_years)
    form = WORTH_MORE if money.net_gain > 0.0 else WORTH_LESS
    return form(costs=costs, amount=request.money(abs(money.net_gain)))

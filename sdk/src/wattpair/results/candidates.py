"""One candidate of `select_microinverters`."""

from __future__ import annotations

from dataclasses import dataclass

from wattpair.results.clipping import Balance
from wattpair.results.shared import Range, Verdict
from wattpair.results.sizing import Check


@dataclass(frozen=True, slots=True, kw_only=True)
class CandidateEnergy:
    """Energy of a candidate on the whole roof.

    Attributes
    ----------
    first_year : Balance
        First year, each loss by its own name.
    delivered_range_kwh : Range
        Delivered energy of a single year with its range [kWh].
    lifetime_kwh : float
        Delivered over the horizon as the modules age [kWh].
    lifetime_range_kwh : Range
        The same with its range [kWh].
    delivered_kwh_by_year : tuple of float
        The same year by year [kWh].
    used_at_home_kwh : float
        Used at home in the first year, less the night draw [kWh].
    exported_kwh : float
        Exported in the first year [kWh].
    cut_kwh : float
        Cut at the connection in the first year [kWh].
    """

    first_year: Balance
    delivered_range_kwh: Range
    lifetime_kwh: float
    lifetime_range_kwh: Range
    delivered_kwh_by_year: tuple[float, ...]
    used_at_home_kwh: float
    exported_kwh: float
    cut_kwh: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StepUp:
    """The step up from the cheapest candidate that passes.

    Attributes
    ----------
    extra_cost : float
        What it costs more today, in the caller's currency.
    extra_energy_kwh : float
        What it gives more over the horizon [kWh].
    simple_payback_years : float or None
        Years until it has paid for itself; None if never [years].
    discounted_payback_years : float or None
        The same with discounted benefits [years].
    rate_of_return : float or None
        Internal rate of return of the step, as a share a year; None without one.
    """

    extra_cost: float
    extra_energy_kwh: float
    simple_payback_years: float | None
    discounted_payback_years: float | None
    rate_of_return: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CandidateMoney:
    """What a candidate costs and is worth.

    Attributes
    ----------
    units_price : float
        Price of all units today, in the caller's currency.
    net_present_value : float
        Worth today of the energy less every cost, in the caller's currency.
    net_present_value_range : Range
        The same with its range.
    lifetime_cost : float
        Every cost of the horizon, worth today, in the caller's currency.
    lifetime_cost_per_kwh : float or None
        Lifetime cost over discounted useful energy, in the caller's currency; None without energy.
    step_up : StepUp
        The step up from the cheapest candidate that passes.
    """

    units_price: float
    net_present_value: float
    net_present_value_range: Range
    lifetime_cost: float
    lifetime_cost_per_kwh: float | None
    step_up: StepUp


@dataclass(frozen=True, slots=True, kw_only=True)
class Replacements:
    """Units that have to be replaced over the horizon.

    Attributes
    ----------
    expected : float
        Expected number.
    low : int
        Lower end of the range.
    high : int
        Upper end of the range.
    chance_of_any : float
        Probability that at least one fails, 0 to 1.
    failure_share_per_year : float
        Yearly rate behind the expected number, 0 to 1.
    covers : str
        What the range holds.
    """

    expected: float
    low: int
    high: int
    chance_of_any: float
    failure_share_per_year: float
    covers: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CandidateResult:
    """A module with a microinverter.

    Attributes
    ----------
    module : str
        Name of the module.
    microinverter : str
        Name of the microinverter.
    verdict : {"ok", "caution", "fail"}
        Worst verdict of its electrical checks; one that fails is not ranked.
    reasons : tuple of Check
        The checks that are not ok.
    rank : int or None
        Place from 1; None where it fails.
    unit_count : int
        Units on the roof.
    mass_kg : float
        Mass of all units [kg].
    warranty_years : int
        Years of warranty.
    energy : CandidateEnergy or None
        Energy; None where it fails.
    money : CandidateMoney or None
        Money; None where it fails or a price or the tariff is missing.
    replacements : Replacements or None
        Expected replacements; None where it fails.
    """

    module: str
    microinverter: str
    verdict: Verdict
    reasons: tuple[Check, ...]
    rank: int | None
    unit_count: int
    mass_kg: float
    warranty_years: int
    energy: CandidateEnergy | None
    money: CandidateMoney | None
    replacements: Replacements | None

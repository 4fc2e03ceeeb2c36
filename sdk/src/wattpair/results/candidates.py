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
        Energy balance of the first year.
    delivered_range_kwh : Range
        Delivered energy of a single year with its range [kWh].
    lifetime_kwh : float
        Delivered energy over the horizon, with ageing of the modules [kWh].
    lifetime_range_kwh : Range
        Delivered energy over the horizon with its range [kWh].
    delivered_kwh_by_year : tuple of float
        Delivered energy of each year [kWh].
    used_at_home_kwh : float
        Used at home in the first year, minus the night draw [kWh].
    exported_kwh : float
        Exported in the first year [kWh].
    cut_kwh : float
        Cut by the export limit in the first year [kWh].
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
        Extra cost today, in the caller's currency.
    extra_energy_kwh : float
        Extra energy over the horizon [kWh].
    simple_payback_years : float or None
        Years until the extra energy has paid the extra cost; None if never [years].
    discounted_payback_years : float or None
        The same with discounted gains [years].
    rate_of_return : float or None
        Internal rate of return of the extra cost, as a share per year; None without one.
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
        Net present value: energy minus all costs, in the caller's currency.
    net_present_value_range : Range
        Net present value with its range.
    lifetime_cost : float
        Present value of all costs over the horizon, in the caller's currency.
    lifetime_cost_per_kwh : float or None
        Lifetime cost over discounted useful energy, in the caller's currency; None without energy.
    step_up : StepUp
        Comparison with the cheapest candidate that passes.
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
        Expected number of failures.
    low : int
        Lower end of the range.
    high : int
        Upper end of the range.
    chance_of_any : float
        Probability that at least one fails, 0 to 1.
    failure_share_per_year : float
        Yearly failure rate used, 0 to 1.
    covers : str
        What the range covers.
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
        Worst verdict of its electrical checks; a pairing that fails is not ranked.
    reasons : tuple of Check
        The checks that are not ok.
    rank : int or None
        Rank from 1; None where it fails.
    unit_count : int
        Units on the roof.
    mass_kg : float
        Mass of all units [kg].
    warranty_years : int
        Years of warranty.
    energy : CandidateEnergy or None
        Energy; None where it fails.
    money : CandidateMoney or None
        Costs and value; None where it fails or a price or the tariff is missing.
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

"""The answer of `select_microinverters`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from wattpair.frames import Row, names_of, row_of
from wattpair.results.break_even import BreakEven
from wattpair.results.candidates import CandidateResult
from wattpair.results.clipping import Balance
from wattpair.results.shared import ClimateUsed, DesignTemperatures, Result

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """Something that may be otherwise, and who then comes first.

    Attributes
    ----------
    name : str
        The change.
    first : str
        Candidate that is best with it.
    regret : float
        Its lead over the recommended candidate, in the unit of the margin.
    """

    name: str
    first: str
    regret: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Recommendation:
    """The recommendation, and whether it stands.

    Attributes
    ----------
    standing : {"decided", "close", "depends", "none_passes"}
        How certain the recommendation is.
    sentence : str
        The recommendation in one sentence.
    module : str or None
        Name of the module; None where none passes.
    microinverter : str or None
        Name of the microinverter; None where none passes.
    runner_up : str or None
        Second-best candidate; None without one.
    margin : float or None
        Lead over the second-best candidate; None without one.
    margin_unit : str or None
        Unit of the margin: the currency (present value), or kWh over the horizon.
    depends_on : tuple of str
        Changes that would alter the recommendation, the largest effect first.
    scenarios : tuple of Scenario
        All changes that were tried.
    """

    standing: Literal["decided", "close", "depends", "none_passes"]
    sentence: str
    module: str | None
    microinverter: str | None
    runner_up: str | None
    margin: float | None
    margin_unit: str | None
    depends_on: tuple[str, ...]
    scenarios: tuple[Scenario, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceChoice:
    """The best for one face.

    Attributes
    ----------
    face : str
        Name of the face.
    microinverter : str
        Name of the microinverter.
    """

    face: str
    microinverter: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MixedChoice:
    """Another microinverter on each face.

    Attributes
    ----------
    module : str
        Name of the module.
    choices : tuple of FaceChoice
        The best microinverter for each face.
    saving : float
        Gain over one kind for all faces, before the cost of a second kind, in the caller's currency.
    second_kind_cost : float
        Cost of stocking a second kind, in the caller's currency.
    worthwhile : bool
        Whether the saving exceeds that cost.
    sentence : str
        The same in a sentence.
    """

    module: str
    choices: tuple[FaceChoice, ...]
    saving: float
    second_kind_cost: float
    worthwhile: bool
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensitivity:
    """What one input must become for the order to change.

    Attributes
    ----------
    name : str
        Name of the input.
    unit : str
        Its unit.
    now : float
        Current value.
    then : float or None
        Nearest value at which another candidate is best; None where none was found.
    first_then : str or None
        Candidate that is then best.
    low : float
        Lowest value tried.
    high : float
        Highest value tried.
    """

    name: str
    unit: str
    now: float
    then: float | None
    first_then: str | None
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CutEnergy:
    """What an export limit cuts of a candidate.

    Attributes
    ----------
    module : str
        Name of the module.
    microinverter : str
        Name of the microinverter.
    cut_first_year_kwh : float
        Cut in the first year [kWh].
    cut_lifetime_kwh : float
        Cut over the horizon [kWh].
    needless_beside : str or None
        A smaller, cheaper candidate that the limit makes give as much within 0.1 %; None without one.
    """

    module: str
    microinverter: str
    cut_first_year_kwh: float
    cut_lifetime_kwh: float
    needless_beside: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportLimit:
    """What the connection cuts.

    Attributes
    ----------
    export_limit_w : float
        Export limit of the grid connection [W].
    candidates : tuple of CutEnergy
        Each candidate that passes.
    sentence : str
        The same in a sentence.
    """

    export_limit_w: float
    candidates: tuple[CutEnergy, ...]
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A failing check that stands in the way of a candidate.

    Attributes
    ----------
    module : str
        Name of the module.
    microinverter : str
        Name of the microinverter.
    check : str
        Name of the failing check.
    value : float
        Value of the check, in `unit`.
    limit : float
        Limit of the check, in `unit`.
    unit : str
        Unit of value and limit.
    sentence : str
        The same in a sentence.
    """

    module: str
    microinverter: str
    check: str
    value: float
    limit: float
    unit: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SelectionResult(Result):
    """The recommendation, and everything that it rests on.

    Attributes
    ----------
    ranked_by : {"net present value", "energy"}
        Criterion of the ranking.
    recommendation : Recommendation
        The recommendation.
    candidates : tuple of CandidateResult
        Every pairing in the order of the request, module by module.
    break_evens : tuple of BreakEven
        Break-evens of neighbours by AC power, for each module; empty without prices and tariff.
    mixed_choices : tuple of MixedChoice
        Mixed choice for each module; empty without prices and tariff, for one face or one candidate.
    sensitivities : tuple of Sensitivity
        Inputs that could change the recommendation; empty without prices and tariff or a second candidate.
    export_limit : ExportLimit or None
        Energy that the export limit cuts; None without a limit.
    what_would_have_to_change : tuple of Change
        Where no candidate passes: the failing checks, fewest first.
    climate : ClimateUsed
        Where the year's weather comes from.
    design_temperatures : DesignTemperatures
        Design temperatures of the checks.
    place : str
        Country or area whose rules were applied.
    edition : str
        Edition of these rules.
    """

    ranked_by: Literal["net present value", "energy"]
    recommendation: Recommendation
    candidates: tuple[CandidateResult, ...]
    break_evens: tuple[BreakEven, ...]
    mixed_choices: tuple[MixedChoice, ...]
    sensitivities: tuple[Sensitivity, ...]
    export_limit: ExportLimit | None
    what_would_have_to_change: tuple[Change, ...]
    climate: ClimateUsed
    design_temperatures: DesignTemperatures
    place: str
    edition: str

    def to_frame(self) -> pd.DataFrame:
        """One row for each candidate: verdict, rank and size, the balance of its first year, energy and money.

        What a candidate has none of, such as the money of one that fails, is missing in its row.
        """
        return self._frame(map(_candidate_row, self.candidates), [*OWN, *names_of(Balance), *ENERGY, *MONEY, "replacements"])

    def break_evens_to_frame(self) -> pd.DataFrame:
        """One row for each pair of neighbours and place; the `face` of the whole roof is None."""
        rows = (
            {
                "module": pair.module,
                "smaller": pair.smaller,
                "larger": pair.larger,
                "face": place.face,
                "pays": place.power.pays,
                **{f"power_{name}": getattr(place.power, name) for name in ("value_w", "low_w", "high_w")},
                **{f"price_gap_{name}": getattr(place.price_gap, name) for name in GAP},
            }
            for pair in self.break_evens
            for place in pair.places
        )
        powers = ["power_value_w", "power_low_w", "power_high_w"]
        columns = ["module", "smaller", "larger", "face", "pays", *powers, *(f"price_gap_{name}" for name in GAP)]
        return self._frame(rows, columns)

    def curves_to_frame(self) -> pd.DataFrame:
        """One row for each pair of neighbours, place and module power: the `gain` of the larger, worth today."""
        rows = (
            {
                "module": pair.module,
                "smaller": pair.smaller,
                "larger": pair.larger,
                "face": place.face,
                "module_power_w": power_w,
                "gain": gain,
            }
            for pair in self.break_evens
            for place in pair.places
            for power_w, gain in zip(pair.module_power_w, place.gains, strict=True)
        )
        return self._frame(rows, ["module", "smaller", "larger", "face", "module_power_w", "gain"])

    def sensitivities_to_frame(self) -> pd.DataFrame:
        """One row for each input, with the fields of `Sensitivity`."""
        return self._frame(map(row_of, self.sensitivities), names_of(Sensitivity))

    def scenarios_to_frame(self) -> pd.DataFrame:
        """One row for everything that was tried, with the fields of `Scenario`."""
        return self._frame(map(row_of, self.recommendation.scenarios), names_of(Scenario))


OWN = ("module", "microinverter", "verdict", "rank", "unit_count", "mass_kg", "warranty_years")
ENERGY = ("lifetime_kwh", "used_at_home_kwh", "exported_kwh", "cut_kwh")
MONEY = ("units_price", "net_present_value", "lifetime_cost", "lifetime_cost_per_kwh")
GAP = ("value", "low", "high", "asked")


def _candidate_row(candidate: CandidateResult) -> Row:
    row = {name: getattr(candidate, name) for name in OWN}
    if candidate.energy is not None:
        row |= row_of(candidate.energy.first_year) | {name: getattr(candidate.energy, name) for name in ENERGY}
    if candidate.money is not None:
        row |= {name: getattr(candidate.money, name) for name in MONEY}
    return row | {"replacements": candidate.replacements.expected if candidate.replacements else None}

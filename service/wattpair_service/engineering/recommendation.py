"""Which candidate comes first, by how much, and whether that stands within what is not known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.break_even import LEVEL_SHARE
from wattpair_service.engineering.electrical_checks import Verdict
from wattpair_service.engineering.evaluation import Evaluated, net_present_value_of
from wattpair_service.engineering.replacements import FAILURE_BAND
from wattpair_service.engineering.selection_request import SelectionRequest, unit_cost

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
Standing = Literal["decided", "close", "depends", "none_passes"]

TARIFF_SHARE = 0.2
PRICE_SHARE = 0.05
"""How far the tariff and the recommended unit's price may be off. Common practice, no source."""
CLOSE_SHARE = 0.01
"""Largest regret, over the price of the recommended units, up to which either will do. Common practice, no source."""
CLOSE_ENERGY_SHARE = 0.001
"""The same for a ranking by energy. Common practice, no source."""


ROUNDING = 1e-11
"""Difference of two scores over the largest of them that is rounding."""


@dataclass(frozen=True, slots=True)
class Scenario:
    """One thing that may be otherwise, and who would then come first; `regret` is what the recommended would be short of it."""

    name: str
    first: str
    regret: float


@dataclass(frozen=True, slots=True)
class Recommendation:
    """The first candidate in one sentence; names are None where no candidate passes.

    `margin` is over the next one, in currency worth today or, ranked by energy, in kWh over the horizon (`margin_unit`).
    """

    standing: Standing
    sentence: str
    module: str | None
    microinverter: str | None
    runner_up: str | None
    margin: float | None
    margin_unit: str | None
    depends_on: tuple[str, ...]
    scenarios: tuple[Scenario, ...]


def label(pairing: Evaluated, several_modules: bool) -> str:
    """Name of a pairing: the module too where there are several."""
    return f"{pairing.name} on {pairing.panel.name}" if several_modules else pairing.name


def scores(request: SelectionRequest, passing: list[Evaluated]) -> FloatArray:
    """What is ranked by: net present value or, without money, energy over the horizon [kWh]."""
    if not request.has_money:
        return np.array([pairing.useful_kwh for pairing in passing])
    return np.array([net_present_value_of(request, pairing) for pairing in passing])


def ranking(request: SelectionRequest, passing: list[Evaluated]) -> list[int]:
    """Indexes from the best; among equals the cheaper, then the one with more energy, then the one named first."""
    worth = scores(request, passing)
    if not passing:
        return []
    best = first(passing, worth)
    return [best, *(index for index in by_rank(passing, worth) if index != best)]


def by_rank(passing: list[Evaluated], worth: FloatArray) -> list[int]:
    """Indexes from the best by these scores, with the tie-break of `ranking`."""

    def key(index: int) -> tuple[float, float, float, int]:
        return (-float(worth[index]), passing[index].units_cost, -passing[index].useful_kwh, index)

    return sorted(range(len(passing)), key=key)


def first(passing: list[Evaluated], worth: FloatArray) -> int:
    """Index of the best by these scores; scores that differ by rounding alone are equal."""
    return int(firsts(passing, worth[None, :])[0])


def firsts(passing: list[Evaluated], worth: FloatArray) -> IntArray:
    """Index of the best in each row of scores, shape (n, candidates)."""
    rounding = ROUNDING * np.maximum(1.0, np.abs(worth).max(axis=1))
    equal = worth >= (worth.max(axis=1) - rounding)[:, None]
    best = np.asarray(np.argmax(equal, axis=1), dtype=np.int64)
    for row in np.flatnonzero(equal.sum(axis=1) > 1).tolist():
        tied = np.flatnonzero(equal[row]).tolist()
        best[row] = min(tied, key=lambda index: (passing[index].units_cost, -passing[index].useful_kwh, index))
    return best


def recommendation(
    request: SelectionRequest, passing: list[Evaluated], order: list[int], verdicts: Sequence[Verdict] | None = None
) -> Recommendation:
    """The best of the order, and how it fares when what is not known is otherwise.

    `verdicts` are the electrical ones of `passing`; left out, all are "ok".
    """
    verdicts = ["ok"] * len(passing) if verdicts is None else verdicts
    several = len(request.modules) > 1
    names = [label(pairing, several) for pairing in passing]
    best = order[0]
    unit = "kWh" if not request.has_money else "currency"
    warning = _warning(request, passing[best], verdicts[best])
    if len(order) == 1:
        return Recommendation(
            "decided", f"{names[best]}: the only candidate that passes.{warning}", passing[best].panel.name, passing[best].name,
            None, None, None, (), (),
        )  # fmt: skip
    worth = scores(request, passing)
    scenarios = _scenarios(request, passing, best, worth)
    found = tuple(
        Scenario(name, names[then], max(float(values[then] - values[best]), 0.0) if then != best else 0.0)
        for (name, values), then in zip(
            scenarios.items(), firsts(passing, np.array(list(scenarios.values()))).tolist(), strict=True
        )
    )
    margin = max(float(worth[best] - worth[order[1]]), 0.0)
    turning = sorted((each for each in found if each.regret > 0.0), key=lambda each: -each.regret)
    scale = CLOSE_SHARE * passing[best].price_today if request.has_money else CLOSE_ENERGY_SHARE * abs(float(worth[best]))
    open_question = bool(turning) or margin <= 0.1 * scale
    small = max([margin, *(each.regret for each in turning)]) <= scale
    standing: Standing = "decided" if not open_question else "close" if small else "depends"
    return Recommendation(
        standing=standing,
        sentence=_sentence(request, names[best], names[order[1]], margin, standing, turning) + warning,
        module=passing[best].panel.name,
        microinverter=passing[best].name,
        runner_up=names[order[1]],
        margin=margin,
        margin_unit=unit,
        depends_on=tuple(each.name for each in turning),
        scenarios=found,
    )


def _warning(request: SelectionRequest, best: Evaluated, verdict: Verdict) -> str:
    """What speaks against even the best: a loss, or a caution of its electrical checks."""
    found = ""
    value = net_present_value_of(request, best) if request.has_money else 0.0
    if value < 0.0:
        found = f" Even so it loses {request.money(-value)} over the horizon: its net present value is negative."
    if verdict == "caution":
        found += " Its electrical checks pass with a caution: see its reasons."
    return found


def _sentence(
    request: SelectionRequest, best: str, second: str, margin: float, standing: Standing, turning: list[Scenario]
) -> str:
    amount = f"{request.money(margin)} more today" if request.has_money else f"{margin:.0f} kWh more"
    years = "year" if request.terms.horizon_years == 1 else f"{request.terms.horizon_years} years"
    lead = f"{best}: {amount} than {second} over the {years} looked at"
    if not request.has_money:
        lead += ", by energy alone because a price or the tariff is missing"
    if standing == "decided":
        return f"{lead}; decided: nothing that is uncertain here changes the order."
    if standing == "close":
        return f"{lead}; close: either is fine."
    return f"{lead}; depends on {turning[0].name}: then {turning[0].first} comes first."


def _scenarios(request: SelectionRequest, passing: list[Evaluated], best: int, worth: FloatArray) -> dict[str, FloatArray]:
    """Scores of all candidates when one thing is otherwise."""
    if not request.has_money:
        lost = np.array([pairing.energy.lost_kwh.sum(axis=1) for pairing in passing])
        return {
            "less clipping, the low end of its range": worth + _clipping_change(passing, lost, high=False),
            "more clipping, the high end of its range": worth + _clipping_change(passing, lost, high=True),
        }
    values = np.array([pairing.value for pairing in passing])
    lost = np.array([pairing.lost_values for pairing in passing])
    dearer = np.zeros(len(passing))
    for index, pairing in enumerate(passing):
        if pairing.unit is passing[best].unit and pairing.cost is not None:
            dearer[index] = PRICE_SHARE * pairing.price_today * pairing.cost.factor
    found = {
        "less clipping, the low end of its range": worth + _clipping_change(passing, lost, high=False),
        "more clipping, the high end of its range": worth + _clipping_change(passing, lost, high=True),
        f"{LEVEL_SHARE:.0%} less energy over the lifetime": worth - LEVEL_SHARE * values,
        f"{LEVEL_SHARE:.0%} more energy over the lifetime": worth + LEVEL_SHARE * values,
        f"a tariff {TARIFF_SHARE:.0%} lower": worth - TARIFF_SHARE * values,
        f"a tariff {TARIFF_SHARE:.0%} higher": worth + TARIFF_SHARE * values,
        f"a price {PRICE_SHARE:.0%} higher of the recommended unit": worth - dearer,
    }
    if any(request.failure_rate(pairing.unit) is None for pairing in passing):
        for end in FAILURE_BAND:
            found[f"a failure rate of {end * 100.0:g} % a year"] = worth - _dearer_by_failures(request, passing, end)
    return found


def _clipping_change(passing: list[Evaluated], lost: FloatArray, *, high: bool) -> FloatArray:
    ends = np.array([pairing.clip_high if high else pairing.clip_low for pairing in passing])
    return np.asarray((lost * (1.0 - ends)).sum(axis=1))


def _dearer_by_failures(request: SelectionRequest, passing: list[Evaluated], rate: float) -> FloatArray:
    changes = []
    for pairing in passing:
        unknown = request.failure_rate(pairing.unit) is None
        then = pairing.unit_count * unit_cost(request, pairing.unit, rate).total if unknown else pairing.units_cost
        changes.append(then - pairing.units_cost)
    return np.array(changes)

"""Which candidate comes first, by how much, and whether that stands within what is not known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.inverter.electrical_checks import Verdict
from wattpair_service.engineering.money.replacements import FAILURE_BAND
from wattpair_service.engineering.selection.break_even import LEVEL_SHARE
from wattpair_service.engineering.selection.evaluation import Evaluated
from wattpair_service.engineering.selection.ranking import Ranking
from wattpair_service.engineering.selection.request import SelectionRequest, unit_cost

Standing = Literal["decided", "close", "depends", "none_passes"]

TARIFF_SHARE = 0.2
PRICE_SHARE = 0.05
"""How far the tariff and the recommended unit's price may be off. Common practice, no source."""
CLOSE_SHARE = 0.01
"""Largest regret, over the price of the recommended units, up to which either will do. Common practice, no source."""
CLOSE_ENERGY_SHARE = 0.001
"""The same for a ranking by energy. Common practice, no source."""


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


def recommendation(request: SelectionRequest, ranked: Ranking, verdicts: Sequence[Verdict] | None = None) -> Recommendation:
    """The best of the candidates, and how it fares when what is not known is otherwise.

    `verdicts` are the electrical ones of the candidates; left out, all are "ok".
    """
    passing, names, order, worth, best = ranked.passing, ranked.names, ranked.order, ranked.scores, ranked.best
    unit = "kWh" if not request.has_money else "currency"
    warning = _warning(request, float(worth[best]), "ok" if verdicts is None else verdicts[best])
    if len(order) == 1:
        return Recommendation(
            "decided", f"{names[best]}: the only candidate that passes.{warning}", passing[best].panel.name, passing[best].name,
            None, None, None, (), (),
        )  # fmt: skip
    scenarios = _scenarios(request, passing, best, worth)
    found = tuple(
        Scenario(name, names[then], max(float(values[then] - values[best]), 0.0) if then != best else 0.0)
        for (name, values), then in zip(
            scenarios.items(), ranked.firsts(np.array(list(scenarios.values()))).tolist(), strict=True
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


def _warning(request: SelectionRequest, score: float, verdict: Verdict) -> str:
    """What speaks against even the best: a loss, or a caution of its electrical checks."""
    found = ""
    if request.has_money and score < 0.0:
        found = f" Even so it loses {request.money(-score)} over the horizon: its net present value is negative."
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

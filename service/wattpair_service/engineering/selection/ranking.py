"""The order of the candidates of a roof."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.selection.evaluation import Evaluated, net_present_value_of
from wattpair_service.engineering.selection.request import SelectionRequest
from wattpair_service.engineering.sentences import Sentence, sentence

PAIRING = sentence("sheet.pairing", "unit", "module")
ROUNDING = 1e-11
"""Scores whose difference is below this share of the largest score are equal."""


@dataclass(frozen=True, slots=True, eq=False)
class Ranking:
    """The candidates that pass, on all modules, and their order.

    Attributes
    ----------
    passing : list of Evaluated
        In the order of the request, module by module.
    names : list of str or Sentence
        The microinverter's, followed by the module's where there are several modules.
    scores : array
        Net present value or, without prices, energy over the horizon [kWh].
    preferred : array of int
        Candidate indexes in the order that decides between equal scores: cheaper, then more energy, then first in the request.
    order : list of int
        Candidate indexes from the best to the last.
    """

    passing: list[Evaluated]
    names: list[str | Sentence]
    scores: FloatArray
    preferred: IntArray
    order: list[int]

    @property
    def best(self) -> int:
        """Index of the best candidate; there must be at least one candidate."""
        return self.order[0]

    @property
    def ranks(self) -> list[int]:
        """Rank of each candidate, from 1."""
        return [int(index) + 1 for index in np.argsort(self.order)]

    def best_by(self, scores: FloatArray) -> IntArray:
        """Index of the best candidate by other scores, whose last axis is that of the candidates."""
        return _best_index(self.preferred, scores)

    def leads(self, scores: FloatArray, one: IntArray, other: IntArray) -> FloatArray:
        """Score by which one candidate ranks before another in each row; negative where it ranks behind."""
        row, preference = np.arange(len(scores)), np.argsort(self.preferred)
        difference = scores[row, one] - scores[row, other]
        return np.asarray(difference + np.where(preference[one] < preference[other], 1.0, -1.0) * _rounding(scores))


def ranking(request: SelectionRequest, passing: list[Evaluated]) -> Ranking:
    """Rank the candidates that pass; the list may be empty."""
    has_money = request.has_money
    scores = np.array([net_present_value_of(request, pairing) if has_money else pairing.useful_kwh for pairing in passing])
    several = len(request.modules) > 1
    names = [PAIRING(unit=pairing.name, module=pairing.panel.name) if several else pairing.name for pairing in passing]
    preferred = np.lexsort(([-pairing.useful_kwh for pairing in passing], [pairing.units_cost for pairing in passing]))
    by_score = preferred[np.argsort(-scores[preferred], kind="stable")].tolist()
    best = [int(_best_index(preferred, scores))] if passing else []
    return Ranking(passing, names, scores, preferred, [*best, *(index for index in by_score if index not in best)])


def _best_index(preferred: IntArray, scores: FloatArray) -> IntArray:
    """Index of the highest score; among scores that differ only by rounding the preferred one."""
    equal = scores >= (scores.max(axis=-1) - _rounding(scores))[..., None]
    return np.asarray(preferred[np.argmax(equal[..., preferred], axis=-1)])


def _rounding(scores: FloatArray) -> FloatArray:
    return np.asarray(ROUNDING * np.maximum(1.0, np.abs(scores).max(axis=-1)))

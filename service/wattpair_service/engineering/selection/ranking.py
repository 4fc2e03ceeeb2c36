"""The order of the candidates of a roof."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.selection.evaluation import Evaluated, net_present_value_of
from wattpair_service.engineering.selection.request import OBSTACLES, SelectionRequest
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
    can_win : array of bool
        Whether a candidate's system can be built; where none can, whether its obstacle is the least of all.
    preferred : array of int
        Candidate indexes in the order that decides between equal scores: cheaper, then more energy, then first in the request.
    order : list of int
        Candidate indexes from the best to the last; those that cannot win come last.
    """

    passing: list[Evaluated]
    names: list[str | Sentence]
    scores: FloatArray
    can_win: BoolArray
    preferred: IntArray
    order: list[int]

    @property
    def best(self) -> int:
        """Index of the best candidate; there must be at least one candidate."""
        return self.order[0]

    @property
    def contenders(self) -> list[int]:
        """Indexes of the candidates that can win, from the best."""
        return [index for index in self.order if self.can_win[index]]

    @property
    def best_other_procedure(self) -> int | None:
        """Index of the best contender whose grid connection procedure is not that of the best; None without one."""
        first, *others = self.contenders
        procedures = [pairing.unit.system.connection_procedure for pairing in self.passing]
        return next((index for index in others if procedures[index] != procedures[first]), None)

    @property
    def ranks(self) -> list[int]:
        """Rank of each candidate, from 1."""
        return [int(index) + 1 for index in np.argsort(self.order)]

    def best_by(self, scores: FloatArray) -> IntArray:
        """Index of the best candidate by other scores, whose last axis is that of the candidates."""
        return _best_index(self.preferred, scores, self.can_win)

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
    preferred = np.lexsort(([-pairing.useful_kwh for pairing in passing], [pairing.own_cost for pairing in passing]))
    can_win = can_be_built(passing)
    by_score = preferred[np.lexsort((-scores[preferred], ~can_win[preferred]))].tolist()
    best = [int(_best_index(preferred, scores, can_win))] if passing else []
    return Ranking(passing, names, scores, can_win, preferred, [*best, *(index for index in by_score if index not in best)])


def can_be_built(passing: Sequence[Evaluated]) -> BoolArray:
    """Whether the system of each pairing can be built; where none can, whether its obstacle is the least of all."""
    obstacles = [pairing.unit.system.obstacle for pairing in passing]
    steps = [OBSTACLES.index(None if each is None else each.kind) for each in obstacles]
    return np.array([step == min(steps) for step in steps], dtype=np.bool_)


def _best_index(preferred: IntArray, scores: FloatArray, can_win: BoolArray) -> IntArray:
    """Index of the highest score; among scores that differ only by rounding the preferred one."""
    highest = np.where(can_win, scores, -np.inf).max(axis=-1)
    equal = can_win & (scores >= (highest - _rounding(scores))[..., None])
    return np.asarray(preferred[np.argmax(equal[..., preferred], axis=-1)])


def _rounding(scores: FloatArray) -> FloatArray:
    return np.asarray(ROUNDING * np.maximum(1.0, np.abs(scores).max(axis=-1)))

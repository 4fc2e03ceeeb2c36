"""Who comes first among the candidates of a roof."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.selection.evaluation import Evaluated, net_present_value_of
from wattpair_service.engineering.selection.request import SelectionRequest

ROUNDING = 1e-11
"""Difference of two scores over the largest of them that is rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class Ranking:
    """All candidates that pass, on all modules, and their places.

    Attributes
    ----------
    passing : list of Evaluated
        In the order of the request, module by module.
    names : list of str
        The microinverter's, with the module's where there are several.
    scores : array
        What is ranked by: net present value or, without money, energy over the horizon [kWh].
    preferred : array of int
        Indexes in the order in which equals come: the cheaper, then the one with more energy, then the one named first.
    order : list of int
        Indexes from the best.
    """

    passing: list[Evaluated]
    names: list[str]
    scores: FloatArray
    preferred: IntArray
    order: list[int]

    @property
    def best(self) -> int:
        """Index of the first; there must be one."""
        return self.order[0]

    @property
    def places(self) -> list[int]:
        """Place of each candidate, from 1."""
        return [int(index) + 1 for index in np.argsort(self.order)]

    def firsts(self, scores: FloatArray) -> IntArray:
        """Index of the best by other scores, whose last axis is that of the candidates."""
        return _firsts(self.preferred, scores)

    def leads(self, scores: FloatArray, one: IntArray, other: IntArray) -> FloatArray:
        """By how much one candidate comes before another in each row of scores, negative where it comes behind."""
        row, place = np.arange(len(scores)), np.argsort(self.preferred)
        apart = scores[row, one] - scores[row, other]
        return np.asarray(apart + np.where(place[one] < place[other], 1.0, -1.0) * _rounding(scores))


def ranking(request: SelectionRequest, passing: list[Evaluated]) -> Ranking:
    """Rank candidates; there may be none."""
    money = request.has_money
    scores = np.array([net_present_value_of(request, pairing) if money else pairing.useful_kwh for pairing in passing])
    several = len(request.modules) > 1
    names = [f"{pairing.name} on {pairing.panel.name}" if several else pairing.name for pairing in passing]
    preferred = np.lexsort(([-pairing.useful_kwh for pairing in passing], [pairing.units_cost for pairing in passing]))
    by_score = preferred[np.argsort(-scores[preferred], kind="stable")].tolist()
    best = [int(_firsts(preferred, scores))] if passing else []
    return Ranking(passing, names, scores, preferred, [*best, *(index for index in by_score if index not in best)])


def _firsts(preferred: IntArray, scores: FloatArray) -> IntArray:
    """Scores that differ by rounding alone are equal."""
    equal = scores >= (scores.max(axis=-1) - _rounding(scores))[..., None]
    return np.asarray(preferred[np.argmax(equal[..., preferred], axis=-1)])


def _rounding(scores: FloatArray) -> FloatArray:
    return np.asarray(ROUNDING * np.maximum(1.0, np.abs(scores).max(axis=-1)))

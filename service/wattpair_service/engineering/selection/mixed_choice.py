"""Two kinds of microinverter on one roof, where that is worth more than one kind on all faces.

A third kind is not considered: it would have to be stocked for a fraction of the saving. Each face is valued by itself, as in
the break-even; it bears its units' share of the balance of plant of a roof with one kind.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.selection.evaluation import Evaluated
from wattpair_service.engineering.selection.ranking import ROUNDING
from wattpair_service.engineering.sentences import Sentence, sentence

ONE_KIND = sentence("mixed.one_kind", "kind")
WORTHWHILE = sentence("mixed.worthwhile", "kinds", "saving", "cost")
TOO_DEAR = sentence("mixed.too_dear", "kinds", "saving", "cost")


@dataclass(frozen=True, slots=True)
class FaceChoice:
    """The microinverter for one face."""

    face: str
    microinverter: str


@dataclass(frozen=True, slots=True)
class MixedChoice:
    """The best choice of at most two kinds of microinverter on one module.

    `saving` is the present value gained over the best single kind; `worthwhile` says whether it exceeds `second_kind_cost`.
    """

    module: str
    choices: tuple[FaceChoice, ...]
    saving: float
    second_kind_cost: float
    worthwhile: bool
    sentence: Sentence


def mixed_choice(passing: list[Evaluated], face_names: tuple[str, ...], second_kind_cost: float) -> MixedChoice | None:
    """Best of all pairs of kinds on one module; None for one face or one kind."""
    if len(face_names) < 2 or len(passing) < 2:
        return None
    net_values = np.array([_net_value_by_face(pairing) for pairing in passing])
    best_single = float(net_values.sum(axis=1).max())
    best_of_pair = np.maximum(net_values[:, None, :], net_values[None, :, :]).sum(axis=2)
    first, second = (int(index) for index in np.unravel_index(int(best_of_pair.argmax()), best_of_pair.shape))
    saving = float(best_of_pair[first, second]) - best_single
    if saving <= ROUNDING * max(1.0, abs(best_single)):
        first = second = int(net_values.sum(axis=1).argmax())
        saving = 0.0
    chosen = [first if net_values[first, face] >= net_values[second, face] else second for face in range(len(face_names))]
    kinds = sorted({passing[index].name for index in chosen})
    worthwhile = len(kinds) > 1 and saving > second_kind_cost
    return MixedChoice(
        module=passing[0].panel.name,
        choices=tuple(FaceChoice(name, passing[index].name) for name, index in zip(face_names, chosen, strict=True)),
        saving=saving,
        second_kind_cost=second_kind_cost,
        worthwhile=worthwhile,
        sentence=_sentence(kinds, saving, second_kind_cost, worthwhile),
    )


def _net_value_by_face(pairing: Evaluated) -> FloatArray:
    assert pairing.cost is not None, "computed only where prices are known"
    return np.asarray(pairing.face_values - pairing.unit_counts * pairing.cost.total - pairing.plant_by_face)


def _sentence(kinds: list[str], saving: float, second_kind_cost: float, worthwhile: bool) -> Sentence:
    if len(kinds) == 1:
        return ONE_KIND(kind=kinds[0])
    return (WORTHWHILE if worthwhile else TOO_DEAR)(kinds=tuple(kinds), saving=saving, cost=second_kind_cost)

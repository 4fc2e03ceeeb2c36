"""A different microinverter for each face, where that is worth more than one for all.

At most two kinds are looked at: a third would have to be stocked for a fraction of the saving. Each face counts by itself, as
in the break-even.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.selection.evaluation import Evaluated
from wattpair_service.engineering.selection.ranking import ROUNDING


@dataclass(frozen=True, slots=True)
class FaceChoice:
    """The microinverter for one face."""

    face: str
    microinverter: str


@dataclass(frozen=True, slots=True)
class MixedChoice:
    """The best choice of at most two kinds of microinverter on one module.

    `saving` is over the best single kind, worth today, before `second_kind_cost`; `worthwhile` says whether something is left.
    """

    module: str
    choices: tuple[FaceChoice, ...]
    saving: float
    second_kind_cost: float
    worthwhile: bool
    sentence: str


def mixed_choice(passing: list[Evaluated], face_names: tuple[str, ...], second_kind_cost: float) -> MixedChoice | None:
    """Best of all pairs of kinds for the pairings of one module; None for one face or one kind."""
    if len(face_names) < 2 or len(passing) < 2:
        return None
    worth = np.array([_face_gains(pairing) for pairing in passing])
    single = float(worth.sum(axis=1).max())
    pairs = np.maximum(worth[:, None, :], worth[None, :, :]).sum(axis=2)
    first, second = (int(index) for index in np.unravel_index(int(pairs.argmax()), pairs.shape))
    saving = float(pairs[first, second]) - single
    if saving <= ROUNDING * max(1.0, abs(single)):
        first = second = int(worth.sum(axis=1).argmax())
        saving = 0.0
    chosen = [first if worth[first, face] >= worth[second, face] else second for face in range(len(face_names))]
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


def _face_gains(pairing: Evaluated) -> FloatArray:
    assert pairing.cost is not None, "asked for only where there is money"
    return np.asarray(pairing.face_values - pairing.unit_counts * pairing.cost.total)


def _sentence(kinds: list[str], saving: float, second_kind_cost: float, worthwhile: bool) -> str:
    if len(kinds) == 1:
        return f"One kind for all faces: {kinds[0]} is the best on each of them."
    both = " and ".join(kinds)
    if worthwhile:
        return (
            f"Mixing {both} is worth {saving:.2f} more today than one kind for all; stocking a second kind takes "
            f"{second_kind_cost:.2f} of it."
        )
    return f"Mixing {both} would be worth {saving:.2f} more today, not more than the {second_kind_cost:.2f} for a second kind."

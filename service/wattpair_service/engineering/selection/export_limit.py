"""Energy that the export limit cuts from each candidate, and the candidates that it makes needless."""

from __future__ import annotations

from dataclasses import dataclass

from wattpair_service.engineering.selection.evaluation import Evaluated
from wattpair_service.engineering.sentences import Sentence, sentence

NEEDLESS_SHARE = 0.001
"""Additional energy below which a larger candidate is needless under the limit. Common practice, no source."""

CUTS = sentence("export_limit.cuts", "limit_w", "kwh")
CUTS_NEEDLESS = sentence("export_limit.cuts_needless", "limit_w", "kwh", "names")


@dataclass(frozen=True, slots=True)
class CutEnergy:
    """Energy cut from one candidate [kWh]; `needless_beside` names the smaller candidate that serves as well."""

    module: str
    microinverter: str
    cut_first_year_kwh: float
    cut_lifetime_kwh: float
    needless_beside: str | None


@dataclass(frozen=True, slots=True)
class ExportLimit:
    """The limit [W], the energy that it cuts from each candidate, and a sentence."""

    export_limit_w: float
    candidates: tuple[CutEnergy, ...]
    sentence: Sentence


def export_limit(passing: list[Evaluated], limit_w: float | None) -> ExportLimit | None:
    """Effect of the export limit; None without one.

    A candidate is needless beside a smaller one that yields nearly as much under the limit, but would yield less without it,
    where its extra cost is not earned back.
    """
    if limit_w is None:
        return None
    candidates = []
    for pairing in passing:
        substitutes = [
            other
            for other in passing
            if other.unit.system.obstacle is None
            and other.panel is pairing.panel
            and _rated_w(other) < _rated_w(pairing)
            and _costs_more_than_it_gains(pairing, other)
            and other.useful_kwh >= (1.0 - NEEDLESS_SHARE) * pairing.useful_kwh
            and _unlimited_kwh(other) < (1.0 - NEEDLESS_SHARE) * _unlimited_kwh(pairing)
        ]
        smallest = min(substitutes, key=_rated_w, default=None)
        cut = pairing.energy.roof.cut_kwh
        substitute = None if smallest is None else smallest.name
        candidates.append(CutEnergy(pairing.panel.name, pairing.name, float(cut[0]), float(cut.sum()), substitute))
    needless = sorted({each.microinverter for each in candidates if each.needless_beside is not None})
    highest = max((each.cut_first_year_kwh for each in candidates), default=0.0)
    words = (
        CUTS_NEEDLESS(limit_w=limit_w, kwh=highest, names=tuple(needless)) if needless else CUTS(limit_w=limit_w, kwh=highest)
    )
    return ExportLimit(limit_w, tuple(candidates), words)


def _rated_w(pairing: Evaluated) -> float:
    return pairing.unit.microinverter.ac_power_w * pairing.unit_count


def _unlimited_kwh(pairing: Evaluated) -> float:
    """Energy over the horizon without the export limit."""
    return pairing.useful_kwh + float(pairing.energy.roof.cut_kwh.sum())


def _costs_more_than_it_gains(pairing: Evaluated, other: Evaluated) -> bool:
    """Whether its extra cost is at least its extra value; without prices a larger unit counts as costlier."""
    extra = pairing.own_cost - other.own_cost
    return pairing.cost is None or (extra > 0.0 and extra >= pairing.value - other.value)

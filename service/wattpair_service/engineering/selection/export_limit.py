"""What the connection cuts where it lets out less than the roof can give, and which candidates that makes needless."""

from __future__ import annotations

from dataclasses import dataclass

from wattpair_service.engineering.selection.evaluation import Evaluated

NEEDLESS_SHARE = 0.001
"""Energy that a dearer or larger candidate must bring more, to be of use behind the limit. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class CutEnergy:
    """One candidate behind the connection: first year and the whole horizon [kWh], and who makes it needless."""

    module: str
    microinverter: str
    cut_first_year_kwh: float
    cut_lifetime_kwh: float
    needless_beside: str | None


@dataclass(frozen=True, slots=True)
class ExportLimit:
    """The limit [W], what it cuts from each candidate, and a sentence."""

    export_limit_w: float
    candidates: tuple[CutEnergy, ...]
    sentence: str


def export_limit(passing: list[Evaluated], limit_w: float | None) -> ExportLimit | None:
    """None where the connection lets out all; a candidate is needless by it beside a smaller one.

    That one gives nearly as much behind the limit, would give less without it, and is not the dearer of the two.
    """
    if limit_w is None:
        return None
    found = []
    for pairing in passing:
        smaller = [
            other
            for other in passing
            if other.panel is pairing.panel
            and _rated_w(other) < _rated_w(pairing)
            and _dearer(pairing, other)
            and other.useful_kwh >= (1.0 - NEEDLESS_SHARE) * pairing.useful_kwh
            and _unlimited_kwh(other) < (1.0 - NEEDLESS_SHARE) * _unlimited_kwh(pairing)
        ]
        least = min(smaller, key=_rated_w, default=None)
        cut = pairing.energy.roof.cut_kwh
        found.append(
            CutEnergy(pairing.panel.name, pairing.name, float(cut[0]), float(cut.sum()), None if least is None else least.name)
        )
    needless = sorted({each.microinverter for each in found if each.needless_beside is not None})
    highest = max((each.cut_first_year_kwh for each in found), default=0.0)
    sentence = f"The connection's {limit_w:g} W cut up to {highest:.0f} kWh in the first year"
    sentence += f"; needless behind it: {', '.join(needless)}." if needless else "; no candidate becomes needless by it."
    return ExportLimit(limit_w, tuple(found), sentence)


def _rated_w(pairing: Evaluated) -> float:
    return pairing.unit.microinverter.ac_power_w * pairing.unit_count


def _unlimited_kwh(pairing: Evaluated) -> float:
    """Over the horizon as if the connection let out all."""
    return pairing.useful_kwh + float(pairing.energy.roof.cut_kwh.sum())


def _dearer(pairing: Evaluated, other: Evaluated) -> bool:
    """Whether it costs more and is worth no more; where there is no money a larger unit is taken for that."""
    extra = pairing.units_cost - other.units_cost
    return pairing.cost is None or (extra > 0.0 and extra >= pairing.value - other.value)

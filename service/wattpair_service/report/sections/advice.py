"""The recommendation, its reasons and how certain it is, in sentences made from the result of the selection."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from wattpair_service.engineering.design.design import Design
from wattpair_service.engineering.inverter.electrical_checks import ElectricalCheck, needs_site_record
from wattpair_service.engineering.materials.bill_lines import ROLE_NAMES
from wattpair_service.engineering.selection.candidates import Candidate
from wattpair_service.engineering.selection.recommendation import Recommendation
from wattpair_service.words.language import Language


@dataclass(frozen=True, slots=True)
class Advice:
    """A heading, the choice in one line, and the reasons."""

    heading: str
    choice: str | None
    why: tuple[str, ...]


def built_candidate(design: Design) -> Candidate | None:
    """The candidate that circuits and parts are for; None where nothing is built."""
    pairing = design.built.pairing
    if pairing is None:
        return None
    return next(
        each
        for each in design.selection.candidates
        if (each.module, each.microinverter) == (pairing.module, pairing.microinverter)
    )


def advice(design: Design, language: Language) -> Advice:
    """What is proposed: the pairing that circuits and order are for, never one that nothing is built of."""
    built = built_candidate(design)
    if built is None:
        return Advice(language.say("advice.heading_none"), None, (_why_nothing(design, language),))
    choice = language.say(
        "sheet.modules_and_units",
        module_count=language.number(design.request.module_count),
        module=built.module,
        unit_count=language.number(built.unit_count),
        unit=built.microinverter,
    )
    return Advice(language.say("advice.heading"), choice, tuple(_why(design, language, built)))


def _why_nothing(design: Design, language: Language) -> str:
    basis, module = design.built.basis, design.module.module.name
    if basis == "none_passes":
        return language.say("advice.none_passes")
    unit = design.built.wanted.microinverter
    if basis == "unsuited":
        return language.say("advice.unsuited", unit=unit or "")
    named = [each for each in design.selection.candidates if each.module == module and unit in (None, each.microinverter)]
    waits = any(needs_site_record(each.reasons) and each.verdict != "fail" for each in named)
    units = (unit,) if unit else tuple(each.microinverter for each in named if each.rank is None)
    return language.say("advice.named_waits" if waits else "advice.named_fails", unit=units, module=module)


def certainty(design: Design, language: Language) -> tuple[str, ...]:
    """How certain the recommendation is; empty where nothing passes."""
    found = design.selection.recommendation
    return () if found.standing in ("none_passes", "none_can_be_built") else tuple(_sure(design, language, found))


def _why(design: Design, language: Language, built: Candidate) -> Iterator[str]:
    """Why the built pairing: as the best, or as requested; and what keeps it from being built."""
    found = design.selection.recommendation
    if built.rank == 1:
        yield from _lead(design, language, found, built)
        yield from _connection(design, language, found, built)
    else:
        yield language.say("advice.named", best=found.microinverter or "")
    if built.money is not None and built.money.net_present_value < 0.0:
        yield language.say("advice.loss", value=language.whole_money(built.money.net_present_value, design.currency))
    if design.circuits is not None and design.circuits.verdict == "fail":
        yield language.say("advice.circuits_fail")


def _lead(design: Design, language: Language, found: Recommendation, best: Candidate) -> Iterator[str]:
    """By how much the first leads the next best; nothing of it where parts without a price differ between them."""
    years, second = language.counted("year", design.request.terms.horizon_years), found.runner_up
    if found.standing == "none_can_be_built":
        yield language.say("advice.none_can_be_built")
    elif second is None or found.margin is None:
        several = sum(each.rank is not None for each in design.selection.candidates) > 1
        yield language.say("advice.only_buildable" if several else "advice.only")
    elif best.money is not None and best.system.differing_roles:
        yield language.say("advice.unpriced_differ", roles=tuple(ROLE_NAMES[role] for role in best.system.differing_roles))
    elif found.margin_unit == "kWh":
        yield language.say("advice.energy", years=years, margin=language.number(found.margin), second=second)
    elif found.margin < 0.005:
        yield language.say("advice.equal", second=second)
    else:
        (margin,) = language.estimates([found.margin], design.currency)
        yield language.say("advice.money", years=years, margin=margin, second=second)


def _connection(design: Design, language: Language, found: Recommendation, best: Candidate) -> Iterator[str]:
    """How the grid connection of the first differs from that of the next best."""
    second = next((each for each in design.selection.candidates if each.rank == 2), None)
    if second is None or found.runner_up is None or second.system.needs_agreement == best.system.needs_agreement:
        return
    needs, key = (best, "agreement") if best.system.needs_agreement else (second, "no_agreement")
    yield language.say(f"advice.{key}", procedure=needs.system.connection_procedure or "", second=found.runner_up)


def _sure(design: Design, language: Language, found: Recommendation) -> Iterator[str]:
    if found.standing == "depends":
        decisive = max(found.scenarios, key=lambda scenario: scenario.regret)
        if decisive.regret > 0.0:
            money = found.margin_unit != "kWh"
            regret = (
                language.estimates([decisive.regret], design.currency)[0]
                if money
                else f"{language.number(decisive.regret)} kWh"
            )
            yield language.say("advice.depends", scenario=decisive.name, first=decisive.first, regret=regret)
    elif found.runner_up is not None:
        yield language.say(f"advice.{found.standing}")
    if found.runner_up is not None and design.selection.ranked_by != "energy":
        yield language.say("advice.together")
    if found.scenarios:
        yield language.say("advice.varied", names=tuple(each.name for each in found.scenarios))
    for mixed in design.selection.mixed_choices:
        if mixed.worthwhile and mixed.module == found.module:
            choices = ", ".join(f"{each.face}: {each.microinverter}" for each in mixed.choices)
            (saving,) = language.estimates([mixed.saving - mixed.second_kind_cost], design.currency)
            yield language.say("advice.mixed", choices=choices, saving=saving)


UNITS = {"1": "", "ratio": "", "modules": "", "degC": "°C"}
"""Units of checks that are written otherwise than in an answer."""


def figure_of_check(language: Language, value: float, unit: str) -> str:
    """A figure of a check with its unit."""
    if unit == "share":
        return language.percent(value, 2)
    return f"{language.general(round(value, 2))} {UNITS.get(unit, unit)}".rstrip()


def checks_in_words(language: Language, checks: tuple[ElectricalCheck, ...]) -> str:
    """Names of checks, in one text."""
    return ", ".join(dict.fromkeys(language.say(f"check.{check.name}") for check in checks))

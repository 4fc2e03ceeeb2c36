"""The main figures at the top of the sheet, each with its expected range."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from wattpair_service.engineering.design.design import Design
from wattpair_service.engineering.results import Range
from wattpair_service.engineering.selection.candidate_money import CandidateMoney
from wattpair_service.engineering.selection.candidates import CandidateEnergy
from wattpair_service.engineering.selection.request import NO_SYSTEM
from wattpair_service.report.charts.range_mark import range_mark
from wattpair_service.report.sections.advice import built_candidate
from wattpair_service.words.language import Language


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure with its name, a note, and a mark of its range where it has one."""

    name: str
    value: str
    note: str
    mark: Markup | None = None


def figures(design: Design, language: Language, accent: str) -> tuple[Figure, ...]:
    """The main figures of the built pairing; empty where nothing is built."""
    return tuple(_figures(design, language, accent))


def clipped_range(design: Design, unit: str) -> Range | None:
    """Clipped share of a candidate on the whole roof with the built module; None where it was not computed."""
    totals = () if design.clipping is None else design.clipping.totals
    return next((total.clipped_share for total in totals if total.microinverter == unit), None)


def _figures(design: Design, language: Language, accent: str) -> Iterator[Figure]:
    built = built_candidate(design)
    if built is None or built.energy is None:
        return
    energy = _of_use(built.energy)
    ends = language.say("figure.energy_range", low=language.number(energy.low), high=language.number(energy.high))
    value = f"{language.number(energy.value)} kWh"
    yield Figure(language.say("figure.energy"), value, ends, range_mark(energy, accent, ends))
    note = language.say("figure.own_use_note", exported=language.number(built.energy.exported_kwh))
    if built.energy.self_sufficiency_share is not None:
        note = language.say("figure.own_share", share=language.percent(built.energy.self_sufficiency_share)) + "; " + note
    export_limit = design.selection.export_limit
    if export_limit is not None:
        cut, limit = language.number(built.energy.cut_kwh), language.number(export_limit.export_limit_w)
        note += "; " + language.say("figure.cut_note", cut=cut, limit=limit)
    yield Figure(language.say("figure.own_use"), f"{language.number(built.energy.used_at_home_kwh)} kWh", note)
    if built.money is not None:
        yield from _money_figures(design, language, built.money, energy, accent)


def _of_use(energy: CandidateEnergy) -> Range:
    """Energy of a year that is used or exported: without what the export limit cuts."""
    found = energy.at_meter_range_kwh
    kept = 1.0 - energy.cut_kwh / found.value if found.value > 0.0 else 1.0
    return Range(found.value * kept, found.low * kept, found.high * kept, found.covers)


def _money_figures(design: Design, language: Language, money: CandidateMoney, energy: Range, accent: str) -> Iterator[Figure]:
    """What it saves and costs. A price or value that lacks a part's price is left out: it would look too good."""
    saved = money.energy_value_first_year
    ends_of = (1.0, energy.low / energy.value, energy.high / energy.value) if energy.value > 0.0 else (1.0, 1.0, 1.0)
    value, low, high = language.estimates([saved * share for share in ends_of], design.currency)
    yield Figure(language.say("figure.saved"), value, language.say("figure.saved_note", low=low, high=high))
    prices = design.bill_of_materials and design.bill_of_materials.prices
    if prices and prices.complete:
        net, tax = (language.money(each, prices.currency) for each in (prices.net, prices.tax))
        total = language.money(prices.total, prices.currency)
        yield Figure(language.say("figure.total"), total, language.say("figure.total_note", net=net, tax=tax))
    system = money.whole_system
    if system.missing:
        return
    years = language.counted("year", design.request.terms.horizon_years)
    payback, name = system.simple_payback_years, language.say("figure.payback")
    if payback is None or money.net_present_value < 0.0:
        yield Figure(name, language.say("figure.payback_never", years=language.number(design.request.terms.horizon_years)), "")
    else:
        note = language.say("figure.payback_note", price=language.whole_money(system.price_today or 0.0, design.currency))
        note += _without_tax(design, language)
        yield Figure(name, language.say("figure.payback_years", years=language.number(payback, 1)), note)
    value_range = money.net_present_value_range
    value, low, high, cost = language.estimates(
        (value_range.value, value_range.low, value_range.high, money.lifetime_cost), design.currency
    )
    note = language.say("figure.value_note", low=low, high=high, cost=cost, counted=_counted(design, language))
    note += _without_tax(design, language)
    yield Figure(language.say("figure.value", years=years), value, note, range_mark(value_range, accent, note))


def _without_tax(design: Design, language: Language) -> str:
    """That a payback or a value leaves out the tax on the bill, so that it does not look better than it is."""
    prices = design.bill_of_materials and design.bill_of_materials.prices
    return f"; {language.say('figure.without_tax')}" if prices and prices.tax_percent else ""


def _counted(design: Design, language: Language) -> str:
    """The costs that the value includes: not the whole price of the offer."""
    terms, built = design.request.terms, built_candidate(design)
    system = NO_SYSTEM if built is None else built.system
    included = {
        "modules": design.module.price is not None,
        "units": True,
        "maintenance": terms.maintenance_per_year > 0.0,
        "plant": bool(system.balance_of_plant),
        "connection": bool(system.connection_cost),
        "other": bool(terms.other_cost),
    }
    return ", ".join(language.say(f"counted.{name}") for name, is_included in included.items() if is_included)

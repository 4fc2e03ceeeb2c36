"""The customer's page: what is proposed, what it yields, saves and costs, what happens next, and what to keep in mind."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import get_args

from wattpair_service.engineering.circuits.grid_connection import FilingStage
from wattpair_service.engineering.design.design import Design
from wattpair_service.report.sections.advice import Advice, advice
from wattpair_service.report.sections.drawing import Drawing
from wattpair_service.report.sections.figures import Figure, figures
from wattpair_service.report.sections.instead import CustomerComparison, for_the_customer
from wattpair_service.report.sections.tables import planned_documents, sums
from wattpair_service.words.language import Language

CAUTIONS_MOST = 3
"""Most cautions on the page: a customer reads these, and skips a list."""


@dataclass(frozen=True, slots=True)
class CustomerPage:
    """All texts of the page, in its order."""

    advice: Advice
    faces: str
    figures: tuple[Figure, ...]
    costs: tuple[tuple[str, str], ...]
    cost_notes: tuple[str, ...]
    steps: tuple[str, ...]
    cautions: tuple[str, ...]
    drawings: tuple[Drawing, ...]
    comparison: CustomerComparison | None


def customer_page(design: Design, language: Language, accent: str, drawings: tuple[Drawing, ...]) -> CustomerPage:
    """The page of a design; without a pairing that can be built it says why.

    Beside a comparison the costs are their total alone, for one page has no room for all: the figures have its parts.
    """
    comparison = for_the_customer(design, language)
    costs = sums(design, language) if _is_priced(design) else ()
    return CustomerPage(
        advice=advice(design, language),
        faces=_faces(design, language),
        figures=figures(design, language, accent),
        costs=costs if comparison is None else costs[-1:],
        cost_notes=tuple(_cost_notes(design, language)),
        steps=tuple(_steps(design, language)),
        cautions=() if design.unit is None else _cautions(design, language),
        drawings=drawings,
        comparison=comparison,
    )


def _faces(design: Design, language: Language) -> str:
    """The size of the system, and the modules of each face."""
    modules, power_w = design.request.module_count, design.module.module.power_w
    faces = tuple(
        language.say("customer.face", modules=language.counted("module", each.face.module_count), face=each.face.name)
        for each in design.faces
    )
    return language.say(
        "customer.size",
        modules=language.counted("module", modules),
        power=language.general(power_w),
        peak=language.number(modules * power_w / 1000.0, 2),
        faces=faces,
    )


def _is_priced(design: Design) -> bool:
    """Whether every part has its price: a sum without some would look like an offer."""
    bill = design.bill_of_materials
    return bill is not None and bill.prices is not None and bill.prices.complete


def _cost_notes(design: Design, language: Language) -> Iterator[str]:
    bill, other = design.bill_of_materials, design.request.terms.other_cost
    if bill is None:
        return
    if bill.prices is None:
        yield language.say("customer.no_price")
    elif not bill.prices.complete:
        missing = len(bill.prices.missing)
        yield language.say("customer.open_price_one" if missing == 1 else "customer.open_price_other", count=missing)
    if other:
        yield language.say("customer.other_cost", cost=language.money(other, design.currency))
    elif other is None and bill.prices is not None:
        yield language.say("customer.no_work")


def _cautions(design: Design, language: Language) -> tuple[str, ...]:
    return tuple(language.write(each.text) for each in design.cautions if each.reader == "customer")[:CAUTIONS_MOST]


def _steps(design: Design, language: Language) -> Iterator[str]:
    """What happens after the customer agrees."""
    planned = design.circuits
    if planned is None:
        return
    yield language.say("customer.step_site")
    filings = planned.connection.filings
    before, after = (
        tuple(dict.fromkeys(each.document for each in filings if each.stage == stage)) for stage in get_args(FilingStage)
    )
    if before:
        yield language.say("customer.step_before", documents=before)
    yield language.say("customer.step_build")
    if after:
        yield language.say("customer.step_after", documents=after)
    papers = tuple(each for each in planned_documents(design) if each not in (*before, *after))
    if papers:
        yield language.say("customer.step_papers", documents=papers)

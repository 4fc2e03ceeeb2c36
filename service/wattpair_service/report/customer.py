"""The customer's page: what is proposed, what it yields, saves and costs, what happens next, and what to keep in mind."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from wattpair_service.engineering.design.design import Design
from wattpair_service.report.advice import Advice, advice
from wattpair_service.report.figures import Figure, figures
from wattpair_service.report.tables import documents, sums
from wattpair_service.words.language import Language

CAUTIONS_MOST, REASONS_MOST = 3, 3
"""Most cautions and reasons on the page: a customer reads these, and skips a list."""


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


def customer_page(design: Design, language: Language, accent: str) -> CustomerPage:
    """The page of a design; without a pairing that can be built it says why."""
    found = advice(design, language)
    return CustomerPage(
        advice=found,
        faces="; ".join(_faces(design, language)),
        figures=figures(design, language, accent),
        costs=sums(design, language),
        cost_notes=tuple(_cost_notes(design, language)),
        steps=tuple(_steps(design, language)),
        cautions=tuple(language.write(each.text) for each in design.cautions if each.reader == "customer")[:CAUTIONS_MOST],
    )


def _faces(design: Design, language: Language) -> Iterator[str]:
    for each in design.faces:
        yield language.say(
            "customer.face", modules=language.counted("module", each.face.module_count), face=each.face.name
        )


def _cost_notes(design: Design, language: Language) -> Iterator[str]:
    bill = design.bill_of_materials
    if bill is None:
        return
    if bill.prices is None:
        yield language.say("customer.no_price")
    elif not bill.prices.complete:
        yield language.say("customer.open_price", parts=language.counted("part", len(bill.prices.missing)))
    other = design.request.terms.other_cost
    if other > 0.0:
        yield language.say("customer.other_cost", cost=language.money(other, design.currency))


def _steps(design: Design, language: Language) -> Iterator[str]:
    """What happens after the customer agrees."""
    planned = design.circuits
    if planned is None:
        return
    yield language.say("customer.step_site")
    for filing in planned.connection.filings:
        document, when = language.write(filing.document), language.write(filing.when)
        yield language.say("circuits.when", document=document, when=when)
    yield language.say("customer.step_build")
    papers = [each for each in documents(design, language, filings=False)]
    if papers:
        yield language.say("customer.step_papers", documents="; ".join(papers))

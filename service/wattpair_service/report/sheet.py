"""The sheet: a design as one self-contained HTML file, a page for the customer and pages for the installer."""

from __future__ import annotations

import re
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined

from wattpair_service.engineering.design.design import Design
from wattpair_service.engineering.sentences import LANGUAGES
from wattpair_service.report import colour
from wattpair_service.report.house import PAPERS, House, SheetOptions
from wattpair_service.report.markup import shown
from wattpair_service.report.sections.customer import customer_page
from wattpair_service.report.sections.drawings import drawings
from wattpair_service.report.sections.installer import installer_pages
from wattpair_service.report.sections.instead import for_the_installer
from wattpair_service.words.language import language

CONTENT_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
"""What a browser may load: the sheet's own styles and images, and no scripts."""


def sheet(design: Design, request_options: SheetOptions, house: House) -> str:
    """The sheet of a design: the customer's page, and the installer's pages.

    Parameters
    ----------
    design : Design
        The result to show.
    request_options : SheetOptions
        Options of the request; they override the operator's.
    house : House
        The operator's default options and words.
    """
    options = request_options.over(house.options)
    code, paper = options.language or next(iter(LANGUAGES)), options.paper or PAPERS[0]
    lang = language(code, str(design.selection.place)).with_words(house.words.get(code, {})).on_paper(paper)
    accent = options.accent or colour.OWN
    drawn = drawings(design, lang, accent)
    customer = customer_page(design, lang, accent, drawn.customer)
    return (
        _environment()
        .get_template("sheet.html")
        .render(
            t=lang.say,
            policy=CONTENT_POLICY,
            language=code,
            accent=accent,
            paper=paper,
            options=options,
            day=None if options.date is None else lang.day(options.date),
            notes=_without_repeated_blank_lines(options.notes),
            customer=customer if "customer" in options.shown_parts else None,
            installer=installer_pages(design, lang, drawn, for_the_installer(design, lang, accent))
            if "installer" in options.shown_parts
            else None,
        )
    )


@cache
def _environment() -> Environment:
    """Templates in which every expression is escaped as plain text."""
    return Environment(
        loader=PackageLoader("wattpair_service.report"),
        autoescape=True,
        finalize=shown,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _without_repeated_blank_lines(notes: str | None) -> str | None:
    """Notes with at most one empty line between two lines."""
    return notes and re.sub(r"\n(?:[^\S\n]*\n){2,}", "\n\n", notes.strip())

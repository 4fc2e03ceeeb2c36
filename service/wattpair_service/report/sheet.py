"""The customer's sheet: a design as one self-contained HTML file."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined

from wattpair_service.engineering.design.design import Design
from wattpair_service.engineering.sentences import LANGUAGES
from wattpair_service.report import colour, tables
from wattpair_service.report.advice import advice, built_candidate
from wattpair_service.report.drawings import drawings
from wattpair_service.report.figures import figures
from wattpair_service.report.house import PAPERS, House, SheetOptions
from wattpair_service.report.markup import shown
from wattpair_service.words.language import Language, language

CONTENT_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
"""What a browser may load: the sheet's own styles and images, and no scripts."""


def sheet(design: Design, request_options: SheetOptions, house: House) -> str:
    """The sheet of a design.

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
    code = options.language or next(iter(LANGUAGES))
    lang = language(code, str(design.selection.place)).with_words(house.words.get(code, {}))
    accent = options.accent or colour.OWN
    return _environment().get_template("sheet.html").render(
        t=lang.say,
        policy=CONTENT_POLICY,
        language=code,
        accent=accent,
        paper=options.paper or PAPERS[0],
        options=options,
        notes=_without_repeated_blank_lines(options.notes),
        shared=tables.shared_cautions(design, lang),
        cut=lang.write(design.selection.export_limit.sentence) if design.selection.export_limit else None,
        given=tables.request_figures(design, lang),
        day=None if options.date is None else lang.day(options.date),
        place=_place(design, lang),
        advice=advice(design, lang),
        figures=figures(design, lang, accent),
        drawings=drawings(design, lang, accent),
        candidates=tables.candidates(design, lang),
        faces=tuple(tables.faces(design, lang)),
        parts=tables.parts(design, lang),
        sums=tables.sums(design, lang),
        documents=tables.documents(design, lang),
        assumptions=tables.assumptions(design, lang),
        cautions=tuple(lang.write(each.text) for each in design.cautions if each.reader != "seller"),
        methods=tuple((lang.write(each.name), each.version, lang.write(each.source)) for each in design.method),
        connection=_connection(design, lang),
        covers=tuple(_covers(design, lang)),
        weather=_weather(design, lang),
    )  # fmt: skip


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


def _place(design: Design, lang: Language) -> str:
    height = design.climate.climate.elevation_m
    key = "sheet.place" if height >= 0.0 else "sheet.place_below"
    return lang.say(
        key, place=coordinates(lang, design.site.latitude_deg, design.site.longitude_deg), height=lang.number(abs(height))
    )


def coordinates(lang: Language, latitude_deg: float, longitude_deg: float) -> str:
    """A location in degrees with points of the compass."""
    parts = ((latitude_deg, "sheet.north", "sheet.south"), (longitude_deg, "sheet.east", "sheet.west"))
    return ", ".join(f"{lang.general(abs(deg))}° {lang.say(less if deg < 0.0 else more)}" for deg, more, less in parts)


def _without_repeated_blank_lines(notes: str | None) -> str | None:
    """Notes with at most one empty line between two lines."""
    return notes and re.sub(r"\n(?:[^\S\n]*\n){2,}", "\n\n", notes.strip())


def _weather(design: Design, lang: Language) -> tuple[str, ...]:
    temperatures = design.climate.design_temperatures
    low, high = lang.number(temperatures.lowest_c), lang.number(temperatures.highest_c)
    return (
        lang.say("assumption.climate", source=lang.write(design.climate.climate.source)),
        lang.say("assumption.design_temperatures", lowest=low, highest=high),
    )


def _connection(design: Design, lang: Language) -> tuple[str, ...]:
    """Sentences on the grid connection procedure and the voltage rise."""
    planned = design.circuits
    if planned is None:
        return ()
    connection = planned.connection
    highest = lang.percent(planned.rise_highest_share, 2)
    limit = planned.rise_limit_share
    rise = (
        lang.say("circuits.limit_open", highest=highest)
        if limit is None
        else lang.say("circuits.limit_known", highest=highest, limit=lang.percent(limit, 1))
    )
    procedure = lang.say(
        "circuits.route",
        route=connection.route,
        place=connection.place,
        allows=connection.allows,
    )
    return procedure, rise


def _covers(design: Design, lang: Language) -> Iterator[str]:
    """Sentences on what the ranges of energy, clipping and value cover."""
    if design.clipping is not None:
        roof = design.clipping.totals[0]
        energy, clipping = (lang.write(each.covers) for each in (roof.delivered_range_kwh, roof.clipped_share))
        yield lang.say("methods.made_by", energy=f"{energy}.", clipping=f"{clipping}.")
    built = built_candidate(design)
    if built is not None and built.money is not None:
        yield lang.say("methods.value", covers=built.money.net_present_value_range.covers)

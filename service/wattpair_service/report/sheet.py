"""The sheet: a design as one HTML file that needs nothing beside itself."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined

from wattpair_service.engineering.design.design import Design
from wattpair_service.report import colour, tables
from wattpair_service.report.advice import advice, built_candidate
from wattpair_service.report.drawings import drawings
from wattpair_service.report.figures import figures
from wattpair_service.report.house import PAPERS, House, Wishes
from wattpair_service.report.language import LANGUAGES, Language, language
from wattpair_service.report.markup import shown

CONTENT_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
"""What a browser may load of the sheet: its own styles and images. No script, from anywhere."""


def sheet(design: Design, wishes: Wishes, house: House) -> str:
    """The sheet of a design.

    Parameters
    ----------
    design : Design
        What is told.
    wishes : Wishes
        What the request asks of the sheet; it goes before the operator's.
    house : House
        The operator's defaults and words.
    """
    asked = wishes.over(house.wishes)
    code = asked.language or next(iter(LANGUAGES))
    said = language(code, design.selection.place).with_words(house.words.get(code, {}))
    accent = asked.accent or colour.OWN
    return _environment().get_template("sheet.html").render(
        t=said.say,
        engine=said.engine,
        policy=CONTENT_POLICY,
        language=code,
        accent=accent,
        paper=asked.paper or PAPERS[0],
        wishes=asked,
        notes=_folded(asked.notes),
        shared=tables.shared_cautions(design, said),
        cut=said.engine(design.selection.export_limit.sentence) if design.selection.export_limit else None,
        given=tables.given(design, said),
        day=None if asked.date is None else said.day(asked.date),
        place=_place(design, said),
        advice=advice(design, said),
        figures=figures(design, said, accent),
        drawings=drawings(design, said, accent),
        candidates=tables.candidates(design, said),
        faces=tuple(tables.faces(design, said)),
        parts=tables.parts(design, said),
        sums=tables.sums(design, said),
        papers=tables.papers(design, said),
        assumptions=tables.assumptions(design, said),
        # What the seller alone has to settle has no words: it would show prices that are not the customer's.
        cautions=tuple(words for each in design.cautions if (words := said.engine(each))),
        methods=tuple((said.engine(each.name), each.version, said.engine(each.source)) for each in design.method),
        connection=_connection(design, said),
        covers=tuple(_covers(design, said)),
        weather=_weather(design, said),
    )  # fmt: skip


@cache
def _environment() -> Environment:
    """Templates whose every expression is plain text, escaped."""
    return Environment(
        loader=PackageLoader("wattpair_service.report"),
        autoescape=True,
        finalize=shown,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _place(design: Design, said: Language) -> str:
    height = design.climate.climate.elevation_m
    key = "sheet.place" if height >= 0.0 else "sheet.place_below"
    return said.say(
        key, place=coordinates(said, design.site.latitude_deg, design.site.longitude_deg), height=said.number(abs(height))
    )


def coordinates(said: Language, latitude_deg: float, longitude_deg: float) -> str:
    """A place with its points of the compass."""
    parts = ((latitude_deg, "sheet.north", "sheet.south"), (longitude_deg, "sheet.east", "sheet.west"))
    return ", ".join(f"{said.general(abs(deg))}° {said.say(less if deg < 0.0 else more)}" for deg, more, less in parts)


def _folded(notes: str | None) -> str | None:
    """Notes in which empty lines stand one by one."""
    return notes and re.sub(r"\n(?:[^\S\n]*\n){2,}", "\n\n", notes.strip())


def _weather(design: Design, said: Language) -> tuple[str, ...]:
    temperatures = design.climate.design_temperatures
    low, high = said.number(temperatures.lowest_c), said.number(temperatures.highest_c)
    return (
        said.say("assumption.climate", source=said.engine(design.climate.climate.source)),
        said.say("assumption.design_temperatures", lowest=low, highest=high),
    )


def _connection(design: Design, said: Language) -> tuple[str, ...]:
    """The route and the voltage rise, in sentences."""
    made = design.circuits
    if made is None:
        return ()
    route = made.connection
    highest = said.percent(made.rise_highest_share, 2)
    limit = made.rise_limit_share
    rise = (
        said.say("circuits.limit_open", highest=highest)
        if limit is None
        else said.say("circuits.limit_known", highest=highest, limit=said.percent(limit, 1))
    )
    way = said.say(
        "circuits.route", route=said.engine(route.route), place=said.engine(route.place), allows=said.engine(route.allows)
    )
    return way, rise


def _covers(design: Design, said: Language) -> Iterator[str]:
    """What the ranges of energy, clipping and value hold."""
    if design.clipping is not None:
        whole = design.clipping.totals[0]
        energy, clipping = (said.engine(each.covers) for each in (whole.delivered_range_kwh, whole.clipped_share))
        yield said.say("methods.made_by", energy=f"{energy}.", clipping=f"{clipping}.")
    built = built_candidate(design)
    if built is not None and built.money is not None:
        yield said.say("methods.value", covers=said.engine(built.money.net_present_value_range.covers))

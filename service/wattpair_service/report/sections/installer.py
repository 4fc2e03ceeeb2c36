"""The installer's pages: what fails, checks with figures and clauses, the AC side, the order, cautions by task, assumptions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import get_args

from wattpair_service.engineering.cautions import Task
from wattpair_service.engineering.circuits.cable_checks import CABLES
from wattpair_service.engineering.circuits.circuits import CircuitsResult
from wattpair_service.engineering.circuits.devices import DeviceRole
from wattpair_service.engineering.circuits.grid_connection import CHECKS as CONNECTION_CHECKS, ConnectionCheck
from wattpair_service.engineering.design.design import Design
from wattpair_service.engineering.inverter.electrical_checks import CHECKS, ElectricalCheck
from wattpair_service.engineering.sentences import family
from wattpair_service.report.sections import tables
from wattpair_service.report.sections.advice import built_candidate, certainty, figure_of_check
from wattpair_service.report.sections.drawings import Drawings
from wattpair_service.report.sections.instead import CAUTIONS, StringInverters
from wattpair_service.report.table import Row, Table
from wattpair_service.words.language import Language


@dataclass(frozen=True, slots=True)
class InstallerPages:
    """All tables, texts and charts of the pages, in their order."""

    place: str
    failing: tuple[str, ...]
    checks: Table | None
    check_notes: tuple[str, ...]
    check_sources: tuple[str, ...]
    certainty: tuple[str, ...]
    candidates: Table
    candidate_notes: tuple[str, ...]
    string_inverters: StringInverters | None
    faces: Table
    ac_side: tuple[Table, ...]
    connection: tuple[str, ...]
    documents: tuple[str, ...]
    parts: Table | None
    cautions: tuple[tuple[str, tuple[str, ...]], ...]
    weather: tuple[str, ...]
    given: str
    assumptions: tuple[tuple[str, str], ...]
    covers: tuple[str, ...]
    methods: tuple[tuple[str, str, str], ...]
    drawings: Drawings


def installer_pages(
    design: Design, language: Language, drawings: Drawings, string_inverters: StringInverters | None
) -> InstallerPages:
    """The pages of a design; without a pairing that can be built they say what would have to change."""
    planned, limit = design.circuits, design.selection.export_limit
    shared = tables.shared_cautions(design, language)
    table, sources = checks(design, language)
    return InstallerPages(
        place=_place(design, language),
        failing=tuple(failing(design, language)),
        checks=table if sources else None,
        check_notes=tuple(open_checks(design, language)),
        check_sources=sources,
        certainty=certainty(design, language),
        candidates=tables.candidates(design, language),
        candidate_notes=(*((shared,) if shared else ()), *((language.write(limit.sentence),) if limit else ())),
        string_inverters=string_inverters,
        faces=tables.faces(design, language),
        ac_side=() if planned is None else tuple(each(planned, language) for each in (circuits, cables, devices)),
        connection=tuple(_connection(design, language)),
        documents=tables.documents(design, language),
        parts=tables.parts(design, language),
        cautions=cautions(design, language),
        weather=_weather(design, language),
        given=tables.request_figures(design, language),
        assumptions=tables.assumptions(design, language),
        covers=tuple(_covers(design, language)),
        methods=tuple((language.write(each.name), each.version, language.write(each.source)) for each in design.method),
        drawings=drawings,
    )


def failing(design: Design, language: Language) -> Iterator[str]:
    """What keeps the design from being built: each check with its figure, its limit and a way out."""
    for each in _electrical(design):
        if each.verdict == "fail" and each.limit is not None:
            name, way_out = (
                language.write(CHECKS[each.name]),
                f"{language.write(each.explanation)} {_way_out(language, each.name)}",
            )
            yield _failing(language, name, (each.value, each.limit, each.unit), way_out.strip())
    planned = design.circuits
    for check in () if planned is None else planned.connection.checks:
        if check.verdict == "fail" and check.limit is not None:
            figures = (check.value, check.limit, check.unit)
            yield _failing(language, language.write(CONNECTION_CHECKS[check.name]), figures, language.write(check.explanation))
    for cable in () if planned is None else planned.cables:
        if cable.meets is False:
            yield f"{language.write(CABLES[cable.cable])}: {language.write(cable.explanation)}"
    if design.built.basis == "none_passes":
        for change in design.selection.what_would_have_to_change:
            name = language.say("installer.of_pairing", unit=change.microinverter, check=CHECKS[change.check])
            yield _failing(language, name, (change.value, change.limit, change.unit), _way_out(language, change.check))
    if design.built.basis == "unsuited":
        units = (each for each in design.request.units if each.microinverter.name == design.built.wanted.microinverter)
        yield from (language.write(each.system.obstacle.reason) for each in units if each.system.obstacle is not None)


def _way_out(language: Language, check: str) -> str:
    return language.write(WAYS_OUT[check]) if check in WAYS_OUT else ""


WAYS_OUT = family(
    "check_way_out",
    (
        *("open_circuit_voltage_cold", "site_record_low", "short_circuit_current", "module_series_fuse", "modules_per_input"),
        "start_voltage_hot",
    ),
)
"""What to change where a check fails."""


def _failing(language: Language, name: str, figures: tuple[float, float, str], way_out: str) -> str:
    value, limit, unit = figures
    words = {"value": figure_of_check(language, value, unit), "limit": figure_of_check(language, limit, unit)}
    return language.say("installer.failing", name=name, way_out=way_out, **words)


def checks(design: Design, language: Language) -> tuple[Table, tuple[str, ...]]:
    """The checks of the built pairing and of the grid connection, and their sources by number."""
    sources: dict[str, int] = {}
    rows = []
    for each in _electrical(design):
        name = language.say(f"check.{each.name}") + (f", {each.face}" if each.face else "")
        number = sources.setdefault(language.write(each.source), len(sources) + 1)
        rows.append(_check_row(language, name, (each.value, each.limit, each.unit), each.verdict, number))
    for check in () if design.circuits is None else design.circuits.connection.checks:
        number = sources.setdefault(language.write(check.source), len(sources) + 1)
        figures = (check.value, check.limit, check.unit)
        rows.append(_check_row(language, language.write(CONNECTION_CHECKS[check.name]), figures, _verdict(check), number))
    numeric = ("value", "limit", "source")
    heads = ((language.say(f"checks.{key}"), key in numeric) for key in ("check", "value", "limit", "verdict", "source"))
    return Table.of(language.say("checks.caption"), heads, rows), tuple(f"{number}: {each}" for each, number in sources.items())


MEETS = {None: "open", True: "ok", False: "fail"}
family("choice", MEETS.values())
family("device_role", get_args(DeviceRole))
family("task", get_args(Task))


def _verdict(check: ConnectionCheck) -> str:
    """What the table says of a check; a value above a limit of common practice is a caution."""
    return MEETS[check.meets] if check.meets is not False else check.verdict


def open_checks(design: Design, language: Language) -> Iterator[str]:
    """What to do about checks of the circuits with a caution; and a voltage rise that changes with a replaced cable."""
    planned = design.circuits
    if planned is None:
        return
    for check in planned.connection.checks:
        is_replaced = check.name == "voltage rise" and any(rise.total_share_as_given is not None for rise in planned.rises)
        if check.verdict == "caution" or (is_replaced and check.verdict == "ok"):
            name = language.write(CONNECTION_CHECKS[check.name])
            yield language.say("installer.note", name=name, text=check.explanation)
    for cable in planned.cables:
        if cable.meets is None:
            yield language.say("installer.note", name=CABLES[cable.cable], text=cable.explanation)


def _check_row(language: Language, name: str, figures: tuple[float, float | None, str], verdict: str, source: int) -> Row:
    value, limit, unit = figures
    limit_text = "–" if limit is None else figure_of_check(language, limit, unit)
    cells = (name, figure_of_check(language, value, unit), limit_text, language.say(f"choice.{verdict}"), str(source))
    return Row(cells, "failing" if verdict == "fail" else "")


def _electrical(design: Design) -> tuple[ElectricalCheck, ...]:
    """The electrical checks of the built pairing, or of the one that was asked for and is not built."""
    built, wanted = design.built.pairing, design.built.wanted
    module = design.module.module.name if built is None else built.module
    unit = wanted.microinverter if built is None else built.microinverter
    pairings = (each for result in design.sizing if result.module == module for each in result.pairings)
    return next((each.checks for each in pairings if each.microinverter == unit), ())


def circuits(planned: CircuitsResult, language: Language) -> Table:
    """The branch circuits."""
    columns = (("circuit", False), ("units", False), ("phase", False), ("current", True), ("breaker", True), ("rise", True))
    heads = tuple((language.say(f"circuit_table.{key}"), is_numeric) for key, is_numeric in columns)
    rows = (
        Row((
            language.say("circuits.name", number=number),
            ", ".join(f"{part.unit_count} × {part.name}" for part in each.units_by_face),
            each.line_conductors,
            f"{language.number(each.current_a, 1)} A",
            f"{language.general(each.device_rating_a)} A",
            language.percent(rise.total_share, 2),
        ))
        for number, (each, rise) in enumerate(zip(planned.circuits, planned.rises, strict=True), 1)
    )  # fmt: skip
    return Table.of(language.say("circuit_table.caption"), heads, rows)


def cables(planned: CircuitsResult, language: Language) -> Table:
    """The cables with what protects them; a size that must be replaced with the one to order."""
    numeric = ("current", "breaker", "capacity")
    keys = ("cable", "size", *numeric, "way", "verdict")
    heads = ((language.say(f"cable_table.{key}"), key in numeric) for key in keys)
    return Table.of(language.say("cable_table.caption"), heads, _cables(planned, language))


def _cables(planned: CircuitsResult, language: Language) -> Iterator[Row]:
    """Cables that differ in their current alone are one row, with the highest."""
    numbers = {circuit.name: str(number) for number, circuit in enumerate(planned.circuits, 1)}
    alike: dict[tuple[str, ...], tuple[list[str], float]] = {}
    for each in planned.cables:
        order, rating = each.size_to_order, each.device_rating_a
        key = (
            language.write(CABLES[each.cable]),
            tables.size(language, each.size) + ("" if order in (None, each.size) else f" → {tables.size(language, order)}"),
            "–" if rating is None else f"{language.general(rating)} A",
            f"{language.number(each.capacity_a, 1)} A",
            language.write(each.installation),
            MEETS[each.meets],
        )
        names, current_a = alike.get(key, ([], 0.0))
        alike[key] = (names + [numbers[name] for name in each.circuits], max(current_a, each.design_current_a))
    for (cable, conductor, breaker, capacity, installed, verdict), (names, current_a) in alike.items():
        name, current = f"{cable} {', '.join(names)}".rstrip(), f"{language.number(current_a, 1)} A"
        cells = (name, conductor, current, breaker, capacity, installed, language.say(f"choice.{verdict}"))
        yield Row(cells, "failing" if verdict == "fail" else "")


def devices(planned: CircuitsResult, language: Language) -> Table:
    """The devices as they are ordered."""
    heads = tuple((language.say(f"device_table.{key}"), key == "quantity") for key in ("device", "quantity", "rating"))
    rows = (
        Row((language.say(f"device_role.{each.role}"), str(each.quantity), language.write(each.in_words())))
        for each in planned.devices
    )
    return Table.of(language.say("device_table.caption"), heads, rows)


def cautions(design: Design, language: Language) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What the installer must keep in mind, by task; without those for the seller alone and those beside string inverters."""
    by_task: dict[str, list[str]] = {}
    for each in design.cautions:
        if each.reader != "seller" and each not in CAUTIONS:
            by_task.setdefault(each.task, []).append(language.write(each.text))
    return tuple((language.say(f"task.{task}"), tuple(texts)) for task, texts in by_task.items())


def _place(design: Design, language: Language) -> str:
    return language.say(
        "sheet.place",
        place=coordinates(language, design.site.latitude_deg, design.site.longitude_deg),
        height=language.height(design.climate.climate.elevation_m),
    )


def coordinates(language: Language, latitude_deg: float, longitude_deg: float) -> str:
    """A location in degrees with points of the compass."""
    parts = ((latitude_deg, "sheet.north", "sheet.south"), (longitude_deg, "sheet.east", "sheet.west"))
    return ", ".join(f"{language.general(abs(deg))}° {language.say(less if deg < 0.0 else more)}" for deg, more, less in parts)


def _weather(design: Design, language: Language) -> tuple[str, ...]:
    temperatures = design.climate.design_temperatures
    low, high = language.number(temperatures.lowest_c), language.number(temperatures.highest_c)
    return (
        language.say("assumption.climate", source=design.climate.climate.source),
        language.say("assumption.design_temperatures", lowest=low, highest=high),
    )


def _connection(design: Design, language: Language) -> Iterator[str]:
    """Sentences on the grid connection procedure and the voltage rise."""
    planned = design.circuits
    if planned is None:
        return
    connection, limit = planned.connection, planned.rise_limit_share
    yield language.say("circuits.route", route=connection.route, place=connection.place, allows=connection.allows)
    highest = language.percent(planned.rise_highest_share, 2)
    if limit is None:
        yield language.say("circuits.limit_open", highest=highest)
    else:
        yield language.say("circuits.limit_known", highest=highest, limit=language.percent(limit, 1))


def _covers(design: Design, language: Language) -> Iterator[str]:
    """Sentences on what the ranges of energy, clipping and value cover."""
    if design.clipping is not None:
        roof = design.clipping.totals[0]
        energy, clipping = (language.write(each.covers) for each in (roof.delivered_range_kwh, roof.clipped_share))
        yield language.say("methods.made_by", energy=f"{energy}.", clipping=f"{clipping}.")
        shades = (each.shade.loss_share.covers for each in design.clipping.faces if each.shade is not None)
        yield from dict.fromkeys(language.say("shade.covers", covers=each) for each in shades)
    compared = (each.comparison for each in design.selection.string_inverters if each.comparison is not None)
    covers = (each.energy_share.covers for each in compared)
    yield from dict.fromkeys(language.say("instead.covers", covers=each) for each in covers)
    built = built_candidate(design)
    if built is not None and built.money is not None:
        yield language.say("methods.value", covers=built.money.net_present_value_range.covers)

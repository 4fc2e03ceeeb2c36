"""The installer's tables: checks with figures and clauses, circuits, cables, devices; and the cautions by task."""

from __future__ import annotations

from collections.abc import Iterator

from wattpair_service.engineering.circuits.circuits import CircuitsResult
from wattpair_service.engineering.design.design import Design
from wattpair_service.engineering.inverter.electrical_checks import ElectricalCheck
from wattpair_service.report.table import Row, Table
from wattpair_service.words.language import Language

UNITS = {"1": "", "modules": "", "degC": "°C"}
"""Units of checks that are written otherwise than in an answer."""


def failing(design: Design, language: Language) -> Iterator[str]:
    """What keeps the design from being built: each check with its figure, its limit and a way out."""
    for each in _electrical(design):
        if each.verdict == "fail" and each.limit is not None:
            name = language.say(f"check.{each.name}")
            yield _failing(language, name, (each.value, each.limit, each.unit), language.write(each.explanation))
    planned = design.circuits
    for check in () if planned is None else planned.connection.checks:
        if check.meets is False and check.limit is not None:
            figures = (check.value, check.limit, check.unit)
            yield _failing(language, language.say(f"connection_check.{check.name}"), figures, language.write(check.explanation))
    for cable in () if planned is None else planned.cables:
        if cable.meets is False:
            yield f"{language.say(f'cable.{cable.cable}')}: {language.write(cable.explanation)}"
    if design.built.pairing is None:
        for change in design.selection.what_would_have_to_change:
            yield language.write(change.sentence)


def _failing(language: Language, name: str, figures: tuple[float, float, str], way_out: str) -> str:
    value, limit, unit = figures
    words = {"value": _figure(language, value, unit), "limit": _figure(language, limit, unit)}
    return language.say("installer.failing", name=name, way_out=way_out, **words)


def checks(design: Design, language: Language) -> Table:
    """The checks of the built pairing and of the grid connection."""
    columns = (("check", False), ("value", True), ("limit", True), ("verdict", False), ("source", False))
    heads = tuple((language.say(f"checks.{key}"), is_numeric) for key, is_numeric in columns)
    return Table.of(language.say("checks.caption"), heads, _checks(design, language))


def _checks(design: Design, language: Language) -> Iterator[Row]:
    for each in _electrical(design):
        name = language.say(f"check.{each.name}") + (f", {each.face}" if each.face else "")
        verdict = language.say(f"choice.{each.verdict}")
        yield _check_row(language, name, (each.value, each.limit, each.unit), verdict, language.write(each.source))
    for check in () if design.circuits is None else design.circuits.connection.checks:
        name, verdict = language.say(f"connection_check.{check.name}"), _meets(language, check.meets)
        yield _check_row(language, name, (check.value, check.limit, check.unit), verdict, language.write(check.source))


def _check_row(
    language: Language, name: str, figures: tuple[float, float | None, str], verdict: str, source: str
) -> Row:
    value, limit, unit = figures
    limit_text = "–" if limit is None else _figure(language, limit, unit)
    is_failing = verdict == language.say("choice.fail")
    return Row((name, _figure(language, value, unit), limit_text, verdict, source), "failing" if is_failing else "")


def _electrical(design: Design) -> tuple[ElectricalCheck, ...]:
    """The electrical checks of the built pairing."""
    pairing = design.built.pairing
    of_module = (result for result in design.sizing if pairing is not None and result.module == pairing.module)
    found = (each for result in of_module for each in result.pairings if pairing and each.microinverter == pairing.microinverter)
    return next((each.checks for each in found), ())


def _figure(language: Language, value: float, unit: str) -> str:
    if unit == "share":
        return language.percent(value, 2)
    return f"{language.general(round(value, 2))} {UNITS.get(unit, unit)}".rstrip()


def _meets(language: Language, meets: bool | None) -> str:
    return language.say({None: "checks.open", True: "choice.ok", False: "choice.fail"}[meets])


def circuits(planned: CircuitsResult, language: Language) -> Table:
    """The branch circuits."""
    columns = (("circuit", False), ("units", False), ("phase", False), ("current", True), ("breaker", True), ("rise", True))
    heads = tuple((language.say(f"circuit_table.{key}"), is_numeric) for key, is_numeric in columns)
    rows = (
        Row((
            language.say("circuits.name", number=number),
            ", ".join(f"{part.unit_count} × {part.name}" for part in each.units_by_face),
            " ".join(f"L{phase}" for phase in sorted(each.phases)),
            f"{language.number(each.current_a, 1)} A",
            f"{language.general(each.device_rating_a)} A",
            language.percent(rise.total_share, 2),
        ))
        for number, (each, rise) in enumerate(zip(planned.circuits, planned.rises, strict=True), 1)
    )  # fmt: skip
    return Table.of(language.say("circuit_table.caption"), heads, rows)


def cables(planned: CircuitsResult, language: Language) -> Table:
    """The cables with what protects them; a size that must be replaced with the one to order."""
    columns = (("cable", False), ("size", False), ("current", True), ("breaker", True), ("capacity", True), ("way", False))
    heads = (*((language.say(f"cable_table.{key}"), is_numeric) for key, is_numeric in columns), (language.say("checks.verdict"), False))
    return Table.of(language.say("cable_table.caption"), heads, _cables(planned, language))


def _cables(planned: CircuitsResult, language: Language) -> Iterator[Row]:
    numbers = {circuit.name: str(number) for number, circuit in enumerate(planned.circuits, 1)}
    for each in planned.cables:
        order, rating = each.size_to_order, each.device_rating_a
        cells = (
            f"{language.say(f'cable.{each.cable}')} {', '.join(numbers[name] for name in each.circuits)}".rstrip(),
            each.size if order in (None, each.size) else f"{each.size} → {order}",
            f"{language.number(each.design_current_a, 1)} A",
            "–" if rating is None else f"{language.general(rating)} A",
            f"{language.number(each.capacity_a, 1)} A",
            language.write(each.installation),
            _meets(language, each.meets),
        )
        yield Row(cells, "failing" if each.meets is False else "")


def devices(planned: CircuitsResult, language: Language) -> Table:
    """The devices as they are ordered."""
    heads = tuple((language.say(f"device_table.{key}"), key == "quantity") for key in ("device", "quantity", "rating"))
    rows = (
        Row((language.say(f"device.{each.role}"), str(each.quantity), language.write(each.in_words())))
        for each in planned.devices
    )
    return Table.of(language.say("device_table.caption"), heads, rows)


def cautions(design: Design, language: Language) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What the installer must keep in mind, by task; cautions for the seller alone are left out."""
    by_task: dict[str, list[str]] = {}
    for each in design.cautions:
        if each.reader != "seller":
            by_task.setdefault(each.task, []).append(language.write(each.text))
    return tuple((language.say(f"task.{task}"), tuple(texts)) for task, texts in by_task.items())

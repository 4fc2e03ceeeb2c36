"""Single-line sketch: microinverters, circuit breakers, sub-board, isolator, board, meter and grid."""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import Markup

from wattpair_service.engineering.circuits.circuits import CircuitsResult
from wattpair_service.report.charts.drawing import INK, PAPER, SOFT, WIDTH, Pen, box, line, short, text
from wattpair_service.words.language import Language

ROW = 52.0
TOP, BOTTOM = 14.0, 46.0
UNITS_DRAWN = 10
"""Of more units, the first ones and the count are drawn."""
CIRCUITS_DRAWN = 6
"""Of more circuits, the first ones and the count of the others are drawn."""
UNIT, GAP = 10.0, 3.0
CHAIN_BOX, CHAIN_GAP = 58.0, 7.0
BREAKER_X, BUS_X = 196.0, 268.0


def circuits(pen: Pen, language: Language, planned: CircuitsResult) -> Markup:
    """The sketch: connections only, not positions on the roof."""
    first = planned.circuits if len(planned.circuits) <= CIRCUITS_DRAWN else planned.circuits[: CIRCUITS_DRAWN - 1]
    height = TOP + min(len(planned.circuits), CIRCUITS_DRAWN) * ROW + BOTTOM
    drawn: list[Markup] = []
    if len(first) < len(planned.circuits):
        more = language.say("circuits.more", count=len(planned.circuits) - len(first))
        drawn.append(text(2.0, TOP + len(first) * ROW + 20.0, more))
    for index, circuit in enumerate(first):
        y = TOP + index * ROW + 20.0
        drawn.append(text(2.0, y - 12.0, language.say("circuits.name", number=index + 1), bold=True, size=9.0))
        drawn.append(text(54.0, y - 12.0, short(circuit.face, 15.0), size=9.0))
        drawn += _units(pen, circuit.unit_count, y)
        drawn.append(line(2.0, y + 10.0, BREAKER_X, y + 10.0, width=1.4))
        drawn += _circuit_breaker(language, circuit.device_rating_a, y + 10.0)
        drawn.append(line(BREAKER_X + 16.0, y + 10.0, BUS_X, y + 10.0, width=1.4))
        label = language.say(
            "circuits.under",
            units=language.counted("unit", circuit.unit_count),
            current=language.number(circuit.current_a, 1),
            lines=circuit.line_conductors,
            rise=language.percent(planned.rises[index].total_share, 2),
        )
        drawn.append(text(2.0, y + 23.0, label, size=8.5, fill=SOFT))
    bottom = height - BOTTOM
    drawn.append(line(BUS_X, TOP + 12.0, BUS_X, bottom + 4.0, width=3.0))
    if len(planned.circuits) > 1:
        drawn += _sub_board(language, planned)
    drawn += _to_grid(language, bottom + 14.0)
    description = language.say(
        "circuits.description",
        circuits=language.counted("circuit", len(planned.circuits)),
        units=language.counted("unit", planned.unit_count),
        route=planned.connection.route,
    )
    return pen.frame(height, language.say("circuits.title"), description, *drawn)


def _sub_board(language: Language, planned: CircuitsResult) -> Iterator[Markup]:
    """The name of the bus of several circuits, with the rating of the breaker behind it."""
    yield text(BUS_X + 6.0, TOP + 18.0, language.say("circuits.sub_board"), size=9.0)
    for device in planned.devices:
        if device.role == "pv_main_breaker" and device.rating_a is not None:
            yield text(BUS_X + 6.0, TOP + 29.0, f"{language.number(device.rating_a)} A", size=9.0)


def _units(pen: Pen, count: int, y: float) -> list[Markup]:
    """A circuit's units on its trunk, from the far end."""
    shown = count if count <= UNITS_DRAWN else UNITS_DRAWN - 1
    drawn = []
    for unit in range(shown):
        x = 4.0 + unit * (UNIT + GAP)
        drawn.append(box(x, y - 7.0, UNIT, 9.0, fill=pen.accent, stroke=INK))
        drawn.append(line(x + UNIT / 2.0, y + 2.0, x + UNIT / 2.0, y + 10.0, width=0.8))
    if count > shown:
        drawn.append(text(8.0 + shown * (UNIT + GAP), y + 1.0, f"… {count}"))
    return drawn


def _circuit_breaker(language: Language, rating_a: float, y: float) -> list[Markup]:
    """The circuit breaker as a box on the line, with its rating."""
    return [
        box(BREAKER_X, y - 6.0, 16.0, 12.0, fill=PAPER, stroke=INK),
        line(BREAKER_X + 3.0, y + 4.0, BREAKER_X + 13.0, y - 4.0, width=1.2),
        text(BREAKER_X + 8.0, y - 10.0, f"{language.number(rating_a)} A", anchor="middle", size=9.0),
    ]


def _to_grid(language: Language, y: float) -> list[Markup]:
    """The line from the circuits through isolator, board and meter to the grid."""
    drawn = [line(BUS_X, y - 10.0, BUS_X, y + 6.0, width=1.4), line(BUS_X, y + 6.0, 2.0, y + 6.0, width=1.4)]
    for index, key in enumerate(("network", "meter", "board", "isolator")):
        x = 2.0 + index * (CHAIN_BOX + CHAIN_GAP)
        drawn.append(box(x, y - 4.0, CHAIN_BOX, 20.0, fill=PAPER, stroke=INK))
        words = short(language.say(f"circuits.{key}"), 7.4)
        drawn.append(text(x + CHAIN_BOX / 2.0, y + 9.0, words, anchor="middle", size=8.5))
    return [*drawn, text(WIDTH - 2.0, y + 28.0, language.say("circuits.sketch"), anchor="end", size=8.5, fill=SOFT)]

"""How the time of a selection grows with candidates, faces and hours."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import partial

import numpy as np

from tests.benchmarks.measuring import Row, Spread, Times, at_most, figure, side_by_side
from tests.benchmarks.roofs import (
    Year,
    asked,
    built_in_year,
    hourly_year,
    known_file_year,
    known_site,
    new_hourly_year,
    new_site,
    weather,
)
from wattpair_service.engineering.irradiance.conditions import HourlyWeather
from wattpair_service.engineering.selection.request import SelectionRequest

ROUNDS = 7
CANDIDATES = (1, 2, 3, 4, 8, 16, 20, 32, 64)
FACES = (1, 2, 4, 8, 16)
PARTS_OF_YEAR = (8, 4, 2, 1)
LINEAR = 1.2
"""What the last doubling adds over what the steps before it added, each for its share of the work, that counts as linear."""


HEADLINE = "real year, a new place"


def rows() -> Iterator[Row]:
    """Candidates, then faces, then hours."""
    site = known_site()
    ways: dict[str, Callable[[], Year]] = {
        HEADLINE: new_hourly_year,
        "real year, a place known before": known_file_year,
        "built-in climate, a new place": lambda: built_in_year(new_site()),
        "built-in climate, a place known before": lambda: built_in_year(site),
    }
    for name, year in ways.items():
        yield from _candidates(name, year, every_pair=False)
    yield from _candidates(HEADLINE, new_hourly_year, every_pair=True)
    for name in (HEADLINE, "built-in climate, a new place"):
        yield _linear(f"further faces: {name}", {count: partial(_select, ways[name], asked(8, count)) for count in FACES})
    parts = {8760 // part: partial(_select, partial(hourly_year, _every_nth_day(part)), asked(8)) for part in PARTS_OF_YEAR}
    yield _linear("further hours: real year, conditions made anew", parts)


def _select(year: Callable[[], Year], given: SelectionRequest) -> None:
    year().select(given)


def _candidates(name: str, year: Callable[[], Year], *, every_pair: bool) -> Iterator[Row]:
    """What each further candidate adds over a selection with one; break-even pairs begin with the second."""
    things = {str(count): partial(_select, year, asked(count, every_pair=every_pair)) for count in CANDIDATES}
    times = side_by_side(things, rounds=ROUNDS)
    for low, high in ((1, 20), (3, 64)):
        yield Row(
            f"a further candidate over the first, from {low} to {high}{', every break-even' * every_pair}: {name}",
            _slope(times, low, high),
            "%",
            at_most(8 if every_pair else 3),
            _listed(times),
            headline=name == HEADLINE and low == 1 and not every_pair,
        )


def _slope(times: Times, low: int, high: int) -> Spread:
    """Percent of the time with one."""
    one, less, more = (np.array(times.seconds[str(count)]) for count in (1, low, high))
    return Spread.of((100.0 * (more - less) / (high - low) / one).tolist())


def _linear(name: str, things: Mapping[int, Callable[[], object]]) -> Row:
    """The last step's cost for each further one over that of all the steps before."""
    times = side_by_side({str(count): thing for count, thing in things.items()}, rounds=ROUNDS)
    first, middle, last = (list(things)[at] for at in (0, -2, -1))
    start, half, whole = (times.of(str(count)).median for count in (first, middle, last))
    ratio = (whole - half) / (last - middle) / ((half - start) / (middle - first))
    return Row(name, Spread.single(ratio), "x of linear", at_most(LINEAR), _listed(times), HEADLINE in name)


def _listed(times: Times) -> str:
    return "ms for " + ", ".join(f"{name}: {figure(1e3 * times.of(name).median)}" for name in times.seconds)


def _every_nth_day(part: int) -> HourlyWeather:
    """Some of the days, which stand for all of the year."""
    given = weather()
    kept = np.flatnonzero(given.middle_utc.dayofyear.to_numpy() % part == 0)
    columns = {
        name: getattr(given, name)[kept] for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2", "temp_air_c", "wind_speed_m_s")
    }
    return replace(given, middle_utc=given.middle_utc[kept], **columns)

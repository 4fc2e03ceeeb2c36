"""One copy of the service under load, beside a bare Flask echo under the same gunicorn."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass

from tests.benchmarks import echo
from tests.benchmarks.bodies import bodies, wait_for_answer
from tests.benchmarks.measuring import Row, Spread, at_least, at_most, figure
from tests.benchmarks.paced import paced
from tests.benchmarks.wrk import Load, load
from tests.deployment import IMAGE_ENVIRONMENT
from tests.running import SERVE, started
from wattpair_service.api.operations import clipping, design, selection, sizing

OPERATIONS = (sizing.OPERATION, clipping.OPERATION, selection.OPERATION, design.OPERATION)
QUEUE_LENGTH = "100"
"""The longest: a request that waits counts with its wait, none is refused."""
ROUNDS = 3
SECONDS_AT_MOST = 3
"""Of each round at the highest rate, and somewhat less of the echo."""
SECONDS_OF_ECHO = 2
CONNECTIONS_AT_MOST = 2
"""At the highest rate: one more request waits behind the one that is worked on."""
SECONDS_AT_HALF = 6
"""Of each round at half of the highest rate: what others do on the machine for a moment spoils one round and not the median."""
NEW_PLACES = 1500


@dataclass(frozen=True, slots=True)
class _Case:
    name: str
    path: str
    bodies: list[str]


def rows() -> Iterator[Row]:
    """The highest rate of each operation with the echo's in turn, then waiting times at half of it."""
    cases = [
        _Case(f"{operation.path}, {where}", operation.path, bodies(operation, places))
        for operation in OPERATIONS
        for where, places in (("a place known before", 1), ("each at a new place", NEW_PLACES))
    ]
    with (
        started(SERVE, environment=IMAGE_ENVIRONMENT, queue_length=QUEUE_LENGTH) as service,
        started([sys.executable, "-m", "tests.benchmarks.echo"], environment=IMAGE_ENVIRONMENT) as bare,
    ):
        wait_for_answer(service, sizing.OPERATION.path, bodies(sizing.OPERATION, 1)[0])
        wait_for_answer(bare, echo.PATH, "{}")
        for case in cases:
            yield from _case(case, service.url, bare.url + echo.PATH)


def _case(case: _Case, url: str, echo_url: str) -> Iterator[Row]:
    # Other places in each round: none is known from the round before.
    step = max(len(case.bodies) // (ROUNDS + 1), 1)
    parts = [case.bodies[at * step : (at + 1) * step] or case.bodies for at in range(ROUNDS + 1)]
    echoed, found = [], []
    for part in parts[:-1]:
        echoed.append(load(echo_url, part, connections=CONNECTIONS_AT_MOST, seconds=SECONDS_OF_ECHO))
        found.append(load(url + case.path, part, connections=CONNECTIONS_AT_MOST, seconds=SECONDS_AT_MOST))
    is_sizing = case.path == sizing.OPERATION.path
    rate = Spread.of([each.requests_per_s for each in found])
    how = f"{CONNECTIONS_AT_MOST} connections, {_waited(found)}"
    yield Row(f"highest rate: {case.name}", rate, "requests/s", made_from=how, headline=True)
    share = Spread.of([100.0 * a.requests_per_s / b.requests_per_s for a, b in zip(found, echoed, strict=True)])
    how = f"echo {Spread.of([each.requests_per_s for each in echoed]).median:.0f} requests/s"
    target = at_least(25) if is_sizing else None
    yield Row(f"rate over a Flask echo of the same body: {case.name}", share, "%", target, how, is_sizing)
    halves = [
        paced(url, case.path, _from(parts[-1], at, ROUNDS), requests_per_s=rate.median / 2.0, seconds=SECONDS_AT_HALF)
        for at in range(ROUNDS)
    ]
    ratio = Spread.of([half.p99_ms / half.p50_ms for half in halves])
    sent = f"{halves[0].requests} requests at {halves[0].requests_per_s:.3g}/s, random times, {ROUNDS} rounds"
    how = f"{_waited(halves)}, {sent}"
    yield Row(f"p99 over p50 at half of the highest rate: {case.name}", ratio, "x", at_most(4), how, headline=True)


def _waited(loads: list[Load]) -> str:
    """Medians of the rounds."""
    p50, p99 = (Spread.of([getattr(each, name) for each in loads]).median for name in ("p50_ms", "p99_ms"))
    return f"p50 {figure(p50)} ms, p99 {figure(p99)} ms"


def _from(bodies: list[str], at: int, parts: int) -> list[str]:
    """The same bodies from another one on."""
    begin = at * len(bodies) // parts
    return bodies[begin:] + bodies[:begin]

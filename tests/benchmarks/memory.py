"""Start-up to the first answer, and the memory of the service at rest and after many requests."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks.bodies import bodies, post, wait_for_answer
from tests.benchmarks.measuring import Row, Spread, Target, at_most
from tests.deployment import IMAGE_ENVIRONMENT
from tests.running import SERVE, Service, started
from wattpair_service.api.operations import clipping, design, selection, sizing

STARTS = 5
REQUESTS = 5000
WARM_REQUESTS = 500
"""After so many the caches are as full as they get."""
MIX = ((sizing.OPERATION, 40), (clipping.OPERATION, 30), (selection.OPERATION, 20), (design.OPERATION, 10))
"""Requests of each kind in a hundred."""
NEW_PLACE_EVERY = 3
SENDERS = 4
MEGABYTE = 1e6


@dataclass(frozen=True, slots=True)
class Memory:
    """Memory of a server's processes [MB], workers first to last.

    `worker_mb` is each worker's proportional share (PSS). `total_mb` is that of master and workers with what they share counted
    once: private pages, and the largest part of mapped files, which other programs on the machine may share too.
    """

    worker_mb: tuple[float, ...]
    total_mb: float

    @classmethod
    def of(cls, process_id: int) -> Memory:
        """Of a master process and its workers."""
        workers = [int(each) for each in Path(f"/proc/{process_id}/task/{process_id}/children").read_text().split()]
        figures = [_rollup(each) for each in (process_id, *workers)]
        private_kb = sum(each["Pss_Anon"] for each in figures)
        files_kb = max(each["Rss"] - each["Anonymous"] for each in figures)
        return cls(tuple(each["Pss"] * 1024 / MEGABYTE for each in figures[1:]), (private_kb + files_kb) * 1024 / MEGABYTE)


def _rollup(process_id: int) -> dict[str, int]:
    """Sums over a process's memory [kB] by their names in /proc."""
    lines = Path(f"/proc/{process_id}/smaps_rollup").read_text().splitlines()[1:]
    return {name: int(value.split()[0]) for name, value in (line.split(":") for line in lines)}


def rows() -> Iterator[Row]:
    """Starts first; then one service at rest, warm, and after all requests."""
    first = bodies(sizing.OPERATION, 1)[0]
    starts = []
    for _ in range(STARTS):
        with started(SERVE, environment=IMAGE_ENVIRONMENT) as service:
            starts.append(wait_for_answer(service, sizing.OPERATION.path, first) - service.began_s)
    yield Row(
        "from start to the first answer", Spread.of(starts), "s", at_most(3), f"{STARTS} starts, answer of /v1/sizing", True
    )
    requests = _mixed()
    with started(SERVE, environment=IMAGE_ENVIRONMENT) as service:
        wait_for_answer(service, sizing.OPERATION.path, first)
        rest = Memory.of(service.process.pid)
        _send(service, itertools.islice(requests, WARM_REQUESTS))
        warm = Memory.of(service.process.pid)
        _send(service, itertools.islice(requests, REQUESTS - WARM_REQUESTS))
        after = Memory.of(service.process.pid)
    for name, found in (("at rest", rest), (f"after {REQUESTS} mixed requests", after)):
        (worker,) = found.worker_mb
        yield Row(
            f"memory of a copy {name}",
            Spread.single(found.total_mb),
            "MB",
            at_most(160),
            f"master and worker, what they share counted once; PSS of the worker {worker:.0f} MB",
            headline=True,
        )
    yield _growth(f"growth of memory after {REQUESTS} requests over the service at rest", rest, after, at_most(3))
    yield _growth(f"growth of memory after {REQUESTS} requests over {WARM_REQUESTS} requests", warm, after, None)


def _growth(name: str, before: Memory, after: Memory, target: Target | None) -> Row:
    percent = 100.0 * (after.total_mb / before.total_mb - 1.0)
    mix = ", ".join(f"{share} {operation.path}" for operation, share in MIX)
    made_from = f"{before.total_mb:.0f} to {after.total_mb:.0f} MB; of a hundred {mix}; one in {NEW_PLACE_EVERY} at a new place"
    return Row(name, Spread.single(percent), "%", target, made_from, headline=target is not None)


def _mixed() -> Iterator[tuple[str, str]]:
    """Path and body of each request, the same in each run: one in `NEW_PLACE_EVERY` asks about a place for the first time."""
    drawn = random.Random(1)
    operations, shares = [operation for operation, _ in MIX], [share for _, share in MIX]
    known = {operation.path: bodies(operation, 8) for operation in operations}
    new = {operation.path: iter(bodies(operation, REQUESTS)[8:]) for operation in operations}
    for number in itertools.count():
        (operation,) = drawn.choices(operations, shares)
        path = operation.path
        yield path, next(new[path]) if number % NEW_PLACE_EVERY == 0 else drawn.choice(known[path])


def _send(service: Service, requests: Iterator[tuple[str, str]]) -> None:
    """Send all, some at a time; each must be answered with 200."""
    with ThreadPoolExecutor(SENDERS) as senders:
        for _ in senders.map(lambda request: post(service, *request), list(requests)):
            pass

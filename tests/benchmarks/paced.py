"""Load at a given rate: callers who know nothing of one another, each with a connection of its own."""

from __future__ import annotations

import random
import statistics
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

from tests.benchmarks.bodies import post
from tests.benchmarks.wrk import Load

SENDERS = 64
"""Requests that may be under way at once; at half of what a server can do there are far fewer."""


def paced(url: str, path: str, bodies: list[str], *, requests_per_s: float, seconds: float) -> Load:
    """Post bodies in turn at random times (a Poisson process, the same in each run).

    A request's time counts from when it was due, so that one held up by others before it counts in full.
    """

    def send(due: float, body: str) -> float:
        post(url, path, body)
        return time.perf_counter() - due

    with ThreadPoolExecutor(SENDERS) as senders:
        start = time.perf_counter()
        sent = []
        for number, due_s in enumerate(_times(requests_per_s, seconds)):
            time.sleep(max(start + due_s - time.perf_counter(), 0.0))
            sent.append(senders.submit(send, start + due_s, bodies[number % len(bodies)]))
        waited_ms = [1e3 * each.result() for each in sent]
    percentiles = statistics.quantiles(waited_ms, n=100, method="inclusive")
    return Load(len(sent) / seconds, percentiles[49], percentiles[98], len(sent))


def _times(requests_per_s: float, seconds: float) -> Iterator[float]:
    drawn, at_s = random.Random(1), 0.0
    while (at_s := at_s + drawn.expovariate(requests_per_s)) < seconds:
        yield at_s

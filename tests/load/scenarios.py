"""What a deployment stands, each with its figures: slow and hostile callers, overload, restarts, killed and stuck workers."""

from __future__ import annotations

import asyncio
import os
import re
import signal
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import wattpair
from tests.contract.bodies import PATHS, example
from tests.deployment import Copy, Deployment, is_live
from tests.load.callers import MARKER, Callers, Outcomes, hostile
from tests.running import elsewhere, wait_until

MEASURE_S = 4.0
CALLERS = 4
STUCK_LAYOUT = """
import sys, time
from dataclasses import replace
from pathlib import Path
from flask import has_request_context
import wattpair_service.api.operations.layout as layout
stuck = Path(sys.argv.pop(1))
handle = layout.OPERATION.handle
def handle_or_not(request, stations):
    while has_request_context() and stuck.exists():
        time.sleep(0.01)
    return handle(request, stations)
layout.OPERATION = replace(layout.OPERATION, handle=handle_or_not)
from wattpair_service.cli import main
sys.exit(main(["serve"]))
"""
"""The service, whose layouts never end while a file is there."""


def stuck_command(file: Path) -> list[str]:
    """Starts it."""
    return [sys.executable, "-c", STUCK_LAYOUT, str(file)]


@dataclass(slots=True)
class Overload:
    """At the limit and at four times the limit, by turns; memory is that of both workers [bytes]."""

    limit_per_s: float
    at_limit: Outcomes = field(default_factory=Outcomes)
    beyond: Outcomes = field(default_factory=Outcomes)
    memory: tuple[int, int] = (0, 0)

    @property
    def growth(self) -> float:
        """Share by which memory grew."""
        return self.memory[1] / self.memory[0] - 1.0

    def lines(self) -> Iterator[str]:
        """For a person to read."""
        yield f"limit: {self.limit_per_s:.1f} calculations a second on two copies"
        yield f"1 x limit: {self.at_limit}"
        yield f"4 x limit: {self.beyond}"
        yield f"p99 ratio: {self.beyond.p99_s / self.at_limit.p99_s:.2f}"
        yield f"memory: {self.memory[0] / 1e6:.1f} MB before, {self.memory[1] / 1e6:.1f} MB after ({self.growth:+.2%})"


def overload(deployment: Deployment, seconds: float, *, phase_s: float = 5.0) -> Overload:
    """Load it for so long."""

    async def run() -> Overload:
        callers = Callers(deployment)
        await callers.fill_caches()
        report = Overload(await callers.limit_per_s(MEASURE_S))
        for _ in range(2):
            await callers.at_rate(4.0 * report.limit_per_s, phase_s, Outcomes())
        before, end = resident_bytes(deployment.copies), time.monotonic() + seconds
        while time.monotonic() < end:
            await callers.at_rate(report.limit_per_s, phase_s, report.at_limit)
            await callers.at_rate(4.0 * report.limit_per_s, phase_s, report.beyond)
        report.memory = before, resident_bytes(deployment.copies)
        await callers.close()
        return report

    return asyncio.run(run())


def resident_bytes(copies: tuple[Copy, ...]) -> int:
    """What the workers have in memory."""
    texts = [Path(f"/proc/{each.worker}/status").read_text() for each in copies]
    return sum(int(re.findall(r"VmRSS:\s+(\d+) kB", text)[0]) * 1024 for text in texts)


@dataclass(frozen=True, slots=True)
class Besieged:
    """Honest callers at half the limit, without the hostile ones and with them."""

    alone: Outcomes
    besieged: Outcomes
    workers_replaced: int
    leaked: bool

    def lines(self) -> Iterator[str]:
        """For a person to read."""
        yield f"honest callers alone: {self.alone}"
        yield f"beside hostile ones: {self.besieged}"
        yield f"p99 ratio: {self.besieged.p99_s / self.alone.p99_s:.2f}"
        yield f"workers replaced: {self.workers_replaced}; something of what was sent in a log: {self.leaked}"


def besieged(deployment: Deployment, *, dripping: int, unread: int, seconds: float, rounds: int = 2) -> Besieged:
    """Measure without and with hostile callers in turns."""
    before = [each.worker for each in deployment.copies]

    async def run() -> tuple[Outcomes, Outcomes]:
        callers, alone, beside = Callers(deployment), Outcomes(), Outcomes()
        half_per_s = await callers.limit_per_s(MEASURE_S) / 2.0
        for _ in range(rounds):
            await callers.at_rate(half_per_s, seconds, alone)
            with hostile(deployment, dripping=dripping, unread=unread):
                await callers.at_rate(half_per_s, seconds, beside)
        await callers.close()
        return alone, beside

    alone, beside = asyncio.run(run())
    after = [each.worker for each in deployment.copies]
    return Besieged(
        alone, beside, sum(one != other for one, other in zip(before, after, strict=True)), MARKER in deployment.logs()
    )


@contextmanager
def calling(deployment: Deployment, *, retries: int) -> Iterator[Counter[str]]:
    """Some callers, one call after the other, until the end; counts what became of their calls."""
    outcomes: Counter[str] = Counter()
    stopped = threading.Event()

    def go_on(number: int) -> None:
        with deployment.session() as session, wattpair.Client(deployment.url, session=session, retries=retries) as client:
            while not stopped.is_set():
                number += CALLERS
                try:
                    client.compute_clipping(**elsewhere(number))
                except wattpair.Error as error:
                    outcomes[f"{type(error).__name__}: {error}"[:80]] += 1
                else:
                    outcomes["answered"] += 1

    with ThreadPoolExecutor(CALLERS) as pool:
        callers = [pool.submit(go_on, number) for number in range(CALLERS)]
        try:
            yield outcomes
        finally:
            stopped.set()
    for each in callers:
        each.result()


def answered_more(outcomes: Counter[str], count: int = 20) -> Callable[[], bool]:
    """Whether so many further calls have been answered."""
    goal = outcomes["answered"] + count
    return lambda: outcomes["answered"] >= goal


def restarts(deployment: Deployment, times: int) -> Counter[str]:
    """Stop and start copies in turn, as an orchestrator does, under callers that never repeat a call."""
    with calling(deployment, retries=0) as outcomes:
        for number in range(times):
            wait_until(answered_more(outcomes), 60, "calls are answered")
            copy = deployment.copies[number % 2]
            assert copy.stop() == 0
            wait_until(answered_more(outcomes), 60, "the other copy answers")
            copy.start()
    return outcomes


def kills(deployment: Deployment, times: int) -> Counter[str]:
    """Kill workers in turn, under callers that repeat calls as the client does by itself."""
    with calling(deployment, retries=2) as outcomes:
        for number in range(times):
            wait_until(answered_more(outcomes), 60, "calls are answered")
            copy = deployment.copies[number % 2]
            killed = copy.worker
            os.kill(killed, signal.SIGKILL)
            wait_until(lambda copy=copy, killed=killed: copy.worker != killed, 20, "the worker is replaced")  # type: ignore[misc]
    return outcomes


@dataclass(frozen=True, slots=True)
class Stuck:
    """Of a calculation that never ends: what its own caller got and after how long, the others, and the copies after it."""

    status: int
    problem: str
    own_s: float
    whole_s: float
    others: Counter[str]
    workers_replaced: int

    def lines(self) -> Iterator[str]:
        """For a person to read."""
        yield f"its caller: {self.status} {self.problem} after {self.own_s:.1f} s; the copy whole after {self.whole_s:.1f} s"
        yield f"others: {dict(self.others)}; workers replaced: {self.workers_replaced}"


def stuck(deployment: Deployment, file: Path) -> Stuck:
    """Ask for one that never ends (see `stuck_command`), beside others."""
    before = [each.worker for each in deployment.copies]
    file.touch()
    began = time.monotonic()
    with calling(deployment, retries=2) as others, deployment.session() as session:
        answer = session.post(f"{deployment.url}{PATHS['lay_out_face']}", json=example("lay_out_face"), timeout=120)
        own_s = time.monotonic() - began
        file.unlink()
        wait_until(lambda: all(is_live(each.service.url) for each in deployment.copies), 60, "both copies answer")
        whole_s = time.monotonic() - began
        wait_until(answered_more(others), 60, "calls are answered")
    after = [each.worker for each in deployment.copies]
    replaced = sum(one != other for one, other in zip(before, after, strict=True))
    return Stuck(answer.status_code, answer.json()["type"], own_s, whole_s, others, replaced)

"""A bounded soak of the service on loopback: requests at the machine's limit and at four times the limit, by turns.

Requests come at random moments (a Poisson process with a fixed seed), whether earlier ones have been answered or not. The limit
is measured first: how many calculations one worker finishes in a second. One worker, so that its caller has a processor too.
"""

from __future__ import annotations

import asyncio
import random
import re
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from tests.load.raw import calculation, closing
from tests.running import Service, elsewhere, service
from wattpair_service.api.guards import keys

PLACES = 200
"""More than the climates that the service keeps, so that each request is a whole calculation."""
MEASURED_S = 4.0
PHASE_S = 5.0
WARM_ROUNDS, BURST = 2, 100
TIMES = (1, 4)
GUEST_SHARE, GUEST_PER_MINUTE = 0.1, 60
UNDER_WAY_MOST = 2000
SEED = 7


@dataclass(slots=True)
class Report:
    """What came back at each multiple of the limit, and the worker's memory before and after [bytes]."""

    limit_per_s: float
    statuses: dict[int, Counter[int]] = field(default_factory=lambda: {times: Counter() for times in TIMES})
    accepted_s: dict[int, list[float]] = field(default_factory=lambda: {times: [] for times in TIMES})
    memory: tuple[int, int] = (0, 0)

    def p99_s(self, times: int) -> float:
        """Within this time 99 % of the accepted requests were answered."""
        return float(np.quantile(self.accepted_s[times], 0.99))

    @property
    def growth(self) -> float:
        """Share by which the memory grew."""
        before, after = self.memory
        return after / before - 1.0

    def lines(self) -> Iterator[str]:
        """For a person to read."""
        yield f"limit: {self.limit_per_s:.1f} calculations a second on one worker"
        for times in TIMES:
            counts = ", ".join(f"{count} x {status}" for status, count in sorted(self.statuses[times].items()))
            middle_s = np.median(self.accepted_s[times])
            yield f"{times} x limit: {counts}; accepted: p50 {middle_s:.3f} s, p99 {self.p99_s(times):.3f} s"
        yield f"p99 ratio: {self.p99_s(TIMES[1]) / self.p99_s(TIMES[0]):.2f}"
        yield f"memory: {self.memory[0] / 1e6:.1f} MB before, {self.memory[1] / 1e6:.1f} MB after ({self.growth:+.2%})"


def soak(folder: Path, seconds: float) -> Report:
    """Start a service, load it for so long, stop it."""
    company, guest = keys.new_key(), keys.new_key()
    keys_file = folder / "keys.toml"
    keys_file.write_text(
        keys.entry("company", company) + "requests_per_minute = 1000000\n"
        + keys.entry("guest", guest) + f"requests_per_minute = {GUEST_PER_MINUTE}\n"
    )  # fmt: skip
    with service(folder, workers=1, keys_file=keys_file, worker_requests_max=1_000_000_000) as started:
        return asyncio.run(_Caller(started, company, guest).soak(seconds))


class _Caller:
    def __init__(self, started: Service, company: str, guest: str) -> None:
        self._service = started
        self._random = random.Random(SEED)
        self._requests = {key: [_request(number, key) for number in range(PLACES)] for key in (company, guest)}
        self._company, self._guest = company, guest
        self._number = 0

    async def soak(self, seconds: float) -> Report:
        for _ in range(PLACES):  # fills what the service keeps
            await self._ask(self._company)
        for _ in range(WARM_ROUNDS):  # each of its threads has worked
            await asyncio.gather(*(self._ask(self._company) for _ in range(BURST)))
        report = Report(await self._limit())
        for times in TIMES * WARM_ROUNDS:
            await self._phase(report, times, keep=False)
        before = self._memory()
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            for times in TIMES:
                await self._phase(report, times, keep=True)
        report.memory = before, self._memory()
        return report

    async def _limit(self) -> float:
        """Finished calculations a second, with one always waiting."""
        done, began = 0, time.monotonic()

        async def go_on() -> None:
            nonlocal done
            while time.monotonic() < began + MEASURED_S:
                status, _ = await self._ask(self._company)
                assert status == 200, status
                done += 1

        await asyncio.gather(go_on(), go_on())
        return done / (time.monotonic() - began)

    async def _phase(self, report: Report, times: int, *, keep: bool) -> None:
        began, at_s = time.monotonic(), 0.0
        under_way: list[asyncio.Task[tuple[int, float]]] = []
        while at_s < PHASE_S and len(under_way) < UNDER_WAY_MOST:
            at_s += self._random.expovariate(times * report.limit_per_s)
            await asyncio.sleep(max(began + at_s - time.monotonic(), 0.0))
            guest = self._random.random() < GUEST_SHARE
            under_way.append(asyncio.create_task(self._ask(self._guest if guest else self._company)))
        for status, taken_s in await asyncio.gather(*under_way):
            if keep:
                report.statuses[times][status] += 1
                if status == 200:
                    report.accepted_s[times].append(taken_s)

    async def _ask(self, key: str) -> tuple[int, float]:
        self._number += 1
        began = time.monotonic()
        reader, writer = await asyncio.open_connection("127.0.0.1", self._service.port)
        try:
            writer.write(self._requests[key][self._number % PLACES])
            await writer.drain()
            answer = await reader.read(-1)
        finally:
            writer.close()
        return int(answer[9:12]), time.monotonic() - began

    def _memory(self) -> int:
        """What the worker has in memory, whether it shares it with its parent or not [bytes]."""
        (worker,) = self._service.workers
        text = Path(f"/proc/{worker}/status").read_text()
        return int(re.findall(r"VmRSS:\s+(\d+) kB", text)[0]) * 1024


def _request(number: int, key: str) -> bytes:
    request = closing(calculation("compute_clipping", elsewhere(number)))
    return request.replace(b"\r\n", f"\r\nAuthorization: Bearer {key}\r\n".encode(), 1)

"""Callers of a deployment: honest ones at random moments, and those that drip, never read, break off or send nonsense.

Requests come at random moments (a Poisson process with a fixed seed), whether earlier ones have been answered or not. Each kind
of caller has addresses of its own on loopback: the proxy limits what one address may take.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import random
import socket
import ssl
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from tests.contract.bodies import PATHS
from tests.deployment import Deployment
from tests.running import elsewhere

HONEST_ADDRESSES = tuple(f"127.0.1.{number}" for number in range(1, 41))
PLACES = 200
"""More than the climates that the service caches, so that each request is a whole calculation."""
UNDER_WAY_MOST = 2000
SEED = 7
CONNECTIONS_PER_S = 200.0
"""At which the hostile ones come."""
LOST = 0
"""In place of a status: the connection ended without an answer."""
MARKER = "zqmarkerqz"
"""Stands in all that hostile callers send, and must stand in no log."""
MALFORMED: tuple[bytes, ...] = tuple(
    text.replace("MARK", MARKER).encode("latin-1")
    for text in (
        "MARK\r\n\r\n", "GET\r\n\r\n", "GET /MARK HTTP/1.1\r\n\r\n",
        "GET /MARK HTTP/9.1\r\nHost: x\r\n\r\n",
        "GET /MARK HTTP/1.1\r\nHost: x\r\nHost: y\r\n\r\n", "GET /MARK HTTP/1.1\r\nHost: x\r\nMARK\r\n\r\n",
        "GET /MARK HTTP/1.1\r\nHost: x\r\nMA RK: y\r\n\r\n", "GET /MARK HTTP/1.1\r\nHost: x\r\nA: \x00MARK\r\n\r\n",
        "GET /MARK HTTP/1.1\r\nHost: MARK/\\\r\n\r\n", "G\x01T /MARK HTTP/1.1\r\nHost: x\r\n\r\n",
        "GET /MARK\x7f HTTP/1.1\r\nHost: x\r\n\r\n", "GET /%zzMARK HTTP/1.1\r\nHost: x\r\n\r\n",
        "GET /" + "MARK" * 4000 + " HTTP/1.1\r\nHost: x\r\n\r\n",
        "GET / HTTP/1.1\r\nHost: x\r\nA: " + "MARK" * 10000 + "\r\n\r\n",
        "POST /v1/sizing HTTP/1.1\r\nHost: x\r\nContent-Length: MARK\r\n\r\n",
        "POST /v1/sizing HTTP/1.1\r\nHost: x\r\nContent-Length: -1\r\n\r\nMARK",
        "POST /v1/sizing HTTP/1.1\r\nHost: x\r\nContent-Length: 4\r\nContent-Length: 5\r\n\r\nMARK",
        "POST /v1/sizing HTTP/1.1\r\nHost: x\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\nMARK",
        "POST /v1/sizing HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: MARK\r\n\r\nMARK",
        "POST /v1/sizing HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nMARK\r\n",
        "POST /v1/sizing HTTP/1.1\r\nHost: x\r\nContent-Length: 99999999999\r\n\r\nMARK",
        "POST /v1/sizing HTTP/1.1\r\nHost: x\r\nExpect: MARK\r\nContent-Length: 4\r\n\r\nMARK",
        "CONNECT MARK:1 HTTP/1.1\r\nHost: x\r\n\r\n", "TRACE /MARK HTTP/1.1\r\nHost: x\r\n\r\n",
        "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\nMARK", "GET /MARK\xff HTTP/1.1\r\nHost: x\r\n\r\n",
        "M /MARK HTTP/1.1\r\nHost: x\r\n\r\n", "MARK" + 24 * "M" + " / HTTP/1.1\r\nHost: x\r\n\r\n",
    )
)  # fmt: skip


@dataclass(slots=True)
class Outcomes:
    """Statuses of all calls, and how long the accepted ones took [s]."""

    statuses: Counter[int] = field(default_factory=Counter)
    accepted_s: list[float] = field(default_factory=list)

    @property
    def p99_s(self) -> float:
        """Within this time 99 % of the accepted calls were answered."""
        return float(np.quantile(self.accepted_s, 0.99))

    def __str__(self) -> str:
        counts = ", ".join(f"{count} x {status or 'lost'}" for status, count in sorted(self.statuses.items()))
        return f"{counts}; accepted: p50 {np.median(self.accepted_s) * 1000:.0f} ms, p99 {self.p99_s * 1000:.0f} ms"


class Callers:
    """Honest ones, who keep their connections and know how to wait."""

    def __init__(self, deployment: Deployment) -> None:
        self._deployment = deployment
        self._context = ssl.create_default_context(cafile=str(deployment.certificate))
        self._random = random.Random(SEED)
        self._idle: list[tuple[asyncio.StreamReader, asyncio.StreamWriter]] = []
        bodies = [json.dumps(elsewhere(number)).encode() for number in range(PLACES)]
        self._requests = [_request("compute_clipping", body, deployment.api_key) for body in bodies]
        self._number = 0

    async def limit_per_s(self, seconds: float) -> float:
        """Finished calculations a second, with as many under way as the copies calculate at once, and two more."""
        done, end = 0, time.monotonic() + seconds

        async def go_on() -> None:
            nonlocal done
            while time.monotonic() < end:
                status, _ = await self.ask()
                assert status == 200, status
                done += 1

        await asyncio.gather(*(go_on() for _ in range(len(self._deployment.copies) + 2)))
        return done / seconds

    async def fill_caches(self) -> None:
        """Ask for everything some times, so that memory no longer grows for that."""
        for _ in range(3 * len(self._deployment.copies) * PLACES):
            await self.ask()

    async def at_rate(self, per_s: float, seconds: float, outcomes: Outcomes) -> None:
        """Call at random moments."""
        began, at_s = time.monotonic(), 0.0
        under_way: list[asyncio.Task[tuple[int, float]]] = []
        while at_s < seconds and len(under_way) < UNDER_WAY_MOST:
            at_s += self._random.expovariate(per_s)
            await asyncio.sleep(max(began + at_s - time.monotonic(), 0.0))
            under_way.append(asyncio.create_task(self.ask()))
        for status, taken_s in await asyncio.gather(*under_way):
            outcomes.statuses[status] += 1
            if status == 200:
                outcomes.accepted_s.append(taken_s)

    async def ask(self) -> tuple[int, float]:
        """One calculation: its status, and how long it took [s]."""
        self._number += 1
        began = time.monotonic()
        status = await self._exchange(self._requests[self._number % PLACES], self._number)
        return status, time.monotonic() - began

    async def _exchange(self, request: bytes, number: int) -> int:
        while True:
            kept = self._idle.pop() if self._idle else None
            writer = None
            try:
                reader, writer = kept or await self._connect(number)
                writer.write(request)
                await writer.drain()
                head = await reader.readuntil(b"\r\n\r\n")
                await _read_body(reader, head)
            except (OSError, asyncio.IncompleteReadError):
                if writer is not None:
                    writer.transport.abort()
                if kept is None:
                    return LOST
                continue  # the proxy may close a connection that rests: the call has not begun
            if b"connection: close" in head.lower():
                writer.transport.abort()
            else:
                self._idle.append((reader, writer))
            return int(head[9:12])

    async def _connect(self, number: int) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        address = HONEST_ADDRESSES[number % len(HONEST_ADDRESSES)]
        return await asyncio.open_connection(
            "127.0.0.1", self._deployment.port, ssl=self._context, server_hostname="127.0.0.1", local_addr=(address, 0)
        )

    async def close(self) -> None:
        """Let go of all connections."""
        for _, writer in self._idle:
            writer.transport.abort()
        self._idle.clear()
        await asyncio.sleep(0.1)  # until the loop has closed them


def _request(operation_id: str, body: bytes, api_key: str) -> bytes:
    head = (
        f"POST {PATHS[operation_id]} HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {api_key}\r\n"
        f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
    )
    return head.encode() + body


async def _read_body(reader: asyncio.StreamReader, head: bytes) -> None:
    lines = dict(line.lower().split(b": ", 1) for line in head.split(b"\r\n")[1:] if b": " in line)
    if b"content-length" in lines:
        await reader.readexactly(int(lines[b"content-length"]))
    elif lines.get(b"transfer-encoding") == b"chunked":
        while length := int(await reader.readline(), 16):
            await reader.readexactly(length + 2)
        await reader.readline()


@contextlib.contextmanager
def hostile(deployment: Deployment, *, dripping: int, unread: int) -> Iterator[None]:
    """For as long: so many that drip a byte a second, so many that never read, and others that break off or send nonsense.

    They are a process of their own, so that what is measured are not these callers' own delays.
    """
    given = [deployment.port, deployment.certificate, deployment.api_key, dripping, unread]
    command = [sys.executable, "-m", __name__, *map(str, given)]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline() == b"there\n", "the hostile callers ended"
            yield
        finally:
            process.kill()


async def be_hostile(port: int, certificate: str, api_key: str, dripping: int, unread: int) -> None:
    """Without end; says so once all have connected. Takes what the machine has left, so that the service is measured."""
    os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))
    context = ssl.create_default_context(cafile=certificate)
    kinds = [*(_drip,) * dripping, *(_never_read,) * unread, _break_off, _send_nonsense]
    there: set[int] = set()

    async def go_on(number: int) -> None:
        address = f"127.0.{2 + number // 50}.{1 + number % 50}"
        await asyncio.sleep(number / CONNECTIONS_PER_S)
        while True:
            with contextlib.suppress(OSError, asyncio.IncompleteReadError):
                reader, writer = await asyncio.open_connection(
                    "127.0.0.1", port, ssl=context, server_hostname="127.0.0.1", local_addr=(address, 0), limit=1024
                )
                there.add(number)
                try:
                    await kinds[number](reader, writer, api_key)
                finally:
                    writer.transport.abort()
            await asyncio.sleep(0.2)

    tasks = [asyncio.create_task(go_on(number)) for number in range(len(kinds))]
    while len(there) < len(kinds):
        await asyncio.sleep(0.1)
    print("there", flush=True)
    await asyncio.gather(*tasks)


async def _drip(_: asyncio.StreamReader, writer: asyncio.StreamWriter, __: str) -> None:
    """A head or a body, byte by byte."""
    whole = f"POST /v1/sizing HTTP/1.1\r\nHost: x\r\nX-A: {MARKER}\r\nContent-Length: 5000\r\n\r\n{MARKER}".encode()
    given = whole if random.random() < 0.5 else b""
    writer.write(given)
    for byte in whole if not given else b"{" * 5000:
        writer.write(bytes([byte]))
        await writer.drain()
        await asyncio.sleep(1.0)


async def _never_read(reader: asyncio.StreamReader, writer: asyncio.StreamWriter, _: str) -> None:
    """Asks for what is long, and leaves it where it is."""
    reader._transport.pause_reading()  # type: ignore[attr-defined]  # the one way not to read
    writer.get_extra_info("socket").setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    writer.write(f"GET /openapi.json?{MARKER} HTTP/1.1\r\nHost: x\r\n\r\n".encode() * 2)
    await writer.drain()
    await asyncio.sleep(60.0)


async def _break_off(_: asyncio.StreamReader, writer: asyncio.StreamWriter, api_key: str) -> None:
    """Half a body."""
    body = json.dumps(elsewhere(1) | {"name": MARKER}).encode()
    request = _request("compute_clipping", body, api_key)
    writer.write(request[: -len(body) // 2])
    await writer.drain()


async def _send_nonsense(reader: asyncio.StreamReader, writer: asyncio.StreamWriter, _: str) -> None:
    """One of the malformed requests."""
    writer.write(random.choice(MALFORMED))
    await writer.drain()
    with contextlib.suppress(TimeoutError):
        await asyncio.wait_for(reader.read(100), 0.3)


def no_more_than(statuses: Counter[int], allowed: Sequence[int]) -> Iterator[str]:
    """What came back beside the allowed statuses."""
    for status, count in statuses.items():
        if status not in allowed:
            yield f"{count} x {status or 'lost'}"


if __name__ == "__main__":
    _, *numbers = sys.argv
    asyncio.run(be_hostile(int(numbers[0]), numbers[1], numbers[2], int(numbers[3]), int(numbers[4])))

"""Load at a given rate: callers who know nothing of one another, each with a connection of its own.

One thread and bare sockets: what this takes of the machine is not there for the server.
"""

from __future__ import annotations

import random
import selectors
import socket
import statistics
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from tests.benchmarks.wrk import Load

WAIT_S = 60.0
CHUNK = 1 << 18


@dataclass(slots=True)
class _Sent:
    """A request under way: when it was due, and the first bytes of its answer."""

    due: float
    head: bytes = field(default=b"")


def paced(url: str, path: str, bodies: list[str], *, requests_per_s: float, seconds: float) -> Load:
    """Post bodies in turn at random times (a Poisson process, the same in each run).

    A request's time counts from when it was due, so that one held up by others before it counts in full.

    Raises
    ------
    RuntimeError
        Not every answer was 200 and came in time.
    """
    place = urlsplit(url)
    messages = [_message(f"{place.hostname}:{place.port}", path, body) for body in bodies]
    due = _times(requests_per_s, seconds)
    waited_ms: list[float] = []
    with selectors.DefaultSelector() as selector:
        start = time.perf_counter()
        number, next_due = 0, next(due, None)
        while next_due is not None or selector.get_map():
            now = time.perf_counter() - start
            if now > seconds + WAIT_S:
                raise RuntimeError(f"{path}: {len(selector.get_map())} requests are without an answer after {WAIT_S:g} s")
            if next_due is not None and next_due <= now:
                connection = socket.create_connection((place.hostname or "", place.port or 0), timeout=WAIT_S)
                connection.sendall(messages[number % len(messages)])
                selector.register(connection, selectors.EVENT_READ, _Sent(next_due))
                number, next_due = number + 1, next(due, None)
                continue
            for key, _ in selector.select(WAIT_S if next_due is None else next_due - now):
                if _read(key.fileobj, key.data):  # type: ignore[arg-type]  # sockets are all that is registered
                    selector.unregister(key.fileobj)
                    key.fileobj.close()  # type: ignore[union-attr]
                    waited_ms.append(1e3 * (time.perf_counter() - start - key.data.due))
    percentiles = statistics.quantiles(waited_ms, n=100, method="inclusive")
    return Load(len(waited_ms) / seconds, percentiles[49], percentiles[98], len(waited_ms))


def _message(host: str, path: str, body: str) -> bytes:
    content = body.encode()
    head = f"POST {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nContent-Type: application/json\r\n"
    return f"{head}Content-Length: {len(content)}\r\n\r\n".encode() + content


def _read(connection: socket.socket, sent: _Sent) -> bool:
    """Take what has come; gives whether that was the end of an answer with 200."""
    came = connection.recv(CHUNK)
    if came:
        sent.head = sent.head or came[:200]
        return False
    if b" 200 " not in sent.head.split(b"\r\n", 1)[0]:
        raise RuntimeError(f"an answer was not 200: {sent.head!r}")
    return True


def _times(requests_per_s: float, seconds: float) -> Iterator[float]:
    drawn, at_s = random.Random(1), 0.0
    while (at_s := at_s + drawn.expovariate(requests_per_s)) < seconds:
        yield at_s

"""The worker's threads: each takes a whole request, has the application answer it, and sends what the client takes at once."""

from __future__ import annotations

import queue
import threading
import time
from collections import deque
from collections.abc import Callable
from functools import partial
from typing import Any

from gunicorn.http import wsgi

from wattpair_service import handover, refusals
from wattpair_service.connection import Connection, Exchange, Phase

THREAD, MAIN = "thread", "main"
"""Who may answer an exchange."""


class _Output(list[bytes]):
    """Stands where gunicorn expects a socket, and keeps what it sends."""

    def sendall(self, data: bytes) -> None:
        self.append(bytes(data))


class Threads:
    """They begin when started; `finished` has what they are done with, of which `tell` speaks to the main thread.

    Parameters
    ----------
    worker : Worker
        Its application, settings and log.
    tell : callable
        Wakes the main thread; takes nothing.
    may_keep : callable
        Whether connections may be kept for a further request.
    """

    def __init__(self, worker: Any, tell: Callable[[], None], may_keep: Callable[[], bool]) -> None:
        self._worker, self._tell, self._may_keep = worker, tell, may_keep
        self._server_name = worker.sockets[0].getsockname()
        self._ready: queue.SimpleQueue[Exchange] = queue.SimpleQueue()
        self._under_way: dict[Exchange, float] = {}
        """With a thread, and since when."""
        self.finished: deque[tuple[Exchange, Phase | None]] = deque()
        """What each connection is at now, None where it is over."""

    def start(self, count: int) -> None:
        """Daemons: one that never ends does not keep the process."""
        for _ in range(count):
            threading.Thread(target=self._work, daemon=True).start()

    def take(self, exchange: Exchange) -> None:
        """Have it answered."""
        self._ready.put(exchange)

    @property
    def waiting(self) -> int:
        """Requests that no thread has."""
        return self._ready.qsize()

    @property
    def load(self) -> int:
        """Requests that are being answered or wait for it."""
        return self.waiting + len(self._under_way)

    def has(self, exchange: Exchange) -> bool:
        """Whether a thread is at it."""
        return exchange in self._under_way

    def is_stuck(self, before_s: float) -> bool:
        """Whether one has been at its request since before then."""
        return any(since_s < before_s for since_s in list(self._under_way.values()))

    def _work(self) -> None:
        while True:
            exchange = self._ready.get()
            self._under_way[exchange] = time.monotonic()
            after_sending = self._answer(exchange) if exchange.is_open else []
            del self._under_way[exchange]
            self._tell()
            for call in after_sending:
                call()

    def _answer(self, exchange: Exchange) -> list[Callable[[], None]]:
        """Answer in time or not at all; what is to be called after that."""
        after_sending: list[Callable[[], None]] = []
        try:
            output, keeps = self._application_answer(exchange, after_sending)
        except Exception as error:
            self._worker.log.error("a request failed: %s", type(error).__name__, exc_info=error)
            output, keeps = refusals.answer(refusals.FAILED, exchange.identity), False
        if exchange.claim(THREAD):
            self.finished.append((exchange, _sent(exchange.connection, output, keeps)))
        return after_sending

    def _application_answer(self, exchange: Exchange, after_sending: list[Callable[[], None]]) -> tuple[bytes, bool]:
        """The answer's bytes, and whether a further request may follow."""
        output, cfg = _Output(), self._worker.cfg
        response, environ = wsgi.create(exchange.request, output, exchange.connection.address, self._server_name, cfg)
        environ |= {
            "wsgi.multithread": True,
            handover.IDENTITY: exchange.identity,
            handover.ARRIVED_S: exchange.arrived_s,
            handover.CLAIM: partial(exchange.claim, THREAD),
            handover.AFTER_SENDING: after_sending,
        }
        if exchange.is_chunked or not self._may_keep():
            response.force_close()
        items = self._worker.wsgi(environ, response.start_response)
        try:
            for item in items:
                response.write(item)
            response.close()
        finally:
            getattr(items, "close", lambda: None)()
        return b"".join(output), not response.should_close()


def _sent(connection: Connection, data: bytes, keeps: bool) -> Phase | None:
    """Send from the thread, while nobody else has to do with the connection; what it is at then."""
    connection.keeps = keeps
    try:
        is_sent = connection.send(data)
    except OSError:
        return None
    if not is_sent:
        return Phase.ANSWER
    return Phase.IDLE if keeps else None

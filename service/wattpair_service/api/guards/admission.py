"""How much a worker takes on: one calculation at a time, a few that wait, and an early no to the rest.

A calculation is bound to one processor, and each worker has one: two at once would both be late. What waits is bounded, so that
an accepted request is answered within a few times its own duration however many are sent.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from http import HTTPStatus

from flask import Flask, Response, g, request

from wattpair_service import handover
from wattpair_service.api.exchange.problems import Problem
from wattpair_service.api.guards import metrics

BUSY, BUSY_DETAIL = "busy", "The service has as much to do as it can; the same request may be sent again in a moment."
RETRY_AFTER_S = 1


class Load:
    """The calculation that runs and those that wait, in one worker; they come to their turn in the order in which they came."""

    def __init__(self, *, queue_length: int, wait_max_s: float) -> None:
        self._queue_length = queue_length
        self._wait_max_s = wait_max_s
        self._lock = threading.Lock()
        self._is_taken = False
        self._waiting: deque[threading.Lock] = deque()

    @property
    def waiting(self) -> int:
        """Calculations that wait for their turn."""
        return len(self._waiting)

    @property
    def is_full(self) -> bool:
        """Whether a further calculation would be refused."""
        return self._is_taken and self.waiting >= self._queue_length

    def take(self) -> bool:
        """Wait for a turn; False at once where too many wait already, and where the turn does not come in time."""
        with self._lock:
            if self.is_full:
                return False
            if not self._is_taken:
                self._is_taken = True
                return True
            turn = threading.Lock()
            turn.acquire()
            self._waiting.append(turn)
        if turn.acquire(timeout=self._wait_max_s):
            return True
        with self._lock:
            if turn in self._waiting:
                self._waiting.remove(turn)
                return False
        return True  # given in the very last moment

    def give_back(self) -> None:
        """End a turn: it goes straight to the next, whom nobody can overtake."""
        with self._lock:
            if self._waiting:
                self._waiting.popleft().release()
            else:
                self._is_taken = False


def register(app: Flask, load: Load, operation_ids: frozenset[str]) -> None:
    """Take calculations in turn. A body is read before its turn, so that a slow client delays nobody."""

    @app.before_request
    def take_turn() -> None:
        g.has_turn = False
        if request.endpoint not in operation_ids:
            return
        if load.is_full:
            raise _busy()
        if request.mimetype == "application/json":
            request.get_data()
        if not load.take():
            raise _busy()
        g.has_turn = True

    @app.after_request
    def require_open(response: Response) -> Response:
        """What the worker has answered for the application is counted and logged as that answer."""
        claim = request.environ.get(handover.CLAIM)
        return response if claim is None or claim() else _overdue().response()

    @app.teardown_request
    def end_turn(_: BaseException | None) -> None:
        if not g.pop("has_turn", False):
            return
        # The next calculation must not hold up the sending of this one's answer.
        after_sending: list[Callable[[], None]] | None = request.environ.get(handover.AFTER_SENDING)
        if after_sending is None:
            load.give_back()
        else:
            after_sending.append(load.give_back)


def _busy() -> Problem:
    metrics.SHED.inc()
    return Problem(HTTPStatus.SERVICE_UNAVAILABLE, BUSY, BUSY_DETAIL, headers={"Retry-After": str(RETRY_AFTER_S)})


def _overdue() -> Problem:
    return Problem(HTTPStatus.SERVICE_UNAVAILABLE, "overdue", "The answer came too late; the client has been told so.")

"""How much a worker takes on: one calculation at a time, a few that wait, and an early no to the rest.

A calculation is bound to one processor, and each worker has one: two at once would both be late. What waits is bounded, so that
an accepted request is answered within a few times its own duration however many are sent.
"""

from __future__ import annotations

import threading
from http import HTTPStatus

from flask import Flask, g, request

from wattpair_service.api import metrics
from wattpair_service.api.problems import Problem

RETRY_AFTER_S = 1


class Load:
    """The calculation that runs and those that wait, in one worker."""

    def __init__(self, *, queue_length: int, wait_max_s: float) -> None:
        self._most = queue_length + 1
        self._wait_max_s = wait_max_s
        self._taken = 0
        self._count_lock = threading.Lock()
        self._turn = threading.Semaphore(1)

    @property
    def is_full(self) -> bool:
        """Whether a further calculation would be refused."""
        return self._taken >= self._most

    def take(self) -> bool:
        """Wait for a turn; False at once where too many wait already, and where the turn does not come in time."""
        with self._count_lock:
            if self._taken >= self._most:
                return False
            self._taken += 1
        if self._turn.acquire(timeout=self._wait_max_s):
            return True
        with self._count_lock:
            self._taken -= 1
        return False

    def give_back(self) -> None:
        """End a turn."""
        self._turn.release()
        with self._count_lock:
            self._taken -= 1


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

    @app.teardown_request
    def end_turn(_: BaseException | None) -> None:
        if g.pop("has_turn", False):
            load.give_back()


def _busy() -> Problem:
    metrics.SHED.inc()
    return Problem(
        HTTPStatus.SERVICE_UNAVAILABLE,
        "busy",
        "The service has as much to do as it can; the same request may be sent again in a moment.",
        headers={"Retry-After": str(RETRY_AFTER_S)},
    )

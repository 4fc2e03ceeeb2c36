"""How many calculations a copy takes on: one at a time, a few that wait, and an early no to the rest.

A calculation is bound to one processor: two at once would both be late. What waits is bounded, so that an accepted request is
answered within a few times its own duration however many are sent.
"""

from __future__ import annotations

import logging
import os
import signal
import threading
import time
from collections import deque
from http import HTTPStatus

from flask import Flask, g, request

from wattpair_service.api.exchange.problems import Problem
from wattpair_service.api.guards import metrics

LOG = logging.getLogger(__name__)

EXTENSION = "wattpair.admission"
RETRY_AFTER_S = 1
LOOK_S = 0.5
LOG_S = 0.5
"""Time for the last line of the log."""


class Admission:
    """The calculation that runs and those that wait; they come to their turn in the order in which they came."""

    def __init__(self, *, queue_length: int, wait_max_s: float) -> None:
        self._queue_length = queue_length
        self._wait_max_s = wait_max_s
        self._lock = threading.Lock()
        self._running_since_s: float | None = None
        self._waiting: deque[threading.Lock] = deque()

    @property
    def waiting(self) -> int:
        """Calculations that wait for their turn."""
        return len(self._waiting)

    @property
    def is_full(self) -> bool:
        """Whether a further calculation would be refused."""
        return self._running_since_s is not None and self.waiting >= self._queue_length

    @property
    def under_way(self) -> int:
        """Calculations that run or wait."""
        return self.waiting + (self._running_since_s is not None)

    @property
    def running_s(self) -> float:
        """How long the calculation has run; 0 where none runs."""
        since_s = self._running_since_s
        return 0.0 if since_s is None else time.monotonic() - since_s

    def take(self) -> bool:
        """Wait for a turn; False at once where too many wait already, and where the turn does not come in time."""
        with self._lock:
            if self.is_full:
                return False
            if self._running_since_s is None:
                self._running_since_s = time.monotonic()
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
            self._running_since_s = time.monotonic() if self._waiting else None
            if self._waiting:
                self._waiting.popleft().release()

    def watch(self, time_max_s: float) -> None:
        """From now on, kill this process once a calculation takes longer.

        A thread cannot be stopped from outside, and a process that is asked to end waits for its threads.
        """

        def look() -> None:
            while True:
                while self.running_s <= time_max_s:
                    time.sleep(LOOK_S)
                LOG.critical("a calculation does not end: the worker is replaced")
                time.sleep(LOG_S)
                if self.running_s > time_max_s:  # it may have ended in this very moment
                    os.kill(os.getpid(), signal.SIGKILL)

        threading.Thread(target=look, name="watchdog", daemon=True).start()


def of(app: Flask) -> Admission:
    """The admission of an application."""
    admission: Admission = app.extensions[EXTENSION]
    return admission


def register(app: Flask, admission: Admission, operation_ids: frozenset[str]) -> None:
    """Take calculations in turn. A body is read before its turn, so that a slow client delays nobody."""
    app.extensions[EXTENSION] = admission
    metrics.UNDER_WAY.set_function(lambda: admission.under_way)

    @app.before_request
    def take_turn() -> None:
        g.has_turn = False
        if request.endpoint not in operation_ids:
            return
        if admission.is_full:
            raise _busy()
        if request.mimetype == "application/json":
            request.get_data()
        if not admission.take():
            raise _busy()
        g.has_turn = True

    @app.teardown_request
    def end_turn(_: BaseException | None) -> None:
        # Before the answer is sent, so that a client that takes it slowly keeps nobody waiting.
        if g.pop("has_turn", False):
            admission.give_back()


def _busy() -> Problem:
    metrics.REFUSED_BUSY.inc()
    detail = "The service has as much to do as it can; the same request may be sent again in a moment."
    return Problem(HTTPStatus.SERVICE_UNAVAILABLE, "busy", detail, headers={"Retry-After": str(RETRY_AFTER_S)})

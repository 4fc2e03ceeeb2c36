"""How often each key may ask: a count for each minute, in Redis where several copies share it, else in this machine's memory.

Where Redis is gone, each copy counts by itself until it is back, and the log and the metrics say so.
"""

from __future__ import annotations

import fcntl
import json
import logging
import math
import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http import HTTPStatus

from flask import Flask, g, request
from limits import RateLimitItemPerMinute
from limits.storage import RedisStorage, Storage
from limits.strategies import FixedWindowRateLimiter

from wattpair_service.api.exchange.problems import Problem
from wattpair_service.api.guards import metrics
from wattpair_service.api.guards.keys import Key

LOG = logging.getLogger(__name__)

WINDOW_S = 60
REDIS_TIMEOUT_S = 0.25
REDIS_PAUSE_S = 5.0
"""After a failure, requests do not wait for Redis again for this long."""


class WorkersStorage(Storage):
    """Counts that all workers of this machine share: made before they are forked, in memory that has no name.

    The kernel lets go of the lock of a worker that dies. Time is the monotonic clock, so that a step of the wall clock neither
    frees nor locks out anyone.
    """

    STORAGE_SCHEME: list[str] | None = [  # noqa: RUF012 - as the library declares it
        "wattpair-workers"
    ]

    def __init__(self) -> None:
        super().__init__()
        self._file = os.memfd_create("wattpair-limits")
        self._thread_lock = threading.Lock()

    @property
    def base_exceptions(self) -> type[Exception]:
        """What can go wrong with a file."""
        return OSError

    @contextmanager
    def _counts(self) -> Iterator[dict[str, list[float]]]:
        """By key the count and when it ends; written back after a change."""
        # The kernel's lock is one for all threads of a process.
        with self._thread_lock:
            fcntl.lockf(self._file, fcntl.LOCK_EX)
            try:
                text = os.pread(self._file, os.fstat(self._file).st_size, 0)
                now = time.monotonic()
                try:
                    before = {key: held for key, held in json.loads(text or "{}").items() if held[1] > now}
                except ValueError:  # a worker died while it wrote
                    before = {}
                counts = {key: list(held) for key, held in before.items()}
                yield counts
                if counts != before:
                    os.ftruncate(self._file, 0)
                    os.pwrite(self._file, json.dumps(counts).encode(), 0)
            finally:
                fcntl.lockf(self._file, fcntl.LOCK_UN)

    def incr(self, key: str, expiry: int, amount: int = 1) -> int:
        """Count further requests; the count after them."""
        with self._counts() as counts:
            held = counts.setdefault(key, [0, time.monotonic() + expiry])
            held[0] += amount
            return int(held[0])

    def get(self, key: str) -> int:
        """The count."""
        with self._counts() as counts:
            return int(counts.get(key, (0, 0.0))[0])

    def get_expiry(self, key: str) -> float:
        """When the count ends, by the wall clock as the library has it."""
        with self._counts() as counts:
            now = time.monotonic()
            return time.time() + counts.get(key, (0, now))[1] - now

    def check(self) -> bool:
        """Memory is always there."""
        return True

    def reset(self) -> int | None:
        """Forget everything."""
        with self._counts() as counts:
            number = len(counts)
            counts.clear()
        return number

    def clear(self, key: str) -> None:
        """Forget one key."""
        with self._counts() as counts:
            counts.pop(key, None)


class Limits:
    """The count of each key."""

    def __init__(self, *, requests_per_minute: int, redis_url: str | None) -> None:
        self._requests_per_minute = requests_per_minute
        self._memory = FixedWindowRateLimiter(WorkersStorage())
        self._redis = None if redis_url is None else FixedWindowRateLimiter(_redis_storage(redis_url))
        self._redis_again_s = -math.inf
        self._redis_gone = False

    def wait_s(self, key: Key) -> int | None:
        """Count a request of a key; whole seconds until it may ask again, None where it may go on."""
        limit = RateLimitItemPerMinute(key.requests_per_minute or self._requests_per_minute, namespace="wattpair")
        if self._redis is not None and time.monotonic() >= self._redis_again_s:
            try:
                wait_s = _wait_s(self._redis, limit, key.name)
            except _redis_faults() as error:
                self._redis_again_s = time.monotonic() + REDIS_PAUSE_S
                if not self._redis_gone:
                    LOG.warning("Redis is gone (%s): this copy counts the limits by itself", type(error).__name__)
                self._redis_gone = True
            else:
                if self._redis_gone:
                    LOG.info("Redis is back: all copies count the limits together")
                self._redis_gone = False
                return wait_s
        if self._redis is not None:
            metrics.LIMITS_WITHOUT_REDIS.inc()
        return _wait_s(self._memory, limit, key.name)


def _redis_storage(url: str) -> Storage:
    return RedisStorage(url, socket_timeout=REDIS_TIMEOUT_S, socket_connect_timeout=REDIS_TIMEOUT_S)


def _redis_faults() -> tuple[type[Exception], ...]:
    # Redis is imported where it is used: a sixteenth of the start.
    from redis.exceptions import RedisError

    return RedisError, OSError


def _wait_s(limiter: FixedWindowRateLimiter, limit: RateLimitItemPerMinute, name: str) -> int | None:
    if limiter.hit(limit, name):
        return None
    remaining_s = limiter.storage.get_expiry(limit.key_for(name)) - time.time()
    # Not beyond the window, whatever the clocks of the two machines say.
    return math.ceil(min(max(remaining_s, 1), WINDOW_S))


def register(app: Flask, limits: Limits, operation_ids: frozenset[str], is_full: Callable[[], bool]) -> None:
    """Count the requests of each key for calculations; without keys there is nobody to tell apart.

    What finds the service full is refused anyway and does not count against its key.
    """

    @app.before_request
    def count() -> None:
        if g.key is None or request.endpoint not in operation_ids or is_full():
            return
        wait_s = limits.wait_s(g.key)
        if wait_s is not None:
            raise Problem(
                HTTPStatus.TOO_MANY_REQUESTS,
                "too-many-requests",
                f"The key {g.key.name} has used up its requests of this minute; ask again in {wait_s} s.",
                headers={"Retry-After": str(wait_s)},
            )

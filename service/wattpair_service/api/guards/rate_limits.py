"""How many calculations each key may ask for in a minute: counted in Redis where several copies share it, else in memory.

Where Redis is gone, each copy counts by itself until it is back, and the log and the metrics say so.
"""

from __future__ import annotations

import logging
import math
import time
from collections.abc import Callable
from http import HTTPStatus

from flask import Flask, g, request
from limits import RateLimitItemPerMinute
from limits.storage import MemoryStorage, RedisStorage, Storage
from limits.strategies import FixedWindowRateLimiter

from wattpair_service.api.exchange.problems import Problem
from wattpair_service.api.guards import metrics
from wattpair_service.api.guards.keys import Key

LOG = logging.getLogger(__name__)

WINDOW_S = 60
REDIS_TIMEOUT_S = 0.25
REDIS_PAUSE_S = 5.0
"""After a failure, requests do not wait for Redis again for this long."""
CLOCK_STEP_S = 5.0
"""From which on the wall clock, by which the library's memory counts, has been set."""


class RateLimits:
    """The count of each key."""

    def __init__(self, *, requests_per_minute: int, redis_url: str | None) -> None:
        self._requests_per_minute = requests_per_minute
        self._memory = FixedWindowRateLimiter(MemoryStorage())
        self._clock_offset_s = _clock_offset_s()
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
        self._begin_anew_where_the_clock_was_set()
        return _wait_s(self._memory, limit, key.name)

    def _begin_anew_where_the_clock_was_set(self) -> None:
        """Else a clock that is set back would lock out, for as long, whoever has used up a minute."""
        offset_s = _clock_offset_s()
        if abs(offset_s - self._clock_offset_s) > CLOCK_STEP_S:
            self._clock_offset_s = offset_s
            self._memory.storage.reset()


def _clock_offset_s() -> float:
    return time.time() - time.monotonic()


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


def register(app: Flask, limits: RateLimits, operation_ids: frozenset[str], is_full: Callable[[], bool]) -> None:
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

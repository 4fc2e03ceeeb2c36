"""What a copy of the service counts of itself, for Prometheus.

No label holds anything of a caller: operations, statuses and the names of caches only.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from flask import Flask, Response, g, request
from prometheus_client import CONTENT_TYPE_LATEST, Counter, Gauge, Histogram, generate_latest

from wattpair_service.api.guards import log_lines

BUCKETS_S = (0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)

REQUESTS = Counter("wattpair_requests", "Answers by operation and status", ["operation", "status"])
LATENCY = Histogram(
    "wattpair_request_seconds",
    "From the application's first sight of a request to its answer, with waiting for a turn",
    ["operation"],
    buckets=BUCKETS_S,
)
CORE = Histogram("wattpair_core_seconds", "Calculation alone, without JSON and waiting", ["operation"], buckets=BUCKETS_S)
CACHE = Counter(
    "wattpair_cache_lookups",
    "Look-ups in the caches of climates, years, modules and faces",
    ["cache", "outcome"],
)
UNDER_WAY = Gauge("wattpair_calculations_under_way", "Calculations that run or wait for their turn")
REFUSED_BUSY = Counter("wattpair_busy_requests", "Requests answered 503 because enough were waiting")
LOG_LINES_DROPPED = Counter("wattpair_log_lines_dropped", "Lines of the log that could not be written")
log_lines.on_drop.append(LOG_LINES_DROPPED.inc)
LIMITS_WITHOUT_REDIS = Counter("wattpair_limits_without_redis", "Requests counted by this copy alone, since Redis was gone")


def _caches() -> dict[str, Callable[..., Any]]:
    """The caches by name; imported where the application is built, not where only a worker is started."""
    from wattpair_service.climate import atlas, site_year, stations
    from wattpair_service.engineering.energy import face_cache
    from wattpair_service.engineering.module import single_diode
    from wattpair_service.engineering.site_year import cached_subhourly_states

    return {
        "atlas_conditions": atlas.conditions,
        "site_climate": atlas.at,
        "site_air": atlas.air,
        "module_fit": single_diode.fit,
        "station_year": stations.year_of,
        "file": site_year.file_weather,
        "hourly_conditions": site_year.cached_conditions,
        "subhourly_states": cached_subhourly_states,
        "faces": face_cache.cached_slot,
    }


class _CacheWatch:
    """Turns the running totals of the caches into counts."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._caches = _caches()
        self._seen = dict.fromkeys(self._caches, (0, 0))

    def look(self) -> None:
        with self._lock:
            for name, cached in self._caches.items():
                info = cached.cache_info()  # type: ignore[attr-defined]
                if (found := (info.hits, info.misses)) == self._seen[name]:
                    continue
                for outcome, now, before in zip(("hit", "miss"), found, self._seen[name], strict=True):
                    CACHE.labels(name, outcome).inc(max(now - before, 0))
                self._seen[name] = found


@contextmanager
def core_time(operation_id: str) -> Iterator[None]:
    """Measure a calculation."""
    with CORE.labels(operation_id).time():
        yield


def register(app: Flask) -> None:
    """Count every answer, and tell the counts at /metrics."""
    watch = _CacheWatch()

    @app.before_request
    def start() -> None:
        g.started_s = time.monotonic()

    @app.after_request
    def count(response: Response) -> Response:
        operation = request.endpoint or "unknown"
        REQUESTS.labels(operation, str(response.status_code)).inc()
        LATENCY.labels(operation).observe(time.monotonic() - g.started_s)
        watch.look()
        return response

    @app.get("/metrics")
    def metrics() -> Response:
        return Response(generate_latest(), content_type=CONTENT_TYPE_LATEST)

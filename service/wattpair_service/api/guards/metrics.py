"""What the service counts of itself, for Prometheus, over all workers of a copy.

No label holds anything of a caller: operations, statuses and the names of caches only.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from flask import Flask, Response, g, request
from prometheus_client import CONTENT_TYPE_LATEST, REGISTRY, CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector

from wattpair_service import handover
from wattpair_service.api.guards import log_lines
from wattpair_service.climate import atlas, site_year, stations
from wattpair_service.engineering.energy import face_cache
from wattpair_service.engineering.module import single_diode
from wattpair_service.engineering.site_year import cached_subhourly_states

FOLDER_VARIABLE = "PROMETHEUS_MULTIPROC_DIR"
"""Where prometheus-client keeps the counts of all workers; set before this module is imported."""
UNREAD = "unread"
"""The operation of what was no request that the service reads."""
BUCKETS_S = (0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)

REQUESTS = Counter("wattpair_requests", "Answers by operation and status", ["operation", "status"])
LATENCY = Histogram(
    "wattpair_request_seconds", "From a request's last byte to its answer, with waiting", ["operation"], buckets=BUCKETS_S
)
CORE = Histogram("wattpair_core_seconds", "Calculation alone, without JSON and waiting", ["operation"], buckets=BUCKETS_S)
CACHE = Counter(
    "wattpair_cache_lookups",
    "Look-ups in the caches of climates, years, modules and light",
    ["cache", "outcome"],
)
SHED = Counter("wattpair_shed_requests", "Requests answered 503 because enough were waiting")
LOG_LINES_DROPPED = Counter("wattpair_log_lines_dropped", "Lines of the log that could not be written")
log_lines.watchers.append(LOG_LINES_DROPPED.inc)
LIMITS_WITHOUT_REDIS = Counter("wattpair_limits_without_redis", "Requests counted by this copy alone, since Redis was gone")

CACHES: dict[str, Callable[..., Any]] = {
    "atlas_conditions": atlas.conditions,
    "site_climate": atlas.at,
    "site_air": atlas.air,
    "module_fit": single_diode.fit,
    "station_year": stations.year_of,
    "file": site_year.file_weather,
    "hourly_conditions": site_year.cached_conditions,
    "subhourly_states": cached_subhourly_states,
    "roof_light": face_cache.cached_slot,
}


class _CacheWatch:
    """Turns the running totals of this process's caches into counts that all workers share."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._seen = dict.fromkeys(CACHES, (0, 0))

    def look(self) -> None:
        with self._lock:
            for name, cached in CACHES.items():
                info = cached.cache_info()  # type: ignore[attr-defined]
                if (found := (info.hits, info.misses)) == self._seen[name]:
                    continue
                for outcome, now, before in zip(("hit", "miss"), found, self._seen[name], strict=True):
                    CACHE.labels(name, outcome).inc(max(now - before, 0))
                self._seen[name] = found


def count_refused(status: int) -> None:
    """Count what a worker itself answers, before there is a request that an operation could be found for."""
    REQUESTS.labels(UNREAD, str(status)).inc()


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
        g.started_s = request.environ.get(handover.ARRIVED_S, time.monotonic())

    @app.after_request
    def count(response: Response) -> Response:
        operation = request.endpoint or "unknown"
        REQUESTS.labels(operation, str(response.status_code)).inc()
        LATENCY.labels(operation).observe(time.monotonic() - g.started_s)
        watch.look()
        return response

    @app.get("/metrics")
    def metrics() -> Response:
        return Response(generate_latest(_registry()), content_type=CONTENT_TYPE_LATEST)


def _registry() -> CollectorRegistry:
    if FOLDER_VARIABLE not in os.environ:
        return REGISTRY
    registry = CollectorRegistry()
    MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
    return registry

"""The service under gunicorn: its settings, each with its reason."""

from __future__ import annotations

import gc
import os
import resource
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from flask import Flask
from gunicorn.app.base import BaseApplication
from gunicorn.glogging import Logger
from prometheus_client import values

from wattpair_service import allocator, metrics_folder
from wattpair_service.api.guards import logs
from wattpair_service.arbiter import Arbiter
from wattpair_service.settings import SettingError, Settings

if TYPE_CHECKING:
    from wattpair_service.worker import Worker

MEMORY_FOLDER = Path("/dev/shm")  # noqa: S108  # nosec B108
"""Memory; what is made in it has a random name."""
METRICS_VARIABLE = "PROMETHEUS_MULTIPROC_DIR"
SPARE_THREADS = 4
"""Beside the calculations: for health, metrics and refusals."""
KEEPALIVE_S = 75
"""Longer than proxies keep a connection (60 s is common), so that it is they who close it."""
STOP_SPARE_S = 5
SILENCE_LEAST_S = 10
SPARE_FILES = 256
CONNECTIONS_LEAST = 100


class _Log(Logger):  # type: ignore[misc]  # gunicorn publishes no types
    """gunicorn's own messages, in the service's log; its access log is off, since the service writes one."""

    def setup(self, cfg: Any) -> None:
        self.cfg = cfg
        self._access_log_enabled = False
        self.error_log.propagate = True


class _Server(BaseApplication):  # type: ignore[misc]
    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        super().__init__()

    def load_config(self) -> None:
        """Set what gunicorn needs to know."""
        from wattpair_service.worker import Worker  # the metrics' folder must be known before

        settings = self.settings
        options: dict[str, Any] = {
            "bind": f"[{settings.host}]:{settings.port}" if ":" in settings.host else f"{settings.host}:{settings.port}",
            # One for each processor: calculations hold it from beginning to end.
            "workers": settings.workers,
            # Threads let a worker refuse and tell its health while it calculates.
            "worker_class": Worker,
            "threads": settings.queue_length + 1 + SPARE_THREADS,
            "worker_connections": _connections(settings.connections_max),
            # Data and code are read once and shared by all workers.
            "preload_app": True,
            # What a library might leak ends with the worker; not all workers at the same time.
            "max_requests": settings.worker_requests_max,
            "max_requests_jitter": settings.worker_requests_max // 5,
            # A worker whose main thread says nothing for so long is killed; Worker watches over single requests.
            "timeout": max(settings.request_time_max_s, SILENCE_LEAST_S),
            "graceful_timeout": settings.request_time_max_s + STOP_SPARE_S,
            "keepalive": KEEPALIVE_S,
            # No header says where a request came from, or where the service stands: nothing here asks for it.
            "forwarded_allow_ips": "",
            # The sign of life must not wait for a disk.
            "worker_tmp_dir": str(_memory_folder()),
            # A control socket in the home directory would fail on a read-only file system.
            "control_socket_disable": True,
            "logger_class": _Log,
            "pre_fork": _give_slot,
            "post_fork": _take_slot,
            # In each worker, too: what a request writes to in shared memory becomes the worker's own before it serves.
            "post_worker_init": _warm,
        }
        for name, value in options.items():
            self.cfg.set(name, value)

    def run(self) -> None:
        """Serve until told to stop."""
        Arbiter(self).run()

    def load(self) -> Flask:
        """Build the application, once, before the workers are forked."""
        from wattpair_service.api.guards import warming
        from wattpair_service.app import create_app

        app = create_app(self.settings)
        warming.warm(app)
        # What is loaded now stays for good: the collector need not touch it, so that the workers go on sharing its pages.
        gc.collect()
        gc.freeze()
        # A worker that fills a gap in what it shares with the master would have a copy of the page.
        allocator.give_back()
        return app


def serve(settings: Settings) -> None:
    """Serve until told to stop."""
    logs.configure()
    allocator.settle()
    metrics_folder.sweep(_memory_folder())
    folder = metrics_folder.make(_memory_folder())
    try:
        os.environ[METRICS_VARIABLE] = str(folder)
        values.ValueClass = values.MultiProcessValue(lambda: _slot)  # type: ignore[no-untyped-call]
        _Server(settings).run()
    finally:
        if os.getpid() == _master:
            shutil.rmtree(folder, ignore_errors=True)


_master = os.getpid()
_slot = "master"
"""Names this process's file of counts. A new worker goes on with the file of one that ended: recycling leaves none behind,
and no count is lost."""


def _give_slot(arbiter: Any, worker: Worker) -> None:
    taken = {other.slot for other in arbiter.WORKERS.values()}
    worker.slot = next(number for number in range(len(taken) + 1) if number not in taken)


def _take_slot(_: Any, worker: Worker) -> None:
    global _slot
    _slot = f"worker{worker.slot}"


def _warm(worker: Worker) -> None:
    from wattpair_service.api.guards import warming

    warming.warm(worker.wsgi)


def _memory_folder() -> Path:
    return MEMORY_FOLDER if os.access(MEMORY_FOLDER, os.W_OK) else Path(tempfile.gettempdir())


def _connections(wanted: int) -> int:
    """Connections of a worker: as many as are wanted and the limit on open files has room for."""
    files = _open_files()
    if files - SPARE_FILES < CONNECTIONS_LEAST:
        needed = SPARE_FILES + CONNECTIONS_LEAST
        raise SettingError(f"the limit on open files is {files}; allowed is {needed} or more (ulimit -n)")
    return min(wanted, files - SPARE_FILES)


def _open_files() -> int:
    """Raise the soft limit on open files to the hard one; how many that is."""
    _, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (hard, hard))
    return hard if hard != resource.RLIM_INFINITY else 1 << 20

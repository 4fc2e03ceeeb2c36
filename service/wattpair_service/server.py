"""The service under gunicorn's threaded worker: its settings, each with its reason."""

from __future__ import annotations

import gc
import logging
import os
import tempfile
from ipaddress import ip_address
from pathlib import Path
from typing import TYPE_CHECKING, Any

from gunicorn.app.base import BaseApplication
from gunicorn.glogging import Logger

from wattpair_service.api.guards import log_lines
from wattpair_service.api.guards.keys import Keyring
from wattpair_service.settings import Settings

if TYPE_CHECKING:
    from flask import Flask
    from gunicorn.workers.gthread import ThreadWorker

LOG = logging.getLogger(__name__)

MEMORY_FOLDER = Path("/dev/shm")  # noqa: S108  # nosec B108
"""Memory; what is made in it has a random name."""
SPARE_THREADS = 4
"""Beside the calculations: for health, metrics and refusals."""
KEEPALIVE_S = 75
"""Longer than the proxy keeps a connection (60 s), so that it is the proxy that closes it."""
STOP_SPARE_S = 5
WORKER_SILENCE_MAX_S = 60


class _Log(Logger):  # type: ignore[misc]  # gunicorn publishes no types
    """gunicorn's own messages, in the service's log; its access log is off, since the service writes one."""

    def setup(self, cfg: Any) -> None:
        self.cfg = cfg
        self._access_log_enabled = False
        self.error_log.propagate = True
        # Without gunicorn's wrappers of the log: a line's place is then where it was written, which the filter asks for.
        for level in ("critical", "error", "warning", "info", "debug", "exception", "log"):
            setattr(self, level, getattr(self.error_log, level))


class _Server(BaseApplication):  # type: ignore[misc]
    def __init__(self, settings: Settings, keyring: Keyring | None) -> None:
        self.settings = settings
        self.keyring = keyring
        super().__init__()

    def load_config(self) -> None:
        """Set what gunicorn needs to know."""
        for name, value in options(self.settings).items():
            self.cfg.set(name, value)

    def load(self) -> Flask:
        """Build the application, in the worker: the process that only starts workers stays small."""
        from wattpair_service.api.guards import warming
        from wattpair_service.app import create_app

        app = create_app(self.settings, self.keyring)
        warming.warm(app)
        # What is loaded now stays for good: the collector need not look at it again.
        gc.collect()
        gc.freeze()
        return app


def options(settings: Settings) -> dict[str, Any]:
    """What gunicorn is told."""
    host = f"[{settings.host}]" if ":" in settings.host else settings.host
    return {
        "bind": f"{host}:{settings.port}",
        # One calculation at a time takes a processor: more processors are for more copies, which share nothing but Redis.
        "workers": 1,
        "worker_class": "gthread",
        # A calculation, those that wait, and some more: with fewer, health and refusals would wait behind calculations.
        "threads": settings.queue_length + 1 + SPARE_THREADS,
        # The worker's main loop only waits for connections; admission watches over calculations.
        "timeout": WORKER_SILENCE_MAX_S,
        "graceful_timeout": settings.request_time_max_s + STOP_SPARE_S,
        "keepalive": KEEPALIVE_S,
        # What is too long or too much, the proxy refuses: all that passes it (8 kB a line, 32 kB of headers) passes here.
        "limit_request_line": 0,
        "limit_request_fields": 32_768,
        "limit_request_field_size": 16_384,
        # No header says where a request came from, or where the service stands: nothing here asks for it.
        "forwarded_allow_ips": "",
        # The sign of life must not wait for a disk.
        "worker_tmp_dir": str(MEMORY_FOLDER) if os.access(MEMORY_FOLDER, os.W_OK) else tempfile.gettempdir(),
        # A control socket in the home directory would fail on a read-only file system.
        "control_socket_disable": True,
        "logger_class": _Log,
        "post_worker_init": _watch,
    }


def serve(settings: Settings) -> None:
    """Serve until told to stop."""
    # Read before anything starts, so that a bad file is told in one line. A worker that is started while the file is broken has
    # these keys, since the other workers' are gone with them.
    keyring = Keyring(settings.keys_file) if settings.keys_file else None
    log_lines.configure()
    if not ip_address(settings.host).is_loopback:
        LOG.warning(
            "listening beyond loopback: a proxy that takes whole requests and answers is expected in front of the service"
        )
    _Server(settings, keyring).run()


def _watch(worker: ThreadWorker) -> None:
    """Threads do not outlive a fork: the watchdog begins in the worker."""
    from wattpair_service.api.guards import admission

    admission.of(worker.wsgi).watch(worker.app.settings.request_time_max_s)

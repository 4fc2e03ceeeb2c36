"""The lines of the log: one JSON object each on standard error, which no request waits for.

Of a fault a line tells the kind of the exception and the places in the code, not the exception's message, which may quote what
was sent.
"""

from __future__ import annotations

import atexit
import json
import logging
import logging.config
import logging.handlers
import os
import queue
import sys
import time
import traceback
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

LOG = logging.getLogger("wattpair_service")

on_drop: list[Callable[[], None]] = []
"""Called for each line that is dropped."""

_FRAMES_KEPT = 8


class JsonLines(logging.Formatter):
    """A record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """Time, level, logger, message, the record's own fields, and where a fault arose."""
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "process": record.process,
            "message": record.getMessage(),
            **getattr(record, "fields", {}),
        }
        if record.exc_info and record.exc_info[1] is not None:
            error = record.exc_info[1]
            frames = traceback.extract_tb(error.__traceback__)[-_FRAMES_KEPT:]
            line["exception"] = type(error).__name__
            line["at"] = [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in frames]
        return json.dumps(line, ensure_ascii=True, default=str)


STDERR = 2
LINES_WAITING_MOST = 10_000
END_S = 1.0
"""What the process waits at its end for the log's reader."""


def _count_dropped() -> None:
    for call in on_drop:
        call()


class NeverWaiting(logging.handlers.QueueHandler):
    """Hands each line to a thread that writes it; drops and counts lines where too many wait for a reader that stalls."""

    queue: queue.Queue[logging.LogRecord]

    def __init__(self) -> None:
        super().__init__(queue.Queue())
        self._begin()
        os.register_at_fork(after_in_child=self._begin)  # threads do not outlive a fork
        atexit.register(self._end)

    def _begin(self) -> None:
        self.queue = queue.Queue(LINES_WAITING_MOST)
        logging.handlers.QueueListener(self.queue, _Lines()).start()

    def enqueue(self, record: logging.LogRecord) -> None:
        """Never wait."""
        try:
            self.queue.put_nowait(record)
        except queue.Full:
            _count_dropped()

    def _end(self) -> None:
        end_s = time.monotonic() + END_S
        while self.queue.qsize() and time.monotonic() < end_s:
            time.sleep(0.01)


class _Lines(logging.Handler):
    """Writes what is formatted already; a full disk or a reader that has gone costs the line."""

    def emit(self, record: logging.LogRecord) -> None:
        try:
            os.write(STDERR, f"{record.msg}\n".encode())
        except OSError:
            _count_dropped()


OWN = ("wattpair_service", "gunicorn", "py.warnings")
GUNICORN_REQUESTS = ("/gunicorn/workers/", "/gunicorn/http/")
"""Where gunicorn's messages quote what was sent."""


def _only_own_words(record: logging.LogRecord) -> bool:
    """What a library says may quote what was sent: keep its errors alone, and of them where they were written."""
    of_request = any(part in record.pathname for part in GUNICORN_REQUESTS)
    if record.name.startswith(OWN) and not of_request:
        return True
    record.msg, record.args = f"{record.pathname}:{record.lineno}", ()
    return record.levelno >= (logging.WARNING if of_request else logging.ERROR)


CONFIGURATION: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"json": {"()": JsonLines}},
    "handlers": {"stderr": {"()": NeverWaiting, "formatter": "json", "filters": [_only_own_words]}},
    "root": {"level": "INFO", "handlers": ["stderr"]},
}


def configure() -> None:
    """Write the log as JSON lines; where it cannot be written, requests are answered all the same."""
    logging.config.dictConfig(CONFIGURATION)
    logging.raiseExceptions = False
    logging.captureWarnings(capture=True)
    logging.getLogger("py.warnings").addFilter(_only_place_of_warning)
    sys.excepthook = _log_uncaught


def _only_place_of_warning(record: logging.LogRecord) -> bool:
    """A library's warning may quote data: keep where it arose and its kind."""
    text = record.getMessage()
    record.msg, record.args = ":".join(text.split(":", 3)[:3])[:300], ()
    return True


def _log_uncaught(kind: type[BaseException], error: BaseException, frames: Any) -> None:
    LOG.critical("the process ends on a fault", exc_info=(kind, error, frames))

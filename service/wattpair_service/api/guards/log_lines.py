"""The log's way out of the process, on which no request waits for whoever reads it."""

from __future__ import annotations

import logging
import os
import select
import stat
from collections.abc import Callable
from contextlib import suppress
from typing import TextIO

watchers: list[Callable[[], None]] = []
"""Called for each line that is dropped."""


class LineHandler(logging.Handler):
    """Writes each record as a line, or drops it where that cannot be: a reader that stalls, a full disk.

    Parameters
    ----------
    stream : text file or None
        Where to, by its descriptor; None where the process was started without it.
    """

    def __init__(self, stream: TextIO | None) -> None:
        super().__init__()
        self._descriptor = _descriptor(stream.fileno()) if stream is not None else os.open(os.devnull, os.O_WRONLY)
        self._poll = select.poll()
        self._poll.register(self._descriptor, select.POLLOUT)
        self._begin()
        os.register_at_fork(after_in_child=self._begin)  # what its parent owes, its parent tells

    def _begin(self) -> None:
        self._rest = b""
        """Of a line that was taken in part."""
        self._dropped = 0

    def emit(self, record: logging.LogRecord) -> None:
        """Write or drop it; what was dropped before is told first."""
        if self._dropped and self._takes(_told(self._dropped)):
            self._dropped = 0
        if self._dropped or not self._takes(record):
            self._dropped += 1
            for call in watchers:
                call()

    def _takes(self, record: logging.LogRecord) -> bool:
        """Whether the whole line will be written: at once, or its rest before any other."""
        self._rest = self._rest[self._write(self._rest) :]
        if self._rest:
            return False
        line = self._line(record)
        length = self._write(line)
        self._rest = line[length:] if length else b""
        return length > 0

    def _line(self, record: logging.LogRecord) -> bytes:
        try:
            return (self.format(record) + "\n").encode()
        except Exception as error:  # what is wrong with a record is the log's to tell, and no reason to fail a request
            return (self.format(_faulty(record, error)) + "\n").encode()

    def _write(self, data: bytes) -> int:
        """Bytes that were taken."""
        if not data or not self._poll.poll(0):  # to wait, however briefly, would slow requests to the pace of a slow reader
            return 0
        try:
            return os.write(self._descriptor, data)
        except OSError:  # another process has filled the pipe, the disk is full, or the reader has gone
            return 0


def _descriptor(given: int) -> int:
    """A descriptor of a pipe on which nothing waits; of all else the one that was given, which is asked before.

    The flag belongs to what is open, which other processes share: the pipe is opened once more.
    """
    with suppress(OSError):  # no /proc, or another user's pipe
        if stat.S_ISFIFO(os.fstat(given).st_mode):
            return os.open(f"/proc/self/fd/{given}", os.O_WRONLY | os.O_NONBLOCK)
    return given


def _faulty(record: logging.LogRecord, error: Exception) -> logging.LogRecord:
    """In its place; without its words, which are a customer's perhaps."""
    message, place = "a line of the log has no words: %s at %s:%d", (type(error).__name__, record.pathname, record.lineno)
    return logging.makeLogRecord({"name": record.name, "levelname": "ERROR", "msg": message, "args": place})


def _told(dropped: int) -> logging.LogRecord:
    message = "%d lines of the log could not be written and were dropped"
    return logging.makeLogRecord({"name": __name__, "levelname": "WARNING", "msg": message, "args": (dropped,)})

"""A JSON Lines file that keeps each outcome of many calls as soon as it is there.

The first line says what the file is: its format, the versions of client and contract, the service's address and the call; a run
with another of them is refused, since its results would not go together. Begin a new file after an update of the service, which
the file cannot see. Each further line is one outcome: the key of its request, with the answer, or with the problem where the
service refused the request for good. Errors that may pass, such as a broken connection, are not kept: going on tries those
requests again. Requests are told by what they ask, so that their order may change and some may come or go between two runs.

Each line is handed to the operating system before the next outcome is looked at: the end of the process, however sudden, loses
nothing that was noted. It is forced to the disk (fsync) once a second and at the end: a power failure loses at most the last
second, which is then computed again. A last line that was cut off is dropped when the file is opened again.
"""

from __future__ import annotations

import contextlib
import os
import time
from pathlib import Path
from typing import Any, Generic, TypeVar

import msgspec

from wattpair import codec
from wattpair._version import CONTRACT_VERSION, __version__
from wattpair.call import Call
from wattpair.errors import Error, ResultsFileError, StatusError, class_of
from wattpair.models import Problem

R = TypeVar("R")
VERSIONS = {"wattpair_results": 1, "client_version": __version__, "contract_version": CONTRACT_VERSION}
SYNC_EVERY_S = 1.0
FINAL_STATUSES = frozenset({400, 413, 415, 422})
"""Refusals that the same request would meet again."""


class _Line(msgspec.Struct, omit_defaults=True):
    """An outcome: an answer, or the arguments of a StatusError."""

    key: str
    answer: msgspec.Raw = msgspec.Raw()
    refusal: tuple[str, int, Problem | None, str, int | None, str] | None = None


class ResultsFile(Generic[R]):
    """The open file, new or to go on with. It knows where in it each outcome stands, and holds none of them.

    Raises ResultsFileError where it is of another version, service or call, damaged, or in use by another process.
    """

    def __init__(self, path: Path, call: Call, base_url: str) -> None:
        self._path = path
        self._kind = call.result
        self._offsets: dict[str, int] = {}
        self._synced_s = time.monotonic()
        try:
            self._file = path.open("a+b")
        except OSError as error:
            raise ResultsFileError(f"{path} cannot be written: {error.strerror}; name another file") from error
        try:
            with contextlib.suppress(ImportError):  # of a system without such locks
                import fcntl

                fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            self._read({**VERSIONS, "base_url": base_url, "call": call.name})
        except BaseException as error:
            self._file.close()
            if isinstance(error, BlockingIOError):
                raise ResultsFileError(f"{path} is being written by another run; wait for it, or name another file") from None
            raise

    def get(self, key: str) -> R | Error | None:
        """The outcome that is kept of a request, if there is one."""
        if key not in self._offsets:
            return None
        self._file.seek(self._offsets[key])
        return self._decoded(self._file.readline())[1]

    def add(self, key: str, outcome: R | Error) -> None:
        """Keep an outcome, if it is one for good."""
        if isinstance(outcome, StatusError) and outcome.status in FINAL_STATUSES:
            line = _Line(key, refusal=outcome.args)
        elif isinstance(outcome, Error):
            return
        else:
            line = _Line(key, msgspec.Raw(codec.to_json(outcome)))
        offset = self._file.seek(0, os.SEEK_END)
        self._write(line)
        self._offsets[key] = offset
        if time.monotonic() - self._synced_s >= SYNC_EVERY_S:
            self._sync()

    def close(self) -> None:
        """Force what was written to the disk, and let go of the file."""
        with self._file:
            self._sync()

    def _sync(self) -> None:
        os.fsync(self._file.fileno())
        self._synced_s = time.monotonic()

    def _write(self, line: object) -> None:
        self._file.write(msgspec.json.encode(line) + b"\n")
        self._file.flush()

    def _read(self, header: dict[str, Any]) -> None:
        """Learn where each outcome stands; the file ends with a whole line afterwards."""
        self._file.seek(0)
        first = self._file.readline()
        if not first.endswith(b"\n") and msgspec.json.encode(header).startswith(first):
            # New, or cut off within its first line.
            self._file.truncate(0)
            self._write(header)
            return
        found: dict[str, Any] = {}
        with contextlib.suppress(msgspec.DecodeError):
            found = codec.decode(first, dict[str, Any])
        if "wattpair_results" not in found:
            raise ResultsFileError(f"{self._path} is no file of results; name another file, or one that does not exist yet")
        for name, needed in header.items():
            if (value := found.get(name)) != needed:
                fault = f"is of another {name.replace('_', ' ')}: {value!r} stands there, {needed!r} is needed"
                raise ResultsFileError(f"{self._path} {fault}; finish it with what began it, or begin a new file")
        offset = len(first)
        for number, line in enumerate(self._file, start=2):
            if not line.endswith(b"\n"):
                self._file.truncate(offset)
                return
            try:
                key, _ = self._decoded(line)
            except msgspec.DecodeError as error:
                remedy = "take that line out and its request is computed again"
                raise ResultsFileError(f"{self._path}, line {number} is damaged ({error}); {remedy}") from error
            self._offsets[key] = offset
            offset += len(line)

    def _decoded(self, line: bytes) -> tuple[str, R | Error]:
        kept = codec.decode(line, _Line)
        if kept.refusal is not None:
            return kept.key, class_of(kept.refusal[1])(*kept.refusal)
        return kept.key, codec.decode(kept.answer, self._kind)

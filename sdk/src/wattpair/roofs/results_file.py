"""A JSON Lines file that keeps each outcome of many calls as soon as it is there.

The first line says what the file is: its format, the client's version, the contract's version, the service's address and the
call; a run with another of them is refused, since its results would not go together. Whether a service at the same address has
changed since, the file cannot know: begin a new file after an update of the service. Each further line is one outcome: the key
of its request, with the answer, or with the problem where the service refused the request for good. Errors that may pass, such
as a broken connection, are not kept: going on tries those requests again. Requests are told by what they ask, so that their
order may change and some may come or go between two runs.

Each line is handed to the operating system before the next outcome is looked at: the end of the process, however sudden, loses
nothing that was noted. It is forced to the disk (fsync) once a second and at the end: a power failure loses at most the last
second, which is then computed again. A last line that was cut off is dropped when the file is opened again.
"""

from __future__ import annotations

import contextlib
import os
import time
from pathlib import Path
from typing import BinaryIO, Generic, TypeVar

import msgspec

from wattpair import codec
from wattpair._version import CONTRACT_VERSION, __version__
from wattpair.call import Call
from wattpair.errors import Error, ResultsFileError, StatusError, class_of
from wattpair.models import Problem

R = TypeVar("R")
FORMAT = 1
SYNC_EVERY_S = 1.0
WORDS = {
    "wattpair_results": "format",
    "client_version": "version of wattpair",
    "contract_version": "version of the contract",
    "base_url": "service",
    "call": "call",
}
FINAL_STATUSES = frozenset({400, 413, 415, 422})
"""Refusals that the same request would meet again."""


class _Header(msgspec.Struct):
    """The first line."""

    wattpair_results: int
    client_version: str | None = None
    contract_version: str | None = None
    base_url: str | None = None
    call: str | None = None


class _Refusal(msgspec.Struct, omit_defaults=True):
    """An error that a request met for good."""

    where: str
    status: int
    request_id: str
    problem: Problem | None = None
    excerpt: str = ""

    @classmethod
    def of(cls, error: StatusError) -> _Refusal:
        return cls(error.where, error.status, error.request_id, error.problem, error.excerpt)

    def error(self) -> StatusError:
        return class_of(self.status)(self.where, self.status, self.problem, self.request_id, None, self.excerpt)


class _Line(msgspec.Struct, omit_defaults=True):
    """Each further line: an answer or a refusal."""

    key: str
    answer: msgspec.Raw = msgspec.Raw()
    refusal: _Refusal | None = None


class ResultsFile(Generic[R]):
    """The open file. It knows where in it each outcome stands, and holds none of them."""

    def __init__(self, file: BinaryIO, kind: type[R], places: dict[str, int]) -> None:
        self._file = file
        self._kind = kind
        self._places = places
        self._synced_s = time.monotonic()

    def __contains__(self, key: str) -> bool:
        return key in self._places

    def __getitem__(self, key: str) -> R | Error:
        self._file.seek(self._places[key])
        return _outcome(self._file.readline(), self._kind)[1]

    @classmethod
    def open(cls, path: Path, call: Call, base_url: str) -> ResultsFile[R]:
        """Open a file to go on with, or begin one.

        Raises
        ------
        ResultsFileError
            It is of another version, service or call, damaged, in use by another process, or no such file at all.
        """
        try:
            file = path.open("a+b")
        except OSError as error:
            raise ResultsFileError(f"{path} cannot be written: {error.strerror}; name another file") from error
        try:
            _lock(file, path)
            places = _read(file, path, call, _Header(FORMAT, __version__, CONTRACT_VERSION, base_url, call.name))
        except BaseException:
            file.close()
            raise
        return cls(file, call.result, places)

    def add(self, key: str, outcome: R | Error) -> None:
        """Keep an outcome, if it is one for good."""
        if isinstance(outcome, StatusError) and outcome.status in FINAL_STATUSES:
            line = _Line(key, refusal=_Refusal.of(outcome))
        elif isinstance(outcome, Error):
            return
        else:
            line = _Line(key, msgspec.Raw(msgspec.json.encode(outcome)))
        place = self._file.seek(0, os.SEEK_END)
        _write(self._file, line)
        self._places[key] = place
        if time.monotonic() - self._synced_s >= SYNC_EVERY_S:
            self._sync()

    def close(self) -> None:
        """Force what was written to the disk, and let go of the file."""
        self._sync()
        self._file.close()

    def _sync(self) -> None:
        os.fsync(self._file.fileno())
        self._synced_s = time.monotonic()


def _write(file: BinaryIO, line: _Header | _Line) -> None:
    file.write(msgspec.json.encode(line) + b"\n")
    file.flush()


def _lock(file: BinaryIO, path: Path) -> None:
    """Keep other processes from the file until it is closed, where the system can."""
    with contextlib.suppress(ImportError):
        import fcntl

        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise ResultsFileError(f"{path} is being written by another run; wait for it, or name another file") from None


def _read(file: BinaryIO, path: Path, call: Call, header: _Header) -> dict[str, int]:
    """Where each outcome of a file stands; the file ends with a whole line afterwards."""
    file.seek(0)
    first = file.readline()
    if not first.endswith(b"\n") and msgspec.json.encode(header).startswith(first):
        # New, or cut off within its first line.
        file.truncate(0)
        _write(file, header)
        return {}
    _check_header(first, path, header)
    places: dict[str, int] = {}
    whole = file.tell()
    for number, line in enumerate(iter(file.readline, b""), start=2):
        if not line.endswith(b"\n"):
            file.truncate(whole)
            break
        try:
            key, _ = _outcome(line, call.result)
        except msgspec.DecodeError as error:
            raise ResultsFileError(
                f"{path}, line {number} is damaged ({error}); take that line out and its request is computed again"
            ) from error
        places[key] = whole
        whole = file.tell()
    file.seek(0, os.SEEK_END)
    return places


def _check_header(line: bytes, path: Path, expected: _Header) -> None:
    try:
        header = codec.decode(line, _Header)
    except msgspec.DecodeError:
        raise ResultsFileError(f"{path} is no file of results; name another file, or one that does not exist yet") from None
    for name, words in WORDS.items():
        if getattr(header, name) != getattr(expected, name):
            raise ResultsFileError(
                f"{path} is of another {words}: {getattr(header, name)!r} stands there, {getattr(expected, name)!r} is needed; "
                "finish it with the one that began it, or begin a new file"
            )


def _outcome(line: bytes, kind: type[R]) -> tuple[str, R | Error]:
    kept = codec.decode(line, _Line)
    return kept.key, kept.refusal.error() if kept.refusal is not None else codec.decode(kept.answer, kind)

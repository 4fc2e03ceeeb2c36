"""One client's connection: its bytes until a request is whole, and its answer until it is taken.

Nothing here waits: a connection is told that it can be read or written, and says what came of it.
"""

from __future__ import annotations

import re
import socket
from dataclasses import dataclass, field
from enum import Enum, auto
from typing import Any

from gunicorn.http import errors
from gunicorn.http.body import ChunkedReader
from gunicorn.http.message import Request
from gunicorn.http.unreader import Unreader

from wattpair_service.identity import REQUEST_ID, TRACE_PARENT, Identity

LINE_END, HEAD_END = b"\r\n", b"\r\n\r\n"
HEAD_BYTES_MAX = 1 << 16
CHUNK_LINE_BYTES_MAX = 1 << 13
FRAMING_SHARE_MAX = 2
"""A chunked body may take so many times the limit on bodies; what is in the chunks is held against the limit itself."""
CHUNK_SIZE = re.compile(rb"[0-9A-Fa-f]{1,15}")
RECEIVE_BYTES = 1 << 18
PIECE_BYTES = 1 << 12
CONTINUE = b"HTTP/1.1 100 Continue\r\n\r\n"
_NAME = r"[\w.~!$&'()*+,;=-]"
HOST = re.compile(
    rf"(\[[0-9A-F:.]+\]|\[v[0-9A-F]+\.({_NAME}|:)+\]|({_NAME}|%[0-9A-F]{{2}})+)(:[0-9]*)?", re.ASCII | re.IGNORECASE
)
"""RFC 9110, 7.2, and RFC 3986, 3.2.2; not the empty name, which no address of this scheme has."""


class BodyTooLarge(errors.ParseException):  # type: ignore[misc]  # gunicorn publishes no types
    """A request says, or shows, that its body is larger than the service takes."""


class Head(Request):  # type: ignore[misc]
    """The head of a request; what it says of its body is looked at afterwards, when it is known whose request it is."""

    def set_body_reader(self) -> None:
        """Not yet."""

    @property
    def identity(self) -> Identity:
        """By what it is found again; with a new place in its trace each time."""
        given = dict(reversed(self.headers))
        return Identity.of(given.get(REQUEST_ID.upper(), ""), given.get(TRACE_PARENT.upper(), ""))

    def expect_body(self) -> None:
        """Make `body` ready to be read.

        Raises
        ------
        gunicorn.http.errors.ParseException
            The request is for nobody, or its body is coded or delimited as the service does not read it.
        """
        hosts = [value for name, value in self.headers if name == "HOST"]
        if (not hosts and self.version >= (1, 1)) or not all(map(HOST.fullmatch, hosts)):
            raise errors.InvalidHeader("Host")  # RFC 9112, 3.2
        super().set_body_reader()
        if any(name == "TRANSFER-ENCODING" and value.lower() != "chunked" for name, value in self.headers):
            raise errors.UnsupportedTransferCoding("one beside chunked")  # RFC 9112, 6.1


class Phase(Enum):
    """What a connection is at."""

    IDLE = auto()
    HEAD = auto()
    BODY = auto()
    WORK = auto()
    """A thread has its request, or will."""
    ANSWER = auto()
    """The client has yet to take the rest of its answer."""
    LINGER = auto()
    """It was refused while it may still be sending: closing at once would destroy the answer on its way."""


class _Held(Unreader):  # type: ignore[misc]
    """What has come already, in pieces: gunicorn copies what it was given last at each chunk, however small that is."""

    def __init__(self, data: bytes) -> None:
        super().__init__()
        self.hold(data)

    def hold(self, data: bytes) -> None:
        """What follows, once all before it was read."""
        self._left = memoryview(data)

    def chunk(self, size_hint: int | None = None) -> bytes:
        length = max(size_hint or 0, PIECE_BYTES)
        piece, self._left = self._left[:length], self._left[length:]
        return bytes(piece)


@dataclass(eq=False, slots=True)
class Exchange:
    """A whole request on its way to an answer: by a thread, or by the worker when the thread takes too long."""

    connection: Connection
    request: Any
    arrived_s: float
    identity: Identity
    _answered: dict[str, str] = field(default_factory=dict)

    def claim(self, by: str) -> bool:
        """Whether the answer is this one's to give: the first who asks."""
        return self._answered.setdefault("by", by) == by

    @property
    def is_open(self) -> bool:
        """Whether nobody has answered it."""
        return not self._answered

    @property
    def is_chunked(self) -> bool:
        """Whether the length of its body was not announced."""
        return isinstance(self.request.body.reader, ChunkedReader)


@dataclass(eq=False, slots=True)
class Connection:
    """A client, and until when it has time for what it is at (`time.monotonic`)."""

    sock: socket.socket
    address: tuple[Any, ...]
    deadline_s: float
    phase: Phase = Phase.IDLE
    exchange: Exchange | None = None
    keeps: bool = False
    """Whether a further request may follow the answer."""
    noted_bytes: int = 0
    """What the worker knows it to hold."""
    events: int = 0
    """What the worker's poller waits for."""
    _received: bytearray = field(default_factory=bytearray)
    _searched: int = 0
    _taken_bytes: int = 0
    _head: Any = None
    _to_send: memoryview = field(default_factory=lambda: memoryview(b""))

    @property
    def held_bytes(self) -> int:
        """What its request and its answer take in memory."""
        return self._taken_bytes + len(self._received) + len(self._to_send)

    @property
    def identity(self) -> Identity:
        """Of the request that is coming; a new one until its head was read."""
        head: Head | None = self._head
        return head.identity if head is not None else Identity.of()

    def receive(self) -> bool:
        """Take what has come; False where the client has gone."""
        try:
            data = self.sock.recv(RECEIVE_BYTES)
        except BlockingIOError:
            return True
        except OSError:
            return False
        if self.phase is not Phase.LINGER:
            self._received += data
        return bool(data)

    def is_silent(self) -> bool:
        """Whether nothing has come that is still to be taken; a client that has gone says nothing either."""
        try:
            return not self.sock.recv(1, socket.MSG_PEEK)
        except OSError:
            return True

    def forget(self) -> None:
        """Let go of what has come, and of what was to be sent."""
        self._received.clear()
        self._to_send = memoryview(b"")
        self._taken_bytes, self._head, self.exchange = 0, None, None

    def send(self, data: bytes = b"") -> bool:
        """Give the client as much as it takes now of this, or of what was left; whether nothing is left.

        Raises
        ------
        OSError
            The client has gone.
        """
        if data:
            self._to_send = memoryview(data)
        while self._to_send:
            try:
                self._to_send = self._to_send[self.sock.send(self._to_send) :]
            except BlockingIOError:
                return False
        return True

    def next_request(self, cfg: Any, body_limit_bytes: int) -> Any:
        """The next request once it is whole, or None.

        Raises
        ------
        gunicorn.http.errors.ParseException
            What came is no request that the service takes.
        """
        if self.phase is Phase.IDLE:
            self._taken_bytes = 0
            if self._received:
                self.phase = Phase.HEAD
        if self.phase is Phase.HEAD and (end := self._head_end()) is not None:
            self._head = Head(cfg, _Held(self._taken(end)), self.address)
            self._head.expect_body()
            self.phase = Phase.BODY
            self._expect_body(body_limit_bytes)
        if self.phase is not Phase.BODY or (length := self._body_length(body_limit_bytes)) is None:
            return None
        self._head.unreader.hold(self._taken(length))
        request, self._head = self._head, None
        return request

    def _taken(self, length: int) -> bytes:
        data = bytes(self._received[:length])
        del self._received[:length]
        self._searched = 0
        self._taken_bytes += length
        return data

    def _head_end(self) -> int | None:
        found = self._received.find(HEAD_END, self._searched)
        if found >= 0:
            return found + len(HEAD_END)
        if len(self._received) > HEAD_BYTES_MAX:
            raise errors.LimitRequestHeaders("the head does not end")
        if self._received.find(b"\n\n", self._searched) >= 0:
            raise errors.InvalidHeader("bare LF as line terminator")
        self._searched = max(len(self._received) - len(HEAD_END), 0)
        return None

    def _expect_body(self, limit_bytes: int) -> None:
        if getattr(self._head.body.reader, "length", 0) > limit_bytes:
            raise BodyTooLarge
        if self._head._expected_100_continue:  # noqa: SLF001 - gunicorn has no other way to tell
            self._head._expected_100_continue = False  # noqa: SLF001 - or it would say it again
            self.send(CONTINUE)

    def _body_length(self, limit_bytes: int) -> int | None:
        """Bytes of the body once all are there, with their framing."""
        if not isinstance(self._head.body.reader, ChunkedReader):
            length: int = self._head.body.reader.length
            return length if len(self._received) >= length else None
        chunks = self._chunks_length()
        if max(len(self._received), self._searched) > FRAMING_SHARE_MAX * limit_bytes + CHUNK_LINE_BYTES_MAX:
            raise BodyTooLarge
        return chunks

    def _chunks_length(self) -> int | None:
        """Bytes of all chunks once the last has come; what cannot be read as chunks ends there, for gunicorn to refuse."""
        data = self._received
        while (line_end := data.find(LINE_END, self._searched, self._searched + CHUNK_LINE_BYTES_MAX)) >= 0:
            size = CHUNK_SIZE.match(data, self._searched, line_end)
            if size is None:
                return len(data)
            if (length := int(size[0], 16)) == 0:
                end = line_end if data.startswith(LINE_END, line_end + 2) else data.find(HEAD_END, line_end)
                return end + len(HEAD_END) if end >= 0 else self._unless_longer(line_end)
            self._searched = line_end + length + 2 * len(LINE_END)
        return self._unless_longer(self._searched)

    def _unless_longer(self, begin: int) -> int | None:
        """Wait for the end of a line, or of all trailers, but not of one that is too long."""
        return None if len(self._received) - begin < CHUNK_LINE_BYTES_MAX else len(self._received)

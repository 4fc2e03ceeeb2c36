"""gunicorn's threaded worker, made safe against clients that are slow and requests that never end.

A connection takes a thread only once its first bytes are there, and gives it back after a bounded time: ten thousand open
connections cost ten thousand sockets and nothing else.
"""

from __future__ import annotations

import errno
import json
import os
import selectors
import socket
import time
from functools import partial
from http import HTTPStatus
from itertools import takewhile
from typing import Any

from gunicorn import util
from gunicorn.http import errors
from gunicorn.workers.gthread import STOP_KEEPALIVE_LINGER, TConn, ThreadWorker

from wattpair_service.api import problems

STUCK_AFTER_S = 5.0
"""After its connection was ended, how long a request may go on before its worker is replaced."""
STUCK_STATUS = 1
LINGER_S, LINGER_BYTES = 2.0, 1 << 16
ACCEPT_PAUSE_S = 0.05

REFUSALS: tuple[tuple[type[Exception], HTTPStatus, str], ...] = (
    (errors.LimitRequestLine, HTTPStatus.REQUEST_URI_TOO_LONG, "The request's line is too long."),
    (errors.LimitRequestHeaders, HTTPStatus.REQUEST_HEADER_FIELDS_TOO_LARGE, "The request's headers are too many or too long."),
    (errors.ExpectationFailed, HTTPStatus.EXPECTATION_FAILED, "Only Expect: 100-continue is understood."),
    (errors.UnsupportedTransferCoding, HTTPStatus.NOT_IMPLEMENTED, "The only transfer coding taken is chunked."),
    (errors.ParseException, HTTPStatus.BAD_REQUEST, "This is not an HTTP request that the service reads."),
)
"""What is no HTTP, by gunicorn's exception; none of their messages is passed on, since they quote what was sent."""


class Worker(ThreadWorker):  # type: ignore[misc]  # gunicorn publishes no types
    """A worker whose connections wait without a thread, and whose requests end."""

    slot: int

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._time_max_s = float(self.cfg.timeout)
        self._since_s: dict[TConn, float] = {}
        """Connections with a thread, or in line for one, from the oldest on."""
        self._ended: set[TConn] = set()
        self._lingering_until_s: dict[TConn, float] = {}
        self._is_stuck = False

    def run(self) -> None:
        """Serve until told to stop; a thread that never ends does not keep the process."""
        super().run()
        if self._is_stuck:
            os._exit(STUCK_STATUS)

    def accept(self, listener: socket.socket) -> None:
        """Take a connection and wait for its first bytes without a thread."""
        try:
            client, address = listener.accept()
        except OSError as error:
            if error.errno in (errno.EMFILE, errno.ENFILE, errno.ENOBUFS, errno.ENOMEM):
                self.log.warning("no further connection can be taken: %s", error.strerror)
                time.sleep(ACCEPT_PAUSE_S)
            elif error.errno not in (errno.EAGAIN, errno.ECONNABORTED, errno.EWOULDBLOCK):
                raise
            return
        self.nr_conns += 1
        conn = TConn(self.cfg, client, address, listener.getsockname())
        conn.timeout = time.monotonic() + self._time_max_s
        self.pending_conns.append(conn)
        self.poller.register(client, selectors.EVENT_READ, partial(self.on_pending_socket_readable, conn))

    def set_accept_enabled(self, enabled: bool) -> None:
        """On stopping, take what has connected already: it will be answered too."""
        if not self.alive and self._accepting and not enabled:
            for listener in self.sockets:
                self._accept_waiting(listener)
            # Connections that say nothing do not hold up the stop.
            for conn in self.pending_conns:
                conn.timeout = min(conn.timeout, time.monotonic() + STOP_KEEPALIVE_LINGER)
        super().set_accept_enabled(enabled)

    def _accept_waiting(self, listener: socket.socket) -> None:
        before = -1
        while before != self.nr_conns < self.worker_connections:
            before = self.nr_conns
            self.accept(listener)

    def enqueue_req(self, conn: TConn) -> None:
        """Give a connection a thread, from now on for a bounded time."""
        self._since_s[conn] = time.monotonic()
        super().enqueue_req(conn)

    def finish_request(self, conn: TConn, fs: Any) -> None:
        """Take the thread back, and close a connection that is not kept without waiting for its client."""
        self._since_s.pop(conn, None)
        self._ended.discard(conn)
        if fs.cancelled() or fs.exception() is not None or fs.result() is False:
            self._linger(conn)
        else:
            super().finish_request(conn, fs)

    def _linger(self, conn: TConn) -> None:
        """Say that nothing follows, and let the client read to the end: a full close would cut off what is on its way."""
        try:
            conn.sock.shutdown(socket.SHUT_WR)
            conn.sock.setblocking(False)
            self.poller.register(conn.sock, selectors.EVENT_READ, partial(self._read_lingering, conn))
        except (OSError, ValueError):
            self._close(conn)
        else:
            self._lingering_until_s[conn] = time.monotonic() + LINGER_S

    def _read_lingering(self, conn: TConn, client: socket.socket) -> None:
        try:
            if client.recv(LINGER_BYTES):
                return
        except BlockingIOError:
            return
        except OSError:
            pass  # gone, which is as good
        self._end_lingering(conn)

    def _end_lingering(self, conn: TConn) -> None:
        del self._lingering_until_s[conn]
        self.poller.unregister(conn.sock)
        self._close(conn)

    def _close(self, conn: TConn) -> None:
        self.nr_conns -= 1
        conn.close()

    def murder_pending(self) -> None:
        """Called at each turn of the main loop: end what is overdue."""
        super().murder_pending()
        now = time.monotonic()
        for conn in list(takewhile(lambda conn: self._lingering_until_s[conn] <= now, self._lingering_until_s)):
            self._end_lingering(conn)
        overdue = list(takewhile(lambda item: now - item[1] > self._time_max_s, self._since_s.items()))
        for conn, since_s in overdue:
            if conn not in self._ended:
                # Wakes a thread that waits for a slow client to send or to take; it then finds the connection gone.
                self._ended.add(conn)
                self.log.warning("a request took more than %g s: its connection is ended", self._time_max_s)
                _end(conn.sock)
            elif now - since_s > self._time_max_s + STUCK_AFTER_S:
                self.log.error("a request does not end: this worker finishes the others and is replaced")
                del self._since_s[conn]
                self.nr_conns -= 1
                self._is_stuck = True
                self.alive = False

    def _keepalive_after(self, conn: TConn, keepalive: bool) -> bool:
        """After a body that cannot be read to its end nothing else can be told apart on the connection."""
        try:
            return bool(super()._keepalive_after(conn, keepalive))
        except (errors.ParseException, errors.NoMoreData):
            return False

    def handle_error(self, req: Any, client: socket.socket, addr: Any, exc: Exception) -> None:
        """Answer what is no HTTP with a problem, and log its kind only."""
        found = ((status, detail) for kind, status, detail in REFUSALS if isinstance(exc, kind))
        status, detail = next(found, (HTTPStatus.INTERNAL_SERVER_ERROR, "The service failed on this request."))
        level = "error" if status == HTTPStatus.INTERNAL_SERVER_ERROR else "info"
        getattr(self.log, level)("a request could not be read: %s", type(exc).__name__)
        body = json.dumps(
            {
                "type": problems.TYPE_PREFIX + "malformed-http",
                "title": status.phrase,
                "status": status.value,
                "detail": detail,
                "request_id": "",
                "errors": [],
            }
        )
        head = (
            f"HTTP/1.1 {status.value} {status.phrase}\r\nConnection: close\r\nContent-Type: {problems.MEDIA_TYPE}\r\n"
            f"Content-Length: {len(body)}\r\n\r\n"
        )
        try:
            util.write_nonblock(client, (head + body).encode("ascii"))
        except OSError:
            self.log.debug("the sender of a malformed request is gone")


def _end(sock: socket.socket) -> None:
    try:
        sock.shutdown(socket.SHUT_RDWR)
    except OSError:
        return

"""A little HTTP server that misbehaves as told, one behaviour for each request."""

from __future__ import annotations

import socket
import struct
import threading
from collections.abc import Callable, Mapping
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, Self

from requests.structures import CaseInsensitiveDict

Behaviour = Callable[["Handler"], None]
LIVE = b'{"status":"live"}'
RESET_ON_CLOSE = struct.pack("ii", 1, 0)


class Handler(BaseHTTPRequestHandler):
    """Takes the request off the wire, then does what the next behaviour says."""

    protocol_version = "HTTP/1.1"
    server: FaultServer

    def do_POST(self) -> None:
        """Read the request whole, so that nothing unread resets the connection, and misbehave."""
        body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
        self.server.requests.append((CaseInsensitiveDict(self.headers.items()), body))
        behaviours = self.server.behaviours
        behaviours.pop(0)(self) if len(behaviours) > 1 else behaviours[0](self)

    do_GET = do_POST  # noqa: N815 - as the base class names it

    def send(self, status: int, body: bytes, headers: Mapping[str, str], *, length: int | None = None) -> None:
        """Send an answer; `length` may promise more than there is."""
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        self.send_header("Content-Length", str(len(body) if length is None else length))
        self.end_headers()
        self.wfile.write(body)
        self.wfile.flush()

    def log_message(self, *_: Any) -> None:
        """Stay silent."""


class FaultServer(ThreadingHTTPServer):
    """Serves behaviours in their order; the last one is repeated."""

    daemon_threads = True

    def __init__(self, *behaviours: Behaviour, host: str = "127.0.0.1") -> None:
        self.address_family = socket.AF_INET6 if ":" in host else socket.AF_INET
        super().__init__((host, 0), Handler)
        self.behaviours = list(behaviours)
        self.requests: list[tuple[CaseInsensitiveDict[str], bytes]] = []
        self.released = threading.Event()
        self._thread = threading.Thread(target=self.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)

    @property
    def url(self) -> str:
        host, port = str(self.server_address[0]), self.server_address[1]
        return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.released.set()
        self.shutdown()
        self._thread.join()
        self.server_close()

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A client that hangs up is what some tests are about."""


def answers(body: bytes = LIVE, status: int = 200, kind: str = "application/json", **headers: str) -> Behaviour:
    """An answer; underscores in names of headers stand for hyphens."""
    named = {name.replace("_", "-"): value for name, value in headers.items()} | {"Content-Type": kind}
    return lambda handler: handler.send(status, body, named)


def resets_within_the_body(handler: Handler) -> None:
    """Half of an answer, then a reset."""
    ends_within_the_body(handler)
    handler.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, RESET_ON_CLOSE)


def ends_within_the_body(handler: Handler) -> None:
    """Half of an answer, then an orderly end."""
    handler.send(200, LIVE[:8], {}, length=len(LIVE))
    handler.close_connection = True


def hangs_up(handler: Handler) -> None:
    """No answer at all."""
    handler.close_connection = True


def is_silent(handler: Handler) -> None:
    """Nothing until the test is over."""
    handler.server.released.wait(5)
    handler.close_connection = True


def stops_within_the_body(handler: Handler) -> None:
    """Half of an answer, then nothing."""
    handler.send(200, LIVE[:8], {}, length=len(LIVE))
    is_silent(handler)

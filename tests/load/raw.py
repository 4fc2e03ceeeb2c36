"""Requests as bytes on sockets, for what no client library would send."""

from __future__ import annotations

import contextlib
import json
import socket

from tests.contract.bodies import PATHS, Body, example
from tests.running import Service

LIVE = b"GET /health/live HTTP/1.1\r\nHost: x\r\n\r\n"
HEAD = f"POST {PATHS['size_pairings']} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n".encode()
"""Without its end: a length or a coding of the body is still to come."""
BODY = json.dumps(example("size_pairings")).encode()


def head(length: int = len(BODY)) -> bytes:
    """A whole head that announces a body."""
    return HEAD + f"Content-Length: {length}\r\n\r\n".encode()


def calculation(operation_id: str = "size_pairings", body: Body | None = None) -> bytes:
    """A whole request."""
    text = json.dumps(body or example(operation_id)).encode()
    return head(len(text)).replace(PATHS["size_pairings"].encode(), PATHS[operation_id].encode()) + text


def closing(request: bytes) -> bytes:
    """The same as the only one on its connection."""
    return request.replace(b"\r\n", b"\r\nConnection: close\r\n", 1)


def connected(stack: contextlib.ExitStack, running: Service, timeout_s: float = 30.0) -> socket.socket:
    """A client until the stack ends."""
    return stack.enter_context(socket.create_connection(("127.0.0.1", running.port), timeout_s))


def connected_without_room(stack: contextlib.ExitStack, running: Service) -> socket.socket:
    """A client whose own buffer for answers is as small as can be."""
    client = stack.enter_context(socket.socket())
    client.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    client.connect(("127.0.0.1", running.port))
    return client


def everything(client: socket.socket) -> bytes:
    """What comes until the service closes."""
    received = b""
    while chunk := client.recv(1 << 16):
        received += chunk
    return received


def answer_to(running: Service, request: bytes, timeout_s: float = 30.0) -> bytes:
    """All that comes back on a connection of its own, which the service closes."""
    with contextlib.ExitStack() as stack:
        client = connected(stack, running, timeout_s)
        client.sendall(request)
        return everything(client)

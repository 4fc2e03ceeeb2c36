"""Clients that are slow, on purpose or not: they hold up nobody but themselves."""

from __future__ import annotations

import contextlib
import json
import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.contract.bodies import PATHS, example
from tests.running import Service, service, wait_until

DRIPPED_HEADS, DRIPPED_BODIES = 200, 30
DRIP_S = 0.2
SOON_S = 8.0
"""Less than a head may take, and far less than a body."""
TIME_MAX_S = 25
BODY = json.dumps(example("size_pairings")).encode()
HEAD = f"POST {PATHS['size_pairings']} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n".encode()

LIVE = b"GET /health/live HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    with service(tmp_path_factory.mktemp("slow"), workers=1, request_time_max_s=TIME_MAX_S) as started:
        yield started


def connected(stack: contextlib.ExitStack, running: Service, timeout_s: float = SOON_S) -> socket.socket:
    """A client until the stack ends."""
    return stack.enter_context(socket.create_connection(("127.0.0.1", running.port), timeout_s))


def everything(client: socket.socket) -> bytes:
    """What comes until the service closes."""
    received = b""
    while chunk := client.recv(1 << 16):
        received += chunk
    return received


@contextlib.contextmanager
def dripping(clients: dict[socket.socket, bytes]) -> Iterator[None]:
    """Each client sends its text byte by byte, now and then, for as long as the service lets it."""
    stopped = threading.Event()

    def drip() -> None:
        for at in range(max(map(len, clients.values()))):
            for client, text in clients.items():
                with contextlib.suppress(OSError):
                    client.send(text[at : at + 1])
            if stopped.wait(DRIP_S):
                return

    thread = threading.Thread(target=drip)
    thread.start()
    try:
        yield
    finally:
        stopped.set()
        thread.join()


def test_many_that_drip_hold_up_nobody_and_are_told_when_their_time_is_over(running: Service) -> None:
    announced = HEAD + f"Content-Length: {len(BODY)}\r\n\r\n".encode()
    with contextlib.ExitStack() as stack:
        heads = [connected(stack, running, 60) for _ in range(DRIPPED_HEADS)]
        bodies = [connected(stack, running, 60) for _ in range(DRIPPED_BODIES)]
        for client in bodies:
            client.sendall(announced)
        with dripping(dict.fromkeys(heads, HEAD) | dict.fromkeys(bodies, BODY)):
            for _ in range(20):
                asking = connected(stack, running)
                asking.sendall(LIVE)
                assert everything(asking).startswith(b"HTTP/1.1 200")
            calculating = connected(stack, running)
            calculating.sendall(HEAD + f"Connection: close\r\nContent-Length: {len(BODY)}\r\n\r\n".encode() + BODY)
            assert everything(calculating).startswith(b"HTTP/1.1 200")
            for client in (*heads, *bodies):
                assert everything(client).startswith(b"HTTP/1.1 408")
    refused = running.metric("wattpair_requests_total", operation="unread", status="408")
    assert refused == DRIPPED_HEADS + DRIPPED_BODIES


def test_a_whole_request_that_comes_in_pieces_is_answered_as_one(running: Service) -> None:
    chunks = f"{len(BODY):x}\r\n".encode() + BODY + b"\r\n0\r\nX-Trailer: a\r\n\r\n"
    texts = [
        HEAD + f"Content-Length: {len(BODY)}\r\n\r\n".encode() + BODY,
        HEAD + b"Transfer-Encoding: chunked\r\n\r\n" + chunks,
    ]
    for text in texts:
        with contextlib.ExitStack() as stack:
            client = connected(stack, running)
            for at in range(0, len(text), 7):
                client.sendall(text[at : at + 7])
            client.shutdown(socket.SHUT_WR)
            assert everything(client).startswith(b"HTTP/1.1 200")


def test_a_body_in_the_smallest_chunks_is_read_in_time(running: Service) -> None:
    chunks = b"1\r\n \r\n" * 400_000 + f"{len(BODY):x}\r\n".encode() + BODY + b"\r\n0\r\n\r\n"
    with contextlib.ExitStack() as stack:
        client = connected(stack, running, 60)
        client.sendall(HEAD + b"Transfer-Encoding: chunked\r\n\r\n" + chunks)
        assert everything(client).startswith(b"HTTP/1.1 200")


def test_who_asks_for_leave_to_send_a_body_gets_it(running: Service) -> None:
    with contextlib.ExitStack() as stack:
        client = connected(stack, running)
        client.sendall(HEAD + f"Expect: 100-continue\r\nConnection: close\r\nContent-Length: {len(BODY)}\r\n\r\n".encode())
        assert client.recv(100) == b"HTTP/1.1 100 Continue\r\n\r\n"
        client.sendall(BODY)
        assert everything(client).startswith(b"HTTP/1.1 200")


def test_two_requests_sent_at_once_get_two_answers_in_order(running: Service) -> None:
    with contextlib.ExitStack() as stack:
        client = connected(stack, running)
        client.sendall(
            b"GET /v1/nothing HTTP/1.1\r\nHost: x\r\n\r\nGET /health/live HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
        )
        received = everything(client)
        assert received.startswith(b"HTTP/1.1 404")
        assert received.count(b"HTTP/1.1 200") == 1


def test_who_does_not_take_its_answer_takes_no_thread(running: Service) -> None:
    with contextlib.ExitStack() as stack:
        for _ in range(40):
            client = stack.enter_context(socket.socket())
            client.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            client.connect(("127.0.0.1", running.port))
            client.sendall(b"GET /openapi.json HTTP/1.1\r\nHost: x\r\n\r\n" * 40)
        for _ in range(100):  # while more and more of them have their share of the kernel's memory full
            asking = connected(stack, running)
            asking.sendall(LIVE)
            assert everything(asking).startswith(b"HTTP/1.1 200")


def test_who_has_been_silent_for_longest_makes_room_for_who_comes(tmp_path: Path) -> None:
    with service(tmp_path, workers=1, connections_max=100, request_time_max_s=600) as started, contextlib.ExitStack() as stack:
        sending, kept = connected(stack, started, 60), connected(stack, started, 60)
        sending.sendall(HEAD + f"Content-Length: {len(BODY)}\r\n\r\n".encode() + BODY[:1])
        silent = [connected(stack, started, 60) for _ in range(97)]
        kept.sendall(LIVE.replace(b"Connection: close\r\n", b""))  # it has been silent for less long than they
        assert kept.recv(1 << 16).startswith(b"HTTP/1.1 200")
        for _ in range(20):
            connected(stack, started).sendall(HEAD)  # and no more for now
        assert [client.recv(1) for client in silent[:19]] == [b""] * 19
        for client in silent[19:]:
            client.setblocking(False)
            with pytest.raises(BlockingIOError):
                client.recv(1)
        asking = connected(stack, started, 60)
        asking.sendall(LIVE)
        assert everything(asking).startswith(b"HTTP/1.1 200")
        assert started.post("size_pairings", example("size_pairings")).status == 200
        kept.sendall(LIVE)
        assert everything(kept).startswith(b"HTTP/1.1 200")
        sending.sendall(BODY[1:])
        assert sending.recv(100).startswith(b"HTTP/1.1 200")


def test_bodies_that_never_end_are_bounded_together(tmp_path: Path) -> None:
    limit = 1 << 20
    with service(tmp_path, workers=1, body_limit_bytes=limit) as started, contextlib.ExitStack() as stack:
        clients = [connected(stack, started, 20) for _ in range(12)]
        for client in clients:
            client.sendall(HEAD + f"Content-Length: {limit}\r\n\r\n".encode() + bytes(limit - 1))
        assert everything(clients[0]).startswith(b"HTTP/1.1 503")
        assert started.post("size_pairings", example("size_pairings")).status == 200
        assert started.metric("wattpair_shed_requests_total") >= 3


@pytest.mark.parametrize(
    "request_of_60_kb",
    [
        HEAD + b"Content-Length: 61000\r\n\r\n" + bytes(60_000),
        HEAD + b"".join(b"X-%d: %s\r\n" % (number, b"a" * 6_000) for number in range(10)) + b"Content-Length: 1\r\n\r\n",
    ],
    ids=["bodies", "heads"],
)
def test_many_small_requests_that_never_end_are_bounded_together(tmp_path: Path, request_of_60_kb: bytes) -> None:
    with service(tmp_path, workers=1, body_limit_bytes=1 << 20) as started, contextlib.ExitStack() as stack:
        clients = [connected(stack, started, 20) for _ in range(200)]
        for client in clients:
            client.sendall(request_of_60_kb)
        assert everything(clients[0]).startswith(b"HTTP/1.1 503")
        assert started.post("size_pairings", example("size_pairings")).status == 200


def test_answers_that_nobody_takes_are_bounded_together(tmp_path: Path) -> None:
    with service(tmp_path, workers=1, body_limit_bytes=1 << 20, request_time_max_s=600) as started:
        (worker,) = started.workers
        files = Path(f"/proc/{worker}/fd")
        before = len(list(files.iterdir()))
        with contextlib.ExitStack() as stack:
            takers = [f"taker-{number}" for number in range(200)]
            for each in takers:
                client = stack.enter_context(socket.socket())
                client.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
                client.connect(("127.0.0.1", started.port))
                client.sendall(f"GET /openapi.yaml HTTP/1.1\r\nHost: x\r\nX-Request-ID: {each}\r\n\r\n".encode() * 40)
            wait_until(lambda: {*takers} <= {line.get("request_id") for line in started.lines()}, 60, "all have come")
            wait_until(lambda: len(list(files.iterdir())) - before < len(takers), 60, "some are given up")
            assert started.post("size_pairings", example("size_pairings")).status == 200

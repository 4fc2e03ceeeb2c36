"""Clients that are slow, on purpose or not: they hold up nobody but themselves."""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.contract.bodies import example
from tests.load.raw import (
    BODY,
    HEAD,
    LIVE,
    answer_to,
    calculation,
    closing,
    connected,
    connected_without_room,
    everything,
    head,
)
from tests.running import Service, service, wait_until

DRIPPED_HEADS, DRIPPED_BODIES = 200, 30
DRIP_S = 0.2
SOON_S = 8.0
"""Less than a head may take, and far less than a body."""
TIME_MAX_S = 25
LIMIT_BYTES = 1 << 20
CHUNKED = HEAD + b"Transfer-Encoding: chunked\r\n\r\n"
LAST_CHUNKS = f"{len(BODY):x}\r\n".encode() + BODY + b"\r\n0\r\n"


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


@pytest.mark.release
def test_many_that_drip_hold_up_nobody_and_are_told_when_their_time_is_over(tmp_path: Path) -> None:
    with service(tmp_path, workers=1, request_time_max_s=TIME_MAX_S) as running, contextlib.ExitStack() as stack:
        heads = [connected(stack, running, 60) for _ in range(DRIPPED_HEADS)]
        bodies = [connected(stack, running, 60) for _ in range(DRIPPED_BODIES)]
        for client in bodies:
            client.sendall(head())
        with dripping(dict.fromkeys(heads, HEAD) | dict.fromkeys(bodies, BODY)):
            for request in [LIVE] * 20 + [calculation()]:
                assert answer_to(running, closing(request), SOON_S).startswith(b"HTTP/1.1 200")
            for client in (*heads, *bodies):
                assert everything(client).startswith(b"HTTP/1.1 408")
        refused = running.metric("wattpair_requests_total", operation="unread", status="408")
        assert refused == DRIPPED_HEADS + DRIPPED_BODIES


@pytest.mark.parametrize(
    "request_in_pieces", [calculation(), CHUNKED + LAST_CHUNKS + b"X-Trailer: a\r\n\r\n"], ids=["length", "chunks"]
)
def test_a_whole_request_that_comes_in_pieces_is_answered_as_one(shared_service: Service, request_in_pieces: bytes) -> None:
    with contextlib.ExitStack() as stack:
        client = connected(stack, shared_service, SOON_S)
        for at in range(0, len(request_in_pieces), 7):
            client.sendall(request_in_pieces[at : at + 7])
        client.shutdown(socket.SHUT_WR)
        assert everything(client).startswith(b"HTTP/1.1 200")


@pytest.mark.release
def test_a_body_in_the_smallest_chunks_is_read_in_time(shared_service: Service) -> None:
    request = closing(CHUNKED) + b"1\r\n \r\n" * 400_000 + LAST_CHUNKS + b"\r\n"
    assert answer_to(shared_service, request, 60).startswith(b"HTTP/1.1 200")


def test_who_asks_for_leave_to_send_a_body_gets_it(shared_service: Service) -> None:
    with contextlib.ExitStack() as stack:
        client = connected(stack, shared_service, SOON_S)
        client.sendall(closing(head()).replace(b"\r\n", b"\r\nExpect: 100-continue\r\n", 1))
        assert client.recv(100) == b"HTTP/1.1 100 Continue\r\n\r\n"
        client.sendall(BODY)
        assert everything(client).startswith(b"HTTP/1.1 200")


def test_two_requests_sent_at_once_get_two_answers_in_order(shared_service: Service) -> None:
    received = answer_to(shared_service, b"GET /v1/nothing HTTP/1.1\r\nHost: x\r\n\r\n" + closing(LIVE), SOON_S)
    assert received.startswith(b"HTTP/1.1 404")
    assert received.count(b"HTTP/1.1 200") == 1


@pytest.mark.release
def test_who_does_not_take_its_answer_takes_no_thread(tmp_path: Path) -> None:
    with service(tmp_path, workers=1, request_time_max_s=TIME_MAX_S) as running, contextlib.ExitStack() as stack:
        for _ in range(40):
            connected_without_room(stack, running).sendall(b"GET /openapi.json HTTP/1.1\r\nHost: x\r\n\r\n" * 40)
        for _ in range(100):  # while more and more of them have their share of the kernel's memory full
            assert answer_to(running, closing(LIVE), SOON_S).startswith(b"HTTP/1.1 200")


@pytest.mark.release
def test_who_has_been_silent_for_longest_makes_room_for_who_comes(tmp_path: Path) -> None:
    with service(tmp_path, workers=1, connections_max=100, request_time_max_s=600) as running, contextlib.ExitStack() as stack:
        sending, kept, *silent = (connected(stack, running, 60) for _ in range(99))
        sending.sendall(head() + BODY[:1])
        kept.sendall(LIVE)  # it has been silent for less long than they
        assert kept.recv(1 << 16).startswith(b"HTTP/1.1 200")
        for _ in range(20):
            connected(stack, running).sendall(HEAD)  # and no more for now
        assert [client.recv(1) for client in silent[:19]] == [b""] * 19
        for client in silent[19:]:
            client.setblocking(False)
            with pytest.raises(BlockingIOError):
                client.recv(1)
        assert answer_to(running, closing(LIVE), 60).startswith(b"HTTP/1.1 200")
        assert running.post("size_pairings", example("size_pairings")).status == 200
        kept.sendall(closing(LIVE))
        assert everything(kept).startswith(b"HTTP/1.1 200")
        sending.sendall(BODY[1:])
        assert sending.recv(100).startswith(b"HTTP/1.1 200")


@pytest.mark.release
@pytest.mark.parametrize(
    ("count", "unfinished"),
    [
        (12, head(LIMIT_BYTES) + bytes(LIMIT_BYTES - 1)),
        (200, head(61_000) + bytes(60_000)),
        (200, HEAD + b"".join(b"X-%d: %s\r\n" % (number, b"a" * 6_000) for number in range(10)) + b"Content-Length: 1\r\n\r\n"),
    ],
    ids=["large bodies", "small bodies", "heads"],
)
def test_requests_that_never_end_are_bounded_together(tmp_path: Path, count: int, unfinished: bytes) -> None:
    with service(tmp_path, workers=1, body_limit_bytes=LIMIT_BYTES) as running, contextlib.ExitStack() as stack:
        clients = [connected(stack, running, 20) for _ in range(count)]
        for client in clients:
            client.sendall(unfinished)
        assert everything(clients[0]).startswith(b"HTTP/1.1 503")
        assert running.post("size_pairings", example("size_pairings")).status == 200
        assert running.metric("wattpair_shed_requests_total") >= 3


@pytest.mark.release
def test_answers_that_nobody_takes_are_bounded_together(tmp_path: Path) -> None:
    with service(tmp_path, workers=1, body_limit_bytes=LIMIT_BYTES, request_time_max_s=600) as running:
        (worker,) = running.workers
        files = Path(f"/proc/{worker}/fd")
        before = len(list(files.iterdir()))
        with contextlib.ExitStack() as stack:
            names = {f"taker-{number}" for number in range(200)}
            for name in names:
                request = f"GET /openapi.yaml HTTP/1.1\r\nHost: x\r\nX-Request-ID: {name}\r\n\r\n".encode()
                connected_without_room(stack, running).sendall(request * 40)
            wait_until(lambda: names <= {line.get("request_id") for line in running.lines()}, 60, "all have come")
            wait_until(lambda: len(list(files.iterdir())) - before < len(names), 60, "some are given up")
            assert running.post("size_pairings", example("size_pairings")).status == 200

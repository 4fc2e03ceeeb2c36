"""Workers that end, for whatever reason, and the service that stops: nobody's request is lost on the way."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import socket
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

import wattpair
from tests.contract.bodies import PATHS, example
from tests.running import Service, elsewhere, service, wait_until

BODY = json.dumps(example("size_pairings")).encode()
HEAD = (
    f"POST {PATHS['size_pairings']} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
    f"Content-Length: {len(BODY)}\r\n\r\n"
).encode()
LIVE = b"GET /health/live HTTP/1.1\r\nHost: x\r\n\r\n"
ANSWER_S = 30.0
REFUSED, LOST = "refused", "lost"

HELD = """
import os, sys, time
from dataclasses import replace
from pathlib import Path
from flask import has_request_context
import wattpair_service.api.layout as layout
begun, hold = Path(sys.argv.pop(1)), Path(sys.argv.pop(1))
handle = layout.OPERATION.handle
def held(request, stations):
    if has_request_context():
        begun.write_text(str(os.getpid()))
        while hold.exists():
            time.sleep(0.01)
    return handle(request, stations)
layout.OPERATION = replace(layout.OPERATION, handle=held)
from wattpair_service.cli import main
sys.exit(main(["serve"]))
"""
"""The service, whose layouts take until a file is gone; not those by which it warms up."""

SET = """
import sys, time
from pathlib import Path
real, is_set = time.time, Path(sys.argv.pop(1))
time.time = lambda: real() + (7200.0 if is_set.exists() else 0.0)
"""
"""Before one of these: its wall clock is set forward once a file is there."""

FAULTY = """
import os, sys
from wattpair_service import connection
fork, read, failures = os.fork, connection.Head, [BlockingIOError(11, "Resource temporarily unavailable")]
def failing_fork():
    if failures:
        raise failures.pop()
    return fork()
def failing_read(cfg, unreader, address):
    if bytes(unreader._left[:5]) == b"FAULT":
        raise ZeroDivisionError
    return read(cfg, unreader, address)
os.fork, connection.Head = failing_fork, failing_read
from wattpair_service.cli import main
sys.exit(main(["serve"]))
"""
"""The service, whose first fork fails, and whose parser fails as it should not on one method."""


@contextlib.contextmanager
def held_service(folder: Path, **settings: int) -> Iterator[tuple[Service, Path, Path]]:
    """With the file that holds layouts up, and the one that names the worker of the last."""
    begun, hold = folder / "begun", folder / "hold"
    hold.touch()
    with service(folder, command=[sys.executable, "-c", HELD, str(begun), str(hold)], stderr=None, **settings) as started:
        yield started, begun, hold


def worker_of(started: Service, client: socket.socket) -> int:
    """The worker that has taken a connection."""
    ends = f":{started.port:04X}", f":{client.getsockname()[1]:04X}"
    table = [line.split() for line in Path("/proc/net/tcp").read_text().splitlines()]
    (inode,) = (row[9] for row in table if row[1].endswith(ends[0]) and row[2].endswith(ends[1]))
    return next(worker for worker in started.workers if f"socket:[{inode}]" in open_files(worker))


def open_files(worker: int) -> list[str]:
    """What a process has open."""
    return [str(each.readlink()) for each in Path(f"/proc/{worker}/fd").iterdir()]


def is_live(client: socket.socket) -> bool:
    """Ask over a connection that is kept."""
    client.sendall(LIVE)
    received = b""
    while not received.endswith(b"}"):
        chunk = client.recv(1 << 16)
        if not chunk:
            return False
        received += chunk
    return received.startswith(b"HTTP/1.1 200")


def test_a_worker_killed_in_the_middle_costs_its_callers_one_repetition_and_the_others_nothing(tmp_path: Path) -> None:
    with held_service(tmp_path) as (started, begun, hold), contextlib.ExitStack() as stack:
        wait_until(lambda: len(started.workers) == 2, 20, "both workers are there")
        pool = stack.enter_context(ThreadPoolExecutor(1))
        client = stack.enter_context(wattpair.Client(started.url, retries=4))
        computed = pool.submit(lambda: client.lay_out_face(**example("lay_out_face")))
        wait_until(begun.exists, 20, "the request is being computed")
        wait_until(lambda: bool(begun.read_text()), 20, "its worker is known")
        killed = int(begun.read_text())
        kept: dict[int, socket.socket] = {}
        sending: dict[int, socket.socket] = {}
        while killed not in sending or {*kept} != {*started.workers}:
            connection = stack.enter_context(socket.create_connection(("127.0.0.1", started.port), ANSWER_S))
            assert is_live(connection)
            worker = worker_of(started, connection)
            (kept if worker not in kept else sending)[worker] = connection
        sending[killed].sendall(HEAD + BODY[: len(BODY) // 2])
        os.kill(killed, signal.SIGKILL)
        with contextlib.suppress(ConnectionResetError):
            assert sending[killed].recv(100) == b""  # its caller is told at once, without half an answer
        wait_until(lambda: begun.read_text() not in ("", str(killed)), 20, "the client has asked another worker")
        hold.unlink()
        assert computed.result(ANSWER_S).tried
        (other,) = {*kept} - {killed}
        assert is_live(kept[other])
        wait_until(lambda: len(started.workers) == 2 and killed not in started.workers, 20, "the worker is replaced")
        assert started.post("size_pairings", example("size_pairings")).status == 200


def asked(started: Service, request: bytes) -> str:
    """What became of a request on a connection of its own: its status, or refused, or lost."""
    try:
        client = socket.create_connection(("127.0.0.1", started.port), ANSWER_S)
    except ConnectionRefusedError:
        return REFUSED
    with client:
        try:
            client.sendall(request)
            received = b""
            while chunk := client.recv(1 << 16):
                received += chunk
        except ConnectionError:
            return LOST
    return received[9:12].decode() or LOST


def asking_without_end(started: Service, request: bytes, results: list[str]) -> None:
    """One request after another, until the service refuses connections."""
    while not results or results[-1] != REFUSED:
        results.append(asked(started, request))


def closing(request: bytes) -> bytes:
    """The same as the only one on its connection."""
    return request.replace(b"\r\n", b"\r\nConnection: close\r\n", 1)


def test_a_stop_answers_all_who_have_connected_and_refuses_the_others(tmp_path: Path) -> None:
    requests = [closing(HEAD) + BODY, closing(LIVE), closing(_clipping())]
    with service(tmp_path, queue_length=40) as started:
        results: list[list[str]] = [[] for _ in range(12)]
        with ThreadPoolExecutor(len(results)) as pool:
            for number, each in enumerate(results):
                pool.submit(asking_without_end, started, requests[number % len(requests)], each)
            wait_until(lambda: all(len(each) > 3 for each in results), 60, "all are at work")
            before = [len(each) for each in results]
            started.process.send_signal(signal.SIGTERM)
        assert started.process.wait(60) == 0
    assert {each[-1] for each in results} == {REFUSED}
    assert {outcome for each in results for outcome in each[:-1]} == {"200"}
    assert any(len(each) - 1 > count for each, count in zip(results, before, strict=True))


def _clipping() -> bytes:
    body = json.dumps(elsewhere(1)).encode()
    head = f"POST {PATHS['compute_clipping']} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
    return f"{head}Content-Length: {len(body)}\r\n\r\n".encode() + body


@pytest.mark.parametrize("workers", [1, 2])
def test_workers_are_replaced_under_load_without_anybody_noticing(tmp_path: Path, workers: int) -> None:
    with service(tmp_path, workers=workers, worker_requests_max=100, queue_length=40) as started:
        seen: set[int] = set()
        stopped = threading.Event()
        results: list[str] = []

        def ask_on() -> None:
            while not stopped.is_set():
                results.append(asked(started, closing(HEAD) + BODY))

        with ThreadPoolExecutor(4) as pool, contextlib.ExitStack() as stack:
            stack.callback(stopped.set)
            slow = stack.enter_context(socket.create_connection(("127.0.0.1", started.port), ANSWER_S))
            slow.sendall(closing(HEAD) + BODY[:1])
            for _ in range(4):
                pool.submit(ask_on)
            wait_until(lambda: _many(seen, started.workers, 3 + workers), 120, "workers are replaced")
            slow.sendall(BODY[1:])  # the worker that has it stays for it
            assert slow.recv(100).startswith(b"HTTP/1.1 200")
            stopped.set()
        assert set(results) == {"200"}
        assert len(results) > 200
        wait_until(lambda: len(started.workers) == workers, 30, "no worker is left over")


def _many(seen: set[int], workers: list[int], count: int) -> bool:
    seen.update(workers)
    return len(seen) >= count


def test_a_clock_that_is_set_during_a_stop_cuts_nobody_off(tmp_path: Path) -> None:
    is_set, begun, hold = (tmp_path / name for name in ("set", "begun", "hold"))
    hold.touch()
    command = [sys.executable, "-c", SET + HELD, str(is_set), str(begun), str(hold)]
    with service(tmp_path, command=command, workers=1) as started, ThreadPoolExecutor(1) as pool:
        held = pool.submit(started.post, "lay_out_face", example("lay_out_face"))
        wait_until(begun.exists, 20, "the request is being computed")
        started.process.send_signal(signal.SIGTERM)
        wait_until(lambda: asked(started, closing(LIVE)) == REFUSED, 20, "the door is closed")
        is_set.touch()
        time.sleep(1.0)  # in which the arbiter looks at the clock
        hold.unlink()
        assert held.result(ANSWER_S).status == 200
        assert started.process.wait(60) == 0


def test_who_asks_a_second_time_for_a_stop_does_not_wait_for_requests(tmp_path: Path) -> None:
    with held_service(tmp_path, workers=1, request_time_max_s=600) as (started, begun, _), ThreadPoolExecutor(1) as pool:
        held = pool.submit(started.post, "lay_out_face", example("lay_out_face"))
        wait_until(begun.exists, 20, "the request is being computed")
        started.process.send_signal(signal.SIGTERM)
        wait_until(lambda: asked(started, closing(LIVE)) == REFUSED, 20, "the door is closed")
        started.process.send_signal(signal.SIGINT)
        assert started.process.wait(60) == 0
        assert held.exception(ANSWER_S) is not None


def counts_of(started: Service) -> Path:
    """The folder in memory that a service counts in."""
    (folder,) = {Path(each).parent for each in open_files(started.process.pid) if "wattpair-metrics-" in each}
    return folder


def test_what_a_killed_service_left_in_memory_goes_at_the_next_start_and_nothing_else(tmp_path: Path) -> None:
    with service(tmp_path, workers=1) as living, service(tmp_path, workers=1) as killed:
        kept, left, workers = counts_of(living), counts_of(killed), killed.workers
        killed.process.kill()
        wait_until(lambda: not any(Path(f"/proc/{each}/fd/0").exists() for each in workers), 60, "its workers have ended")
        assert left.exists()
        with service(tmp_path, workers=1) as following:
            own = counts_of(following)
            assert [each.exists() for each in (kept, left, own)] == [True, False, True]
        assert [each.exists() for each in (kept, own)] == [True, False]
        assert living.metric("wattpair_requests_total", operation="live") > 0


def test_a_late_request_is_told_so_and_counted_as_that(tmp_path: Path) -> None:
    with (
        held_service(tmp_path, workers=1, request_time_max_s=1) as (started, _, hold),
        socket.create_connection(("127.0.0.1", started.port), ANSWER_S) as kept,
    ):
        assert is_live(kept)
        late = started.post("lay_out_face", example("lay_out_face"), {"X-Request-ID": "late-1"})
        assert (late.status, late.json["type"]) == (503, "urn:wattpair:problem:overdue")
        (worker,) = started.workers
        hold.unlink()
        wait_until(lambda: _counted(started, "lay_out_face", "503") == 1, 20, "the application has come to its end")
        assert _counted(started, "lay_out_face", "200") == 0
        (line,) = (line for line in started.lines() if line.get("operation") == "lay_out_face")
        assert (line["status"], line["request_id"]) == (503, "late-1")
        assert late.headers["x-request-id"] == late.json["request_id"] == "late-1"
        assert is_live(kept)
        assert started.post("lay_out_face", example("lay_out_face")).status == 200
        assert started.workers == [worker]


def test_a_worker_with_a_stuck_request_is_replaced_while_it_answers_others(tmp_path: Path) -> None:
    with held_service(tmp_path, workers=1, request_time_max_s=1) as (started, _, _):
        (stuck,) = started.workers
        results: list[str] = []
        assert started.post("lay_out_face", example("lay_out_face")).status == 503
        while started.workers in ([], [stuck]):
            results.append(asked(started, closing(LIVE)))
        wait_until(lambda: stuck not in started.workers, 40, "the stuck one has gone")
        assert set(results) == {"200"}
        assert started.post("size_pairings", example("size_pairings")).status == 200
        assert any("does not end" in line["message"] for line in started.lines())
        assert _counted(started, "unread", "503") == 1


def test_a_fault_on_one_connection_and_a_fork_that_fails_cost_nobody_else_anything(tmp_path: Path) -> None:
    with (
        service(tmp_path, command=[sys.executable, "-c", FAULTY], workers=1) as started,
        socket.create_connection(("127.0.0.1", started.port), ANSWER_S) as kept,
    ):
        assert any("no further worker" in line["message"] for line in started.lines())
        (worker,) = started.workers
        assert is_live(kept)
        assert asked(started, b"FAULT / HTTP/1.1\r\n\r\n") == LOST
        assert is_live(kept)
        assert started.workers == [worker]


def test_what_is_no_request_is_counted(tmp_path: Path) -> None:
    with service(tmp_path, workers=1) as started:
        assert asked(started, b"zz\r\n\r\n") == "400"
        assert _counted(started, "unread", "400") == 1


def _counted(started: Service, operation: str, status: str) -> float:
    return started.metric("wattpair_requests_total", operation=operation, status=status)

"""Workers that end, for whatever reason, and the service that stops: nobody's request is lost on the way."""

from __future__ import annotations

import contextlib
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
from tests.contract.bodies import example
from tests.load.raw import BODY, LIVE, answer_to, calculation, closing, connected, head
from tests.running import Service, elsewhere, service, wait_until

pytestmark = pytest.mark.release

SIZING, LAYOUT = example("size_pairings"), example("lay_out_face")
ANSWER_S = 30.0
REFUSED, LOST = "refused", "lost"

HELD = """
import os, sys, time
from dataclasses import replace
from pathlib import Path
from flask import has_request_context
import wattpair_service.api.operations.layout as layout
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
def held_service(folder: Path, prelude: str = "", *arguments: str, **settings: int) -> Iterator[tuple[Service, Path, Path]]:
    """With the file that names the worker of the last layout, and the one that holds layouts up."""
    begun, hold = folder / "begun", folder / "hold"
    hold.touch()
    command = [sys.executable, "-c", prelude + HELD, *arguments, str(begun), str(hold)]
    with service(folder, command=command, stderr=None, **settings) as running:
        yield running, begun, hold


def worker_of(running: Service, client: socket.socket) -> int:
    """The worker that has taken a connection."""
    ends = f":{running.port:04X}", f":{client.getsockname()[1]:04X}"
    table = [line.split() for line in Path("/proc/net/tcp").read_text().splitlines()]
    (inode,) = (row[9] for row in table if row[1].endswith(ends[0]) and row[2].endswith(ends[1]))
    return next(worker for worker in running.workers if f"socket:[{inode}]" in open_files(worker))


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


def outcome(running: Service, request: bytes) -> str:
    """What became of a request on a connection of its own: its status, or refused, or lost."""
    try:
        return answer_to(running, request, ANSWER_S)[9:12].decode() or LOST
    except ConnectionRefusedError:
        return REFUSED
    except ConnectionError:
        return LOST


def count_of(running: Service, operation: str, status: str) -> float:
    """How many requests ended so."""
    return running.metric("wattpair_requests_total", operation=operation, status=status)


def wait_until_closed(running: Service) -> None:
    """The service that is to stop takes no further connection."""
    running.process.send_signal(signal.SIGTERM)
    wait_until(lambda: outcome(running, closing(LIVE)) == REFUSED, 20, "no connection is taken")


def test_a_worker_killed_in_the_middle_costs_its_callers_one_repetition_and_the_others_nothing(tmp_path: Path) -> None:
    with held_service(tmp_path) as (running, begun, hold), contextlib.ExitStack() as stack:
        wait_until(lambda: len(running.workers) == 2, 20, "both workers are there")
        pool = stack.enter_context(ThreadPoolExecutor(1))
        client = stack.enter_context(wattpair.Client(running.url, retries=4))
        computed = pool.submit(lambda: client.lay_out_face(**LAYOUT))
        wait_until(lambda: begun.exists() and bool(begun.read_text()), 20, "the request is being computed by a known worker")
        killed = int(begun.read_text())
        kept: dict[int, socket.socket] = {}
        sending: dict[int, socket.socket] = {}
        while killed not in sending or {*kept} != {*running.workers}:
            connection = connected(stack, running, ANSWER_S)
            assert is_live(connection)
            worker = worker_of(running, connection)
            (kept if worker not in kept else sending)[worker] = connection
        sending[killed].sendall(head() + BODY[: len(BODY) // 2])
        os.kill(killed, signal.SIGKILL)
        with contextlib.suppress(ConnectionResetError):
            assert sending[killed].recv(100) == b""  # its caller is told at once, without half an answer
        wait_until(lambda: begun.read_text() not in ("", str(killed)), 20, "the client has asked another worker")
        hold.unlink()
        assert computed.result(ANSWER_S).tried
        (other,) = {*kept} - {killed}
        assert is_live(kept[other])
        wait_until(lambda: len(running.workers) == 2 and killed not in running.workers, 20, "the worker is replaced")
        assert running.post("size_pairings", SIZING).status == 200


def test_a_stop_answers_all_who_have_connected_and_refuses_the_others(tmp_path: Path) -> None:
    requests = [closing(each) for each in (calculation(), LIVE, calculation("compute_clipping", elsewhere(1)))]
    with service(tmp_path, queue_length=40) as running:
        results: list[list[str]] = [[] for _ in range(12)]

        def ask_until_refused(request: bytes, outcomes: list[str]) -> None:
            while not outcomes or outcomes[-1] != REFUSED:
                outcomes.append(outcome(running, request))

        with ThreadPoolExecutor(len(results)) as pool:
            for number, each in enumerate(results):
                pool.submit(ask_until_refused, requests[number % len(requests)], each)
            wait_until(lambda: all(len(each) > 3 for each in results), 60, "all are at work")
            before = [len(each) for each in results]
            running.process.send_signal(signal.SIGTERM)
        assert running.process.wait(60) == 0
    assert {each[-1] for each in results} == {REFUSED}
    assert {outcome for each in results for outcome in each[:-1]} == {"200"}
    assert any(len(each) - 1 > count for each, count in zip(results, before, strict=True))


@pytest.mark.parametrize("workers", [1, 2])
def test_workers_are_replaced_under_load_without_anybody_noticing(tmp_path: Path, workers: int) -> None:
    with service(tmp_path, workers=workers, worker_requests_max=100, queue_length=40) as running:
        seen: set[int] = set()
        stopped = threading.Event()
        results: list[str] = []

        def ask_on() -> None:
            while not stopped.is_set():
                results.append(outcome(running, closing(calculation())))

        def are_many() -> bool:
            seen.update(running.workers)
            return len(seen) >= 3 + workers

        with ThreadPoolExecutor(4) as pool, contextlib.ExitStack() as stack:
            stack.callback(stopped.set)
            slow = connected(stack, running, ANSWER_S)
            slow.sendall(closing(head()) + BODY[:1])
            for _ in range(4):
                pool.submit(ask_on)
            wait_until(are_many, 120, "workers are replaced")
            slow.sendall(BODY[1:])  # the worker that has it stays for it
            assert slow.recv(100).startswith(b"HTTP/1.1 200")
        assert set(results) == {"200"}
        assert len(results) > 200
        wait_until(lambda: len(running.workers) == workers, 30, "no worker is left over")


def test_a_clock_that_is_set_during_a_stop_cuts_nobody_off(tmp_path: Path) -> None:
    is_set = tmp_path / "set"
    with (
        held_service(tmp_path, SET, str(is_set), workers=1) as (running, begun, hold),
        ThreadPoolExecutor(1) as pool,
    ):
        held = pool.submit(running.post, "lay_out_face", LAYOUT)
        wait_until(begun.exists, 20, "the request is being computed")
        wait_until_closed(running)
        is_set.touch()
        time.sleep(1.0)  # in which the arbiter looks at the clock
        hold.unlink()
        assert held.result(ANSWER_S).status == 200
        assert running.process.wait(60) == 0


def test_who_asks_a_second_time_for_a_stop_does_not_wait_for_requests(tmp_path: Path) -> None:
    with held_service(tmp_path, workers=1, request_time_max_s=600) as (running, begun, _), ThreadPoolExecutor(1) as pool:
        held = pool.submit(running.post, "lay_out_face", LAYOUT)
        wait_until(begun.exists, 20, "the request is being computed")
        wait_until_closed(running)
        running.process.send_signal(signal.SIGINT)
        assert running.process.wait(60) == 0
        assert held.exception(ANSWER_S) is not None


def metrics_folder(running: Service) -> Path:
    """The folder in memory that a service counts in."""
    (folder,) = {Path(each).parent for each in open_files(running.process.pid) if "wattpair-metrics-" in each}
    return folder


def test_what_a_killed_service_left_in_memory_goes_at_the_next_start_and_nothing_else(tmp_path: Path) -> None:
    with service(tmp_path, workers=1) as living, service(tmp_path, workers=1) as killed:
        kept, left, workers = metrics_folder(living), metrics_folder(killed), killed.workers
        killed.process.kill()
        wait_until(lambda: not any(Path(f"/proc/{each}/fd/0").exists() for each in workers), 60, "its workers have ended")
        assert left.exists()
        with service(tmp_path, workers=1) as following:
            own = metrics_folder(following)
            assert [each.exists() for each in (kept, left, own)] == [True, False, True]
        assert [each.exists() for each in (kept, own)] == [True, False]
        assert living.metric("wattpair_requests_total", operation="live") > 0


def test_a_late_request_is_told_so_and_counted_as_that(tmp_path: Path) -> None:
    with held_service(tmp_path, workers=1, request_time_max_s=1) as (running, _, hold), contextlib.ExitStack() as stack:
        kept = connected(stack, running, ANSWER_S)
        assert is_live(kept)
        late = running.post("lay_out_face", LAYOUT, {"X-Request-ID": "late-1"})
        assert (late.status, late.json["type"]) == (503, "urn:wattpair:problem:overdue")
        (worker,) = running.workers
        hold.unlink()
        wait_until(lambda: count_of(running, "lay_out_face", "503") == 1, 20, "the application has come to its end")
        assert count_of(running, "lay_out_face", "200") == 0
        (line,) = (line for line in running.lines() if line.get("operation") == "lay_out_face")
        assert (line["status"], line["request_id"]) == (503, "late-1")
        assert late.headers["x-request-id"] == late.json["request_id"] == "late-1"
        assert is_live(kept)
        assert running.post("lay_out_face", LAYOUT).status == 200
        assert running.workers == [worker]


def test_a_worker_with_a_stuck_request_is_replaced_while_it_answers_others(tmp_path: Path) -> None:
    with held_service(tmp_path, workers=1, request_time_max_s=1) as (running, _, _):
        (stuck,) = running.workers
        results: list[str] = []
        assert running.post("lay_out_face", LAYOUT).status == 503
        while running.workers in ([], [stuck]):
            results.append(outcome(running, closing(LIVE)))
        wait_until(lambda: stuck not in running.workers, 40, "the stuck one has gone")
        assert set(results) == {"200"}
        assert running.post("size_pairings", SIZING).status == 200
        assert any("does not end" in line["message"] for line in running.lines())
        assert count_of(running, "unread", "503") == 1


def test_a_fault_on_one_connection_and_a_fork_that_fails_cost_nobody_else_anything(tmp_path: Path) -> None:
    command = [sys.executable, "-c", FAULTY]
    with service(tmp_path, command=command, workers=1) as running, contextlib.ExitStack() as stack:
        kept = connected(stack, running, ANSWER_S)
        assert any("no further worker" in line["message"] for line in running.lines())
        (worker,) = running.workers
        assert is_live(kept)
        assert outcome(running, b"FAULT / HTTP/1.1\r\n\r\n") == LOST
        assert is_live(kept)
        assert running.workers == [worker]

"""Bad days: what the service does when something around it fails."""

from __future__ import annotations

import contextlib
import json
import os
import resource
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.contract.bodies import PATHS, example
from tests.running import Service, elsewhere, free_port, service, wait_until
from wattpair_service.api import keys

ATLAS = Path(__file__).resolve().parents[2] / "service/wattpair_service/climate/atlas/data"
KEY = keys.new_key()
BEARER = {"Authorization": f"Bearer {KEY}"}


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    with service(tmp_path_factory.mktemp("faults"), request_time_max_s=3, queue_length=40) as started:
        yield started


@pytest.fixture
def keys_file(tmp_path: Path) -> Path:
    file = tmp_path / "keys.toml"
    file.write_text(keys.entry("crm", KEY) + "requests_per_minute = 3\n")
    return file


def test_a_full_disk_for_logs_costs_the_log_only(tmp_path: Path) -> None:
    with service(tmp_path, stderr="/dev/full") as started:
        assert [started.post("size_pairings", example("size_pairings")).status for _ in range(4)] == [200] * 4
        assert started.post("size_pairings", {}).status == 422


def test_a_reader_of_the_log_that_stalls_costs_the_log_only_and_the_log_says_how_much(tmp_path: Path) -> None:
    pipe = tmp_path / "log"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    with contextlib.closing(os.fdopen(reader, "rb")) as log, service(tmp_path, stderr=str(pipe), workers=1) as started:
        taken = log.read() or b""
        for _ in range(600):  # some 200 bytes each, of which the pipe holds 64 KiB
            assert started.ask("GET", "/v1/nothing").status == 404
        dropped = started.metric("wattpair_log_lines_dropped_total")
        assert dropped > 50
        taken += log.read()
        assert started.ask("GET", "/v1/nothing", headers={"X-Request-ID": "after"}).status == 404
        taken += log.read()
        lines = [json.loads(line) for line in taken.splitlines()]
        assert lines[-2]["message"] == f"{dropped:.0f} lines of the log could not be written and were dropped"
        assert lines[-1]["request_id"] == "after"
        assert len([line for line in lines if line["message"] == "unknown"]) + dropped == 601
        assert started.metric("wattpair_log_lines_dropped_total") == dropped


def test_a_worker_without_room_for_a_file_serves_on_and_takes_connections_once_there_is_some(tmp_path: Path) -> None:
    part = (
        f"POST {PATHS['size_pairings']} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 2\r\n\r\n"
    ).encode()
    with service(tmp_path, workers=1, request_time_max_s=600) as started, contextlib.ExitStack() as stack:
        (worker,) = started.workers
        _, hard = resource.prlimit(worker, resource.RLIMIT_NOFILE)
        idle = stack.enter_context(socket.create_connection(("127.0.0.1", started.port), 20))
        sending = [stack.enter_context(socket.create_connection(("127.0.0.1", started.port), 20)) for _ in range(2)]
        for each in sending:
            each.sendall(part)
        assert started.ask("GET", "/health/live").status == 200  # which is taken after them
        resource.prlimit(worker, resource.RLIMIT_NOFILE, (_open_files(started) + 5, hard))
        waiting = [stack.enter_context(socket.create_connection(("127.0.0.1", started.port), 20)) for _ in range(60)]
        for each in waiting:
            each.sendall(part)
        assert idle.recv(100) == b""  # it makes room
        wait_until(lambda: len(_said(started, "no further connection")) > 0, 20, "no connection can be taken")
        time.sleep(1.0)  # in which it tries again, and says no more of it
        assert len(_said(started, "no further connection")) == 1
        for each in sending:
            each.sendall(b"{}")
            assert each.recv(100).startswith(b"HTTP/1.1 422")
        for each in waiting:
            each.close()
        assert started.post("size_pairings", example("size_pairings")).status == 200


def _said(started: Service, words: str) -> list[str]:
    return [line["message"] for line in started.lines() if words in line["message"]]


CLOCK_STEP = """
import sys, time
from pathlib import Path
real, step = time.time, Path(sys.argv.pop(1))
time.time = lambda: real() + (float(step.read_text()) if step.exists() else 0.0)
from wattpair_service.cli import main
sys.exit(main(["serve"]))
"""


@pytest.mark.parametrize("step_s", [-7200.0, 7200.0])
def test_a_step_of_the_clock_neither_frees_nor_locks_out_anyone(tmp_path: Path, keys_file: Path, step_s: float) -> None:
    step = tmp_path / "step"
    with service(tmp_path, command=[sys.executable, "-c", CLOCK_STEP, str(step)], keys_file=keys_file) as started:
        body = example("size_pairings")
        wait_until(lambda: len(started.workers) == 2, 20, "both workers are there")
        before = started.workers
        assert [started.post("size_pairings", body, BEARER).status for _ in range(4)] == [200, 200, 200, 429]
        step.write_text(str(step_s))
        refused = started.post("size_pairings", body, BEARER)
        assert refused.status == 429
        assert 1 <= int(refused.headers["retry-after"]) <= 60
        assert started.ask("GET", "/health/ready").status == 200
        assert started.workers == before


def test_an_atlas_that_cannot_be_read_is_not_ready_and_says_why(tmp_path: Path) -> None:
    package = tmp_path / "site" / "wattpair_service"
    shutil.copytree(ATLAS.parents[2], package)
    (package / "climate/atlas/data/levels.npy").write_bytes(b"no map")
    command = [sys.executable, "-c", "import sys; sys.path.insert(0, sys.argv[1]); from wattpair_service.cli import main; "
               "main(['serve'])", str(package.parent)]  # fmt: skip
    with service(tmp_path, command=command) as started:
        ready = started.ask("GET", "/health/ready")
        assert (ready.status, ready.json["status"]) == (503, "not ready")
        assert ready.json["faults"][0].startswith("the built-in climate cannot be read: ")
        assert started.ask("GET", "/health/live").status == 200


def test_where_redis_is_gone_each_copy_counts_by_itself_and_says_so(tmp_path: Path, keys_file: Path) -> None:
    server = shutil.which("redis-server")
    assert server, "redis-server is needed: apt-get install redis-server"
    port = free_port()
    command = [server, "--bind", "127.0.0.1", "--port", str(port), "--save", "", "--dir", str(tmp_path)]
    body, url = example("size_pairings"), f"redis://127.0.0.1:{port}/0"

    with contextlib.ExitStack() as stack:
        redis = stack.enter_context(_redis(command, port))
        one = stack.enter_context(service(tmp_path, keys_file=keys_file, redis_url=url))
        two = stack.enter_context(service(tmp_path, keys_file=keys_file, redis_url=url))
        statuses = [each.post("size_pairings", body, BEARER).status for each in (one, two, one, two, one)]
        assert statuses == [200, 200, 200, 429, 429]  # three for both copies together
        redis.kill()
        redis.wait()
        assert [one.post("size_pairings", body, BEARER).status for _ in range(4)] == [200, 200, 200, 429]
        assert any("Redis is gone" in line["message"] for line in one.lines())
        counted = one.ask("GET", "/metrics", headers=BEARER).body.decode()
        assert "wattpair_limits_without_redis_total 4.0" in counted
        assert one.ask("GET", "/health/ready").status == 200
        stack.enter_context(_redis(command, port))
        wait_until(lambda: _redis_counts(one), 20, "the copies count together again")


@contextlib.contextmanager
def _redis(command: list[str], port: int) -> Iterator[subprocess.Popen[bytes]]:
    with subprocess.Popen(command, stdout=subprocess.DEVNULL) as process:
        try:
            wait_until(lambda: _listens(port), 10, "Redis listens")
            yield process
        finally:
            process.kill()


def _redis_counts(one: Service) -> bool:
    one.post("size_pairings", example("size_pairings"), BEARER)
    return any("Redis is back" in line["message"] for line in one.lines())


def _listens(port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
        return True
    return False


def test_slow_clients_hold_nobody_up_for_ever(running: Service) -> None:
    head = f"POST {PATHS['size_pairings']} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 5000\r\n"
    starts = [b"P", head.encode(), head.encode() + b"\r\n{"]
    with contextlib.ExitStack() as stack:
        slow = [stack.enter_context(socket.create_connection(("127.0.0.1", running.port), 20)) for _ in range(60)]
        for number, each in enumerate(slow):
            each.sendall(starts[number % len(starts)])
        assert running.post("size_pairings", example("size_pairings")).status == 200
        for each in slow:  # each is ended by the service: with a refusal, or without a word
            each.settimeout(20)
            received = each.recv(100)
            assert received == b"" or received.startswith((b"HTTP/1.1 400", b"HTTP/1.1 408", b"HTTP/1.1 503"))
    assert len(running.workers) == 2


def test_ten_thousand_open_connections_leave_room_for_a_request(tmp_path: Path) -> None:
    count = 10_000
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    assert hard > count + 500, f"this machine allows {hard} open files; {count} connections need more"
    resource.setrlimit(resource.RLIMIT_NOFILE, (hard, hard))
    try:
        with service(tmp_path, request_time_max_s=120) as started, contextlib.ExitStack() as stack:
            for _ in range(count):
                stack.enter_context(socket.create_connection(("127.0.0.1", started.port), 20))
            wait_until(lambda: _open_files(started) > count, 20, "the service holds all of them")
            assert started.post("compute_clipping", elsewhere(1)).status == 200
            assert started.ask("GET", "/health/ready").status == 200
            assert len(started.workers) == 2
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def _open_files(started: Service) -> int:
    return sum(len(list(Path(f"/proc/{worker}/fd").iterdir())) for worker in started.workers)

"""What the service does when something around it fails."""

from __future__ import annotations

import contextlib
import json
import os
import resource
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.contract.bodies import example
from tests.load.raw import HEAD, connected, head
from tests.running import Service, elsewhere, free_port, service, wait_until
from wattpair_service.api.guards import keys

PACKAGE = Path(__file__).resolve().parents[2] / "service/wattpair_service"
KEY = keys.new_key()
BEARER = {"Authorization": f"Bearer {KEY}"}
SIZING = example("size_pairings")


@pytest.fixture(scope="module")
def without_log(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A service whose log's disk is full."""
    with service(tmp_path_factory.mktemp("faults"), stderr="/dev/full") as running:
        wait_until(lambda: len(running.workers) == 2, 20, "both workers are there")
        yield running


@pytest.fixture
def keys_file(tmp_path: Path) -> Path:
    file = tmp_path / "keys.toml"
    file.write_text(keys.entry("crm", KEY) + "requests_per_minute = 3\n")
    return file


def statuses(*services: Service) -> list[int]:
    """Of one calculation by each."""
    return [each.post("size_pairings", SIZING, BEARER).status for each in services]


def messages(running: Service, words: str) -> list[str]:
    """Lines of the log with these words."""
    return [line["message"] for line in running.lines() if words in line["message"]]


def test_a_full_disk_for_logs_costs_the_log_only(without_log: Service) -> None:
    assert statuses(*[without_log] * 4) == [200] * 4
    assert without_log.post("size_pairings", {}).status == 422


def test_slow_clients_do_not_hold_up_a_request(without_log: Service) -> None:
    with contextlib.ExitStack() as stack:
        for number in range(60):
            connected(stack, without_log).sendall((b"P", HEAD, head(5000) + b"{")[number % 3])
        assert statuses(*[without_log] * 4) == [200] * 4


def test_a_killed_worker_is_replaced_while_the_other_answers(without_log: Service) -> None:
    killed, other = without_log.workers
    os.kill(killed, signal.SIGKILL)
    wait_until(lambda: len(without_log.workers) == 2 and killed not in without_log.workers, 20, "the worker is replaced")
    assert other in without_log.workers
    assert statuses(*[without_log] * 4) == [200] * 4


@pytest.mark.release
def test_a_reader_of_the_log_that_stalls_costs_the_log_only_and_the_log_says_how_much(tmp_path: Path) -> None:
    pipe = tmp_path / "log"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    with contextlib.closing(os.fdopen(reader, "rb")) as log, service(tmp_path, stderr=str(pipe), workers=1) as running:
        taken = log.read() or b""
        for _ in range(600):  # some 200 bytes each, of which the pipe holds 64 KiB
            assert running.ask("GET", "/v1/nothing").status == 404
        dropped = running.metric("wattpair_log_lines_dropped_total")
        assert dropped > 50
        taken += log.read()
        assert running.ask("GET", "/v1/nothing", headers={"X-Request-ID": "after"}).status == 404
        taken += log.read()
        lines = [json.loads(line) for line in taken.splitlines()]
        assert lines[-2]["message"] == f"{dropped:.0f} lines of the log could not be written and were dropped"
        assert lines[-1]["request_id"] == "after"
        assert len([line for line in lines if line["message"] == "unknown"]) + dropped == 601
        assert running.metric("wattpair_log_lines_dropped_total") == dropped


def open_files(running: Service) -> int:
    """Of all workers."""
    return sum(len(list(Path(f"/proc/{worker}/fd").iterdir())) for worker in running.workers)


@pytest.mark.release
def test_a_worker_without_room_for_a_file_serves_on_and_takes_connections_once_there_is_some(tmp_path: Path) -> None:
    with service(tmp_path, workers=1, request_time_max_s=600) as running, contextlib.ExitStack() as stack:
        (worker,) = running.workers
        _, hard = resource.prlimit(worker, resource.RLIMIT_NOFILE)
        idle = connected(stack, running)
        sending = [connected(stack, running) for _ in range(2)]
        for each in sending:
            each.sendall(head(2))
        assert running.ask("GET", "/health/live").status == 200  # which is taken after them
        time.sleep(
            0.5
        )  # in which its connection is closed: a file that frees later would be taken, and the next lack told anew
        resource.prlimit(worker, resource.RLIMIT_NOFILE, (open_files(running) + 5, hard))
        waiting = [connected(stack, running) for _ in range(60)]
        for each in waiting:
            each.sendall(head(2))
        assert idle.recv(100) == b""  # it makes room
        wait_until(lambda: len(messages(running, "no further connection")) > 0, 20, "no connection can be taken")
        time.sleep(1.0)  # in which it tries again, and says no more of it
        assert len(messages(running, "no further connection")) == 1
        for each in sending:
            each.sendall(b"{}")
            assert each.recv(100).startswith(b"HTTP/1.1 422")
        for each in waiting:
            each.close()
        assert statuses(running) == [200]


CLOCK_STEP = """
import sys, time
from pathlib import Path
real, step = time.time, Path(sys.argv.pop(1))
time.time = lambda: real() + (float(step.read_text()) if step.exists() else 0.0)
from wattpair_service.cli import main
sys.exit(main(["serve"]))
"""


@pytest.mark.release
@pytest.mark.parametrize("step_s", [-7200.0, 7200.0])
def test_a_step_of_the_clock_neither_frees_nor_locks_out_anyone(tmp_path: Path, keys_file: Path, step_s: float) -> None:
    step = tmp_path / "step"
    with service(tmp_path, command=[sys.executable, "-c", CLOCK_STEP, str(step)], keys_file=keys_file) as running:
        wait_until(lambda: len(running.workers) == 2, 20, "both workers are there")
        before = running.workers
        assert statuses(*[running] * 4) == [200, 200, 200, 429]
        step.write_text(str(step_s))
        refused = running.post("size_pairings", SIZING, BEARER)
        assert refused.status == 429
        assert 1 <= int(refused.headers["retry-after"]) <= 60
        assert running.ask("GET", "/health/ready").status == 200
        assert running.workers == before


@pytest.mark.release
def test_an_atlas_that_cannot_be_read_is_not_ready_and_says_why(tmp_path: Path) -> None:
    package = tmp_path / "site" / "wattpair_service"
    shutil.copytree(PACKAGE, package)
    (package / "climate/atlas/data/levels.npy").write_bytes(b"no map")
    command = [sys.executable, "-c", "import sys; sys.path.insert(0, sys.argv[1]); from wattpair_service.cli import main; "
               "main(['serve'])", str(package.parent)]  # fmt: skip
    with service(tmp_path, command=command) as running:
        ready = running.ask("GET", "/health/ready")
        assert (ready.status, ready.json["status"]) == (503, "not ready")
        assert ready.json["faults"][0].startswith("the built-in climate cannot be read: ")
        assert running.ask("GET", "/health/live").status == 200


@pytest.mark.release
def test_where_redis_is_gone_each_copy_counts_by_itself_and_says_so(tmp_path: Path, keys_file: Path) -> None:
    port = free_port()
    with contextlib.ExitStack() as stack:
        redis = stack.enter_context(redis_server(tmp_path, port))
        one, two = (
            stack.enter_context(service(tmp_path, keys_file=keys_file, redis_url=f"redis://127.0.0.1:{port}/0")) for _ in "12"
        )
        assert statuses(one, two, one, two, one) == [200, 200, 200, 429, 429]  # three for both copies together
        redis.kill()
        redis.wait()
        assert statuses(*[one] * 4) == [200, 200, 200, 429]
        assert messages(one, "Redis is gone")
        assert "wattpair_limits_without_redis_total 4.0" in one.ask("GET", "/metrics", headers=BEARER).body.decode()
        assert one.ask("GET", "/health/ready").status == 200
        stack.enter_context(redis_server(tmp_path, port))
        wait_until(lambda: bool(statuses(one) and messages(one, "Redis is back")), 20, "the copies count together again")


@contextlib.contextmanager
def redis_server(folder: Path, port: int) -> Iterator[subprocess.Popen[bytes]]:
    """Redis, once it listens."""
    program = shutil.which("redis-server")
    assert program, "redis-server is needed: apt-get install redis-server"
    command = [program, "--bind", "127.0.0.1", "--port", str(port), "--save", "", "--dir", str(folder)]

    def listens() -> bool:
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
            return True
        return False

    with subprocess.Popen(command, stdout=subprocess.DEVNULL) as process:
        try:
            wait_until(listens, 10, "Redis listens")
            yield process
        finally:
            process.kill()


@pytest.mark.release
def test_ten_thousand_open_connections_leave_room_for_a_request(tmp_path: Path) -> None:
    count = 10_000
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    assert hard > count + 500, f"this machine allows {hard} open files; {count} connections need more"
    resource.setrlimit(resource.RLIMIT_NOFILE, (hard, hard))
    try:
        with service(tmp_path, request_time_max_s=120) as running, contextlib.ExitStack() as stack:
            for _ in range(count):
                connected(stack, running)
            wait_until(lambda: open_files(running) > count, 20, "the service holds all of them")
            assert running.post("compute_clipping", elsewhere(1)).status == 200
            assert running.ask("GET", "/health/ready").status == 200
            assert len(running.workers) == 2
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))

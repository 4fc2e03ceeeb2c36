"""One copy by itself, where something around it fails."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from tests.contract.bodies import example
from tests.load.scenarios import stuck_command
from tests.running import Service, service, wait_until
from wattpair_service.api.guards import keys

PACKAGE = Path(__file__).resolve().parents[2] / "service/wattpair_service"
KEY = keys.new_key()
BEARER = {"Authorization": f"Bearer {KEY}"}
SIZING, LAYOUT = example("size_pairings"), example("lay_out_face")
QUEUE = 2


@pytest.fixture
def keys_file(tmp_path: Path) -> Path:
    file = tmp_path / "keys.toml"
    file.write_text(keys.entry("crm", KEY) + "requests_per_minute = 3\n")
    return file


def statuses(running: Service, count: int) -> list[int]:
    """Of so many calculations."""
    return [running.post("size_pairings", SIZING, BEARER).status for _ in range(count)]


@contextlib.contextmanager
def stuck_copy(folder: Path, **settings: Any) -> Iterator[tuple[Service, Path]]:
    """A copy whose layouts do not end while the file is there."""
    file = folder / "stuck"
    file.touch()
    with service(folder, command=stuck_command(file), queue_length=QUEUE, **settings) as running:
        yield running, file


def test_health_answers_while_all_that_is_taken_on_waits_and_more_is_refused_at_once(tmp_path: Path) -> None:
    with stuck_copy(tmp_path) as (running, file), ThreadPoolExecutor(QUEUE + 1) as pool:
        taken = [pool.submit(running.post, "lay_out_face", LAYOUT) for _ in range(QUEUE + 1)]
        wait_until(lambda: running.metric("wattpair_calculations_under_way") == QUEUE + 1, 20, "the queue is full")
        refused = running.post("size_pairings", SIZING)
        assert (refused.status, refused.json["type"], refused.headers["retry-after"]) == (503, "urn:wattpair:problem:busy", "1")
        assert running.ask("GET", "/health/ready").status == 200
        assert running.metric("wattpair_busy_requests_total") == 1
        file.unlink()
        assert [each.result(60).status for each in taken] == [200] * len(taken)


def test_a_calculation_that_does_not_end_is_given_up_with_its_worker(tmp_path: Path) -> None:
    with stuck_copy(tmp_path, request_time_max_s=1) as (running, file), ThreadPoolExecutor(1) as pool:
        (worker,) = running.workers
        lost = pool.submit(running.post, "lay_out_face", LAYOUT)
        wait_until(lambda: running.workers not in ([worker], []), 20, "the worker is replaced")
        assert lost.exception(30) is not None
        assert any("does not end" in line["message"] for line in running.lines())
        file.unlink()
        assert running.post("lay_out_face", LAYOUT).status == 200


def test_a_stop_finishes_what_is_under_way(tmp_path: Path) -> None:
    with stuck_copy(tmp_path) as (running, file), ThreadPoolExecutor(1) as pool:
        under_way = pool.submit(running.post, "lay_out_face", LAYOUT)
        wait_until(lambda: running.metric("wattpair_calculations_under_way") == 1, 20, "it is being computed")
        running.process.send_signal(signal.SIGTERM)
        time.sleep(0.5)
        file.unlink()
        assert under_way.result(30).status == 200
        assert running.process.wait(60) == 0


def test_a_full_disk_for_logs_costs_the_log_only(tmp_path: Path) -> None:
    with service(tmp_path, stderr="/dev/full") as running:
        assert statuses(running, 4) == [200] * 4
        assert running.post("size_pairings", {}).status == 422
        wait_until(lambda: running.metric("wattpair_log_lines_dropped_total") >= 5, 20, "the lost lines are counted")


@pytest.mark.release
def test_a_reader_of_the_log_that_stalls_makes_no_request_wait(tmp_path: Path) -> None:
    pipe = tmp_path / "log"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    with contextlib.closing(os.fdopen(reader, "rb")) as log, service(tmp_path, stderr=str(pipe)) as running:
        for _ in range(600):  # some 200 bytes each, of which the pipe holds 64 KiB
            assert running.ask("GET", "/v1/nothing").status == 404
        taken, end = log.read() or b"", time.monotonic() + 20
        while taken.count(b'"message": "unknown"') < 600 and time.monotonic() < end:
            taken += log.read() or b""
            time.sleep(0.05)
        assert taken.count(b'"message": "unknown"') == 600, "nothing is lost that has room to wait"


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
def test_a_step_of_the_clock_locks_nobody_out(tmp_path: Path, keys_file: Path, step_s: float) -> None:
    step = tmp_path / "step"
    with service(tmp_path, command=[sys.executable, "-c", CLOCK_STEP, str(step)], keys_file=keys_file) as running:
        before = running.workers
        assert statuses(running, 4) == [200, 200, 200, 429]
        step.write_text(str(step_s))
        # Its minute begins anew, once.
        assert statuses(running, 4) == [200, 200, 200, 429]
        refused = running.post("size_pairings", SIZING, BEARER)
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


def test_a_worker_that_starts_while_the_keys_file_is_broken_has_the_keys_of_the_start(tmp_path: Path, keys_file: Path) -> None:
    with service(tmp_path, keys_file=keys_file) as running:
        (worker,) = running.workers
        keys_file.write_text("[[key]")
        os.kill(worker, signal.SIGKILL)
        wait_until(lambda: running.workers not in ([worker], []), 20, "the worker is replaced")
        assert statuses(running, 1) == [200]
        wait_until(lambda: any("keys file" in line["message"] for line in running.lines()), 20, "the log says so")

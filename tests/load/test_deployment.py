"""Two copies behind nginx with TLS and Redis: what becomes of callers where something around them fails."""

from __future__ import annotations

import contextlib
import ssl
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.contract.bodies import example
from tests.deployment import Deployment, deployed
from tests.load import scenarios
from tests.load.callers import MALFORMED, MARKER, hostile, no_more_than
from tests.running import wait_until

pytestmark = pytest.mark.release

ANSWERED = {"answered"}
LOG_S = 0.5
"""Until a line has come through the queue of the log."""


@pytest.fixture(scope="module")
def deployment(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Deployment]:
    with deployed(tmp_path_factory.mktemp("deployment"), redis=True) as running:
        yield running


def test_hostile_callers_cost_honest_ones_nothing_and_reach_no_log(deployment: Deployment) -> None:
    """How quick the honest calls stay is for a quiet machine to say: python -m tests.load."""
    before = [each.worker for each in deployment.copies]
    with hostile(deployment, dripping=300, unread=60), scenarios.calling(deployment, retries=0) as outcomes:
        wait_until(scenarios.answered_more(outcomes, 100), 120, "calls are answered")
    assert set(outcomes) == ANSWERED
    assert [each.worker for each in deployment.copies] == before
    assert MARKER not in deployment.logs()


def refusal(deployment: Deployment, request: bytes) -> bytes:
    """The head of the answer to some bytes; empty where the connection is closed without a word, or while they are sent."""
    received = b""
    with deployment.connect(15.0) as client, contextlib.suppress(ConnectionError, ssl.SSLEOFError):
        client.sendall(request)
        while b"\r\n\r\n" not in received and (chunk := client.recv(1 << 16)):
            received += chunk
    return received


def test_what_is_no_request_is_refused_as_a_problem_and_stands_in_no_log(deployment: Deployment) -> None:
    refusals = {request: refusal(deployment, request) for request in MALFORMED}
    for request, received in refusals.items():
        if received:
            assert received.startswith((b"HTTP/1.1 4", b"HTTP/1.1 5")), (request[:99], received[:200])
            assert b"application/problem+json" in received, request[:99]
    # Two are longer than the proxy reads: it may close before it has them, and its answer is then lost.
    assert sum(map(bool, refusals.values())) >= len(MALFORMED) - 2
    time.sleep(LOG_S)
    assert MARKER not in deployment.logs()


def test_of_what_the_server_itself_refuses_nothing_stands_in_a_log(deployment: Deployment) -> None:
    """The proxy cannot tell a header's value that is no text."""
    request = f"GET / HTTP/1.1\r\nHost: x\r\n{MARKER}: \x01{MARKER}\r\n\r\n".encode()
    assert refusal(deployment, request).startswith(b"HTTP/1.1 400")
    wait_until(lambda: "gunicorn/" in deployment.logs(), 20, "the log says where it was refused")
    time.sleep(LOG_S)
    assert MARKER not in deployment.logs()


def test_a_copy_that_stops_and_returns_costs_no_call(deployment: Deployment) -> None:
    assert set(scenarios.restarts(deployment, 2)) == ANSWERED


def test_a_killed_worker_costs_no_call_that_is_repeated(deployment: Deployment) -> None:
    assert set(scenarios.kills(deployment, 4)) == ANSWERED


def test_a_calculation_that_never_ends_takes_its_own_worker_only(tmp_path: Path) -> None:
    file = tmp_path / "stuck"
    changes = {
        "proxy_next_upstream_timeout 20s": "proxy_next_upstream_timeout 2s",
        '"~(^|, )([2-9]\\d|\\d{3,})\\."': '"~(^|, )[2-9]"',
    }
    with deployed(tmp_path, command=scenarios.stuck_command(file), proxy=changes, request_time_max_s=3) as deployment:
        report = scenarios.stuck(deployment, file)
        told_by_proxy = '"status":504' in deployment.logs()
    told = "\n".join(report.lines())
    assert told_by_proxy, "with the name of the request"
    assert (report.status, report.problem) == (504, "urn:wattpair:problem:overdue"), told
    assert set(report.others) == ANSWERED, told
    assert report.workers_replaced == 1, told


def test_redis_that_goes_and_returns_is_said_and_costs_no_call(tmp_path: Path) -> None:
    """Without Redis each copy counts by itself."""
    with deployed(tmp_path, redis=True, per_minute=6) as deployment, deployment.session() as session:
        body = example("size_pairings")

        def ask() -> int:
            return session.post(f"{deployment.url}/v1/sizing", json=body, timeout=30).status_code

        assert [ask() for _ in range(8)] == [200] * 6 + [429] * 2
        assert deployment.redis is not None
        deployment.redis.kill()
        deployment.redis.wait()
        assert [ask() for _ in range(4)] == [200] * 4
        wait_until(lambda: "Redis is gone" in deployment.logs(), 20, "the log says so")
        with subprocess.Popen(deployment.redis.args, stdout=subprocess.DEVNULL) as again:
            wait_until(lambda: ask() > 0 and "Redis is back" in deployment.logs(), 60, "the log says so")
            again.terminate()


@pytest.mark.alone
def test_beyond_its_limit_the_service_refuses_and_does_not_grow(deployment: Deployment) -> None:
    report = scenarios.overload(deployment, 60.0)
    told = "\n".join(report.lines())
    print(told)
    assert not list(no_more_than(report.at_limit.statuses, (200, 429, 503))), told
    assert set(report.beyond.statuses) == {200, 503}, told
    assert len(report.beyond.accepted_s) > len(report.at_limit.accepted_s) / 2, told
    assert report.growth < 0.03, told

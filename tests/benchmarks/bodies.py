"""Requests to send to a running service."""

from __future__ import annotations

import contextlib
import json
import time

from tests.contract.bodies import Body
from tests.running import JSON, Service
from wattpair_service.api.contract import contract
from wattpair_service.api.exchange.operation import Operation

WAIT_S = 60.0
POLL_S = 0.01


def bodies(operation: Operation, count: int) -> list[str]:
    """The contract's example at its own place, and at further places in Germany and around; the extremes are the service's."""
    example: Body = contract.example(operation)
    places = [(52.1, 5.2), *((46.0 + 0.01 * (n % 800), 6.0 + 0.75 * (n // 800) + 0.0007 * n) for n in range(count - 1))]
    sites = [{"latitude_deg": round(latitude, 4), "longitude_deg": round(longitude, 4)} for latitude, longitude in places]
    return [json.dumps(example | {"site": site}) for site in sites]


def post(server: Service, path: str, body: str) -> None:
    """Send a request over a connection of its own; it must be answered with 200."""
    answer = server.ask("POST", path, body.encode(), JSON | {"Connection": "close"})
    assert answer.status == 200, f"{path} answered {answer.status}: {answer.body[:200]!r} to {body[:200]}"


def wait_for_answer(server: Service, path: str, body: str) -> float:
    """Ask until the first answer; gives its time (`time.monotonic`)."""
    end = time.monotonic() + WAIT_S
    while time.monotonic() < end:
        assert server.process.poll() is None, "the server stopped while it started; start it by hand to see why"
        with contextlib.suppress(ConnectionError):
            post(server, path, body)
            return time.monotonic()
        time.sleep(POLL_S)
    raise RuntimeError(f"{path} did not answer within {WAIT_S:g} s")

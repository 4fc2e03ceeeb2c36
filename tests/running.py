"""Starts servers on free ports of this machine, each as a process of its own, and stops them; most often the service itself.

Tests that only ask use the fixture `shared_service`; those that break or reload a service start their own.
"""

from __future__ import annotations

import contextlib
import http.client
import itertools
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.contract.bodies import PATHS, example
from wattpair_service.settings import PREFIX

START_S = 40.0
STOP_S = 60.0
ANSWER_S = 30.0
JSON = {"Content-Type": "application/json"}


@dataclass(frozen=True, slots=True)
class Answer:
    """Status, headers in lower case, body."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)


@dataclass(frozen=True, slots=True)
class Service:
    """A running service: its port, its process, its log, and when it was started (`time.monotonic`)."""

    port: int
    process: subprocess.Popen[bytes]
    log: Path
    began_s: float

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def workers(self) -> list[int]:
        """Process ids of the workers."""
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children")
        return [int(each) for each in children.read_text().split()]

    def ask(self, method: str, path: str, body: bytes | None = None, headers: dict[str, str] | None = None) -> Answer:
        """One request on a connection of its own."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=ANSWER_S)
        with contextlib.closing(connection):
            connection.request(method, path, body, headers or {})
            response = connection.getresponse()
            return Answer(response.status, {k.lower(): v for k, v in response.getheaders()}, response.read())

    def post(self, operation_id: str, body: dict[str, Any], headers: dict[str, str] | None = None) -> Answer:
        """One calculation."""
        return self.ask("POST", PATHS[operation_id], json.dumps(body).encode(), JSON | (headers or {}))

    def lines(self) -> list[dict[str, Any]]:
        """What the log says so far; every line must be JSON."""
        return [json.loads(line) for line in self.log.read_text(encoding="utf-8").splitlines()]

    def metric(self, name: str, **labels: str) -> float:
        """The sum of a metric's samples that have these labels."""
        wanted = [f'{label}="{value}"' for label, value in labels.items()]
        samples = [line.rsplit(" ", 1) for line in self.ask("GET", "/metrics").body.decode().splitlines() if line[0] != "#"]
        return sum(
            float(value)
            for sample, value in samples
            if sample.partition("{")[0] == name and all(label in sample for label in wanted)
        )


PORTS_FIRST, PORTS_EACH = 20_000, 1_000
"""Below those that the system gives to clients, and so many for each process of pytest-xdist, which runs tests side by side."""


def _own_ports() -> Iterator[int]:
    """The ports of this process, again and again; another run on this machine most likely begins elsewhere."""
    worker = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw")) % 10
    own = range(PORTS_FIRST + worker * PORTS_EACH, PORTS_FIRST + (worker + 1) * PORTS_EACH)
    start = os.getpid() % PORTS_EACH
    return itertools.cycle([*own[start:], *own[:start]])


_ports = _own_ports()


def free_port() -> int:
    """A port that is free now, and that no other process of these tests takes."""
    for port in itertools.islice(_ports, PORTS_EACH):
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port
    raise RuntimeError("no port is free")


def wait_until(holds: Callable[[], bool], seconds: float, what: str) -> None:
    """Look again and again, not without end."""
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, f"not within {seconds:g} s: {what}"
        time.sleep(0.05)


SERVE = [sys.executable, "-m", "wattpair_service", "serve"]


@contextlib.contextmanager
def started(
    command: list[str],
    log: Path = Path(os.devnull),
    *,
    environment: dict[str, str] | None = None,
    **settings: Any,
) -> Iterator[Service]:
    """A server with its settings given in lower case; gives it at once, before it can answer."""
    given = {"host": "127.0.0.1", "port": free_port()} | settings
    inherited = {key: value for key, value in os.environ.items() if not key.startswith(PREFIX)}
    inherited |= (environment or {}) | {f"{PREFIX}{name.upper()}": str(value) for name, value in given.items()}
    began_s = time.monotonic()
    with log.open("wb") as errors:
        process = subprocess.Popen(command, env=inherited, stdout=subprocess.DEVNULL, stderr=errors)
    try:
        yield Service(int(str(given["port"])), process, log, began_s)
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(STOP_S)
        finally:
            process.kill()


@contextlib.contextmanager
def service(folder: Path, *, command: list[str] = SERVE, stderr: str | None = None, **settings: Any) -> Iterator[Service]:
    """The service, alive; its log goes to a file of its own in the folder, or where `stderr` says."""
    log = Path(stderr) if stderr else Path(tempfile.mkstemp(".log", "service-", folder)[1])
    with started(command, log, **settings) as running:
        wait_until(lambda: _is_live(running), START_S, "the service lives")
        yield running


def _is_live(running: Service) -> bool:
    assert running.process.poll() is None, running.log.read_text() if running.log.is_file() else "the service ended"
    with contextlib.suppress(OSError, http.client.HTTPException):
        return running.ask("GET", "/health/live").status == 200
    return False


def elsewhere(number: int) -> dict[str, Any]:
    """A clipping request for a place that no cache knows: some 25 ms of calculation."""
    body = example("compute_clipping")
    return body | {
        "site": body["site"] | {"latitude_deg": 45.0 + number % 700 / 100.0, "longitude_deg": 5.0 + number % 499 / 100.0}
    }

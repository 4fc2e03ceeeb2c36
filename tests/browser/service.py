"""The real service as its operator runs it: a process of its own under gunicorn, on a free port of this machine."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from urllib.error import URLError
from urllib.request import urlopen

from wattpair_service.settings import PREFIX

START_SECONDS = 60.0
STOP_SECONDS = 30.0


@dataclass(frozen=True, slots=True)
class Running:
    """A server, its process, which is the parent of its workers, and when it was started (`time.monotonic`)."""

    url: str
    process: subprocess.Popen[bytes]
    started_s: float


@contextmanager
def running_service(**settings: str) -> Iterator[str]:
    """The service until the block ends; gives its address.

    Parameters
    ----------
    **settings : str
        Further settings by their name without prefix, such as `STATION_FOLDER="/stations"`.
    """
    with running(["wattpair_service", "serve"], **settings) as server:
        _wait_until_live(server)
        yield server.url


@contextmanager
def running(module: list[str], **settings: str) -> Iterator[Running]:
    """A Python module with its arguments as a server of its own; gives it at once, before it can answer.

    Parameters
    ----------
    module : list of str
        What stands after `python -m`.
    **settings : str
        As for `running_service`.
    """
    port = _free_port()
    chosen = {"HOST": "127.0.0.1", "PORT": str(port), "WORKERS": "1"} | settings
    environment = (
        os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)} | {PREFIX + name: value for name, value in chosen.items()}
    )
    started_s = time.monotonic()
    process = subprocess.Popen(
        [sys.executable, "-m", *module], env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        yield Running(f"http://127.0.0.1:{port}", process, started_s)
    finally:
        process.terminate()
        process.wait(STOP_SECONDS)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def _wait_until_live(server: Running) -> None:
    end = time.monotonic() + START_SECONDS
    while time.monotonic() < end:
        assert server.process.poll() is None, "the service stopped while it started; run `wattpair-service serve` to see why"
        try:
            with urlopen(f"{server.url}/health/live", timeout=5):
                return
        except (URLError, ConnectionError):
            time.sleep(0.05)
    raise AssertionError(f"the service did not answer within {START_SECONDS:g} s")

"""The real service as its operator runs it: a process of its own under gunicorn, on a free port of this machine."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from urllib.error import URLError
from urllib.request import urlopen

from wattpair_service.settings import PREFIX

START_SECONDS = 60.0
STOP_SECONDS = 30.0


@contextmanager
def running_service(**settings: str) -> Iterator[str]:
    """The service until the block ends; gives its address.

    Parameters
    ----------
    **settings : str
        Further settings by their name without prefix, such as `STATION_FOLDER="/stations"`.
    """
    port = _free_port()
    chosen = {"HOST": "127.0.0.1", "PORT": str(port), "WORKERS": "1"} | settings
    environment = (
        os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)} | {PREFIX + name: value for name, value in chosen.items()}
    )
    process = subprocess.Popen(
        [sys.executable, "-m", "wattpair_service", "serve"],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        url = f"http://127.0.0.1:{port}"
        _wait_until_live(process, url)
        yield url
    finally:
        process.terminate()
        process.wait(STOP_SECONDS)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def _wait_until_live(process: subprocess.Popen[bytes], url: str) -> None:
    end = time.monotonic() + START_SECONDS
    while time.monotonic() < end:
        assert process.poll() is None, "the service stopped while it started; run `wattpair-service serve` to see why"
        try:
            with urlopen(f"{url}/health/live", timeout=5):
                return
        except (URLError, ConnectionError):
            time.sleep(0.05)
    raise AssertionError(f"the service did not answer within {START_SECONDS:g} s")

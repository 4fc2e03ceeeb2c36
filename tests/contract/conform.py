"""Asks the real service under gunicorn what schemathesis makes of the contract: `python -m tests.contract.conform`.

Every check is on, requests are valid and broken, and links between operations are followed. By hand it takes a number of
examples for each operation, such as --max-examples 1000; the gate takes few.
"""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

FOLDER = Path(__file__).parent
CONTRACT = FOLDER.parents[1] / "openapi" / "wattpair.v1.yaml"
START_S = 60


@contextmanager
def gunicorn() -> Iterator[str]:
    """The service on a free port of this machine; gives its address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    url = f"http://127.0.0.1:{port}"
    settings = {"WATTPAIR_HOST": "127.0.0.1", "WATTPAIR_PORT": str(port), "WATTPAIR_WORKERS": "2"}
    server = subprocess.Popen(
        [sys.executable, "-m", "wattpair_service", "serve"],
        env={**os.environ, **settings},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        _wait_for(f"{url}/health/live", server)
        yield url
    finally:
        server.terminate()
        server.wait(30)


def _wait_for(address: str, server: subprocess.Popen[bytes]) -> None:
    end_s = time.monotonic() + START_S
    while server.poll() is None and time.monotonic() < end_s:
        try:
            with urllib.request.urlopen(address, timeout=1):
                return
        except OSError:
            time.sleep(0.1)
    raise RuntimeError("the service did not start")


def conform(arguments: Sequence[str]) -> subprocess.CompletedProcess[str]:
    """Run schemathesis against the service with further arguments of its own."""
    # It writes down what it finds where it runs.
    with gunicorn() as url, tempfile.TemporaryDirectory() as folder:
        return subprocess.run(
            [
                *(sys.executable, "-m", "schemathesis.cli", "--config-file", str(FOLDER / "schemathesis.toml")),
                *("run", str(CONTRACT), "--url", url, "--checks", "all", "--mode", "all", "--continue-on-failure"),
                *("--no-color", *arguments),
            ],
            cwd=folder,
            capture_output=True,
            text=True,
            check=False,
        )


if __name__ == "__main__":
    result = conform(sys.argv[1:])
    print(result.stdout, result.stderr)
    raise SystemExit(result.returncode)

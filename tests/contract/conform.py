"""Asks the real service under gunicorn what schemathesis makes of the contract: `python -m tests.contract.conform`.

Every check is on, requests are valid and broken, and links between operations are followed. By hand it takes a number of
examples for each operation, such as --max-examples 1000; the gate takes few.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.running import service

FOLDER = Path(__file__).parent
CONTRACT = FOLDER.parents[1] / "openapi" / "wattpair.v1.yaml"


def conform(url: str, arguments: Sequence[str]) -> subprocess.CompletedProcess[str]:
    """Run schemathesis against a service with further arguments of its own."""
    # It writes down what it finds where it runs.
    with tempfile.TemporaryDirectory() as folder:
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
    with tempfile.TemporaryDirectory() as logs, service(Path(logs)) as running:
        result = conform(running.url, sys.argv[1:])
    print(result.stdout, result.stderr)
    raise SystemExit(result.returncode)

"""All checks in one command: `python3 tests/check.py`.

Without arguments it makes a fresh virtual environment, installs both distributions there and checks with it; that is what the
README promises and what the gate calls. With --here it uses the environment that it runs in. Only the standard library is
needed to start it.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PYTHON_FLOOR = (3, 11)

SYSTEM = {"redis-server": "redis-server", "nginx": "nginx-light", "openssl": "openssl"}
"""Programs that tests start, and the packages of Debian that bring them."""
STEPS = {
    "format": ["-m", "ruff", "format", "--check", "."],
    "lint": ["-m", "ruff", "check", "."],
    "types": ["-m", "mypy"],
    "insecure code": ["-m", "bandit", "-q", "-c", "pyproject.toml", "-r", "service", "sdk/src"],
    "advisories": ["docker/audit.py"],
    "image": ["docker/check.py"],
    "validation": ["-m", "tests.validation"],
    "tests": ["-m", "pytest"],
}


def main() -> int:
    """Run every check; returns the exit status."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--here", action="store_true", help="use the environment that this runs in")
    parser.add_argument("steps", nargs="*", help=f"only these of: {', '.join(STEPS)}")
    options = parser.parse_args()
    unknown = set(options.steps) - set(STEPS)
    if unknown:
        parser.error(f"no such step: {', '.join(sorted(unknown))}")
    if sys.version_info < PYTHON_FLOOR:
        parser.error("Python 3.11 or newer is needed")
    steps = options.steps or list(STEPS)
    install_system()
    if options.here:
        return run(Path(sys.executable), steps)
    with tempfile.TemporaryDirectory(prefix="wattpair-check-") as folder:
        return run(install(Path(folder)), steps)


def install_system() -> None:
    """What tests start and pip does not bring, where this may install it."""
    absent = [package for program, package in SYSTEM.items() if shutil.which(program) is None]
    if absent and os.geteuid() == 0 and shutil.which("apt-get"):
        apt = ["apt-get", "-o", "DPkg::Lock::Timeout=300", "-qq"]
        subprocess.run([*apt, "update"], check=False)
        environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
        subprocess.run([*apt, "install", "--yes", "--no-install-recommends", *absent], check=False, env=environment)


def install(folder: Path) -> Path:
    """A new environment with both distributions; returns its interpreter."""
    venv.create(folder, with_pip=True)
    python = folder / "bin" / "python"
    pip = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    subprocess.run([*pip, "-e", "./sdk[pandas]", "-e", ".[demo,tests]"], cwd=ROOT, check=True)
    return python


def run(python: Path, steps: list[str]) -> int:
    """Run the steps with an interpreter; goes on after a failure, so that one run shows all of them."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    failed = []
    for step in steps:
        start = time.monotonic()
        print(f"== {step}", flush=True)
        code = subprocess.run([python, *STEPS[step]], cwd=ROOT, env=environment, check=False).returncode
        print(f"== {step}: {'ok' if code == 0 else f'FAILED ({code})'} after {time.monotonic() - start:.0f} s", flush=True)
        if code != 0:
            failed.append(step)
    print(f"{'all checks passed' if not failed else 'failed: ' + ', '.join(failed)}")
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())

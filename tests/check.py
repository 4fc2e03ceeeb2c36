"""All checks in one command: `python3 tests/check.py`.

Without arguments it makes a fresh virtual environment, installs both distributions there and checks with it; that is what the
README promises and what the gate calls. What the tests of pages, sheet and server need besides Python it installs from
Debian's packages where it is missing. With --here it uses what is installed. Only the standard library is needed to start
it.
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
from ctypes.util import find_library
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PYTHON_FLOOR = (3, 11)
PROGRAMS = {
    "chromium": "chromium",
    "curl": "curl",
    "redis-server": "redis-server",
    "nginx": "nginx-light",
    "openssl": "openssl",
}
"""What the tests start besides Python, and the packages of Debian that bring it."""
LIBRARIES = {
    "pango-1.0": "libpango-1.0-0",
    "pangoft2-1.0": "libpangoft2-1.0-0",
    "harfbuzz-subset": "libharfbuzz-subset0",
}
"""What the writer of the PDF needs, with Debian's package of each."""
APT_WAIT_SECONDS = 300
"""How long to wait where somebody else is installing."""

STEPS = {
    "format": ["-m", "ruff", "format", "--check", "."],
    "lint": ["-m", "ruff", "check", "."],
    "types": ["-m", "mypy"],
    "insecure code": ["-m", "bandit", "-q", "-c", "pyproject.toml", "-r", "service", "sdk/src"],
    "advisories": ["-m", "docker.audit"],
    "bill of materials": ["-m", "docker.bill_of_materials"],
    "image": ["-m", "docker.check"],
    "validation": ["-m", "tests.validation"],
    "tests": ["-m", "pytest"],
}
NOT_DONE = 77
"""How a step ends that could not be done here and has said why, as docker/__init__.py has it."""


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
    missing = missing_packages() if "tests" in steps else []
    if options.here:
        if missing:
            print(f"some tests will fail: not installed: {', '.join(missing)}", flush=True)
        return run({step: STEPS[step] for step in steps})
    if missing and (obstacle := install_packages(missing)):
        print(f"the tests need {' and '.join(missing)}: {obstacle}", file=sys.stderr)
        return 1
    with tempfile.TemporaryDirectory(prefix="wattpair-check-") as folder:
        return run({step: STEPS[step] for step in steps}, install(Path(folder)))


def install(folder: Path) -> Path:
    """A new environment with both distributions; returns its interpreter."""
    venv.create(folder, with_pip=True)
    python = folder / "bin" / "python"
    pip = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    subprocess.run([*pip, "-e", "./sdk[pandas]", "-e", ".[demo,tests]"], cwd=ROOT, check=True)
    return python


def missing_packages() -> list[str]:
    """Debian's packages that the tests need and that are not there."""
    programs = [package for program, package in PROGRAMS.items() if shutil.which(program) is None]
    return programs + [package for library, package in LIBRARIES.items() if find_library(library) is None]


def install_packages(missing: list[str]) -> str:
    """Install programs and libraries from Debian's packages; returns what stands in the way, or nothing."""
    if shutil.which("apt-get") is None:
        return "not installed, and there is no apt-get here; install them by hand"
    if os.geteuid() != 0:
        return f"not installed, and apt-get needs root; run: sudo apt-get install {' '.join(missing)}"
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (["update"], ["install", "--yes", "--no-install-recommends", *missing]):
        call = ["apt-get", "--quiet=2", f"--option=DPkg::Lock::Timeout={APT_WAIT_SECONDS}", *command]
        done = subprocess.run(call, env=environment, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            said = (done.stderr or done.stdout).strip().splitlines() or ["nothing"]
            return f"`{' '.join(call)}` ended with {done.returncode} and said: {said[-1]}"
    return ""


def run(steps: dict[str, list[str]], python: Path = Path(sys.executable)) -> int:
    """Run the steps with an interpreter; goes on after a failure, so that one run shows all of them."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    failed, not_done = [], []
    for step, arguments in steps.items():
        start = time.monotonic()
        print(f"== {step}", flush=True)
        code = subprocess.run([python, *arguments], cwd=ROOT, env=environment, check=False).returncode
        ended = {0: "ok", NOT_DONE: "NOT DONE"}.get(code, f"FAILED ({code})")
        print(f"== {step}: {ended} after {time.monotonic() - start:.0f} s", flush=True)
        if code == NOT_DONE:
            not_done.append(step)
        elif code != 0:
            failed.append(step)
    print(closing_line(failed, not_done))
    return 1 if failed else 0


def closing_line(failed: list[str], not_done: list[str]) -> str:
    """What nobody may miss."""
    left = f"NOT DONE: {', '.join(not_done)} (the reason stands with it above)" if not_done else ""
    if failed:
        return f"failed: {', '.join(failed)}" + (f"; {left}" if left else "")
    return "all checks passed" + (f", but {left}" if left else "")


if __name__ == "__main__":
    raise SystemExit(main())

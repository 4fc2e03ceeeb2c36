"""All checks in one command: `python3 tests/check.py`.

It makes a virtual environment of its own, installs both distributions there and checks with it; that is what the README
promises. The environment is kept for the next call until a pin changes. What the tests of pages, sheet and server need besides
Python it installs from Debian's packages where it is missing. `--release` goes on with what takes long: the image, the soak,
the tests marked `release`, and more random examples, new ones each time. Only the standard library is needed to start it.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import re
import shutil
import subprocess
import sys
import threading
import time
import venv
from collections.abc import Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from ctypes.util import find_library
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ENVIRONMENT = ROOT / ".venv-check"
PYTHON_FLOOR = (3, 11)
PINS = ("pyproject.toml", "sdk/pyproject.toml")
UV = "uv==0.13.9"
"""Installs in seconds what takes pip more than a minute."""
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
NOT_DONE = 77
"""How a step ends that could not be done here and has said why, as tests/docker/image.py has it."""

PYTEST = ("-m", "pytest", "-q", "--numprocesses=auto", "--dist=loadfile")
COVERAGE = ROOT / ".coverage.json"
BILL_OF_MATERIALS = ROOT / "dist" / "wattpair-service.cdx.json"


@dataclass(frozen=True, slots=True)
class Step:
    """A check: the arguments of its interpreter, where `{seed}` is filled in, and whether it needs the machine for itself."""

    arguments: tuple[str, ...]
    alone: bool = False
    unreachable: re.Pattern[bytes] | None = None
    """How a step says that what it asks cannot be reached from here: it was then not done, and has not failed."""


EVERYDAY = {
    "tests": Step(PYTEST),
    "format": Step(("-m", "ruff", "format", "--check", ".")),
    "lint": Step(("-m", "ruff", "check", ".")),
    "types": Step(("-m", "mypy")),
    "insecure code": Step(("-m", "bandit", "-q", "-c", "pyproject.toml", "-r", "service", "sdk/src")),
    "validation": Step(("-m", "tests.validation")),
}
"""What the product does, in minutes. The first takes all processors, the others run in turn beside it."""
UNREACHABLE = re.compile(
    rb"^requests\.exceptions\.(ConnectionError|ConnectTimeout|ReadTimeout|ProxyError)\b|Could not connect to ", re.MULTILINE
)
"""How the auditor says that nobody answers; whatever else stops it is a failure."""
RELEASE = {
    # More processes than processors, since many of these tests wait.
    "all tests": Step(
        (*PYTEST, "--numprocesses=3", "-m", "not alone", "--hypothesis-profile=release", "--hypothesis-seed={seed}",
         "--shuffle={seed}", "--durations=20", "--cov", "--cov-report=", f"--cov-report=json:{COVERAGE}"),
    ),
    "image": Step(("-m", "tests.docker.image")),
    "advisories": Step(
        ("-m", "pip_audit", "--requirement", "docker/requirements.lock", "--disable-pip", "--require-hashes",
         "--progress-spinner", "off", "--vulnerability-service", "osv"),
        unreachable=UNREACHABLE,
    ),
    "bill of materials": Step(
        ("-m", "cyclonedx_py", "requirements", "docker/requirements.lock", "--pyproject", "pyproject.toml", "--validate",
         "--output-reproducible", "--output-file", str(BILL_OF_MATERIALS)),
    ),
    "languages": Step(("-m", "tests.languages")),
    "conformance": Step(("-m", "tests.contract.conform", "--max-examples", "60", "--seed", "{seed}")),
    "forms": Step(("-m", "tests.contract.forms", "--designs", "60", "--seed", "{seed}")),
    "soak": Step(("-m", "pytest", "-q", "-m", "alone", "--capture=no"), alone=True),
}  # fmt: skip
"""What takes long or waits for clocks. The first runs beside the others; what needs the machine for itself comes last."""
GATE = {
    "release tests": Step(
        (
            *PYTEST,
            "--numprocesses=3",
            "-m",
            "release and not alone",
            "--hypothesis-profile=release",
            "--hypothesis-seed={seed}",
        ),
    ),
    **{name: step for name, step in RELEASE.items() if name != "all tests"},
}
"""What the gate adds: the same, without the tests again that it has just run."""


def main() -> int:
    """Run every check; returns the exit status."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--here", action="store_true", help="use the environment that this runs in")
    parser.add_argument("--fresh", action="store_true", help="make the environment anew")
    parser.add_argument("--release", action="store_true", help="all of it, as before a release")
    parser.add_argument("--release-only", action="store_true", help="only what --release adds")
    parser.add_argument("--gate", action="store_true", help="only what the gate adds: --release without tests run twice")
    parser.add_argument("--seed", type=int, help="of the random examples and of the tests' order in --release; else a new one")
    parser.add_argument("steps", nargs="*", help=f"only these of: {', '.join(EVERYDAY | RELEASE | GATE)}")
    options = parser.parse_args()
    if unknown := set(options.steps) - (EVERYDAY | RELEASE | GATE).keys():
        parser.error(f"no such step: {', '.join(sorted(unknown))}")
    if sys.version_info < PYTHON_FLOOR:
        parser.error("Python 3.11 or newer is needed")
    missing = missing_packages()
    if options.here:
        python = Path(sys.executable)
        if missing:
            print(f"some tests will fail: not installed: {', '.join(missing)}", flush=True)
    elif missing and (obstacle := install_packages(missing)):
        print(f"the tests need {' and '.join(missing)}: {obstacle}", file=sys.stderr)
        return 1
    else:
        python = environment(anew=options.fresh)
    groups = (
        [GATE]
        if options.gate
        else [RELEASE]
        if options.release_only
        else [EVERYDAY, RELEASE]
        if options.release
        else [EVERYDAY]
    )
    if options.steps:
        groups = [{name: step for name, step in (EVERYDAY | RELEASE | GATE).items() if name in options.steps}]
    seed = random.SystemRandom().randrange(1 << 32) if options.seed is None else options.seed
    run = Run(python, seed)
    for group in groups:
        run.side_by_side(group)
    print(run.closing_line())
    return 1 if run.failed else 0


def environment(*, anew: bool) -> Path:
    """The kept environment, made anew where asked to or where a pin changed; returns its interpreter."""
    python, stamp = ENVIRONMENT / "bin" / "python", ENVIRONMENT / "pins"
    pinned = "".join((ROOT / name).read_text(encoding="utf-8") for name in PINS) + sys.version + UV
    pins = hashlib.sha256(pinned.encode()).hexdigest()
    if not anew and stamp.is_file() and stamp.read_text() == pins:
        return python
    start = time.monotonic()
    venv.create(ENVIRONMENT, clear=True, with_pip=True)
    wanted = ["-e", "./sdk[pandas]", "-e", ".[demo,tests]"]
    pip = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    with_uv = [str(ENVIRONMENT / "bin" / "uv"), "pip", "install", "--quiet", "--python", str(python), *wanted]
    has_uv = subprocess.run([*pip, UV], cwd=ROOT, check=False).returncode == 0
    if not has_uv or subprocess.run(with_uv, cwd=ROOT, check=False).returncode != 0:
        # A mirror that pip alone is told of.
        subprocess.run([*pip, *wanted], cwd=ROOT, check=True)
    stamp.write_text(pins)
    print(f"== environment: made in {time.monotonic() - start:.0f} s", flush=True)
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
    whole = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (["update"], ["install", "--yes", "--no-install-recommends", *missing]):
        call = ["apt-get", "--quiet=2", f"--option=DPkg::Lock::Timeout={APT_WAIT_SECONDS}", *command]
        done = subprocess.run(call, env=whole, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            said = (done.stderr or done.stdout).strip().splitlines() or ["nothing"]
            return f"`{' '.join(call)}` ended with {done.returncode} and said: {said[-1]}"
    return ""


class Run:
    """Runs steps with an interpreter and keeps what came of each; goes on after a failure, so that one run shows all."""

    def __init__(self, python: Path, seed: int) -> None:
        self.failed: list[str] = []
        self.not_done: list[str] = []
        self._python, self._seed = python, seed
        self._printing = threading.Lock()

    def side_by_side(self, steps: Mapping[str, Step]) -> None:
        """The first step, whose output is shown as it comes, beside the others in turn; then what needs the machine alone."""
        COVERAGE.unlink(missing_ok=True)
        BILL_OF_MATERIALS.parent.mkdir(exist_ok=True)
        together = [name for name, step in steps.items() if not step.alone]
        with ThreadPoolExecutor(2) as pool:
            lanes = [pool.submit(self._in_turn, steps, lane) for lane in (together[:1], together[1:])]
            for lane in lanes:
                lane.result()
        self._in_turn(steps, [name for name, step in steps.items() if step.alone])
        if COVERAGE.exists():
            print(coverage_line())

    def _in_turn(self, steps: Mapping[str, Step], names: Iterable[str]) -> None:
        for name in names:
            # What is shown as it comes cannot be searched for why it ended.
            self._one(name, steps[name], shown=name == next(iter(steps)) and steps[name].unreachable is None)

    def _one(self, name: str, step: Step, *, shown: bool) -> None:
        start = time.monotonic()
        command = [str(self._python), *(each.format(seed=self._seed) for each in step.arguments)]
        random_step = any("{seed}" in each for each in step.arguments)
        with self._printing:
            print(f"== {name}: begun" + (f", seed {self._seed}" if random_step else ""), flush=True)
        done = subprocess.run(
            command, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, check=False,
            stdout=None if shown else subprocess.PIPE, stderr=None if shown else subprocess.STDOUT,
        )  # fmt: skip
        status = done.returncode
        if status and step.unreachable is not None and step.unreachable.search(done.stdout or b""):
            status = NOT_DONE
        ended = {0: "ok", NOT_DONE: "NOT DONE"}.get(status, f"FAILED ({status})")
        with self._printing:
            if done.stdout:
                print(done.stdout.decode(errors="replace"), end="")
            print(f"== {name}: {ended} after {time.monotonic() - start:.0f} s", flush=True)
        if status == NOT_DONE:
            self.not_done.append(name)
        elif status != 0:
            self.failed.append(f"{name} (--seed {self._seed})" if random_step else name)

    def closing_line(self) -> str:
        """What nobody may miss."""
        left = f"NOT DONE: {', '.join(self.not_done)} (the reason stands with it above)" if self.not_done else ""
        if self.failed:
            return f"failed: {', '.join(self.failed)}" + (f"; {left}" if left else "")
        return "all checks passed" + (f", but {left}" if left else "")


def coverage_line() -> str:
    """How much of service and client the tests run, in servers that they start too; copies elsewhere do not count."""
    files = json.loads(COVERAGE.read_text(encoding="utf-8"))["files"]
    own = [each["summary"] for name, each in files.items() if name.startswith(("service/", "sdk/src/"))]

    def share(covered: str, number: str) -> str:
        run, whole = (sum(each[name] for each in own) for name in (covered, number))
        return f"{run} of {whole} ({run / whole:.2%})"

    lines, branches = share("covered_lines", "num_statements"), share("covered_branches", "num_branches")
    return f"== coverage: {lines} lines, {branches} branches"


if __name__ == "__main__":
    raise SystemExit(main())

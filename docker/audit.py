"""Asks the advisory service about every locked dependency: `python docker/audit.py`. Where it cannot be reached, it says so."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

LOCK = Path(__file__).resolve().parent / "requirements.lock"
ANSWER_S = 120
ACCEPTED: dict[str, str] = {}
"""Advisories that do not concern the service, by their id, each with the reason."""


def main() -> int:
    """Audit; returns the exit status."""
    command = [
        sys.executable,
        "-m",
        "pip_audit",
        "--requirement",
        str(LOCK),
        "--disable-pip",
        "--require-hashes",
        "--format",
        "json",
    ]
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=ANSWER_S)
        asked = json.loads(done.stdout)["dependencies"]
    except (subprocess.TimeoutExpired, ValueError):
        print("audit: NOT AUDITED: the advisory service cannot be reached from here")
        return 0
    known = [each for each in asked if "skip_reason" not in each]
    if not known:
        print(f"audit: NOT AUDITED: the advisory service knows none of the {len(asked)} dependencies here")
        return 0
    found = [(each["name"], advisory["id"]) for each in known for advisory in each["vulns"] if advisory["id"] not in ACCEPTED]
    for name, advisory in found:
        print(f"audit: {name}: {advisory}")
    print(f"audit: {len(known)} of {len(asked)} dependencies audited, {len(found)} advisories")
    return 1 if found else 0


if __name__ == "__main__":
    raise SystemExit(main())

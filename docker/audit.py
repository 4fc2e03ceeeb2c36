"""Asks the advisory service about every locked dependency: `python -m docker.audit`.

It ends well where nothing is found, badly where something is or where the audit itself fails. A service that cannot be reached
is neither: it says NOT AUDITED, and has an exit status of its own.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

from docker import NOT_DONE, licences

WHOLE_S = 180
ACCEPTED: dict[str, str] = {}
"""Advisories that do not concern the service, by their id, each with the reason."""
UNREACHABLE = re.compile(
    r"^requests\.exceptions\.(ConnectionError|ConnectTimeout|ReadTimeout|ProxyError)\b|Could not connect to ", re.M
)
"""How the auditor says that nobody answers; whatever else stops it is a failure."""


def main(arguments: list[str] | None = None) -> int:
    """Audit; returns the exit status."""
    parser = argparse.ArgumentParser(description="Known advisories of the locked dependencies.")
    parser.add_argument("--lock", type=Path, default=licences.LOCK, help="the dependencies")
    parser.add_argument("--url", help="another service that speaks as the Open Source Vulnerabilities database does")
    options = parser.parse_args(arguments)
    command = [sys.executable, "-m", "pip_audit", "--requirement", str(options.lock), "--disable-pip", "--require-hashes"]
    command += ["--format", "json", "--progress-spinner", "off", "--vulnerability-service", "osv"]
    command += ["--osv-url", options.url] if options.url else []
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=WHOLE_S)
    except subprocess.TimeoutExpired:
        return _not_audited(f"the advisory service did not answer within {WHOLE_S} s")
    if not done.stdout.strip() and UNREACHABLE.search(done.stderr):
        return _not_audited("the advisory service cannot be reached from here")
    try:
        return _told(json.loads(done.stdout)["dependencies"])
    except (ValueError, KeyError, TypeError):
        print(f"audit: FAILED: the auditor ended with {done.returncode}:\n{done.stderr[-2000:]}", file=sys.stderr)
        return 1


def _not_audited(reason: str) -> int:
    print(f"audit: NOT AUDITED: {reason}")
    return NOT_DONE


def _told(asked: list[dict[str, Any]]) -> int:
    """Say what was found; returns the exit status."""
    left_out = [each for each in asked if "skip_reason" in each]
    known = [each for each in asked if "skip_reason" not in each]
    found = [(each["name"], advisory["id"]) for each in known for advisory in each["vulns"] if advisory["id"] not in ACCEPTED]
    for each in left_out:
        print(f"audit: {each['name']} could not be audited: {each['skip_reason']}")
    for name, advisory in found:
        print(f"audit: {name}: {advisory}")
    print(f"audit: {len(known)} dependencies audited, {len(left_out)} could not be, {len(found)} advisories")
    return 1 if found or left_out or not known else 0


if __name__ == "__main__":
    raise SystemExit(main())

"""Writes the software bill of materials of what is locked: `python -m docker.bill_of_materials [FILE]`.

CycloneDX's own tool writes it from the lock and holds it against the published schema; here it is made sure that it lists
exactly what is locked. The same lock gives the same file.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from cyclonedx.schema import OutputFormat, SchemaVersion
from cyclonedx.validation import make_schemabased_validator

from docker import licences

ROOT = Path(__file__).resolve().parent.parent
FILE = ROOT / "dist" / "wattpair-service.cdx.json"
VERSION = SchemaVersion.V1_6


def main() -> int:
    """Write it and look at it; returns the exit status."""
    file = Path(sys.argv[1]) if len(sys.argv) > 1 else FILE
    file.parent.mkdir(parents=True, exist_ok=True)
    write(file)
    text = file.read_text(encoding="utf-8")
    faults = [*against_the_schema(text), *against_the_lock(json.loads(text))]
    for fault in faults:
        print(f"bill of materials: {fault}")
    print(f"bill of materials: {file.name} lists {len(licences.locked())} dependencies, {len(faults)} faults")
    return 1 if faults else 0


def write(file: Path) -> None:
    """Let the tool write the bill of the lock, whose main component is the service."""
    command = [
        sys.executable,
        "-m",
        "cyclonedx_py",
        "requirements",
        str(licences.LOCK),
        "--pyproject",
        str(ROOT / "pyproject.toml"),
    ]
    command += ["--spec-version", VERSION.to_version(), "--output-reproducible", "--output-file", str(file)]
    subprocess.run(command, check=True, timeout=120)


def against_the_schema(text: str) -> list[str]:
    """Where a bill breaks CycloneDX's schema."""
    fault = make_schemabased_validator(OutputFormat.JSON, VERSION).validate_str(text)
    return [] if fault is None else [f"it breaks the schema: {fault}"]


def against_the_lock(bill: dict[str, Any]) -> list[str]:
    """Where a bill differs from the lock: names and versions."""
    listed = sorted((each["name"], each["version"]) for each in bill.get("components", ()))
    locked = sorted(licences.locked().items())
    faults = [f"{name} {version} is not listed" for name, version in locked if (name, version) not in listed]
    faults += [f"{name} {version} is not locked" for name, version in listed if (name, version) not in locked]
    return faults + ([] if len(listed) == len(set(listed)) else ["something is listed twice"])


if __name__ == "__main__":
    raise SystemExit(main())

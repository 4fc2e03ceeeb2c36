"""Writes the software bill of materials of what is locked: `python -m docker.bill_of_materials [FILE]`.

CycloneDX's own tool writes it from the lock and holds it against the published schema; here the service's direct dependencies
are added, and it is made sure that it lists exactly what is locked. The same lock gives the same file.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

from cyclonedx.schema import OutputFormat, SchemaVersion
from cyclonedx.validation import make_schemabased_validator

from docker import licences

ROOT = Path(__file__).resolve().parent.parent
PROJECT = ROOT / "pyproject.toml"
FILE = ROOT / "dist" / "wattpair-service.cdx.json"
VERSION = SchemaVersion.V1_6


def main() -> int:
    """Write it and look at it; returns the exit status."""
    file = Path(sys.argv[1]) if len(sys.argv) > 1 else FILE
    file.parent.mkdir(parents=True, exist_ok=True)
    write(file)
    text = file.read_text(encoding="utf-8")
    bill = json.loads(text)
    faults = [*against_the_schema(text), *against_the_lock(bill), *against_the_project(bill)]
    for fault in faults:
        print(f"bill of materials: {fault}")
    print(f"bill of materials: {file.name} lists {len(licences.locked())} dependencies, {len(faults)} faults")
    return 1 if faults else 0


def write(file: Path) -> None:
    """Let the tool write the bill of the lock, whose main component is the service, and say what the service needs itself."""
    command = [
        sys.executable,
        "-m",
        "cyclonedx_py",
        "requirements",
        str(licences.LOCK),
        "--pyproject",
        str(PROJECT),
    ]
    command += ["--spec-version", VERSION.to_version(), "--output-reproducible", "--output-file", str(file)]
    subprocess.run(command, check=True, timeout=120)
    bill = json.loads(file.read_text(encoding="utf-8"))
    _of_the_service(bill)["dependsOn"] = [each["bom-ref"] for each in bill["components"] if each["name"] in direct()]
    file.write_text(json.dumps(bill, indent=2), encoding="utf-8")


def direct() -> set[str]:
    """Names of what the service needs itself."""
    project = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]
    return {each.partition("==")[0] for each in project["dependencies"]}


def _of_the_service(bill: dict[str, Any]) -> dict[str, Any]:
    """The entry of the main component's dependencies."""
    service = bill["metadata"]["component"]["bom-ref"]
    found: dict[str, Any] = next(each for each in bill["dependencies"] if each["ref"] == service)
    return found


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


def against_the_project(bill: dict[str, Any]) -> list[str]:
    """Where a bill's direct dependencies differ from those of the project."""
    names = {each["bom-ref"]: each["name"] for each in bill["components"]}
    listed = {names.get(each, each) for each in _of_the_service(bill).get("dependsOn", ())}
    faults = [f"{name} is not listed as a direct dependency" for name in sorted(direct() - listed)]
    return faults + [f"{name} is listed as a direct dependency" for name in sorted(listed - direct())]


if __name__ == "__main__":
    raise SystemExit(main())

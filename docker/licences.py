"""Lists the licence of every locked dependency: `python -m docker.licences`, where all are installed."""

from __future__ import annotations

import re
import sys
from importlib import metadata
from pathlib import Path

LOCK = Path(__file__).resolve().parent / "requirements.lock"
HEAD = "<!-- Written by docker/licences.py from the packages' own metadata; a test fails when it drifts. -->\n\n"
LONGEST = 60


def locked() -> dict[str, str]:
    """Version of each dependency of the lock."""
    return dict(re.findall(r"^([a-z0-9-]+)==([^ ]+)", LOCK.read_text(encoding="utf-8"), re.MULTILINE))


def conditional() -> set[str]:
    """Those of them that some Pythons do without."""
    return set(re.findall(r"^([a-z0-9-]+)==[^ ]+ ;", LOCK.read_text(encoding="utf-8"), re.MULTILINE))


def licence(name: str) -> str:
    """What a package says of its own licence: the expression, else its classifiers, else the first line of the field."""
    about = metadata.metadata(name)
    expression = str(about["License-Expression"]) if "License-Expression" in about else ""
    classifiers = [each for each in about.get_all("Classifier") or () if each.startswith("License ::") and each.count("::") > 1]
    field = (str(about["License"]) if "License" in about else "").strip().partition("\n")[0]
    if expression:
        return expression
    if field and len(field) <= LONGEST:
        return field
    return ", ".join(each.rpartition(":: ")[2] for each in classifiers) or "not stated"


def row(name: str, version: str) -> str:
    """A line of the table."""
    return f"| {name} | {version} | {licence(name)} |"


def table() -> str:
    """The whole file."""
    rows = [row(name, version) for name, version in sorted(locked().items())]
    return HEAD + "\n".join(["| dependency | version | licence |", "|-|-|-|", *rows]) + "\n"


if __name__ == "__main__":
    sys.stdout.write(table())

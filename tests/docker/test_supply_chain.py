"""The lock, its licences and its bill of materials say the same as pyproject.toml and as the packages themselves."""

from __future__ import annotations

import re
import tomllib
from importlib import metadata
from pathlib import Path

import pytest

from tests.docker.image import locked

ROOT = Path(__file__).resolve().parents[2]
LOCKS = [ROOT / "docker" / name for name in ("requirements.lock", "build-requirements.lock")]
LOCKED, CONDITIONAL = locked()
INSTALLED = {re.sub(r"[-_.]+", "-", each.metadata["Name"]).lower() for each in metadata.distributions()}


def test_every_dependency_of_the_service_is_locked_as_it_is_pinned() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    pinned = dict(each.split("==") for each in project["project"]["dependencies"])
    assert pinned.items() <= LOCKED.items()
    (builder,) = project["build-system"]["requires"]
    assert builder in LOCKS[1].read_text(encoding="utf-8")


@pytest.mark.parametrize("lock", LOCKS, ids=lambda path: path.name)
def test_every_line_has_a_hash_and_no_address(lock: Path) -> None:
    text = lock.read_text(encoding="utf-8")
    entries = re.split(r"(?m)^(?=[a-z0-9])", text)
    assert len(entries) > 1
    assert all("--hash=sha256:" in entry for entry in entries[1:])
    assert not re.search(r"://|index|find-links|^ *[/~]", text, re.MULTILINE)


def test_what_the_locked_packages_need_is_locked() -> None:
    for name in LOCKED:
        for need in metadata.requires(name) or () if name in INSTALLED else ():
            if "extra" in need or "python_version" in need or "platform" in need or "python_full_version" in need:
                continue
            needed = re.sub(r"[-_.]+", "-", re.split(r"[ ;<>=!~(\[]", need)[0]).lower()
            assert needed in LOCKED, f"{name} needs {needed}"


def test_every_licence_is_listed() -> None:
    listed = (ROOT / "docker" / "LICENCES.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (\S+) +\| (.+?) +\|$", listed, re.MULTILINE)[1:]
    assert {re.sub(r"[-_.]+", "-", name).lower() for name, _ in rows} == set(LOCKED) - CONDITIONAL
    assert not [name for name, stated in rows if stated.upper() in ("UNKNOWN", "")]

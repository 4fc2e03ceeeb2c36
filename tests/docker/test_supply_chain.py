"""The lock, its licences and its bill of materials say the same as pyproject.toml and as the packages themselves."""

from __future__ import annotations

import json
import re
import tomllib
from importlib import metadata
from pathlib import Path

import pytest

from docker import bill_of_materials, licences

ROOT = Path(__file__).resolve().parents[2]
LOCKS = [ROOT / "docker" / name for name in ("requirements.lock", "build-requirements.lock")]
LOCKED = licences.locked()
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


def test_every_licence_is_listed_as_the_package_states_it() -> None:
    listed = (ROOT / "docker" / "LICENCES.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([a-z0-9-]+) \| (\S+) \| (.+) \|$", listed, re.MULTILINE)
    assert {name: version for name, version, _ in rows if version != "version"} == LOCKED
    assert not [name for name, _, stated in rows if stated == "not stated"]
    known = set(LOCKED) & INSTALLED
    assert len(known) >= len(LOCKED) - 1  # one is for older Pythons only
    for name in known:
        assert licences.row(name, LOCKED[name]) in listed


@pytest.mark.release
def test_the_bill_of_materials_keeps_to_the_schema_and_to_the_lock(tmp_path: Path) -> None:
    file = tmp_path / "bill.json"
    bill_of_materials.write(file)
    text = file.read_text(encoding="utf-8")
    bill = json.loads(text)
    assert bill_of_materials.against_the_schema(text) == []
    assert bill_of_materials.against_the_lock(bill) == []
    assert bill["metadata"]["component"]["name"] == "wattpair-service"
    assert bill_of_materials.against_the_project(bill) == []
    for component in bill["components"]:
        (distribution,) = component["externalReferences"]
        assert all(re.fullmatch(r"[0-9a-f]{64}", each["content"]) for each in distribution["hashes"])
    first, *others = bill["components"]
    assert bill_of_materials.against_the_lock({"components": others}) == [f"{first['name']} {first['version']} is not listed"]
    added = {"components": [*bill["components"], first, {"name": "stranger", "version": "1"}]}
    assert bill_of_materials.against_the_lock(added) == ["stranger 1 is not locked", "something is listed twice"]
    names = {component["bom-ref"]: component["name"] for component in bill["components"]}
    (needs,) = (each["dependsOn"] for each in bill["dependencies"] if each["ref"] == bill["metadata"]["component"]["bom-ref"])
    assert len(needs) >= 10
    assert {"flask", "gunicorn", "numpy"} <= {names[each] for each in needs}
    assert "werkzeug" in names.values()
    assert "werkzeug" not in {names[each] for each in needs}
    gone = needs.pop()
    assert bill_of_materials.against_the_project(bill) == [f"{names[gone]} is not listed as a direct dependency"]
    needs += [gone, "stranger"]
    assert bill_of_materials.against_the_project(bill) == ["stranger is listed as a direct dependency"]
    (fault,) = bill_of_materials.against_the_schema(text.replace('"type": "library"', '"type": "shelf"', 1))
    assert "breaks the schema" in fault

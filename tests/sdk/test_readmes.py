"""Every code block of both READMEs is run as its reader would."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from tests.contract.bodies import example
from tests.running import Service
from tests.sdk.conftest import MODULE, SITE, UNITS
from tests.sdk.contract import DOCUMENT, LEFT_OUT, ROOT, SCHEMAS
from wattpair import Client

READMES = {"README.md": ROOT, "sdk/README.md": ROOT / "sdk"}
by_readme = pytest.mark.parametrize("readme", READMES)
CHECK = "python3 tests/check.py"
"""The block that runs these tests; `.ci/run` is where it is run."""


def blocks(readme: str) -> list[tuple[str, str]]:
    """Language and text of each block."""
    text = (ROOT / readme).read_text(encoding="utf-8")
    found = re.findall(r"^```(\w*)\n(.*?)^```$", text, re.DOTALL | re.MULTILINE)
    assert text.count("```") == 2 * len(found), "a block is not closed"
    assert not re.search(r"\n\n {4}\S", re.sub(r"^```.*?^```$", "", text, flags=re.DOTALL | re.MULTILINE)), "use fences"
    return found


@by_readme
def test_every_block_is_of_a_language_that_is_run_here(readme: str) -> None:
    assert {language for language, _ in blocks(readme)} - {"json"} == {"python", "sh"}


def json_with(field: str) -> dict[str, Any]:
    """The JSON block of the README that has a field at its top."""
    parts: list[dict[str, Any]] = [json.loads(text) for language, text in blocks("README.md") if language == "json"]
    (part,) = [each for each in parts if field in each]
    return part


def test_string_inverters_of_the_readme_are_compared(shared_service: Service) -> None:
    body = example("select_microinverters") | json_with("string_inverters")
    answer = shared_service.post("select_microinverters", body)
    assert answer.status == 200, answer.body
    assert all(each["comparison"] is not None for each in answer.json["string_inverters"])


@by_readme
def test_python(
    service_url: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, readme: str
) -> None:
    monkeypatch.chdir(tmp_path)
    names = {"__name__": "__main__"}
    scripts = [text for language, text in blocks(readme) if language == "python"]
    assert scripts
    for script in scripts:
        exec(compile(script.replace("http://127.0.0.1:8080", service_url), readme, "exec"), names)
        assert capsys.readouterr().out.strip()
    whole = "\n".join(scripts)
    for saved in re.findall(r'\.save\("([^"]+)"\)', whole):
        assert (tmp_path / saved).stat().st_size > 0
    if "roofs.csv" in whole:
        tables = ((tmp_path / name).read_text(encoding="utf-8") for name in ("roofs.csv", "designs.csv"))
        roofs, designs = (list(csv.DictReader(io.StringIO(table))) for table in tables)
        assert [(each["id"], each["succeeded"]) for each in designs] == [(each["id"], "True") for each in roofs]


def test_the_shaded_face_of_the_readme_is_designed(client: Client) -> None:
    design = client.design_roof(
        site=SITE,
        region="great_britain",
        currency="GBP",
        modules=[{"module": MODULE, "price": 95}],
        candidates=[{"microinverter": UNITS[0], "price": 110}],
        faces=[json_with("shade")],
        tariff={"import_price_per_kwh": 0.3, "export_price_per_kwh": 0.1},
    )
    assert design.clipping is not None
    shade = design.clipping.faces[0].shade
    assert shade is not None
    losses = sorted(module.loss_share for module in shade.modules)
    assert 0.0 < losses[0] < losses[-1] / 3.0 < 0.2
    positions = design.faces[0].positions
    assert positions is not None
    assert [each.module_number for each in positions.modules] == [each.module_number for each in shade.modules]


def test_the_readme_of_the_client_shows_all_that_writes_files() -> None:
    text = (ROOT / "sdk" / "README.md").read_text(encoding="utf-8")
    assert all(shown in text for shown in ('"roofs.csv"', 'save("sheet.html")', 'save("sheet.pdf")', 'save("parts.csv")'))


def test_the_limits_that_the_readme_of_the_client_names_are_those_of_the_contract() -> None:
    text = (ROOT / "sdk" / "README.md").read_text(encoding="utf-8")
    most: dict[str, set[int]] = {}
    for name, schema in SCHEMAS.items():
        for field, described in schema.get("properties", {}).items():
            if name.endswith("Request") and "maxItems" in described:
                most.setdefault(field, set()).add(described["maxItems"])
    (faces,), (modules,), (units,) = most["faces"], most["modules"], most["microinverters"] | most["candidates"]
    body = DOCUMENT["x-limits"]["body_bytes"]
    assert f"{faces} faces, {units} microinverters or candidates, {modules} modules, and {body} bytes" in text
    assert f"at most {csv.field_size_limit()} characters" in text


@pytest.mark.release
@by_readme
def test_shell(tmp_path: Path, readme: str) -> None:
    copy = tmp_path / "copy"
    shutil.copytree(ROOT, copy, ignore=LEFT_OUT)
    commands = [text.strip() for language, text in blocks(readme) if language == "sh"]
    assert commands
    for command in commands:
        if command == CHECK:
            assert CHECK in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
            continue
        environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
        where = copy / READMES[readme].relative_to(ROOT)
        ran = subprocess.run(["bash", "-ec", command], cwd=where, env=environment, capture_output=True, text=True, check=False)
        assert ran.returncode == 0, ran.stdout + ran.stderr

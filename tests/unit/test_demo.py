"""The demo as its user runs it."""

from __future__ import annotations

import contextlib
import json
import re
from pathlib import Path

import pytest

from wattpair_service import demo
from wattpair_service.cli import main

LINES_MOST = 42
"""The answer in two lines, at most forty more."""


@pytest.fixture(params=["shared service", pytest.param("own service", marks=pytest.mark.release)])
def _service(request: pytest.FixtureRequest, service_url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    if request.param == "shared service":
        monkeypatch.setattr(demo, "_service", lambda: contextlib.nullcontext(service_url))


@pytest.mark.usefixtures("_service")
def test_the_demo_prints_where_its_complete_sheet_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = tmp_path / "house.html"
    assert main(["demo", "--sheet", str(sheet)]) == 0
    lines = capsys.readouterr().out.strip().splitlines()
    assert str(sheet) in lines[-1]
    assert re.match(r"Unit .* more today than Unit ", lines[0])
    assert len(lines) <= LINES_MOST
    text = sheet.read_text(encoding="utf-8")
    assert text.startswith("<!doctype html>")
    assert "Ardenholt Solar" in text
    assert "The price is not complete" not in text
    assert "For the installer" in text


@pytest.mark.usefixtures("_service")
def test_the_demo_prints_json_and_names_a_sheet_that_it_cannot_write(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["demo", "--json", "--sheet", str(tmp_path / "nowhere" / "sheet.html")]) == 1
    printed = capsys.readouterr()
    assert json.loads(printed.out)["selection"]["recommendation"]["microinverter"]
    assert "name another file with --sheet" in printed.err

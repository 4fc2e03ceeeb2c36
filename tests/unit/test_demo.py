"""The demo as its user runs it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from wattpair_service.cli import main


def test_the_demo_ends_with_the_sheet_and_says_where_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = tmp_path / "house.html"
    assert main(["demo", "--sheet", str(sheet)]) == 0
    said = capsys.readouterr().out.strip().splitlines()[-1]
    assert str(sheet) in said
    text = sheet.read_text(encoding="utf-8")
    assert text.startswith("<!doctype html>")
    assert "Ardenholt Solar" in text
    # Every part has its price: the demo shows a whole offer.
    assert "Price with tax, incomplete" not in text


def test_json_stays_json_and_a_sheet_that_cannot_be_written_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--json", "--sheet", str(tmp_path / "nowhere" / "sheet.html")]) == 1
    said = capsys.readouterr()
    assert json.loads(said.out)["clipping"]["totals"]
    assert "name another file with --sheet" in said.err

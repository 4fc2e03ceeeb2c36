"""Whatever stands in a file, its reader raises only the documented exceptions."""

from __future__ import annotations

import contextlib
import copy
import json
import tempfile
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings, strategies as st
from marshmallow import ValidationError

from tests.builders import TMY3
from tests.open_data import amsterdam_epw, pvlib_bundled
from wattpair_service.api.guards import keys
from wattpair_service.api.operations.regions import RegionRulesSchema
from wattpair_service.climate.files import FileFormat, from_text, location_of
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.errors import EngineeringError, WeatherError
from wattpair_service.report.house import HouseFileError, read_house
from wattpair_service.rules import branch_circuit_rules_of, connection_rules_of, region_data, regions
from wattpair_service.settings import SettingError

EVERY_FORMAT = pytest.mark.parametrize("file_format", ["epw", "tmy3"])
SUFFIXES: dict[FileFormat, str] = {"epw": ".epw", "tmy3": ".csv"}
ODD_CELLS = st.one_of(
    st.sampled_from(
        ["", "nan", "inf", "-1e999", "1e308", "9" * 400, "0x10", '"', "\x00", "\r", ",", "1,2", "-9999", "24:61", "٣", "é"]
    ),
    st.text(max_size=12),
    st.floats().map(repr),
    st.integers().map(str),
)
LINES = st.one_of(st.integers(0, 12), st.integers(0, 8800))


@st.composite
def edits(draw: st.DrawFn) -> list[tuple[str, int, int, str]]:
    """Changes: their kind, line, cell and text."""
    kinds = st.sampled_from(["cell", "cell", "line", "drop", "cut", "column"])
    return draw(st.lists(st.tuples(kinds, LINES, st.integers(0, 70), ODD_CELLS), min_size=1, max_size=4))


def edited(text: str, changes: list[tuple[str, int, int, str]]) -> str:
    lines = text.split("\n")
    for kind, number, column, odd in changes:
        lines = lines or [""]  # earlier changes may have taken all
        at = number % len(lines)
        cells = lines[at].split(",")
        if kind == "cell":
            cells[column % len(cells)] = odd
            lines[at] = ",".join(cells)
        elif kind == "line":
            lines[at] = odd
        elif kind == "drop":
            del lines[at]
        elif kind == "cut":
            lines = [*lines[:at], lines[at][:column]]
        else:  # the same cell of every line
            lines = [",".join(odd if index == column else cell for index, cell in enumerate(line.split(","))) for line in lines]
    return "\n".join(lines)


@EVERY_FORMAT
@settings(max_examples=settings().max_examples // 8)
@given(changes=edits())
@example(changes=[("cell", 100, 4, "9" * 400)])  # what no float holds, in a column that pvlib takes for whole numbers
@example(changes=[("cell", 100, 13, "9" * 400)])
def test_a_damaged_weather_file_is_read_or_refused(file_format: FileFormat, changes: list[tuple[str, int, int, str]]) -> None:
    text = amsterdam_epw() if file_format == "epw" else pvlib_bundled(TMY3)
    damaged = edited(text, changes)
    try:
        location_of(damaged, file_format=file_format)
        weather = from_text(damaged, file_format=file_format)
    except WeatherError:
        return
    assert weather.ghi_w_m2.shape == (8760,)


@EVERY_FORMAT
@given(head=st.sampled_from(["", "LOCATION,", "LOCATION,a,b,c,d,e,52,5,1,0\n"]), text=st.text(max_size=400))
def test_any_text_is_refused_as_a_weather_file(file_format: FileFormat, head: str, text: str) -> None:
    with pytest.raises(WeatherError):
        from_text(head + text, file_format=file_format)


@EVERY_FORMAT
@given(content=st.binary(max_size=600))
def test_any_bytes_in_the_station_folder_are_left_out(file_format: FileFormat, content: bytes) -> None:
    with tempfile.TemporaryDirectory() as name:
        (Path(name) / f"station{SUFFIXES[file_format]}").write_bytes(content)
        folder = StationFolder.read(Path(name), distance_max_km=50.0)
    assert (len(folder.stations), len(folder.broken), folder.fault) == (0, 1, None)


PLAIN = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=8)
FLAT = PLAIN | st.lists(PLAIN, max_size=3) | st.dictionaries(st.text(max_size=8), PLAIN, max_size=3)
JSON = FLAT | st.lists(FLAT, max_size=3) | st.dictionaries(st.text(max_size=8), FLAT, max_size=3)


def paths(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Everywhere within a JSON value."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(place for step, inner in items for place in paths(inner, (*path, step)))]


@given(region=st.sampled_from(regions()), data=st.data())
def test_damaged_rules_are_read_or_refused(region: str, data: st.DataObject) -> None:
    rules = json.loads(json.dumps(region_data(region)))
    for place in data.draw(st.lists(st.sampled_from(paths(rules)[1:]), min_size=1, max_size=3)):
        holder = copy.deepcopy(rules)
        inner: Any = holder
        try:
            for step in place[:-1]:
                inner = inner[step]
            inner[place[-1]] = data.draw(JSON)
        except (KeyError, IndexError, TypeError):  # an earlier change took it away
            continue
        rules = holder
    with contextlib.suppress(ValidationError, EngineeringError):
        loaded = RegionRulesSchema().load(rules)
        branch_circuit_rules_of(loaded)
        connection_rules_of(region, loaded)


TOML = st.text(alphabet=st.sampled_from('[]key="namesha256 =\n.#é\x00019aAf{}\\,'), max_size=200)


@given(text=TOML | st.text(max_size=60), content=st.binary(max_size=60))
def test_any_file_of_the_operator_is_refused_in_one_line(text: str, content: bytes) -> None:
    with tempfile.TemporaryDirectory() as name:
        for written in (content, text.encode("utf-8", "surrogatepass")):
            file = Path(name) / "keys.toml"
            file.write_bytes(written)
            with pytest.raises(SettingError) as error:
                keys.read(file)
            assert "\n" not in str(error.value)
            with contextlib.suppress(HouseFileError):
                read_house(file)

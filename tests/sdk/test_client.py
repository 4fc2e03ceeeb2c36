"""The client against the real service."""

from __future__ import annotations

import pickle
import re
import subprocess
import sys
import tomllib
from copy import deepcopy
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pvlib
import pytest
import requests
from msgspec.structs import asdict, replace

import wattpair
from tests.sdk.conftest import FACES, MODULE, PLACE, SITE, UNITS, serving
from tests.sdk.contract import DOCUMENT, ROOT, Operation, operations, sample
from tests.sdk.recorder import recording
from wattpair import Client
from wattpair._version import CONTRACT_VERSION
from wattpair_service.settings import Settings

GHI_KWH_M2_BY_MONTH = [20, 37, 76, 120, 155, 160, 158, 135, 92, 55, 25, 16]
OPERATIONS = {operation.name: operation for operation in operations()}
EXAMPLES = [(operation, example) for operation in OPERATIONS.values() for example in operation.examples]


def test_the_service_is_live_and_ready(client: Client) -> None:
    ready = client.check_ready()
    assert client.check_live().status == "live"
    assert (ready.status, ready.faults, ready.broken_station_count) == ("ready", (), 0)


@pytest.mark.parametrize(("operation", "example"), EXAMPLES, ids=lambda each: getattr(each, "name", ""))
def test_examples_of_the_contract_give_results_with_a_short_repr(
    client: Client, operation: Operation, example: dict[str, Any]
) -> None:
    result, again = (getattr(client, operation.name)(**example) for _ in range(2))
    assert result.method
    assert result.assumptions
    text = repr(result)
    assert text.startswith(f"{type(result).__name__}(assumptions=<{len(result.assumptions)} of Assumption>, ")
    assert all(f"{name}=" in text for name in result.__struct_fields__)
    assert len(text) < 1500, text
    assert (again == result, again is result) == (True, False)
    assert replace(again, cautions=()) != result


def test_a_service_that_is_not_ready_says_why(tmp_path: Path) -> None:
    with serving(Settings(station_folder=tmp_path / "nowhere")) as url, Client(url) as client:
        ready = client.check_ready()
    assert ready.status == "not ready"
    assert "station folder" in ready.faults[0]


def test_the_nearest_station_of_the_operator(tmp_path: Path) -> None:
    (tmp_path / "near.csv").write_bytes((Path(pvlib.__file__).parent / "data" / "723170TYA.CSV").read_bytes())
    (tmp_path / "broken.csv").write_text("nothing", encoding="utf-8")
    with serving(Settings(station_folder=tmp_path)) as url, Client(url) as client:
        result = client.describe_climate(
            site=wattpair.Site(latitude_deg=36.2, longitude_deg=-79.9), weather=wattpair.NearestStation()
        )
        ready = client.check_ready()
    assert result.climate.kind == "station"
    assert result.climate.station == result.nearest_station
    assert result.nearest_station is not None
    assert result.nearest_station.name == "near.csv"
    assert ready.broken_station_count == 1


def test_site_climate(client: Client) -> None:
    result = client.describe_climate(site=wattpair.Site(**PLACE), faces=FACES, module=MODULE, microinverters=UNITS[:2])
    assert (result.climate.kind, result.climate.station, result.nearest_station) == ("climate", None, None)
    months, seasons, levels = result.to_frame(), result.seasons_to_frame(), result.levels_to_frame()
    assert list(months.index) == list(range(1, 13))
    in_plane = [f"poa_kwh_m2 {face.name}" for face in FACES]
    assert list(months.columns) == ["temp_air_c", "linke_turbidity", "ghi_kwh_m2", *in_plane]
    yearly = [result.horizontal.ghi_kwh_m2, *(face.poa_kwh_m2 for face in result.faces)]
    np.testing.assert_allclose(months.iloc[:, 2:].sum(), [figure.value for figure in yearly])
    season = ["face", "season", "poa_kwh_m2", "irradiance_w_m2", "temp_cell_c", "module_power_w"]
    assert list(seasons.columns) == [*season, *(f"dc_ac_ratio {unit.name}" for unit in UNITS[:2])]
    assert len(seasons) == 5 * len(FACES)
    by_face = seasons[seasons["season"] != "year"].groupby("face", sort=False)["poa_kwh_m2"].sum()
    np.testing.assert_allclose(by_face, [face.poa_kwh_m2.value for face in result.faces])
    ratio = seasons["module_power_w"] / UNITS[0].ac_power_w
    np.testing.assert_allclose(seasons[f"dc_ac_ratio {UNITS[0].name}"], ratio, rtol=1e-6)
    np.testing.assert_allclose(levels.groupby("face")["energy_share"].sum(), 1.0)
    for table in (months, seasons, levels):
        assert table.attrs["cautions"] == result.cautions


def test_site_climate_without_faces(client: Client) -> None:
    result = client.describe_climate(site=wattpair.Site(**PLACE))
    assert list(result.to_frame().columns) == ["temp_air_c", "linke_turbidity", "ghi_kwh_m2"]
    assert result.seasons_to_frame().empty
    assert result.levels_to_frame().empty
    without_map = replace(result, linke_turbidity_by_month=None).to_frame()
    assert without_map["linke_turbidity"].isna().all()
    assert without_map["ghi_kwh_m2"].notna().all()


@pytest.mark.parametrize("kind", ["none", "climate", "monthly", "hourly"])
def test_each_kind_of_weather_is_named_in_the_result(client: Client, weather: wattpair.HourlyWeather, kind: str) -> None:
    inputs = {
        "none": None,
        "climate": wattpair.BuiltInClimate(),
        "monthly": wattpair.MonthlyTotals(ghi_kwh_m2_by_month=GHI_KWH_M2_BY_MONTH),
        "hourly": weather,
    }
    result = client.describe_climate(site=wattpair.Site(**PLACE), weather=inputs[kind])
    assert result.climate.kind == {"none": "climate"}.get(kind, kind)
    assert result.horizontal.ghi_kwh_m2.value > 0


@pytest.mark.parametrize(
    "weather",
    [wattpair.NearestStation(), wattpair.WeatherFile(file_format="epw", text="nothing")],
    ids=lambda each: type(each).__name__,
)
def test_weather_that_the_service_does_not_have_or_read_is_refused(client: Client, weather: Any) -> None:
    with pytest.raises(wattpair.InvalidFields, match="weather"):
        client.compute_clipping(site=SITE, weather=weather, module=MODULE, microinverters=UNITS[:1], faces=FACES)


def test_sizing(client: Client) -> None:
    result = client.size_pairings(site=wattpair.Site(**SITE), module=MODULE, microinverters=UNITS)
    assert [pairing.microinverter for pairing in result.pairings] == [unit.name for unit in UNITS]
    assert result.pairings[-1].verdict == "fail"
    table = result.to_frame()
    assert len(table) == sum(len(pairing.checks) for pairing in result.pairings)
    assert set(table["verdict"]) <= {"ok", "caution", "fail"}
    assert table.attrs["cautions"] == result.cautions
    assert (result.design_temperatures.lowest_c, result.design_temperatures.highest_c) == (-16, 36)


def test_sizing_without_temperatures_takes_those_of_the_climate(client: Client) -> None:
    result = client.size_pairings(site=wattpair.Site(**PLACE), module=MODULE, microinverters=UNITS, faces=FACES)
    climate = client.describe_climate(site=wattpair.Site(**PLACE))
    assert result.design_temperatures == climate.design_temperatures
    assert {face.name for face in FACES} <= set(result.to_frame()["face"])


ENERGIES = ("unshaded_kwh", "available_kwh", "delivered_kwh")
"""Terms of a balance that are no losses."""


def test_clipping(client: Client, weather: wattpair.HourlyWeather) -> None:
    names = [unit.name for unit in UNITS[:3]]
    result = client.compute_clipping(
        site=wattpair.Site(**SITE),
        weather=weather,
        module=MODULE,
        microinverters=UNITS[:3],
        faces=FACES,
        transposition="isotropic",
    )
    table = result.to_frame()
    losses = [name for name in wattpair.Balance.__struct_fields__ if name not in ENERGIES]
    pairs = list(zip(table["face"], table["microinverter"], strict=True))
    assert pairs == [(face.name, name) for face in FACES for name in names]
    np.testing.assert_allclose(table["unshaded_kwh"] - table[losses].sum(axis="columns"), table["delivered_kwh"])
    np.testing.assert_array_equal(table["available_kwh"], table["unshaded_kwh"])
    months = result.months_to_frame().groupby(["face", "microinverter"], sort=False)["clipping_kwh"].sum()
    np.testing.assert_allclose(months.to_numpy(), table["clipping_kwh"])
    totals = result.totals_to_frame()
    assert list(totals["microinverter"]) == names
    assert (totals["delivered_kwh_low"] <= totals["delivered_kwh"]).all()
    assert (totals["clipped_share_hourly_means"] <= totals["clipped_share_high"]).all()
    ageing = result.ageing_to_frame()
    assert list(ageing["microinverter"].unique()) == names
    for _, years in ageing.groupby("microinverter"):
        assert years["year"].is_monotonic_increasing
        assert years["delivered_kwh"].is_monotonic_decreasing
    module = result.faces[0].pairings[0].per_module
    by_hour = module.clipping_to_frame()
    assert by_hour.shape == (12, 24)
    assert by_hour.to_numpy().sum() == pytest.approx(module.year.clipping_kwh)
    assert list(module.months_to_frame().index) == list(range(1, 13))
    assert list(module.duration.to_frame().columns) == ["ac_power_w", "hours_h"]
    series = module.year.to_series()
    assert series.name == "Balance"
    assert series["unshaded_kwh"] - series[losses].sum() == pytest.approx(module.year.delivered_kwh)
    assert series.to_dict() == asdict(module.year)


ARRAYS: dict[str, Any] = {
    "list": list,
    "tuple": tuple,
    "array": np.array,
    "array of objects": lambda values: np.array(values, dtype=object),
    "series": pd.Series,
}


@pytest.mark.parametrize("array", ARRAYS.values(), ids=ARRAYS)
def test_any_ordered_numbers_do_as_weather(weather: wattpair.HourlyWeather, array: Any) -> None:
    client, recorder = recording(sample(OPERATIONS["compute_clipping"].answer))
    year = wattpair.HourlyWeather(
        first_label=datetime(2023, 1, 1),  # type: ignore[arg-type]  # a text to a type checker
        utc_offset_h=1,
        interval_label="start",
        ghi_w_m2=array(weather.ghi_w_m2),
        temp_air_c=array(weather.temp_air_c),
    )
    assert year != replace(year)  # arrays of numpy have no single truth of equality
    client.compute_clipping(site=SITE, weather=year, module=MODULE, microinverters=UNITS, faces=FACES)
    assert recorder.sent[0].body["weather"] == {
        "kind": "hourly",
        "first_label": "2023-01-01T00:00:00",
        "utc_offset_h": 1,
        "interval_label": "start",
        "ghi_w_m2": weather.ghi_w_m2,
        "temp_air_c": weather.temp_air_c,
    }


def test_faults_in_fields_are_all_named(client: Client) -> None:
    with pytest.raises(wattpair.InvalidFields) as caught:
        client.size_pairings(
            site=wattpair.Site(latitude_deg=99, longitude_deg=5.2),
            module=asdict(MODULE) | {"power_w": 42500, "~1 a/b": 3},
            microinverters=UNITS[:1],
        )
    arguments = {error.pointer: error.argument for error in caught.value.field_errors}
    assert arguments.items() >= {
        ("/site/latitude_deg", "site.latitude_deg"),
        ("/module/power_w", "module.power_w"),
        ("/module/~01 a~1b", 'module["~1 a/b"]'),
    }
    text = str(caught.value)
    assert "module.power_w: 42500 was given; allowed is a number at least 20 and at most 1000 [W]" in text
    assert caught.value.request_id in text
    assert re.fullmatch(r"\w{32}", caught.value.request_id)
    copy = pickle.loads(pickle.dumps(caught.value))
    assert (str(copy), copy.field_errors) == (text, caught.value.field_errors)


@pytest.mark.parametrize(
    ("pointer", "argument"),
    [
        ("", ""),
        ("/site", "site"),
        ("/faces/0/tilt_deg", "faces[0].tilt_deg"),
        ("/faces/10/horizon/2", "faces[10].horizon[2]"),
        ("/module/a~1b", 'module["a/b"]'),
        ("/module/a~0b", 'module["a~b"]'),
        ("/module/~01", 'module["~1"]'),
        ("/module/~01~10~0~1", 'module["~1/0~/"]'),
        ("/module/the colour", 'module["the colour"]'),
        ("/module/", 'module[""]'),
        ("/module/\u00b2", 'module["\u00b2"]'),
        ("/a~1b/c", '["a/b"].c'),
    ],
)
def test_a_pointer_as_python_would_write_it(pointer: str, argument: str) -> None:
    assert wattpair.FieldError(pointer=pointer, given="-", allowed="-", detail="-").argument == argument


def test_a_wrong_address_is_not_found(service_url: str) -> None:
    with Client(service_url + "/elsewhere") as client, pytest.raises(wattpair.NotFound, match="/elsewhere/health/live"):
        client.check_live()


def test_each_request_has_an_id_of_its_own_unless_the_caller_sets_it() -> None:
    client, recorder = recording({"status": "live"})
    client.check_live()
    client.check_live()
    first, second = (sent.headers["X-Request-ID"] for sent in recorder.sent)
    assert first != second
    client, recorder = recording({"status": "live"}, headers={"x-request-id": "mine", "user-agent": "quotes/3"})
    client.check_live()
    assert recorder.sent[0].headers["X-Request-ID"] == "mine"
    assert recorder.sent[0].headers["User-Agent"] == "quotes/3"


def test_a_session_that_was_given_stays_open_and_an_own_one_is_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    client, recorder = recording()
    with client:
        pass
    assert not recorder.closed
    closed: list[requests.Session] = []
    monkeypatch.setattr(requests.Session, "close", lambda session: closed.append(session))
    with Client("http://service.test") as owner:
        pass
    assert closed == [owner._session]


def test_inputs_and_results_are_frozen_and_can_be_copied() -> None:
    site: Any = wattpair.Site(**SITE)
    with pytest.raises(AttributeError):
        site.latitude_deg = 0
    unit = wattpair.Microinverter(
        **{**asdict(UNITS[0]), "efficiency_points": (wattpair.EfficiencyPoint(load_share=0.5, efficiency_percent=96),)}
    )
    assert pickle.loads(pickle.dumps(unit)) == deepcopy(unit) == unit


def test_a_repr_is_short_and_useful(weather: wattpair.HourlyWeather) -> None:
    assert len(repr(weather)) < 250
    assert "xyz" * 20 not in repr(wattpair.WeatherFile(file_format="epw", text="xyz" * 100))
    whole = wattpair.Range(value=1 / 3, low=8760.0, high=1e-9, covers="word " * 20)
    assert repr(whole) == "Range(value=0.333333, low=8760.0, high=1e-09, covers='word word word word word word word wo...')"
    horizontal = wattpair.HorizontalClimate(
        ghi_kwh_m2_by_month=(1.0,) * 12, ghi_kwh_m2=whole, diffuse_share=0.5, temp_air_c_by_month=(1.0, -2.0)
    )
    assert repr(horizontal) == (
        f"HorizontalClimate(ghi_kwh_m2_by_month=<12 of float>, ghi_kwh_m2={whole!r}, diffuse_share=0.5, "
        "temp_air_c_by_month=(1.0, -2.0))"
    )
    line = wattpair.PricedLine(part_number=None, unit_price=Decimal("1.50"), net=None)
    assert repr(line) == "PricedLine(part_number=None, unit_price=Decimal('1.50'), net=None)"


@pytest.mark.parametrize(("module", "models"), [("wattpair", ""), ("wattpair.testing", "wattpair.models")])
def test_importing_brings_requests_and_msgspec_and_nothing_else(module: str, models: str) -> None:
    script = (
        "import sys; at_the_start = set(sys.modules); import requests; before = set(sys.modules)\n"
        f"import {module}\n"
        "brought = {name.split('.')[0] for name in set(sys.modules) - before} - sys.stdlib_module_names\n"
        "heavy = {'pandas', 'numpy', 'httpx', 'tqdm', 'dask', 'distributed', 'yaml', 'asyncio', 'wattpair_service', 'flask'}\n"
        "brought.discard('typing_extensions')  # msgspec reads it where it is\n"
        "print(*sorted(brought | (heavy & (set(sys.modules) - at_the_start))))\n"
        "print(*(name for name in ('wattpair.models',) if name in sys.modules))"
    )
    ran = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True)
    assert ran.stdout.splitlines() == ["msgspec wattpair", models]


def test_a_table_without_pandas_says_what_to_install(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    result = client.list_regions()
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(ImportError, match=re.escape('pip install "wattpair[pandas]"')):
        result.to_frame()


def test_the_versions_are_those_of_the_distribution_and_of_the_contract() -> None:
    project = tomllib.loads((ROOT / "sdk" / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert wattpair.__version__ == project["version"]
    assert DOCUMENT["info"]["version"] == CONTRACT_VERSION

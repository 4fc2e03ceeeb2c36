"""Metered systems beside the chain: a made system whose answer is known, and which files the command refuses."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.validation import measured_clipping, measured_system
from tests.validation.measured_clipping import fitted
from tests.validation.measured_record import Record, record_of
from tests.validation.measured_system import BOUNDS, System, ac_power, main, result, system_of
from tests.validation.measured_systems import typical_module
from tests.validation.minutes import FileRefusedError
from wattpair_service.engineering.irradiance.plane_of_array import plane_of_array
from wattpair_service.engineering.irradiance.sun_position import sun_position

LOSSES = {"soiling": 2.0, "dc_wiring": 1.0, "ac_wiring": 0.5}
SYSTEM = System("made", 40.0, -5.0, 600.0, 25.0, 200.0, typical_module(400.0, -0.35), 10, 2600.0, 96.0, losses_percent=LOSSES)
TOML = """name = "made"
latitude_deg = 40.0
longitude_deg = -5.0
elevation_m = 600.0
tilt_deg = 25.0
azimuth_deg = 200.0
module_count = 10
ac_limit_w = 2600.0
efficiency_percent = 96.0
[columns]
power = "meter"
[module]
"""


def made(days: int = 20, system: System = SYSTEM) -> pd.DataFrame:
    """Ten-minute intervals of May with passing clouds and the power that the chain gives, indexed by UTC."""
    start = pd.date_range("2023-05-01", periods=days * 144, freq="10min")
    sun = sun_position(start + pd.Timedelta(minutes=5), latitude_deg=40.0, longitude_deg=-5.0, elevation_m=600.0)
    height = np.maximum(np.cos(np.radians(sun.zenith_deg)), 0.0)
    clear = 0.25 + 0.75 * np.random.default_rng(3).random(start.size)
    dni = np.where(height > 0.03, 850.0 * np.where(clear > 0.6, 1.0, 0.2) * clear, 0.0)
    dhi = height * (180.0 + 60.0 * (1.0 - clear))
    frame = pd.DataFrame(
        {"ghi": dni * height + dhi, "dni": dni, "dhi": dhi, "temp_air": 12.0 + 10.0 * height, "wind_speed": 2.0}, index=start
    )
    frame["power"] = 1.0
    return frame.assign(power=ac_power(record(frame), system)[1])


def record(frame: pd.DataFrame, system: System = SYSTEM) -> Record:
    return record_of(frame, system.place, label=system.label, plane=(system.tilt_deg, system.azimuth_deg))


def written(frame: pd.DataFrame, folder: Path) -> list[str]:
    """The command's arguments for a file of these values and the made system."""
    frame.rename(columns={"power": "meter"}).rename_axis("time_utc").to_csv(folder / "system.csv.gz")
    module = SYSTEM.module
    lines = [
        f"{name} = {getattr(module, name)}" for name in module.__dataclass_fields__ if isinstance(getattr(module, name), float)
    ]
    (folder / "system.toml").write_text(TOML + 'name = "typical"\n' + "\n".join(lines), encoding="utf-8")
    return [str(folder / "system.csv.gz"), "--system", str(folder / "system.toml")]


def test_the_command_finds_the_power_that_the_chain_gave(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    frame = made()
    arguments = [*written(frame, tmp_path), "--soiling", "2", "--dc-wiring", "1", "--ac-wiring", "0.5"]
    assert main([*arguments, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    unlimited_w, limited_w = ac_power(record(frame), SYSTEM)
    intervals, hours, states = found["rows"]
    assert found["measured_kwh"] == pytest.approx(limited_w.sum() / 6000.0, rel=1e-3)
    assert intervals["bias_percent"] == pytest.approx(0.0, abs=1e-6)
    assert intervals["clipped_percent"] == pytest.approx(100.0 * (1.0 - limited_w.sum() / unlimited_w.sum()), rel=1e-3)
    assert intervals["clipped_percent"] > 3.0
    # The sunny intervals of an hour pass the limit that its mean does not reach.
    assert hours["clipped_percent"] < 0.5 * intervals["clipped_percent"]
    assert hours["bias_percent"] > 1.0
    short, rest = (abs(each["clipped_percent"] - intervals["clipped_percent"]) for each in (hours, states))
    assert hours["clipped_percent"] < states["clipped_percent"]
    assert rest < 0.5 * short
    assert found["flat_top_percent"] == pytest.approx(intervals["clipped_percent"], abs=0.3)
    assert (found["days"], found["lag_intervals"]) == (20, 0)
    assert found["losses_percent"] == {"mismatch": 0.0, "connections": 0.0, "ageing": 0.0, **LOSSES}
    assert main(arguments) == 0
    printed = capsys.readouterr().out
    for words in ("soiling 2", "ageing 0", "error of the median day:"):
        assert words in printed


def test_a_measured_plane_is_not_transposed_and_has_no_states_without_beam() -> None:
    frame = made()
    conditions = record(frame).conditions
    poa = plane_of_array(conditions, SYSTEM.face, transposition="perez_1990").poa_global_w_m2
    only_poa = frame[["power", "temp_air", "wind_speed"]].assign(poa=poa)
    found = result(record(only_poa), SYSTEM)
    assert [row.way for row in found.rows] == ["intervals", "hourly means"]
    assert found.rows[0].bias_percent == pytest.approx(0.0, abs=0.5), "the reflection alone is guessed"
    brighter = result(record(frame.assign(poa=1.1 * poa)), replace(SYSTEM, ac_limit_w=5000.0))
    unlimited_kwh = ac_power(record(frame), SYSTEM)[0].sum() / 6000.0
    assert brighter.rows[0].energy_kwh == pytest.approx(1.09 * unlimited_kwh, rel=0.015)
    cell = result(record(only_poa), replace(SYSTEM, poa_sensor="reference_cell"))
    assert cell.rows[0].energy_kwh > found.rows[0].energy_kwh


def test_late_power_and_the_place_of_a_time_in_its_interval_are_noticed() -> None:
    frame = made()
    late = frame.assign(power=np.roll(frame["power"], 1))
    assert result(record(late), SYSTEM).lag_intervals == 1
    at_middle = frame.set_axis(frame.index + pd.Timedelta(minutes=5))
    assert (record(at_middle, replace(SYSTEM, label="middle")).start_utc == record(frame).start_utc).all()


@pytest.mark.parametrize("columns", [["ghi", "dni", "dhi"], ["poa"]])
def test_clipping_of_an_unknown_plane_lies_in_the_stated_range(columns: list[str]) -> None:
    frame = made(40)
    full = record(frame)
    frame["poa"] = plane_of_array(full.conditions, SYSTEM.face, transposition="perez_1990").poa_global_w_m2
    noise = 1.0 + 0.03 * np.random.default_rng(5).standard_normal(len(frame))
    unlimited_w = ac_power(full, SYSTEM)[0] * noise
    power = np.minimum(unlimited_w, 2600.0)
    found = fitted(record(frame[[*columns, "temp_air"]].assign(power=power)), 2600.0)
    assert found.low_percent < 100.0 * (1.0 - power.sum() / unlimited_w.sum()) < found.high_percent
    assert found.high_percent < 9.0
    if columns != ["poa"]:
        assert found.tilt_deg == pytest.approx(25.0, abs=9.0)
        assert found.azimuth_deg == pytest.approx(200.0, abs=8.0)


def test_the_mode_for_unknown_planes_asks_for_place_and_limit_only(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = written(made().drop(columns="temp_air"), tmp_path)
    Path(arguments[2]).write_text(
        'latitude_deg = 40.0\nlongitude_deg = -5.0\nelevation_m = 600.0\nac_limit_w = 2600.0\n[columns]\npower = "meter"\n',
        encoding="utf-8",
    )
    assert main([*arguments, "--measured-clipping"]) == 0
    assert "fitted plane: tilt" in capsys.readouterr().out
    assert main([*arguments]) == 2
    assert "'module' is missing" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        (lambda frame: frame.drop(columns="power"), "columns missing: power"),
        (lambda frame: frame.drop(columns="ghi"), "columns missing: poa or ghi"),
        (lambda frame: frame.drop(columns="temp_air"), "columns missing: temp_air"),
        (lambda frame: frame.iloc[::-1], "times do not rise"),
        (lambda frame: frame.iloc[::7], "do not divide the hour"),
        (lambda frame: frame.assign(power=0.0), "no power"),
        (lambda frame: frame.assign(power=100.0 - frame["power"]), "kWh; it must be above 0"),
        (lambda frame: frame.assign(ghi=0.0), "no ghi: the column is never above zero"),
        (lambda frame: frame.assign(ghi=np.inf), "no ghi: the column is never above zero"),
        (lambda frame: frame.assign(power=1.0).iloc[: 3 * 6].assign(ghi=1.0), "the sun is never up"),
        (lambda frame: frame.assign(temp_air=np.nan), "temp_air: there in 0.0% of the daylight intervals"),
        (lambda frame: frame.assign(wind_speed="calm"), "wind_speed: there in 0.0% of the daylight intervals"),
        (lambda frame: frame.assign(ghi=frame["ghi"].where(np.arange(len(frame)) % 2 == 0)), "of the daylight intervals"),
        (lambda frame: frame.set_axis(frame.index + pd.Timedelta(hours=2)), "the clock is +2 h from UTC"),
        (lambda frame: frame.set_axis(["noon"] * len(frame)), "no times"),
    ],
)
def test_files_without_an_answer_are_refused(
    spoil: Callable[[pd.DataFrame], pd.DataFrame], message: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(written(spoil(made(5)), tmp_path)) == 2
    assert message in capsys.readouterr().err


def test_a_file_that_ends_early_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = written(made(2), tmp_path)
    path = Path(arguments[0])
    path.write_bytes(path.read_bytes()[:-2000])
    assert main(arguments) == 2
    assert "not a readable CSV file" in capsys.readouterr().err


def test_a_regression_without_one_answer_is_refused_and_a_constant_temperature_is_not(tmp_path: Path) -> None:
    assert main([*written(made(20).assign(temp_air=15.0), tmp_path), "--measured-clipping"]) == 0
    assert main([*written(made(20).assign(dni=0.0), tmp_path), "--measured-clipping"]) == 2


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("tilt_deg", "slope_deg", "unexpected keyword"),
        ("power_w = 400.0", "power_w = 500.0", "Voltage times current"),
        ("[columns]", "label = 'noon'\n[columns]", "label = 'noon'; one of start, middle, end is allowed"),
        ("[columns]", "mounting = 'mast'\n[columns]", "mounting = 'mast'; one of close_roof"),
        ("[columns]", "origin = 'representative_days'\n[columns]", "origin = 'representative_days'; one of measured_hourly"),
        ("[columns]", "[losses_percent]\nageing = -3\n[columns]", "ageing = -3; a number from 0 to 50 is allowed"),
        ("[columns]", "[losses_percent]\nsnow = 3\n[columns]", "unknown losses: snow"),
        ("[columns]", "[columns]\nghi = 'dni'", "one name for two columns, or two for one: {'ghi': 'dni'"),
        ("[columns]", "[columns]\nghi = 'meter'", "one name for two columns, or two for one: {'ghi': 'meter'"),
        ('name = "typical"', "name = []", "name = []; a text is allowed"),
        ("[columns]", "[columns]\nghi = 'light'", "columns missing: ghi (light)"),
        ("[columns]", "[columns]\nlight = 'ghi'", "unknown columns: light"),
        ('[columns]\npower = "meter"', "columns = 'x'", "columns = 'x'; a table of names is allowed"),
        ("latitude_deg = 40.0", "latitude_deg = 95.0", "latitude_deg = 95.0; a number from -90 to 90 is allowed"),
        ("module_count = 10", "module_count = 2.5", "module_count = 2.5; a whole number from 1 to 1000000 is allowed"),
    ],
)
def test_systems_that_cannot_be_are_refused(
    old: str, new: str, message: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = written(made(2), tmp_path)
    path = Path(arguments[2])
    path.write_text(path.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    assert main([*arguments, "--json"]) == 2
    assert message in json.loads(capsys.readouterr().err)["refused"]


@pytest.mark.parametrize("name", BOUNDS)
def test_numbers_beyond_their_bounds_are_refused(name: str, tmp_path: Path) -> None:
    written(made(1), tmp_path)
    path, (low, high) = tmp_path / "system.toml", BOUNDS[name]
    whole = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith(f"{name} =")]
    for value in (low - 1.0, high + 1.0, "nan", "inf", "'x'", "true", "[]"):
        table = "losses_percent." if name in measured_system.LOSSES else ""
        # The last table of the file is the module's.
        at = len(whole) if hasattr(SYSTEM.module, name) else 0
        path.write_text("\n".join([*whole[:at], f"{table}{name} = {value}", *whole[at:]]), encoding="utf-8")
        with pytest.raises(FileRefusedError, match=rf"^{name} = .* number from .* is allowed$"):
            system_of(path, {})


def test_a_loss_given_as_an_option_has_the_same_bounds(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*written(made(2), tmp_path), "--mismatch", "99"]) == 2
    assert "mismatch = 99.0; a number from 0 to 50 is allowed" in capsys.readouterr().err


def test_a_clipped_share_below_zero_is_zero_and_said_to_be_noise() -> None:
    frame = made(40)
    frame["power"] = np.minimum(ac_power(record(frame), SYSTEM)[0], 2000.0)
    # Single intervals at a limit that the light does not ask for.
    frame.loc[frame.index[(frame["power"] > 900.0) & (frame["power"] < 1500.0)][::40], "power"] = 2600.0
    found = fitted(record(frame), 2600.0)
    assert found.hours_at_limit > 0.0
    assert (found.clipped_percent, found.low_percent, found.high_percent) == (0.0, 0.0, 0.0)
    assert "noise: nothing clipped is seen" in measured_clipping.text(found)[0]


@pytest.mark.parametrize(
    ("lag", "words"),
    [(-1, "comes 1 interval before"), (1, "comes 1 interval after"), (2, "comes 2 intervals after"), (0, None)],
)
def test_the_lag_is_said_in_words(lag: int, words: str | None) -> None:
    said = "\n".join(measured_system.text(replace(result(record(made(3)), SYSTEM), lag_intervals=lag)))
    assert words in said if words else "comes" not in said

"""Clipping against measured minutes: what the spread was calibrated to, and which files the command refuses."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.validation.calibrate_subhourly import rows
from tests.validation.minute_clipping import compare, errors, main, roof
from tests.validation.minute_places import PLACES, REGISTRY
from tests.validation.minutes import FileRefusedError, clock_shift_h, means_of_snapshots, minutes_of, read, station

PLACE = PLACES["payerne"].place
ARGUMENTS = ["--latitude", "46.815", "--longitude", "6.944", "--elevation-m", "491"]


def minutes(days: int = 10) -> pd.DataFrame:
    """Ten days of June with passing clouds, in UTC."""
    time = pd.date_range("2023-06-10", periods=days * 1440, freq="min")
    hour = (time.hour + time.minute / 60.0 + PLACE.longitude_deg / 15.0).to_numpy()
    height = np.maximum(np.cos(np.radians(15.0 * (hour - 12.0))) * 0.85 + 0.05, 0.0)
    sunny = (np.arange(time.size) // 7) % 2 == 0
    dni = np.where(sunny & (height > 0.05), 800.0, 0.0)
    dhi = 150.0 * height
    return pd.DataFrame(
        {"time_utc": time, "ghi": dni * height + dhi, "dni": dni, "dhi": dhi, "temp_air": 20.0}, index=range(time.size)
    )


def written(frame: pd.DataFrame, folder: Path) -> Path:
    path = folder / "minutes.csv.gz"
    frame.to_csv(path, index=False)
    return path


@pytest.mark.parametrize(
    ("name", "rmse", "bias", "worst"),
    [
        pytest.param("payerne", 0.088, -0.053, -0.193, id="payerne"),
        pytest.param("golden", 0.197, 0.181, 0.314, id="golden", marks=pytest.mark.release),
    ],
)
def test_shipped_coefficients_give_the_calibrated_errors(name: str, rmse: float, bias: float, worst: float) -> None:
    """Points of clipped share on three faces at five ratios, as SUBHOURLY.md has them."""
    found = rows(PLACES[name].cases(REGISTRY[name]()))
    assert errors(found, "spread_percent") == pytest.approx({"rmse": rmse, "bias": bias, "worst": worst}, abs=0.01)
    assert all(row.hourly_percent < row.spread_percent and row.inside for row in found)


def test_a_missing_component_is_what_the_others_leave() -> None:
    frame = minutes(2).set_index("time_utc")
    whole = minutes_of(frame, PLACE)
    lit = whole.zenith_deg < 85.0
    closed = frame.assign(ghi=whole.ghi_w_m2.ravel())
    for name in ("ghi", "dni", "dhi"):
        without = minutes_of(closed.assign(**{name: np.nan}), PLACE)
        assert without.there[lit].all()
        for field in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2"):
            np.testing.assert_allclose(getattr(without, field)[lit], getattr(whole, field)[lit], atol=1e-6, err_msg=name)
    assert not minutes_of(closed.assign(ghi=np.nan, dni=np.nan), PLACE).there[lit].any()


def test_an_empty_hour_is_dark_and_not_a_cloud() -> None:
    gap = minutes(4).set_index("time_utc")
    gap.iloc[2 * 1440 + 600 : 2 * 1440 + 720] = np.nan
    measured = station(gap, PLACE)
    hours = slice(2 * 24 + 10, 2 * 24 + 12)
    assert (measured.conditions.zenith_deg[hours] > 90.0).all()
    whole = station(minutes(4).set_index("time_utc"), PLACE)
    assert whole.conditions.zenith_deg[hours].max() < 60.0
    np.testing.assert_array_equal(measured.conditions.ghi_w_m2[:48], whole.conditions.ghi_w_m2[:48])


def test_impossible_minutes_count_as_missing() -> None:
    frame = minutes(2).set_index("time_utc")
    frame.loc["2023-06-10 12:00", "dhi"] = 1000.0
    assert not minutes_of(frame, PLACE).there[12, 0]
    assert minutes_of(frame, PLACE).there[12, 1:].all()


def test_snapshots_become_means_with_a_quarter_of_the_next() -> None:
    frame = minutes(1).set_index("time_utc").drop(index=pd.Timestamp("2023-06-10 12:08"))
    found = means_of_snapshots(frame)
    at = pd.Timestamp("2023-06-10 12:05")
    following = at + pd.Timedelta(minutes=1)
    assert found["dni"][at] == pytest.approx(0.75 * frame["dni"][at] + 0.25 * frame["dni"][following])
    before_gap = pd.Timestamp("2023-06-10 12:07")
    assert found["dhi"][before_gap] == frame["dhi"][before_gap]


def test_the_command_reports_each_ratio_and_the_errors(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([str(written(minutes(), tmp_path)), *ARGUMENTS, "--dc-ac-ratio", "1.2", "1.4", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    rows = compare(station(minutes().set_index("time_utc"), PLACE), roof(30.0, 180.0), (1.2, 1.4))
    assert [(row["dc_ac_ratio"], row["range_holds"]) for row in found["rows"]] == [
        (row.dc_ac_ratio, row.inside) for row in rows
    ]
    for name in ("minutes", "hourly", "spread"):
        expected = [getattr(row, f"{name}_percent") for row in rows]
        assert [row[f"clipped_{name}_percent"] for row in found["rows"]] == pytest.approx(expected), name
    assert found["errors_points"]["spread"] == pytest.approx(errors(rows, "spread_percent"))


def test_gaps_are_named_and_too_many_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    few, many = minutes(), minutes()
    few.loc[600:660, ["ghi", "dni", "dhi"]] = np.nan
    many.loc[many.index % 7 == 0, ["ghi", "dni", "dhi"]] = np.nan
    assert main([str(written(few, tmp_path)), *ARGUMENTS, "--dc-ac-ratio", "1.3"]) == 0
    assert "gap from 2023-06-10 10:00:00: 61 min" in capsys.readouterr().out
    assert main([str(written(many, tmp_path)), *ARGUMENTS]) == 2
    refused = capsys.readouterr().err
    assert "90 % are needed" in refused
    assert "2023-06-10" in refused


@pytest.mark.parametrize("ahead_h", [-5.0, 2.0, 9.0])
def test_local_time_is_refused(ahead_h: float) -> None:
    local = minutes()
    local["time_utc"] += pd.Timedelta(hours=ahead_h)
    frame = local.set_index("time_utc")
    assert clock_shift_h(frame, PLACE) == pytest.approx(ahead_h, abs=0.5)
    with pytest.raises(FileRefusedError, match="local time"):
        station(frame, PLACE)


def test_missing_columns_are_refused(tmp_path: Path) -> None:
    with pytest.raises(FileRefusedError, match="columns missing: dhi"):
        read(written(minutes(1).drop(columns="dhi"), tmp_path))

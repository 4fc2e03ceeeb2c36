"""The command that compares with measured minutes refuses files that give no valid answer, and says why."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.validation.calibrate_intra_hour import payerne
from tests.validation.minute_clipping import main
from tests.validation.minutes import FileRefusedError, Place, clock_shift_h, read, station

PLACE = Place(46.815, 6.944, 491.0)
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


def test_real_minutes_are_compared_and_the_spread_comes_nearer(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = written(payerne().rename_axis("time_utc").reset_index(), tmp_path)
    assert main([str(path), *ARGUMENTS, "--dc-ac-ratio", "1.2", "1.4", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [row["dc_ac_ratio"] for row in found["rows"]] == [1.2, 1.4]
    for row in found["rows"]:
        assert row["clipped_hourly_percent"] < row["clipped_spread_percent"]
        assert row["range_holds"]
    assert found["errors_points"]["spread"]["rmse"] < 0.3 * found["errors_points"]["hourly"]["rmse"]


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
def test_local_time_is_noticed_from_the_sun(ahead_h: float) -> None:
    local = minutes()
    local["time_utc"] += pd.Timedelta(hours=ahead_h)
    frame = local.set_index("time_utc")
    assert clock_shift_h(frame, PLACE) == pytest.approx(ahead_h, abs=0.5)
    with pytest.raises(FileRefusedError, match="local time"):
        station(frame, PLACE)


def test_columns_must_be_there(tmp_path: Path) -> None:
    with pytest.raises(FileRefusedError, match="columns missing: dhi"):
        read(written(minutes(1).drop(columns="dhi"), tmp_path))

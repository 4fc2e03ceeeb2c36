"""The spread's coefficients from the stations' minutes.

    python -m tests.validation.calibrate_subhourly [--abashiri FILE.csv.gz] [--all-free]

Least squares on the clipped energy of each hour (three faces, five ratios; every station's hours weighted to the same sum), so
that a station counts with thousands of hours and not with fifteen totals. Then each station is left out in turn and its totals
are predicted. `--all-free` frees the three exponents as well.
"""

from __future__ import annotations

import argparse
import io
import json
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
from scipy.optimize import least_squares

from tests.open_data import pvlib_archive, source_archive, source_file
from tests.validation.minute_clipping import Case, Row, case, errors, roof
from tests.validation.minutes import Place, Station, read, station
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.irradiance import subhourly as subhourly

LIBINSITU_SHA256 = "6c86855e5392b5d8e8f5c8342301868f11a2a929472029e56bbe9099e97abdd4"
PLACES = {
    "golden": Place(39.742, -105.18, 1829.0),
    "abashiri": Place(44.018, 144.28, 38.0),
    "payerne": Place(46.815, 6.944, 491.0),
}
FACES = {"south 30": roof(30.0, 180.0), "east 20": roof(20.0, 90.0), "west 30": roof(30.0, 270.0)}
FITTED = ("ODDS", "BEAM_DIMMING")
EXPONENTS = ("ODDS_LONG_EXPONENT", "ODDS_PER_OPACITY", "ODDS_PER_COS_ZENITH")


def golden() -> pd.DataFrame:
    archive = source_archive("libinsitu", "1.7.1", LIBINSITU_SHA256)
    raw = pd.read_csv(io.BytesIO(source_file(archive, "notebooks/data/sample-data.csv.gz")), compression="gzip")
    names = {"global": "ghi", "direct": "dni", "diffuse": "dhi", "temp": "temp_air"}
    frame = raw.rename(columns=names).set_index(pd.DatetimeIndex(pd.to_datetime(raw["date"] + " " + raw["time"])))
    frame["temp_air"] -= 273.15
    return frame[list(names.values())]


def payerne() -> pd.DataFrame:
    archive = pvlib_archive()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "pay0616.dat.gz"
        path.write_bytes(source_file(archive, "tests/data/bsrn-pay0616.dat.gz"))
        frame, _ = pvlib.iotools.read_bsrn(path)
    frame.index = frame.index.tz_localize(None)
    return pd.DataFrame(frame[["ghi", "dni", "dhi", "temp_air"]])


@contextmanager
def coefficients(names: tuple[str, ...], values: FloatArray) -> Iterator[None]:
    """The model with other coefficients."""
    before = [getattr(subhourly, name) for name in names]
    try:
        for name, value in zip(names, values, strict=True):
            setattr(subhourly, name, float(value))
        yield
    finally:
        for name, value in zip(names, before, strict=True):
            setattr(subhourly, name, value)


def fresh_spread(measured: Station) -> subhourly.SubhourlyStates:
    """With the present coefficients."""
    return subhourly.subhourly_states(
        measured.conditions, origin="measured_hourly", elevation_m=measured.elevation_m, linke_turbidity_by_month=None
    )


def fit(cases: dict[str, list[Case]], names: tuple[str, ...]) -> FloatArray:
    """The coefficients with the least squares."""

    def residuals(values: FloatArray) -> FloatArray:
        parts = []
        with coefficients(names, values):
            for station_cases in cases.values():
                spread = fresh_spread(station_cases[0].station)
                for one in station_cases:
                    error = (one.clipped(spread) - one.true_clipped)[:, one.usable]
                    parts.append((error / one.power[one.usable].sum() * np.sqrt(one.power.size)).ravel())
        return np.concatenate(parts)

    start = [getattr(subhourly, name) for name in names]
    return np.asarray(least_squares(residuals, start, diff_step=0.02, max_nfev=15).x)


def rows(station_cases: list[Case]) -> list[Row]:
    """Of all faces at the present coefficients."""
    spread = fresh_spread(station_cases[0].station)
    return [row for one in station_cases for row in one.rows(spread)]


def report(name: str, found: list[Row], **more: object) -> None:
    """Print how well the model does."""
    both = {column: errors(found, f"{column}_percent") for column in ("hourly", "spread")}
    inside = sum(row.inside for row in found) / len(found)
    width = float(np.mean([row.high_percent - row.low_percent for row in found]))
    print(json.dumps({"case": name, **both, "range_holds_share": inside, "range_width_points": width, **more}))


def main() -> int:
    parser = argparse.ArgumentParser(description="Fit the spread and leave one station out.")
    parser.add_argument("--all-free", action="store_true")
    parser.add_argument("--abashiri", type=Path, help="minutes of Abashiri 2023 (BSRN) as a file of `minutes`")
    options = parser.parse_args()
    names = FITTED + (EXPONENTS if options.all_free else ())
    frames = {"golden": golden(), "payerne": payerne()}
    if options.abashiri:
        frames["abashiri"] = read(options.abashiri)
    stations = {name: station(frame, PLACES[name]) for name, frame in frames.items()}
    cases = {name: [case(measured, face) for face in FACES.values()] for name, measured in stations.items()}
    print(json.dumps({"fitted": dict(zip(names, fit(cases, names).round(3).tolist(), strict=True))}))
    left_out: list[Row] = []
    for name in cases:
        values = fit({other: given for other, given in cases.items() if other != name}, names)
        with coefficients(names, values):
            found = rows(cases[name])
        left_out += found
        report(f"{name} left out", found, **{"with": dict(zip(names, values.round(3).tolist(), strict=True))})
    report("all left out", left_out)
    for name in cases:
        report(f"{name}, shipped coefficients", rows(cases[name]))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

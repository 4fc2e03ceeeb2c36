"""The spread's coefficients from the stations' minutes.

    python -m tests.validation.calibrate_intra_hour [--abashiri FILE.csv.gz] [--all-free]

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
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
import pvlib
from scipy.optimize import least_squares

from tests.open_data import pvlib_archive, source_archive, source_file
from tests.validation import minute_clipping as command
from tests.validation.minutes import Place, Station, read, station
from wattpair_service.engineering import intra_hour
from wattpair_service.engineering.face_spread import face_spreads
from wattpair_service.engineering.plane_of_array import Face, PlaneOfArray, plane_of_array

FloatArray = npt.NDArray[np.float64]

PLACES = {
    "golden": Place(39.742, -105.18, 1829.0),
    "abashiri": Place(44.018, 144.28, 38.0),
    "payerne": Place(46.815, 6.944, 491.0),
}
FACES = {"south 30": command.roof(30.0, 180.0), "east 20": command.roof(20.0, 90.0), "west 30": command.roof(30.0, 270.0)}
FITTED = ("ODDS", "BEAM_DIMMING")
EXPONENTS = ("ODDS_LONG_EXPONENT", "ODDS_PER_OPACITY", "ODDS_PER_COS_ZENITH")


def frames(abashiri: Path | None) -> dict[str, pd.DataFrame]:
    """Minutes of each station: two from the package registry, the third from a file."""
    found = {"golden": golden(), "payerne": payerne()}
    return found if abashiri is None else {**found, "abashiri": read(abashiri)}


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


LIBINSITU_SHA256 = "6c86855e5392b5d8e8f5c8342301868f11a2a929472029e56bbe9099e97abdd4"


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """One station and face: what the minutes say of each hour, and what the hourly means say."""

    station: Station
    face: Face
    plane: PlaneOfArray
    power: FloatArray
    clipped: FloatArray  # of the minutes, (hours, ratios)
    energy: float
    true_energy: float


def case(measured: Station, face: Face) -> Case:
    truth = command.minute_power(measured.minutes, face)
    plane = plane_of_array(measured.conditions, face, transposition="perez_1990")
    power = command.hour_power(measured.conditions, plane)
    clipped = [measured.minutes.hourly(np.maximum(truth - 1.0 / ratio, 0.0)) for ratio in command.RATIOS]
    usable = measured.minutes.usable
    energy, true_energy = float(power[usable].sum()), float(measured.minutes.hourly(truth)[usable].sum())
    return Case(measured, face, plane, power, np.stack(clipped, axis=1), energy, true_energy)


def modelled(given: Case) -> FloatArray:
    """Clipped energy of each hour with the spread, (hours, ratios)."""
    measured = given.station
    (states,) = face_spreads(
        measured.conditions, (given.plane,), measured.spread, faces=(given.face,), transposition="perez_1990",
        power_coefficient_per_k=command.POWER_COEFFICIENT_PER_K,
    )  # fmt: skip
    clipped = [command.clipped_power_w(given.power, states, 1.0 / ratio) for ratio in command.RATIOS]
    return np.stack(clipped, axis=1)


@contextmanager
def coefficients(names: tuple[str, ...], values: FloatArray) -> Iterator[None]:
    """The model with other coefficients."""
    before = [getattr(intra_hour, name) for name in names]
    try:
        for name, value in zip(names, values, strict=True):
            setattr(intra_hour, name, float(value))
        yield
    finally:
        for name, value in zip(names, before, strict=True):
            setattr(intra_hour, name, value)


def _respread(measured: Station) -> intra_hour.IntraHourSpread:
    return intra_hour.intra_hour_spread(
        measured.conditions,
        origin="measured_hourly",
        elevation_m=measured.elevation_m,
        linke_turbidity_by_month=None,
    )


def respread(cases: list[Case]) -> list[Case]:
    """The same cases with the spread of the present coefficients."""
    out, last = [], None
    for given in cases:
        if last is None or last[0] is not given.station:
            fresh = _respread(given.station)
            last = (given.station, replace(given.station, spread=fresh))
        out.append(replace(given, station=last[1]))
    return out


def fit(cases: dict[str, list[Case]], names: tuple[str, ...]) -> FloatArray:
    start = np.array([getattr(intra_hour, name) for name in names])

    def residuals(values: FloatArray) -> FloatArray:
        with coefficients(names, values):
            parts = [
                (modelled(one) - one.clipped)[one.station.minutes.usable] / one.energy * np.sqrt(one.power.size)
                for station_cases in cases.values()
                for one in respread(station_cases)
            ]
        return np.concatenate([part.ravel() for part in parts])

    return np.asarray(least_squares(residuals, start, diff_step=0.02, max_nfev=15).x)


def table(station_cases: list[Case]) -> list[list[command.Row]]:
    """Rows of each face at the present coefficients."""
    out = []
    for one in respread(station_cases):
        usable, clipped = one.station.minutes.usable, modelled(one)
        rows = []
        for column, ratio in enumerate(command.RATIOS):
            hourly = float(np.maximum(one.power - 1.0 / ratio, 0.0)[usable].sum()) / one.energy
            share = float(clipped[usable, column].sum()) / one.energy
            true = float(one.clipped[usable, column].sum()) / one.true_energy
            low, high = intra_hour.clipped_share_range(share=share, hourly_share=hourly, spread=one.station.spread)
            rows.append(command.Row(ratio, *(100.0 * value for value in (true, hourly, share, low, high))))
        out.append(rows)
    return out


def report(name: str, rows: list[command.Row]) -> dict[str, object]:
    inside = sum(row.inside for row in rows) / len(rows)
    width = float(np.mean([row.high_percent - row.low_percent for row in rows]))
    both = {column: command.errors(rows, f"{column}_percent") for column in ("hourly", "spread")}
    return {"case": name, **both, "range_holds_share": inside, "range_width_points": width}


def main() -> int:
    parser = argparse.ArgumentParser(description="Fit the spread and leave one station out.")
    parser.add_argument("--all-free", action="store_true")
    parser.add_argument("--abashiri", type=Path, help="minutes of Abashiri 2023 (BSRN) as a file of `minutes`")
    options = parser.parse_args()
    names = FITTED + (EXPONENTS if options.all_free else ())
    stations = {name: station(frame, PLACES[name]) for name, frame in frames(options.abashiri).items()}
    cases = {name: [case(measured, face) for face in FACES.values()] for name, measured in stations.items()}
    print(json.dumps({"fitted": dict(zip(names, fit(cases, names).round(3).tolist(), strict=True))}))
    left_out: list[command.Row] = []
    for name in cases:
        values = fit({other: given for other, given in cases.items() if other != name}, names)
        with coefficients(names, values):
            rows = [row for face in table(cases[name]) for row in face]
        left_out += rows
        print(json.dumps({**report(f"{name} left out", rows), "with": dict(zip(names, values.round(3).tolist(), strict=True))}))
    print(json.dumps(report("all left out", left_out)))
    for name in cases:
        print(json.dumps(report(f"{name}, shipped coefficients", [row for face in table(cases[name]) for row in face])))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

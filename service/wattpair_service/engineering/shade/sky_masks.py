"""What each half of a bypass group sees of the sky, from geometry alone.

For each point and each of `COLUMNS` directions of the compass a mask has one limiting elevation: that of the highest opaque
edge there. The crown of a tree is an interval of elevation above it, through which a part of the light passes. In elevation all
integrals are exact, so the grid is one of azimuths alone.

The beam reaches a half where its darkest point sees the sun: the highest of its points' limits counts. Sky dome and horizon
band are means over the points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.irradiance.plane_of_array import HorizonPoint
from wattpair_service.engineering.shade.scene import Tree

COLUMNS = 120
COLUMN_DEG = 360.0 / COLUMNS
BAND_DEG = 6.5
"""Height of the horizon band (Perez et al. 1987, 10.1016/S0038-092X(87)80031-2, from memory)."""
CROWN_CELLS = 30
"""Steps of elevation in which light through crowns is summed."""
PAIRS_TOGETHER = 400_000
"""Pairs of a point and an edge, or of a half and a sun, that are looked at together, which bounds the memory."""


@dataclass(frozen=True, slots=True, eq=False)
class SkyMasks:
    """Masks of the halves of a face's bypass groups; h halves, t trees, `COLUMNS` directions.

    Attributes
    ----------
    limit_corner, limit_highest, limit_middle, limit_lowest : array, shape (h, columns)
        Tangent of the limiting elevation, at the darkest corner of a half or of its cells' middles the darkest, where that is
        higher; at the darkest of the cells' middles; in the half's middle; and at the brightest.
    crown_low_deg, crown_high_deg : array, shape (t, h, columns)
        Elevations between which a crown stands before some point of the half; high below low where it does not.
    dome, band : array, shape (12, h)
        Share of the sky dome's and of the horizon band's light that arrives in each month (0-1).
    """

    limit_corner: FloatArray
    limit_highest: FloatArray
    limit_middle: FloatArray
    limit_lowest: FloatArray
    crown_low_deg: FloatArray
    crown_high_deg: FloatArray
    dome: FloatArray
    band: FloatArray


def column_azimuth_deg() -> FloatArray:
    """Middle of each column [deg], clockwise from north."""
    return np.asarray((np.arange(COLUMNS) + 0.5) * COLUMN_DEG, dtype=np.float64)


def horizon_deg(horizon: Sequence[HorizonPoint], azimuth_deg: FloatArray) -> FloatArray:
    """Elevation of a horizon in each direction [deg], linear between its points; 0 without points."""
    if not horizon:
        return np.zeros_like(azimuth_deg)
    directions, elevations = [point.azimuth_deg for point in horizon], [point.elevation_deg for point in horizon]
    return np.asarray(np.interp(azimuth_deg, directions, elevations, period=360.0))


def sky_masks(
    points: FloatArray,
    edges: FloatArray,
    trees: Sequence[Tree],
    horizon: Sequence[HorizonPoint],
    *,
    tilt_deg: float,
    azimuth_deg: float,
    height_factor: float = 1.0,
    corner_count: int = 0,
) -> SkyMasks:
    """Masks of the halves of a face.

    Parameters
    ----------
    points : array, shape (h, p, 3)
        Points of each half, metres east, north and up; the last `corner_count` are its corners.
    edges : array, shape (edges, 2, 3)
        Top edges of what is opaque, in the same frame.
    trees, horizon
        Beside the edges.
    tilt_deg, azimuth_deg : float
        Of the face.
    height_factor : float
        On the tangents of all limiting elevations but the horizon's: for heights and distances that are guessed.
    corner_count : int
        Points of each half that are its corners.
    """
    halves, per_half = len(points), points.shape[1] - corner_count
    plane = _Plane.of(tilt_deg, azimuth_deg)
    horizon_limit = np.tan(np.radians(horizon_deg(horizon, column_azimuth_deg())))
    of_points = _limits(points.reshape(-1, 3), edges).reshape(halves, -1, COLUMNS) * height_factor
    tangent = of_points[:, :per_half].reshape(-1, COLUMNS)
    dome_open, band_open = plane.open_to_sky(tangent, horizon_limit, per_half)
    limits = np.maximum(tangent, horizon_limit).reshape(halves, per_half, COLUMNS)
    highest, lowest = limits.max(axis=1), limits.min(axis=1)
    corner = np.maximum(highest, of_points[:, per_half:].max(axis=1, initial=0.0))
    # Of two columns of points one after the other.
    middle = (limits[:, per_half // 4] + limits[:, 3 * per_half // 4]) / 2.0
    low_deg, high_deg = _crowns(points[:, [0, per_half - 1]], trees, height_factor)
    dome, band = (np.repeat(each.sum(axis=-1)[None], 12, axis=0) for each in (dome_open, band_open))
    if trees:
        taken_of_dome, taken_of_band = _taken_by_crowns(plane, dome_open, band_open, low_deg, high_deg, trees)
        dome, band = dome - taken_of_dome, band - taken_of_band
    return SkyMasks(
        corner,
        highest,
        middle,
        lowest,
        low_deg,
        high_deg,
        np.clip(dome / plane.dome_whole, 0.0, 1.0),
        np.clip(band / plane.band_whole, 0.0, 1.0) if plane.band_whole > 0.0 else np.ones_like(band),
    )


def _limits(points: FloatArray, edges: FloatArray) -> FloatArray:
    """Tangent of the limiting elevation of edges at each point in each column, not below 0: shape (points, columns)."""
    tangent = np.zeros((len(points), COLUMNS))
    step = max(1, PAIRS_TOGETHER // max(len(edges), 1))
    for start in range(0, len(points) if len(edges) else 0, step):
        part = slice(start, start + step)
        _raise_limits(tangent[part], points[part], edges)
    return tangent


def _raise_limits(tangent: FloatArray, points: FloatArray, edges: FloatArray) -> None:
    """Raise the limits in place to those of the edges: each edge stands in the columns between its two ends."""
    first, last = (edges[None, :, end] - points[:, None] for end in (0, 1))
    is_above = (first[..., 2] > 0.0) | (last[..., 2] > 0.0)
    point = np.nonzero(is_above)[0]
    first, last = first[is_above], last[is_above]
    start_deg, end_deg = (np.degrees(np.arctan2(each[:, 0], each[:, 1])) for each in (first, last))
    turn_deg = (end_deg - start_deg + 180.0) % 360.0 - 180.0
    low_deg = np.where(turn_deg >= 0.0, start_deg, end_deg)
    from_column = np.ceil(low_deg / COLUMN_DEG - 0.5).astype(np.int64)
    to_column = np.floor((low_deg + np.abs(turn_deg)) / COLUMN_DEG - 0.5).astype(np.int64)
    count = np.maximum(to_column - from_column + 1, 0)
    edge = np.repeat(np.arange(count.size), count)
    column = from_column[edge] + np.arange(edge.size) - np.repeat(np.cumsum(count) - count, count)
    azimuth = np.radians((column + 0.5) * COLUMN_DEG)
    east, north = np.sin(azimuth), np.cos(azimuth)
    along = last - first
    # The ray in this direction crosses the edge at `share` of its length, `distance` away.
    beside = first[edge, 0] * north - first[edge, 1] * east
    turn = along[edge, 0] * north - along[edge, 1] * east
    share = np.clip(np.divide(-beside, turn, out=np.zeros_like(beside), where=turn != 0.0), 0.0, 1.0)
    distance = (first[edge, 0] + share * along[edge, 0]) * east + (first[edge, 1] + share * along[edge, 1]) * north
    height = first[edge, 2] + share * along[edge, 2]
    limit = np.divide(height, distance, out=np.zeros_like(height), where=distance > 1e-9)
    np.maximum.at(tangent.reshape(-1), point[edge] * COLUMNS + column % COLUMNS, limit)


def _crowns(points: FloatArray, trees: Sequence[Tree], height_factor: float) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest elevation of each crown before the points of each half [deg]: shape (trees, halves, columns).

    An ellipsoid is a sphere in a space whose heights are stretched, and elevations there are between its two tangents.
    """
    low = np.full((len(trees), len(points), COLUMNS), 90.0)
    high = np.full_like(low, -90.0)
    for index, tree in enumerate(trees):
        radius_m = tree.crown_diameter_m / 2.0
        stretch = 2.0 * radius_m / (tree.height_m - tree.crown_base_m)
        up_m = tree.ground_up_m + (tree.height_m + tree.crown_base_m) / 2.0
        away = np.array([tree.east_m, tree.north_m, up_m]) - points
        distance, up = np.hypot(away[..., 0], away[..., 1]), away[..., 2] * stretch
        direction = np.arctan2(away[..., 0], away[..., 1])
        aside = np.radians(column_azimuth_deg()) - direction[..., None]
        columns = np.flatnonzero((distance[..., None] * np.abs(np.sin(aside)) < radius_m).any(axis=(0, 1)))
        aside = aside[..., columns]
        ahead, sideways = distance[..., None] * np.cos(aside), distance[..., None] * np.sin(aside)
        half_chord = np.sqrt(np.maximum(radius_m**2 - sideways**2, 0.0))
        middle, reach = np.arctan2(up[..., None], ahead), np.hypot(ahead, up[..., None])
        spread = np.arcsin(np.minimum(half_chord / np.maximum(reach, 1e-9), 1.0))
        # A crown above the point reaches over it, into the columns behind.
        is_over = (up[..., None] > 0.0) & (middle - spread < np.pi / 2.0)
        is_before = (half_chord > 0.0) & ((ahead > 0.0) | is_over)
        for bound, bounds, choose in ((middle - spread, low, np.minimum), (middle + spread, high, np.maximum)):
            elevation = np.degrees(np.arctan(np.tan(np.clip(bound, -1.57, 1.57)) * (height_factor / stretch)))
            missing = 90.0 if choose is np.minimum else -90.0
            bounds[index][:, columns] = choose.reduce(np.where(is_before, elevation, missing), axis=1)
    return low, high


@dataclass(frozen=True, slots=True, eq=False)
class _Plane:
    """A tilted plane: `up` times the sine of elevation plus `ahead` times its cosine is the cosine of incidence in a column."""

    up: float
    ahead: FloatArray
    lowest: FloatArray

    @classmethod
    def of(cls, tilt_deg: float, azimuth_deg: float) -> _Plane:
        tilt = np.radians(tilt_deg)
        ahead = np.sin(tilt) * np.cos(np.radians(column_azimuth_deg() - azimuth_deg))
        # Below this elevation a direction lies behind the plane.
        lowest = np.arctan2(np.maximum(-ahead, 0.0), np.cos(tilt))
        return cls(float(np.cos(tilt)), ahead, lowest)

    @property
    def dome_whole(self) -> float:
        """Light of an even sky on the plane, over that of the dome on a horizontal plane."""
        return float(self.dome_to_zenith(np.zeros(COLUMNS)).sum())

    @property
    def band_whole(self) -> float:
        """Light of an even band at the horizon on the plane."""
        return float(self.band_by_column.sum())

    def open_to_sky(self, tangent: FloatArray, horizon_limit: FloatArray, per_half: int) -> tuple[FloatArray, FloatArray]:
        """Light of dome and band above limits of points, column by column, in these units: the mean of each half.

        `tangent` has shape (points, columns), the result (halves, columns).
        """
        halves, by_column = len(tangent) // per_half, self.band_by_column
        point, column = np.nonzero(tangent > horizon_limit)
        raised = _Plane(self.up, self.ahead[column], self.lowest[column])
        limit, floor = tangent[point, column], horizon_limit[column]
        taken_of_dome = raised.dome_to_zenith(np.arctan(floor)) - raised.dome_to_zenith(np.arctan(limit))
        taken_of_band = (_band_covered(limit) - _band_covered(floor)) * by_column[column]
        bins = (point // per_half) * COLUMNS + column
        dome, band = (
            np.bincount(bins, weights=each, minlength=halves * COLUMNS).reshape(halves, COLUMNS) / per_half
            for each in (taken_of_dome, taken_of_band)
        )
        open_dome, open_band = self.dome_to_zenith(np.arctan(horizon_limit)), (1.0 - _band_covered(horizon_limit)) * by_column
        return open_dome - dome, open_band - band

    def dome_to_zenith(self, elevation: FloatArray) -> FloatArray:
        """Light from each column between an elevation and the zenith, in that unit.

        It is the integral of the cosine of incidence times that of elevation.
        """
        elevation = np.maximum(elevation, self.lowest)
        sine = np.sin(elevation)
        along = np.pi / 4.0 - elevation / 2.0 - sine * np.cos(elevation) / 2.0
        return np.asarray((self.up * (1.0 - sine * sine) / 2.0 + self.ahead * along) * (2.0 / COLUMNS))

    @property
    def band_by_column(self) -> FloatArray:
        """Light of an even band at the horizon on the plane, from each column."""
        return np.maximum(self.ahead, 0.0)


def _band_covered(tangent: FloatArray) -> FloatArray:
    """Share of the band's height below a limit (0-1)."""
    return np.asarray(np.minimum(np.degrees(np.arctan(tangent)) / BAND_DEG, 1.0))


def _taken_by_crowns(
    plane: _Plane,
    dome_open: FloatArray,
    band_open: FloatArray,
    low_deg: FloatArray,
    high_deg: FloatArray,
    trees: Sequence[Tree],
) -> tuple[FloatArray, FloatArray]:
    """Light of dome and band that crowns take from each half in each month, in the units of `_Plane`: shape (12, halves).

    `dome_open` and `band_open`, shape (halves, columns), are what edges leave. It is taken to come from the uppermost sky of
    its column: so a half's light never rises where an edge rises before a crown.
    """
    transmittance = np.array([tree.transmittance_by_month for tree in trees])
    kinds, kind_of_month = np.unique(transmittance, axis=1, return_inverse=True)
    before = np.flatnonzero((high_deg > low_deg).any(axis=(0, 1)))
    edges = np.linspace(0.0, 90.0, CROWN_CELLS + 1)
    low, high, dome_open, band_open = (each[..., before] for each in (low_deg, high_deg, dome_open, band_open))
    part = _Plane(plane.up, plane.ahead[before], plane.lowest[before])
    dome, band = np.zeros((2, kinds.shape[1], len(dome_open)))
    for start, end in pairwise(edges.tolist()):
        covered = np.clip((np.minimum(high, end) - np.maximum(low, start)) / (end - start), 0.0, 1.0)
        if not covered.any():
            continue
        from_start, from_end = (part.dome_to_zenith(np.radians(each)) for each in (start, end))
        weight = np.clip(dome_open - from_end, 0.0, from_start - from_end)
        above, within = (part.band_by_column * max(1.0 - each / BAND_DEG, 0.0) for each in (end, start))
        in_band = np.clip(band_open - above, 0.0, within - above)
        for kind in range(kinds.shape[1]):
            passed = np.prod(1.0 - covered * (1.0 - kinds[:, kind, None, None]), axis=0)
            dome[kind] += (weight * (1.0 - passed)).sum(axis=-1)
            band[kind] += (in_band * (1.0 - passed)).sum(axis=-1)
    return dome[kind_of_month.ravel()], band[kind_of_month.ravel()]

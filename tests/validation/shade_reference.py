"""References for shade that share no code with the product: rays against solids, and curves of a module cell by cell.

A ray is followed to every solid; a solid is a box with a flat or gabled top, an ellipsoid or an upright cylinder. A module's
curve is put together from the curves of its cells, each at its own irradiance and temperature, reverse current included.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np

from wattpair_service.engineering.arrays import BoolArray, FloatArray
from wattpair_service.engineering.equipment import Cells
from wattpair_service.engineering.module.bypass_groups import BYPASS_FORWARD_V
from wattpair_service.engineering.module.single_diode import SixParameters, curve_at
from wattpair_service.engineering.shade.scene import Building, Placement, RoofObject, Shade, Tree

CELL_COLUMNS, CELL_ROWS = 6, 10
"""Full cells across a module's short side and along its long side; half-cut cells are twice as many along it. Common practice,
no source."""
BREAKDOWN_V, BREAKDOWN_SHARE, BREAKDOWN_EXPONENT = -20.0, 0.1, 3.4
"""Reverse current of a cell: its shunt's, times 1 + share (1 - v / breakdown)^-exponent. Form: Bishop 1988,
10.1016/0379-6787(88)90059-2, from memory; figures of an ordinary cell, common practice, no source."""


@dataclass(frozen=True, slots=True)
class _Box:
    """An upright box: middle [m east, north], azimuth of its length, half length and width [m], heights up of top and eaves."""

    east: float
    north: float
    azimuth_deg: float
    half_length: float
    half_width: float
    ridge_up: float
    eaves_up: float


def beam_share(
    points: FloatArray, sun: FloatArray, shade: Shade, *, tilt_deg: float, azimuth_deg: float, month: int
) -> FloatArray:
    """Share of the beam that reaches each point (0-1).

    Parameters
    ----------
    points : array, shape (..., 3)
        Metres east, north and up.
    sun : array, shape (3,)
        Unit vector to the sun.
    shade, tilt_deg, azimuth_deg, month
        What stands around a face, the face, and the month from 1.
    """
    blocked = np.zeros(points.shape[:-1], dtype=np.bool_)
    for box in (*(_of_object(each, tilt_deg, azimuth_deg) for each in shade.objects), *map(_of_building, shade.buildings)):
        blocked |= _is_behind_box(points, sun, box)
    share = 1.0 - blocked
    for tree in shade.trees:
        share *= np.where(_is_behind_trunk(points, sun, tree), 0.0, 1.0)
        share *= np.where(_is_behind_crown(points, sun, tree), tree.transmittance_by_month[month - 1], 1.0)
    return np.asarray(share)


def sun_vector(azimuth_deg: float, elevation_tangent: float) -> FloatArray:
    """Unit vector to the sun, east, north and up."""
    azimuth = radians(azimuth_deg)
    vector = np.array([sin(azimuth), cos(azimuth), elevation_tangent])
    return np.asarray(vector / np.linalg.norm(vector))


def _of_object(thing: RoofObject, tilt_deg: float, azimuth_deg: float) -> _Box:
    (left, right), (low, high) = thing.extent
    assert len(thing.outline) == 4, "the reference knows rectangles"
    x, y = (left + right) / 2.0, (low + high) / 2.0
    up_slope, plan_y = radians(azimuth_deg + 180.0), y * cos(radians(tilt_deg))
    # To the right when looking up the slope is 90 degrees clockwise of it.
    east = plan_y * sin(up_slope) + x * cos(up_slope)
    north = plan_y * cos(up_slope) - x * sin(up_slope)
    half_x, half_y = (right - left) / 2.0, (high - low) / 2.0 * cos(radians(tilt_deg))
    ridge_up = y * sin(radians(tilt_deg)) + thing.height_m
    assert thing.top != "sloped", "the reference knows flat and gabled tops"
    eaves_up = ridge_up if thing.top == "flat" else ridge_up - thing.height_m + thing.eaves_height_m
    if thing.ridge == "up_slope":
        return _Box(east, north, azimuth_deg + 180.0, half_y, half_x, ridge_up, eaves_up)
    return _Box(east, north, azimuth_deg - 90.0, half_x, half_y, ridge_up, eaves_up)


def _of_building(building: Building) -> _Box:
    return _Box(
        building.east_m, building.north_m, building.length_azimuth_deg, building.length_m / 2.0, building.width_m / 2.0,
        building.top_up_m, building.eaves_up_m,
    )  # fmt: skip


def _is_behind_box(points: FloatArray, sun: FloatArray, box: _Box) -> BoolArray:
    turn = radians(box.azimuth_deg)
    axes = np.array([[sin(turn), cos(turn)], [cos(turn), -sin(turn)]])
    start = (points[..., :2] - np.array([box.east, box.north])) @ axes.T
    direction = axes @ sun[:2]
    enters, leaves = np.zeros(start.shape[:-1]), np.full(start.shape[:-1], np.inf)
    for axis, half in enumerate((box.half_length, box.half_width)):
        with np.errstate(divide="ignore", invalid="ignore"):
            ends = np.sort(np.stack([(-half - start[..., axis]), (half - start[..., axis])]) / direction[axis], axis=0)
        enters, leaves = np.maximum(enters, ends[0]), np.minimum(leaves, ends[1])
    crosses = leaves > enters
    leaves = np.where(crosses, leaves, enters)
    # The height of the ray above the top is convex along it, so that it is lowest where it enters, leaves or passes the ridge.
    ridge = np.clip(-start[..., 1] / direction[1] if direction[1] else enters, enters, leaves)
    fall = (box.ridge_up - box.eaves_up) / box.half_width
    lowest = np.full(crosses.shape, np.inf)
    for way in (enters, ridge, leaves):
        top = box.ridge_up - fall * np.abs(start[..., 1] + way * direction[1])
        lowest = np.minimum(lowest, points[..., 2] + way * sun[2] - top)
    return np.asarray(crosses & (lowest < 0.0))


def _is_behind_crown(points: FloatArray, sun: FloatArray, tree: Tree) -> BoolArray:
    radius, half_height = tree.crown_diameter_m / 2.0, (tree.height_m - tree.crown_base_m) / 2.0
    middle = np.array([tree.east_m, tree.north_m, tree.ground_up_m + tree.crown_base_m + half_height])
    scale = np.array([radius, radius, half_height])
    start, direction = (points - middle) / scale, sun / scale
    along = start @ direction
    return np.asarray((along**2 >= (direction @ direction) * ((start**2).sum(axis=-1) - 1.0)) & (along < 0.0))


def _is_behind_trunk(points: FloatArray, sun: FloatArray, tree: Tree) -> BoolArray:
    radius = tree.trunk_diameter_m / 2.0
    start, direction = points[..., :2] - np.array([tree.east_m, tree.north_m]), sun[:2]
    along, square = start @ direction, direction @ direction
    inside = along**2 - square * ((start**2).sum(axis=-1) - radius**2)
    way = (-along - np.sqrt(np.maximum(inside, 0.0))) / square
    top = tree.ground_up_m + (tree.crown_base_m + tree.height_m) / 2.0
    return np.asarray((inside > 0.0) & (way > 0.0) & (points[..., 2] + way * sun[2] < top) & (tree.crown_base_m > 0.0))


def cell_points(placement: Placement, module: int, cells: Cells, *, per_side: int) -> FloatArray:
    """Points on every cell of a module in the plane of the face [m]: shape (groups, halves, cells, points, 2).

    Groups lie across the short side, halves along the long one; a cell has `per_side` by `per_side` points.
    """
    rows = CELL_ROWS * (2 if cells.half_cut else 1)
    columns, within = CELL_COLUMNS, (np.arange(per_side) + 0.5) / per_side
    across = ((np.arange(columns)[:, None] + within) / columns).reshape(cells.group_count, 1, -1, 1, per_side, 1)
    along = ((np.arange(rows)[:, None] + within) / rows).reshape(1, 2, 1, rows // 2, 1, per_side)
    across, along = np.broadcast_arrays(across, along)
    shares = (across, along) if placement.orientation == "portrait" else (along, across)
    size = placement.module_width_m, placement.module_height_m
    x, y = (corner + share * side for corner, share, side in zip(placement.corners[module], shares, size, strict=True))
    return np.stack([x, y], axis=-1).reshape(cells.group_count, 2, -1, per_side * per_side, 2)


def module_power_w(parameters: SixParameters, irradiance_w_m2: FloatArray, temp_cell_c: FloatArray, cells: Cells) -> float:
    """Maximum power of a module from the curves of its cells.

    Parameters
    ----------
    parameters : SixParameters
        Of the whole module.
    irradiance_w_m2, temp_cell_c : array, shape (groups, halves, cells)
        Effective irradiance and temperature of each cell. The halves of a group are in parallel in a module of half-cut cells,
        in series in one of full cells.
    cells : Cells
    """
    groups = len(irradiance_w_m2)
    in_series = groups * irradiance_w_m2.shape[2] * (1 if cells.half_cut else 2)
    current_share = 0.5 if cells.half_cut else 1.0
    currents = _knee_grid(1.06 * parameters.photocurrent_ref_a * irradiance_w_m2.max() / 1000.0 * current_share)
    strings = irradiance_w_m2.reshape(groups, 2 if cells.half_cut else 1, -1)
    temps = temp_cell_c.reshape(strings.shape)
    string_v = np.stack(
        [
            [
                _string_voltage(parameters, string, temp, currents, in_series, current_share)
                for string, temp in zip(*both, strict=True)
            ]
            for both in zip(strings, temps, strict=True)
        ]
    )
    if not cells.half_cut:
        total = np.maximum(string_v[:, 0], -BYPASS_FORWARD_V).sum(axis=0)
        return float((total * currents).max())
    # Two halves in parallel have one voltage; their currents add.
    voltages = np.linspace(-BYPASS_FORWARD_V, string_v.max(), 1500)
    module_currents = _knee_grid(2.0 * currents[-1])
    total = np.zeros(module_currents.size)
    for halves in string_v:
        # Above its own open-circuit voltage a half is taken to carry nothing.
        both = sum(np.interp(-voltages, -half, currents) for half in halves)
        total += np.interp(-module_currents, -np.asarray(both), voltages, left=-BYPASS_FORWARD_V)
    return float((total * module_currents).max())


def _knee_grid(largest_a: float) -> FloatArray:
    return np.linspace(0.0, largest_a, 900)


def _string_voltage(
    parameters: SixParameters,
    irradiance_w_m2: FloatArray,
    temp_c: FloatArray,
    currents: FloatArray,
    in_series: int,
    share: float,
) -> FloatArray:
    """Voltage of cells in series at each current [V]; a cell has its part of the module's parameters."""
    curve = curve_at(parameters, irradiance_w_m2=irradiance_w_m2, cell_temp_c=temp_c)
    total = np.zeros(currents.size)
    _, kinds, count = np.unique(np.stack([irradiance_w_m2, temp_c]), axis=1, return_index=True, return_counts=True)
    for cell, times in zip(kinds, count, strict=True):
        a_v, photocurrent, saturation = curve.a_v[cell], curve.photocurrent_a[cell], curve.saturation_current_a[cell]
        conductance = 1.0 / curve.shunt_resistance_ohm[cell]
        open_circuit = a_v * np.log1p(photocurrent / saturation)
        lowest = BREAKDOWN_V * in_series * 0.995
        diode = np.concatenate(
            [np.linspace(lowest, 0.0, 200, endpoint=False), np.linspace(0.0, 0.6, 60, endpoint=False) * open_circuit,
             np.linspace(0.6, 1.0, 240) * open_circuit]
        )  # fmt: skip
        reverse = np.minimum(diode, 0.0) / (BREAKDOWN_V * in_series)
        shunt = (
            diode * conductance * (1.0 + np.where(diode < 0.0, BREAKDOWN_SHARE * (1.0 - reverse) ** -BREAKDOWN_EXPONENT, 0.0))
        )
        through = saturation * np.expm1(diode / a_v) + shunt
        diode_v = np.interp(photocurrent - currents / share, through, diode)
        total += times * (diode_v - currents / share * curve.series_resistance_ohm[cell]) / in_series
    return total

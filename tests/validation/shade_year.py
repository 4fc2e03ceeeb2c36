"""A shaded module's year against one with many more suns, points and directions; and what a flat share does to clipping."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from unittest.mock import patch

import numpy as np

from tests.validation.ledger import Check, within
from tests.validation.shade_scenes import face_with, fresh_cache, module_of, rectangle, rows_of_modules
from tests.validation.yields import unit
from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.energy import face_cache
from wattpair_service.engineering.energy.energy_balance import EnergyBalance, pairing_year
from wattpair_service.engineering.equipment import Cells, Module
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.shade import beam, classes, module_points, sky_masks, suns
from wattpair_service.engineering.shade.scene import Building, Orientation, RoofObject, Shade, Tree

REFERENCE = "the product with six suns an hour at fixed offsets, 144 points a group, 360 directions, modules hardly merged"
SCENES = 10
FINE_COLUMNS, FINE_SUNS, FINE_ROWS = 360, 6, 36
UNIT_W = 300.0


def checks() -> Iterator[Check]:
    """Years of all modules of random scenes, then clipping."""
    error = 100.0 * np.concatenate([errors(scene) for scene in range(SCENES)])
    name = f"year of {error.size} modules, {SCENES} random scenes"
    yield within(
        f"{name}: 95 % of them [% of unshaded year]", 0.0, 0.5, float(np.percentile(np.abs(error), 95)), "RUN", REFERENCE
    )
    yield within(f"{name}: worst [% of unshaded year]", -1.0, 1.0, float(error[np.abs(error).argmax()]), "RUN", REFERENCE)
    yield within(f"{name}: mean [% of unshaded year]", -0.1, 0.1, float(error.mean()), "RUN", REFERENCE)
    yield from _clipping()


def random_face(scene: int) -> tuple[Face, Module]:
    """A roof with one to three objects, with trees and with a building before it; a fixed seed for each number."""
    rng = np.random.default_rng([20261103, scene])
    orientation: Orientation = "portrait" if scene % 2 == 0 else "landscape"
    placement = rows_of_modules(6, 3, orientation) if orientation == "portrait" else rows_of_modules(4, 4, orientation)
    width, height = 6.9, 5.2
    objects = []
    for number in range(int(rng.integers(1, 4))):
        side_x, side_y = rng.uniform(0.4, 2.5, 2)
        # Left or right of the modules, or below them.
        gap, along_x, along_y = rng.uniform(0.1, 1.0), rng.uniform(0.0, width), rng.uniform(0.0, height)
        sides = (-side_x - gap, along_y), (width + gap, along_y), (along_x, -side_y - gap)
        x, y = sides[int(rng.integers(3))]
        gabled = bool(rng.integers(2))
        top = rng.uniform(0.5, 1.8)
        objects.append(
            RoofObject(
                f"object {number}", rectangle(float(x), float(y), float(side_x), float(side_y)), float(top),
                top="gabled" if gabled else "flat", eaves_height_m=float(top * rng.uniform(0.2, 0.8)),
            )
        )  # fmt: skip
    trees = tuple(
        Tree(
            f"tree {number}", float(rng.uniform(-12, 18)), float(rng.uniform(-16, -5)), -4.0, float(rng.uniform(7, 14)), 2.5,
            float(rng.uniform(2, 6)), 0.3, (float(rng.uniform(0.4, 0.8)),) * 4 + (float(rng.uniform(0.1, 0.4)),) * 8,
        )
        for number in range(int(rng.integers(0, 3)))
    )  # fmt: skip
    buildings = tuple(
        Building(
            "house", float(rng.uniform(-10, 16)), float(rng.uniform(-25, -12)), 10.0, 8.0, float(rng.uniform(0, 180)),
            float(rng.uniform(1, 6)), 0.5,
        )
        for _ in range(int(rng.integers(0, 2)))
    )  # fmt: skip
    face = face_with(
        Shade(tuple(objects), buildings, trees, placement=placement),
        tilt_deg=float(rng.uniform(15, 50)),
        azimuth_deg=float(rng.uniform(90, 270)),
    )
    return face, module_of(Cells(3, half_cut=bool(scene % 3)))


def errors(scene: int) -> FloatArray:
    """Year of each module less that of the reference, over the unshaded year."""
    face, module = random_face(scene)
    unshaded_wh = module_years(face_with(None, tilt_deg=face.tilt_deg, azimuth_deg=face.azimuth_deg), module)
    coarse = module_years(face, module)
    with finely():
        fine = module_years(face, module)
    return np.asarray((coarse - fine) / unshaded_wh)


def module_years(face: Face, module: Module) -> FloatArray:
    """Energy of each module at its maximum power [Wh], of hourly means."""
    cache, parameters = fresh_cache(), fit(module)
    if not face.is_shaded:
        response = cache.response(face, parameters)
        return np.array([response.maximum_power.power_w @ response.weight_h])
    return np.asarray(cache.shaded_face(face, module, parameters, subhourly=False).module_energy_wh().sum(axis=1))


def finely() -> ExitStack:
    """The reference's suns, points and directions until it is closed."""
    stack = ExitStack()
    for owner in (sky_masks, beam):
        stack.enter_context(patch.object(owner, "COLUMNS", FINE_COLUMNS))
        stack.enter_context(patch.object(owner, "COLUMN_DEG", 360.0 / FINE_COLUMNS))
    stack.enter_context(patch.object(module_points, "ROWS_LOOKED_AT", FINE_ROWS))
    stack.enter_context(patch.object(classes, "DOME_STEP", 0.005))
    stack.enter_context(patch.object(face_cache, "SUNS_PER_HOUR", FINE_SUNS))
    # Offsets in the middles of the hour's sixths on every day.
    stack.enter_context(patch.object(suns, "_day", _first_day))
    stack.enter_context(patch.object(suns, "GOLDEN_SHARE", 0.5 / FINE_SUNS))
    return stack


def _first_day(conditions: Conditions) -> IntArray:
    return np.ones(conditions.month.size, dtype=np.int64)


def _clipping() -> Iterator[Check]:
    """A unit that clips, on a roof under shade and with the same loss as a flat share."""
    face, module = random_face(4)
    balances = [_balance(face_with(shade, tilt_deg=35.0), module) for shade in (None, face.shade)]
    unshaded, shaded = (100.0 * each.clipped_share for each in balances)
    lost = 1.0 - balances[1].available_kwh / balances[0].available_kwh
    flat = 100.0 * _balance(face_with(None, tilt_deg=35.0, shading_share=lost), module).clipped_share
    # Shade takes little where the sun is high and a unit clips; a flat share takes as much there as anywhere.
    name = f"clipping by {UNIT_W:g} W under shade that takes {100 * lost:.1f} % [%]"
    yield within(
        f"{name}, nearer to unshaded", (flat + unshaded) / 2.0, unshaded, shaded, "Derived", "unshaded and flat share beside"
    )
    yield within(f"{name}, a flat share of the same loss", 0.0, shaded, flat, "Derived", "the same roof under shade")


def _balance(face: Face, module: Module) -> EnergyBalance:
    cache, parameters = fresh_cache(), fit(module)
    if face.is_shaded:
        shaded = cache.shaded_face(face, module, parameters)
        return pairing_year(shaded, unit(UNIT_W), module_count=face.module_count).year
    coefficient_per_k = module.temp_coefficient_pmp_percent_per_k / 100.0
    return pairing_year(cache.subhourly_response(face, parameters, coefficient_per_k), unit(UNIT_W)).year

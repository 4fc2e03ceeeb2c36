"""What shade takes of each module of a face, at its maximum power, and how sure that is.

Distances and heights are guessed in the field. The range of a loss is what follows when all objects are nearer and higher by
the stated tolerance, or farther and lower: the tangents of their elevations then change by (1 + t) / (1 - t). The horizon
stays. The loss is taken to change as the irradiance does that the groups' darkest cells miss.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.module.single_diode import SixParameters
from wattpair_service.engineering.results import Range
from wattpair_service.engineering.sentences import sentence

RANGE_MODULES = 8
"""Modules of a face that show its range: on 13 roofs of 16 to 24 modules within 0.07 of the loss of what all of them show."""
COVERS = sentence("covers.shade", "tolerance_percent")


@dataclass(frozen=True, slots=True, eq=False)
class ModuleShade:
    """One module of a face: DC energy of a year without shade and what shade takes of it, January first by month [kWh].

    `module_number` counts from 1 in the order of the placement; `x_m` and `y_m` are its lower left corner [m].
    """

    module_number: int
    x_m: float
    y_m: float
    unshaded_kwh: float
    loss_kwh: float
    loss_share: float
    loss_kwh_by_month: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class FaceShade:
    """What shade takes of a face: as a share of its unshaded DC energy with its range, and of each module where they differ.

    `unshaded_kwh` and `loss_kwh_by_month` are those of all modules of the face [kWh].
    """

    unshaded_kwh: float
    loss_share: Range
    loss_kwh_by_month: FloatArray
    modules: tuple[ModuleShade, ...]


def face_shade(cache: FaceCache, face: Face, module: Module, parameters: SixParameters) -> FaceShade | None:
    """What shade takes of a face with its modules; None where nothing stands before its sky."""
    if not face.is_shaded:
        return None
    shaded = cache.shaded_face(face, module, parameters)
    unshaded = shaded.unshaded.response
    unshaded_wh = np.bincount(
        unshaded.month - 1, weights=unshaded.maximum_power.power_w * unshaded.weight_h, minlength=12
    ).astype(np.float64)
    loss_wh = unshaded_wh - shaded.module_energy_wh()
    share = _share(loss_wh, unshaded_wh)
    low, high = share, share
    tolerance = 0.0 if face.shade is None else face.shade.tolerance_share
    if face.shade is not None and (face.shade.objects or face.shade.buildings or face.shade.trees) and tolerance > 0.0:
        factor = (1.0 + tolerance) / (1.0 - tolerance)
        some = _with_some_modules(face)
        dark, *ends = (
            cache.shaded_face(some, module, parameters, subhourly=False, height_factor=each).mean_darkness()
            for each in (1.0, 1.0 / factor, factor)
        )
        shares = [share * each / dark if dark > 0.0 else share for each in ends]
        low, high = min(share, *shares), max(share, *shares)
    modules: tuple[ModuleShade, ...] = ()
    if shaded.positions > 1 and face.shade is not None and face.shade.placement is not None:
        corners = face.shade.placement.corners
        total_wh = float(unshaded_wh.sum())
        modules = tuple(
            ModuleShade(number, x_m, y_m, total_wh / 1000.0, float(row.sum()) / 1000.0, _share(row, unshaded_wh), row / 1000.0)
            for number, ((x_m, y_m), row) in enumerate(zip(corners, loss_wh, strict=True), 1)
        )
    return FaceShade(
        unshaded_kwh=float(unshaded_wh.sum()) * face.module_count / 1000.0,
        loss_share=Range(share, low, high, COVERS(tolerance_percent=tolerance * 100.0)),
        loss_kwh_by_month=loss_wh.mean(axis=0) * (face.module_count / 1000.0),
        modules=modules,
    )


def _with_some_modules(face: Face) -> Face:
    """The face with some of its modules, evenly spread."""
    shade = face.shade
    if shade is None or shade.placement is None:
        return face
    corners, survey = shade.placement.corners, shade.survey
    some = np.unique(np.linspace(0, len(corners) - 1, RANGE_MODULES).round().astype(np.int64)).tolist()
    placement = replace(shade.placement, corners=tuple(corners[each] for each in some))
    if survey is not None and len(survey.factors) > 1:
        survey = replace(survey, factors=tuple(survey.factors[each] for each in some))
    return replace(face, module_count=len(some), shade=replace(shade, placement=placement, survey=survey))


def _share(loss_wh: FloatArray, unshaded_wh: FloatArray) -> float:
    """Loss of the mean module over its unshaded energy; `loss_wh` has the months in its last axis."""
    total = float(unshaded_wh.sum())
    return float(loss_wh.sum(axis=-1).mean()) / total if total > 0.0 else 0.0

"""Power of partly shaded modules: bypass groups against pvmismatch, and the whole way from solids to power cell by cell."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scipy.constants
from pvmismatch import pvcell, pvconstants, pvmodule

from tests.validation.ledger import Check, near, within
from tests.validation.shade_reference import beam_share, cell_points, module_power_w, sun_vector
from tests.validation.shade_scenes import face_with, fresh_cache, module_of, roof_of_every_object
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.shaded_face import UNEVEN_HALF_GAIN, ShadedFace
from wattpair_service.engineering.equipment import Cells
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.module.bypass_groups import EVEN_SHARE, BrighterCells, series_branches
from wattpair_service.engineering.module.cell_temperature import AIR_UNDER_MODULE_SHARE
from wattpair_service.engineering.module.dc_response import at_points
from wattpair_service.engineering.module.single_diode import (
    SixParameters,
    curve_at,
    fit,
    maximum_power,
    short_circuit_current,
)
from wattpair_service.engineering.shade.scene import Orientation, on_roof, top_edges
from wattpair_service.engineering.shade.sky_masks import sky_masks

PVMISMATCH = (
    "pvmismatch 4.1, one diode, no breakdown; 500 random patterns of two and three levels of irradiance, -10 to 65 degC"
)
BY_CELLS = (
    "500 partly shaded moments of the built-in climate's sun: 16 rays a cell, single-diode curves of all cells with reverse "
    "current (Bishop 1988, 10.1016/0379-6787(88)90059-2, from memory)"
)
PATTERNS = 500
CELLS_OF_GROUP, ROWS_OF_CELLS = 20, 10
POINTS_OF_CURVE = 401
TEMPS_C = (-10.0, 10.0, 25.0, 45.0, 65.0)
MOMENTS = 125
"""For each kind of module and each way it lies."""
PER_SIDE = 4
MEDIAN_PERCENT, RMS_PERCENT, MEAN_PERCENT = 3.5, 9.0, 0.8
"""Of the unshaded power at the moment; bounds of what was measured. A shadow's edge lies somewhere on a cell, and the product
knows of it at the middles of ten cells of a half, in directions 3 degrees apart: at one moment a group may be wholly out. Over
the suns of a year much of it evens out. A mean over 500 such moments is known to some 0.3 %."""
RULE_MEAN_PERCENT, RULE_RMS_PERCENT = 0.6, 0.9
"""With each cell's own irradiance, of the unshaded power at the moment."""
KINDS: tuple[tuple[str, Cells, Orientation], ...] = (
    ("half-cut, portrait", Cells(3, half_cut=True), "portrait"),
    ("half-cut, landscape", Cells(3, half_cut=True), "landscape"),
    ("full cells, portrait", Cells(3, half_cut=False), "portrait"),
    ("full cells, landscape", Cells(3, half_cut=False), "landscape"),
)


def checks() -> Iterator[Check]:
    """Bypass groups in series, then whole modules under shade."""
    error = 100.0 * errors_against_pvmismatch()
    yield within(
        "bypass groups: worst error [% of unshaded power]", -0.1, 0.1, error[np.abs(error).argmax()], "RUN", PVMISMATCH
    )
    yield near("bypass groups: mean error [% of unshaded power]", 0.0, error.mean(), 0.02, "RUN", PVMISMATCH)
    errors = {name: errors_against_cells(cells, orientation) for name, cells, orientation in KINDS}
    for name, of_kind in errors.items():
        middle, rms = (100.0 * each for each in (float(np.median(np.abs(of_kind.whole))), _rms(of_kind.whole)))
        yield within(f"module by cells, {name}: median error at a moment [%]", 0.0, MEDIAN_PERCENT, middle, "Derived", BY_CELLS)
        yield within(f"module by cells, {name}: rms error at a moment [%]", 0.0, RMS_PERCENT, rms, "Derived", BY_CELLS)
        rule = 100.0 * float(of_kind.rule.mean())
        yield near(f"rule of the darkest cells, {name}: mean error [%]", 0.0, rule, RULE_MEAN_PERCENT, "Derived", BY_CELLS)
        rms = 100.0 * _rms(of_kind.rule)
        yield within(f"rule of the darkest cells, {name}: rms error [%]", 0.0, RULE_RMS_PERCENT, rms, "Derived", BY_CELLS)
    mean = 100.0 * float(np.concatenate([each.whole for each in errors.values()]).mean())
    yield near("module by cells: mean error over all moments [%]", 0.0, mean, MEAN_PERCENT, "Derived", BY_CELLS)


def _rms(values: FloatArray) -> float:
    return float(np.sqrt((values**2).mean()))


def errors_against_pvmismatch() -> FloatArray:
    """Power of `series_branches` less that of pvmismatch, over that of the unshaded module."""
    rng, parameters = np.random.default_rng(20261101), fit(module_of(Cells()))
    irradiance, temps = rng.uniform(20.0, 1100.0, (PATTERNS, 3)), rng.choice(TEMPS_C, PATTERNS)
    # Two levels in every other pattern.
    irradiance[::2, 1] = irradiance[np.arange(0, PATTERNS, 2), rng.choice([0, 2], PATTERNS // 2)]
    irradiance = -np.sort(-irradiance, axis=1)
    temp_of_group = temps[:, None] * np.ones(3) - 8.0 * (1.0 - irradiance / irradiance[:, :1])
    ours = series_branches(parameters, irradiance_w_m2=irradiance.T, temp_cell_c=temp_of_group.T, groups_per_module=3)
    constants = pvmismatch_constants(parameters)
    modules = [pvmismatch_module(parameters, *both, constants) for both in zip(irradiance, temp_of_group, strict=True)]
    theirs = np.array([top_w(module.Vmod, module.Pmod) for module in modules])
    unshaded = maximum_power(curve_at(parameters, irradiance_w_m2=irradiance[:, 0], cell_temp_c=temps)).power_w
    return np.asarray((ours.power_w.max(axis=0) - theirs) / unshaded)


def pvmismatch_constants(parameters: SixParameters) -> pvconstants.PVconstants:
    """Boltzmann's constant times ideality, as the library's first diode has an ideality of 1."""
    constants = pvconstants.PVconstants(npts=POINTS_OF_CURVE)
    constants.k = parameters.a_ref_v / (3 * CELLS_OF_GROUP) * scipy.constants.e / constants.T0
    return constants


def pvmismatch_module(
    parameters: SixParameters,
    irradiance_w_m2: FloatArray,
    temp_c: FloatArray,
    constants: pvconstants.PVconstants,
    brighter: tuple[FloatArray, FloatArray] | None = None,
) -> pvmodule.PVmodule:
    """A module whose three bypass groups have these irradiances and cell temperatures.

    `brighter` is the share of each group's cells with more irradiance, and that irradiance [W/m2].
    """
    share, bright_w_m2 = brighter or (np.zeros(3), irradiance_w_m2)
    curve = curve_at(
        parameters,
        irradiance_w_m2=np.stack([irradiance_w_m2, np.where(share > 0.0, bright_w_m2, irradiance_w_m2)]),
        cell_temp_c=temp_c,
    )
    current_sc, count = short_circuit_current(curve), 3 * CELLS_OF_GROUP
    cells = []
    for group, bright_cells in enumerate(np.round(share * CELLS_OF_GROUP).astype(int)):
        kelvin = temp_c[group] + 273.15
        growth = (kelvin / constants.T0) ** 3 * np.exp(pvcell.EG * constants.q / constants.k * (1 / constants.T0 - 1 / kelvin))
        for kind, cells_of_kind in enumerate((CELLS_OF_GROUP - bright_cells, bright_cells)):
            cell = pvcell.PVcell(
                Rs=curve.series_resistance_ohm[kind, group] / count, Rsh=curve.shunt_resistance_ohm[kind, group] / count,
                Isat1_T0=curve.saturation_current_a[kind, group] / growth, Isat2_T0=0.0, Isc0_T0=current_sc[kind, group],
                alpha_Isc=0.0, aRBD=0.0, Tcell=kelvin, pvconst=constants,
            )  # fmt: skip
            # The curve's points then end at this cell's open circuit; else most of them lie far beyond it.
            cell.VocSTC = cell.Voc
            cells += [cell] * cells_of_kind
    layout = pvmodule.standard_cellpos_pat(ROWS_OF_CELLS, [2, 2, 2])
    return pvmodule.PVmodule(cell_pos=layout, pvcells=cells, pvconst=constants)


def top_w(voltage_v: FloatArray, power_w: FloatArray) -> float:
    """Vertex of the parabola through the highest point of a curve and its neighbours."""
    best = int(np.clip(power_w.argmax(), 1, power_w.size - 2))
    around = slice(best - 1, best + 2)
    square, slope, constant = np.polyfit(voltage_v[around] - voltage_v[best], power_w[around], 2)
    return float(max(power_w[best], constant - slope**2 / (4.0 * square))) if square < 0.0 else float(power_w[best])


@dataclass(frozen=True, slots=True)
class _Moment:
    """A module at a position of the sun: their numbers, and the irradiance hour among those with light."""

    sun: int
    module: int
    hour: int


@dataclass(frozen=True, slots=True, eq=False)
class CellErrors:
    """Errors of power over that of the unshaded module: of the product as a whole, and of its rule with exact irradiances."""

    whole: FloatArray
    rule: FloatArray


def errors_against_cells(cells: Cells, orientation: Orientation) -> CellErrors:
    """Power of a module against that of its cells, at partly shaded moments."""
    shade = roof_of_every_object(orientation)
    face, module, cache = face_with(shade), module_of(cells), fresh_cache()
    parameters = fit(module)
    shaded = cache.shaded_face(face, module, parameters, subhourly=False)
    whole, rule = [], []
    for moment, share in _partly_shaded(face, shaded, cells):
        unshaded_w = shaded.unshaded.response.maximum_power.power_w[moment.hour]
        irradiance_w_m2, temp_c = _cells_at(face, shaded, moment, share, cells)
        of_cells = module_power_w(parameters, irradiance_w_m2, temp_c, cells)
        whole.append((_power_of(shaded, moment) - of_cells) / unshaded_w)
        rule.append((_power_by_rule(parameters, irradiance_w_m2, temp_c, cells) - of_cells) / unshaded_w)
    return CellErrors(np.array(whole), np.array(rule))


def _power_by_rule(parameters: SixParameters, irradiance_w_m2: FloatArray, temp_c: FloatArray, cells: Cells) -> float:
    """By the darkest cell of each half, halves in parallel at their mean; the other cells beside them where no half is even."""
    darkest, brightest = irradiance_w_m2.min(axis=-1), irradiance_w_m2.max(axis=-1)
    is_even = darkest > EVEN_SHARE * brightest
    if cells.half_cut:
        gain = np.where(is_even.any(axis=-1)[:, None] & ~is_even, 1.0 + UNEVEN_HALF_GAIN, 1.0)
        holding, is_uneven = np.minimum(darkest * gain, brightest).mean(axis=-1), ~is_even.any(axis=-1)
        middle = (darkest + brightest)[..., None] / 2.0
    else:
        holding, highest = darkest.min(axis=-1), brightest.max(axis=-1)
        is_uneven, middle = holding < EVEN_SHARE * highest, ((holding + highest) / 2.0)[:, None, None]
    is_bright = irradiance_w_m2 > middle
    share = np.where(is_uneven, is_bright.mean(axis=(1, 2)), 0.0)
    bright_w_m2 = (irradiance_w_m2 * is_bright).sum(axis=(1, 2)) / np.maximum(is_bright.sum(axis=(1, 2)), 1)
    order = np.argsort(-holding)
    column = [each[order][:, None] for each in (holding, temp_c.mean(axis=(1, 2)), share, bright_w_m2)]
    branches = series_branches(
        parameters,
        irradiance_w_m2=column[0],
        temp_cell_c=column[1],
        groups_per_module=cells.group_count,
        brighter=BrighterCells(column[2], column[3], column[1]),
    )
    return float(branches.power_w.max())


def _partly_shaded(face: Face, shaded: ShadedFace, cells: Cells) -> Iterator[tuple[_Moment, FloatArray]]:
    """Moments at which some points of a module are in the sun and others are not, with the share of the beam on each cell."""
    assert face.shade is not None
    assert face.shade.placement is not None
    suns, placement = shaded.classes.suns, face.shade.placement
    months, beam = shaded.unshaded.response.month, shaded.unshaded.parts.beam
    rng, left = np.random.default_rng(20261102), MOMENTS
    points = [cell_points(placement, index, cells, per_side=PER_SIDE) for index in range(shaded.positions)]
    on_face = [on_roof(each[..., 0], each[..., 1], tilt_deg=face.tilt_deg, azimuth_deg=face.azimuth_deg) for each in points]
    while left:
        sun, module = int(rng.integers(suns.hour.size)), int(rng.integers(shaded.positions))
        hour = int(suns.hour[sun])
        if beam[hour] < 20.0:
            continue
        share = beam_share(
            on_face[module], sun_vector(float(suns.azimuth_deg[sun]), float(suns.elevation_tangent[sun])), face.shade,
            tilt_deg=face.tilt_deg, azimuth_deg=face.azimuth_deg, month=int(months[hour]),
        )  # fmt: skip
        if share.min() < share.max():
            left -= 1
            yield _Moment(sun, module, hour), share.mean(axis=-1)


def _power_of(shaded: ShadedFace, moment: _Moment) -> float:
    chains = shaded._chains(np.arange(shaded.positions)[:, None])
    point = chains.points.of_state[0, chains.kind_of_chain[moment.sun, moment.module]]
    return float(chains.response.maximum_power.power_w[point])


def _cells_at(
    face: Face, shaded: ShadedFace, moment: _Moment, share: FloatArray, cells: Cells
) -> tuple[FloatArray, FloatArray]:
    """Effective irradiance and temperature of each cell, shape (groups, halves, cells)."""
    assert face.shade is not None
    assert face.shade.placement is not None
    points = cell_points(face.shade.placement, moment.module, cells, per_side=2)
    on_face = on_roof(points[..., 0], points[..., 1], tilt_deg=face.tilt_deg, azimuth_deg=face.azimuth_deg)
    masks = sky_masks(
        on_face.reshape(-1, *on_face.shape[-2:]), top_edges(face.shade, tilt_deg=face.tilt_deg, azimuth_deg=face.azimuth_deg),
        face.shade.trees, face.horizon, tilt_deg=face.tilt_deg, azimuth_deg=face.azimuth_deg,
    )  # fmt: skip
    unshaded, hour = shaded.unshaded, np.array([moment.hour])
    month = int(unshaded.response.month[moment.hour])
    dome, band = (each[month - 1].reshape(share.shape) for each in (masks.dome, masks.band))
    parts = unshaded.parts.at_points(hour)
    seen, whole = parts.seen(share, dome, band), parts.seen()
    ratio = seen.effective_irradiance_w_m2 / whole.effective_irradiance_w_m2
    poa_ratio = seen.poa_global_w_m2 / whole.poa_global_w_m2
    response = at_points(unshaded.response, hour)
    temp_c, under_c = float(response.temp_cell_c[0]), float(response.temp_under_module_c[0])
    temp_air_c = (under_c - AIR_UNDER_MODULE_SHARE * temp_c) / (1.0 - AIR_UNDER_MODULE_SHARE)
    irradiance_w_m2 = unshaded.irradiance_w_m2[moment.hour] * ratio
    return irradiance_w_m2, temp_air_c + (temp_c - temp_air_c) * poa_ratio

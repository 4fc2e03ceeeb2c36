"""Modules that are shaded alike in an hour, merged: what is computed for each class holds for all of its modules and suns.

Within an hour, modules and positions of the sun are alike where the same shares of the beam reach their groups and they see
about as much of the sky. Only their views of the sky are averaged: the energy of a single module is set right by its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray, without_gaps
from wattpair_service.engineering.shade.beam import BRIGHT_STEPS, EVEN, ONE_HALF_UNEVEN, BeamFactors
from wattpair_service.engineering.shade.suns import Suns

BEAM_STEPS = 256
"""Steps of a group's share of the beam, which distinguish the patterns."""
DOME_STEP = 0.08
"""Modules whose shares of the sky dome's light lie in the same step are merged; the energy of a single module is set right
afterwards."""


@dataclass(frozen=True, slots=True, eq=False)
class ShadeClasses:
    """Classes of alike modules, c of them, hour by hour.

    Attributes
    ----------
    hour : array of int, shape (c,)
        Index of the class's hour; rising.
    beam, dome, band : array, shape (groups, c)
        Shares that arrive at its groups, the brightest first (0-1).
    bright_share : array, shape (groups, c)
        Share of the cells of a group that the whole beam reaches, where others hold its current (0-1).
    one_half : array, shape (groups, c)
        Share of the modules of which one half of the group alone has such cells (0-1).
    area_beam, area_dome, area_band : array, shape (c,)
        Shares that arrive at the whole area of its modules.
    of_module : array of int, shape (suns, modules)
        Class of each module at each sun.
    module_dome, module_band : array, shape (12, modules)
        Shares that arrive at the whole area of each module in each month.
    suns : Suns
    """

    hour: IntArray
    beam: FloatArray
    dome: FloatArray
    band: FloatArray
    bright_share: FloatArray
    one_half: FloatArray
    area_beam: FloatArray
    area_dome: FloatArray
    area_band: FloatArray
    of_module: IntArray
    module_dome: FloatArray
    module_band: FloatArray
    suns: Suns


def shade_classes(suns: Suns, factors: BeamFactors, dome: FloatArray, band: FloatArray, month: IntArray) -> ShadeClasses:
    """Classes of a face's modules.

    Parameters
    ----------
    suns : Suns
        With s positions.
    factors : BeamFactors
        Of m modules at each of them.
    dome, band : array, shape (12, m, groups)
        Shares of dome and band that arrive at each group in each month.
    month : array of int, shape (s,)
        1 to 12.
    """
    _, modules, groups = factors.groups.shape
    steps = np.rint(factors.groups * BEAM_STEPS).astype(np.int64) * (ONE_HALF_UNEVEN + 1) + factors.unevenness
    highest = (BEAM_STEPS + 1) * (ONE_HALF_UNEVEN + 1)
    pattern = np.zeros(steps.shape[:2], dtype=np.int64)
    for group in range(groups):
        pattern = without_gaps(pattern * highest + steps[..., group])
    # A kind is one module in one month with one pattern: few, so that sorting its groups costs nothing.
    kind = without_gaps((pattern * 12 + (month - 1)[:, None]) * modules + np.arange(modules))
    example = np.empty(int(kind.max()) + 1, dtype=np.int64)
    example[kind.ravel()] = np.arange(kind.size)
    sun, module = np.divmod(example, modules)
    beam_steps, unevenness = np.divmod(steps[sun, module], ONE_HALF_UNEVEN + 1)
    kind_dome, kind_band = (each[month[sun] - 1, module] for each in (dome, band))
    order = np.argsort(-(beam_steps / BEAM_STEPS + 1e-3 * kind_dome), axis=1, kind="stable")
    ranked_steps, *ranked, unevenness = (
        np.take_along_axis(each, order, axis=1)
        for each in (beam_steps, beam_steps / BEAM_STEPS, kind_dome, kind_band, unevenness)
    )
    is_bright = (unevenness > EVEN) & (unevenness <= BRIGHT_STEPS)
    ranked += [np.where(is_bright, (unevenness - 0.5) / BRIGHT_STEPS, 0.0), (unevenness == ONE_HALF_UNEVEN).astype(np.float64)]
    alike = np.zeros(len(order), dtype=np.int64)
    for group in range(groups):
        alike = without_gaps(alike * highest + ranked_steps[:, group] * (ONE_HALF_UNEVEN + 1) + unevenness[:, group])
    alike = without_gaps(alike * round(2.0 / DOME_STEP) + np.rint(kind_dome.mean(axis=1) / DOME_STEP).astype(np.int64))
    of_module = without_gaps(suns.hour[:, None] * (int(alike.max()) + 1) + alike[kind])
    flat, weight = of_module.ravel(), np.repeat(suns.share, modules)
    total = np.bincount(flat, weights=weight)

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(flat, weights=weight * values.ravel()) / total)

    hour = np.empty(total.size, dtype=np.int64)
    hour[flat] = np.repeat(suns.hour, modules)
    beam_of, dome_of, band_of, bright_share, one_half = (
        np.stack([mean(each[:, group][kind]) for group in range(groups)]) for each in ranked
    )
    return ShadeClasses(
        hour=hour,
        beam=beam_of,
        dome=dome_of,
        band=band_of,
        bright_share=bright_share,
        one_half=one_half,
        area_beam=mean(factors.area),
        area_dome=dome_of.mean(axis=0),
        area_band=band_of.mean(axis=0),
        of_module=of_module,
        module_dome=dome.mean(axis=-1),
        module_band=band.mean(axis=-1),
        suns=suns,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Combinations:
    """What is combined in the same hour, u different combinations.

    `members` has the numbers combined in each, shape (members, u), rising among those that may change places; `of_set`, shape
    (suns, sets), the combination of each set at each sun.
    """

    members: IntArray
    of_set: IntArray


def combinations(numbers: IntArray, alike: Sequence[int] | None = None) -> Combinations:
    """Combinations of the numbers of each set's members at each sun, shape (suns, sets, members).

    `alike` says how many members, one after another, may change places; if omitted, all may.
    """
    ends = np.cumsum(alike or [numbers.shape[-1]])
    runs = np.split(numbers, ends[:-1].tolist(), axis=-1)
    members_in_order = np.concatenate([np.sort(run, axis=-1) for run in runs], axis=-1)
    combination = members_in_order[..., 0]
    for member in range(1, numbers.shape[-1]):
        combination = without_gaps(combination * (int(numbers.max()) + 1) + members_in_order[..., member])
    combination = without_gaps(combination)
    members = np.empty((numbers.shape[-1], int(combination.max()) + 1), dtype=np.int64)
    members[:, combination.ravel()] = members_in_order.reshape(-1, numbers.shape[-1]).T
    return Combinations(members, combination)

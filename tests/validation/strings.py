"""Strings: their power against pvmismatch, their length in the cold, and what module by module gains in publications."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from math import floor

import numpy as np
from pvmismatch import pvmodule, pvstring

from tests.selection_cases import DESIGN, offer, request
from tests.string_cases import string_offer
from tests.validation.ledger import Check, near, within
from tests.validation.shade_electrical import pvmismatch_constants, pvmismatch_module, top_w
from tests.validation.shade_scenes import fresh_cache, module_of, year_at_48_n
from tests.validation.shade_year import random_face
from tests.validation.voltage import LESSON, TABLE, TABLE_FACTORS
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.series_response import air_temperature
from wattpair_service.engineering.energy.system_losses import USUAL_LOSSES
from wattpair_service.engineering.equipment import Cells, InputWiring, Module
from wattpair_service.engineering.inverter.electrical_checks import check_pairing, is_buildable
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.module.bypass_groups import series_branches
from wattpair_service.engineering.module.single_diode import SixParameters, fit
from wattpair_service.engineering.selection.request import ModuleOffer
from wattpair_service.engineering.selection.selection import selection
from wattpair_service.engineering.strings import string_dc
from wattpair_service.engineering.strings.string_roof import StringRoof
from wattpair_service.rules import electrical_rules

PVMISMATCH = "pvmismatch 4.1, one diode, no breakdown, every group of every module by itself; "
RANDOM = PVMISMATCH + "300 random strings of 6 to 14 modules on one or two faces, with and without shade, -5 to 35 degC of air"
OF_A_YEAR = PVMISMATCH + "moments of the year of four random roofs, half of the strings with modules on a second face"
MACALPINE = (
    "MacAlpine, Erickson, Brandemuehl 2013, abstract: a tracker for each module gains less than 1 % without shade, 3 to 16 % "
    "with, and recovers 34 to 42 % of what shade takes. Shows the size, not a roof: their arrays have one tracker, and their "
    "shade is not ours"
)
NREL = (
    "NREL/TP-5200-54876, abstract: +3.7, +7.8, +12.3 % under light, moderate, heavy shade, of which 34 to 50 % is recovered "
    "(second-hand): so strings lose 7 to 10, 14 to 21, 22 to 32 %. Its cloths lie on modules and hide no sky (from memory)"
)
STRINGS = 300
MODULES = (6, 14)
RISE_K_M2_PER_W = 0.03
"""Of cells above the air, between free and close mounting. Common practice, no source."""
SCENES, MOMENTS = 4, 25
"""Roofs of which years are computed, and moments of each."""
ROOFS = 12
HEIGHTS = (1.0, 2.0, 2.5)
"""Factors on the heights of what stands around the random roofs."""
PUBLISHED_GAINS = {"light": 0.037, "moderate": 0.078, "heavy": 0.123}
RECOVERED = (0.34, 0.50)
RECOVERED_OF_SHADE = {1.0: (34.0, 50.0), 2.0: (20.0, 50.0), 2.5: (20.0, 50.0)}
"""Published 34 to 50; objects so high also hide the sky of all modules, which no tracker recovers."""
HALF_AS_MUCH = 0.5
LIMIT_V = 600.0
"""Highest voltage of a string on a dwelling in the United States, NEC 690.7(A)(2), from memory."""


def checks() -> Iterator[Check]:
    """Power of strings, published gains, longest strings."""
    yield from _power()
    yield from _gains()
    yield from _lengths()


def _power() -> Iterator[Check]:
    of_random, of_year = 100.0 * errors_of_random_strings(), 100.0 * errors_of_a_year()
    for name, error, source in (("300 random strings", of_random, RANDOM), (f"{of_year.size} moments", of_year, OF_A_YEAR)):
        within_95 = float(np.percentile(np.abs(error), 95))
        yield within(f"power of {name}: 95 % of them [%]", 0.0, 0.3, within_95, "RUN", source)
        yield near(f"power of {name}: mean error [%]", 0.0, error.mean(), 0.1, "RUN", source)
        yield within(f"power of {name}: worst [%]", -1.0, 1.0, error[np.abs(error).argmax()], "RUN", source)


def errors_of_random_strings() -> FloatArray:
    """Power of each string less that of pvmismatch, over the latter."""
    rng, parameters = np.random.default_rng(20261128), fit(module_of(Cells()))
    errors = []
    for _ in range(STRINGS):
        temp_air_c = float(rng.uniform(-5.0, 35.0))
        irradiance_w_m2 = random_string(rng)
        ours_w = _power_by_levels(parameters, irradiance_w_m2, temp_air_c)
        theirs_w = pvmismatch_power_w(parameters, irradiance_w_m2, temp_air_c + RISE_K_M2_PER_W * irradiance_w_m2)
        errors.append(ours_w / theirs_w - 1.0)
    return np.array(errors)


def random_string(rng: np.random.Generator) -> FloatArray:
    """Irradiance on the groups of a string's modules [W/m2], shape (modules, 3).

    Every other string has modules on a second face; on each face some modules see less of the sky, and objects take the beam of
    some modules, of all their groups or of some.
    """
    count = int(rng.integers(MODULES[0], MODULES[1], endpoint=True))
    on_second = int(rng.integers(1, count)) if rng.random() < 0.5 else 0
    beam, diffuse = rng.uniform(0.0, 800.0, 2), float(rng.uniform(40.0, 250.0))
    of_module = np.where(np.arange(count) < on_second, beam[1], beam[0])
    lit = np.ones((count, 3))
    for module in rng.choice(count, int(rng.integers(0, count // 2 + 1)), replace=False):
        groups = rng.choice(3, int(rng.integers(1, 4)), replace=False)
        lit[module, groups] = rng.choice([0.0, float(rng.uniform(0.0, 1.0))])
    sky = rng.uniform(rng.uniform(0.7, 1.0), 1.0, (count, 1))
    return np.asarray(lit * of_module[:, None] + sky * diffuse)


def _power_by_levels(parameters: SixParameters, irradiance_w_m2: FloatArray, temp_air_c: float) -> float:
    groups = irradiance_w_m2.reshape(-1, 1)
    levels = string_dc.Levels.of(groups, np.ones(groups.size))
    level_w_m2 = levels.mean(groups)
    branches = series_branches(
        parameters,
        irradiance_w_m2=level_w_m2,
        temp_cell_c=temp_air_c + RISE_K_M2_PER_W * level_w_m2,
        groups_per_module=3,
        group_counts=levels.counts,
    )
    return float(branches.power_w.max())


def pvmismatch_power_w(
    parameters: SixParameters,
    irradiance_w_m2: FloatArray,
    temp_c: FloatArray,
    bright_share: FloatArray | None = None,
    bright_w_m2: FloatArray | None = None,
) -> float:
    """Maximum power of modules in series by the library.

    From irradiance and temperature of their groups, share and irradiance of brighter cells, each of shape (modules, 3).
    """
    constants, modules, found = pvmismatch_constants(parameters), [], dict[object, pvmodule.PVmodule]()
    share, bright = (np.zeros(temp_c.shape), irradiance_w_m2) if bright_share is None or bright_w_m2 is None else (
        bright_share, bright_w_m2,
    )  # fmt: skip
    for irradiance, temps, *brighter in zip(irradiance_w_m2, temp_c, share, bright, strict=True):
        key = tuple(each.tobytes() for each in (irradiance, temps, *brighter))
        if key not in found:
            found[key] = pvmismatch_module(parameters, irradiance, temps, constants, (brighter[0], brighter[1]))
        modules.append(found[key])
    string = pvstring.PVstring(pvmods=modules, pvconst=constants)
    return top_w(string.Vstring, string.Pstring)


def errors_of_a_year() -> FloatArray:
    """Power of strings at moments of a year less that of pvmismatch, over that of the unshaded string."""
    rng, errors = np.random.default_rng(20261129), list[float]()
    for scene in range(SCENES):
        face, module = random_face(scene)
        parameters = fit(module)
        second = replace(face, name="second", azimuth_deg=(face.azimuth_deg + 90.0) % 360.0, shade=None, module_count=6)
        roof = StringRoof.of(fresh_cache(), (face, second), module, parameters)
        string = [(0, int(each)) for each in rng.choice(face.module_count, 8, replace=False)]
        string += [(1, each) for each in range(4)] if scene % 2 else []
        errors += _errors_of(roof, tuple(string), rng)
    return np.array(errors)


def _at_moment(parts: Sequence[string_dc._FacePart], point: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Irradiance and temperature of the groups of a string's modules, share and irradiance of brighter cells, (modules, 3)."""
    rows = [
        (group.irradiance_w_m2[point], air_temperature(part.response)[point]
         + group.rise_k_per_w_m2[point] * group.irradiance_w_m2[point], group.bright_share[point], group.bright_w_m2[point])
        for part in parts for group in part.groups(3) for _ in range(round(group.count))
    ]  # fmt: skip
    irradiance, temps, share, bright = np.moveaxis(np.array(rows).reshape(-1, 3, 4), 2, 0)
    return irradiance, temps, share, bright


def _errors_of(roof: StringRoof, string: string_dc.String, rng: np.random.Generator) -> Iterator[float]:
    response = string_dc.string_response(string, roof.faces, roof.points, roof.parameters, roof.groups_per_module)
    parts = [
        string_dc._FacePart.of(roof.faces[number], np.array([module for face, module in string if face == number]), roof.points)
        for number in dict.fromkeys(face for face, _ in string)
    ]
    unshaded_w, reference_w = (
        np.sum([point.power_w * part.module_count for point, part in zip(points, parts, strict=True)], axis=0)
        for points in ([part.response.maximum_power for part in parts], [part.reference for part in parts])
    )
    shade = response.shade
    assert shade is not None
    lost = 1.0 - response.maximum_power.power_w / np.maximum(shade.unshaded_w, 1e-9)
    for point in rng.choice(np.flatnonzero((reference_w > 200.0) & (lost > 0.01)), MOMENTS, replace=False):
        theirs_w = pvmismatch_power_w(roof.parameters, *_at_moment(parts, int(point)))
        ours_w = response.maximum_power.power_w[point] * len(string)
        yield float(ours_w / unshaded_w[point] - theirs_w / reference_w[point])


@dataclass(frozen=True, slots=True)
class Gain:
    """What shade takes of a string's unshaded energy (0-1), and what a tracker for each module gives over the string."""

    lost: float
    gain: float

    @property
    def recovered(self) -> float:
        """Share of what shade takes of the strings that module by module gives back."""
        return self.gain * (1.0 - self.lost) / self.lost


def _gains() -> Iterator[Check]:
    face, module = random_face(0)
    unshaded, tolerance = gain_of(replace(face, shade=None), module, trackers=2)
    name = "gain of a tracker for each module [%]"
    yield within(f"{name}, no shade, equal modules", -0.01, 1.0, 100.0 * unshaded.gain, "READ", MACALPINE)
    # Its usual value, 1 %, stands for modules of all ages; the low end of its range is for new ones.
    yield within(f"{name}, no shade, low end of tolerance", 0.0, 1.0, 100.0 * HALF_AS_MUCH * tolerance, "READ", MACALPINE)
    of_height = {height: gains_of_roofs(height, trackers=1) for height in HEIGHTS}
    every = [each for gains in of_height.values() for each in gains]
    for height, gains in of_height.items():
        mean, lost = (float(np.mean([getattr(each, what) for each in gains])) for what in ("gain", "lost"))
        of_shade = f"{ROOFS} roofs that lose {100.0 * lost:.0f} % by shade"
        yield within(f"{name}, {of_shade}", 3.0, 16.0, 100.0 * mean, "READ", MACALPINE)
        share = float(sum(each.recovered * each.lost for each in gains)) / (lost * ROOFS)
        yield within(
            f"recovered of what shade takes [%], {of_shade}", *RECOVERED_OF_SHADE[height], 100.0 * share, "READ", MACALPINE
        )
    for shade, published in PUBLISHED_GAINS.items():
        # What strings lose where so much of it recovered makes the published gain.
        least, most = (published / share / (1.0 + published) for share in reversed(RECOVERED))
        alike = [each.gain for each in every if least <= each.lost <= most]
        got, low, high = 100.0 * float(np.mean(alike)), 60.0 * published, 140.0 * published
        yield within(f"{name}, {shade} shade, {len(alike)} roofs", low, high, got, "READ", NREL)


def gains_of_roofs(height_factor: float, *, trackers: int) -> list[Gain]:
    """Of the random roofs, with what stands around them so much higher."""
    return [
        gain_of(_higher(face, height_factor), module, trackers=trackers)[0] for face, module in map(random_face, range(ROOFS))
    ]


def _higher(face: Face, factor: float) -> Face:
    shade = face.shade
    assert shade is not None
    return replace(
        face,
        shade=replace(
            shade,
            objects=tuple(
                replace(each, height_m=each.height_m * factor, eaves_height_m=each.eaves_height_m * factor)
                for each in shade.objects
            ),
            trees=tuple(
                replace(each, height_m=each.height_m * factor, crown_diameter_m=each.crown_diameter_m * factor)
                for each in shade.trees
            ),
            buildings=tuple(replace(each, top_up_m=each.top_up_m * factor) for each in shade.buildings),
        ),
    )


def gain_of(face: Face, module: Module, *, trackers: int) -> tuple[Gain, float]:
    """Of strings with global trackers, by the causes of the product's own answer; and the share that tolerance takes."""
    year = year_at_48_n()
    asked = replace(
        request(offer(450.0, 100.0)),
        faces=(face,),
        modules=(ModuleOffer(module, None),),
        losses=USUAL_LOSSES,
        string_inverters=(string_offer(450.0 * face.module_count, trackers=trackers, tracker="global"),),
    )
    fresh = replace(year, conditions=replace(year.conditions, is_cached=False))
    result = selection(asked, electrical_rules("international"), fresh)
    (candidate,) = result.string_inverters
    energy, compared = result.candidates[0].energy, candidate.comparison
    assert energy is not None, "the unit passes"
    assert compared is not None, "the strings pass"
    causes, unshaded_kwh = {each.cause: each for each in compared.causes}, energy.first_year.unshaded_kwh
    shade, tolerance = causes["shade"], causes["tolerance"].difference_kwh / compared.string_inverter_kwh
    return Gain(
        shade.string_inverter_kwh / unshaded_kwh, shade.difference_kwh / (unshaded_kwh - shade.string_inverter_kwh)
    ), tolerance


def _lengths() -> Iterator[Check]:
    module = replace(
        module_of(Cells()), power_w=539.8, voltage_oc_v=49.5, voltage_mp_v=41.3, temp_coefficient_voc_percent_per_k=-0.27
    )
    # 600 V over 54.18 V and over 56.43 V.
    for way, by_table, most in (("coefficient", False, 11), ("table", True, 10)):
        got = longest(module, -10.0, by_table=by_table)
        yield near(f"modules up to 600 V by the {way}, -10 degC", most, got, 0, "READ-2", LESSON)
    edges = [(edge, factor) for edges, factor in TABLE_FACTORS.items() for edge in edges]
    right = [
        # The coefficient's own voltage where it is higher: the warm edge of a band may be below it, never its cold one.
        longest(module, float(edge), by_table=True) == floor(LIMIT_V / max(49.5 * factor, _by_coefficient_v(edge)))
        for edge, factor in edges
    ]
    yield near("longest strings right at edges of the table's bands", len(edges), sum(right), 0, "READ-2", TABLE)


def _by_coefficient_v(temp_c: float) -> float:
    return 49.5 * (1.0 - 0.0027 * (temp_c - 25.0))


def longest(module: Module, temp_lowest_c: float, *, by_table: bool) -> int:
    """Most modules in series that no electrical check refuses."""
    unit = string_offer(8000.0, trackers=1, dc_voltage_max_v=LIMIT_V).inverter
    design = replace(DESIGN, lowest_c=temp_lowest_c)
    lengths: Sequence[int] = range(1, 15)
    return max(
        length
        for length in lengths
        if is_buildable(
            check_pairing(
                module=module, parameters=_parameters(module), microinverter=unit, design=design,
                mountings=frozenset({"close_roof"}), rules=electrical_rules("united_states"), by_table=by_table,
                input_wiring=InputWiring(length, "series"), site_irradiance_w_m2={},
            )
        )
    )  # fmt: skip


@cache
def _parameters(module: Module) -> SixParameters:
    return fit(module)

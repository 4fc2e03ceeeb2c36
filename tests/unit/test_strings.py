"""Strings on a string inverter beside microinverters: a fair comparison, strings that are proposed or given, and money."""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, strategies as st

from tests.builders import MODULE
from tests.selection_cases import AT_HOME, DESIGN, TERMS, amsterdam_year, offer, request
from tests.shade_scenes import shaded_roof
from tests.string_cases import UNIT_W, built_in_cache, built_in_year, candidates, cause, compared, string_offer
from wattpair_service.engineering.energy.energy_balance import EnergyBalance
from wattpair_service.engineering.energy.home_use import HomeUse
from wattpair_service.engineering.energy.lifetime_energy import Worth
from wattpair_service.engineering.energy.system_losses import USUAL_LOSSES
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.inverter.conversion import EUROPEAN_WEIGHTS, from_weighted_efficiency
from wattpair_service.engineering.inverter.electrical_checks import ElectricalCheck
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.module.bypass_groups import BrighterCells, series_branches
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.sentences import Cited
from wattpair_service.engineering.shade.scene import BeamSurvey
from wattpair_service.engineering.strings import string_dc
from wattpair_service.engineering.strings.comparison import CAUSES
from wattpair_service.engineering.strings.offer import COPPER_OHM_MM2_PER_M, DcCable, DcPath, Optimiser
from wattpair_service.engineering.strings.string_dc import String
from wattpair_service.engineering.strings.string_roof import StringRoof
from wattpair_service.engineering.strings.string_system import inverters_paid, replacement_years, system_cost
from wattpair_service.engineering.strings.stringing import CheckLength, Stringing, stringing

SHADED = shaded_roof()
PLAIN = replace(SHADED, horizon=(), shade=None)
EAST = replace(PLAIN, name="east", azimuth_deg=90.0, module_count=6)
MODULES = PLAIN.module_count
LIKE = string_offer(UNIT_W * MODULES, trackers=2)
"""As good as the microinverters together."""
LOCAL = replace(LIKE, inverter=replace(LIKE.inverter, tracker="local"))
PERFECT = Optimiser("optimiser", 0.0, 16.0, 58.0, None, None)
"""Its window is that of the microinverter, and it has no loss."""
AT_ONCE = {"repair_days": 0.0}
LOADS_W = np.tile([300.0] * 7 + [600.0] * 2 + [300.0] * 9 + [700.0] * 3 + [300.0] * 3, (12, 1))
USES = (AT_HOME, HomeUse(None, LOADS_W, None), HomeUse(None, LOADS_W, 3000.0))


@cache
def roof_of(*faces: Face) -> StringRoof:
    """The module on these faces, as strings see it."""
    return StringRoof.of(built_in_cache(), faces, MODULE, fit(MODULE))


def one_string(face: Face, number: int = 0) -> String:
    """All modules of a face in series."""
    return tuple((number, module) for module in range(face.module_count))


# Fairness: equal machines yield the same, and shade speaks for whom it should.


@pytest.mark.parametrize("unit_w", [UNIT_W, 280.0])
@pytest.mark.parametrize("use", USES)
def test_without_shade_equal_machines_yield_the_same(unit_w: float, use: HomeUse) -> None:
    alike = string_offer(UNIT_W * MODULES, trackers=2)
    power_w = unit_w * MODULES
    conversion = offer(power_w, None).microinverter.conversion
    inverter = replace(alike.inverter, ac_power_w=power_w, ac_peak_power_w=power_w, conversion=conversion)
    alike = replace(alike, inverter=inverter, price=100.0 * MODULES)
    unit = replace(offer(unit_w, 100.0), failure_share_per_year=0.0)
    found = compared((PLAIN,), replace(alike, expected_life_years=25.0), unit=unit, home_use=use, **AT_ONCE)
    assert found.microinverters_kwh == pytest.approx(found.string_inverter_kwh, rel=0.001)
    assert (cause(found, "clipping").string_inverter_kwh > 0.0) == (unit_w < UNIT_W)
    assert found.money is not None
    assert found.money.extra_cost == pytest.approx(0.0, abs=1e-6)
    assert abs(found.money.net_gain) < 0.001 * 100.0 * MODULES


@pytest.mark.parametrize("efficiency_percent", [96.9, 98.2])
@pytest.mark.parametrize("price", [0.0, 1900.0])
@pytest.mark.parametrize("faces", [(PLAIN,), (PLAIN, EAST)])
def test_a_string_inverter_that_dominates_is_better(efficiency_percent: float, price: float, faces: tuple[Face, ...]) -> None:
    """As cheap over its life, at least as efficient, and no shade that would speak against it."""
    power_w = UNIT_W * sum(face.module_count for face in faces)
    conversion = from_weighted_efficiency(ac_power_w=power_w, efficiency_percent=efficiency_percent, weights=EUROPEAN_WEIGHTS)
    cheap = string_offer(power_w, trackers=3, conversion=conversion, price=price, expected_life_years=25.0)
    found = compared(faces, cheap, **AT_ONCE)
    assert found.string_inverter_kwh >= found.microinverters_kwh
    assert found.better == "string_inverter"
    dear = compared(faces, replace(cheap, price=9000.0), **AT_ONCE)
    assert dear.better == "microinverters"


def test_without_prices_the_energy_decides() -> None:
    assert compared((SHADED,), LIKE).money is None
    assert compared((SHADED,), LIKE).better == "microinverters"
    worse = offer(UNIT_W, 100.0, conversion=from_weighted_efficiency(
        ac_power_w=UNIT_W, efficiency_percent=90.0, weights=EUROPEAN_WEIGHTS))  # fmt: skip
    assert compared((PLAIN,), LIKE, unit=worse).better == "string_inverter"


def surveyed(factors: list[float], hours: tuple[int, int] = (0, 24)) -> Face:
    """Eight modules; in these hours of each day so much of the beam arrives at each."""

    def day(factor: float) -> tuple[float, ...]:
        return tuple(factor if hours[0] <= hour < hours[1] else 1.0 for hour in range(24))

    survey = BeamSurvey(tuple((day(factor),) * 12 for factor in factors))
    shade = SHADED.shade
    assert shade is not None
    assert shade.placement is not None
    placement = replace(shade.placement, corners=shade.placement.corners[:8])
    bare = replace(shade, objects=(), buildings=(), trees=(), placement=placement, survey=survey)
    return replace(PLAIN, module_count=8, shade=bare)


def advantage_kwh(face: Face) -> float:
    """DC energy of the modules one by one less that of their string, each at its maximum."""
    roof = roof_of(face)
    whole = (one_string(face),)
    apart, together = roof.with_optimisers(whole).response, roof.with_strings(whole).response
    lost_w = apart.maximum_power.power_w - together.maximum_power.power_w
    return float(lost_w @ apart.weight_h) * face.module_count / 1000.0


@given(st.integers(0, 7), st.floats(0.0, 0.99), st.integers(6, 16), st.integers(1, 6))
def test_shade_on_one_module_never_speaks_for_the_string(module: int, left: float, start: int, hours: int) -> None:
    factors = [1.0] * 8
    factors[module] = left
    assert advantage_kwh(surveyed([1.0] * 8)) == pytest.approx(0.0, abs=0.01)
    assert advantage_kwh(surveyed(factors, (start, start + hours))) >= -0.01


def test_deeper_shade_on_one_module_costs_the_string_most_at_half_light() -> None:
    """A dark module is bypassed at the cost of its diodes' voltage; of a half-lit one its half is lost too."""
    none, some, half, dark = (advantage_kwh(surveyed([left] + [1.0] * 7)) for left in (1.0, 0.9, 0.5, 0.0))
    assert none < some < half
    assert 0.0 < dark < half
    # So shade that makes modules alike again takes from the advantage: physics, and no favour.
    assert advantage_kwh(surveyed([0.5] * 8)) == pytest.approx(0.0, abs=0.05 * half)


def test_modules_by_themselves_never_give_less_than_their_string() -> None:
    roof, whole = roof_of(SHADED), (one_string(SHADED)[:12], one_string(SHADED)[12:])
    apart, together = roof.with_optimisers(whole).response, roof.with_strings(whole).response
    unshaded_w = together.shade.unshaded_w  # type: ignore[union-attr]
    gain = (apart.maximum_power.power_w - together.maximum_power.power_w) / np.maximum(unshaded_w, 1e-9)
    # What levels add, at worst, of points with light.
    assert gain[unshaded_w > 5.0].min() > -0.005
    assert gain.max() > 0.2


@pytest.mark.parametrize("faces", [(SHADED,), (SHADED, EAST), (PLAIN,)], ids=["shade", "two faces", "plain"])
@pytest.mark.parametrize("use", USES)
def test_the_causes_add_up_to_the_difference(faces: tuple[Face, ...], use: HomeUse) -> None:
    count = sum(face.module_count for face in faces)
    plain = string_offer(
        260.0 * count, trackers=2, price=1400.0, cable=DcCable(25.0, 4.0), rated_ac_cable_share=0.012, tracker="local",
        dc_operating_voltage_min_v=260.0, dc_start_voltage_v=280.0,
    )  # fmt: skip
    optimised = replace(plain, optimiser=Optimiser("optimiser", 0.012, 12.0, 60.0, 40.0, 0.002))
    for one in (plain, optimised):
        found = compared(faces, one, home_use=use, losses=replace(USUAL_LOSSES, snow_share=0.02))
        assert [each.cause for each in found.causes] == list(CAUSES)
        difference_kwh = found.microinverters_kwh - found.string_inverter_kwh
        assert sum(each.difference_kwh for each in found.causes) == pytest.approx(difference_kwh, abs=1e-6)
        balance = found.system.balance
        losses = sum(
            getattr(balance, each.name)
            for each in fields(EnergyBalance)
            if each.name not in ("unshaded_kwh", "available_kwh", "delivered_kwh")
        )
        assert balance.unshaded_kwh - losses == pytest.approx(balance.delivered_kwh, rel=1e-9)
        assert balance.clipping_kwh > 0.0
        # Each side's losses by themselves lead from the same unshaded energy to what is at the meter.
        lost = [sum(getattr(each, f"{side}_kwh") for each in found.causes) for side in ("microinverters", "string_inverter")]
        left = [found.microinverters_kwh + lost[0], found.string_inverter_kwh + lost[1]]
        assert left[0] == pytest.approx(left[1], rel=1e-9)
        assert found.energy_share.low < found.energy_share.value < found.energy_share.high


# The physics of a string.


def test_levels_come_near_every_group_by_itself() -> None:
    roof, string = roof_of(SHADED), one_string(SHADED)[:14]
    face = roof.faces[0]
    response = string_dc.string_response(string, roof.faces, roof.points, roof.parameters, 3)
    part = string_dc._FacePart.of(face, np.arange(14), roof.points)
    groups = list(part.groups(3))
    irradiance_w_m2, share, bright_w_m2 = (
        np.stack([getattr(group, name) for group in groups]) for name in ("irradiance_w_m2", "bright_share", "bright_w_m2")
    )
    assert len(groups) == 42 > string_dc.LEVELS_MOST
    order = np.argsort(-irradiance_w_m2, axis=0)
    falling_w_m2, share, bright_w_m2 = (np.take_along_axis(each, order, 0) for each in (irradiance_w_m2, share, bright_w_m2))
    air_c = part.response.temp_cell_c - part.rise_k_per_w_m2 * part.irradiance_w_m2
    temp_cell_c = air_c + falling_w_m2 * part.rise_k_per_w_m2
    every = series_branches(
        roof.parameters,
        irradiance_w_m2=falling_w_m2,
        temp_cell_c=temp_cell_c,
        groups_per_module=3,
        brighter=BrighterCells(share, bright_w_m2, temp_cell_c),
    ).power_w.max(axis=0) / (14.0 * np.maximum(part.reference.power_w, 1e-9))
    shade = response.shade
    assert shade is not None
    lit = shade.unshaded_w > 5.0
    error = (response.maximum_power.power_w / np.maximum(shade.unshaded_w, 1e-9) - every)[lit]
    assert np.percentile(np.abs(error), 95) < 0.003
    assert np.abs(error).max() < 0.02
    assert abs(float(error @ roof.points.share[lit]) / roof.points.share[lit].sum()) < 0.001
    shaded = every[lit] < 0.9
    assert shaded.sum() > 100


def test_one_maximum_of_each_point_has_the_highest_voltage() -> None:
    roof, string = roof_of(SHADED), one_string(SHADED)[:14]
    response = string_dc.string_response(string, roof.faces, roof.points, roof.parameters, 3)
    maxima, at_highest = np.zeros((2, response.weight_h.size))
    for other in response.other_maxima:
        maxima[other.point] += 1.0
        at_highest[other.point] += other.at_highest_voltage
    assert maxima.max() > 1.0
    assert (at_highest == (maxima > 0.0)).all()


def test_a_lit_point_keeps_its_curve_beside_shaded_ones() -> None:
    roof, string = roof_of(SHADED), one_string(SHADED)[:14]
    response = string_dc.string_response(string, roof.faces, roof.points, roof.parameters, 3)
    unshaded = string_dc._FacePart.of(roof.faces[0], np.arange(14), roof.points).response
    shade = response.shade
    assert shade is not None
    lit = (shade.unshaded_w > 50.0) & (response.maximum_power.power_w > 0.98 * shade.unshaded_w)
    assert lit.sum() > 100
    assert response.curve.a_v[lit] == pytest.approx(unshaded.curve.a_v[lit], rel=1e-9)
    assert response.curve.series_resistance_ohm[lit] == pytest.approx(unshaded.curve.series_resistance_ohm[lit], rel=1e-9)


def test_a_local_tracker_never_gives_more_than_a_global_one() -> None:
    of_global, of_local = (compared((SHADED,), each).system.balance for each in (LIKE, LOCAL))
    assert of_global.tracker_kwh == 0.0 < of_local.tracker_kwh
    assert of_local.available_kwh == pytest.approx(of_global.available_kwh, rel=1e-12)
    assert of_local.delivered_kwh < of_global.delivered_kwh
    unshaded = [compared((PLAIN,), each).system.balance.delivered_kwh for each in (LIKE, LOCAL)]
    assert unshaded[0] == unshaded[1]


def test_optimisers_hold_every_module_at_its_own_maximum() -> None:
    for faces in ((SHADED,), (SHADED, EAST)):
        power_w = UNIT_W * sum(face.module_count for face in faces)
        whole = string_offer(power_w, trackers=2, optimiser=PERFECT)
        found = compared(faces, whole, **AT_ONCE, unit=replace(offer(UNIT_W, 100.0), failure_share_per_year=0.0))
        for name in ("shade", "orientation", "tolerance"):
            # Without beam, strings look up one position of the sun in an hour where units look up all.
            assert cause(found, name).difference_kwh == pytest.approx(0.0, abs=0.1)
        # One inverter starts and converts by the sum of all, each unit by its own module: hardly a difference.
        assert found.string_inverter_kwh == pytest.approx(found.microinverters_kwh, rel=0.001)
    lossy = compared((SHADED,), replace(LIKE, optimiser=replace(PERFECT, loss_share=0.015))).system
    assert lossy.optimiser_kwh == pytest.approx(0.015 * lossy.balance.available_kwh, rel=0.005)


def test_cable_loss_by_hand() -> None:
    one = replace(LIKE, cable=DcCable(20.0, 4.0))
    strings = (one_string(PLAIN)[:14], one_string(PLAIN)[14:])
    path = DcPath.of(one, MODULE, strings)
    # 24 modules give 6 kW at 31.4 V each: every string carries the current of 250 W in one module.
    current_a = 250.0 / 31.4
    resistance_ohm = 2.0 * 20.0 * COPPER_OHM_MM2_PER_M / 4.0
    loss_w = float(path.cable_loss_w(np.array([6000.0]))[0])
    assert loss_w == pytest.approx(2.0 * resistance_ohm * current_a**2, rel=1e-9)
    assert abs(COPPER_OHM_MM2_PER_M * 56.0 / (1.0 + 0.00393 * 50.0) - 1.0) < 0.005
    with_cable, without = (compared((PLAIN,), each) for each in (one, LIKE))
    lost_kwh = without.system.balance.delivered_kwh - with_cable.system.balance.delivered_kwh
    assert with_cable.system.cable_kwh == pytest.approx(lost_kwh, rel=0.05)
    assert cause(with_cable, "cables").string_inverter_kwh == pytest.approx(with_cable.system.cable_kwh)
    # At rated power it is 0.76 %, in proportion to the power; half of the energy comes at more than 60 % of it.
    rated = 2.0 * resistance_ohm * 13.07**2 / (24.0 * 410.4)
    assert 0.4 * rated < with_cable.system.cable_kwh / with_cable.string_inverter_kwh < 0.8 * rated


def test_orientation_is_what_two_directions_in_one_string_cost() -> None:
    south = replace(PLAIN, module_count=8)
    mixed = (
        (*one_string(south)[:5], *one_string(EAST, 1)[:3]),
        (*one_string(south)[5:], *one_string(EAST, 1)[3:]),
    )
    apart = (one_string(south), one_string(EAST, 1))
    offers = [string_offer(UNIT_W * 14.0, trackers=2, strings=strings) for strings in (mixed, apart)]
    together, by_face = (compared((south, EAST), each) for each in offers)
    lost_kwh = by_face.system.balance.available_kwh - together.system.balance.available_kwh
    orientation, shade = cause(together, "orientation"), cause(together, "shade")
    assert lost_kwh > 0.02 * together.string_inverter_kwh
    assert orientation.string_inverter_kwh == pytest.approx(lost_kwh, rel=1e-6)
    assert orientation.microinverters_kwh == 0.0
    assert shade.string_inverter_kwh == pytest.approx(0.0, abs=1e-6)
    assert cause(by_face, "orientation").string_inverter_kwh == 0.0
    # A simple tracker stays at the lower maximum of a string of two directions: that is no shade either.
    inverter = replace(offers[0].inverter, tracker="local")
    local = compared((south, EAST), replace(offers[0], inverter=inverter))
    assert cause(local, "orientation").string_inverter_kwh > orientation.string_inverter_kwh + 1.0
    assert cause(local, "shade").string_inverter_kwh == pytest.approx(0.0, abs=1e-6)
    assert by_face.string_inverter_kwh == pytest.approx(by_face.microinverters_kwh, rel=0.005)


def test_faces_of_one_string_have_their_own_temperatures() -> None:
    """In a string of two directions the dimmer modules are cooler than the brighter face would have them."""
    south = replace(PLAIN, module_count=8)
    roof = roof_of(south, EAST)
    string = (*one_string(south), *one_string(EAST, 1))
    response = string_dc.string_response(string, roof.faces, roof.points, roof.parameters, 3)
    alone = [string_dc.string_response((module,), roof.faces, roof.points, roof.parameters, 3) for module in ((0, 0), (1, 0))]
    point = np.flatnonzero((alone[0].maximum_power.power_w > 100.0) & (alone[1].maximum_power.power_w > 100.0))
    mean_c = (8.0 * alone[0].temp_cell_c + 6.0 * alone[1].temp_cell_c) / 14.0
    np.testing.assert_allclose(response.temp_cell_c[point], mean_c[point], atol=1e-6)
    assert np.abs(alone[0].temp_cell_c - alone[1].temp_cell_c)[point].max() > 10.0


@pytest.mark.parametrize("use", USES)
def test_home_use_and_export_limit_share_out_the_energy(use: HomeUse) -> None:
    energy = compared((SHADED, EAST), string_offer(UNIT_W * 30.0, trackers=3), home_use=use).system.energy
    split = energy.roof.home_kwh[0] + energy.roof.exported_kwh[0] + energy.roof.cut_kwh[0]
    assert split == pytest.approx(energy.balance.delivered_kwh, rel=1e-9)
    assert (energy.roof.cut_kwh[0] > 0.0) == (use.export_limit_w is not None)
    assert energy.roof.home_kwh[0] > 0.0


def test_an_hourly_year_works_as_the_built_in_one() -> None:
    found = compared((SHADED, EAST), string_offer(UNIT_W * 30.0, trackers=3), year=amsterdam_year(), home_use=USES[2])
    built_in = compared((SHADED, EAST), string_offer(UNIT_W * 30.0, trackers=3), home_use=USES[2])
    assert found.energy_share.value == pytest.approx(built_in.energy_share.value, abs=0.01)
    assert sum(each.difference_kwh for each in found.causes) == pytest.approx(
        found.microinverters_kwh - found.string_inverter_kwh, abs=1e-6
    )
    assert 0.005 < found.energy_share.value < 0.06


# Strings: proposed and given.


def checks_between(shortest: int, longest: int) -> CheckLength:
    """Strings of these lengths pass."""

    def of_length(length: int) -> tuple[ElectricalCheck, ...]:
        if shortest <= length <= longest:
            return ()
        voltage_v, source = 50.0 * length, Cited("a test")
        return (ElectricalCheck("open_circuit_voltage_cold", voltage_v, 600.0, "V", 600.0 - voltage_v, "fail", source, source),)

    return of_length


def lengths_of(strings: Stringing) -> list[int]:
    """Modules of each string."""
    return [len(each.modules) for each in strings.strings]


@pytest.mark.parametrize(
    ("module_counts", "trackers", "lengths"),
    [
        ([12], 1, [12]),
        ([20], 2, [10, 10]),
        ([21], 2, [11, 10]),
        ([13], 3, [5, 4, 4]),
        ([20], 4, [5, 5, 5, 5]),
        ([20], 9, [4, 4, 4, 4, 4]),
        ([24, 8], 4, [8, 8, 8, 8]),
        ([24, 8], 3, [12, 12, 8]),
        ([14, 2], 2, [8, 8]),
        ([9, 6, 1], 2, [9, 7]),
        ([2, 3], 1, [5]),
        ([12, 3, 2], 2, [12, 5]),
    ],
    ids=str,
)
def test_strings_that_are_proposed(module_counts: list[int], trackers: int, lengths: list[int]) -> None:
    """Fewest strings of 4 to 12 first, then the longest divided while trackers are left; short faces joined."""
    found = stringing(module_counts, trackers, checks_between(4, 12), None)
    assert found.obstacle is None
    assert lengths_of(found) == lengths
    assert found.verdict == "ok"
    assert not found.is_given
    assert [each.tracker for each in found.strings] == list(range(1, len(lengths) + 1))


def test_a_face_too_short_joins_the_shortest_string() -> None:
    found = stringing([9, 6, 1], 2, checks_between(4, 12), None)
    assert [module for each in found.strings for module in each.modules if module[0] == 2] == [(2, 0)]
    assert found.strings[1].modules[-1] == (2, 0)
    assert found.strings[1].on_faces[-1].module_number == 1


@pytest.mark.parametrize(
    ("module_counts", "trackers", "window", "code", "values"),
    [
        ([30], 2, (4, 12), "strings.too_few_trackers", {"strings": 3, "trackers": 2}),
        ([3], 2, (4, 12), "strings.too_short", {"length": 3, "shortest": 4}),
        ([12], 2, (8, 10), "strings.too_short", {"length": 6, "shortest": 8}),
        ([12], 2, (70, 80), "strings.no_length", {}),
    ],
)
def test_roofs_without_strings_say_why(
    module_counts: list[int], trackers: int, window: tuple[int, int], code: str, values: dict[str, int]
) -> None:
    found = stringing(module_counts, trackers, checks_between(*window), None)
    assert found.obstacle is not None
    assert found.obstacle.code == code
    assert dict(found.obstacle.values) == values
    assert found.verdict == "fail"
    assert found.strings == ()


@given(st.lists(st.integers(1, 40), min_size=1, max_size=4), st.integers(1, 12), st.integers(1, 12), st.integers(0, 12))
def test_proposed_strings_hold_each_module_once(counts: list[int], trackers: int, shortest: int, more: int) -> None:
    found = stringing(counts, trackers, checks_between(shortest, shortest + more), None)
    if found.obstacle is not None:
        assert found.strings == ()
        return
    modules = [module for each in found.strings for module in each.modules]
    assert sorted(modules) == [(face, number) for face, count in enumerate(counts) for number in range(count)]
    assert len(found.strings) <= trackers
    assert all(shortest <= length <= shortest + more for length in lengths_of(found))
    assert len(found.strings) >= -(-sum(counts) // (shortest + more))


def test_given_strings_keep_their_order_and_get_a_verdict() -> None:
    strings = (((0, 3), (0, 1), (0, 0), (0, 2)), tuple((0, number) for number in range(4, 17)))
    found = stringing([17], 2, checks_between(4, 12), strings)
    assert found.is_given
    assert [each.modules for each in found.strings] == list(strings)
    assert [each.verdict for each in found.strings] == ["ok", "fail"]
    assert found.verdict == "fail"
    assert found.obstacle is not None
    assert (found.obstacle.code, dict(found.obstacle.values)) == ("strings.too_long", {"length": 13, "longest": 12})
    assert found.strings[1].reasons[0].name == "open_circuit_voltage_cold"


def test_a_given_string_that_is_too_short_says_so() -> None:
    found = stringing(
        [7], 2, checks_between(4, 12), (tuple((0, each) for each in range(3)), tuple((0, each) for each in range(3, 7)))
    )
    assert found.obstacle is not None
    assert (found.obstacle.code, dict(found.obstacle.values)) == ("strings.too_short", {"length": 3, "shortest": 4})


@pytest.mark.parametrize(
    ("strings", "message"),
    [
        ((((0, 0),), ((0, 1),), ((0, 2),)), "at most 2 strings, one on each tracker; 3 are given"),
        ((((0, 0), (0, 3)),), "modules from 1 to 3 of this face, not 4"),
        ((((0, 0), (0, 1), (0, 0)),), "each module once; module 1"),
        ((((0, 0), (0, 1)),), "every module of the roof in a string; 1 are in none"),
    ],
)
def test_given_strings_that_contradict_the_roof(strings: tuple[String, ...], message: str) -> None:
    with pytest.raises(EngineeringError, match=message):
        stringing([3], 2, checks_between(1, 12), strings)


def test_the_longest_safe_string_follows_the_cold() -> None:
    """37.6 V rise by 0.27 %/K from 25 degC to -15: 41.66 V, of which 600 V hold 14; from -40: 44.2 V, 13."""
    one = string_offer(6000.0, trackers=2, dc_voltage_max_v=600.0)
    for lowest_c, longest in ((-15.0, 14), (-40.0, 13)):
        year = replace(built_in_year(), design_temperatures=replace(DESIGN, lowest_c=lowest_c))
        (found,) = candidates((PLAIN,), one, year=year)
        assert found.stringing.lengths.longest == longest
        voltage_v = 37.6 * (1.0 + 0.0027 * (25.0 - lowest_c))
        assert longest * voltage_v <= 600.0 < (longest + 1) * voltage_v
        assert lengths_of(found.stringing) == [12, 12]


def test_an_inverter_that_cannot_be_built_has_no_comparison() -> None:
    (found,) = candidates((PLAIN,), string_offer(6000.0, trackers=1, dc_voltage_max_v=600.0))
    assert found.comparison is None
    assert found.stringing.obstacle is not None
    assert found.stringing.obstacle.code == "strings.too_few_trackers"


# Money.


@pytest.mark.parametrize(
    ("life", "horizon", "years"),
    [
        (13.0, 25, [13]), (8.0, 25, [8, 16, 24]), (12.5, 25, [13]), (25.0, 25, []), (30.0, 25, []), (1.0, 3, [1, 2]),
        (8.4, 25, [9, 17]),
    ],
)  # fmt: skip
def test_years_of_replacement(life: float, horizon: int, years: list[int]) -> None:
    assert replacement_years(life, horizon) == years


PRICED = replace(LIKE, price=1500.0, expected_life_years=8.0, warranty_years=10)
VISITS = replace(TERMS, labour_per_visit=90.0, discount_rate=0.03, horizon_years=25)


def test_cost_by_hand() -> None:
    asked = request(offer(UNIT_W, 100.0), terms=VISITS)
    # Replaced in years 8, 16 and 24: the first free of charge but for the visit.
    years = 1.03**-8.0, 1.03**-16.0, 1.03**-24.0
    by_hand = 1500.0 + 90.0 * sum(years) + 1100.0 * (years[1] + years[2])
    assert system_cost(asked, replace(PRICED, replacement_price=1100.0), 24) == pytest.approx(by_hand, rel=1e-12)
    by_hand = 1500.0 + 90.0 * sum(years) + 1500.0 * (years[1] + years[2])
    assert system_cost(asked, PRICED, 24) == pytest.approx(by_hand, rel=1e-12)
    assert inverters_paid(VISITS, PRICED) == pytest.approx(1.0 + years[1] + years[2], rel=1e-12)
    optimiser = replace(PERFECT, price=40.0, failure_share_per_year=0.01, warranty_years=12)
    failures = [0.01 * 0.99 ** (year - 1) * 1.03**-year for year in range(1, 26)]
    more = 24 * (40.0 * (1.0 + sum(failures[12:])) + 90.0 * sum(failures))
    assert system_cost(asked, replace(PRICED, optimiser=optimiser), 24) == pytest.approx(by_hand + more, rel=1e-12)
    assert system_cost(asked, replace(PRICED, price=None), 24) is None
    assert system_cost(asked, replace(PRICED, optimiser=PERFECT), 24) is None


@pytest.mark.parametrize("replacement_price", [None, 900.0])
@pytest.mark.parametrize("price", [1200.0, 4000.0])
def test_the_turning_price_turns(price: float, replacement_price: float | None) -> None:
    one = replace(PRICED, price=price, replacement_price=replacement_price)
    found = compared((SHADED,), one, terms=VISITS)
    assert found.money is not None
    extra = found.money.turning.extra_price
    assert extra is not None
    turned = compared((SHADED,), replace(one, price=price + extra), terms=VISITS)
    assert turned.money is not None
    assert turned.money.net_gain == pytest.approx(0.0, abs=1e-6)
    assert (extra < 0.0) == (found.better == "microinverters")


def test_no_price_turns_what_is_worse_as_a_gift() -> None:
    free = compared((SHADED,), replace(PRICED, price=0.0), unit=offer(UNIT_W, 1.0), terms=VISITS)
    assert free.money is not None
    assert free.better == "microinverters"
    assert free.money.turning.extra_price is None


@pytest.mark.parametrize("warranty_years", [0, 10])
@pytest.mark.parametrize(("price", "turns"), [(300.0, True), (500.0, True), (700.0, True), (900.0, False), (2600.0, False)])
def test_the_turning_life_turns(price: float, turns: bool, warranty_years: int) -> None:
    """From that life on the microinverters never lead, and a year before they do: found again by whole comparisons."""
    small = replace(PLAIN, module_count=8)
    one = string_offer(UNIT_W * 8, trackers=1, price=price, warranty_years=warranty_years)
    moneys = [compared((small,), replace(one, expected_life_years=float(years)), terms=VISITS).money for years in range(1, 26)]
    gains = [money.net_gain for money in moneys if money is not None]
    assert len(gains) == 25
    lives = {money.turning.life_years for money in moneys if money is not None}
    assert len(lives) == 1, "whatever life it is asked with"
    (life,) = lives
    leads = [gain > 0.0 for gain in gains]
    assert (life is not None) == turns
    if life is None:
        assert all(leads)
    else:
        assert leads[int(life) - 2]
        assert not any(leads[int(life) - 1 :])


def test_no_life_turns_a_gift() -> None:
    no_labour, small = replace(TERMS, labour_per_visit=0.0), replace(PLAIN, module_count=8)
    gift = compared((small,), string_offer(UNIT_W * 8, trackers=1, price=0.0), terms=no_labour).money
    assert gift is not None
    assert gift.net_gain < 0.0
    assert gift.turning.life_years is None


@pytest.mark.parametrize("price", [500.0, 800.0])
def test_the_turning_shade_turns(price: float) -> None:
    found = compared((SHADED,), replace(PRICED, price=price), terms=VISITS)
    assert found.money is not None
    factor, system = found.money.turning.shade_factor, found.system
    assert factor is not None
    # Another factor on what shade takes more leaves the strings more or less energy, of the same worth.
    energy_value = system.energy.roof.value(worth()) * found.string_inverter_kwh / system.at_meter_kwh
    per_dc_kwh = float(energy_value) / system.balance.available_kwh
    more_kwh = cause(found, "shade").difference_kwh * (factor - 1.0)
    assert found.money.net_gain + more_kwh * per_dc_kwh == pytest.approx(0.0, abs=1e-6)
    assert (factor < 1.0) == (found.better == "microinverters")


def worth() -> Worth:
    """Of the shared request's tariff."""
    asked = request(offer(UNIT_W, 100.0))
    assert asked.tariff is not None
    return Worth.of(asked.tariff, TERMS.discount_rate, TERMS.horizon_years)


def test_parts_of_both_systems_count_where_both_are_known() -> None:
    one = replace(PRICED, balance_of_plant=700.0)
    unit = offer(UNIT_W, 100.0)
    known = replace(unit, system=replace(unit.system, balance_of_plant=500.0))
    without, with_plant = (compared((PLAIN,), one, unit=each, terms=VISITS).money for each in (unit, known))
    assert without is not None
    assert with_plant is not None
    assert (without.balance_of_plant_counts, with_plant.balance_of_plant_counts) == (False, True)
    assert with_plant.extra_cost == pytest.approx(without.extra_cost - 200.0, rel=1e-9)


def test_a_failure_stops_the_whole_string_inverter_and_one_unit() -> None:
    unit = replace(offer(UNIT_W, 100.0), failure_share_per_year=0.002)
    found = compared((PLAIN,), replace(LIKE, expected_life_years=10.0), unit=unit, repair_days=36.5)
    availability = cause(found, "availability")
    # A tenth of a year each ten years, and a tenth of a year for one in 500 units each year.
    assert availability.string_inverter_kwh == pytest.approx(0.01 * found.string_inverter_kwh / 0.99, rel=1e-9)
    assert availability.microinverters_kwh == pytest.approx(0.0002 * found.microinverters_kwh / 0.9998, rel=1e-9)

"""Modules that do not fill the last unit: held against full and half-filled units computed alone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from tests.builders import losses, real_response, scaled_module
from tests.selection_cases import AT_HOME, TARIFF, amsterdam_year, load, offer, request, select
from tests.unit.test_selection import net_present_values, roof_of
from tests.validation.yields import module_420, roof_face, unit
from wattpair_service.engineering.energy.energy_balance import AGES, EnergyBalance, PairingYear, clipped_share, pairing_year
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.home_use import HomeUse, Household
from wattpair_service.engineering.energy.lifetime_energy import LifetimeEnergy, lifetime_energy
from wattpair_service.engineering.energy.roof_dc import roof_dc
from wattpair_service.engineering.equipment import InputWiring, Microinverter, ThermalDerating
from wattpair_service.engineering.inverter.power_steps import power_steps
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.selection.request import ModuleOffer, RoofTerms
from wattpair_service.words.catalogue import english

DERATING = ThermalDerating(start_temp_c=35.0, percent_per_k=3.0, shutdown_temp_c=80.0)
TWIN = replace(
    unit(560.0), input_count=2, start_power_w=12.0, night_draw_w=0.2, ac_peak_power_w=580.0, dc_current_max_a=12.5,
    derating=DERATING,
)  # fmt: skip
"""Two inputs of one module each."""
ALONE = replace(TWIN, input_count=1)
"""What it is with a single module on it."""
IN_SERIES = replace(
    unit(1300.0), input_count=2, modules_per_input_max=2, dc_voltage_max_v=120.0, dc_operating_voltage_max_v=110.0,
    dc_current_max_a=12.5, night_draw_w=0.2,
)  # fmt: skip

FILLED = [(TWIN, InputWiring()), (IN_SERIES, InputWiring(2)), (IN_SERIES, InputWiring(2, "parallel"))]


def energy_of(count: int, microinverter: Microinverter, home_use: HomeUse = AT_HOME) -> LifetimeEnergy:
    """Of one face with so many modules."""
    roof = roof_of((180.0,))
    household = Household.of(home_use, TARIFF, roof.dc.time)
    return lifetime_energy(replace(roof, counts=np.array([float(count)]), household=household), microinverter)


def test_three_modules_on_a_twin_are_a_full_unit_and_one_with_a_single_module() -> None:
    three, full, single = energy_of(3, TWIN), energy_of(2, TWIN), energy_of(1, ALONE)
    for name in ("balance_kwh", "delivered_kwh", "lost_kwh"):
        np.testing.assert_allclose(getattr(three, name), getattr(full, name) + getattr(single, name), rtol=1e-12, atol=1e-9)
    assert three.night_kwh == pytest.approx(full.night_kwh + single.night_kwh, rel=1e-12)
    np.testing.assert_allclose(three.roof.home_kwh, full.roof.home_kwh + single.roof.home_kwh, rtol=1e-12)
    np.testing.assert_allclose(three.months.home_kwh, full.months.home_kwh + single.months.home_kwh, rtol=1e-12)
    clipped_kwh = [each.clipped_share_hourly_means[0] * each.balance.unlimited_kwh for each in (three, full, single)]
    assert clipped_kwh[0] == pytest.approx(clipped_kwh[1] + clipped_kwh[2], rel=1e-12)
    assert full.balance.clipped_share > 1.3 * three.balance.clipped_share > 0.01
    assert single.balance.clipping_kwh == 0.0
    # A balance still adds up.
    (of_face,) = three.balances
    assert of_face.unshaded_kwh == pytest.approx(sum(losses(of_face).values()) + of_face.delivered_kwh, rel=1e-12)
    assert of_face.available_kwh == of_face.unshaded_kwh, "without shade"


@pytest.mark.parametrize("home_use", [load(500.0), HomeUse(0.3, None, 800.0)], ids=["load", "limit"])
def test_behind_a_limit_the_powers_of_both_units_add_up(home_use: HomeUse) -> None:
    three = energy_of(3, TWIN, home_use)
    roof = roof_of((180.0,))
    full, single = (power_steps(roof.dc.response, each).delivered_w for each in (TWIN, ALONE))
    power_w = np.bincount(roof.dc.moment, weights=2.0 * full + single, minlength=roof.dc.time.weight_h.size)
    home_w = np.minimum(power_w, 500.0) if home_use.load_w is not None else 0.3 * power_w
    exported_w = np.minimum(power_w - home_w, home_use.export_limit_w or np.inf)
    home_kwh, exported_kwh = (float(each @ roof.dc.time.weight_h) / 1000.0 for each in (home_w, exported_w))
    assert three.roof.home_kwh[0] + three.night_kwh == pytest.approx(home_kwh, rel=1e-9)
    assert three.roof.exported_kwh[0] == pytest.approx(exported_kwh, rel=1e-9)


@pytest.mark.parametrize("wiring", ["series", "parallel"])
def test_the_last_input_has_its_own_limits(wiring: Any) -> None:
    """Three modules on an input for two and one: each input by its own voltage and current, the unit by their sum."""
    response = roof_of((180.0,)).dc.response
    of_unit = replace(IN_SERIES, start_power_w=0.0, dc_current_max_a=12.5 if wiring == "series" else 25.0)
    three = power_steps(response, of_unit, input_wiring=InputWiring(2, wiring), module_count=3)
    pair, last = (
        power_steps(response, of_unit, input_wiring=InputWiring(modules, wiring), module_count=modules) for modules in (2, 1)
    )
    np.testing.assert_allclose(three.at_input_w * 3.0, pair.at_input_w * 2.0 + last.at_input_w, rtol=1e-9, atol=1e-9)
    assert three.converted_w.max() <= three.at_input_w.max()
    if wiring == "parallel":
        # The lone module has the input's whole current.
        assert last.input_current.index.size == 0 < pair.input_current.index.size


@settings(max_examples=settings().max_examples // 2)
@given(
    st.integers(1, 11),
    st.sampled_from([(TWIN, InputWiring()), (IN_SERIES, InputWiring(2)), (IN_SERIES, InputWiring(2, "parallel"))]),
)
def test_a_further_module_never_lowers_energy(count: int, unit_wiring: tuple[Microinverter, InputWiring]) -> None:
    given_unit, wiring = unit_wiring
    roof = replace(roof_of((180.0,)), input_wiring=wiring)
    fewer, more = (lifetime_energy(replace(roof, counts=np.array([float(each)])), given_unit) for each in (count, count + 1))
    assert np.all(more.delivered_kwh >= fewer.delivered_kwh)
    assert more.balance.available_kwh == pytest.approx(fewer.balance.available_kwh * (count + 1) / count)
    assert np.all(more.balance_kwh >= -1e-9)


@pytest.mark.parametrize("count", [1, 3, 4, 7])
def test_clipping_and_selection_agree(count: int) -> None:
    roof = roof_of((180.0,))
    mine, theirs = (
        energy_of(count, TWIN),
        pairing_year(roof.dc.response, TWIN, module_count=count, degradation_share_per_year=0.005),
    )
    for name in EnergyBalance.__slots__:
        assert getattr(mine.balance, name) == pytest.approx(count * getattr(theirs.year, name), rel=1e-9, abs=1e-9), name
    for year, aged in zip(AGES, theirs.ageing, strict=True):
        assert mine.delivered_kwh[0, year - 1] == pytest.approx(count * aged.delivered_kwh, rel=1e-9)
    assert clipped_share(roof.dc.response, TWIN, module_count=count) == pytest.approx(theirs.year.clipped_share, rel=1e-9)


def test_the_mean_module_of_a_face() -> None:
    response = real_response()
    three, full, single = (
        pairing_year(response, each, module_count=count) for each, count in ((TWIN, 3), (TWIN, 2), (ALONE, 1))
    )

    def mean(of: Any) -> Any:
        return (2.0 * of(full) + of(single)) / 3.0

    def check(of: Any) -> None:
        np.testing.assert_allclose(of(three), mean(of), rtol=1e-9, atol=1e-9)

    check(lambda year: year.clipped_hours_h)
    check(lambda year: year.clipped_kwh_by_month_hour)
    check(lambda year: [month.delivered_kwh for month in year.months] * np.ones(1))
    hours: list[float] = [_hours_above(each, 250.0) for each in (three, full, single)]
    assert hours[0] == pytest.approx((2.0 * hours[1] + hours[2]) / 3.0, rel=0.05)


def _hours_above(year: PairingYear, power_w: float) -> float:
    return float(np.interp(power_w, year.duration.ac_power_w, year.duration.hours_h))


def test_faces_with_and_without_a_rest() -> None:
    counts = {90.0: 4, 180.0: 3, 270.0: 1}
    faces = tuple(replace(roof_face(azimuth), module_count=count) for azimuth, count in counts.items())
    asked = request(offer(640.0, 1.0), faces=faces)
    cache = FaceCache(amsterdam_year(), asked.transposition)
    dc = roof_dc(cache, faces=faces, module=module_420(), parameters=fit(module_420()))
    energy = lifetime_energy(RoofTerms.of(asked, dc), TWIN)
    for index, face in enumerate(faces):
        own_dc = roof_dc(cache, faces=(face,), module=module_420(), parameters=fit(module_420()))
        alone = lifetime_energy(RoofTerms.of(replace(asked, faces=(face,)), own_dc), TWIN)
        np.testing.assert_allclose(energy.balance_kwh[index], alone.balance_kwh[0], rtol=1e-12, atol=1e-9)
        np.testing.assert_allclose(energy.delivered_kwh[index], alone.delivered_kwh[0], rtol=1e-12)


@pytest.mark.parametrize("home_use", [AT_HOME, load(400.0)], ids=["share", "load"])
def test_break_evens_see_the_half_filled_unit(home_use: HomeUse) -> None:
    faces = tuple(replace(roof_face(azimuth), module_count=count) for azimuth, count in ((180.0, 5), (90.0, 2)))
    twins = [offer(power, 150.0 + power / 10.0, input_count=2) for power in (560.0, 680.0)]
    asked = request(*twins, faces=faces, home_use=home_use)
    (even,) = select(asked).break_evens
    gains = even.places[0].gains
    for index in (2, 4, 8):
        module = ModuleOffer(scaled_module(module_420(), float(even.module_power_w[index]) / 420.0), None)
        small, large = net_present_values(replace(asked, modules=(module,)))
        assert gains[index] == pytest.approx(large - small, abs=0.01 * float(np.ptp(gains))), index


@pytest.mark.parametrize(("count", "start_v", "verdict"), [(4, 50.0, "ok"), (5, 20.0, "ok"), (5, 50.0, "fail")])
def test_a_shorter_input_in_series_is_checked(count: int, start_v: float, verdict: str) -> None:
    """Two in series start at 50 V; the one left over on the last input does not."""
    microinverter = replace(IN_SERIES, dc_start_voltage_v=start_v, dc_full_power_voltage_max_v=110.0, dc_current_max_a=20.0)
    asked = request(
        replace(offer(1300.0, 300.0), microinverter=microinverter),
        faces=(replace(roof_face(180.0), module_count=count),),
        input_wiring=InputWiring(2),
    )
    (candidate,) = select(asked).candidates
    start = [each for each in candidate.reasons if each.name == "start_voltage_hot"]
    assert [each.verdict for each in start] == (["fail"] if verdict == "fail" else [])
    assert all("only 1 in series" in english(each.explanation) for each in start)
    assert (candidate.rank is None) == (verdict == "fail")

"""A roof under shade behind the one definition of a year: what hides nothing changes nothing, and units share it rightly."""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache

import numpy as np
import pytest

from tests.builders import MODULE
from tests.selection_cases import AT_HOME, offer, request
from tests.shade_scenes import shaded_roof
from tests.validation.yields import unit
from wattpair_service.climate.site_year import site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import BuiltInClimate
from wattpair_service.engineering.energy.clipping import ClippingRequest, clipping
from wattpair_service.engineering.energy.condensed_points import condensed
from wattpair_service.engineering.energy.energy_balance import EnergyBalance, pairing_year
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.home_use import HomeUse
from wattpair_service.engineering.energy.lifetime_energy import LifetimeEnergy, lifetime_energy, lifetime_splits
from wattpair_service.engineering.energy.roof_dc import RoofDc, roof_dc
from wattpair_service.engineering.energy.shade_loss import face_shade
from wattpair_service.engineering.equipment import ONE_MODULE, InputWiring, Microinverter
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.selection.request import RoofTerms
from wattpair_service.engineering.shade.scene import RoofObject, Shade
from wattpair_service.engineering.site import Site
from wattpair_service.engineering.site_year import SiteYear

LOADS_W = np.tile([300.0] * 7 + [600.0] * 2 + [300.0] * 9 + [700.0] * 3 + [300.0] * 3, (12, 1))
USES = (AT_HOME, HomeUse(None, LOADS_W, None), HomeUse(None, LOADS_W, 3000.0))
SERIES = InputWiring(2, "series")
ONE = unit(310.0)
WINDOW = replace(ONE, dc_operating_voltage_min_v=26.0)
LOCAL = replace(ONE, tracker="local")
TWIN = replace(ONE, ac_power_w=620.0, ac_peak_power_w=620.0, input_count=2)


@cache
def built_in_year() -> SiteYear:
    """A mild place with the built-in climate."""
    return site_year(Site(48.0, 11.0, None, None, None), BuiltInClimate(), StationFolder())


@cache
def dc_of(*faces: Face) -> RoofDc:
    """DC response of the module on these faces."""
    return roof_dc(FaceCache(built_in_year(), "perez_1990"), faces=faces, module=MODULE, parameters=fit(MODULE))


def terms_of(dc: RoofDc, faces: tuple[Face, ...], use: HomeUse = AT_HOME, wiring: InputWiring = ONE_MODULE) -> RoofTerms:
    """The roof of a selection."""
    asked = replace(request(offer(310.0, 100.0)), faces=faces, home_use=use, input_wiring=wiring)
    return RoofTerms.of(asked, dc)


def lifetime(
    faces: tuple[Face, ...], microinverter: Microinverter, use: HomeUse = AT_HOME, wiring: InputWiring = ONE_MODULE
) -> LifetimeEnergy:
    """Of a microinverter on these faces."""
    return lifetime_energy(terms_of(dc_of(*faces), faces, use, wiring), microinverter)


SHADED = shaded_roof()
PLAIN = replace(SHADED, horizon=(), shade=None)
HIDES_NOTHING = replace(
    PLAIN,
    shade=Shade(
        objects=(RoofObject("slate", ((-60.0, 1.0), (-59.5, 1.0), (-59.5, 1.5), (-60.0, 1.5)), 0.01),),
        placement=None if SHADED.shade is None else SHADED.shade.placement,
    ),
)
EAST = replace(PLAIN, name="east", azimuth_deg=90.0, module_count=6)


@pytest.mark.parametrize("use", USES)
@pytest.mark.parametrize("microinverter", [ONE, TWIN])
def test_what_hides_nothing_changes_nothing(use: HomeUse, microinverter: Microinverter) -> None:
    plain, same = (lifetime((face, EAST), microinverter, use) for face in (PLAIN, HIDES_NOTHING))
    np.testing.assert_allclose(same.balance_kwh, plain.balance_kwh, rtol=1e-12, atol=1e-9)
    for name in ("home_kwh", "exported_kwh", "cut_kwh", "home_value", "exported_value"):
        np.testing.assert_allclose(getattr(same.roof, name), getattr(plain.roof, name), rtol=1e-12, atol=1e-9)
        np.testing.assert_allclose(getattr(same.faces, name), getattr(plain.faces, name), rtol=1e-12, atol=1e-9)
    np.testing.assert_allclose(same.clipped_share_hourly_means, plain.clipped_share_hourly_means, rtol=1e-12)
    np.testing.assert_allclose(same.months.home_kwh, plain.months.home_kwh, rtol=1e-12)


WIRED = [(ONE, ONE_MODULE), (LOCAL, ONE_MODULE), (TWIN, ONE_MODULE), (ONE, SERIES)]


@pytest.mark.parametrize("use", USES)
@pytest.mark.parametrize(("microinverter", "wiring"), WIRED)
def test_a_balance_adds_up_and_is_split_whole(microinverter: Microinverter, wiring: InputWiring, use: HomeUse) -> None:
    energy = lifetime((SHADED, EAST), microinverter, use, wiring)
    for balance in energy.balances:
        losses = sum(getattr(balance, each.name) for each in fields(EnergyBalance) if each.name not in WHOLE)
        assert balance.unshaded_kwh - losses == pytest.approx(balance.delivered_kwh, rel=1e-9)
        assert all(getattr(balance, each.name) >= -1e-9 for each in fields(EnergyBalance))
    assert energy.balances[0].shade_irradiance_kwh > 0.0 < energy.balances[0].shade_mismatch_kwh
    assert energy.balances[1].shade_irradiance_kwh == energy.balances[1].shade_mismatch_kwh == 0.0
    split = energy.roof.home_kwh[0] + energy.roof.exported_kwh[0] + energy.roof.cut_kwh[0]
    assert split == pytest.approx(sum(each.delivered_kwh for each in energy.balances), rel=1e-9)


WHOLE = ("unshaded_kwh", "available_kwh", "delivered_kwh")
"""Terms of a balance that are no losses."""


def test_a_global_tracker_gives_no_less_than_a_local_one_or_a_narrow_window() -> None:
    of_one, of_local, of_window = (lifetime((SHADED,), each).balance for each in (ONE, LOCAL, WINDOW))
    assert of_one.tracker_kwh == of_window.tracker_kwh == 0.0 < of_local.tracker_kwh
    assert of_window.voltage_window_kwh > of_one.voltage_window_kwh
    # The window's lower end keeps the unit at the maximum of the highest voltage, as the local tracker stays there.
    assert of_window.voltage_window_kwh == pytest.approx(of_local.tracker_kwh + of_local.voltage_window_kwh, rel=0.02)
    assert of_one.delivered_kwh > of_local.delivered_kwh


def test_a_twin_lends_the_limit_of_a_shaded_module_to_the_other() -> None:
    single, twin = (lifetime((SHADED,), each).balance for each in (ONE, TWIN))
    assert twin.available_kwh == pytest.approx(single.available_kwh, rel=1e-9)
    assert 0.8 * single.clipping_kwh < twin.clipping_kwh < single.clipping_kwh


def test_modules_in_series_lose_more_to_mismatch() -> None:
    apart, together = (lifetime((SHADED,), ONE, wiring=wiring).balance for wiring in (ONE_MODULE, SERIES))
    assert together.shade_irradiance_kwh == pytest.approx(apart.shade_irradiance_kwh, rel=1e-9)
    assert 1.1 * apart.shade_mismatch_kwh < together.shade_mismatch_kwh < 2.5 * apart.shade_mismatch_kwh


@pytest.mark.parametrize("use", [USES[0], USES[2]])
@pytest.mark.parametrize(("microinverter", "miss"), [(ONE, 0.0005), (LOCAL, 0.0005), (WINDOW, 0.0005), (TWIN, 0.0005)])
def test_condensed_points_come_near_all_points(microinverter: Microinverter, miss: float, use: HomeUse) -> None:
    roof = terms_of(dc_of(SHADED, EAST), (SHADED, EAST), use)
    few = condensed(roof.dc, moments=not roof.household.by_share)
    assert few.response.weight_h.size < roof.dc.response.weight_h.size / 2.0
    factors = np.array([[0.8], [1.0], [1.25]])
    of_few = replace(roof, dc=few, household=roof.household.coarse(few.time))
    (_, every), (_, condensed_roof) = (lifetime_splits(each, microinverter, factors, 1.0) for each in (roof, of_few))
    np.testing.assert_allclose(condensed_roof.useful_kwh, every.useful_kwh, rtol=miss)


def test_clipping_and_lifetime_give_the_same_balance() -> None:
    asked = ClippingRequest(MODULE, (ONE, TWIN, LOCAL), (SHADED, EAST), "perez_1990", ONE_MODULE, 0.005)
    answered = clipping(asked, built_in_year())
    for number, microinverter in enumerate(asked.microinverters):
        energy = lifetime((SHADED, EAST), microinverter)
        for face, balance in zip(answered.faces, energy.balances, strict=True):
            per_module = face.pairings[number].per_module.year
            for each in fields(EnergyBalance):
                whole = getattr(per_module, each.name) * face.module_count
                assert whole == pytest.approx(getattr(balance, each.name), rel=1e-9, abs=1e-9)
            assert face.pairings[number].clipped_share_hourly_means <= face.pairings[number].clipped_share.value + 1e-9


def test_modules_add_up_to_their_face() -> None:
    shade = face_shade(FaceCache(built_in_year(), "perez_1990"), SHADED, MODULE, fit(MODULE))
    assert shade is not None
    balance = lifetime((SHADED,), ONE).balance
    assert shade.unshaded_kwh == pytest.approx(balance.unshaded_kwh, rel=1e-9)
    lost_kwh = sum(each.loss_kwh for each in shade.modules)
    assert lost_kwh == pytest.approx(balance.unshaded_kwh - balance.available_kwh, rel=0.005)
    assert shade.loss_share.low < shade.loss_share.value < shade.loss_share.high
    assert shade.loss_kwh_by_month.sum() == pytest.approx(lost_kwh, rel=1e-9)


def test_a_flat_share_of_the_same_loss_clips_far_less() -> None:
    """As irradiance falls everywhere, and not where and when something stands before the sun."""
    balance = lifetime((SHADED,), ONE).balance
    share = 1.0 - balance.available_kwh / balance.unshaded_kwh
    flat = lifetime((replace(PLAIN, shading_share=share),), ONE).balance
    assert flat.available_kwh == pytest.approx(balance.available_kwh, rel=0.01)
    assert flat.clipping_kwh < 0.8 * balance.clipping_kwh


def test_an_odd_module_is_on_a_unit_of_its_own() -> None:
    assert SHADED.shade is not None
    assert SHADED.shade.placement is not None
    placement = replace(SHADED.shade.placement, corners=SHADED.shade.placement.corners[:5])
    face = replace(SHADED, module_count=5, shade=replace(SHADED.shade, placement=placement))
    shaded = FaceCache(built_in_year(), "perez_1990").shaded_face(face, MODULE, fit(MODULE))
    last = shaded.units(4, 1, ONE_MODULE, 1).response
    alone = float(last.maximum_power.power_w @ last.weight_h)
    assert alone == pytest.approx(float(shaded.module_energy_wh()[4].sum()), rel=0.01)
    year = pairing_year(shaded, TWIN, module_count=5)
    assert year.year.available_kwh * 5000.0 == pytest.approx(float(shaded.module_energy_wh().sum()), rel=0.002)

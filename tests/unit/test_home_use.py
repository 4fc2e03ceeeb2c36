"""The split of a year between home and grid, held against plain loops over its hours."""

from __future__ import annotations

from calendar import monthrange
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from tests.builders import numbers, scaled_module
from tests.household_loads import KINDS, household_load_w
from tests.open_data import amsterdam_epw, pvlib_bundled
from tests.selection_cases import AT_HOME, DESIGN, TARIFF, amsterdam_year, offer, request, select
from tests.unit.test_selection import roof_of
from tests.validation.yields import AMSTERDAM, module_420
from wattpair_service.climate import atlas
from wattpair_service.climate.files import from_text
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.home_use import HomeUse, Household, Tariff
from wattpair_service.engineering.energy.lifetime_energy import LifetimeEnergy, lifetime_energy
from wattpair_service.engineering.energy.roof_dc import roof_dc
from wattpair_service.engineering.energy.system_losses import LossShares, at_meter
from wattpair_service.engineering.inverter.power_steps import power_steps
from wattpair_service.engineering.irradiance.conditions import HourlyWeather, from_hourly
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.selection.request import ModuleOffer, RoofTerms
from wattpair_service.engineering.selection.selection import selection
from wattpair_service.engineering.site_year import SiteYear
from wattpair_service.rules import electrical_rules

UNIT = offer(330.0, None, night_draw_w=0.0).microinverter
NIGHT_W = 0.06
DRAWING = replace(UNIT, night_draw_w=NIGHT_W)
AZIMUTHS = (90.0, 180.0)
START = datetime(2023, 1, 1)


def changing_prices() -> Tariff:
    """Prices that differ by hour, month and weekend."""
    by_hour = 0.2 + 0.1 * np.sin(np.arange(24) / 4.0)
    import_price = by_hour + 0.01 * np.arange(12)[:, None] - np.array([0.0, 0.07])[:, None, None]
    return Tariff(import_price, 0.3 * import_price, 0.0)


def roof_in(year: SiteYear, home_use: HomeUse = AT_HOME, tariff: Tariff = TARIFF) -> RoofTerms:
    """Two faces of ten modules."""
    asked = request(offer(330.0, None), azimuths=AZIMUTHS, home_use=home_use, tariff=tariff)
    cache = FaceCache(year, asked.transposition)
    dc = roof_dc(cache, faces=asked.faces, module=module_420(), parameters=fit(module_420()))
    return RoofTerms.of(asked, dc)


def climate_at(weather: HourlyWeather) -> SiteYear:
    """The built-in climate where a weather file is from."""
    climate = atlas.at(weather.latitude_deg, weather.longitude_deg, weather.elevation_m)
    turbidity = climate.linke_turbidity_by_month
    return SiteYear(atlas.conditions(climate), AMSTERDAM, DESIGN, "representative_days", linke_turbidity_by_month=turbidity)


@cache
def climate_roof() -> RoofTerms:
    return roof_in(climate_at(from_text(amsterdam_epw(), file_format="epw")))


def living(roof: RoofTerms, home_use: HomeUse, tariff: Tariff = TARIFF) -> RoofTerms:
    """The same roof on another house."""
    return replace(roof, household=Household.of(home_use, tariff, roof.dc.time))


def moment_powers(roof: RoofTerms) -> FloatArray:
    """Power of the roof at each of its moments in the first year [W]."""
    delivered_w = power_steps(roof.dc.response, UNIT).delivered_w * roof.counts[roof.dc.face]
    return np.bincount(roof.dc.moment, weights=delivered_w, minlength=roof.dc.time.weight_h.size).astype(np.float64)


def price_at(prices: Any, when: datetime, weekday: int) -> float:
    if isinstance(prices, float):
        return prices
    day = (when - datetime(when.year, 1, 1)).days
    return float(prices[int((weekday + day) % 7 >= 5), when.month - 1, when.hour])


def looped(pairs: list[tuple[float, float, float, float, float]], limit_w: float | None) -> tuple[float, ...]:
    """Home and export [kWh] and their values, of (hours, power, load, import price, export price)."""
    home = exported = home_value = exported_value = 0.0
    for hours, power_w, load_w, import_price, export_price in pairs:
        used_w = min(power_w, load_w)
        sold_w = power_w - used_w if limit_w is None else min(power_w - used_w, limit_w)
        home += hours * used_w
        exported += hours * sold_w
        home_value += hours * used_w * import_price
        exported_value += hours * sold_w * export_price
    return tuple(each / 1000.0 for each in (home, exported, home_value, exported_value))


def first_year(energy: LifetimeEnergy) -> tuple[float, ...]:
    split = energy.roof
    return tuple(float(each[0]) for each in (split.home_kwh, split.exported_kwh, split.home_value, split.exported_value))


@pytest.mark.parametrize("losses", [LossShares(0.0, 0.0, 0.0, 0.0), LossShares(0.03, 0.1, 0.02, 0.04)], ids=["none", "losses"])
@pytest.mark.parametrize("limit_w", [None, 1500.0])
@pytest.mark.parametrize("tariff", [TARIFF, changing_prices()], ids=["flat", "by hour"])
@pytest.mark.parametrize(("car", "heat_pump"), [("midday", False), ("evening", True)])
def test_with_hourly_weather_each_hour_meets_its_own_load(
    car: str, heat_pump: bool, tariff: Tariff, limit_w: float | None, losses: LossShares
) -> None:
    """Mismatch and cables take of every hour's power, before load and limit; outages of all energy after them."""
    load_w, roof = household_load_w(3, car, heat_pump=heat_pump), roof_of(AZIMUTHS)
    times = [START + timedelta(hours=hour) for hour in range(8760)]
    hour_of_year = roof.dc.time.hour_of_year
    assert hour_of_year is not None
    hour_of_moment = np.cumsum(np.diff(hour_of_year, prepend=-1) != 0) - 1
    # 3 % mismatch and 4 % in cables; 10 % snow and 2 % downtime.
    kept, outages = (0.97 * 0.96, 0.9 * 0.98) if losses.snow else (1.0, 1.0)
    pairs = [
        (
            outages * hours, kept * power_w, float(load_w[hour // 24, hour % 24]),
            price_at(tariff.import_price_per_kwh, times[hour], 2), price_at(tariff.export_price_per_kwh, times[hour], 2),
        )
        for hours, power_w, hour in zip(
            roof.dc.time.weight_h.tolist(), moment_powers(roof).tolist(), hour_of_moment.tolist(), strict=True
        )
    ]  # fmt: skip
    household = living(roof, HomeUse(None, load_w, limit_w, 2), tariff)
    energy = at_meter(lifetime_energy(household, UNIT, lambda _: losses.kept_power), losses.kept_hours)
    np.testing.assert_allclose(first_year(energy), looped(pairs, limit_w), rtol=1e-9)


@pytest.mark.parametrize("limit_w", [None, 1500.0])
@pytest.mark.parametrize("tariff", [TARIFF, changing_prices()], ids=["flat", "by hour"])
@pytest.mark.parametrize(("car", "heat_pump"), KINDS)
def test_with_the_built_in_climate_each_hour_meets_all_loads_of_its_month(
    car: str, heat_pump: bool, tariff: Tariff, limit_w: float | None
) -> None:
    load_w, roof = household_load_w(4, car, heat_pump=heat_pump), climate_roof()
    time, pairs = roof.dc.time, []
    for hours, power_w, month, hour in zip(
        time.weight_h.tolist(), moment_powers(roof).tolist(), time.month.tolist(), time.hour.tolist(), strict=True
    ):
        days = monthrange(2023, month)[1]
        for day in range(days):
            # In solar time an hour starts at another minute than on the clock.
            for beside, share in ((0, 1.0 - abs(time.after_hour_h)), (int(np.sign(time.after_hour_h)), abs(time.after_hour_h))):
                when = datetime(2023, month, day + 1, hour) + timedelta(hours=beside)
                when = when.replace(year=2023)
                load = float(load_w[(when - START).days, when.hour])
                prices = price_at(tariff.import_price_per_kwh, when, 0), price_at(tariff.export_price_per_kwh, when, 0)
                pairs.append((hours * share / days, power_w, load, *prices))
    energy = lifetime_energy(living(roof, HomeUse(None, load_w, limit_w), tariff), UNIT)
    np.testing.assert_allclose(first_year(energy), looped(pairs, limit_w), rtol=1e-9)


@pytest.mark.parametrize(("car", "heat_pump"), KINDS)
@pytest.mark.parametrize("seed", [1, 2])
def test_the_built_in_climate_gives_the_share_of_hourly_weather(car: str, heat_pump: bool, seed: int) -> None:
    """At a station where both have nearly the same energy: within 1 point with the loads spread alike.

    What is left is the climate's spread of sunny and dull hours. That each hour meets its own load and no other of its month
    moves the share by up to 0.7 points more: chance, and what load and weather have in common.
    """
    weather = from_text(pvlib_bundled("723170TYA.CSV"), file_format="tmy3")
    measured, built_in = station_roofs()
    use = HomeUse(None, household_load_w(seed, car, heat_pump=heat_pump), None, None, weather.utc_offset_h)
    apart = replace(measured.dc.time, hour_of_year=None)
    same_hour, any_day, by_climate = (
        lifetime_energy(roof, UNIT)
        for roof in (
            living(measured, use),
            replace(measured, household=Household.of(use, TARIFF, apart)),
            living(built_in, use),
        )
    )
    assert by_climate.balance.delivered_kwh == pytest.approx(any_day.balance.delivered_kwh, rel=0.015)
    shares = [100.0 * each.roof.home_kwh[0] / each.balance.delivered_kwh for each in (same_hour, any_day, by_climate)]
    assert shares[2] == pytest.approx(shares[1], abs=1.0)
    assert shares[1] == pytest.approx(shares[0], abs=0.7)


@cache
def station_roofs() -> tuple[RoofTerms, RoofTerms]:
    """The same roof in a station's typical year and in the built-in climate there."""
    weather = from_text(pvlib_bundled("723170TYA.CSV"), file_format="tmy3")
    measured = SiteYear(from_hourly(weather), AMSTERDAM, DESIGN, "measured_hourly")
    return roof_in(measured), roof_in(climate_at(weather))


def test_mean_days_overstate_the_share_used_at_home() -> None:
    load_w, roof = household_load_w(1, "midday"), roof_of(AZIMUTHS)
    months = pd.date_range("2023-01-01", periods=365).month.to_numpy()
    mean_days_w = np.array([load_w[months == month].mean(axis=0) for month in range(1, 13)])
    own, mean = (lifetime_energy(living(roof, HomeUse(None, each, None)), UNIT) for each in (load_w, mean_days_w))
    assert mean.roof.home_kwh[0] > 1.15 * own.roof.home_kwh[0]


@pytest.mark.parametrize("ahead_h", [-3.0, 0.0, 2.0])
def test_every_day_alike_is_a_mean_day(ahead_h: float) -> None:
    day_w = 200.0 + 50.0 * np.arange(24.0)
    for roof in (roof_of(AZIMUTHS), climate_roof()):
        offset = roof.dc.time.utc_offset_h + ahead_h
        alike, mean = (
            lifetime_energy(living(roof, HomeUse(None, np.tile(day_w, (days, 1)), 1500.0, None, offset)), UNIT)
            for days in (366, 12)
        )
        np.testing.assert_allclose(first_year(alike), first_year(mean), rtol=1e-12)


@pytest.mark.parametrize("days", [365, 366])
@pytest.mark.parametrize("is_hourly", [True, False])
def test_months_have_the_load_of_the_weathers_days(is_hourly: bool, days: int) -> None:
    """The weather's year has no 29 February."""
    roof = roof_of(AZIMUTHS) if is_hourly else climate_roof()
    load_w = np.random.default_rng(7).uniform(0.0, 3000.0, (days, 24))
    month = np.array([(datetime(2024 if days == 366 else 2023, 1, 1) + timedelta(days=day)).month for day in range(days)])
    sums = np.array([load_w[month == each].sum() for each in range(1, 13)])
    if days == 366:
        february = load_w[month == 2]
        sums[1] = february[:28].sum() if is_hourly else february.sum() * 28.0 / 29.0
    energy = lifetime_energy(living(roof, HomeUse(None, load_w, None)), UNIT)
    assert energy.months.load_kwh is not None
    np.testing.assert_allclose(energy.months.load_kwh, sums / 1000.0, rtol=1e-9)
    assert energy.roof.cut_kwh.tolist() == [0.0] * roof.remaining.size


@pytest.mark.parametrize("days", [365, 366])
def test_another_standard_time_moves_the_load(days: int) -> None:
    load_w = np.random.default_rng(5).uniform(0.0, 3000.0, (days, 24))
    # An hour ahead, the load's midnight is the weather's 23 o'clock of the day before.
    behind_w = np.roll(load_w, -1)
    for roof in (roof_of(AZIMUTHS), climate_roof()):
        offset = roof.dc.time.utc_offset_h
        ahead, same = (
            lifetime_energy(living(roof, HomeUse(None, each, None, None, utc_offset_h)), UNIT)
            for each, utc_offset_h in ((load_w, offset + 1.0), (behind_w, offset))
        )
        assert first_year(ahead) == first_year(same)


@settings(max_examples=settings().max_examples // 2)
@given(numbers(0.0, 1.0), numbers(0.5, 4000.0), st.integers(0, 100))
def test_what_is_exported_falls_with_the_limit_and_nothing_is_lost(share: float, limit_w: float, seed: int) -> None:
    load_w = household_load_w(seed % 5, "evening") * share
    for roof in (roof_of(AZIMUTHS), climate_roof()):
        free, limited = (lifetime_energy(living(roof, HomeUse(None, load_w, each)), UNIT) for each in (None, limit_w))
        for split in (free.roof, limited.roof):
            np.testing.assert_allclose(
                split.home_kwh + split.exported_kwh + split.cut_kwh, free.delivered_kwh.sum(axis=0), rtol=1e-4
            )
        np.testing.assert_allclose(limited.roof.home_kwh, free.roof.home_kwh, rtol=1e-12)
        assert np.all(limited.roof.exported_kwh <= free.roof.exported_kwh + 1e-9)
        assert np.all(limited.roof.cut_kwh >= -1e-6)
        # Exact in the first year; later years lie between ages, to 0.01 %.
        excess = limited.faces.home_kwh.sum(axis=0) - limited.roof.home_kwh
        assert excess[0] <= 1e-9 * limited.roof.home_kwh[0] + 1e-6
        assert np.all(excess <= 1e-4 * limited.roof.home_kwh)


@pytest.mark.parametrize("home_use", [HomeUse(0.4, None, None), HomeUse(None, household_load_w(2, "midday"), 2000.0)])
@pytest.mark.parametrize("where", ["hourly", "climate"])
def test_months_and_prices_add_up(home_use: HomeUse, where: str) -> None:
    roof = roof_of(AZIMUTHS) if where == "hourly" else climate_roof()
    flat = lifetime_energy(living(roof, home_use), DRAWING)
    assert flat.months.home_kwh.sum() == pytest.approx(flat.roof.home_kwh[0], rel=1e-9)
    assert flat.months.exported_kwh.sum() == pytest.approx(flat.roof.exported_kwh[0], rel=1e-9)
    np.testing.assert_allclose(flat.roof.home_value, flat.roof.home_kwh * TARIFF.import_price_per_kwh, rtol=1e-12)
    if home_use.load_w is not None:
        imported = flat.months.imported_kwh
        assert imported is not None
        assert imported.sum() + flat.roof.home_kwh[0] == pytest.approx(home_use.load_w.sum() / 1000.0)
    # The same price in every hour, given by hour.
    full = np.ones((2, 12, 24))
    by_hour = Tariff(0.28 * full, 0.07 * full, 0.0)
    same = lifetime_energy(living(roof, home_use, by_hour), DRAWING)
    np.testing.assert_allclose(first_year(same), first_year(flat), rtol=1e-9)


def test_the_night_draw_is_bought_at_the_price_of_the_night() -> None:
    prices = np.where((np.arange(24) >= 9) & (np.arange(24) < 15), 0.0, 1.0) * np.ones((2, 12, 1))
    for roof in (roof_of(AZIMUTHS), climate_roof()):
        free, drawing = (
            lifetime_energy(living(roof, HomeUse(0.3, None, None), Tariff(prices, 0.0, 0.0)), each) for each in (UNIT, DRAWING)
        )
        cost = free.roof.home_value[0] - drawing.roof.home_value[0]
        # Between 9 and 15 o'clock hardly an hour is idle.
        assert cost == pytest.approx(drawing.night_kwh, rel=0.03)
        assert cost < drawing.night_kwh


def test_prices_by_hour_reach_the_ranking() -> None:
    cheap_noon = np.where((np.arange(24) >= 10) & (np.arange(24) < 15), 0.02, 0.32) * np.ones((2, 12, 1))
    units = (offer(290.0, 100.0), offer(366.0, 101.0))
    flat = select(request(*units))
    by_hour = select(request(*units, tariff=Tariff(cheap_noon, 0.02 + 0.0 * cheap_noon, 0.0)))
    gaps = [each.break_evens[0].places[0].price_gap.value for each in (flat, by_hour)]
    # What the larger unit adds comes around noon, when it is worth little.
    assert 0.0 < gaps[1] < 0.35 * gaps[0]
    assert [each.name for each in by_hour.sensitivities if each.name == "share_used_at_home"] == []
    assert "first_weekday" not in [each.name for each in by_hour.assumptions]
    weekend = np.stack([cheap_noon[0], 0.5 * cheap_noon[0]])
    assert "first_weekday" in [each.name for each in select(request(*units, tariff=Tariff(weekend, 0.02, 0.0))).assumptions]


@pytest.mark.parametrize("hourly", [True, False])
def test_break_even_curves_see_the_load_as_selections_do(hourly: bool) -> None:
    """Curves over condensed points and a coarse load lie near the gain over all points."""
    year = amsterdam_year() if hourly else climate_at(from_text(amsterdam_epw(), file_format="epw"))
    use = HomeUse(None, household_load_w(1, "midday", heat_pump=True), 3000.0)
    asked = request(offer(290.0, 100.0), offer(340.0, 110.0), azimuths=AZIMUTHS, home_use=use, tariff=changing_prices())

    def net_values(power_w: float) -> list[float]:
        module = ModuleOffer(scaled_module(module_420(), power_w / 420.0), None)
        found: Any = selection(replace(asked, modules=(module,)), electrical_rules("international"), year).candidates
        return [each.money.net_present_value for each in found]

    (even,) = selection(asked, electrical_rules("international"), year).break_evens
    gains = even.places[0].gains
    for index in (2, 5, 8):
        small, large = net_values(float(even.module_power_w[index]))
        assert gains[index] == pytest.approx(large - small, abs=0.015 * float(np.ptp(gains))), index

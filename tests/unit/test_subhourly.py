"""Subhourly variability: it conserves the hour, adds clipping and nothing else, and states its range."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any, get_args

import numpy as np
import pytest

from tests.builders import FACE, UNLIMITED, real_response, real_weather, real_year
from wattpair_service.engineering.energy.energy_balance import clipped_share, pairing_year
from wattpair_service.engineering.equipment import Microinverter
from wattpair_service.engineering.irradiance.plane_of_array import plane_of_array
from wattpair_service.engineering.irradiance.subhourly import (
    VARIABILITY_ADDED,
    IrradianceOrigin,
    SubhourlyStates,
    change_around,
    clipped_share_range,
    state_irradiance,
    subhourly_states,
)
from wattpair_service.engineering.irradiance.subhourly_on_faces import FaceStates, states_on_faces
from wattpair_service.engineering.module.dc_response import DcResponse, subhourly_points, with_subhourly_points


@cache
def states(origin: IrradianceOrigin = "measured_hourly") -> SubhourlyStates:
    return subhourly_states(
        real_year(), origin=origin, elevation_m=real_weather().elevation_m, linke_turbidity_by_month=(3.0,) * 12
    )


@cache
def on_face(origin: IrradianceOrigin = "measured_hourly") -> FaceStates:
    plane = plane_of_array(real_year(), FACE, transposition="perez_1990")
    (found,) = states_on_faces(
        real_year(), (plane,), states(origin), faces=(FACE,), transposition="perez_1990", power_coefficient_per_k=-0.0034
    )
    return found


@cache
def response(origin: IrradianceOrigin = "measured_hourly") -> DcResponse:
    plane = plane_of_array(real_year(), FACE, transposition="perez_1990")
    return with_subhourly_points(real_response(FACE), subhourly_points(plane, on_face(origin)))


def limited(ac_power_w: float, **changes: Any) -> Microinverter:
    return replace(UNLIMITED, ac_power_w=ac_power_w, ac_peak_power_w=ac_power_w, **changes)


def test_the_states_of_an_hour_have_its_means() -> None:
    inside, year = states(), real_year()
    irradiance, at = state_irradiance(year, inside), inside.index
    assert at.size > 1000
    np.testing.assert_allclose(inside.weight.sum(axis=1), 1.0, rtol=1e-12)
    for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2"):
        of_states, of_hour = getattr(irradiance, name), getattr(year, name)[at]
        np.testing.assert_allclose((of_states * inside.weight).sum(axis=1), of_hour, rtol=1e-9, atol=1e-9, err_msg=name)
    assert irradiance.dni_w_m2.max() <= year.dni_extra_w_m2.max()
    for ratio in (on_face().power_ratio, on_face().irradiance_ratio):
        np.testing.assert_allclose((ratio * on_face().weight).sum(axis=1), 1.0, rtol=1e-12)
    assert response().weight_h.sum() + response().dark_hours_by_month.sum() == pytest.approx(8760.0, rel=1e-12)


@pytest.mark.parametrize("unit", [UNLIMITED, replace(UNLIMITED, input_count=2)], ids=["one input", "two inputs"])
def test_without_a_limit_the_energy_of_the_year_is_unchanged(unit: Microinverter) -> None:
    plain, inside = pairing_year(real_response(FACE), unit).year, pairing_year(response(), unit).year
    assert inside.clipping_kwh == plain.clipping_kwh == 0.0
    assert inside.available_kwh == pytest.approx(plain.available_kwh, rel=1e-9)
    # Each state is converted at its own power, which changes the AC energy by less than 0.06 %.
    assert inside.delivered_kwh == pytest.approx(plain.delivered_kwh, rel=6e-4)


@pytest.mark.parametrize("limit_w", [250.0, 300.0, 350.0])
def test_it_clips_more_than_hourly_means(limit_w: float) -> None:
    plain, inside = (clipped_share(each, limited(limit_w)) for each in (real_response(FACE), response()))
    assert plain < inside < plain + 0.04
    assert inside == pytest.approx(pairing_year(response(), limited(limit_w)).year.clipped_share, rel=1e-12)


def test_a_peak_rating_saves_some_short_surges_and_nothing_else() -> None:
    peak = replace(limited(300.0), ac_peak_power_w=330.0)
    low, between, high = (clipped_share(response(), unit) for unit in (limited(300.0), peak, limited(330.0)))
    assert high < between < low
    plain = clipped_share(real_response(FACE), peak)
    assert plain == clipped_share(real_response(FACE), limited(300.0)), "hourly means have no surges"


def test_short_surges_reach_the_input_current_limit_too() -> None:
    unit = replace(UNLIMITED, dc_current_max_a=10.0)
    plain, inside = (pairing_year(each, unit).year for each in (real_response(FACE), response()))
    assert inside.input_current_limit_kwh > plain.input_current_limit_kwh


def test_clipping_shrinks_as_the_module_ages() -> None:
    first, tenth, last = pairing_year(response(), limited(300.0), degradation_share_per_year=0.005).ageing
    assert (first.year, tenth.year, last.year) == (1, 10, 25)
    year = pairing_year(response(), limited(300.0)).year
    assert first.clipped_share == pytest.approx(year.clipped_share, rel=1e-12)
    assert first.delivered_kwh == pytest.approx(year.delivered_kwh, rel=1e-12)
    assert last.remaining_share == pytest.approx(0.88665, abs=5e-6), "0.995 to the 24th, published: Jordan and Kurtz"
    assert first.clipped_share > tenth.clipped_share > last.clipped_share > 0.0
    assert last.delivered_kwh > first.delivered_kwh * last.remaining_share, "less clipping makes up for some of it"


def test_snapshots_add_less() -> None:
    unit = limited(300.0)
    hourly, half, quarter = (
        clipped_share(response(origin), unit) for origin in ("measured_hourly", "satellite_30_min", "satellite_60_min")
    )
    plain = clipped_share(real_response(FACE), unit)
    assert plain < quarter < half < hourly
    # The factor's share of it: what the snapshots lack, as `calibrate_origins` finds it.
    assert (quarter - plain) / (hourly - plain) == pytest.approx(VARIABILITY_ADDED["satellite_60_min"], abs=0.05)


@pytest.mark.parametrize("origin", get_args(IrradianceOrigin))
def test_no_state_has_a_negative_weight(origin: IrradianceOrigin) -> None:
    """Data that are smoother than hourly means get more variability than these lack, but never more than there can be."""
    assert (states(origin).weight >= 0.0).all()
    assert states(origin).variable_share.max() <= 1.0


@pytest.mark.parametrize("origin", get_args(IrradianceOrigin))
def test_the_range_holds_the_share_and_is_never_below_the_hourly_one(origin: IrradianceOrigin) -> None:
    for hourly, share in ((0.0, 0.002), (0.01, 0.025), (0.05, 0.06)):
        low, high = clipped_share_range(share=share, hourly_share=hourly, states=states(origin))
        assert hourly <= low <= share < high


def test_the_range_of_measured_hours_is_the_published_one() -> None:
    """SUBHOURLY.md: 0.2 points, plus 0.15 and 0.4 times the scarcity of bright hours of what the variability adds."""
    low, high = clipped_share_range(share=0.03, hourly_share=0.01, states=replace(states(), scarcity=0.5))
    assert (low, high) == pytest.approx((0.03 - 0.0020 - 0.35 * 0.02, 0.03 + 0.0020 + 0.35 * 0.02))


def test_changes_count_within_a_sequence_and_between_lit_hours_only() -> None:
    """Against the sum as it is written in `subhourly`, hour by hour."""
    rng = np.random.default_rng(3)
    index, lit = rng.uniform(0.1, 1.1, 300), rng.uniform(size=300) < 0.8
    sequence = np.repeat([0, 1, 2, 3], [5, 1, 200, 94])
    found = change_around(sequence, index, lit)
    for hour in range(300):
        starts = [
            start
            for start in range(max(hour - 8, 0), min(hour + 8, 299))
            if sequence[start] == sequence[start + 1] == sequence[hour] and lit[start] and lit[start + 1]
        ]
        weight = np.exp(-np.abs(np.array(starts) + 0.5 - hour))
        steps = np.abs(np.diff(index))[starts]
        assert found[hour] == pytest.approx(float(weight @ steps / weight.sum()) if starts else 0.0), hour


def test_turbidity_comes_from_measured_hours() -> None:
    assert states().inverted_share > 0.9
    assert 1.8 <= states().linke_turbidity.min() <= states().linke_turbidity.max() < 8.0
    assert states("representative_days").inverted_share == 0.0

"""From DC to AC power: datasheet efficiencies come back, and impossible ones are refused."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest
from hypothesis import given

from tests.builders import measured, numbers
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.inverter.conversion import (
    CEC_WEIGHTS,
    EUROPEAN_WEIGHTS,
    EfficiencyPoint,
    LossCurve,
    SandiaCurve,
    from_points,
    from_weighted_efficiency,
    require_rising,
    weighted_efficiency,
)

WEIGHTS = pytest.mark.parametrize("weights", [EUROPEAN_WEIGHTS, CEC_WEIGHTS], ids=["European", "CEC"])
VOLTAGES_V = (24.0, 32.0, 42.0)

KNOWN = LossCurve(300.0, (0.005, 0.014, 0.016), 98.0 / 3.0, (0.002, 0.006, -0.004), (24.0, 42.0))
SANDIA = SandiaCurve(290.0, 301.0, 35.0, 1.9, -3e-5, -4e-4, -9e-3, -1e-2)


def efficiency(curve: LossCurve, load: float, voltage_v: float = 1.0) -> float:
    dc_power_w = load * curve.rated_power_w
    return float(curve.ac_power_w(np.array([dc_power_w]), np.array([voltage_v]))[0]) / dc_power_w


@WEIGHTS
@pytest.mark.parametrize("percent", [70.0, 96.6, 99.5])
def test_the_datasheets_weighted_efficiency_and_rated_power_come_back(weights: Mapping[float, float], percent: float) -> None:
    curve = from_weighted_efficiency(ac_power_w=350.0, efficiency_percent=percent, weights=weights)
    back = weighted_efficiency({load: efficiency(curve, load) for load in weights}, weights)
    assert back * 100.0 == pytest.approx(percent, abs=1e-10)
    assert efficiency(curve, 1.0) * curve.rated_power_w == pytest.approx(350.0, rel=1e-12)


@pytest.mark.parametrize(
    ("weights", "by_hand"),
    [
        (EUROPEAN_WEIGHTS, 0.03 * 90 + 0.06 * 92 + 0.13 * 94 + 0.10 * 95 + 0.48 * 97 + 0.20 * 96),
        (CEC_WEIGHTS, 0.04 * 92 + 0.05 * 94 + 0.12 * 95 + 0.21 * 97 + 0.53 * 98 + 0.05 * 96),
    ],
    ids=["European", "CEC"],
)  # as published for both: loads 5, 10, 20, 30, 50, 100 % and 10, 20, 30, 50, 75, 100 %
def test_published_weights(weights: Mapping[float, float], by_hand: float) -> None:
    at_load = {0.05: 90.0, 0.1: 92.0, 0.2: 94.0, 0.3: 95.0, 0.5: 97.0, 0.75: 98.0, 1.0: 96.0}
    assert weighted_efficiency(at_load, weights) == pytest.approx(by_hand)
    assert sum(weights.values()) == pytest.approx(1.0, abs=1e-12)
    with pytest.raises(KeyError):
        weighted_efficiency({1.0: 0.9}, weights)


@given(numbers(70.0, 99.5), numbers(50.0, 5000.0))
def test_output_rises_with_input_from_the_own_consumption_on(percent: float, power_w: float) -> None:
    curve = from_weighted_efficiency(ac_power_w=power_w, efficiency_percent=percent, weights=CEC_WEIGHTS)
    start = curve.own_consumption_w
    ac_power_w = curve.ac_power_w(np.linspace(start, 1.5 * curve.rated_power_w, 100), np.ones(100))
    assert ac_power_w[0] == pytest.approx(0.0, abs=1e-9 * power_w)
    assert np.all(np.diff(ac_power_w) > 0.0)
    assert curve.ac_power_w(np.array([0.0, 0.99 * start]), np.ones(2)) == pytest.approx([0.0, 0.0])


@pytest.mark.parametrize("decimals", [8, 1], ids=["exact", "rounded as a datasheet does"])
def test_points_of_a_known_curve_come_back_within_a_tenth_of_a_point(decimals: int) -> None:
    exact = measured(KNOWN, voltages_v=VOLTAGES_V)
    given_points = [EfficiencyPoint(p.load_share, round(p.efficiency_percent, decimals), p.dc_voltage_v) for p in exact]
    fitted = from_points(ac_power_w=300.0, points=given_points)
    for voltage, load in product(VOLTAGES_V, (0.05, 0.15, 0.4, 0.75, 1.0)):
        assert abs(efficiency(fitted, load, voltage) - efficiency(KNOWN, load, voltage)) * 100.0 < 0.1
    # Beyond the measured voltages the nearest counts.
    assert efficiency(fitted, 0.5, 10.0) == efficiency(fitted, 0.5, 24.0)
    assert efficiency(fitted, 0.5, 60.0) == efficiency(fitted, 0.5, 42.0)
    assert efficiency(fitted, 0.5, 24.0) != pytest.approx(efficiency(fitted, 0.5, 42.0), abs=1e-4)


def test_without_voltages_the_curve_comes_back() -> None:
    flat = LossCurve(300.0, (0.005, 0.014, 0.016))
    fitted = from_points(ac_power_w=300.0, points=measured(flat, voltages_v=(None,)))
    assert fitted.loss == pytest.approx(flat.loss, abs=1e-9)
    assert fitted.loss_by_voltage == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("points", "message"),
    [
        ([(0.1, 94, None), (0.5, 96, None), (0.5, 96.1, None)], "three different load shares"),
        ([(0.1, 94, 30), (0.5, 96, 30), (1.0, 96, 30), (0.5, 96, 40)], "at each DC voltage"),
        ([(0.1, 94, 30), (0.5, 96, 30), (1.0, 96, None)], "or none"),
        ([(0.2, 95, None), (0.4, 70, None), (0.5, 50, None)], "rises with its input"),
        ([(0.1, 41, None), (0.5, 95, None), (1.0, 99, None)], "stays below it"),
        ([(0.1, 95, None), (0.3, 97, None), (0.5, 60, None), (1.0, 96.5, None)], "one smooth curve"),
    ],
)
def test_impossible_points_are_refused(points: list[tuple[float, float, float | None]], message: str) -> None:
    with pytest.raises(DatasheetError, match=message) as error:
        from_points(ac_power_w=300.0, points=[EfficiencyPoint(*point) for point in points])
    assert error.value.fields == ("efficiency_points",)


def published_units() -> pd.DataFrame:
    """Units for one module of the list that pvlib carries; no name is read."""
    folder = Path(pvlib.__file__).parent / "data"
    (file,) = (f for f in folder.glob("*cec-inverters*.csv") if "Paco" in f.read_text("iso-8859-1")[:400])
    table = pd.read_csv(file, skiprows=[1, 2], encoding="iso-8859-1")
    figures = table[table.columns.difference(["Name", "CEC_Date", "CEC_Type"])].apply(pd.to_numeric, errors="coerce")
    units: pd.DataFrame = figures[(figures["Paco"] < 400.0) & figures[["Mppt_low", "Mppt_high"]].notna().all(axis=1)]
    return units


def test_sandia_coefficients_of_a_published_list_are_accepted_and_agree_with_pvlib_below_the_limit() -> None:
    at_reference = SANDIA.ac_power_w(np.array([301.0, 1.9, 0.0]), np.full(3, 35.0))
    np.testing.assert_allclose(at_reference, [290.0, 0.0, 0.0], atol=1e-9)
    assert SANDIA.own_consumption_w == 1.9
    listed = published_units()
    assert len(listed) > 300
    for _, row in listed.iterrows():
        curve = SandiaCurve(*(float(row[n]) for n in ("Paco", "Pdco", "Vdco", "Pso", "C0", "C1", "C2", "C3")))
        require_rising(curve, voltage_min_v=row["Mppt_low"], voltage_max_v=row["Mppt_high"])
        dc_power_w = np.linspace(0.0, 0.95 * curve.dc_power_w_ref, 15)
        for voltage in (row["Mppt_low"], row["Vdco"], row["Mppt_high"]):
            theirs = pvlib.inverter.sandia(voltage, dc_power_w, row)
            ours = curve.ac_power_w(dc_power_w, np.full(15, voltage))
            giving = dc_power_w > 1.05 * curve.start_power_w
            np.testing.assert_allclose(ours[giving], np.asarray(theirs)[giving], rtol=1e-9)


@pytest.mark.parametrize(
    "curve",
    [
        SandiaCurve(50.0, 60.0, 40.0, 60.0, 0.0, 0.0, 0.0, 0.0),
        SandiaCurve(290.0, 301.0, 35.0, 1.9, -0.01, 0.0, 0.0, 0.0),
        SandiaCurve(290.0, 301.0, 35.0, 1.9, 0.0, -0.1, 0.0, 0.0),
    ],
    ids=["no span", "falling", "pole in the window"],
)
def test_impossible_sandia_coefficients_are_refused(curve: SandiaCurve) -> None:
    with pytest.raises(DatasheetError, match="rises with the input at 20 to 50 V"):
        require_rising(curve, voltage_min_v=20.0, voltage_max_v=50.0)

"""Conversion curves and weighted efficiencies."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests.validation.ledger import Check, near
from wattpair_service.engineering.conversion import (
    CEC_WEIGHTS,
    EUROPEAN_WEIGHTS,
    LossCurve,
    SandiaCurve,
    from_weighted_efficiency,
    weighted_efficiency,
)

SANDIA = "SAND2007-5036 with the fixture of pvlib's tests"
SHAPE = "NREL/TP-6A20-62641, eq. 8 to 11; fixture of pvlib's tests"
WEIGHTS = "published weights: European read second-hand, CEC in Sandia's test protocol"
FIXTURE = SandiaCurve(
    ac_power_w_ref=240.0,
    dc_power_w_ref=250.5311318,
    dc_voltage_v_ref=32.06160667,
    start_power_w=1.12048857,
    c0_per_w=-5.76e-5,
    c1_per_v=-6.24e-4,
    c2_per_v=0.0809,
    c3_per_v=-0.111781106,
)


def checks() -> Iterator[Check]:
    """The Sandia fixture, the default part-load shape and both sets of weights."""
    yield near(
        "Sandia curve at 25 V, 137.5 W [W]",
        source=SANDIA,
        label="RUN",
        expected=132.545914746,
        got=_ac_power(FIXTURE, 137.5, 25.0),
        tolerance=1e-8,
    )
    yield near(
        "Sandia curve at 50 V, 550 W under the AC limit [W]",
        source=SANDIA,
        label="RUN",
        expected=240.0,
        got=min(_ac_power(FIXTURE, 550.0, 50.0), FIXTURE.ac_power_w_ref),
        tolerance=1e-9,
    )
    yield near(
        "Sandia curve without light, before the night draw [W]",
        source=SANDIA,
        label="RUN",
        expected=0.0,
        got=_ac_power(FIXTURE, 0.0, 25.0),
        tolerance=0.0,
    )
    nominal_95 = _shape(0.95)
    for dc_power_w, expected in ((50.0, 47.608436), (100.0, 95.0)):
        yield near(
            f"default part-load shape at {dc_power_w:g} W of 100 W, nominal 95 % [W]",
            source=SHAPE,
            label="READ",
            expected=expected,
            got=_ac_power(nominal_95, dc_power_w, 30.0),
            tolerance=1e-6,
        )
    for name, weights, expected in (("European", EUROPEAN_WEIGHTS, 0.95424), ("CEC", CEC_WEIGHTS, 0.95921)):
        yield near(
            f"{name} efficiency of the default shape, nominal 96 %",
            source=SHAPE,
            label="Derived",
            expected=expected,
            got=weighted_efficiency(
                {load: _ac_power(_shape(0.96), 100 * load, 30.0) / (100 * load) for load in weights}, weights
            ),
            tolerance=5e-6,
        )
        yield near(
            f"{name} weights add up to one",
            source=WEIGHTS,
            label="READ-2",
            expected=1.0,
            got=weighted_efficiency(dict.fromkeys(weights, 1.0), weights),
            tolerance=1e-12,
        )


def _shape(nominal: float) -> LossCurve:
    """The default shape whose full-load efficiency is `nominal`, for 100 W of DC power."""
    unscaled = from_weighted_efficiency(ac_power_w=1.0, efficiency_percent=90.0, weights=CEC_WEIGHTS)
    percent = 90.0 * nominal * unscaled.rated_power_w
    return from_weighted_efficiency(ac_power_w=100.0 * nominal, efficiency_percent=percent, weights=CEC_WEIGHTS)


def _ac_power(curve: LossCurve | SandiaCurve, dc_power_w: float, dc_voltage_v: float) -> float:
    return float(curve.ac_power_w(np.array([dc_power_w]), np.array([dc_voltage_v]))[0])

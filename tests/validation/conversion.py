"""Conversion curves and weighted efficiencies."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests.validation.ledger import Check, near
from wattpair_service.engineering.inverter.conversion import (
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
    ac_power_w_ref=240.0, dc_power_w_ref=250.5311318, dc_voltage_v_ref=32.06160667, start_power_w=1.12048857,
    c0_per_w=-5.76e-5, c1_per_v=-6.24e-4, c2_per_v=0.0809, c3_per_v=-0.111781106,
)  # fmt: skip


def checks() -> Iterator[Check]:
    """The Sandia fixture, the default part-load shape and both sets of weights."""
    limited_w = min(_ac_power(FIXTURE, 550.0, 50.0), FIXTURE.ac_power_w_ref)
    night_w = _ac_power(FIXTURE, 0.0, 25.0)
    yield near("Sandia curve at 25 V, 137.5 W [W]", 132.545914746, _ac_power(FIXTURE, 137.5, 25.0), 1e-8, "RUN", SANDIA)
    yield near("Sandia curve at 50 V, 550 W under the AC limit [W]", 240.0, limited_w, 1e-9, "RUN", SANDIA)
    yield near("Sandia curve without light, before the night draw [W]", 0.0, night_w, 0.0, "RUN", SANDIA)
    for dc_power_w, expected in ((50.0, 47.608436), (100.0, 95.0)):
        name = f"default part-load shape at {dc_power_w:g} W of 100 W, nominal 95 % [W]"
        yield near(name, expected, _ac_power(_shape(0.95), dc_power_w, 30.0), 1e-6, "READ", SHAPE)
    for standard, weights, expected in (("European", EUROPEAN_WEIGHTS, 0.95424), ("CEC", CEC_WEIGHTS, 0.95921)):
        by_load = {load: _ac_power(_shape(0.96), 100 * load, 30.0) / (100 * load) for load in weights}
        name, got = f"{standard} efficiency of the default shape, nominal 96 %", weighted_efficiency(by_load, weights)
        yield near(name, expected, got, 5e-6, "Derived", SHAPE)
        whole = weighted_efficiency(dict.fromkeys(weights, 1.0), weights)
        yield near(f"{standard} weights add up to one", 1.0, whole, 1e-12, "READ-2", WEIGHTS)


def _shape(nominal: float) -> LossCurve:
    """The default shape whose full-load efficiency is `nominal`, for 100 W of DC power."""
    unscaled = from_weighted_efficiency(ac_power_w=1.0, efficiency_percent=90.0, weights=CEC_WEIGHTS)
    percent = 90.0 * nominal * unscaled.rated_power_w
    return from_weighted_efficiency(ac_power_w=100.0 * nominal, efficiency_percent=percent, weights=CEC_WEIGHTS)


def _ac_power(curve: LossCurve | SandiaCurve, dc_power_w: float, dc_voltage_v: float) -> float:
    return float(curve.ac_power_w(np.array([dc_power_w]), np.array([dc_voltage_v]))[0])

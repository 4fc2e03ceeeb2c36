"""Clipping inside the hour against measured minutes: the places whose minutes the package registry carries.

The other places of the calibration, and places and climates left out, are for `calibrate_subhourly`. The coefficients are those
of seven places; what these three alone ask for is stated beside each, so that a coefficient that moves does not go unnoticed.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np

from tests.validation.calibrate_subhourly import EXPONENTS, LEVELS, asked, rows, share_residuals, variance_residuals
from tests.validation.ledger import Check, near, within
from tests.validation.minute_clipping import errors
from tests.validation.minute_places import PLACES, REGISTRY
from wattpair_service.engineering.irradiance import subhourly

SOURCES = {
    "golden": "minutes of Golden 2020, in the source distribution of libinsitu 1.7.1",
    "payerne": "minutes of Payerne June 2016, Baseline Surface Radiation Network, in the source distribution of pvlib 0.16.1",
    "graz": "minutes of Graz 2017, Tschopp et al. 2023, in the source distribution of sunpeek-exampledata 0.1.0.dev1",
}
LIMITS_POINTS = {"rmse": (0.0, 0.3), "bias": (-0.25, 0.25), "worst": (-0.5, 0.5)}
OF_ALL = "minutes of Golden, Payerne and Graz"
ASKED = {
    "ODDS_CHANGE_EXPONENT": 1.40,
    "ODDS_PER_OPACITY": 0.75,
    "ODDS_PER_COS_ZENITH": 2.04,
    "ODDS_PER_SCARCITY": 1.68,
    "ODDS": 0.97,
    "BEAM_DIMMING": 1.03,
}
"""What the three places ask for over what the seven gave, each coefficient by itself (`calibrate_subhourly.asked`). A tenth
more or less of any of them, or of the ratio of diffuse irradiance in sun to shade, moves one of these by 0.04 to 0.2."""
ASKED_TOLERANCE = 0.03


def checks() -> Iterator[Check]:
    """Error of the clipped share, on three faces at five ratios, with the states and with hourly means alone."""
    cases = {name: PLACES[name].cases(load()) for name, load in REGISTRY.items()}
    for name, of_place in cases.items():
        found, source = rows(of_place), SOURCES[name]
        states, hourly = errors(found, "spread_percent"), errors(found, "hourly_percent")
        for figure, (low, high) in LIMITS_POINTS.items():
            what = f"clipping at {name}, {figure}, hourly means {hourly[figure]:+.2f} [points]"
            yield within(what, low, high, states[figure], "RUN", source)
        inside = float(np.mean([row.inside for row in found]))
        yield within(f"clipping at {name}, share of cases in the stated range", 0.85, 1.0, inside, "RUN", source)
    for name, residuals in (*((each, variance_residuals) for each in EXPONENTS), *((each, share_residuals) for each in LEVELS)):
        ratio = asked(name, partial(residuals, cases.values()))
        what = f"subhourly {name} {getattr(subhourly, name):g}, what three places ask for over it"
        yield near(what, ASKED[name], ratio, ASKED_TOLERANCE, "RUN", OF_ALL)

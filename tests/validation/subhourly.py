"""Clipping inside the hour against measured minutes: the two stations that the package registry carries.

The third station of the calibration, and each station left out in turn, are for `calibrate_subhourly`.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests.validation.calibrate_subhourly import FACES, PLACES, golden, payerne
from tests.validation.ledger import Check, within
from tests.validation.minute_clipping import compare, errors
from tests.validation.minutes import station

SOURCES = {
    "golden": "minutes of Golden 2020, in the source distribution of libinsitu 1.7.1",
    "payerne": "minutes of Payerne June 2016, Baseline Surface Radiation Network, in the source distribution of pvlib 0.16.1",
}
LIMITS_POINTS = {"rmse": (0.0, 0.4), "bias": (-0.3, 0.3), "worst": (-0.8, 0.8)}


def checks() -> Iterator[Check]:
    """Error of the clipped share, on three faces at five ratios, with the spread and with hourly means alone."""
    for name, frame in (("golden", golden()), ("payerne", payerne())):
        measured, source = station(frame, PLACES[name]), SOURCES[name]
        rows = [row for face in FACES.values() for row in compare(measured, face)]
        spread, hourly = errors(rows, "spread_percent"), errors(rows, "hourly_percent")
        for figure, (low, high) in LIMITS_POINTS.items():
            what = f"clipping at {name}, {figure}, hourly means {hourly[figure]:+.2f} [points]"
            yield within(what, low, high, spread[figure], "RUN", source)
        inside = float(np.mean([row.inside for row in rows]))
        yield within(f"clipping at {name}, share of cases in the stated range", 0.8, 1.0, inside, "RUN", source)

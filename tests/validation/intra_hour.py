"""Clipping inside the hour against measured minutes: the two stations that the package registry carries.

The third station of the calibration, and each station left out in turn, are for `calibrate_intra_hour`.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests.validation.calibrate_intra_hour import FACES, PLACES, golden, payerne
from tests.validation.ledger import Check, within
from tests.validation.minute_clipping import Row, compare, errors
from tests.validation.minutes import station

SOURCES = {
    "golden": "minutes of Golden 2020, in the source distribution of libinsitu 1.7.1",
    "payerne": "minutes of Payerne June 2016, Baseline Surface Radiation Network, in the source distribution of pvlib 0.16.1",
}


def checks() -> Iterator[Check]:
    """Error of the clipped share, on three faces at five ratios, with the spread and with hourly means alone."""
    for name, frame in (("golden", golden()), ("payerne", payerne())):
        measured = station(frame, PLACES[name])
        rows = [row for face in FACES.values() for row in compare(measured, face)]
        yield from _of_station(name, rows)


def _of_station(name: str, rows: list[Row]) -> Iterator[Check]:
    spread, hourly = errors(rows, "spread_percent"), errors(rows, "hourly_percent")
    limits = {"rmse": (0.0, 0.4), "bias": (-0.3, 0.3), "worst": (-0.8, 0.8)}
    for figure, (low, high) in limits.items():
        yield within(
            f"clipping at {name}, {figure}, hourly means {hourly[figure]:+.2f} [points]",
            source=SOURCES[name],
            label="RUN",
            low=low,
            high=high,
            got=spread[figure],
        )
    yield within(
        f"clipping at {name}, share of cases in the stated range",
        source=SOURCES[name],
        label="RUN",
        low=0.8,
        high=1.0,
        got=float(np.mean([row.inside for row in rows])),
    )

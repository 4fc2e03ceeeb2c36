"""Records of the atlas's files, one for each land cell, and the units of their integers."""

from __future__ import annotations

import numpy as np

from wattpair_service.climate.monthly import DAYS_A_MONTH, MONTHS

TEMP_UNIT_K = 0.5
TEMP_ORIGIN_C = -70.0
ANOMALY_UNIT_K = 0.4
ALTITUDE_UNIT_M = 28.0
ALTITUDE_ORIGIN_M = -450.0
CLEARNESS_UNIT = 0.004
WIND_UNIT_M_S = 0.1
RANGE_UNIT_K = 0.1
TURBIDITY_UNIT = 0.05

# Yearly level, mean and extremes of air temperature, wind, elevation; `estimated` where GLDAS or MERRA-2 has no level.
LEVEL_RECORD = np.dtype(
    [
        ("ghi_kwh_m2", "<u2"),
        ("temp_lowest", "u1"),
        ("temp_mean", "u1"),
        ("temp_highest", "u1"),
        ("wind", "u1"),
        ("elevation", "u1"),
        ("estimated", "u1"),
    ]
)
# By month: air temperature over the yearly mean, its daily range, Linke turbidity.
SEASON_RECORD = np.dtype([("temp_anomaly", "i1", (MONTHS,)), ("temp_range", "u1", (MONTHS,)), ("turbidity", "u1", (MONTHS,))])
# By month and eighth of its days, rising: mean daily clearness index.
DAY_RECORD = np.dtype([("clearness", "u1", (MONTHS, DAYS_A_MONTH))])
# By month: mean clearness index.
SATELLITE_RECORD = np.dtype([("clearness", "u1", (MONTHS,))])

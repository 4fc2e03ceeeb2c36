"""Invented household loads, hour by hour, with the spread between days that measured ones have."""

from __future__ import annotations

import numpy as np

from wattpair_service.engineering.arrays import FloatArray

CAR_W = 7400.0
"""A car on one phase of 32 A."""
CHARGING = {"none": (0, 0), "midday": (10, 15), "evening": (18, 23)}
"""Hours in which the car may start to charge."""
KINDS = [(car, heat_pump) for car in CHARGING for heat_pump in (False, True)]


def household_load_w(seed: int, car: str = "none", *, heat_pump: bool = False) -> FloatArray:
    """A year of loads by day and hour [W], shape (365, 24).

    A base load that changes from day to day, short loads of cooking and washing, evenings, and days away from home. The car
    charges two to four times a week; the heat pump heats the more, the colder the day.
    """
    random = np.random.default_rng(seed)
    day, hour = np.arange(365)[:, None], np.arange(24)[None, :]
    winter = 0.5 * (1.0 + np.cos(2.0 * np.pi * (day - 15) / 365.0))
    at_home = random.random((365, 1)) > 0.08
    load_w = 90.0 + 60.0 * random.random((365, 1)) + 80.0 * random.random((365, 24))
    evening = np.exp(-(((hour - 20.0) / 2.2) ** 2)) * (250.0 + 350.0 * winter)
    load_w += at_home * evening * random.gamma(2.0, 0.5, (365, 24))
    for start, chance, power_w in ((7, 0.6, 900.0), (12, 0.35, 1800.0), (18, 0.75, 2200.0), (10, 0.25, 2000.0)):
        cooks = at_home[:, 0] & (random.random(365) < chance)
        when = np.clip(start + random.integers(-1, 2, 365), 0, 23)
        load_w[np.flatnonzero(cooks), when[cooks]] += power_w * random.uniform(0.3, 1.0, int(cooks.sum()))
    if heat_pump:
        cold = np.clip(winter + 0.25 * random.normal(size=(365, 1)) - 0.3, 0.0, 1.0)
        load_w += 2800.0 * cold * random.uniform(0.5, 1.3, (365, 24))
    first, last = CHARGING[car]
    for week in range(52) if last else ():
        for charged in random.choice(7, int(random.integers(2, 5)), replace=False):
            start, hours = int(random.integers(first, last)), int(random.integers(1, 5))
            load_w[7 * week + charged, start : start + hours] += CAR_W
    return load_w

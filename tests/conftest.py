"""Settings of all tests: the same examples in every run, and more of them on request.

`pytest --hypothesis-profile=thorough` looks further; it takes minutes. `fuzz` is for the readers alone: ten minutes or more.
"""

from __future__ import annotations

from hypothesis import HealthCheck, settings

import wattpair_service  # noqa: F401 - before anything imports numpy

SLOW = (HealthCheck.too_slow, HealthCheck.data_too_large)

settings.register_profile(
    "repeatable", derandomize=True, database=None, deadline=None, max_examples=100, suppress_health_check=SLOW
)
settings.register_profile("thorough", database=None, deadline=None, max_examples=2000, suppress_health_check=SLOW)
settings.register_profile("fuzz", settings.get_profile("thorough"), max_examples=8000)
settings.load_profile("repeatable")

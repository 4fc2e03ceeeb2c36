"""A minute at the limit and beyond it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.load.soak import soak

SECONDS = 60.0


@pytest.mark.alone
def test_beyond_its_limit_the_service_refuses_and_does_not_grow(tmp_path: Path) -> None:
    report = soak(tmp_path, SECONDS)
    told = "\n".join(report.lines())
    print(told)  # how quick it stays is for a quiet machine to say: python -m tests.load
    assert set(report.statuses[1]) <= {200, 429, 503}, told
    assert set(report.statuses[4]) == {200, 429, 503}, told
    assert len(report.accepted_s[4]) > len(report.accepted_s[1]) / 2, told
    assert report.growth < 0.03, told

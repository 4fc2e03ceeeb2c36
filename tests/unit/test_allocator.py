"""Memory that calculations use again and again stays with the process."""

from __future__ import annotations

import subprocess
import sys

import pytest

ARRAYS_AGAIN = """
import resource
import numpy as np
from wattpair_service import allocator

if {settled}:
    allocator.settle()

def faults() -> int:
    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    for _ in range(10):
        arrays = [np.ones(40_000) for _ in range(40)]
        del arrays
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before

faults()
print(faults())
"""


@pytest.mark.parametrize(("settled", "least", "most"), [(True, 0, 100), (False, 1_000, 1_000_000)])
def test_arrays_of_a_year_are_not_given_back_between_steps(settled: bool, least: int, most: int) -> None:
    script = ARRAYS_AGAIN.format(settled=settled)
    found = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert least <= int(found.stdout) <= most

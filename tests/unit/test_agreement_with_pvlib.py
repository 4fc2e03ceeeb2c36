"""The core against what a user would write with pvlib alone, on a real hourly year."""

from __future__ import annotations

import pytest

from tests.benchmarks.agreement import (
    AGREEMENT_SHARE,
    chain_energies,
    core_energies,
    largest_difference,
    shared_energies,
)
from tests.benchmarks.roofs import PvlibCase

CASE = PvlibCase.of(count=3)


def test_a_pvlib_script_gives_the_same_energy_on_each_face_with_each_candidate() -> None:
    found = shared_energies(CASE)
    assert len(found) == 12
    assert largest_difference(core_energies(CASE), found) < AGREEMENT_SHARE


@pytest.mark.filterwarnings("ignore:invalid value encountered in divide:RuntimeWarning")  # ModelChain's solver at night
def test_a_model_chain_differs_by_the_glass_alone() -> None:
    found = chain_energies(CASE, [(0, 1), (0, 3), (2, 3)])
    assert largest_difference(core_energies(CASE, glass_of_the_chain=True), found) < AGREEMENT_SHARE
    assert 0.005 < largest_difference(core_energies(CASE), found) < 0.02

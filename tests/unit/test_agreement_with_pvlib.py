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
CHAIN_AT_NIGHT = pytest.mark.filterwarnings("ignore:invalid value encountered in divide:RuntimeWarning")
"""ModelChain's solver divides by zero at night."""


def test_the_tuned_script_gives_the_same_energy_on_each_face_with_each_candidate() -> None:
    found = shared_energies(CASE)
    assert len(found) == 12
    assert largest_difference(core_energies(CASE), found) < AGREEMENT_SHARE


@CHAIN_AT_NIGHT
def test_a_chain_of_models_gives_the_same_energy_behind_the_same_glass() -> None:
    found = chain_energies(CASE, [(0, 1), (2, 3)])
    assert largest_difference(core_energies(CASE, glass_of_the_chain=True), found) < AGREEMENT_SHARE


@CHAIN_AT_NIGHT
def test_the_glass_is_what_tells_the_core_from_the_chain() -> None:
    """Otherwise the comparison above would hide a difference that it does not name."""
    found = chain_energies(CASE, [(0, 3)])
    own = largest_difference(core_energies(CASE), found)
    assert 0.005 < own < 0.02

"""Circuits, rise and route together."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.test_bill_of_materials import CIRCUITS, WIRING
from wattpair_service.engineering.circuits import CircuitFace, circuits
from wattpair_service.rules import connection_rules


@given(
    st.lists(st.integers(1, 60), min_size=1, max_size=4),
    st.sampled_from([("great_britain", 1), ("germany", 3), ("united_states", 1), ("international", 2)]),
    st.booleans(),
)
def test_what_belongs_together_agrees(counts: list[int], where: tuple[str, int], may_cross: bool) -> None:
    region, phase_count = where
    asked = replace(
        CIRCUITS,
        faces=tuple(CircuitFace(str(index), count, 1.2) for index, count in enumerate(counts)),
        rules=connection_rules(region),
        phase_count=phase_count,
        may_cross_faces=may_cross,
        wiring=replace(WIRING, home_run_length_m=10.0, supply_length_m=5.0, supply_size="10 mm2"),
    )
    result = circuits(asked)
    assert [rise.circuit for rise in result.rises] == [circuit.name for circuit in result.circuits]
    for phase in result.connection.phases:
        assert phase.unit_count == sum(c.unit_count for c in result.circuits if c.phase == phase.phase)
        assert phase.current_a == pytest.approx(phase.unit_count * 1.5)
    assert result.unit_count == sum(counts)
    assert result.rise_highest_share == max(rise.total_share for rise in result.rises)
    for rise in result.rises:
        assert rise.total_v == pytest.approx(rise.trunk_v + rise.home_run_v + rise.supply_v)


def test_the_way_over_the_ridge_is_part_of_the_trunk() -> None:
    wiring = replace(WIRING, conductor_temp_c=20.0)
    faces = (CircuitFace("a", 2, 1.0), CircuitFace("b", 2, 1.0))
    across = replace(CIRCUITS, faces=faces, may_cross_faces=True, face_crossing_m=5.0, wiring=wiring)
    (rise,) = circuits(across).rises
    # Units at 0, 1, 6 and 7 m from the feed: 14 m times 1.5 A, there and back.
    assert rise.trunk_end_fed_v == pytest.approx(2.0 * 7.41e-3 * 1.5 * 14.0)

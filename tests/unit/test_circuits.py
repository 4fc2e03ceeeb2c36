"""Circuits, rise and route together."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.test_bill_of_materials import CIRCUITS, WIRING
from wattpair_service.engineering.circuits import CircuitFace, circuits
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.voltage_rise import Wiring
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


LONG = replace(WIRING, home_run_length_m=10.0, home_run_size="2.5 mm2", supply_length_m=5.0, supply_size="10 mm2")


def test_cables_whose_capacity_is_not_known_are_named() -> None:
    def told(wiring: Wiring) -> str:
        return " ".join(circuits(replace(CIRCUITS, wiring=wiring)).cautions)

    assert "capacity was not checked of these cables: trunk, home run, supply." in told(LONG)
    assert "capacity was not checked of these cables: home run, supply." in told(replace(LONG, trunk_ampacity_a=25.0))
    assert "capacity was not checked of these cables: trunk." in told(WIRING)
    known = replace(LONG, trunk_ampacity_a=25.0, home_run_ampacity_a=25.0, supply_ampacity_a=25.0)
    assert "not checked" not in told(known)
    assert "by voltage only" in told(WIRING)
    assert "by voltage only" not in told(LONG)


@pytest.mark.parametrize(
    ("cable", "main_device_a", "needed"),
    [("trunk", None, 20.0), ("home_run", None, 20.0), ("supply", None, 22.5), ("supply", 63.0, 63.0)],
)
def test_a_capacity_that_is_given_is_checked(cable: str, main_device_a: float | None, needed: float) -> None:
    for ampacity, meets in ((needed, True), (needed - 0.1, False)):
        wiring = replace(LONG, **{f"{cable}_ampacity_a": ampacity})  # type: ignore[arg-type]
        supply = replace(CIRCUITS.supply, main_device_a=main_device_a)
        result = circuits(replace(CIRCUITS, wiring=wiring, supply=supply))
        (check,) = [each for each in result.connection.checks if each.name.endswith("carrying capacity")]
        assert check.value == pytest.approx(needed)
        assert (check.limit, check.meets) == (ampacity, meets)
        assert ("A check of the connection fails" in " ".join(result.cautions)) is not meets


def test_more_units_than_an_answer_holds_are_refused() -> None:
    faces = tuple(CircuitFace(str(index), 1000, 1.0) for index in range(5))
    assert circuits(replace(CIRCUITS, faces=faces)).unit_count == 5000
    with pytest.raises(EngineeringError, match="at most 5000 microinverters together; these are 5001") as error:
        circuits(replace(CIRCUITS, faces=(*faces, CircuitFace("one", 1, 1.0))))
    assert error.value.fields == ("faces",)


def test_the_way_over_the_ridge_is_part_of_the_trunk() -> None:
    wiring = replace(WIRING, conductor_temp_c=20.0)
    faces = (CircuitFace("a", 2, 1.0), CircuitFace("b", 2, 1.0))
    across = replace(CIRCUITS, faces=faces, may_cross_faces=True, face_crossing_m=5.0, wiring=wiring)
    (rise,) = circuits(across).rises
    # Units at 0, 1, 6 and 7 m from the feed: 14 m times 1.5 A, there and back.
    assert rise.trunk_end_fed_v == pytest.approx(2.0 * 7.41e-3 * 1.5 * 14.0)

"""Units over circuits and phases."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import product
from math import ceil

import pytest
from hypothesis import given, strategies as st

from tests.builders import numbers
from wattpair_service.engineering.circuits.branch_circuits import (
    BranchCircuit,
    BranchCircuitRules,
    FaceUnits,
    SplitRequest,
    current_fits,
    phase_units,
    require_phases_of_the_supply,
    rule_in_words,
    split,
    units_per_circuit,
)
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.sentences import Cited
from wattpair_service.words.catalogue import english

RULES = BranchCircuitRules(device_rating_a=20.0, continuous_current_factor=1.25, source=Cited("a code"))


def request(*units: int, **changes: object) -> SplitRequest:
    faces = tuple(FaceUnits(f"face {index}", count) for index, count in enumerate(units))
    return replace(SplitRequest(faces, 1, 1.6, RULES), **changes)  # type: ignore[arg-type]


def difference(circuits: tuple[BranchCircuit, ...], phase_count: int) -> int:
    units = phase_units(circuits, phase_count)
    return max(units) - min(units)


@st.composite
def requests(draw: st.DrawFn) -> SplitRequest:
    rating = draw(st.sampled_from([16.0, 20.0, 25.0, 63.0]))
    factor = draw(numbers(1.0, 2.0))
    phase_count = draw(st.integers(1, 3))
    trunk_phase_count = draw(st.sampled_from([1, phase_count]))
    return request(
        *draw(st.lists(st.integers(1, 300), min_size=1, max_size=6)),
        phase_count=phase_count,
        unit_ac_current_a=draw(numbers(0.1, rating / factor)),
        rules=BranchCircuitRules(rating, factor, Cited("a code")),
        units_per_trunk_max=draw(st.none() | st.integers(1, 30)),
        balance_limit_a=draw(st.none() | numbers(0.5, 40.0)),
        may_cross_faces=draw(st.booleans()),
        trunk_phase_count=trunk_phase_count,
        unit_phase_count=draw(st.sampled_from([1, trunk_phase_count])),
    )


def difference_after_a_fault(circuits: tuple[BranchCircuit, ...], phase_count: int) -> int:
    """Largest difference between phases with any one circuit off."""
    units = phase_units(circuits, phase_count)
    without = [[a - b for a, b in zip(units, circuit.units_by_phase, strict=True)] for circuit in circuits]
    return max(max(each) - min(each) for each in without)


@given(requests())
def test_circuits_are_within_their_limits_balanced_and_even(terms: SplitRequest) -> None:
    circuits, most = split(terms), units_per_circuit(terms)
    by_face: Counter[str] = Counter()
    sizes: dict[tuple[str, tuple[int, ...]], list[int]] = {}
    for circuit in circuits:
        assert circuit.unit_count == sum(part.unit_count for part in circuit.units_by_face) > 0
        assert terms.may_cross_faces or len(circuit.units_by_face) == 1
        by_face.update({part.name: part.unit_count for part in circuit.units_by_face})
        sizes.setdefault((circuit.face, tuple(sorted(circuit.phases))), []).append(circuit.unit_count)
        assert circuit.current_a == max(circuit.units_by_phase) * terms.unit_ac_current_a
        assert current_fits(circuit.current_a, terms.rules)
        assert circuit.unit_count <= min(most, terms.units_per_trunk_max or most)
        assert len(set(circuit.phases)) == terms.trunk_phase_count
        assert {index + 1 for index, units in enumerate(circuit.units_by_phase) if units} <= set(circuit.phases)
        phases_of_a_unit = terms.unit_phase_count
        assert sum(circuit.units_by_phase) == circuit.unit_count * phases_of_a_unit
        if terms.is_on_all_phases:
            assert max(circuit.units_by_phase) - min(circuit.units_by_phase) <= 1
    assert by_face == {face.name: face.unit_count for face in terms.faces}
    assert terms.may_cross_faces or all(max(each) - min(each) <= 1 for each in sizes.values())
    # With a circuit for each unit the phases are alike or differ by one; fewer circuits must not cost that.
    assert difference(circuits, terms.phase_count) <= 1
    groups = [sum(by_face.values())] if terms.may_cross_faces else list(by_face.values())
    fewest = sum(ceil(units / most) for units in groups)
    assert len(circuits) >= fewest
    if terms.phase_count == 1 or terms.is_on_all_phases:
        assert len(circuits) == fewest
    limit_a = terms.balance_limit_a
    if limit_a is not None and terms.phase_count > 1 and not terms.is_on_all_phases:
        limit_a = max(limit_a, 2.0 * terms.unit_ac_current_a)
        assert difference_after_a_fault(circuits, terms.phase_count) * terms.unit_ac_current_a <= limit_a * (1.0 + 1e-6)


@cache
def totals(units: int, most: int, number: int, phase_count: int) -> frozenset[tuple[int, ...]]:
    """Units on each phase for every way to put one group's units on exactly so many circuits, counted out."""
    found = {(0,) * phase_count}
    for _ in range(number):
        found = {
            tuple(total + size * (index == phase) for index, total in enumerate(each))
            for each in found
            for size in range(1, min(most, units - sum(each)) + 1)
            for phase in range(phase_count)
        }
    return frozenset(each for each in found if sum(each) == units)


def fewest_balanced(groups: tuple[int, ...], most: int, phase_count: int) -> int:
    """The fewest circuits with which the phases differ by at most one unit, and by none where they can; counted out."""
    least = min(1, sum(groups) % phase_count)
    lowest = [ceil(units / most) for units in groups]
    for numbers_of in sorted(product(*(range(a, b + 1) for a, b in zip(lowest, groups, strict=True))), key=sum):
        sums = {(0,) * phase_count}
        for units, number in zip(groups, numbers_of, strict=True):
            more = totals(units, most, number, phase_count)
            sums = {tuple(a + b for a, b in zip(each, other, strict=True)) for each in sums for other in more}
        if any(max(each) - min(each) <= least for each in sums):
            return sum(numbers_of)
    raise AssertionError("one circuit for each unit is always balanced")


@given(st.lists(st.integers(1, 9), min_size=1, max_size=3).map(tuple), st.integers(2, 6), st.integers(2, 3))
def test_the_balance_is_the_best_there_is_and_its_circuits_are_the_fewest(
    groups: tuple[int, ...], most: int, phase_count: int
) -> None:
    circuits = split(request(*groups, phase_count=phase_count, units_per_trunk_max=most))
    assert difference(circuits, phase_count) == min(1, sum(groups) % phase_count)
    assert len(circuits) == fewest_balanced(groups, most, phase_count)


@pytest.mark.parametrize(
    ("units", "rules", "by_phase"),
    # Trade review B3: 10 units were all on phase 1 at 15.9 A, 15 units behind 32 A too, at 23.9 A.
    [(10, RULES, (4, 3, 3)), (15, BranchCircuitRules(32.0, 1.25, Cited("a code")), (5, 5, 5)), (2, RULES, (1, 1, 0))],
)
def test_a_supply_of_three_phases_is_used_on_all_three(
    units: int, rules: BranchCircuitRules, by_phase: tuple[int, ...]
) -> None:
    circuits = split(request(units, phase_count=3, unit_ac_current_a=1.59, rules=rules))
    assert tuple(sorted(phase_units(circuits, 3), reverse=True)) == by_phase
    assert len(circuits) == sum(map(bool, by_phase))


@pytest.mark.parametrize(
    ("units", "existing_a", "by_phase"),
    [
        (9, (8.0, 0.0, 0.0), (0, 5, 4)),
        (9, (4.8, 0.0, 0.0), (1, 4, 4)),
        (9, (1.6, 1.6, 1.6), (3, 3, 3)),
        (2, (0.0, 16.0, 0.0), (1, 0, 1)),
    ],
)
def test_units_go_to_the_phases_that_have_less_already(
    units: int, existing_a: tuple[float, ...], by_phase: tuple[int, ...]
) -> None:
    circuits = split(request(units, phase_count=3, existing_a=existing_a))
    assert phase_units(circuits, 3) == by_phase


@given(st.integers(1, 60), st.lists(numbers(0.0, 30.0), min_size=3, max_size=3).map(tuple))
def test_with_existing_generation_no_unit_would_be_better_on_another_phase(
    units: int, existing_a: tuple[float, float, float]
) -> None:
    found = phase_units(split(request(units, phase_count=3, existing_a=existing_a)), 3)
    currents = [count * 1.6 + there for count, there in zip(found, existing_a, strict=True)]
    least = min(currents)
    assert all(current - least <= 1.6 + 1e-6 for current, count in zip(currents, found, strict=True) if count)


def test_a_three_phase_trunk_takes_its_units_in_turn_behind_one_device() -> None:
    terms = request(10, 5, phase_count=3, trunk_phase_count=3)
    first, second = split(terms)
    assert (first.phases, first.units_by_phase) == ((1, 2, 3), (4, 3, 3))
    assert first.current_a == pytest.approx(6.4)
    # The next trunk goes on where the last one ended, so that the phases stay alike.
    assert (second.phases, second.units_by_phase) == ((2, 3, 1), (1, 2, 2))
    assert phase_units((first, second), 3) == (5, 5, 5)
    assert units_per_circuit(terms) == 30
    assert "three-phase trunk" in english(rule_in_words(terms))


def test_three_phase_units_load_all_phases_alike() -> None:
    terms = request(12, phase_count=3, trunk_phase_count=3, unit_phase_count=3)
    circuits = split(terms)
    assert [(circuit.unit_count, circuit.units_by_phase) for circuit in circuits] == [(6, (6, 6, 6))] * 2
    assert units_per_circuit(terms) == 10


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"unit_phase_count": 3, "trunk_phase_count": 3}, "unit_phase_count", "^1: the phases of the supply"),
        ({"trunk_phase_count": 3}, "trunk_phase_count", "^1: the phases of the supply"),
        ({"phase_count": 3, "trunk_phase_count": 2}, "trunk_phase_count", "^1 or 3: the phases of the supply"),
        ({"phase_count": 3, "unit_phase_count": 3}, "trunk_phase_count", "a trunk of the 3 phases of its units"),
    ],
)
def test_trunks_and_units_of_other_phases_than_the_supply_are_refused(changes: dict[str, int], field: str, says: str) -> None:
    with pytest.raises(EngineeringError, match=says) as error:
        split(request(5, **changes))
    assert error.value.fields == (field,)
    require_phases_of_the_supply(request(5))


def test_many_circuits_balance() -> None:
    assert difference(split(request(*[1000 - 7 * index for index in range(16)], phase_count=3)), 3) <= 1


def test_a_circuit_may_cross_faces_where_it_is_allowed() -> None:
    apart, across = request(7, 4, 9), request(7, 4, 9, may_cross_faces=True)
    assert [circuit.unit_count for circuit in split(apart)] == [7, 4, 9]
    assert [[(part.name, part.unit_count) for part in circuit.units_by_face] for circuit in split(across)] == [
        [("face 0", 7), ("face 1", 3)],
        [("face 1", 1), ("face 2", 9)],
    ]
    assert [circuit.face for circuit in split(across)] == ["face 0 + face 1", "face 1 + face 2"]


@pytest.mark.parametrize(
    ("changes", "most"),
    [
        ({"unit_ac_current_a": 16.0}, 1),
        ({"unit_ac_current_a": 8.0}, 2),
        ({"unit_ac_current_a": 1.6}, 10),
        ({"unit_ac_current_a": 1.6001}, 9),
        ({"unit_ac_current_a": 1.0}, 16),
        ({"unit_ac_current_a": 16.0 / 3.0}, 3),
        # 45 x 1.12 A x 1.25 is 63 A, but 63 / 1.25 / 1.12 is a hair below 45 in floating point.
        ({"unit_ac_current_a": 1.12, "rules": BranchCircuitRules(63.0, 1.25, Cited("a code"))}, 45),
        ({"units_per_trunk_max": 5}, 5),
        ({"units_per_trunk_max": 50}, 10),
        ({"phase_count": 3, "balance_limit_a": 8.0}, 4),  # 14, 13 and 13 units: with a circuit of 5 off 6 too few are left
        ({"phase_count": 2, "balance_limit_a": 8.0}, 5),
        ({"phase_count": 1, "balance_limit_a": 8.0}, 10),
        ({"phase_count": 3, "balance_limit_a": 0.1}, 1),
    ],
)
def test_most_units_on_a_circuit(changes: dict[str, object], most: int) -> None:
    terms = request(40, **changes)
    assert units_per_circuit(terms) == most
    assert ("8 A of difference" in english(rule_in_words(terms))) is (
        "balance_limit_a" in changes and changes["phase_count"] != 1 and changes["balance_limit_a"] == 8.0
    )

"""Units over circuits and phases."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
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
    rule_in_words,
    smallest_device_a,
    split,
    units_per_circuit,
)
from wattpair_service.engineering.errors import EngineeringError

RULES = BranchCircuitRules(device_rating_a=20.0, continuous_current_factor=1.25, source="a code")


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
    return request(
        *draw(st.lists(st.integers(1, 300), min_size=1, max_size=6)),
        phase_count=draw(st.integers(1, 3)),
        unit_ac_current_a=draw(numbers(0.1, rating / factor)),
        rules=BranchCircuitRules(rating, factor, "a code"),
        units_per_trunk_max=draw(st.none() | st.integers(1, 30)),
        balance_limit_a=draw(st.none() | numbers(0.5, 40.0)),
        may_cross_faces=draw(st.booleans()),
    )


@given(requests())
def test_circuits_are_the_fewest_within_their_limits_and_even(terms: SplitRequest) -> None:
    circuits, most = split(terms), units_per_circuit(terms)
    by_face: Counter[str] = Counter()
    sizes: dict[tuple[str, int], list[int]] = {}
    for circuit in circuits:
        assert circuit.unit_count == sum(part.unit_count for part in circuit.units_by_face) > 0
        assert terms.may_cross_faces or len(circuit.units_by_face) == 1
        by_face.update({part.name: part.unit_count for part in circuit.units_by_face})
        sizes.setdefault((circuit.face, circuit.phase), []).append(circuit.unit_count)
        assert current_fits(circuit.current_a, terms.rules)
        assert circuit.unit_count <= (terms.units_per_trunk_max or circuit.unit_count)
        assert 1 <= circuit.phase <= terms.phase_count
    assert by_face == {face.name: face.unit_count for face in terms.faces}
    groups = [sum(by_face.values())] if terms.may_cross_faces else list(by_face.values())
    assert len(circuits) == sum(ceil(units / most) for units in groups)
    assert terms.may_cross_faces or all(max(each) - min(each) <= 1 for each in sizes.values())
    if terms.balance_limit_a is not None and terms.phase_count > 1:
        limit_a = max(terms.balance_limit_a, terms.unit_ac_current_a)
        assert difference(circuits, terms.phase_count) * terms.unit_ac_current_a <= limit_a * (1.0 + 1e-6)


def every_split(groups: tuple[int, ...], most: int, phase_count: int) -> Iterator[int]:
    """Difference between phases of every split into the fewest circuits, counted out."""
    ways = []
    for units in groups:
        number = ceil(units / most)
        sizes = [row for row in product(range(1, most + 1), repeat=number) if sum(row) == units]
        phases = list(product(range(phase_count), repeat=number))
        totals = set()
        for row, at in product(sizes, phases):
            totals.add(tuple(sum(size for size, phase in zip(row, at, strict=True) if phase == p) for p in range(phase_count)))
        ways.append(totals)
    for combination in product(*ways):
        sums = [sum(column) for column in zip(*combination, strict=True)]
        yield max(sums) - min(sums)


@given(st.lists(st.integers(1, 9), min_size=1, max_size=3).map(tuple), st.integers(3, 5), st.integers(2, 3))
def test_the_balance_is_the_best_there_is(groups: tuple[int, ...], most: int, phase_count: int) -> None:
    circuits = split(request(*groups, phase_count=phase_count, units_per_trunk_max=most))
    assert difference(circuits, phase_count) == min(every_split(groups, most, phase_count))


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
        ({"unit_ac_current_a": 1.12, "rules": BranchCircuitRules(63.0, 1.25, "a code")}, 45),
        ({"units_per_trunk_max": 5}, 5),
        ({"units_per_trunk_max": 50}, 10),
        ({"phase_count": 3, "balance_limit_a": 8.0}, 5),
        ({"phase_count": 1, "balance_limit_a": 8.0}, 10),
        ({"phase_count": 3, "balance_limit_a": 0.1}, 1),
    ],
)
def test_most_units_on_a_circuit(changes: dict[str, object], most: int) -> None:
    terms = request(40, **changes)
    assert units_per_circuit(terms) == most
    assert ("8 A of difference" in rule_in_words(terms)) is (changes == {"phase_count": 3, "balance_limit_a": 8.0})


def test_no_standard_device_is_large_enough() -> None:
    with pytest.raises(EngineeringError, match="more than the largest standard rating, 20 A"):
        smallest_device_a(current_a=17.2, continuous_current_factor=1.25, standard_ratings_a=(20.0, 16.0))

"""Voltage rise, against a nodal solution of the same cables."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings, strategies as st

from tests.builders import installation, numbers, wiring
from wattpair_service.engineering.circuits.voltage_rise import (
    CircuitOnTrunk,
    CircuitRise,
    TrunkFeed,
    Wiring,
    centre_index,
    supply_rise_v,
    trunk_mean_rise_v,
    trunk_rise_v,
    voltage_rises,
)
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.rules import conductor_tables
from wattpair_service.words.catalogue import english

ComplexArray = npt.NDArray[np.complex128]
PHASORS = np.exp(-2j * np.pi * np.arange(3) / 3.0)
TABLE = conductor_tables()["iec_60228_class_2"]
AWG_TABLE = conductor_tables()["nec_chapter_9_table_8_stranded"]
WIRING = wiring(conductor_temp_c=20.0, home_run_length_m=20.0)


def circuit(units: int, *, phase: int = 1, spacing_m: float = 1.8, device_a: float = 20.0) -> CircuitOnTrunk:
    return CircuitOnTrunk(f"circuit {phase}", (phase,), tuple(spacing_m * index for index in range(units)), device_a)


def with_home_run(terms: Wiring, size: str | None) -> Wiring:
    return replace(terms, home_run=replace(terms.home_run, size=size))


def rise(units: int, terms: Wiring, *, current_a: float = 1.2, device_a: float = 20.0, supply: str = "10 mm2") -> CircuitRise:
    return rise_of(circuit(units, device_a=device_a), terms, current_a=current_a, supply=supply)


def rise_of(on_trunk: CircuitOnTrunk, terms: Wiring, *, current_a: float = 1.2, supply: str = "10 mm2") -> CircuitRise:
    currents = [current_a * len(on_trunk.positions_m)] * len(on_trunk.phases)
    (found,) = voltage_rises([on_trunk], unit_current_a=current_a, phase_currents_a=currents, supply_size=supply, wiring=terms)
    return found


def voltages(nodes: int, resistors: list[tuple[int, int, float]], sources: list[tuple[int, int, complex]]) -> ComplexArray:
    """Voltages of all nodes against node 0, by the nodal method; a source feeds (into, out of) two nodes."""
    matrix, feed = np.zeros((nodes, nodes), dtype=complex), np.zeros(nodes, dtype=complex)
    for a, b, ohm in resistors:
        for row, column, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
            matrix[row, column] += sign / ohm
    for into, out_of, current in sources:
        feed[into] += current
        feed[out_of] -= current
    return np.concatenate([[0.0], np.linalg.solve(matrix[1:, 1:], feed[1:])])


GAPS = st.lists(numbers(0.05, 10.0), min_size=0, max_size=25)


def positions_of(gaps: list[float]) -> tuple[float, ...]:
    return tuple(np.concatenate([[0.0], np.cumsum(gaps)]).tolist())


@given(GAPS, st.data(), numbers(0.1, 5.0), numbers(1e-4, 0.05))
def test_the_mean_rise_is_the_power_that_a_trunk_takes(
    gaps: list[float], data: st.DataObject, current: float, ohm_m: float
) -> None:
    positions = positions_of(gaps)
    feed = data.draw(st.integers(0, len(positions) - 1))
    # Each length between two units carries the current of all units on its far side from the feed, there and back.
    behind = [len(positions) - 1 - gap if gap >= feed else gap + 1 for gap in range(len(gaps))]
    lost_w = sum(2.0 * ohm_m * length * (units * current) ** 2 for length, units in zip(gaps, behind, strict=True))
    mean = trunk_mean_rise_v(positions_m=positions, feed_m=positions[feed], unit_current_a=current, resistance_ohm_m=ohm_m)
    assert mean * current * len(positions) == pytest.approx(lost_w, rel=1e-9, abs=1e-12)
    farthest = trunk_rise_v(positions_m=positions, feed_m=positions[feed], unit_current_a=current, resistance_ohm_m=ohm_m)
    assert mean <= farthest * (1.0 + 1e-9)


def test_a_circuit_takes_its_mean_rise_on_the_trunk_and_all_of_the_rest() -> None:
    found = rise(8, WIRING)
    positions = circuit(8).positions_m
    ohm_m = TABLE.resistance_ohm_m(TABLE.conductor(WIRING.trunk_size, "trunk_size"), WIRING.conductor_temp_c)
    mean = trunk_mean_rise_v(positions_m=positions, feed_m=0.0, unit_current_a=1.2, resistance_ohm_m=ohm_m)
    assert found.rated_loss_share * WIRING.voltage_v == pytest.approx(found.total_v - found.trunk_v + mean, rel=1e-12)
    assert 0.0 < found.rated_loss_share < found.total_share


@given(GAPS, st.data(), numbers(0.1, 5.0), numbers(1e-4, 0.05), numbers(0.1, 60.0))
def test_trunk_and_home_run_agree_with_a_nodal_solution(
    gaps: list[float], data: st.DataObject, current: float, ohm_m: float, run_m: float
) -> None:
    positions = positions_of(gaps)
    units = len(positions)
    feed = data.draw(st.integers(0, units - 1))
    # Both conductors at the board are node 0, which the grid holds; 1.. is one conductor, units + 1.. the other.
    resistors = []
    for first in (1, units + 1):
        resistors.append((0, first + feed, ohm_m * run_m))
        resistors += [(first + index, first + index + 1, ohm_m * gap) for index, gap in enumerate(gaps)]
    volts = voltages(2 * units + 1, resistors, [(1 + index, units + 1 + index, current) for index in range(units)]).real
    expected = np.max(volts[1 : units + 1] - volts[units + 1 :])
    trunk = trunk_rise_v(positions_m=positions, feed_m=positions[feed], unit_current_a=current, resistance_ohm_m=ohm_m)
    assert trunk + 2.0 * ohm_m * run_m * units * current == pytest.approx(expected, rel=1e-9, abs=1e-9)


def trunk_rises(positions: tuple[float, ...], feed: int, ohm_m: float, currents: ComplexArray, neutral: bool) -> ComplexArray:
    """Rise of each phase at each unit along a three-phase trunk, by the nodal method; its feed is held by the grid.

    `currents` has a row for each unit and a column for each phase; with a neutral, they return through it.
    """
    units, conductors = len(positions), 4 if neutral else 3
    resistors = []
    for first in range(1, 1 + conductors * units, units):
        resistors.append((0, first + feed, 1e-9))
        resistors += [(first + i, first + i + 1, ohm_m * (positions[i + 1] - positions[i])) for i in range(units - 1)]
    sources = [
        (1 + phase * units + unit, 1 + 3 * units + unit if neutral else 0, currents[unit, phase])
        for unit in range(units)
        for phase in range(3)
    ]
    volts = voltages(1 + conductors * units, resistors, sources)[1:].reshape(conductors, units)
    return np.asarray((volts[:3] - (volts[3] if neutral else 0.0)) * np.conj(PHASORS)[:, None])


@given(GAPS, st.data(), numbers(0.1, 5.0), numbers(1e-4, 0.05), st.sampled_from(["end", "centre"]))
def test_units_in_turn_on_a_three_phase_trunk_agree_with_a_nodal_solution_of_each_phase_alone(
    gaps: list[float], data: st.DataObject, current: float, ohm_m: float, trunk_feed: TrunkFeed
) -> None:
    positions = positions_of(gaps)
    size = data.draw(st.sampled_from(TABLE.conductors))
    terms = replace(WIRING, trunk=replace(WIRING.trunk, size=size.size), trunk_feed=trunk_feed)
    phases = data.draw(st.permutations([1, 2, 3]).map(tuple))
    found = rise_of(CircuitOnTrunk("one", phases, positions, 125.0), terms, current_a=current)
    feed = centre_index(positions) if trunk_feed == "centre" else 0
    in_turn = np.zeros((len(positions), 3), dtype=complex)
    for unit in range(len(positions)):
        in_turn[unit, phases[unit % 3] - 1] = current * PHASORS[phases[unit % 3] - 1]
    ohm = size.resistance_ohm_km / 1000.0
    alone = [
        trunk_rises(positions, feed, ohm, in_turn * (np.arange(3) == phase), neutral=True)[phase].real.max()
        for phase in range(3)
    ]
    assert found.trunk_v == pytest.approx(max(alone), rel=1e-6, abs=1e-6)
    # With all phases feeding, the neutral carries less: what is answered is the safe side.
    together = trunk_rises(positions, feed, ohm, in_turn, neutral=True).real
    assert together.max() <= found.trunk_v + 1e-6


@given(GAPS, st.data(), numbers(0.1, 5.0))
def test_three_phase_units_agree_with_a_nodal_solution_without_a_neutral(
    gaps: list[float], data: st.DataObject, current: float
) -> None:
    positions = positions_of(gaps)
    size = data.draw(st.sampled_from(TABLE.conductors))
    terms = replace(WIRING, trunk=replace(WIRING.trunk, size=size.size))
    found = rise_of(CircuitOnTrunk("one", (1, 2, 3), positions, 125.0, True), terms, current_a=current)
    currents = np.full((len(positions), 3), current) * PHASORS
    expected = trunk_rises(positions, 0, size.resistance_ohm_km / 1000.0, currents, neutral=False).real.max()
    assert found.trunk_v == pytest.approx(expected, rel=1e-6, abs=1e-6)
    home_run_ohm = TABLE.conductor(found.home_run_size, "size").resistance_ohm_km / 1000.0 * 20.0
    assert found.home_run_v == pytest.approx(home_run_ohm * current * len(positions))


@given(st.lists(numbers(0.0, 60.0), min_size=1, max_size=3), numbers(1e-4, 0.05), numbers(0.1, 60.0))
def test_supply_cable_agrees_with_a_nodal_solution(currents: list[float], ohm_m: float, length_m: float) -> None:
    sources = [(1 + phase, 4, current * PHASORS[phase]) for phase, current in enumerate(currents)]
    volts = voltages(5, [(0, node, ohm_m * length_m) for node in range(1, 5)], sources)
    for phase in range(len(currents)):
        expected = ((volts[1 + phase] - volts[4]) * np.conj(PHASORS[phase])).real
        got = supply_rise_v(phase_currents_a=currents, phase=phase, length_m=length_m, resistance_ohm_m=ohm_m)
        assert got == pytest.approx(expected, rel=1e-9, abs=1e-9), phase


@given(st.integers(1, 40), numbers(0.1, 3.0), numbers(0.0, 80.0), numbers(0.005, 0.1))
def test_the_conductor_is_the_smallest_that_meets_the_limit(units: int, current: float, run_m: float, limit: float) -> None:
    terms = replace(WIRING, home_run_length_m=run_m, limit_share=limit)
    found = rise(units, terms, current_a=current)
    sizes = [conductor.size for conductor in TABLE.conductors][1:]
    assert sizes[-1] == "95 mm2"
    in_a_breaker = sizes[: sizes.index("25 mm2") + 1]
    meeting = [size for size in in_a_breaker if rise(units, with_home_run(terms, size), current_a=current).meets_limit]
    assert found.smallest_home_run_size == (meeting[0] if meeting else None)
    assert found.meets_limit is bool(meeting)
    # Where none meets the limit, a thicker home run does not mend the trunk.
    assert found.home_run_size == (meeting[0] if meeting else sizes[0])


def test_ten_units_by_hand() -> None:
    found = rise(10, with_home_run(WIRING, "2.5 mm2"))
    assert found.trunk_v == pytest.approx(1.4405, abs=5e-5)
    assert found.total_v == pytest.approx(4.9973, abs=5e-5)
    assert found.meets_limit is False
    assert found.smallest_home_run_size == "4 mm2"
    assert "feeding the trunk at its centre would meet it, or a home run of 4 mm2 would meet it, or at most 9 units" in english(
        found.explanation
    )
    assert found.trunk_end_fed_v == found.trunk_v
    assert found.trunk_centre_fed_v == pytest.approx(1.4405 / 3.0, abs=5e-5)
    assert rise(10, replace(WIRING, trunk_feed="centre")).trunk_v == found.trunk_centre_fed_v
    assert rise(10, replace(WIRING, conductor_temp_c=70.0)).trunk_v == pytest.approx(1.1965 * found.trunk_v)


@pytest.mark.parametrize(
    ("units", "limit_share", "given_size", "size", "smallest", "meets", "says"),
    [
        (60, 0.02, None, "2.5 mm2", None, False, "at most 9 units on the circuit"),
        (10, None, None, "2.5 mm2", None, None, "set by the network operator"),
        (10, 0.02, None, "4 mm2", "4 mm2", True, "within 2 %"),
        (5, 0.02, None, "2.5 mm2", "2.5 mm2", True, "within 2 %"),
        (5, 0.02, "2.5 mm2", "2.5 mm2", "2.5 mm2", True, "within 2 %"),
    ],
    ids=["no size is enough", "no limit", "chosen by voltage", "chosen by protection", "given"],
)
def test_home_run_and_explanation(
    units: int,
    limit_share: float | None,
    given_size: str | None,
    size: str,
    smallest: str | None,
    meets: bool | None,
    says: str,
) -> None:
    found = rise(units, replace(with_home_run(WIRING, given_size), limit_share=limit_share))
    assert (found.home_run_size, found.smallest_home_run_size, found.meets_limit) == (size, smallest, meets)
    assert says in english(found.explanation)


@settings(max_examples=settings().max_examples // 2)
@given(st.integers(2, 60), st.sampled_from(["end", "centre"]), st.floats(0.0, 60.0))
def test_fewer_units_on_the_circuit_are_the_most_that_meet_the_limit(units: int, feed: TrunkFeed, length_m: float) -> None:
    terms = replace(with_home_run(WIRING, "4 mm2"), trunk_feed=feed, home_run_length_m=length_m)
    meeting = [count for count in range(1, units) if rise(count, terms).meets_limit]
    found = rise(units, terms)
    if found.meets_limit or not meeting:
        assert "units on the circuit" not in english(found.explanation)
    else:
        noun = "unit" if max(meeting) == 1 else "units"
        assert f"at most {max(meeting)} {noun} on the circuit" in english(found.explanation)


@pytest.mark.parametrize(
    ("terms", "supply", "field"),
    [
        (wiring(trunk_size="3 mm2"), "10 mm2", "trunk_size"),
        (wiring(home_run_size="3 mm2"), "10 mm2", "home_run_size"),
        (wiring(), "3 mm2", "supply_size"),
    ],
)
def test_sizes_that_the_table_has_not_are_refused(terms: Wiring, supply: str, field: str) -> None:
    with pytest.raises(EngineeringError, match=r'"1\.5 mm2", "2\.5 mm2"') as error:
        rise(5, terms, supply=supply)
    assert error.value.fields == (field,)


@pytest.mark.parametrize(
    ("device_a", "size"),
    # NEC Table 310.16: 60 degC column up to 100 A, 75 degC above (110.14(C)(1)); 240.4(D) for 12 and 10 AWG.
    [
        (20.0, "12 AWG"),
        (30.0, "10 AWG"),
        (40.0, "8 AWG"),
        (45.0, "6 AWG"),
        (110.0, "2 AWG"),
        (200.0, "3/0 AWG"),
        (225.0, "4/0 AWG"),
    ],
)
def test_the_home_run_is_the_smallest_that_its_device_protects(device_a: float, size: str) -> None:
    terms = wiring(
        "12 AWG", conductors=AWG_TABLE.name, installed=installation("nec_310_16", "conduit_on_wall"), home_run_length_m=1.0
    )
    found = rise(2, terms, device_a=device_a, supply="4/0 AWG")
    assert found.smallest_home_run_size == found.home_run_size == size


def test_no_home_run_is_protected_by_too_large_a_device() -> None:
    found = rise(2, wiring(installed=installation("iec_pvc_70", "surrounded_by_insulation")), device_a=200.0)
    assert (found.smallest_home_run_size, found.home_run_size) == (None, "95 mm2")


@pytest.mark.parametrize(
    ("circuits", "currents_a", "expected_a"),
    [
        ([circuit(10, phase=phase) for phase in (1, 2, 3)], [12.0, 12.0, 12.0], [12.0, 12.0, 12.0]),
        ([circuit(10), circuit(5)], [18.0], [18.0, 18.0]),
        ([circuit(10, phase=1), circuit(5, phase=2)], [12.0, 22.0], [12.0, 22.0]),
    ],
    ids=["each phase by itself", "two circuits of a phase", "generation that is there already"],
)
def test_supply_cable_carries_all_of_a_phase(
    circuits: list[CircuitOnTrunk], currents_a: list[float], expected_a: list[float]
) -> None:
    terms = replace(WIRING, supply_length_m=10.0)
    rises = voltage_rises(circuits, unit_current_a=1.2, phase_currents_a=currents_a, supply_size="10 mm2", wiring=terms)
    assert [each.supply_v for each in rises] == pytest.approx([2.0 * 1.83e-3 * 10.0 * current for current in expected_a])


@given(GAPS)
def test_no_feed_point_is_better_than_the_centre(gaps: list[float]) -> None:
    positions = positions_of(gaps)
    rises = [
        trunk_rise_v(positions_m=positions, feed_m=position, unit_current_a=1.0, resistance_ohm_m=1.0) for position in positions
    ]
    assert rises[centre_index(positions)] == min(rises)

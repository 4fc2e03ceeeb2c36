"""Voltage rise, against a nodal solution of the same cables."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, strategies as st

from tests.builders import numbers
from wattpair_service.engineering.circuits.voltage_rise import (
    CircuitOnTrunk,
    CircuitRise,
    Wiring,
    centre_index,
    supply_rise_v,
    trunk_rise_v,
    voltage_rises,
)
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.rules import conductor_tables

ComplexArray = npt.NDArray[np.complex128]
TABLE = conductor_tables()["iec_60228_class_2"]
WIRING = Wiring(
    table=TABLE,
    conductor_temp_c=20.0,
    voltage_v=230.0,
    limit_share=0.02,
    limit_source="a code",
    trunk_feed="end",
    trunk_size="2.5 mm2",
    home_run_length_m=20.0,
    home_run_size=None,
    supply_length_m=0.0,
    supply_size=None,
)


AWG_TABLE = conductor_tables()["nec_chapter_9_table_8_stranded"]
AWG: dict[str, Any] = {
    "table": AWG_TABLE, "trunk_size": "12 AWG", "home_run_size": "12 AWG", "home_run_length_m": 1.0, "limit_share": 0.02,
}  # fmt: skip


def circuit(units: int, *, phase: int = 1, spacing_m: float = 1.8, device_a: float = 20.0) -> CircuitOnTrunk:
    return CircuitOnTrunk(f"circuit {phase}", phase, tuple(spacing_m * index for index in range(units)), device_a)


def rise(units: int, wiring: Wiring, *, current_a: float = 1.2, device_a: float = 20.0) -> CircuitRise:
    (found,) = voltage_rises([circuit(units, device_a=device_a)], unit_current_a=current_a, phase_count=1, wiring=wiring)
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
    trunk = trunk_rise_v(positions_m=positions, feed_index=feed, unit_current_a=current, resistance_ohm_m=ohm_m)
    assert trunk + 2.0 * ohm_m * run_m * units * current == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(st.lists(numbers(0.0, 60.0), min_size=1, max_size=3), numbers(1e-4, 0.05), numbers(0.1, 60.0))
def test_supply_cable_agrees_with_a_nodal_solution(currents: list[float], ohm_m: float, length_m: float) -> None:
    phasors = np.exp(-2j * np.pi * np.arange(3) / 3.0)
    sources = [(1 + phase, 4, current * phasors[phase]) for phase, current in enumerate(currents)]
    volts = voltages(5, [(0, node, ohm_m * length_m) for node in range(1, 5)], sources)
    for phase in range(len(currents)):
        expected = ((volts[1 + phase] - volts[4]) * np.conj(phasors[phase])).real
        got = supply_rise_v(phase_currents_a=currents, phase=phase, length_m=length_m, resistance_ohm_m=ohm_m)
        assert got == pytest.approx(expected, rel=1e-9, abs=1e-9), phase


@given(st.integers(1, 40), numbers(0.1, 3.0), numbers(0.0, 80.0), numbers(0.005, 0.1))
def test_the_conductor_is_the_smallest_that_meets_the_limit(units: int, current: float, run_m: float, limit: float) -> None:
    wiring = replace(WIRING, home_run_length_m=run_m, limit_share=limit)
    found = rise(units, wiring, current_a=current)
    sizes = [conductor.size for conductor in TABLE.conductors][1:]
    meeting = [size for size in sizes if rise(units, replace(wiring, home_run_size=size), current_a=current).meets_limit]
    assert found.smallest_home_run_size == (meeting[0] if meeting else None)
    assert found.meets_limit is bool(meeting)
    assert found.home_run_size == (meeting[0] if meeting else sizes[-1])


def test_ten_units_by_hand() -> None:
    found = rise(10, replace(WIRING, home_run_size="2.5 mm2"))
    assert found.trunk_v == pytest.approx(1.4405, abs=5e-5)
    assert found.total_v == pytest.approx(4.9973, abs=5e-5)
    assert found.meets_limit is False
    assert found.smallest_home_run_size == "4 mm2"
    by_centre = "feeding the trunk at its centre would meet it or a home run of 4 mm2 would meet it by voltage only"
    assert by_centre in found.explanation
    assert found.trunk_end_fed_v == found.trunk_v
    assert found.trunk_centre_fed_v == pytest.approx(1.4405 / 3.0, abs=5e-5)
    assert rise(10, replace(WIRING, trunk_feed="centre")).trunk_v == found.trunk_centre_fed_v
    assert rise(10, replace(WIRING, conductor_temp_c=70.0)).trunk_v == pytest.approx(1.1965 * found.trunk_v)


@pytest.mark.parametrize(
    ("units", "changes", "size", "smallest", "meets", "says"),
    [
        (60, {}, "10 mm2", None, False, "no home run of the table meets it"),
        (10, {"limit_share": None}, "2.5 mm2", None, None, "set by the network operator"),
        (5, {}, "2.5 mm2", "2.5 mm2", True, "size by voltage only"),
        (5, {"home_run_size": "2.5 mm2"}, "2.5 mm2", "2.5 mm2", True, ""),
    ],
    ids=["no size is enough", "no limit", "chosen by voltage", "given"],
)
def test_home_run_and_explanation(
    units: int, changes: dict[str, Any], size: str, smallest: str | None, meets: bool | None, says: str
) -> None:
    found = rise(units, replace(WIRING, **changes))
    assert (found.home_run_size, found.smallest_home_run_size, found.meets_limit) == (size, smallest, meets)
    assert says in found.explanation
    assert ("size by voltage only" in found.explanation) == (says == "size by voltage only")


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        *(({field: "3 mm2"}, field, r'"1\.5 mm2", "2\.5 mm2"') for field in ("trunk_size", "home_run_size", "supply_size")),
        ({"supply_length_m": 1.0}, "supply_size", "required where supply_length_m"),
        ({"home_run_ampacity_a": 20.0}, "home_run_size", "required where home_run_ampacity_a"),
        (AWG | {"trunk_size": "14 AWG"}, "trunk_size", "12 AWG or thicker"),
        (AWG | {"home_run_size": "14 AWG"}, "home_run_size", "12 AWG or thicker"),
    ],
)
def test_wrong_sizes_are_refused(changes: dict[str, Any], field: str, says: str) -> None:
    with pytest.raises(EngineeringError, match=says) as error:
        rise(5, replace(WIRING, **changes))
    assert error.value.fields == (field,)


@pytest.mark.parametrize(("size", "device_a"), [("12 AWG", 20.0), ("10 AWG", 30.0), ("8 AWG", 40.0)])
def test_the_overcurrent_device_sets_a_smallest_conductor(size: str, device_a: float) -> None:
    found = rise(5, replace(WIRING, **AWG | {"trunk_size": size, "home_run_size": None}), device_a=device_a)
    assert found.smallest_home_run_size == found.home_run_size == size
    assert AWG_TABLE.thinnest_for_device(device_a, from_index=1).size == size
    with pytest.raises(EngineeringError, match="40 A is too large for all"):
        replace(AWG_TABLE, conductors=AWG_TABLE.conductors[:2]).thinnest_for_device(40.0)


@pytest.mark.parametrize(
    ("circuits", "phases", "current_a"),
    [([circuit(10, phase=phase) for phase in (1, 2, 3)], 3, 12.0), ([circuit(10), circuit(5)], 1, 18.0)],
    ids=["each phase by itself", "two circuits of a phase"],
)
def test_supply_cable_carries_all_circuits_of_a_phase(circuits: list[CircuitOnTrunk], phases: int, current_a: float) -> None:
    wiring = replace(WIRING, supply_length_m=10.0, supply_size="10 mm2")
    rises = voltage_rises(circuits, unit_current_a=1.2, phase_count=phases, wiring=wiring)
    assert [each.supply_v for each in rises] == pytest.approx([2.0 * 1.83e-3 * 10.0 * current_a] * len(circuits))


@given(GAPS)
def test_no_feed_point_is_better_than_the_centre(gaps: list[float]) -> None:
    positions = positions_of(gaps)
    rises = [
        trunk_rise_v(positions_m=positions, feed_index=index, unit_current_a=1.0, resistance_ohm_m=1.0)
        for index in range(len(positions))
    ]
    assert rises[centre_index(positions)] == min(rises)

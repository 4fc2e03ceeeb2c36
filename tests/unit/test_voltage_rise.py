"""Voltage rise, against a nodal solution of the same cables."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.builders import numbers
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.voltage_rise import (
    CircuitOnTrunk,
    CircuitRise,
    Wiring,
    centre_index,
    supply_rise_v,
    trunk_rise_v,
    voltage_rises,
)
from wattpair_service.rules import conductor_tables

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


def circuit(units: int, *, phase: int = 1, spacing_m: float = 1.8, device_a: float = 20.0) -> CircuitOnTrunk:
    """A circuit of evenly spaced units."""
    return CircuitOnTrunk(f"circuit {phase}", phase, tuple(spacing_m * index for index in range(units)), device_a)


def rise(units: int, wiring: Wiring, *, current_a: float = 1.2, device_a: float = 20.0) -> CircuitRise:
    """The rise of one circuit."""
    (found,) = voltage_rises([circuit(units, device_a=device_a)], unit_current_a=current_a, phase_count=1, wiring=wiring)
    return found


class Network:
    """Resistors and current sources between nodes, solved as a whole; node 0 is the reference."""

    def __init__(self, nodes: int) -> None:
        self.matrix = np.zeros((nodes, nodes), dtype=complex)
        self.feed = np.zeros(nodes, dtype=complex)

    def resistor(self, a: int, b: int, ohm: float) -> None:
        for row, column, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
            self.matrix[row, column] += sign / ohm

    def source(self, out: int, back: int, current: complex) -> None:
        self.feed[out] += current
        self.feed[back] -= current

    def voltages(self) -> np.ndarray[tuple[int], np.dtype[np.complex128]]:
        solved = np.linalg.solve(self.matrix[1:, 1:], self.feed[1:])
        return np.concatenate([[0.0], solved])


@given(
    st.lists(numbers(0.05, 10.0), min_size=0, max_size=25),
    st.data(),
    numbers(0.1, 5.0),
    numbers(1e-4, 0.05),
    numbers(0.1, 60.0),
)
def test_the_trunk_and_its_home_run_are_those_of_a_nodal_solution(
    gaps: list[float], data: st.DataObject, current: float, ohm_m: float, run_m: float
) -> None:
    positions = tuple(float(p) for p in np.concatenate([[0.0], np.cumsum(gaps)]))
    units = len(positions)
    feed = data.draw(st.integers(0, units - 1))
    # The board's way and return are both the reference: the grid holds them. 1.. are the way, units + 1.. the return.
    network = Network(2 * units + 1)
    for first in (1, units + 1):
        network.resistor(0, first + feed, ohm_m * run_m)
        for index, gap in enumerate(gaps):
            network.resistor(first + index, first + index + 1, ohm_m * gap)
    for index in range(units):
        network.source(1 + index, units + 1 + index, current)
    volts = network.voltages().real
    expected = max(volts[1 + index] - volts[units + 1 + index] for index in range(units))
    trunk = trunk_rise_v(positions_m=positions, feed_index=feed, unit_current_a=current, resistance_ohm_m=ohm_m)
    assert trunk + 2.0 * ohm_m * run_m * units * current == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(st.lists(numbers(0.0, 60.0), min_size=1, max_size=3), numbers(1e-4, 0.05), numbers(0.1, 60.0))
def test_the_supply_cable_is_that_of_a_nodal_solution(currents: list[float], ohm_m: float, length_m: float) -> None:
    turns = np.exp(-2j * np.pi * np.arange(3) / 3.0)
    network = Network(5)
    for node in range(1, 5):
        network.resistor(0, node, ohm_m * length_m)
    for phase, current in enumerate(currents):
        network.source(1 + phase, 4, current * turns[phase])
    volts = network.voltages()
    for phase in range(len(currents)):
        expected = ((volts[1 + phase] - volts[4]) * np.conj(turns[phase])).real
        got = supply_rise_v(phase_currents_a=currents, phase=phase, length_m=length_m, resistance_ohm_m=ohm_m)
        assert got == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(st.integers(1, 40), numbers(0.1, 3.0))
def test_feeding_at_the_centre_is_never_worse(units: int, current: float) -> None:
    found = rise(units, WIRING, current_a=current)
    assert found.trunk_centre_fed_v <= found.trunk_end_fed_v + 1e-12
    assert rise(units, replace(WIRING, trunk_feed="centre"), current_a=current).trunk_v == found.trunk_centre_fed_v


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
    assert (
        "feeding the trunk at its centre would meet it or a home run of 4 mm2 would meet it by voltage only"
        in found.explanation
    )
    assert found.trunk_centre_fed_v == pytest.approx(1.4405 / 3.0, abs=5e-5)


def test_what_no_home_run_can_mend() -> None:
    found = rise(60, WIRING)
    assert found.smallest_home_run_size is None
    assert "no home run of the table meets it" in found.explanation


def test_without_a_limit_the_home_run_is_like_the_trunk() -> None:
    found = rise(10, replace(WIRING, limit_share=None))
    assert (found.home_run_size, found.smallest_home_run_size, found.meets_limit) == ("2.5 mm2", None, None)
    assert found.explanation.endswith("set by the network operator")


def test_a_device_may_be_too_large_for_a_conductor() -> None:
    table = conductor_tables()["nec_chapter_9_table_8_stranded"]
    wiring = replace(WIRING, table=table, trunk_size="12 AWG", home_run_length_m=1.0)
    assert rise(5, wiring, device_a=20.0).smallest_home_run_size == "12 AWG"
    for trunk, device_a in (("10 AWG", 30.0), ("8 AWG", 40.0)):
        found = rise(5, replace(wiring, trunk_size=trunk), device_a=device_a)
        assert found.smallest_home_run_size == found.home_run_size == trunk


@pytest.mark.parametrize("field", ["trunk_size", "home_run_size"])
def test_a_cable_that_its_device_must_not_protect_is_refused(field: str) -> None:
    table = conductor_tables()["nec_chapter_9_table_8_stranded"]
    wiring = replace(WIRING, table=table, trunk_size="12 AWG", home_run_size="12 AWG", limit_share=None)
    assert rise(5, wiring, device_a=20.0).home_run_size == "12 AWG"
    thin = replace(wiring, **{field: "14 AWG"})  # type: ignore[arg-type]
    with pytest.raises(EngineeringError, match="12 AWG or thicker") as error:
        rise(5, thin, device_a=20.0)
    assert error.value.fields == (field,)
    for size, device_a in (("12 AWG", 20.0), ("10 AWG", 30.0), ("8 AWG", 40.0)):
        assert table.behind_device(device_a, from_index=1).size == size
    short = replace(table, conductors=table.conductors[:2])
    with pytest.raises(EngineeringError, match="40 A is too large for all"):
        short.behind_device(40.0)


def test_a_chosen_size_is_by_voltage_only() -> None:
    assert rise(5, WIRING).explanation.endswith("size by voltage only")
    assert not rise(5, replace(WIRING, home_run_size="2.5 mm2")).explanation.endswith("size by voltage only")


def test_an_ampacity_is_that_of_a_known_size() -> None:
    with pytest.raises(EngineeringError, match="required where home_run_ampacity_a") as error:
        rise(3, replace(WIRING, home_run_ampacity_a=20.0))
    assert error.value.fields == ("home_run_size",)


def test_a_phase_that_feeds_alone_raises_the_supply_most() -> None:
    wiring = replace(WIRING, supply_length_m=10.0, supply_size="10 mm2")
    three = [circuit(10, phase=phase) for phase in (1, 2, 3)]
    rises = voltage_rises(three, unit_current_a=1.2, phase_count=3, wiring=wiring)
    assert [each.supply_v for each in rises] == pytest.approx([2.0 * 1.83e-3 * 10.0 * 12.0] * 3)


def test_all_circuits_of_a_phase_share_the_supply_cable() -> None:
    wiring = replace(WIRING, supply_length_m=10.0, supply_size="10 mm2")
    one, two = circuit(10), circuit(5)
    rises = voltage_rises([one, two], unit_current_a=1.2, phase_count=1, wiring=wiring)
    expected = 2.0 * 1.83e-3 * 10.0 * 15 * 1.2
    assert [each.supply_v for each in rises] == pytest.approx([expected, expected])


@given(st.lists(numbers(0.05, 10.0), min_size=0, max_size=25))
def test_the_centre_has_the_smallest_larger_side(gaps: list[float]) -> None:
    positions = tuple(float(p) for p in np.concatenate([[0.0], np.cumsum(gaps)]))
    units = len(positions)
    best = min(
        trunk_rise_v(positions_m=positions, feed_index=index, unit_current_a=1.0, resistance_ohm_m=1.0)
        for index in range(units)
    )
    centre = centre_index(positions)
    assert trunk_rise_v(positions_m=positions, feed_index=centre, unit_current_a=1.0, resistance_ohm_m=1.0) == best


@pytest.mark.parametrize("field", ["trunk_size", "home_run_size", "supply_size"])
def test_a_size_that_is_not_in_the_table(field: str) -> None:
    with pytest.raises(EngineeringError, match=r'"1\.5 mm2", "2\.5 mm2"') as error:
        rise(3, replace(WIRING, **{field: "3 mm2"}))  # type: ignore[arg-type]
    assert error.value.fields == (field,)


def test_a_supply_cable_with_a_length_needs_a_size() -> None:
    with pytest.raises(EngineeringError, match="required where supply_length_m") as error:
        rise(3, replace(WIRING, supply_length_m=1.0))
    assert error.value.fields == ("supply_size",)


def test_heat_raises_the_resistance() -> None:
    assert rise(10, replace(WIRING, conductor_temp_c=70.0)).trunk_v == pytest.approx(1.1965 * rise(10, WIRING).trunk_v)

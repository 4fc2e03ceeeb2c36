"""Voltage rise from microinverters along their trunk, the home run and the supply cable to the connection point.

Resistive, at power factor one and rated current: each unit feeds in at its own position, so each length of trunk carries the
current of the units behind it. Neglected: reactance (small below 16 mm2), contact resistance, and the rise in the network
itself. On a three-phase trunk the single-phase units of each phase return through the neutral as if the other phases were idle:
the safe side, since with all phases alike the neutral carries nothing.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

from wattpair_service.engineering.circuits.cable_checks import CableRun
from wattpair_service.engineering.circuits.conductors import Conductor, ConductorTable
from wattpair_service.engineering.sentences import Sentence, Words, fixed, sentence

TrunkFeed = Literal["end", "centre"]

CONDUCTORS_OF_LOOP = 2.0
ROUNDING = 1e-12

SHARE = sentence("rise.share", "total_v", "percent", "voltage_v")
OPERATOR_SETS = sentence("rise.operator_sets", "share")
WITHIN = sentence("rise.within", "share", "limit_percent", "source")
ABOVE = sentence("rise.above", "share", "limit_percent", "source", "advice")
CENTRE_FEED, SHARED_CABLES = fixed("rise.centre_feed"), fixed("rise.shared_cables")
THICKER_HOME_RUN = sentence("rise.thicker_home_run", "size")
FEWER_UNITS = sentence("rise.fewer_units", "units")
AS_GIVEN = sentence("rise.as_given", "explanation", "percent")


@dataclass(frozen=True, slots=True)
class Wiring:
    """Cables of a system. Lengths in m, one way; sizes name conductors of `table`.

    A home run without a size has the smallest that its device protects, that meets the limit where one does, and that is
    not thinner than the trunk; a supply cable the smallest that its device protects. `limit_share` None means that no limit
    is known; `limit_is_binding` that what is above it must not be built.
    """

    table: ConductorTable
    conductor_temp_c: float
    voltage_v: float
    limit_share: float | None
    limit_source: Words
    trunk_feed: TrunkFeed
    trunk: CableRun
    home_run: CableRun
    home_run_length_m: float
    supply: CableRun
    supply_length_m: float
    system_cable: CableRun | None = None
    system_cable_length_m: float = 0.0
    limit_is_binding: bool = False

    def loop_ohm_m(self, size: str) -> float:
        """Resistance of line and protective conductor [ohm/m]; the latter a size thinner, as in many cables."""
        index = self.table.conductors.index(self.table.conductor(size, "size"))
        pair = (self.table.conductors[index], self.table.conductors[max(0, index - 1)])
        return sum(self.table.resistance_ohm_m(each, self.conductor_temp_c) for each in pair)

    @property
    def trunk_size(self) -> str:
        """Conductor of the trunk."""
        assert self.trunk.size is not None, "a trunk has a size"
        return self.trunk.size


@dataclass(frozen=True, slots=True)
class CircuitRise:
    """Voltage rise of one circuit [V] and as shares of the nominal voltage, with both ways to feed its trunk.

    `rated_loss_share` is the share of its units' rated power that the cables to the connection point take at that power.
    All are of the conductors that are ordered. `total_share_as_given` is `total_share` with those of the request where one of
    them must be replaced, else None.
    """

    circuit: str
    phases: tuple[int, ...]
    trunk_end_fed_v: float
    trunk_centre_fed_v: float
    trunk_v: float
    home_run_v: float
    circuit_share: float
    system_cable_v: float
    supply_v: float
    total_v: float
    total_share: float
    rated_loss_share: float
    home_run_size: str
    smallest_home_run_size: str | None
    meets_limit: bool | None
    explanation: Sentence
    total_share_as_given: float | None = None

    def beside(self, as_given: CircuitRise) -> CircuitRise:
        """The same, with what the conductors as given would have."""
        words = AS_GIVEN(explanation=self.explanation, percent=100.0 * as_given.total_share)
        return replace(self, total_share_as_given=as_given.total_share, explanation=words)


@dataclass(frozen=True, slots=True)
class CircuitOnTrunk:
    """A circuit with the positions of its units along the trunk [m], rising from 0.

    On a trunk of several phases single-phase units take them in turn; three-phase units load all, without a neutral.
    """

    name: str
    phases: tuple[int, ...]
    positions_m: tuple[float, ...]
    device_rating_a: float
    are_three_phase_units: bool = False

    @property
    def positions_by_phase(self) -> tuple[tuple[float, ...], ...]:
        """Positions of the units that load each of its phases; a trunk with few units may have none on some."""
        if self.are_three_phase_units:
            return (self.positions_m,)
        found = (self.positions_m[place :: len(self.phases)] for place in range(len(self.phases)))
        return tuple(positions for positions in found if positions)

    def feed_m(self, feed: TrunkFeed) -> float:
        """Position at which the home run is connected [m]."""
        return self.positions_m[centre_index(self.positions_m) if feed == "centre" else 0]

    @property
    def conductors_of_loop(self) -> float:
        """Lengths of conductor that a unit's current flows through, there and back."""
        return 1.0 if self.are_three_phase_units else CONDUCTORS_OF_LOOP


def trunk_rise_v(
    *,
    positions_m: Sequence[float],
    feed_m: float,
    unit_current_a: float,
    resistance_ohm_m: float,
    loop: float = CONDUCTORS_OF_LOOP,
) -> float:
    """Rise from the feed point at `feed_m` along the trunk to the farthest unit [V]; the larger rise of its two sides."""
    return max(_moments(positions_m, feed_m)) * loop * unit_current_a * resistance_ohm_m


def trunk_mean_rise_v(
    *,
    positions_m: Sequence[float],
    feed_m: float,
    unit_current_a: float,
    resistance_ohm_m: float,
    loop: float = CONDUCTORS_OF_LOOP,
) -> float:
    """Mean rise from the feed point to each unit [V]; over the voltage it is the share of power that the trunk takes.

    A unit is raised by each unit of its side along the length that both currents share, the shorter of their distances from the
    feed. Of distances in rising order that with `behind` others behind it is the shorter one of 2 x `behind` + 1 pairs.
    """
    shared_m = 0.0
    for side in (1.0, -1.0):
        distances = sorted(side * (position - feed_m) for position in positions_m if side * (position - feed_m) > 0.0)
        shared_m += sum(distance * (2 * (len(distances) - index) - 1) for index, distance in enumerate(distances))
    return loop * unit_current_a * resistance_ohm_m * shared_m / len(positions_m)


def centre_index(positions_m: Sequence[float]) -> int:
    """Index of the unit at which feeding the trunk gives the smallest rise."""
    low, high = 0, len(positions_m) - 1
    while low < high:
        middle = (low + high) // 2
        before, behind = _moments(positions_m, positions_m[middle])
        low, high = (middle + 1, high) if before < behind else (low, middle)
    return min((max(0, low - 1), low), key=lambda index: max(_moments(positions_m, positions_m[index])))


def _moments(positions_m: Sequence[float], feed_m: float) -> tuple[float, float]:
    """Sum of the distances from the feed to the units before it and to those behind it [m].

    Each unit's current raises the voltage along the trunk from the unit to the feed, so the rise at the last unit of a side is
    this sum times the current and resistance of the loop.
    """
    before = sum(feed_m - position for position in positions_m if position < feed_m)
    return before, sum(position - feed_m for position in positions_m if position > feed_m)


def supply_rise_v(*, phase_currents_a: Sequence[float], phase: int, length_m: float, resistance_ohm_m: float) -> float:
    """Rise of one phase along the supply cable [V], with that of the neutral.

    Currents of the other phases return through the neutral at 120 degrees: minus one half of them is in phase with this one.
    With equal phases the neutral carries no current, with a single phase all of it. Derived; power factor one.
    """
    own = phase_currents_a[phase]
    others = sum(phase_currents_a) - own
    return resistance_ohm_m * length_m * (CONDUCTORS_OF_LOOP * own - others / 2.0)


def supply_rise_worst_v(*, phase_currents_a: Sequence[float], phase: int, length_m: float, resistance_ohm_m: float) -> float:
    """Rise of one phase [V]: the larger with all phases feeding or this one alone, as one face may in the morning."""
    alone = [current if index == phase else 0.0 for index, current in enumerate(phase_currents_a)]
    return max(
        supply_rise_v(phase_currents_a=currents, phase=phase, length_m=length_m, resistance_ohm_m=resistance_ohm_m)
        for currents in (phase_currents_a, alone)
    )


def voltage_rises(
    circuits: Sequence[CircuitOnTrunk],
    *,
    unit_current_a: float,
    phase_currents_a: Sequence[float],
    supply_size: str,
    wiring: Wiring,
    system_size: str | None = None,
    system_currents_a: Sequence[float] = (),
    trunk_size: str | None = None,
    home_run_size: str | None = None,
) -> tuple[CircuitRise, ...]:
    """Rise of every circuit to the connection point, with the smallest home run that is protected and meets the limit.

    `trunk_size` and `home_run_size` take the place of the wiring's.

    Raises
    ------
    EngineeringError
        A size is not in the table.
    """
    table, temp = wiring.table, wiring.conductor_temp_c
    trunk = table.conductor(trunk_size or wiring.trunk_size, "trunk_size")
    given = home_run_size or wiring.home_run.size
    home_run = None if given is None else table.conductor(given, "home_run_size")
    shared = [(supply_size, "supply_size", wiring.supply_length_m, phase_currents_a)]
    if system_size is not None:
        shared.append((system_size, "system_cable_size", wiring.system_cable_length_m, system_currents_a))
    ohm_m = [table.resistance_ohm_m(table.conductor(size, field), temp) for size, field, _, _ in shared]

    def shared_v(circuit: CircuitOnTrunk) -> list[float]:
        return [
            max(
                supply_rise_worst_v(phase_currents_a=currents, phase=phase - 1, length_m=length_m, resistance_ohm_m=resistance)
                for phase in circuit.phases
            )
            for resistance, (_, _, length_m, currents) in zip(ohm_m, shared, strict=True)
        ]

    return tuple(
        _rise(circuit, wiring, unit_current_a=unit_current_a, trunk=trunk, home_run=home_run, shared_v=shared_v(circuit))
        for circuit in circuits
    )


def _rise(
    circuit: CircuitOnTrunk,
    wiring: Wiring,
    *,
    unit_current_a: float,
    trunk: Conductor,
    home_run: Conductor | None,
    shared_v: Sequence[float],
) -> CircuitRise:
    table, temp_c, loop = wiring.table, wiring.conductor_temp_c, circuit.conductors_of_loop
    supply_v, system_v = shared_v[0], sum(shared_v[1:])
    trunk_ohm_m = table.resistance_ohm_m(trunk, temp_c)
    end_fed_v, centre_fed_v = (
        _trunk_v(circuit, feed, unit_current_a=unit_current_a, resistance_ohm_m=trunk_ohm_m) for feed in get_args(TrunkFeed)
    )
    trunk_v = centre_fed_v if wiring.trunk_feed == "centre" else end_fed_v
    by_phase, feed_m = circuit.positions_by_phase, circuit.feed_m(wiring.trunk_feed)
    trunk_mean_v = sum(
        len(positions)
        * trunk_mean_rise_v(
            positions_m=positions, feed_m=feed_m, unit_current_a=unit_current_a, resistance_ohm_m=trunk_ohm_m, loop=loop
        )
        for positions in by_phase
    ) / sum(map(len, by_phase))

    def home_run_v(conductor: Conductor, units_of_phase: int = max(map(len, by_phase))) -> float:
        ohm_m = table.resistance_ohm_m(conductor, temp_c)
        return loop * ohm_m * wiring.home_run_length_m * units_of_phase * unit_current_a

    not_thinner = table.conductors[table.conductors.index(trunk) :]
    protected = [each for each in not_thinner if wiring.home_run.is_protected(each, circuit.device_rating_a)]
    in_a_breaker = [each for each in protected if each.fits_breaker] or protected[:1]
    smallest = None
    if wiring.limit_share is not None:
        smallest = next(
            (each for each in in_a_breaker if _within(trunk_v + home_run_v(each) + system_v + supply_v, wiring)), None
        )
    # Where no home run meets the limit, a thicker one does not mend the trunk: the smallest that is protected shows the rise.
    used = home_run or smallest or (protected[0] if protected else not_thinner[-1])
    home_v = home_run_v(used)
    total = trunk_v + home_v + system_v + supply_v

    def is_above(units: int) -> bool:
        fewer = replace(circuit, positions_m=circuit.positions_m[:units])
        of_trunk_v = _trunk_v(fewer, wiring.trunk_feed, unit_current_a=unit_current_a, resistance_ohm_m=trunk_ohm_m)
        of_home_run_v = home_run_v(used, max(map(len, fewer.positions_by_phase)))
        return not _within(of_trunk_v + of_home_run_v + system_v + supply_v, wiring)

    def ways_out() -> Iterator[Sentence]:
        if wiring.trunk_feed == "end" and _within(total - trunk_v + centre_fed_v, wiring):
            yield CENTRE_FEED
        if smallest is not None:
            yield THICKER_HOME_RUN(size=smallest.size)
        # The rise grows with the units, so that their largest number is found by halving.
        if units := bisect_right(range(1, len(circuit.positions_m)), False, key=is_above):
            yield FEWER_UNITS(units=units)

    meets = None if wiring.limit_share is None else _within(total, wiring)
    return CircuitRise(
        circuit=circuit.name,
        phases=circuit.phases,
        trunk_end_fed_v=end_fed_v,
        trunk_centre_fed_v=centre_fed_v,
        trunk_v=trunk_v,
        home_run_v=home_v,
        circuit_share=(trunk_v + home_v) / wiring.voltage_v,
        system_cable_v=system_v,
        supply_v=supply_v,
        total_v=total,
        total_share=total / wiring.voltage_v,
        rated_loss_share=(total - trunk_v + trunk_mean_v) / wiring.voltage_v,
        home_run_size=used.size,
        smallest_home_run_size=None if smallest is None else smallest.size,
        meets_limit=meets,
        explanation=_explanation(wiring, total, () if meets is not False else tuple(ways_out()) or (SHARED_CABLES,)),
    )


def _trunk_v(circuit: CircuitOnTrunk, feed: TrunkFeed, *, unit_current_a: float, resistance_ohm_m: float) -> float:
    """Rise along the trunk on the phase where it is highest [V]."""
    return max(
        trunk_rise_v(
            positions_m=positions,
            feed_m=circuit.feed_m(feed),
            unit_current_a=unit_current_a,
            resistance_ohm_m=resistance_ohm_m,
            loop=circuit.conductors_of_loop,
        )
        for positions in circuit.positions_by_phase
    )


def _within(rise_v: float, wiring: Wiring) -> bool:
    return wiring.limit_share is None or rise_v <= wiring.limit_share * wiring.voltage_v + ROUNDING


def _explanation(wiring: Wiring, total_v: float, ways_out: tuple[Sentence, ...]) -> Sentence:
    share = SHARE(total_v=total_v, percent=100.0 * total_v / wiring.voltage_v, voltage_v=wiring.voltage_v)
    if wiring.limit_share is None:
        return OPERATOR_SETS(share=share)
    limit_percent, source = 100.0 * wiring.limit_share, wiring.limit_source
    if not ways_out:
        return WITHIN(share=share, limit_percent=limit_percent, source=source)
    return ABOVE(share=share, limit_percent=limit_percent, source=source, advice=ways_out)

"""Voltage rise from microinverters along their trunk, the home run and the supply cable to the connection point.

Resistive, at power factor one and rated current: each unit feeds in at its own position, so each length of trunk carries the
current of the units behind it. Neglected: reactance (small below 16 mm2), contact resistance, and the rise in the network
itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from wattpair_service.engineering.errors import EngineeringError

TrunkFeed = Literal["end", "centre"]

TEMP_COEFFICIENT_PER_K = 0.00393
"""Copper at 20 degC, from memory."""
REFERENCE_C = 20.0
CONDUCTORS_OF_LOOP = 2.0
ROUNDING = 1e-12


@dataclass(frozen=True, slots=True)
class Conductor:
    """One size of a table. `device_max_a` is the largest overcurrent device by code, None where the installation decides."""

    size: str
    resistance_ohm_km: float
    device_max_a: float | None = None

    def allows_device(self, device_rating_a: float) -> bool:
        """Whether the table allows an overcurrent device of this rating."""
        return self.device_max_a is None or device_rating_a <= self.device_max_a


@dataclass(frozen=True, slots=True)
class ConductorTable:
    """Standard copper conductors, thinnest first, with the resistance of one conductor at `temp_c`."""

    name: str
    temp_c: float
    conductors: tuple[Conductor, ...]
    source: str

    def conductor(self, size: str, field: str) -> Conductor:
        """The conductor of a size.

        Raises
        ------
        EngineeringError
            The table has no such size.
        """
        for conductor in self.conductors:
            if conductor.size == size:
                return conductor
        sizes = ", ".join(f'"{conductor.size}"' for conductor in self.conductors)
        raise EngineeringError(f"a size of the table {self.name}: {sizes}", (field,))

    def thinnest_for_device(self, device_rating_a: float, *, from_index: int = 0) -> Conductor:
        """The thinnest conductor, from an index of the table on, that allows an overcurrent device.

        Raises
        ------
        EngineeringError
            The device is too large for all of them.
        """
        for conductor in self.conductors[from_index:]:
            if conductor.allows_device(device_rating_a):
                return conductor
        raise EngineeringError(
            f"an overcurrent device that the table {self.name} allows; {device_rating_a:g} A is too large for all conductors",
            ("device_rating_a",),
        )

    def resistance_ohm_m(self, conductor: Conductor, temp_c: float) -> float:
        """Resistance of one conductor [ohm/m] at its operating temperature."""
        at_20 = 1.0 + TEMP_COEFFICIENT_PER_K * (self.temp_c - REFERENCE_C)
        return conductor.resistance_ohm_km / 1000.0 * (1.0 + TEMP_COEFFICIENT_PER_K * (temp_c - REFERENCE_C)) / at_20


@dataclass(frozen=True, slots=True)
class Wiring:
    """Cables of a system. Lengths in m, one way; sizes name conductors of `table`.

    `home_run_size` None selects the smallest size that meets the limit and is not thinner than the trunk, which the same device
    protects. `limit_share` None means that no limit is known: the home run then has the trunk's size. Ampacities are those of
    the cables as installed [A], None where unknown.
    """

    table: ConductorTable
    conductor_temp_c: float
    voltage_v: float
    limit_share: float | None
    limit_source: str
    trunk_feed: TrunkFeed
    trunk_size: str
    home_run_length_m: float
    home_run_size: str | None
    supply_length_m: float
    supply_size: str | None
    trunk_ampacity_a: float | None = None
    home_run_ampacity_a: float | None = None
    supply_ampacity_a: float | None = None


@dataclass(frozen=True, slots=True)
class CircuitRise:
    """Voltage rise of one circuit [V] and as shares of the nominal voltage, with both ways to feed its trunk."""

    circuit: str
    phase: int
    trunk_end_fed_v: float
    trunk_centre_fed_v: float
    trunk_v: float
    home_run_v: float
    circuit_share: float
    supply_v: float
    total_v: float
    total_share: float
    home_run_size: str
    smallest_home_run_size: str | None
    meets_limit: bool | None
    explanation: str


@dataclass(frozen=True, slots=True)
class CircuitOnTrunk:
    """A circuit with the positions of its units along the trunk [m], rising from 0."""

    name: str
    phase: int
    positions_m: tuple[float, ...]
    device_rating_a: float


def trunk_rise_v(*, positions_m: Sequence[float], feed_index: int, unit_current_a: float, resistance_ohm_m: float) -> float:
    """Rise from the feed point, at the unit `feed_index`, to the farthest unit [V]; the larger rise of its two sides."""
    loop_v_m = CONDUCTORS_OF_LOOP * unit_current_a * resistance_ohm_m
    return max(_moments(positions_m, feed_index)) * loop_v_m


def centre_index(positions_m: Sequence[float]) -> int:
    """Index of the unit at which feeding the trunk gives the smallest rise."""
    low, high = 0, len(positions_m) - 1
    while low < high:
        middle = (low + high) // 2
        before, behind = _moments(positions_m, middle)
        low, high = (middle + 1, high) if before < behind else (low, middle)
    return min((max(0, low - 1), low), key=lambda index: max(_moments(positions_m, index)))


def _moments(positions_m: Sequence[float], feed_index: int) -> tuple[float, float]:
    """Sum of the distances from the feed to the units before it and to those behind it [m].

    Each unit's current raises the voltage along the trunk from the unit to the feed, so the rise at the last unit of a side is
    this sum times the current and resistance of the loop.
    """
    feed = positions_m[feed_index]
    before = sum(feed - position for position in positions_m[:feed_index])
    return before, sum(position - feed for position in positions_m[feed_index + 1 :])


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
    circuits: Sequence[CircuitOnTrunk], *, unit_current_a: float, phase_count: int, wiring: Wiring
) -> tuple[CircuitRise, ...]:
    """Rise of every circuit to the connection point, with the smallest home-run conductor that meets the limit.

    Raises
    ------
    EngineeringError
        A size is not in the table or too thin for its overcurrent device, a supply cable has a length but no size, or a home
        run has an ampacity but no size.
    """
    table, temp = wiring.table, wiring.conductor_temp_c
    trunk = table.resistance_ohm_m(table.conductor(wiring.trunk_size, "trunk_size"), temp)
    if wiring.home_run_size is not None:
        table.conductor(wiring.home_run_size, "home_run_size")
    elif wiring.home_run_ampacity_a is not None:
        raise EngineeringError("a size of the table is required where home_run_ampacity_a is given", ("home_run_size",))
    for circuit in circuits:
        _require_protected(wiring, circuit.device_rating_a)
    supply = 0.0
    if wiring.supply_size is not None:
        supply = table.resistance_ohm_m(table.conductor(wiring.supply_size, "supply_size"), temp)
    elif wiring.supply_length_m > 0.0:
        raise EngineeringError("a size of the table is required where supply_length_m is above 0", ("supply_size",))
    phase_currents = [
        sum(len(c.positions_m) for c in circuits if c.phase == phase + 1) * unit_current_a for phase in range(phase_count)
    ]
    return tuple(
        _rise(
            circuit,
            wiring,
            unit_current_a=unit_current_a,
            trunk_ohm_m=trunk,
            supply_v=supply_rise_worst_v(
                phase_currents_a=phase_currents,
                phase=circuit.phase - 1,
                length_m=wiring.supply_length_m,
                resistance_ohm_m=supply,
            ),
        )
        for circuit in circuits
    )


def _require_protected(wiring: Wiring, device_rating_a: float) -> None:
    """Refuse a cable that is too thin for its overcurrent device."""
    for size, field in ((wiring.trunk_size, "trunk_size"), (wiring.home_run_size, "home_run_size")):
        if size is not None and not wiring.table.conductor(size, field).allows_device(device_rating_a):
            thinnest = wiring.table.thinnest_for_device(device_rating_a).size
            raise EngineeringError(
                f"a conductor that allows an overcurrent device of {device_rating_a:g} A: {thinnest} or thicker; or a smaller "
                "device_rating_a",
                (field,),
            )


def _rise(
    circuit: CircuitOnTrunk, wiring: Wiring, *, unit_current_a: float, trunk_ohm_m: float, supply_v: float
) -> CircuitRise:
    end_fed_v, centre_fed_v = (
        trunk_rise_v(
            positions_m=circuit.positions_m, feed_index=index, unit_current_a=unit_current_a, resistance_ohm_m=trunk_ohm_m
        )
        for index in (0, centre_index(circuit.positions_m))
    )
    trunk_v = centre_fed_v if wiring.trunk_feed == "centre" else end_fed_v
    current = len(circuit.positions_m) * unit_current_a

    def home_run_v(conductor: Conductor) -> float:
        ohm_m = wiring.table.resistance_ohm_m(conductor, wiring.conductor_temp_c)
        return CONDUCTORS_OF_LOOP * ohm_m * wiring.home_run_length_m * current

    not_thinner = wiring.table.conductors[
        wiring.table.conductors.index(wiring.table.conductor(wiring.trunk_size, "trunk_size")) :
    ]
    smallest = _smallest(wiring, circuit.device_rating_a, {c: trunk_v + home_run_v(c) + supply_v for c in not_thinner})
    if wiring.home_run_size is not None:
        used = wiring.table.conductor(wiring.home_run_size, "home_run_size")
    elif wiring.limit_share is None:
        used = not_thinner[0]
    else:
        used = smallest or not_thinner[-1]
    home_v = home_run_v(used)
    total = trunk_v + home_v + supply_v
    meets = None if wiring.limit_share is None else _within(total, wiring)
    return CircuitRise(
        circuit=circuit.name,
        phase=circuit.phase,
        trunk_end_fed_v=end_fed_v,
        trunk_centre_fed_v=centre_fed_v,
        trunk_v=trunk_v,
        home_run_v=home_v,
        circuit_share=(trunk_v + home_v) / wiring.voltage_v,
        supply_v=supply_v,
        total_v=total,
        total_share=total / wiring.voltage_v,
        home_run_size=used.size,
        smallest_home_run_size=None if smallest is None else smallest.size,
        meets_limit=meets,
        explanation=_explanation(wiring, total, meets, smallest, total - end_fed_v + centre_fed_v),
    )


def _within(rise_v: float, wiring: Wiring) -> bool:
    return wiring.limit_share is None or rise_v <= wiring.limit_share * wiring.voltage_v + ROUNDING


def _smallest(wiring: Wiring, device_rating_a: float, rises: dict[Conductor, float]) -> Conductor | None:
    """Thinnest conductor that meets the limit and allows its overcurrent device; None where none does or without a limit."""
    if wiring.limit_share is None:
        return None
    for conductor, rise in rises.items():
        if conductor.allows_device(device_rating_a) and _within(rise, wiring):
            return conductor
    return None


def _explanation(
    wiring: Wiring, total_v: float, meets: bool | None, smallest: Conductor | None, total_if_centre_fed_v: float
) -> str:
    share = f"{total_v:.2f} V is {100.0 * total_v / wiring.voltage_v:.2f} % of {wiring.voltage_v:g} V"
    if wiring.limit_share is None:
        return f"{share}; the limit is set by the network operator"
    limit = f"{100.0 * wiring.limit_share:g} % ({wiring.limit_source})"
    if meets:
        return f"{share}, within {limit}" + ("; size by voltage only" if wiring.home_run_size is None else "")
    advice = []
    if wiring.trunk_feed == "end" and _within(total_if_centre_fed_v, wiring):
        advice.append("feeding the trunk at its centre would meet it")
    if smallest is not None:
        advice.append(f"a home run of {smallest.size} would meet it by voltage only")
    if not advice:
        advice.append("no home run of the table meets it: shorten the trunk, split the circuit or use a thicker supply cable")
    return f"{share}, above {limit}; {' or '.join(advice)}"

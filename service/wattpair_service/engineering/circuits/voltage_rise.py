"""Voltage rise from microinverters along their trunk, the home run and the supply cable to the connection point.

Resistive, at power factor one and rated current: each unit feeds its current in at its own place on the trunk, so a piece of
trunk carries the current of the units behind it. Neglected: reactance (small below 16 mm2), contact resistance, and the rise
that the network has of its own.
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
WAY_AND_RETURN = 2.0
ROUNDING = 1e-12


@dataclass(frozen=True, slots=True)
class Conductor:
    """One size of a table. `device_max_a` is the largest protective device by code, None where installation decides."""

    size: str
    resistance_ohm_km: float
    device_max_a: float | None = None

    def may_stand_behind(self, device_rating_a: float) -> bool:
        """Whether a device may protect it, as far as the table knows."""
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

    def behind_device(self, device_rating_a: float, *, from_index: int = 0) -> Conductor:
        """The thinnest conductor from a place of the table on that a device may protect.

        Raises
        ------
        EngineeringError
            The device is too large for every one of them.
        """
        for conductor in self.conductors[from_index:]:
            if conductor.may_stand_behind(device_rating_a):
                return conductor
        raise EngineeringError(
            f"a device that a conductor of the table {self.name} may stand behind; {device_rating_a:g} A is too large for all",
            ("device_rating_a",),
        )

    def resistance_ohm_m(self, conductor: Conductor, temp_c: float) -> float:
        """Resistance of one conductor [ohm/m] at its operating temperature."""
        at_20 = 1.0 + TEMP_COEFFICIENT_PER_K * (self.temp_c - REFERENCE_C)
        return conductor.resistance_ohm_km / 1000.0 * (1.0 + TEMP_COEFFICIENT_PER_K * (temp_c - REFERENCE_C)) / at_20


@dataclass(frozen=True, slots=True)
class Wiring:
    """Cables of a system. Lengths in m, one way; sizes name conductors of `table`.

    `home_run_size` None asks for the smallest size that meets the limit and is not thinner than the trunk, which the same
    device protects. `limit_share` None means that no limit is known: the home run is then like the trunk. Ampacities are what
    each cable carries as it is installed [A], None where the caller does not know.
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
    """Voltage rise of one circuit [V], shares of the nominal voltage, and the same circuit fed the other way."""

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
    """A circuit as its cables see it: places of its units along the trunk [m], rising from 0."""

    name: str
    phase: int
    positions_m: tuple[float, ...]
    device_rating_a: float


def trunk_rise_v(*, positions_m: Sequence[float], feed_index: int, unit_current_a: float, resistance_ohm_m: float) -> float:
    """Rise from the feed point, which stands at the unit `feed_index`, to the farthest unit [V].

    Each side of the feed is a line of its own; the larger rise of the two counts.
    """
    loop_v_m = WAY_AND_RETURN * unit_current_a * resistance_ohm_m
    return max(_moments(positions_m, feed_index)) * loop_v_m


def centre_index(positions_m: Sequence[float]) -> int:
    """The unit at which a trunk is fed at its centre: the one whose larger side is the smallest."""
    low, high = 0, len(positions_m) - 1
    while low < high:
        middle = (low + high) // 2
        before, behind = _moments(positions_m, middle)
        low, high = (middle + 1, high) if before < behind else (low, middle)
    return min((max(0, low - 1), low), key=lambda index: max(_moments(positions_m, index)))


def _moments(positions_m: Sequence[float], feed_index: int) -> tuple[float, float]:
    """Sum of the distances from the feed to the units before it and to those behind it [m].

    A unit's current raises the voltage along its whole way to the feed, so the rise of the last unit of a side is this sum
    times current and resistance of the loop.
    """
    feed = positions_m[feed_index]
    before = sum(feed - position for position in positions_m[:feed_index])
    return before, sum(position - feed for position in positions_m[feed_index + 1 :])


def supply_rise_v(*, phase_currents_a: Sequence[float], phase: int, length_m: float, resistance_ohm_m: float) -> float:
    """Rise of one phase along the supply cable [V], with the neutral's share.

    Currents of the other phases return through the neutral 120 degrees away: of them, minus one half lies along this phase.
    Equal phases leave the neutral without current, one alone uses it in full. Derived; power factor one.
    """
    own = phase_currents_a[phase]
    others = sum(phase_currents_a) - own
    return resistance_ohm_m * length_m * (WAY_AND_RETURN * own - others / 2.0)


def supply_rise_worst_v(*, phase_currents_a: Sequence[float], phase: int, length_m: float, resistance_ohm_m: float) -> float:
    """The larger rise of all phases feeding at once and of this one alone, as faces of one aspect feed in the morning [V]."""
    alone = [current if index == phase else 0.0 for index, current in enumerate(phase_currents_a)]
    return max(
        supply_rise_v(phase_currents_a=currents, phase=phase, length_m=length_m, resistance_ohm_m=resistance_ohm_m)
        for currents in (phase_currents_a, alone)
    )


def voltage_rises(
    circuits: Sequence[CircuitOnTrunk], *, unit_current_a: float, phase_count: int, wiring: Wiring
) -> tuple[CircuitRise, ...]:
    """Rise of every circuit to the connection point, with the smallest home-run conductor that keeps it within the limit.

    Raises
    ------
    EngineeringError
        A size is not in the table or too thin for its device, a supply cable has a length but no size, or the ampacity of a
        home run is given whose size is not.
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
    """Refuse a cable that is too thin for the device that protects it."""
    for size, field in ((wiring.trunk_size, "trunk_size"), (wiring.home_run_size, "home_run_size")):
        if size is not None and not wiring.table.conductor(size, field).may_stand_behind(device_rating_a):
            least = wiring.table.behind_device(device_rating_a).size
            raise EngineeringError(
                f"a conductor that a device of {device_rating_a:g} A may protect, which is {least} or thicker; or a smaller "
                "device_rating_a",
                (field,),
            )


def _rise(
    circuit: CircuitOnTrunk, wiring: Wiring, *, unit_current_a: float, trunk_ohm_m: float, supply_v: float
) -> CircuitRise:
    fed = [
        trunk_rise_v(
            positions_m=circuit.positions_m, feed_index=index, unit_current_a=unit_current_a, resistance_ohm_m=trunk_ohm_m
        )
        for index in (0, centre_index(circuit.positions_m))
    ]
    trunk_v = fed[wiring.trunk_feed == "centre"]
    current = len(circuit.positions_m) * unit_current_a

    def home_run_v(conductor: Conductor) -> float:
        ohm_m = wiring.table.resistance_ohm_m(conductor, wiring.conductor_temp_c)
        return WAY_AND_RETURN * ohm_m * wiring.home_run_length_m * current

    from_trunk_up = wiring.table.conductors[
        wiring.table.conductors.index(wiring.table.conductor(wiring.trunk_size, "trunk_size")) :
    ]
    smallest = _smallest(wiring, circuit.device_rating_a, {c: trunk_v + home_run_v(c) + supply_v for c in from_trunk_up})
    if wiring.home_run_size is not None:
        used = wiring.table.conductor(wiring.home_run_size, "home_run_size")
    elif wiring.limit_share is None:
        used = from_trunk_up[0]
    else:
        used = smallest or from_trunk_up[-1]
    home_v = home_run_v(used)
    total = trunk_v + home_v + supply_v
    meets = None if wiring.limit_share is None else _within(total, wiring)
    return CircuitRise(
        circuit=circuit.name,
        phase=circuit.phase,
        trunk_end_fed_v=fed[0],
        trunk_centre_fed_v=fed[1],
        trunk_v=trunk_v,
        home_run_v=home_v,
        circuit_share=(trunk_v + home_v) / wiring.voltage_v,
        supply_v=supply_v,
        total_v=total,
        total_share=total / wiring.voltage_v,
        home_run_size=used.size,
        smallest_home_run_size=None if smallest is None else smallest.size,
        meets_limit=meets,
        explanation=_explanation(wiring, total, meets, smallest, fed),
    )


def _within(rise_v: float, wiring: Wiring) -> bool:
    return wiring.limit_share is None or rise_v <= wiring.limit_share * wiring.voltage_v + ROUNDING


def _smallest(wiring: Wiring, device_rating_a: float, rises: dict[Conductor, float]) -> Conductor | None:
    """Thinnest conductor that keeps the limit and that its protective device may protect; None without a limit."""
    if wiring.limit_share is None:
        return None
    for conductor, rise in rises.items():
        if conductor.may_stand_behind(device_rating_a) and _within(rise, wiring):
            return conductor
    return None


def _explanation(wiring: Wiring, total_v: float, meets: bool | None, smallest: Conductor | None, fed: Sequence[float]) -> str:
    share = f"{total_v:.2f} V is {100.0 * total_v / wiring.voltage_v:.2f} % of {wiring.voltage_v:g} V"
    if wiring.limit_share is None:
        return f"{share}; the limit is set by the network operator"
    limit = f"{100.0 * wiring.limit_share:g} % ({wiring.limit_source})"
    if meets:
        return f"{share}, within {limit}" + ("; size by voltage only" if wiring.home_run_size is None else "")
    advice = []
    if wiring.trunk_feed == "end" and _within(total_v - fed[0] + fed[1], wiring):
        advice.append("feeding the trunk at its centre would meet it")
    if smallest is not None:
        advice.append(f"a home run of {smallest.size} would meet it by voltage only")
    if not advice:
        advice.append("no home run of the table meets it: shorten the trunk, split the circuit or use a thicker supply cable")
    return f"{share}, above {limit}; {' or '.join(advice)}"

"""How microinverters are split over AC branch circuits and phases.

A circuit carries as many units as its protective device, its trunk cable and, on a supply of several phases, the region's
limit on the difference between phases allow. The split uses the fewest circuits, then the smallest difference between
phases, then circuits as even as whole units permit.

A circuit within the balance limit can always be put on the phase with the fewest units without breaking that limit, so a
split that meets it always exists. Neglected: units that feed several phases at once, and units that serve modules of two faces.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import ceil, comb, floor, prod

from wattpair_service.engineering.errors import EngineeringError

EXHAUSTIVE_MOST = 3000
"""Ways to hand circuits to phases that are all tried; beyond that, one circuit at a time is moved while it helps."""
ROUNDING = 1e-9
"""Rounding must not cost a unit that fits exactly."""


@dataclass(frozen=True, slots=True)
class BranchCircuitRules:
    """What a code asks of an AC branch circuit. The rated output current times the factor must not exceed the device."""

    device_rating_a: float
    continuous_current_factor: float
    source: str


@dataclass(frozen=True, slots=True)
class FaceUnits:
    """Microinverters on one face, in the order in which the trunk passes them."""

    name: str
    unit_count: int


@dataclass(frozen=True, slots=True)
class SplitRequest:
    """What a split depends on.

    `balance_limit_a` is the most that the currents of two phases may differ by, None without such a rule. It binds only where
    there are several phases: on a single phase there is nothing to balance.
    """

    faces: tuple[FaceUnits, ...]
    phase_count: int
    unit_ac_current_a: float
    rules: BranchCircuitRules
    units_per_trunk_max: int | None = None
    balance_limit_a: float | None = None
    may_cross_faces: bool = False


@dataclass(frozen=True, slots=True)
class BranchCircuit:
    """One AC circuit of units behind one protective device; `units_by_face` in the order of its trunk."""

    name: str
    units_by_face: tuple[FaceUnits, ...]
    unit_count: int
    phase: int
    current_a: float
    device_rating_a: float

    @property
    def face(self) -> str:
        """The faces that it serves, in one text."""
        return " + ".join(part.name for part in self.units_by_face)


def smallest_device_a(*, current_a: float, continuous_current_factor: float, standard_ratings_a: Sequence[float]) -> float:
    """Smallest standard rating [A] that carries a continuous current times the factor.

    Raises
    ------
    EngineeringError
        No rating is large enough.
    """
    needed = current_a * continuous_current_factor
    fitting = [rating for rating in sorted(standard_ratings_a) if rating >= needed * (1.0 - ROUNDING)]
    if not fitting:
        raise EngineeringError(
            f"{current_a:g} A times {continuous_current_factor:g} is {needed:.4g} A, more than the largest standard device, "
            f"{max(standard_ratings_a):g} A"
        )
    return fitting[0]


def current_fits(current_a: float, rules: BranchCircuitRules) -> bool:
    """Whether a device may carry a current continuously."""
    return current_a * rules.continuous_current_factor <= rules.device_rating_a * (1.0 + ROUNDING)


def units_per_circuit(request: SplitRequest) -> int:
    """Most units that one branch circuit may carry, by its device, its trunk cable and the balance between phases.

    Raises
    ------
    EngineeringError
        Not even one unit fits on the device.
    """
    rules, current = request.rules, request.unit_ac_current_a
    by_device = floor(rules.device_rating_a / rules.continuous_current_factor / current + ROUNDING)
    if by_device < 1:
        raise EngineeringError(
            f"one microinverter of {current:g} A times {rules.continuous_current_factor:g} exceeds the "
            f"protective device of {rules.device_rating_a:g} A; a larger device is needed",
            ("unit_ac_current_a",),
        )
    most = by_device if request.units_per_trunk_max is None else min(by_device, request.units_per_trunk_max)
    if request.balance_limit_a is not None and request.phase_count > 1:
        most = min(most, max(1, floor(request.balance_limit_a / current + ROUNDING)))
    return most


def rule_in_words(request: SplitRequest) -> str:
    """The limits by which a split was made, with their source."""
    rules = request.rules
    words = (
        f"at most {units_per_circuit(request)} units of {request.unit_ac_current_a:.3g} A: current times "
        f"{rules.continuous_current_factor:g} within a device of {rules.device_rating_a:g} A"
    )
    if request.units_per_trunk_max is not None:
        words += f", and at most {request.units_per_trunk_max} on a trunk"
    if request.balance_limit_a is not None and request.phase_count > 1:
        words += f", and at most {request.balance_limit_a:.4g} A of difference between phases"
    return f"{words} ({rules.source})"


def split(request: SplitRequest) -> tuple[BranchCircuit, ...]:
    """The branch circuits, in the order of the faces.

    The units over all circuits are those of the faces, and no circuit exceeds `units_per_circuit`.
    """
    most = units_per_circuit(request)
    if request.may_cross_faces:
        groups = [sum(face.unit_count for face in request.faces)]
    else:
        groups = [face.unit_count for face in request.faces]
    sizes = _sizes(groups, most, request.phase_count)
    circuits: list[BranchCircuit] = []
    walk = _Walk(request.faces)
    for (_, phase), count in sizes:
        circuits.append(
            BranchCircuit(
                name=f"circuit {len(circuits) + 1}",
                units_by_face=walk.take(count),
                unit_count=count,
                phase=phase + 1,
                current_a=count * request.unit_ac_current_a,
                device_rating_a=request.rules.device_rating_a,
            )
        )
    return tuple(circuits)


def phase_units(circuits: Sequence[BranchCircuit], phase_count: int) -> tuple[int, ...]:
    """Units on each phase."""
    return tuple(sum(c.unit_count for c in circuits if c.phase == phase + 1) for phase in range(phase_count))


class _Walk:
    """Hands out the units of the faces one after the other."""

    def __init__(self, faces: Sequence[FaceUnits]) -> None:
        self._left = [(face.name, face.unit_count) for face in faces]

    def take(self, count: int) -> tuple[FaceUnits, ...]:
        """The next `count` units, by face."""
        taken: list[FaceUnits] = []
        while count > 0:
            name, left = self._left.pop(0)
            now = min(left, count)
            if now:
                taken.append(FaceUnits(name, now))
            if left > now:
                self._left.insert(0, (name, left - now))
            count -= now
        return tuple(taken)


Counts = tuple[tuple[int, ...], ...]
"""Circuits of each group (row) on each phase (column)."""


def _sizes(groups: Sequence[int], most: int, phase_count: int) -> list[tuple[tuple[int, int], int]]:
    """Size of every circuit with its group and phase: fewest circuits, least difference, then even ones."""
    numbers = [ceil(units / most) for units in groups]
    counts, units = _best(groups, numbers, most, phase_count)
    found: list[tuple[tuple[int, int], int]] = []
    for group, row in enumerate(counts):
        for phase, number in enumerate(row):
            total = units[group][phase]
            found += [((group, phase), total // number + (index < total % number)) for index in range(number)]
    return found


def _best(groups: Sequence[int], numbers: Sequence[int], most: int, phase_count: int) -> tuple[Counts, list[list[int]]]:
    """The hand-out of circuits to phases, and of units to them, with the smallest difference between phases."""
    least = 1 if sum(groups) % phase_count else 0
    ways = prod(comb(number + phase_count - 1, phase_count - 1) for number in numbers)
    best: tuple[int, Counts, list[list[int]]] | None = None
    tried = product(*(_compositions(number, phase_count) for number in numbers)) if ways <= EXHAUSTIVE_MOST else ()
    for counts in ({_even(numbers, phase_count): None} | dict.fromkeys(tried)) if ways <= EXHAUSTIVE_MOST else ():
        units = _level(groups, counts, most)
        difference = _difference(units)
        if best is None or difference < best[0]:
            best = (difference, counts, units)
        if best[0] <= least:
            break
    if best is None:
        return _improved(groups, _even(numbers, phase_count), most, least)
    return best[1], best[2]


def _improved(groups: Sequence[int], counts: Counts, most: int, least: int) -> tuple[Counts, list[list[int]]]:
    """Move one circuit at a time to another phase while that lowers the difference between phases."""
    units = _level(groups, counts, most)
    while _difference(units) > least:
        moved = [(_difference(found), other, found) for other in _moves(counts) for found in [_level(groups, other, most)]]
        best = min(moved, key=lambda each: each[0], default=None)
        if best is None or best[0] >= _difference(units):
            break
        _, counts, units = best
    return counts, units


def _moves(counts: Counts) -> Iterator[Counts]:
    for group, row in enumerate(counts):
        for source, target in product(range(len(row)), repeat=2):
            if source != target and row[source]:
                changed = list(row)
                changed[source] -= 1
                changed[target] += 1
                yield (*counts[:group], tuple(changed), *counts[group + 1 :])


def _compositions(number: int, parts: int) -> Iterator[tuple[int, ...]]:
    if parts == 1:
        yield (number,)
        return
    for first in range(number, -1, -1):
        for rest in _compositions(number - first, parts - 1):
            yield (first, *rest)


def _even(numbers: Sequence[int], phase_count: int) -> Counts:
    """Each circuit on the phase with the fewest circuits so far."""
    load = [0] * phase_count
    rows = []
    for number in numbers:
        row = [0] * phase_count
        for _ in range(number):
            phase = load.index(min(load))
            load[phase] += 1
            row[phase] += 1
        rows.append(tuple(row))
    return tuple(rows)


def _totals(units: Sequence[Sequence[int]]) -> list[int]:
    return [sum(line[phase] for line in units) for phase in range(len(units[0]))]


def _difference(units: Sequence[Sequence[int]]) -> int:
    totals = _totals(units)
    return max(totals) - min(totals)


def _level(groups: Sequence[int], counts: Counts, most: int) -> list[list[int]]:
    """Units of each group on each phase, with phases as equal as these circuits allow.

    Units move from a fuller to an emptier phase, straight or by way of a third; where no such move is left, the totals are as
    equal as they can be (a flow with convex cost).
    """
    units = []
    for total, row in zip(groups, counts, strict=True):
        number = sum(row)
        share, extra = divmod(total, number)
        taken = 0
        line = []
        for circuits in row:
            line.append(share * circuits + min(max(extra - taken, 0), circuits))
            taken += circuits
        units.append(line)
    phases = range(len(counts[0]))
    while True:
        totals = _totals(units)
        pairs = sorted(
            ((totals[a] - totals[b], a, b) for a in phases for b in phases if totals[a] - totals[b] > 1), reverse=True
        )
        if not any(_shift(units, counts, most, (high, low), gap // 2) for gap, high, low in pairs):
            return units


def _shift(units: list[list[int]], counts: Counts, most: int, ends: tuple[int, int], wanted: int) -> bool:
    """Move up to `wanted` units between two phases; False where none can move."""
    high, low = ends
    ways = [[(high, low)], *([(high, via), (via, low)] for via in range(len(counts[0])) if via not in ends)]
    for way in ways:
        steps = [_room(units, counts, most, step) for step in way]
        amount = min(wanted, *(max(room, default=0) for room in steps))
        if amount > 0:
            for (source, target), room in zip(way, steps, strict=True):
                group = room.index(max(room))
                units[group][source] -= amount
                units[group][target] += amount
            return True
    return False


def _room(units: list[list[int]], counts: Counts, most: int, step: tuple[int, int]) -> list[int]:
    """Units that each group can move from one phase to another; every circuit keeps at least one."""
    source, target = step
    return [
        min(line[source] - row[source], row[target] * most - line[target]) if row[source] and row[target] else 0
        for line, row in zip(units, counts, strict=True)
    ]

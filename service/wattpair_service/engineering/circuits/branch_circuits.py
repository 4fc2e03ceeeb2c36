"""Splits microinverters over AC branch circuits and phases.

The overcurrent device, the trunk cable and, on a supply of several phases, the region's limit on the difference between
phases limit the units of a circuit. Single-phase trunks are spread over the phases: the smallest difference between phases
comes first, then the fewest circuits, then circuits that are as equal as whole units permit. A three-phase trunk carries
its single-phase units on one phase after the other, behind one device with a pole for each; three-phase units load all
phases alike.

A circuit within the balance limit can always go to the phase with the fewest units without breaking that limit, so a split that
meets it always exists, and meets it too with any one circuit switched off. Neglected: units that serve modules of two faces.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from math import ceil, comb, floor, prod

from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.rounding import ROUNDING
from wattpair_service.engineering.sentences import Sentence, Words, fixed, sentence

EXHAUSTIVE_MOST = 3000
"""Most assignments of circuits to phases that are all tried; with more, circuits are moved one at a time while that helps."""
AT_MOST = sentence("split.at_most", "units", "current_a", "factor", "rating_a", "further", "source")
ON_A_TRUNK = sentence("split.on_a_trunk", "units")
ON_EACH_PHASE = fixed("split.on_each_phase")
BALANCED = sentence("split.balanced", "current_a")


@dataclass(frozen=True, slots=True)
class BranchCircuitRules:
    """A code's rule for branch circuits: rated output current times the factor is at most the overcurrent device's rating."""

    device_rating_a: float
    continuous_current_factor: float
    source: Words


@dataclass(frozen=True, slots=True)
class FaceUnits:
    """Number of microinverters on one face."""

    name: str
    unit_count: int


@dataclass(frozen=True, slots=True)
class SplitRequest:
    """Inputs of a split.

    `unit_ac_current_a` is the current in each phase conductor of a unit. `balance_limit_a` is the largest difference
    between the currents of two phases, None without such a rule; it applies only to single-phase trunks on supplies of
    several phases.
    """

    faces: tuple[FaceUnits, ...]
    phase_count: int
    unit_ac_current_a: float
    rules: BranchCircuitRules
    units_per_trunk_max: int | None = None
    balance_limit_a: float | None = None
    may_cross_faces: bool = False
    trunk_phase_count: int = 1
    unit_phase_count: int = 1
    existing_a: tuple[float, ...] = ()

    @property
    def is_on_all_phases(self) -> bool:
        """Whether each trunk carries all phases."""
        return self.trunk_phase_count > 1


@dataclass(frozen=True, slots=True)
class BranchCircuit:
    """One AC circuit of units behind one overcurrent device; `units_by_face` in the order of its trunk.

    `units_by_phase` counts the units that load each phase of the supply. On a trunk of several phases the single-phase
    units take them in turn, from `phases[0]` on. `current_a` is that of its fullest phase. `line_conductors` names the lines of
    its trunk, which the region's supply decides.
    """

    name: str
    units_by_face: tuple[FaceUnits, ...]
    unit_count: int
    phases: tuple[int, ...]
    units_by_phase: tuple[int, ...]
    current_a: float
    device_rating_a: float
    line_conductors: str = ""

    @property
    def face(self) -> str:
        """Names of the faces that it serves, joined."""
        return " + ".join(part.name for part in self.units_by_face)


def current_fits(current_a: float, rules: BranchCircuitRules) -> bool:
    """Whether the overcurrent device of the rules may carry a current continuously."""
    return current_a * rules.continuous_current_factor <= rules.device_rating_a * (1.0 + ROUNDING)


def units_per_circuit(request: SplitRequest) -> int:
    """Most units of one branch circuit, by its overcurrent device, its trunk cable and the balance between phases.

    Raises
    ------
    EngineeringError
        A single unit exceeds the overcurrent device.
    """
    rules, current = request.rules, request.unit_ac_current_a
    by_device = floor(rules.device_rating_a / rules.continuous_current_factor / current + ROUNDING)
    if by_device < 1:
        raise EngineeringError(
            f"one microinverter of {current:g} A times {rules.continuous_current_factor:g} exceeds the "
            f"overcurrent device of {rules.device_rating_a:g} A; a larger device is needed",
            ("unit_ac_current_a",),
        )
    if request.is_on_all_phases and request.unit_phase_count == 1:
        by_device *= request.trunk_phase_count
    most = by_device if request.units_per_trunk_max is None else min(by_device, request.units_per_trunk_max)
    if _has_balance_limit(request):
        assert request.balance_limit_a is not None
        # Where the phases differ by a unit already, a circuit that is switched off adds to that.
        uneven = min(1, sum(face.unit_count for face in request.faces) % request.phase_count)
        most = min(most, max(1, floor(request.balance_limit_a / current + ROUNDING) - uneven))
    return most


def rule_in_words(request: SplitRequest) -> Sentence:
    """The limits of a split in words, with their source."""
    rules = request.rules
    further: list[Sentence] = []
    if request.units_per_trunk_max is not None:
        further.append(ON_A_TRUNK(units=request.units_per_trunk_max))
    if request.is_on_all_phases:
        further.append(ON_EACH_PHASE)
    if request.balance_limit_a is not None and _has_balance_limit(request):
        further.append(BALANCED(current_a=request.balance_limit_a))
    return AT_MOST(
        units=units_per_circuit(request),
        current_a=request.unit_ac_current_a,
        factor=rules.continuous_current_factor,
        rating_a=rules.device_rating_a,
        further=tuple(further),
        source=rules.source,
    )


def _has_balance_limit(request: SplitRequest) -> bool:
    return request.balance_limit_a is not None and request.phase_count > 1 and not request.is_on_all_phases


def require_phases_of_the_supply(request: SplitRequest) -> None:
    """Refuse trunks and units of more phases than the supply, and units of more phases than their trunk.

    Raises
    ------
    EngineeringError
        Names the field.
    """
    for count, field in ((request.unit_phase_count, "unit_phase_count"), (request.trunk_phase_count, "trunk_phase_count")):
        if count not in (1, request.phase_count):
            allowed = "1" if request.phase_count == 1 else f"1 or {request.phase_count}"
            raise EngineeringError(f"{allowed}: the phases of the supply (phase_count)", (field,))
    if request.unit_phase_count > request.trunk_phase_count:
        raise EngineeringError(
            f"a trunk of the {request.unit_phase_count} phases of its units (unit_phase_count)", ("trunk_phase_count",)
        )


def split(request: SplitRequest) -> tuple[BranchCircuit, ...]:
    """Branch circuits in the order of the faces.

    Together they hold all units of the faces, and none exceeds `units_per_circuit`.
    """
    most = units_per_circuit(request)
    if request.may_cross_faces:
        groups: tuple[int, ...] = (sum(face.unit_count for face in request.faces),)
    else:
        groups = tuple(face.unit_count for face in request.faces)
    require_phases_of_the_supply(request)
    phase_count = 1 if request.is_on_all_phases else request.phase_count
    there = tuple(each / request.unit_ac_current_a for each in request.existing_a) if phase_count > 1 else ()
    sizes = _sizes(groups, most, there or (0.0,) * phase_count)
    circuits: list[BranchCircuit] = []
    remaining = _RemainingUnits(request.faces)
    first = 0
    for (_, phase), count in sizes:
        phases = _phases(request, first if request.is_on_all_phases else phase)
        units_by_phase = _units_by_phase(request, phases, count)
        circuits.append(
            BranchCircuit(
                name=f"circuit {len(circuits) + 1}",
                units_by_face=remaining.take(count),
                unit_count=count,
                phases=phases,
                units_by_phase=units_by_phase,
                current_a=max(units_by_phase) * request.unit_ac_current_a,
                device_rating_a=request.rules.device_rating_a,
            )
        )
        first = (first + count) % request.phase_count
    return tuple(circuits)


def _phases(request: SplitRequest, first: int) -> tuple[int, ...]:
    """Phases of a trunk, 1 to 3, from the first unit's on."""
    return tuple((first + step) % request.phase_count + 1 for step in range(request.trunk_phase_count))


def _units_by_phase(request: SplitRequest, phases: tuple[int, ...], count: int) -> tuple[int, ...]:
    """Units of a circuit that load each phase of the supply."""
    turn = {phase: (count - place + len(phases) - 1) // len(phases) for place, phase in enumerate(phases)}
    if request.unit_phase_count > 1:
        turn = dict.fromkeys(phases, count)
    return tuple(turn.get(phase + 1, 0) for phase in range(request.phase_count))


def phase_units(circuits: Sequence[BranchCircuit], phase_count: int) -> tuple[int, ...]:
    """Units on each phase."""
    return tuple(sum(circuit.units_by_phase[phase] for circuit in circuits) for phase in range(phase_count))


class _RemainingUnits:
    """Units of the faces that no circuit has yet, in the order of the faces."""

    def __init__(self, faces: Sequence[FaceUnits]) -> None:
        self._faces = [(face.name, face.unit_count) for face in faces]

    def take(self, count: int) -> tuple[FaceUnits, ...]:
        """The next `count` units, by face."""
        taken: list[FaceUnits] = []
        while count > 0:
            name, left = self._faces.pop(0)
            part = min(left, count)
            if part:
                taken.append(FaceUnits(name, part))
            if left > part:
                self._faces.insert(0, (name, left - part))
            count -= part
        return tuple(taken)


Counts = tuple[tuple[int, ...], ...]
"""Number of circuits of each group (row) on each phase (column); a group is a face or, across faces, the whole roof."""


@lru_cache(maxsize=256)
def _sizes(groups: tuple[int, ...], most: int, there: tuple[float, ...]) -> tuple[tuple[tuple[int, int], int], ...]:
    """Size of every circuit with its group and phase: least difference between phases, fewest circuits, then equal sizes.

    `there` is what each phase has already, in units. Cached: most candidates of a design are split alike.
    """
    counts, units = _balanced_assignment(groups, most, there)
    sizes: list[tuple[tuple[int, int], int]] = []
    for group, row in enumerate(counts):
        for phase, number in enumerate(row):
            total = units[group][phase]
            sizes += [((group, phase), total // number + (index < total % number)) for index in range(number)]
    return tuple(sizes)


def _balanced_assignment(groups: Sequence[int], most: int, there: Sequence[float]) -> tuple[Counts, list[list[int]]]:
    """Circuits and units of each group on each phase: circuits are added one by one while they make the phases more equal."""
    numbers = [ceil(units / most) for units in groups]
    best = _best_assignment(groups, numbers, most, there)
    phase_count, least_difference = len(there), _least_difference(groups, there)
    added = 0
    while added < phase_count and _difference(best[1], there) > least_difference:
        added += 1
        more = [
            [number + (index == group) for index, number in enumerate(numbers)]
            for group, units in enumerate(groups)
            if numbers[group] < units
        ]
        if not more:
            break
        tried = [(other, _best_assignment(groups, other, most, there)) for other in more]
        numbers, found = min(tried, key=lambda each: _difference(each[1][1], there))
        if _difference(found[1], there) < _difference(best[1], there):
            best, added = found, 0
    return best


def _best_assignment(
    groups: Sequence[int], numbers: Sequence[int], most: int, there: Sequence[float]
) -> tuple[Counts, list[list[int]]]:
    """Circuits and units of each group on each phase, with the smallest difference between phases."""
    phase_count, least_difference = len(there), _least_difference(groups, there)
    assignments = prod(comb(number + phase_count - 1, phase_count - 1) for number in numbers)
    best: tuple[float, Counts, list[list[int]]] | None = None
    exhaustive = assignments <= EXHAUSTIVE_MOST
    tried = product(*(_compositions(number, phase_count) for number in numbers)) if exhaustive else ()
    for counts in ({_even(numbers, phase_count): None} | dict.fromkeys(tried)) if exhaustive else ():
        units = _balanced_units(groups, counts, most, there)
        difference = _difference(units, there)
        if best is None or difference < best[0]:
            best = (difference, counts, units)
        if best[0] <= least_difference:
            break
    if best is None:
        return _improved_assignment(groups, _even(numbers, phase_count), most, there)
    return best[1], best[2]


def _improved_assignment(
    groups: Sequence[int], counts: Counts, most: int, there: Sequence[float]
) -> tuple[Counts, list[list[int]]]:
    """Move one circuit at a time to another phase while that lowers the difference between phases."""
    units = _balanced_units(groups, counts, most, there)
    while _difference(units, there) > _least_difference(groups, there):
        balanced = ((other, _balanced_units(groups, other, most, there)) for other in _single_moves(counts))
        candidates = [(_difference(changed, there), other, changed) for other, changed in balanced]
        best = min(candidates, key=lambda candidate: candidate[0], default=None)
        if best is None or best[0] >= _difference(units, there):
            break
        _, counts, units = best
    return counts, units


def _single_moves(counts: Counts) -> Iterator[Counts]:
    """Every assignment in which one circuit is on another phase."""
    for group, row in enumerate(counts):
        for source, target in product(range(len(row)), repeat=2):
            if source != target and row[source]:
                changed = list(row)
                changed[source] -= 1
                changed[target] += 1
                yield (*counts[:group], tuple(changed), *counts[group + 1 :])


def _compositions(number: int, parts: int) -> Iterator[tuple[int, ...]]:
    """Every way to write a number as an ordered sum of so many parts, zeros included."""
    if parts == 1:
        yield (number,)
        return
    for first in range(number, -1, -1):
        for rest in _compositions(number - first, parts - 1):
            yield (first, *rest)


def _even(numbers: Sequence[int], phase_count: int) -> Counts:
    """Each circuit in turn on the phase with the fewest circuits."""
    circuits = [0] * phase_count
    rows = []
    for number in numbers:
        row = [0] * phase_count
        for _ in range(number):
            phase = circuits.index(min(circuits))
            circuits[phase] += 1
            row[phase] += 1
        rows.append(tuple(row))
    return tuple(rows)


def _totals(units: Sequence[Sequence[int]], there: Sequence[float]) -> list[float]:
    """What each phase has, in units, with what is there already."""
    return [sum(line[phase] for line in units) + already for phase, already in enumerate(there)]


def _difference(units: Sequence[Sequence[int]], there: Sequence[float]) -> float:
    totals = _totals(units, there)
    return max(totals) - min(totals)


def _least_difference(groups: Sequence[int], there: Sequence[float]) -> float:
    """A difference that whole units cannot be below; with what is there already it is not known."""
    return 0.0 if any(there) else float(bool(sum(groups) % len(there)))


def _balanced_units(groups: Sequence[int], counts: Counts, most: int, there: Sequence[float]) -> list[list[int]]:
    """Units of each group on each phase, with phases as equal as these circuits allow.

    Units move from a fuller to an emptier phase, directly or through a third. Where no such move is left, the totals are as
    equal as possible (a flow with convex cost).
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
        totals = _totals(units, there)
        pairs = sorted(
            ((totals[a] - totals[b], a, b) for a in phases for b in phases if totals[a] - totals[b] > 1.0 + ROUNDING),
            reverse=True,
        )
        if not any(_move_units(units, counts, most, (high, low), ceil((gap - 1.0) / 2.0)) for gap, high, low in pairs):
            return units


def _move_units(units: list[list[int]], counts: Counts, most: int, ends: tuple[int, int], wanted: int) -> bool:
    """Move up to `wanted` units between two phases; False where none can move."""
    high, low = ends
    paths = [[(high, low)], *([(high, via), (via, low)] for via in range(len(counts[0])) if via not in ends)]
    for path in paths:
        movable_by_step = [_movable_units(units, counts, most, step) for step in path]
        amount = min(wanted, *(max(movable, default=0) for movable in movable_by_step))
        if amount > 0:
            for (source, target), movable in zip(path, movable_by_step, strict=True):
                group = movable.index(max(movable))
                units[group][source] -= amount
                units[group][target] += amount
            return True
    return False


def _movable_units(units: list[list[int]], counts: Counts, most: int, step: tuple[int, int]) -> list[int]:
    """Units that each group can move from one phase to another; every circuit keeps at least one."""
    source, target = step
    return [
        min(line[source] - row[source], row[target] * most - line[target]) if row[source] and row[target] else 0
        for line, row in zip(units, counts, strict=True)
    ]

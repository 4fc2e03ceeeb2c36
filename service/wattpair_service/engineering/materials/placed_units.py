"""Where each microinverter of a face sits, which modules it serves, and its circuit: what a roofer mounts and a fitter labels.

The units follow the trunk: along the first row from the eaves, back along the next, so that the trunk turns at the end of a
row. Each serves the next modules in that order. A face has no more units than it needs; where some inputs stay free anyway, the
units that they are on are chosen such that the fewest modules are joined across a gap or from row to row. A unit sits under the
module nearest to the middle of its modules, as near to that middle as the frame allows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import count, pairwise
from math import dist

from wattpair_service.engineering.circuits.branch_circuits import BranchCircuit
from wattpair_service.engineering.materials.mounting import FaceRows
from wattpair_service.engineering.roof.layout import LENGTH_DIGITS
from wattpair_service.engineering.roof.outline import Point
from wattpair_service.engineering.roof.rows import Grid
from wattpair_service.engineering.rounding import ROUNDING

CLEAR_OF_FRAME_M = 0.2
"""From the middle of a unit to the edge of the module above it: half a unit, frame and clamp. Common practice, no source."""

Segment = tuple[int, int]
"""A segment by its row and its place in the row."""


@dataclass(frozen=True, slots=True)
class PlacedUnit:
    """One microinverter: its circuit and phases, the modules that it serves as indexes of the face, and its place [m].

    `segment` is that of the module that it sits under.
    """

    circuit: str
    circuit_number: int
    phases: tuple[int, ...]
    modules: tuple[int, ...]
    segment: Segment
    x_m: float
    y_m: float

    @property
    def place(self) -> Point:
        """Its place [m]."""
        return self.x_m, self.y_m


def placed_units(
    face: str,
    rows: FaceRows,
    circuits: Sequence[BranchCircuit],
    *,
    modules_per_unit: int,
    modules_per_input: int,
    unit_phase_count: int,
) -> tuple[PlacedUnit, ...]:
    """The microinverters of a face in the order of the trunk.

    Parameters
    ----------
    face : str
        Name of the face.
    rows : FaceRows
        Its modules.
    circuits : sequence of BranchCircuit
        Those of the roof; the face's units are theirs, in their order.
    modules_per_unit, modules_per_input : int
        Modules that a unit serves, and those in one of its inputs: only the last unit of a face has an input in part.
    unit_phase_count : int
        Phases of a unit; single-phase units take those of their trunk in turn.
    """
    runs, centres = list(_runs(rows)), rows.centres()
    segment_of = {index: segment for segment, own in runs for index in own}
    shares = _shares(runs, centres, modules_per_unit, modules_per_input)
    units = []
    for (circuit, number, turn), modules in zip(_turns(face, circuits), shares, strict=True):
        phases = circuit.phases if unit_phase_count > 1 else (circuit.phases[turn % len(circuit.phases)],)
        under, place = _place(rows.grid, centres, modules)
        units.append(PlacedUnit(circuit.name, number, phases, modules, segment_of[under], *place))
    return tuple(units)


def _turns(face: str, circuits: Sequence[BranchCircuit]) -> Iterator[tuple[BranchCircuit, int, int]]:
    """Circuit, its number, and the place in the circuit of each unit of a face."""
    for number, circuit in enumerate(circuits, 1):
        turn = 0
        for part in circuit.units_by_face:
            if part.name == face:
                yield from ((circuit, number, turn + each) for each in range(part.unit_count))
            turn += part.unit_count


def _runs(rows: FaceRows) -> Iterator[tuple[Segment, list[int]]]:
    """The segments along the trunk, each with its modules: every second row from right to left."""
    indexes = count()
    for row, counts in enumerate(rows.segments):
        segments = [((row, place), [next(indexes) for _ in range(modules)]) for place, modules in enumerate(counts)]
        yield from segments if row % 2 == 0 else [(segment, own[::-1]) for segment, own in reversed(segments)]


def _shares(
    runs: Sequence[tuple[Segment, list[int]]], centres: Sequence[Point], per_unit: int, per_input: int
) -> Iterator[tuple[int, ...]]:
    """The modules of each unit: as few units as can be, with the least distance between modules of different segments."""
    order = [index for _, own in runs for index in own]
    free_most = -len(order) % per_unit
    # For each number of places left free so far: the distance joined so far, and the segment ends where a unit was closed.
    best: dict[int, tuple[float, tuple[int, ...]]] = {0: (0.0, ())}
    end = 0
    for _, own in runs[:-1]:
        end += len(own)
        apart = round(dist(centres[order[end - 1]], centres[order[end]]), LENGTH_DIGITS)
        found: dict[int, tuple[float, tuple[int, ...]]] = {}
        for free, (joined, ends) in best.items():
            begun = (end + free) % per_unit
            choices = [(free, (joined + apart if begun else joined, ends))]
            closed = free + per_unit - begun
            if begun and begun % per_input == 0 and closed <= free_most:
                choices.append((closed, (joined, (*ends, end))))
            for key, choice in choices:
                found[key] = min(found.get(key, choice), choice)
        best = found
    _, ends = min(best.values())
    for start, stop in pairwise((0, *ends, len(order))):
        yield from (tuple(order[first : min(first + per_unit, stop)]) for first in range(start, stop, per_unit))


def _place(grid: Grid, centres: Sequence[Point], modules: Sequence[int]) -> tuple[int, Point]:
    """The module that a unit sits under, and its place.

    Of modules that are equally near it is the first along the trunk, so that the spacing stays the same along a row.
    """
    xs, ys = zip(*(centres[each] for each in modules), strict=True)
    middle = sum(xs) / len(xs), sum(ys) / len(ys)
    under = min(modules, key=lambda each: round(dist(centres[each], middle), LENGTH_DIGITS))
    x, y = centres[under]
    return under, (_within(middle[0], x, grid.width_m), _within(middle[1], y, grid.height_m))


def _within(wanted_m: float, centre_m: float, size_m: float) -> float:
    """The nearest coordinate that is clear of a module's frame [m]."""
    room_m = max(0.0, size_m / 2.0 - CLEAR_OF_FRAME_M)
    return min(max(wanted_m, centre_m - room_m), centre_m + room_m)


def missing_leads_m(rows: FaceRows, units: Sequence[PlacedUnit], module_lead_length_m: float) -> list[float]:
    """What is missing [m] to each module whose own leads do not reach from its middle to its microinverter.

    Neglected: the unit's own leads (to the safe side), and leads from module to module of those in series.
    """
    centres = rows.centres()
    missing = [dist(centres[module], unit.place) - module_lead_length_m for unit in units for module in unit.modules]
    return [each for each in missing if each > ROUNDING]

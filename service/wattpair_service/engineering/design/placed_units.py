"""Where each microinverter of a face sits, which modules it serves, and its circuit: what a roofer mounts and a fitter labels.

The units follow the trunk: along the first row from the eaves, back along the next, so that the trunk turns at the end of a
row. Each serves the next modules in that order; the last one of a face may serve fewer. Neglected: gaps within a row and
obstructions, which a trunk may have to go around.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from wattpair_service.engineering.circuits.branch_circuits import BranchCircuit
from wattpair_service.engineering.roof.layout import Arrangement


@dataclass(frozen=True, slots=True)
class PlacedUnit:
    """One microinverter: its circuit, the modules that it serves as indexes of the arrangement, and their centre [m]."""

    circuit: str
    circuit_number: int
    modules: tuple[int, ...]
    x_m: float
    y_m: float


def placed_units(
    face: str, arrangement: Arrangement, modules_per_unit: int, circuits: Sequence[BranchCircuit]
) -> tuple[PlacedUnit, ...]:
    """The microinverters of a face in the order of the trunk.

    Parameters
    ----------
    face : str
        Name of the face.
    arrangement : Arrangement
        Its modules.
    modules_per_unit : int
        Modules that a unit serves.
    circuits : sequence of BranchCircuit
        Those of the roof; the face's units are theirs, in their order.
    """
    order = [index for row in _rows(arrangement) for index in row]
    served = [tuple(order[start : start + modules_per_unit]) for start in range(0, len(order), modules_per_unit)]
    of_circuit = [
        (circuit.name, number) for number, circuit in enumerate(circuits, 1) for part in circuit.units_by_face
        if part.name == face for _ in range(part.unit_count)
    ]  # fmt: skip
    return tuple(
        PlacedUnit(*circuit, modules, *_centre(arrangement, modules))
        for circuit, modules in zip(of_circuit, served, strict=True)
    )


def _rows(arrangement: Arrangement) -> list[list[int]]:
    """Indexes of the modules of each row from the eaves, every second one from right to left."""
    indexes = range(len(arrangement.modules))
    rows = [list(row) for _, row in groupby(indexes, key=lambda index: arrangement.modules[index].row)]
    return [row if number % 2 == 0 else row[::-1] for number, row in enumerate(rows)]


def _centre(arrangement: Arrangement, modules: Sequence[int]) -> tuple[float, float]:
    placed = [arrangement.modules[index] for index in modules]
    x = sum(each.x_m for each in placed) / len(placed) + arrangement.module_width_m / 2.0
    y = sum(each.y_m for each in placed) / len(placed) + arrangement.module_height_m / 2.0
    return x, y

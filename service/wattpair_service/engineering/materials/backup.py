"""Whether a system delivers power in an outage, and the parts that this needs."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BackupWish:
    """Whether power in an outage is wanted, and whether the units can form a grid."""

    wanted: bool
    grid_forming_units: bool


@dataclass(frozen=True, slots=True)
class BackupPart:
    """A part that backup needs, and why."""

    role: str
    reason: str


@dataclass(frozen=True, slots=True)
class Backup:
    """Whether the system works in an outage, why, and the parts for it."""

    works_in_outage: bool
    explanation: str
    parts: tuple[BackupPart, ...]


ISOLATING = BackupPart(
    "backup_isolating_device",
    "an approved device that disconnects all poles of the house from the grid: without it all units stop with the grid",
)
CONTROLLER = BackupPart("backup_controller", "limits output to the household load while the house is disconnected")
LABEL = BackupPart("backup_label", "warns at the supply that parts stay live in an outage")
SOURCE = BackupPart("grid_forming_source", "a battery inverter that forms the grid for these units")


def backup(wish: BackupWish) -> Backup:
    """Backup parts and explanation for a request."""
    if not wish.wanted:
        ability = "could form a grid, but stop" if wish.grid_forming_units else "follow the grid and stop"
        return Backup(False, f"The units {ability} in an outage: without an approved isolating device there is no output.", ())
    parts = (ISOLATING, CONTROLLER, LABEL)
    if wish.grid_forming_units:
        explanation = "The units form a grid behind an approved isolating device; at night only a battery delivers power."
        return Backup(True, explanation, parts)
    explanation = "The units follow a grid: behind an approved isolating device a grid-forming source must form it."
    return Backup(True, explanation, (*parts, SOURCE))

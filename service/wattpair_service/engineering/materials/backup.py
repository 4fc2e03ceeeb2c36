"""Whether a system gives output while the grid is out, and what it needs for that."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BackupWish:
    """Whether output in an outage is wanted, and whether the units can form a grid of their own."""

    wanted: bool
    grid_forming_units: bool


@dataclass(frozen=True, slots=True)
class BackupPart:
    """A part that backup needs, and why."""

    role: str
    reason: str


@dataclass(frozen=True, slots=True)
class Backup:
    """What happens in an outage, in plain words, and the parts that follow."""

    works_in_outage: bool
    explanation: str
    parts: tuple[BackupPart, ...]


ISOLATING = BackupPart(
    "backup_isolating_device",
    "an approved device that separates the house from the grid on all poles: without it every unit stops with the grid",
)
CONTROLLER = BackupPart("backup_controller", "holds output to what the house takes while it is separated")
LABEL = BackupPart("backup_label", "says at the supply that parts stay live in an outage")
SOURCE = BackupPart("grid_forming_source", "a battery inverter that forms the grid which these units follow")


def backup(wish: BackupWish) -> Backup:
    """What a wish for backup comes to."""
    if not wish.wanted:
        can = "could form a grid, but" if wish.grid_forming_units else "follow the grid and"
        return Backup(False, f"The units {can} stop with it: without an approved isolating device there is no output.", ())
    parts = (ISOLATING, CONTROLLER, LABEL)
    if wish.grid_forming_units:
        words = "The units form a grid of their own behind an approved isolating device; by night only a battery gives output."
        return Backup(True, words, parts)
    words = "The units follow a grid: behind an approved isolating device a grid-forming source must make one for them."
    return Backup(True, words, (*parts, SOURCE))

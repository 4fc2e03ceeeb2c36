"""Whether a system delivers power in an outage, and the parts that this needs."""

from __future__ import annotations

from dataclasses import dataclass

from wattpair_service.engineering.sentences import Sentence, fixed


@dataclass(frozen=True, slots=True)
class BackupWish:
    """Whether power in an outage is wanted, and whether the units can form a grid."""

    wanted: bool
    grid_forming_units: bool


@dataclass(frozen=True, slots=True)
class BackupPart:
    """A part that backup needs, and why."""

    role: str
    reason: Sentence


@dataclass(frozen=True, slots=True)
class Backup:
    """Whether the system works in an outage, why, and the parts for it."""

    works_in_outage: bool
    explanation: Sentence
    parts: tuple[BackupPart, ...]


ISOLATING, CONTROLLER, LABEL, SOURCE = (
    BackupPart(role, fixed(f"backup.{role}"))
    for role in ("backup_isolating_device", "backup_controller", "backup_label", "grid_forming_source")
)
NOT_WANTED, NOT_WANTED_FORMING, FORMS, FOLLOWS = (
    fixed(f"backup.{each}") for each in ("not_wanted", "not_wanted_forming", "forms", "follows")
)


def backup(wish: BackupWish) -> Backup:
    """Backup parts and explanation for a request."""
    if not wish.wanted:
        return Backup(False, NOT_WANTED_FORMING if wish.grid_forming_units else NOT_WANTED, ())
    parts = (ISOLATING, CONTROLLER, LABEL)
    if wish.grid_forming_units:
        return Backup(True, FORMS, parts)
    return Backup(True, FOLLOWS, (*parts, SOURCE))

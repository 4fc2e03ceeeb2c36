"""Whether every cable is protected: design current, circuit breaker and carrying capacity in this order, none above the next.

The rule is that of IEC 60364-4-43, 433.1 (from memory; BS 7671 433.1.1, NEC 240.4 in the same sense): the rating of the device
that protects a cable is at least the design current and at most the cable's current-carrying capacity as installed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, get_args

from wattpair_service.engineering.circuits.conductors import Conductor, ConductorTable, Installation
from wattpair_service.engineering.rounding import ROUNDING
from wattpair_service.engineering.sentences import Cited, Sentence, Words, family, fixed, sentence, several

PROTECTED = fixed("source.cable_protection")
IN_TABLE = sentence("source.in_table", "clause", "source")
CAPACITY_OF_REQUEST = fixed("source.capacity_of_request")
CableName = Literal["trunk", "home run", "system cable", "supply cable"]
CABLES = family("cable", get_args(CableName))
ProtectingDevice = Literal["circuit breaker", "main device", "main circuit breaker of the system"]
PROTECTING = family("protecting", get_args(ProtectingDevice))
AS_DECLARED = fixed("cable_text.as_declared")
CURRENTS = sentence(
    "cable_text.currents",
    *("design_current_a", "device", "rating_a", "cable", "size", "installation", "capacity_a", "further"),
)
DEVICE_TOO_SMALL, NONE_PROTECTED = fixed("cable_text.device_too_small"), fixed("cable_text.none_protected")
MOST_BY_TABLE = sentence("cable_text.most_by_table", "current_a")
IS_PROTECTED = sentence("cable_text.is_protected", "size")
UNKNOWN = sentence("cable_text.unknown", "design_current_a", "missing")


@dataclass(frozen=True, slots=True, eq=False)
class CableRun:
    """One kind of cable of a system: how it is installed and what it may carry.

    `capacity_a` is the capacity that the caller or the cable's maker declares for `size` [A]; None takes it from the tables.
    Where it is below the table's, the other sizes have less than theirs in the same proportion.
    """

    name: CableName
    table: ConductorTable
    installation: Installation
    loaded_conductors: int
    size: str | None
    capacity_a: float | None

    def capacity_of(self, size: str, device_rating_a: float) -> float:
        """Current-carrying capacity [A] of a size as installed, behind a device; 0 where nothing is published for it."""
        capacity = self.installation.capacity_a(size, self.loaded_conductors, device_rating_a)
        if self.capacity_a is None or self.size is None:
            return capacity
        if size == self.size:
            return self.capacity_a
        of_declared = self.installation.capacity_a(self.size, self.loaded_conductors, device_rating_a)
        return capacity * min(1.0, self.capacity_a / of_declared) if of_declared > 0.0 else 0.0

    def is_protected(self, conductor: Conductor, device_rating_a: float) -> bool:
        """Whether a device of this rating protects a conductor of this run."""
        fits = device_rating_a <= self.capacity_of(conductor.size, device_rating_a) * (1.0 + ROUNDING)
        return fits and conductor.allows_device(device_rating_a)

    def to_order(self, size: str, device_rating_a: float) -> str:
        """The size where the device protects it, else the smallest that it does; the same where none or not known."""
        protected = [each.size for each in self.protected(device_rating_a)]
        is_known = size in (each.size for each in self.table.conductors)
        return protected[0] if protected and is_known and size not in protected else size

    def protected(self, device_rating_a: float) -> Iterator[Conductor]:
        """The conductors of the table that a device of this rating protects, thinnest first."""
        return (conductor for conductor in self.table.conductors if self.is_protected(conductor, device_rating_a))


@dataclass(frozen=True, slots=True)
class CableCheck:
    """The protection of one cable. Currents in A; `smallest_size` None where no conductor of the table is protected.

    Device, verdict and smallest size are None where the request does not tell which device protects the cable.

    `circuits` that are alike are checked together; none for the cable that the whole system shares.
    """

    cable: CableName
    circuits: tuple[str, ...]
    size: str
    loaded_conductors: int
    design_current_a: float
    device_rating_a: float | None
    capacity_a: float
    meets: bool | None
    smallest_size: str | None
    installation: Words
    source: Words
    explanation: Sentence

    @property
    def size_to_order(self) -> str | None:
        """The size that was asked for where it is protected, else the smallest that is; None where none is known."""
        return self.size if self.meets else self.smallest_size


def cable_check(
    run: CableRun,
    *,
    size: str,
    circuits: tuple[str, ...],
    design_current_a: float,
    device_rating_a: float,
    device: ProtectingDevice,
) -> CableCheck:
    """Check one cable.

    Parameters
    ----------
    run : CableRun
        The cable.
    size : str
        Its conductor.
    circuits : tuple of str
        The circuits that it belongs to.
    design_current_a : float
        Highest continuous current with the code's factor [A].
    device_rating_a : float
        Rating of its overcurrent device [A].
    device : ProtectingDevice
        That device.

    Returns
    -------
    CableCheck
        Values, verdict, and the smallest conductor that is protected.
    """
    conductor = run.table.conductor(size, "size")
    declared = run.capacity_a is not None and size == run.size
    capacity = run.capacity_of(size, device_rating_a)
    carries = design_current_a <= device_rating_a * (1.0 + ROUNDING)
    meets = carries and run.is_protected(conductor, device_rating_a)
    smallest = next(run.protected(device_rating_a), None) if carries else None
    installation = AS_DECLARED if declared else run.installation.in_words()
    further: tuple[Sentence, ...] = ()
    if not carries:
        further = (DEVICE_TOO_SMALL,)
    elif not meets:
        limit = conductor.device_max_a
        by_table = () if limit is None or device_rating_a <= limit else (MOST_BY_TABLE(current_a=limit),)
        further = (*by_table, IS_PROTECTED(size=smallest.size) if smallest else NONE_PROTECTED)
    explanation = CURRENTS(
        design_current_a=design_current_a,
        device=PROTECTING[device],
        rating_a=device_rating_a,
        cable=CABLES[run.name],
        size=size,
        installation=installation,
        capacity_a=capacity,
        further=further,
    )
    return CableCheck(
        cable=run.name,
        circuits=circuits,
        size=size,
        loaded_conductors=run.loaded_conductors,
        design_current_a=design_current_a,
        device_rating_a=device_rating_a,
        capacity_a=capacity,
        meets=meets,
        smallest_size=None if smallest is None else smallest.size,
        installation=installation,
        source=several(PROTECTED, CAPACITY_OF_REQUEST if declared else _source(run.installation)),
        explanation=explanation,
    )


def _source(installation: Installation) -> Sentence:
    return IN_TABLE(clause=Cited(installation.method.clause), source=installation.table.source)


def unknown_check(run: CableRun, *, size: str, design_current_a: float, missing: str) -> CableCheck:
    """The check of a cable whose device is not known: nothing is judged, and nothing to be ordered.

    Parameters
    ----------
    run : CableRun
        The cable.
    size : str
        Its conductor, as far as it is known.
    design_current_a : float
        Highest continuous current with the code's factor [A].
    missing : str
        Field of the request that would tell the device.

    Returns
    -------
    CableCheck
        Without a verdict.
    """
    capacity = run.capacity_of(size, design_current_a)
    return CableCheck(
        cable=run.name,
        circuits=(),
        size=size,
        loaded_conductors=run.loaded_conductors,
        design_current_a=design_current_a,
        device_rating_a=None,
        capacity_a=capacity,
        meets=None,
        smallest_size=None,
        installation=run.installation.in_words(),
        source=PROTECTED,
        explanation=UNKNOWN(design_current_a=design_current_a, missing=missing),
    )

"""What every result carries: assumptions, cautions and methods; and a figure with its range."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Assumption:
    """An input that the caller did not give: its name, the value taken, its unit and where it comes from."""

    name: str
    value: object
    unit: str | None
    source: str


@dataclass(frozen=True, slots=True)
class Method:
    """A model that was used, with its version and published source."""

    name: str
    version: str
    source: str


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Result:
    """What goes with every result: assumptions that no documented default covers, cautions, and the models used.

    `unused` names fields and groups of the request that the result does not rest on, or tells of with the value that it took:
    their documented defaults are no assumptions of it.
    """

    assumptions: tuple[Assumption, ...] = ()
    cautions: tuple[str, ...]
    method: tuple[Method, ...]
    unused: tuple[str, ...] = ()

    def rests_on(self, assumption: Assumption) -> bool:
        """Whether a documented default is an assumption of this result."""
        return not any(f"{assumption.name}.".startswith(f"{name}.") for name in self.unused)


@dataclass(frozen=True, slots=True)
class Range:
    """A figure with the range that it is expected in; `covers` says what the range holds and what it leaves out."""

    value: float
    low: float
    high: float
    covers: str

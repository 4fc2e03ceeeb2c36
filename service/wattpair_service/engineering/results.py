"""The common parts of results: assumptions, cautions, methods; and a figure with its range."""

from __future__ import annotations

from dataclasses import dataclass

from wattpair_service.engineering.cautions import Caution
from wattpair_service.engineering.sentences import Words


@dataclass(frozen=True, slots=True)
class Assumption:
    """An input that the caller did not give: its name, the assumed value, its unit and source."""

    name: str
    value: object
    unit: str | None
    source: Words


@dataclass(frozen=True, slots=True)
class Method:
    """A model that was used, with its version and published source."""

    name: Words
    version: str
    source: Words


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Result:
    """The common part of every result: assumptions other than documented defaults, cautions, and the models used.

    `unused` names fields and groups of the request that do not affect the result, or whose value is reported in
    `assumptions`: their documented defaults are no assumptions of the result.
    """

    assumptions: tuple[Assumption, ...] = ()
    cautions: tuple[Caution, ...]
    method: tuple[Method, ...]
    unused: tuple[str, ...] = ()

    def rests_on(self, assumption: Assumption) -> bool:
        """Whether a documented default is an assumption of this result."""
        return not any(f"{assumption.name}.".startswith(f"{name}.") for name in self.unused)


@dataclass(frozen=True, slots=True)
class Range:
    """A figure with its expected range; `covers` says what the range includes and what it leaves out."""

    value: float
    low: float
    high: float
    covers: Words

"""A check against something outside the project, and the ledger that they are written to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Literal

Label = Literal["READ", "READ-2", "RUN", "Derived", "MEMORY"]


@dataclass(frozen=True, slots=True)
class Check:
    """One figure of the product beside a published one.

    `label` says how the figure was obtained: READ in the body's own page, an author's abstract or a library's source;
    READ-2 in a second-hand copy; RUN with a named library; Derived from figures given; MEMORY unverified.
    `low` and `high` bound what counts as agreement.
    """

    name: str
    source: str
    label: Label
    expected: str
    got: float
    low: float
    high: float

    @property
    def ok(self) -> bool:
        """Whether the figure agrees; NaN never does."""
        return self.low <= self.got <= self.high

    def row(self) -> dict[str, object]:
        """The check as plain data."""
        return {**asdict(self), "ok": self.ok}


def near(name: str, expected: float, got: float, tolerance: float, label: Label, source: str) -> Check:
    """A check that a figure lies within an absolute tolerance of the published one."""
    bounds = f"{expected:.9g} +- {tolerance:g}"
    return Check(name, source, label, bounds, float(got), expected - tolerance, expected + tolerance)


def within(name: str, low: float, high: float, got: float, label: Label, source: str) -> Check:
    """A check that a figure lies in a published range."""
    return Check(name, source, label, f"{low:.9g} to {high:.9g}", float(got), low, high)


def yes(name: str, holds: bool, label: Label, source: str) -> Check:
    """A check that a statement holds, as one or zero."""
    return near(name, 1.0, holds, 0.0, label, source)


def table(checks: list[Check]) -> Iterator[str]:
    """The ledger as text."""
    for check in checks:
        mark = "ok  " if check.ok else "FAIL"
        yield f"{mark} {check.name:66} expected {check.expected:28} got {check.got:<14.9g} [{check.label}] {check.source}"
    yield f"{len(checks)} checks, {sum(not check.ok for check in checks)} failed"

"""Times of several things side by side, and the rows that a run prints."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass

Clock = Callable[[], float]


@dataclass(frozen=True, slots=True)
class Spread:
    """Median and quartiles of several values."""

    median: float
    low: float
    high: float

    @classmethod
    def of(cls, values: list[float]) -> Spread:
        """At least two values."""
        low, median, high = statistics.quantiles(values, n=4, method="inclusive")
        return cls(median, low, high)

    @classmethod
    def single(cls, value: float) -> Spread:
        """Of one value that was not measured again."""
        return cls(value, value, value)


def figure(value: float) -> str:
    """Three digits, or all before the point."""
    return f"{value:.0f}" if abs(value) >= 1000.0 else f"{value:.3g}"


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds that each of several things took, round by round: the n-th values of all belong to the same round."""

    seconds: Mapping[str, list[float]]

    def of(self, name: str, factor: float = 1.0) -> Spread:
        """Time of one of them [s], times a factor."""
        return Spread.of([factor * each for each in self.seconds[name]])

    def ratio(self, above: str, below: str, factor: float = 1.0) -> Spread:
        """One over another, round by round, so that what slows the machine for a while slows both."""
        return Spread.of([factor * a / b for a, b in zip(self.seconds[above], self.seconds[below], strict=True)])

    def ms(self, *names: str) -> str:
        """The medians, for people."""
        return ", ".join(f"{name} {figure(1e3 * self.of(name).median)} ms" for name in names)


def side_by_side(things: Mapping[str, Callable[[], object]], *, rounds: int, clock: Clock = time.process_time) -> Times:
    """Measure things in turn, round by round, after one of each to warm up.

    The clock is processor time of this process with all its threads, which other people's work on the machine moves least;
    whatever waits for another process needs `time.perf_counter`.
    """
    for thing in things.values():
        thing()
    found: dict[str, list[float]] = {name: [] for name in things}
    for _ in range(rounds):
        for name, thing in things.items():
            start = clock()
            thing()
            found[name].append(clock() - start)
    return Times(found)


@dataclass(frozen=True, slots=True)
class Target:
    """A bound on a value: at least, or at most."""

    bound: float
    at_least: bool

    def __str__(self) -> str:
        return f"{'at least' if self.at_least else 'at most'} {self.bound:g}"


def at_least(bound: float) -> Target:
    """A lower bound."""
    return Target(bound, at_least=True)


def at_most(bound: float) -> Target:
    """An upper bound."""
    return Target(bound, at_least=False)


@dataclass(frozen=True, slots=True)
class Row:
    """One measured value: its median and quartiles, what is asked of it where anything is, and what it was made from.

    A headline is one of the few that the README shows.
    """

    name: str
    value: Spread
    unit: str = ""
    target: Target | None = None
    made_from: str = ""
    headline: bool = False

    @property
    def met(self) -> bool | None:
        """Whether the median keeps the target."""
        if self.target is None:
            return None
        value, bound = self.value.median, self.target.bound
        return value >= bound if self.target.at_least else value <= bound

"""Where the time of a selection goes: what its outermost functions call, as shares of the whole.

Functions written in C count with whoever calls them.
"""

from __future__ import annotations

import cProfile
import pstats
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.benchmarks import roofs
from tests.benchmarks.measuring import Row, Spread
from tests.benchmarks.roofs import Year, asked, built_in_year, new_hourly_year, new_site
from wattpair_service.climate import site_year
from wattpair_service.engineering.selection import evaluation, selection

RUNS = 12
SHOWN = 10
OUTERMOST = frozenset(Path(str(module.__file__)).name for module in (roofs, site_year, selection, evaluation))
"""Files whose functions only pass work on: the time is that of what they call."""


def rows() -> Iterator[Row]:
    """The largest shares at a new place; the profiler's own cost makes small functions look dearer than they are."""
    ways: dict[str, Callable[[], Year]] = {
        "real year": new_hourly_year,
        "built-in climate": lambda: built_in_year(new_site()),
    }
    for name, year in ways.items():
        shares = _shares(year)
        for called, share in sorted(shares.items(), key=lambda item: -item[1])[:SHOWN]:
            yield Row(f"share of a selection at a new place, {name}: {called}", Spread.single(share), "%")


def _shares(year: Callable[[], Year]) -> dict[str, float]:
    """Percent of all processor time by the function that the outermost ones call."""
    given = asked()
    year().select(given)
    profile = cProfile.Profile(time.process_time, builtins=False)
    profile.enable()
    for _ in range(RUNS):
        year().select(given)
    profile.disable()
    functions = pstats.Stats(profile).stats  # type: ignore[attr-defined]  # there is no public way to the callers
    whole = sum(own for _, _, own, _, _ in functions.values())
    found: dict[str, float] = {}
    for (file, _, called), (*_, callers) in functions.items():
        if Path(file).name in OUTERMOST:
            continue
        from_outside = sum(times[3] for (caller, _, _), times in callers.items() if Path(caller).name in OUTERMOST)
        name = f"{_module(Path(file))}.{called}"
        found[name] = found.get(name, 0.0) + 100.0 * from_outside / whole
    return found


def _module(file: Path) -> str:
    return file.parent.name if file.stem == "__init__" else file.stem

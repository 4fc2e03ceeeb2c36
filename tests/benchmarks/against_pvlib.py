"""Selection against what a competent user would write with pvlib, on the same roof, year and candidates."""

from __future__ import annotations

import itertools
import warnings
from collections.abc import Callable, Iterator
from dataclasses import replace

import pandas as pd

from tests.benchmarks.agreement import AGREEMENT_SHARE, core_energies, require_agreement, shared_energies
from tests.benchmarks.measuring import Row, Spread, at_least, at_most, side_by_side
from tests.benchmarks.pvlib_scripts import one_chain, shared_script
from tests.benchmarks.roofs import (
    AZIMUTHS,
    UNITS,
    PvlibCase,
    asked,
    built_in_year,
    known_file_year,
    known_site,
    new_hourly_year,
    new_site,
)

ROUNDS = 11
CHAINS_PER_ROUND = 6
CHAINS = UNITS * len(AZIMUTHS)
CHAIN_FACTOR = CHAINS / CHAINS_PER_ROUND
MINUTE_ROUNDS = 5
MINUTE_EVERY_DAYS = 6
"""Of the minutes, every sixth day is computed, and the time scaled to the year."""


def selection_rows() -> Iterator[Row]:
    """Twenty microinverters on four faces: real year and built-in climate, against the loop and the tuned script."""
    case, given = PvlibCase.of(), asked()
    chained: dict[tuple[int, int], float] = {}
    site = known_site()
    # 27 is prime to the number of pairs: the rounds walk through all of them.
    pairs = (divmod(27 * step % CHAINS, len(AZIMUTHS)) for step in itertools.count())

    def chains() -> None:
        for index, at in itertools.islice(pairs, CHAINS_PER_ROUND):
            chained[index, at] = one_chain(case.roof, case.roof.faces[at], case.inverters[index])

    ways: dict[str, Callable[[], object]] = {
        "real year, a new place": lambda: new_hourly_year().select(given),
        "real year, a place known before": lambda: known_file_year().select(given),
        "built-in climate, a new place": lambda: built_in_year(new_site()).select(given),
        "built-in climate, a place known before": lambda: built_in_year(site).select(given),
    }
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # ModelChain's solver divides by zero at night
        times = side_by_side(
            ways | {"tuned script": lambda: shared_script(case.roof, case.inverters), "chains": chains}, rounds=ROUNDS
        )
    script, core = shared_energies(case), core_energies(case)
    yield _agreement("tuned script", require_agreement(core, script), len(script))
    behind_glass = core_energies(case, glass_of_the_chain=True)
    yield _agreement("ModelChain loop, its own glass", require_agreement(behind_glass, chained), len(chained))
    targets = {"real": (at_least(300), at_least(6)), "built": (at_least(600), at_least(12))}
    for way in ways:
        loop, tuned = targets[way[:5].strip()]
        new = way.endswith("a new place")
        loop_s = times.of("chains", CHAIN_FACTOR).median
        sample = f"{times.ms(way)}; {loop_s:.3g} s, {CHAINS_PER_ROUND} chains a round scaled to {CHAINS}"
        ratio, what = (
            times.ratio("chains", way, CHAIN_FACTOR),
            f"selection of {UNITS} on {len(AZIMUTHS)} faces, faster than the",
        )
        yield Row(f"{what} ModelChain loop: {way}", ratio, "times", loop, sample, new)
        both = times.ms(way, "tuned script")
        yield Row(f"{what} tuned script: {way}", times.ratio("tuned script", way), "times", tuned, both, new)


def _agreement(name: str, share: float, count: int) -> Row:
    percent = 100.0 * share
    return Row(
        f"largest difference of yearly AC energy, plain hours: {name}",
        Spread.single(percent),
        "%",
        at_most(100.0 * AGREEMENT_SHARE),
        f"{count} of {CHAINS} pairs of face and candidate",
    )


def minute_rows() -> Iterator[Row]:
    """One face, one candidate: ModelChain on minutes interpolated from the hours, against hours with subhourly variability."""
    case, given = PvlibCase.of(1, 1), asked(1, 1)
    by_minute = case.roof.weather.resample("min").interpolate()
    index = pd.DatetimeIndex(by_minute.index)
    sample = by_minute[index.dayofyear % MINUTE_EVERY_DAYS == 0]
    factor = 60.0 * len(case.roof.weather) / len(sample)
    minutes = replace(case.roof, weather=sample)
    ways: dict[str, Callable[[], object]] = {
        "hours with subhourly variability": lambda: new_hourly_year().select(given),
        "minutes": lambda: one_chain(minutes, case.roof.faces[0], case.inverters[0]),
    }
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        times = side_by_side(ways, rounds=MINUTE_ROUNDS)
    minutes_s = times.of("minutes", factor).median
    yield Row(
        "hours with subhourly variability, one face and candidate, faster than ModelChain on minutes",
        times.ratio("minutes", "hours with subhourly variability", factor),
        "times",
        at_least(300),
        f"{times.ms('hours with subhourly variability')}; {minutes_s:.3g} s, a {MINUTE_EVERY_DAYS}th of the days scaled",
        headline=True,
    )

"""The coefficients of the states inside the hour from the minutes of several places.

    python -m tests.validation.calibrate_subhourly [--minutes NAME=FILE.csv.gz ...]

The four exponents are fitted by least squares to the variance of the beam inside each hour, then `ODDS` and `BEAM_DIMMING` to
the clipped shares (three faces, five ratios); every place weighs the same. Then each place, and each climate, is left out in
turn, everything is fitted anew, and its clipped shares are predicted.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

from tests.validation.minute_clipping import Case, Row, errors
from tests.validation.minute_places import PLACES, REGISTRY
from tests.validation.minutes import Station, read
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.irradiance import subhourly

EXPONENTS = ("ODDS_CHANGE_EXPONENT", "ODDS_PER_OPACITY", "ODDS_PER_COS_ZENITH", "ODDS_PER_SCARCITY")
LEVELS = ("ODDS", "BEAM_DIMMING")
ROUNDS = 2
"""Fits of the exponents, which need the dimming, and of the levels, which need the exponents."""
PERCENT = 100.0

Residuals = Callable[[], FloatArray]


@contextmanager
def coefficients(names: Sequence[str], values: Iterable[float]) -> Iterator[None]:
    """The model with other coefficients."""
    before = [getattr(subhourly, name) for name in names]
    try:
        for name, value in zip(names, values, strict=True):
            setattr(subhourly, name, float(value))
        yield
    finally:
        for name, value in zip(names, before, strict=True):
            setattr(subhourly, name, value)


def present(names: Sequence[str]) -> list[float]:
    """The coefficients as they are."""
    return [getattr(subhourly, name) for name in names]


def fresh_states(measured: Station) -> subhourly.SubhourlyStates:
    """With the present coefficients."""
    return subhourly.subhourly_states(
        measured.conditions, origin="measured_hourly", elevation_m=measured.elevation_m, linke_turbidity_by_month=None
    )


def variance_residuals(places: Iterable[list[Case]]) -> FloatArray:
    """Variance of the horizontal beam inside each hour, model less minutes, over the norm of the place's minutes."""
    found = []
    for cases in places:
        measured = cases[0].station
        states, minutes = fresh_states(measured), measured.minutes
        index = states.index[minutes.usable[states.index]]
        of_states = (states.weight * (states.beam_ratio - 1.0) ** 2).sum(axis=1)[minutes.usable[states.index]]
        deviation = minutes.dni_w_m2 - minutes.hourly(minutes.dni_w_m2)[:, None]
        vertical = np.cos(np.radians(measured.conditions.zenith_deg[index])) ** 2
        variance = minutes.hourly(deviation**2)[index] * vertical
        model = measured.conditions.dni_w_m2[index] ** 2 * of_states * vertical
        found.append((model - variance) / np.linalg.norm(variance))
    return np.concatenate(found)


def share_residuals(places: Iterable[list[Case]]) -> FloatArray:
    """Clipped shares, model less minutes [points]."""
    return np.array([row.spread_percent - row.minutes_percent for cases in places for row in rows(cases)])


def fit(places: list[list[Case]]) -> dict[str, float]:
    """All coefficients anew, from the present ones."""
    names, values = (*EXPONENTS, *LEVELS), present((*EXPONENTS, *LEVELS))
    for _ in range(ROUNDS):
        for free, residuals in (((*EXPONENTS, "ODDS"), variance_residuals), (LEVELS, share_residuals)):
            found = dict(zip(names, values, strict=True))
            found |= _fitted(free, [found[name] for name in free], names, values, partial(residuals, places))
            values = [found[name] for name in names]
    return dict(zip(names, values, strict=True))


def _fitted(
    free: Sequence[str], start: list[float], names: Sequence[str], values: list[float], residuals: Residuals
) -> dict[str, float]:
    def with_values(trial: FloatArray) -> FloatArray:
        with coefficients(names, values), coefficients(free, trial):
            return residuals()

    return dict(zip(free, least_squares(with_values, start, diff_step=0.01, x_scale=np.abs(start)).x.tolist(), strict=True))


def asked(name: str, residuals: Residuals) -> float:
    """What minutes ask for over the present coefficient, the others as they are: one step of Gauss and Newton."""
    value, step = getattr(subhourly, name), 0.01
    at = residuals()
    with coefficients((name,), (value * (1.0 + step),)):
        slope = (residuals() - at) / step
    return float(1.0 - slope @ at / (slope @ slope))


def rows(cases: list[Case]) -> list[Row]:
    """Of all faces at the present coefficients."""
    states = fresh_states(cases[0].station)
    return [row for one in cases for row in one.rows(states)]


def report(name: str, places: list[list[Row]], **more: object) -> None:
    """Print how well the model does, every place weighing the same; `least_holding` is over the faces and ratios."""
    found = [row for each in places for row in each]
    both = {column: errors(found, f"{column}_percent") for column in ("hourly", "spread")}
    inside = np.array([[row.inside for row in each] for each in places])
    width = float(np.mean([row.high_percent - row.low_percent for row in found]))
    held = {"range_holds_share": float(inside.mean()), "least_holding": float(inside.mean(axis=0).min())}
    print(json.dumps({"case": name, **both, **held, "range_width_points": width, **more}))


def left_out(cases: dict[str, list[Case]], groups: dict[str, list[str]]) -> None:
    """Each group of places predicted with coefficients of the others."""
    found: dict[str, list[Row]] = {}
    for group, names in groups.items():
        values = fit([given for other, given in cases.items() if other not in names])
        with coefficients(list(values), values.values()):
            found |= {name: rows(cases[name]) for name in names}
        rounded = {name: round(value, 3) for name, value in values.items()}
        for name in names:
            report(f"{name} left out" + (f" with {group}" if group != name else ""), [found[name]], **{"with": rounded})
    report("all left out", list(found.values()))


def add_minutes_option(parser: argparse.ArgumentParser) -> None:
    """Files of the places that no package carries."""
    others = ", ".join(name for name in PLACES if name not in REGISTRY)
    parser.add_argument("--minutes", nargs="*", default=[], metavar="NAME=FILE.csv.gz", help=f"of {others}")


def cases_of(parser: argparse.ArgumentParser) -> dict[str, list[Case]]:
    """The faces of every place that there are minutes of."""
    frames = {name: load() for name, load in REGISTRY.items()}
    for given in parser.parse_args().minutes:
        name, _, path = given.partition("=")
        if name not in PLACES or not path:
            parser.error(f"--minutes {given}: NAME=FILE is needed, NAME one of {', '.join(PLACES)}")
        frames[name] = read(Path(path))
    return {name: PLACES[name].cases(frame) for name, frame in frames.items()}


def main() -> int:
    parser = argparse.ArgumentParser(description="Fit the states inside the hour; leave places and climates out.")
    add_minutes_option(parser)
    cases = cases_of(parser)
    print(json.dumps({"fitted": {name: round(value, 3) for name, value in fit(list(cases.values())).items()}}))
    left_out(cases, {name: [name] for name in cases})
    climates = dict.fromkeys(PLACES[name].climate for name in cases)
    left_out(cases, {climate: [name for name in cases if PLACES[name].climate == climate] for climate in climates})
    for name, of_place in cases.items():
        report(f"{name}, shipped coefficients", [rows(of_place)])
    report("all, shipped coefficients", [rows(of_place) for of_place in cases.values()])
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

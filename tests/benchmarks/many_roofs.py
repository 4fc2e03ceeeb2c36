"""Designs of many roofs: the client's threads on one copy and on two behind nginx, and a portfolio on Dask's processes."""

from __future__ import annotations

import itertools
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pandas as pd

from tests.benchmarks.measuring import Row, Spread
from tests.deployment import Deployment, deployed
from tests.sdk.conftest import MODULE, UNITS
from wattpair import Candidate, Client, DesignFace, ModuleOffer, portfolio

ROOFS = 300
ROUNDS = 3
THREADS = 4
PROCESSES = 2
COMMON: dict[str, Any] = {
    "modules": [ModuleOffer(module=MODULE)],
    "candidates": [Candidate(microinverter=unit) for unit in UNITS[:4]],
    "faces": [
        DesignFace(name="south", tilt_deg=35, azimuth_deg=180, module_count=10),
        DesignFace(name="east", tilt_deg=35, azimuth_deg=90, module_count=6),
    ],
}


def rows() -> Iterator[Row]:
    """Roofs a second, each at a location that no request named before."""
    with tempfile.TemporaryDirectory() as name, deployed(Path(name)) as running:
        runs = [(_one_copy(running, run), _two_copies(running, run), _on_dask(running, run)) for run in range(ROUNDS)]
    made_from = f"{ROOFS} designs of 4 candidates on 2 faces, callers on the same {PROCESSES} processors, {ROUNDS} runs"
    for rates, words in zip(
        zip(*runs, strict=True),
        (
            f"one copy, {THREADS} threads of `many`",
            f"two copies behind nginx, {THREADS} threads of `many`",
            f"one copy, a portfolio on {PROCESSES} processes of Dask, their start included",
        ),
        strict=True,
    ):
        yield Row(f"designs of many roofs: {words}", Spread.of(list(rates)), "1/s", None, made_from, headline=True)


_PLACES = itertools.count()


def _sites() -> list[dict[str, float]]:
    return [{"latitude_deg": 44.0 + next(_PLACES) * 0.002, "longitude_deg": 5.2} for _ in range(ROOFS)]


def _one_copy(running: Deployment, _: int) -> float:
    with Client(running.copies[0].service.url, api_key=running.api_key) as client:
        return _rate(client)


def _two_copies(running: Deployment, _: int) -> float:
    with running.session() as session, Client(running.url, session=session) as client:
        return _rate(client)


def _rate(client: Client) -> float:
    roofs = [COMMON | {"site": site} for site in _sites()]
    start_s = time.perf_counter()
    for outcome in client.designs(roofs, workers=THREADS):
        outcome.unwrap()
    return ROOFS / (time.perf_counter() - start_s)


def _on_dask(running: Deployment, run: int) -> float:
    table = running.folder / f"roofs-{run}.csv"
    named = [{f"site.{field}": value for field, value in site.items()} for site in _sites()]
    pd.DataFrame([{"id": index} | site for index, site in enumerate(named)]).to_csv(table, index=False)
    start_s = time.perf_counter()
    done = portfolio.run(
        table,
        running.folder / f"designs-{run}.csv",
        base_url=running.copies[run % 2].service.url,
        api_key=running.api_key,
        common=COMMON,
        workers=PROCESSES,
    )
    assert not done.failures, "every roof has a design"
    return ROOFS / (time.perf_counter() - start_s)

"""The same call for a table of roofs, on the processes of one machine or on a Dask cluster.

For a company that quotes all its open offers anew after a price change: a table goes in, CSV or Parquet with a row for each
roof, and a table comes out with a row for each of them; `wattpair.tables` says how their columns are named. A worker that dies
loses nothing and doubles nothing: its roofs are given to another one, and the table is written once, when every roof has its
outcome.

Needs Dask and pandas: pip install "wattpair[portfolio]".
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

try:
    import pandas as pd
    from distributed import Client as DaskClient
    from distributed import Future, KilledWorker, LocalCluster, as_completed
except ImportError as missing:
    raise ImportError('wattpair.portfolio needs Dask and pandas: pip install "wattpair[portfolio]"') from missing

import requests

from wattpair.call import Call, Request
from wattpair.client import Client
from wattpair.errors import WorkersDied
from wattpair.many import Gathering, answer, checked_workers
from wattpair.options import DEFAULT_RETRIES, DEFAULT_TIMEOUT_S, Options, checked
from wattpair.pauses import Pauses
from wattpair.tables import Columns, checked_target, nested, read, results_table, rows, scalars, write
from wattpair.transport import Transport

CHUNK = 8
"""Roofs that a worker is given at a time: few are lost with it, and few messages are sent."""
AHEAD = 3
"""Chunks that are handed out for each thread of the cluster."""


@dataclass(frozen=True, slots=True)
class Portfolio:
    """What came of a table of roofs.

    Attributes
    ----------
    table : pandas.DataFrame
        The table that was written: identity, columns kept, `succeeded`, `error`, and the columns of the results.
    path : Path
        Where it was written.
    failures : dict of str to Exception
        The errors by identity.
    """

    table: pd.DataFrame
    path: Path
    failures: dict[str, Exception]


def run(
    roofs: Path | str,
    results: Path | str,
    *,
    base_url: str,
    api_key: str | None = None,
    call: str = "design_roof",
    common: Mapping[str, Any] | None = None,
    identity: str = "id",
    keep: Sequence[str] = (),
    columns: Callable[[Any], Columns] | None = None,
    cluster: DaskClient | str | None = None,
    workers: int | None = None,
    resume: Path | str | None = None,
    progress: bool = False,
    timeout: float | tuple[float, float] = DEFAULT_TIMEOUT_S,
    retries: int = DEFAULT_RETRIES,
    headers: Mapping[str, str] | None = None,
) -> Portfolio:
    """Make the same call for each roof of a table, and write a table of the results.

    Parameters
    ----------
    roofs, results : path
        Tables to read and to write, ".csv" or ".parquet" each. The second is written whole at the end, or not at all.
    base_url, api_key, timeout, retries, headers
        As for `Client`; every worker makes one.
    call : str
        Name of the client's method.
    common : mapping, optional
        Arguments that are the same for every roof.
    identity : str
        Column that tells roofs apart; its values must be unique.
    keep : sequence of str
        Further columns to copy into the results, which are no arguments.
    columns : callable, optional
        Makes the columns of a result; without it, all its fields that are no lists, by their path.
    cluster : distributed.Client or str, optional
        The cluster, or its scheduler's address; without it, one on this machine that ends with the call.
    workers : int, optional
        Processes of the cluster on this machine; as many as it has processors where left out.
    resume : path, optional
        JSON Lines file that keeps each outcome, so that an interrupted run can go on; see `wattpair.results_file`.
    progress : bool
        Whether to draw a progress bar; needs tqdm.

    Returns
    -------
    Portfolio
        The table, where it is, and what failed.

    Raises
    ------
    ValueError
        A table cannot be read as described, or names an argument that the call does not have.
    TypeError
        An argument of a wrong type.
    ResultsFileError
        The file to go on with is of another version or call, damaged, or in use.
    """
    described = _call(call)
    options = checked(base_url, api_key, timeout, retries, headers, None)
    target = checked_target(Path(results))
    if target.resolve() == Path(roofs).resolve():
        raise ValueError(f"results: {target} is the table of roofs; allowed is another file")
    table = read(Path(roofs), identity, [identity, *keep], described)
    arguments = [dict(common or {}) | nested(row, set(keep) | {identity}) for row in rows(table)]
    with Gathering(described, arguments, progress, resume, options.base_url) as gathering, _connected(cluster, workers) as dask:
        _run_on(dask, options, gathering)
        outcomes = list(gathering.ready())
    written = results_table(table[[identity, *keep]], outcomes, columns or scalars)
    write(written, target)
    failures = {
        str(name): outcome.error for name, outcome in zip(table[identity], outcomes, strict=True) if outcome.error is not None
    }
    return Portfolio(written, target, failures)


def _call(name: str) -> Call[..., Any]:
    for kind in Client.__mro__:
        found = vars(kind).get(name)
        if isinstance(found, Call):
            return found
    raise ValueError(f"call: {name!r} was given; allowed is the name of a client's method, such as design_roof")


@contextmanager
def _connected(cluster: DaskClient | str | None, workers: int | None) -> Iterator[DaskClient]:
    if isinstance(cluster, DaskClient):
        yield cluster
    elif cluster is not None:
        with DaskClient(cluster) as dask:
            yield dask
    else:
        count = (os.cpu_count() or 1) if workers is None else checked_workers(workers)
        with (
            LocalCluster(n_workers=count, threads_per_worker=1, dashboard_address="127.0.0.1:0", host="127.0.0.1") as local,
            DaskClient(local) as dask,
        ):
            yield dask


def _run_on(dask: DaskClient, options: Options, gathering: Gathering[Any]) -> None:
    """Hand out chunks, a few ahead of the workers, and note what comes back."""
    handed_out: dict[Any, list[Request[Any]]] = {}
    chunks = _chunks(request for request in gathering.open_requests() if request is not None)
    completed = as_completed()

    def hand_out_next() -> None:
        chunk = next(chunks, None)
        if chunk is not None:
            future = dask.submit(_answer_all, options, chunk, pure=False)
            handed_out[future.key] = chunk
            completed.add(future)

    for _ in range(AHEAD * max(1, sum(dask.nthreads().values()))):
        hand_out_next()
    for future in completed:
        for request, outcome in zip(handed_out.pop(future.key), _outcomes(future), strict=False):
            gathering.note(request, outcome)
        future.release()
        hand_out_next()


def _chunks(requests: Iterator[Request[Any]]) -> Iterator[list[Request[Any]]]:
    chunk: list[Request[Any]] = []
    for request in requests:
        chunk.append(request)
        if len(chunk) == CHUNK:
            yield chunk
            chunk = []
    if chunk:
        yield chunk


def _answer_all(options: Options, asked: list[Request[Any]]) -> list[Any]:
    """What a worker does: the results or errors of a chunk."""
    with requests.Session() as session:
        transport = Transport(options, session, Pauses())
        return [answer(transport, request) for request in asked]


def _outcomes(future: Future[Any]) -> Iterable[Any]:
    try:
        return list(future.result())
    except KilledWorker as error:
        # Dask gives a chunk up whose workers died again and again; the next run with `resume` tries it anew.
        return [WorkersDied(str(error))] * CHUNK

"""The same call for a table of roofs, on the processes of one machine or on a Dask cluster.

For a company that quotes all its open offers anew after a price change: a table goes in, CSV or Parquet with a row for each
roof, and a table comes out with a row for each of them. `wattpair.roofs` says how the first is read (`roofs_table`) and what
stands in the second (`results_table`). A roof with a fault in its cells fails alone. A worker that dies loses nothing and
doubles nothing: its roofs are given to another one, and the table is written once, when every roof has its outcome.

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
    from distributed import Client as DaskClient, Future, KilledWorker, LocalCluster, as_completed
except ImportError as missing:
    raise ImportError('wattpair.portfolio needs Dask and pandas: pip install "wattpair[portfolio]"') from missing

import requests

from wattpair import codec
from wattpair.call import JSON, Call, Request
from wattpair.errors import WorkersDied
from wattpair.http.options import DEFAULT_RETRIES, DEFAULT_TIMEOUT_S, Options, checked
from wattpair.http.pauses import Pauses
from wattpair.http.transport import Transport
from wattpair.operations import CALLS
from wattpair.roofs.many import Gathering, Outcome, answer, checked_workers
from wattpair.roofs.results_table import OUTCOME, Columns, ResultsTable, checked_target, column_names, columns_of, write
from wattpair.roofs.roofs_table import read

CHUNK = 8
"""Roofs that a worker is given at a time: few are lost with it, and few messages are sent."""
AHEAD = 3
"""Chunks that are handed out for each thread of the cluster."""
WINDOW = 16
"""Chunks for each thread whose outcomes may wait for an earlier one's."""


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
        The errors by identity: what a call can raise, or a ValueError for cells that cannot be read and for results that
        `columns` failed on.
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
        Arguments that all roofs share. A row's cells are laid upon them, mappings and items of lists ("faces[0].tilt_deg")
        within: what a cell does not give stays what it is here.
    identity : str
        Column that tells roofs apart; its values must be unique.
    keep : sequence of str
        Further columns to copy into the results, which are no arguments.
    columns : callable, optional
        Makes the columns of a result, a mapping of names to texts, numbers, truth values or dates, of one kind in each column;
        without it, all its fields that are no lists, by their path, and its cautions.
    cluster : distributed.Client or str, optional
        The cluster, or its scheduler's address; without it, one on this machine that ends with the call.
    workers : int, optional
        Processes of the cluster on this machine; as many as it has processors where left out.
    resume : path, optional
        JSON Lines file that keeps each outcome, so that an interrupted run can go on; see `wattpair.roofs.results_file`. Roofs
        whose cells cannot be read are not kept there: mend them in the table, and only they are computed.
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
    names = _checked_names(columns, described, [identity, *_checked_keep(keep)])
    target = checked_target(results, roofs, resume)
    table = read(roofs, described, common, identity, keep)
    made = ResultsTable(table.head, identity, columns or columns_of(described.result), names)
    readable = [row for row in table.rows if not isinstance(row, ValueError)]
    run: Gathering[Any] = Gathering(described, readable, progress, resume, options.base_url)
    with run as gathering, _connected(cluster, workers) as dask:
        outcomes = _run_on(dask, options, gathering)
        for row in table.rows:
            if isinstance(row, ValueError):
                made.add(None, row)
            else:
                outcome = next(outcomes)
                made.add(outcome.result, outcome.error)
    written = made.table()
    write(written, target)
    return Portfolio(written, target, made.failures)


def _call(name: str) -> Call:
    found = CALLS.get(name)
    if found is not None and found.media_type == JSON:
        return found
    raise ValueError(
        f"call: {name!r} was given; allowed is the name of a client's method that answers with figures, such as design_roof"
    )


def _checked_keep(keep: Sequence[str]) -> Sequence[str]:
    if isinstance(keep, str) or not all(isinstance(name, str) for name in keep):
        raise TypeError(f"keep: {codec.shown(keep)} was given; allowed is a sequence of names of columns")
    return keep


def _checked_names(columns: Callable[[Any], Columns] | None, call: Call, others: Sequence[str]) -> Sequence[str]:
    """The columns of results as far as they are known; raises ValueError where one of the others is called so."""
    if columns is not None and not callable(columns):
        raise TypeError(f"columns: {codec.shown(columns)} was given; allowed is a function of a result")
    names = column_names(call.result) if columns is None else []
    for name in others:
        if name in (*OUTCOME, *names):
            raise ValueError(
                f"keep: {name!r} is the name of a column of the results too; allowed is another, or `columns` that has others"
            )
    return names


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


def _run_on(dask: DaskClient, options: Options, gathering: Gathering[Any]) -> Iterator[Outcome[Any]]:
    """Hand out chunks, a few ahead of the workers, and give what comes back, in order."""
    handed_out: dict[Any, list[Request[Any]]] = {}
    chunks = _chunks(request for request in gathering.open_requests() if request is not None)
    completed = as_completed()
    threads = max(1, sum(dask.nthreads().values()))
    gathering.window = WINDOW * CHUNK * threads

    def hand_out() -> None:
        while len(handed_out) < AHEAD * threads and not gathering.is_full and (chunk := next(chunks, None)) is not None:
            future = dask.submit(_answer_all, options, chunk, pure=False)
            handed_out[future.key] = chunk
            completed.add(future)

    hand_out()
    yield from gathering.ready()
    for future in completed:
        for request, outcome in zip(handed_out.pop(future.key), _outcomes(future), strict=False):
            gathering.note(request, outcome)
        future.release()
        yield from gathering.ready()
        hand_out()
    yield from gathering.ready()


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

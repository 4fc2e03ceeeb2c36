"""The same call for a table of roofs, on the processes of one machine or on a Dask cluster.

For a company that quotes all its open offers anew after a price change: a table goes in, CSV or Parquet with a row for each
roof (see `wattpair.roofs.roofs_table`), and a table comes out with a row for each of them (`results_table`). A roof with a
fault in its cells fails alone. A worker that dies loses nothing and doubles nothing: its roofs are given to another one, and
the table is written once, when every roof has its outcome.

Needs Dask and pandas: pip install "wattpair[portfolio]".
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from threading import local
from typing import Any

try:
    import pandas as pd
    from distributed import Client as DaskClient, KilledWorker, LocalCluster
except ImportError as missing:
    raise ImportError('wattpair.portfolio needs Dask and pandas: pip install "wattpair[portfolio]"') from missing

import requests

from wattpair import codec
from wattpair.call import JSON, Request
from wattpair.http.options import DEFAULT_RETRIES, DEFAULT_TIMEOUT_S, Options, checked
from wattpair.http.pauses import Pauses
from wattpair.http.transport import Transport
from wattpair.operations import CALLS
from wattpair.roofs.many import Gathering, answer, checked_workers, run_futures
from wattpair.roofs.results_table import OUTCOME, Columns, checked_target, column_names, columns_of, row_of, table_of, write
from wattpair.roofs.roofs_table import read

AHEAD = 8
"""Roofs handed out for each thread of the cluster, so that none waits for the next: few are lost with a worker."""
WINDOW = 128
"""Roofs for each thread whose outcomes may wait for an earlier one's."""
_of_thread = local()


@dataclass(frozen=True, slots=True)
class Portfolio:
    """What came of a table of roofs.

    `table` is what was written to `path`: identity, columns kept, `succeeded`, `error`, and the columns of the results.
    `failures` has the errors by identity: what a call can raise, or a ValueError for cells or `columns` that failed.
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
        Makes the columns of a result, a mapping of names to values; those of a column that do not go together are written as
        texts. Without it, all its fields that are no lists, by their path, and its cautions.
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
    ValueError, TypeError
        A table cannot be read as described, or an argument is not as allowed.
    ResultsFileError
        The file to go on with is of another version or call, damaged, or in use.
    """
    described = CALLS.get(call)
    if described is None or described.media_type != JSON:
        raise ValueError(
            f"call: {call!r} was given; allowed is the name of a client's method that answers with figures, such as design_roof"
        )
    if columns is not None and not callable(columns):
        raise TypeError(f"columns: {codec.shown(columns)} was given; allowed is a function of a result")
    if isinstance(keep, str) or not all(isinstance(name, str) for name in keep):
        raise TypeError(f"keep: {codec.shown(keep)} was given; allowed is a sequence of names of columns")
    names = list(column_names(described.result)) if columns is None else []
    for name in (identity, *keep):
        if name in (*OUTCOME, *names):
            raise ValueError(
                f"keep: {name!r} is the name of a column of the results too; allowed is another, or `columns` that has others"
            )
    options = checked(base_url, api_key, timeout, retries, headers, None)
    target = checked_target(results, roofs, resume)
    head, arguments = read(roofs, described, common, identity, keep)
    taken, make = {*OUTCOME, *head}, columns or partial(columns_of, names)
    # Dask gives a roof up whose workers died again and again; the next run with `resume` tries it anew.
    gathering: Gathering[Any] = Gathering(described, arguments, progress, resume, options.base_url, lost=(KilledWorker,))
    with gathering, _executor(cluster, workers) as (executor, threads):
        gathering.window = WINDOW * threads
        outcomes = run_futures(gathering, partial(executor.submit, _answer, options), AHEAD * threads)
        rows = [row_of(outcome, make, taken) for outcome in outcomes]
    failures = {str(name): error for name, (_, error) in zip(head[identity], rows, strict=True) if error is not None}
    table = table_of(head, [row for row, _ in rows], names)
    write(table, target)
    return Portfolio(table, target, failures)


@contextmanager
def _executor(cluster: DaskClient | str | None, workers: int | None) -> Iterator[tuple[Any, int]]:
    """The cluster as an executor, and how many threads it has."""
    count = None if workers is None else checked_workers(workers)
    with ExitStack() as stack:
        if cluster is None:
            dashboard, host = "127.0.0.1:0", "127.0.0.1"
            own = LocalCluster(n_workers=count, threads_per_worker=1, dashboard_address=dashboard, host=host)
            cluster = stack.enter_context(own)
        dask = cluster if isinstance(cluster, DaskClient) else stack.enter_context(DaskClient(cluster))
        executor = dask.get_executor(pure=False)
        # After an interruption, nothing is waited for.
        stack.callback(executor.shutdown, wait=False)
        yield executor, max(1, sum(dask.nthreads().values()))


def _answer(options: Options, request: Request[Any]) -> Any:
    """What a worker does; each of its threads keeps its connections from roof to roof, but no cookies."""
    if not hasattr(_of_thread, "session"):
        _of_thread.session = requests.Session()
    _of_thread.session.cookies.clear()
    return answer(Transport(options, _of_thread.session, Pauses()), request)

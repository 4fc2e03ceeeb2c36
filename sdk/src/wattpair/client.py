"""The client: one method for each operation of the service, over requests."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self, TypeVar, Unpack

import requests

from wattpair import codec
from wattpair.call import Request
from wattpair.http.options import DEFAULT_RETRIES, DEFAULT_TIMEOUT_S, Hook, RunOptions, checked
from wattpair.http.transport import Transport
from wattpair.operations import Operations

if TYPE_CHECKING:
    from wattpair.models import DesignResult
    from wattpair.roofs.many import Outcome

R = TypeVar("R")
WINDOW = 16
"""Outcomes that `iter_many` holds for each worker."""


class Client(Operations):
    """A client of the wattpair service.

    All operations are pure calculations, so that every call may be repeated: the client does so by itself when a connection
    fails or the service is busy (429, 502, 503), after a random part of 0.5 s, 1 s, 2 s and so on up to 8 s, but not
    before the Retry-After of the answer. A Retry-After above 120 s is raised at once, and so is a timeout while the service
    computes.

    A client holds no state between calls but the connections of its session. Use one client for each thread, or `many`:
    sessions of requests are not made to be shared.

    Parameters
    ----------
    base_url : str
        Address of the service with its scheme, such as "http://127.0.0.1:8080".
    api_key : str, optional
        Key of a service that asks for one, sent as `Authorization: Bearer`.
    timeout : float or tuple of float
        Seconds to wait for a connection, and for the answer between two of its bytes; one number stands for both. At most
        a day.
    retries : int
        Further attempts after the first.
    session : requests.Session, optional
        A session of your own, for proxies, certificates or authentication; the client then does not close it.
    headers : mapping of str to str, optional
        Headers of every request, but for those that each call sets itself, such as Accept. X-Request-ID, if not among them,
        is made anew for each call.
    on_exchange : callable, optional
        Called with an `Exchange` after each attempt, for logs and counters of your own.

    Raises
    ------
    ValueError
        `base_url` is not an http address, `timeout` is not above zero and at most a day, `retries` is below zero, or
        `api_key` or a header cannot be sent.
    TypeError
        An argument of a wrong type.

    Examples
    --------
    >>> from wattpair import Client, FaceCount
    >>> with Client("http://127.0.0.1:8080") as client:  # doctest: +SKIP
    ...     bill = client.list_materials(
    ...         faces=[FaceCount(name="south", module_count=8)],
    ...         unit_ac_current_a=1.5,
    ...         module_mass_kg=21.3,
    ...         unit_mass_kg=1.1,
    ...     )
    """

    def __init__(
        self,
        base_url: str,
        api_key: str | None = None,
        timeout: float | tuple[float, float] = DEFAULT_TIMEOUT_S,
        retries: int = DEFAULT_RETRIES,
        session: requests.Session | None = None,
        *,
        headers: Mapping[str, str] | None = None,
        on_exchange: Hook | None = None,
    ) -> None:
        options = checked(base_url, api_key, timeout, retries, headers, on_exchange)
        if session is not None and not isinstance(session, requests.Session):
            raise TypeError(f"session: {codec.shown(session)} was given; allowed is a requests.Session")
        self._session = session or requests.Session()
        self._owns_session = session is None
        self._transport = Transport(options, self._session)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Close the client's own session; one that was given stays open."""
        if self._owns_session:
            self._session.close()

    def designs(self, roofs: Iterable[Mapping[str, Any]], **options: Unpack[RunOptions]) -> list[Outcome[DesignResult]]:
        """The design of many roofs, each given by its arguments of `design_roof`: `many` with that call and its options."""
        return self.many(self.design_roof, roofs, **options)

    def many(
        self,
        call: Callable[..., R],
        requests: Iterable[Mapping[str, Any]],
        *,
        workers: int = 4,
        progress: bool = False,
        resume: Path | str | None = None,
    ) -> list[Outcome[R]]:
        """The same call for many requests, several at a time.

        Requests that ask the same are sent once. Each worker has a session of its own. One like the session that was given has
        its settings and connections, and a copy of its cookies, as they are when the run begins.

        A busy service (429, 503) is waited for beyond `retries`, unless they are zero: up to ten minutes of pauses for each
        request. After a 429 all workers rest together until its Retry-After has passed.

        Parameters
        ----------
        call : callable
            A method of this client, such as `client.size_pairings`.
        requests : iterable of mapping
            The arguments of each call.
        workers : int
            Calls at a time.
        progress : bool
            Whether to draw a progress bar; needs tqdm.
        resume : path, optional
            A JSON Lines file that keeps each outcome as soon as it is there. After an interruption, the same call with the
            same file goes on where it stopped; see `wattpair.roofs.many`.

        Returns
        -------
        list of Outcome
            A result or an error for each request, in their order.

        Raises
        ------
        TypeError, ValueError
            An argument of this method is not as allowed. Faults in a request are its outcome's error.
        ResultsFileError
            The file cannot be gone on with: another version, service or operation, damaged, or in use.
        """
        return list(self._run(call, requests, None, workers=workers, progress=progress, resume=resume))

    def iter_designs(
        self, roofs: Iterable[Mapping[str, Any]], **options: Unpack[RunOptions]
    ) -> Iterator[Outcome[DesignResult]]:
        """The design of many roofs, each as soon as it and all before it are there: `iter_many` with `design_roof`."""
        return self.iter_many(self.design_roof, roofs, **options)

    def iter_many(
        self, call: Callable[..., R], requests: Iterable[Mapping[str, Any]], **options: Unpack[RunOptions]
    ) -> Iterator[Outcome[R]]:
        """As `many`, but yields the outcomes in order and holds only some: 16 for each worker, whatever the number of requests.

        Its options are `workers`, `progress` and `resume`, as those of `many`. Requests that ask the same are sent once where
        they follow closely or `resume` is given. The run ends with the iterator: when a loop over it is left early, close it to
        end the run at once.
        """
        return self._run(call, requests, WINDOW, **options)

    def _run(
        self, call: Any, requests: Iterable[Any], window: int | None, **options: Unpack[RunOptions]
    ) -> Iterator[Outcome[Any]]:
        from wattpair.roofs.many import gathering_of, run_threads

        gathering, workers = gathering_of(call, requests, self._transport.options.base_url, window, **options)
        return run_threads(self._transport, gathering, workers, own_session=self._owns_session)

    def _perform(self, request: Request[R]) -> R:
        return self._transport.call(request)

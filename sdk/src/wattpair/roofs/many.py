"""The same call for many requests: several at a time, in order, and able to go on after an interruption.

`Client.many` and `iter_many` run calls in threads, those of `AsyncClient` in tasks, and `wattpair.portfolio` on a Dask cluster;
what they share is here. Requests that ask the same are sent once, since all calls are pure.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import AsyncGenerator, Callable, Iterable, Iterator, Mapping, Sized
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from threading import local
from typing import TYPE_CHECKING, Any, Generic, Self, TypeVar

import requests as http
from requests.cookies import RequestsCookieJar, merge_cookies

from wattpair import codec
from wattpair.call import Call, Request, call_of
from wattpair.errors import Error, WorkersDied
from wattpair.http.pauses import Pauses
from wattpair.http.transport import Transport
from wattpair.roofs.results_file import ResultsFile

if TYPE_CHECKING:
    from wattpair.http.async_transport import AsyncTransport

R = TypeVar("R")
AHEAD = 2
"""Requests that are ready for each worker, so that none waits while the next is read."""


@dataclass(frozen=True, slots=True)
class Outcome(Generic[R]):
    """What came of one request: a result or an error.

    `index` is the request's place among all, from 0. `result` is None where the call failed; `error` then says why: an `Error`,
    or the TypeError or ValueError of arguments that could not be sent.
    """

    index: int
    result: R | None
    error: Exception | None

    def unwrap(self) -> R:
        """The result; raises the error where there is none."""
        if self.error is not None:
            raise self.error
        assert self.result is not None, "what has no error has a result"
        return self.result


@dataclass(frozen=True, slots=True)
class Unreadable:
    """In place of the arguments of a roof in a table: why there are none."""

    reason: str


@dataclass(eq=False)
class Gathering(Generic[R]):
    """Knows which requests are still to be answered, and keeps the answers.

    Of `requests`, each is the arguments of a call, or Unreadable. With a `window`, so many
    outcomes are held at most; without it all, so that requests which ask the same are sent once however far apart. `running`
    has the futures or tasks of the requests under way; one that ends in an error of `lost` died with its worker.
    """

    call: Call
    requests: Iterable[Any]
    progress: bool
    resume: Path | str | None
    base_url: str
    window: int | None = None
    lost: tuple[type[Exception], ...] = ()

    def __post_init__(self) -> None:
        if isinstance(self.requests, (str, bytes, Mapping)) or not isinstance(self.requests, Iterable):
            raise TypeError(f"requests: {codec.shown(self.requests)} was given; allowed is an iterable of mappings")
        if self.resume is not None and not isinstance(self.resume, (str, Path)):
            raise TypeError(f"resume: {codec.shown(self.resume)} was given; allowed is a path")
        self._bar: Any = None
        self._file: ResultsFile[R] | None = None
        # Each outcome in a list, which equal requests share, and which is empty as long as the request is under way;
        # by the key of the request, with the index of the last that shares it.
        self._found: dict[str, tuple[int, list[R | Exception]]] = {}
        self._queue: deque[tuple[int, str, list[R | Exception]]] = deque()
        self.running: dict[Any, tuple[str, list[R | Exception]]] = {}

    def __enter__(self) -> Self:
        if self.progress:
            try:
                from tqdm import tqdm
            except ImportError as error:
                raise ImportError(
                    'a progress bar needs tqdm, which is not installed: pip install "wattpair[progress]"'
                ) from error
            self._bar = tqdm(total=len(self.requests) if isinstance(self.requests, Sized) else None, unit="call")
        if self.resume is not None:
            self._file = ResultsFile(Path(self.resume), self.call, self.base_url)
        return self

    def __exit__(self, *_: object) -> None:
        with ExitStack() as stack:
            for each in filter(None, (self._file, self._bar)):
                stack.callback(each.close)
            # After an interruption too, what the workers have finished is kept.
            for future in list(self.running):
                if future.done() and not future.cancelled() and future.exception() is None:
                    self._note(future, future.result())

    def outcomes(self, begin: Callable[[Request[R]], Any], most: int) -> Iterator[Outcome[R] | None]:
        """The outcomes in order; None wherever one of `running` has to be waited for before going on.

        `begin` begins a request and gives its future or task; `most` of them run at a time.
        """
        for index, arguments in enumerate(self.requests):
            self._open(index, arguments, begin)
            yield from self._ready()
            while self.running and (len(self.running) >= most or len(self._queue) == self.window):
                yield from self._awaited()
        while self.running:
            yield from self._awaited()

    def _open(self, index: int, arguments: object, begin: Callable[[Request[R]], Any]) -> None:
        try:
            if isinstance(arguments, Unreadable):
                raise ValueError(arguments.reason)
            if not isinstance(arguments, Mapping) or not all(isinstance(name, str) for name in arguments):
                raise TypeError(
                    f"requests[{index}]: {codec.shown(arguments)} was given; allowed is a mapping of argument names"
                )
            request = self.call.request(**arguments)
            key = request.key
        except (TypeError, ValueError, RecursionError, OverflowError) as error:
            self._queue.append((index, "", [error]))
            return
        if key in self._found:
            _, found = self._found[key]
        else:
            kept = None if self._file is None else self._file.get(key)
            found = [] if kept is None else [kept]
            if kept is None:
                self.running[begin(request)] = key, found
        self._found[key] = index, found
        self._queue.append((index, key, found))

    def _awaited(self) -> Iterator[Outcome[R] | None]:
        yield None
        for future in [each for each in self.running if each.done()]:
            try:
                self._note(future, future.result())
            except self.lost as error:
                self._note(future, WorkersDied(str(error)))
        yield from self._ready()

    def _note(self, future: Any, outcome: R | Error) -> None:
        """Keep what came of a request, before anything else is done."""
        key, found = self.running.pop(future)
        found.append(outcome)
        if self._file is not None:
            self._file.add(key, outcome)

    def _ready(self) -> Iterator[Outcome[R]]:
        """The outcomes that are there, in order, up to the first that is not."""
        while self._queue and self._queue[0][2]:
            index, key, (found,) = self._queue.popleft()
            if self.window is not None and key and self._found[key][0] == index:
                del self._found[key]
            if self._bar is not None:
                self._bar.update()
            yield Outcome(index, None, found) if isinstance(found, Exception) else Outcome(index, found, None)


def gathering_of(
    call: Any,
    requests: Iterable[Any],
    base_url: str,
    window: int | None,
    workers: int = 4,
    progress: bool = False,
    resume: Path | str | None = None,
) -> tuple[Gathering[Any], int]:
    """A client's run of many calls, with `window` outcomes for each worker, and the number of its workers."""
    most = checked_workers(workers)
    return Gathering(call_of(call), requests, progress, resume, base_url, window and window * most), most


def checked_workers(workers: object) -> int:
    """The number of workers; raises TypeError or ValueError where it is none."""
    if isinstance(workers, bool) or not isinstance(workers, int):
        raise TypeError(f"workers: {codec.shown(workers)} was given; allowed is a whole number")
    if workers < 1:
        raise ValueError(f"workers: {workers} was given; allowed is one or more")
    return workers


def answer(transport: Transport, request: Request[R]) -> R | Error:
    """The result of a request, or the error that it ended in."""
    try:
        return transport.call(request)
    except Error as error:
        return error


def run_futures(gathering: Gathering[R], begin: Callable[[Request[R]], Any], most: int) -> Iterator[Outcome[R]]:
    """The outcomes of requests that `begin` makes futures of, `most` at a time."""
    for outcome in gathering.outcomes(begin, most):
        if outcome is None:
            wait(gathering.running, return_when=FIRST_COMPLETED)
        else:
            yield outcome


def run_threads(transport: Transport, gathering: Gathering[R], workers: int, *, own_session: bool) -> Iterator[Outcome[R]]:
    """`Client.iter_many`: each thread has a session of its own; one like the client's, where that was given to the client."""
    of_thread, pauses = local(), Pauses()

    def prepare() -> None:
        session = sessions.enter_context(http.Session()) if own_session else _like(transport.session)
        of_thread.transport = transport.worker(session, pauses)

    with gathering, ExitStack() as sessions, ThreadPoolExecutor(workers, "wattpair", prepare) as pool:
        try:
            yield from run_futures(
                gathering, lambda request: pool.submit(lambda: answer(of_thread.transport, request)), AHEAD * workers
            )
        finally:
            # After an interruption too, the requests that are under way are finished, but nothing else is waited for.
            pauses.end()
            pool.shutdown(cancel_futures=True)


def _like(session: http.Session) -> http.Session:
    """A session with the settings and connections of another, for a thread of its own.

    What a session changes while it is used are its cookies, which are copied; its connections are urllib3's, which locks them.
    """
    other = object.__new__(type(session))
    vars(other).update(vars(session))
    jar = session.cookies
    other.cookies = jar.copy() if isinstance(jar, RequestsCookieJar) else merge_cookies(RequestsCookieJar(), jar)
    return other


async def run_tasks(transport: AsyncTransport, gathering: Gathering[R], workers: int) -> AsyncGenerator[Outcome[R], None]:
    """`AsyncClient.iter_many`."""
    pauses = Pauses()

    async def answered(request: Request[R]) -> R | Error:
        try:
            return await transport.call(request, pauses)
        except Error as error:
            return error

    with gathering:
        try:
            for outcome in gathering.outcomes(lambda request: asyncio.create_task(answered(request)), workers):
                if outcome is None:
                    await asyncio.wait(gathering.running, return_when=asyncio.FIRST_COMPLETED)
                else:
                    yield outcome
        except asyncio.CancelledError:
            for task in gathering.running:
                task.cancel()
            raise
        finally:
            pauses.end()
            await asyncio.gather(*gathering.running, return_exceptions=True)

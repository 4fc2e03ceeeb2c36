"""The same call for many requests: several at a time, in order, and able to go on after an interruption.

`Client.many` and `iter_many` run calls in threads, those of `AsyncClient` in tasks, and `wattpair.portfolio` on a Dask cluster;
what they share is here. Requests that ask the same are sent once, since all calls are pure. `wattpair.roofs.results_file` says
what a file keeps.
"""

from __future__ import annotations

import asyncio
from collections import Counter, deque
from collections.abc import AsyncGenerator, Iterable, Iterator, Mapping, Sized
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from pathlib import Path
from threading import local
from types import TracebackType
from typing import TYPE_CHECKING, Any, Generic, Self, TypeVar

import requests as http
from requests.cookies import RequestsCookieJar, merge_cookies

from wattpair import codec
from wattpair.call import Call, Request
from wattpair.errors import Error
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

    Attributes
    ----------
    index : int
        Place of the request among all, from 0.
    result : object or None
        The result; None where the call failed.
    error : Exception or None
        Why it failed: an `Error`, or the TypeError or ValueError of arguments that could not be sent.
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


class Gathering(Generic[R]):
    """Knows which requests are still to be answered, and keeps the answers.

    Parameters
    ----------
    call : Call
        What is called.
    requests : iterable of mapping
        The arguments of each call; read no further ahead than the workers are.
    progress : bool
        Whether to draw a progress bar.
    resume : path or None
        File that keeps the outcomes.
    base_url : str
        Address of the service.
    window : int, optional
        Outcomes held at most; without it all, so that requests which ask the same are sent once however far apart. An
        attribute, to be set before the first request is taken.
    """

    def __init__(
        self,
        call: Call,
        requests: Iterable[Mapping[str, Any]],
        progress: bool,
        resume: Path | str | None,
        base_url: str,
        window: int | None = None,
    ) -> None:
        if isinstance(requests, (str, bytes, Mapping)) or not isinstance(requests, Iterable):
            raise TypeError(f"requests: {codec.shown(requests)} was given; allowed is an iterable of mappings")
        self._call = call
        self._requests = requests
        self._base_url = base_url
        self.window = window
        self._places: deque[tuple[int, str | Exception]] = deque()
        self._waiting: Counter[str] = Counter()
        self._found: dict[str, R | Error] = {}
        self._asked: set[str] = set()
        if resume is not None and not isinstance(resume, (str, Path)):
            raise TypeError(f"resume: {codec.shown(resume)} was given; allowed is a path")
        self._progress = progress
        self._resume = resume
        self._bar: Any = None
        self._file: ResultsFile[R] | None = None

    def __enter__(self) -> Self:
        if self._progress:
            self._bar = _progress_bar(len(self._requests) if isinstance(self._requests, Sized) else None)
        if self._resume is not None:
            self._file = ResultsFile.open(Path(self._resume), self._call, self._base_url)
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None) -> None:
        if self._file is not None:
            self._file.close()
        if self._bar is not None:
            self._bar.close()

    @property
    def is_full(self) -> bool:
        """Whether so many outcomes wait for an earlier one that no further request is to be begun."""
        return self.window is not None and len(self._places) >= self.window

    def open_requests(self) -> Iterator[Request[R] | None]:
        """The requests that have to be sent, in order, each once; None for one that needs no sending."""
        for index, arguments in enumerate(self._requests):
            try:
                request = self._call.request(**_checked(arguments, index))
                key = request.key
            except (TypeError, ValueError, RecursionError, OverflowError) as error:
                self._places.append((index, error))
                self._count()
                yield None
                continue
            self._places.append((index, key))
            self._waiting[key] += 1
            if key in self._found or key in self._asked or (self._file is not None and key in self._file):
                self._count()
                yield None
            else:
                self._asked.add(key)
                yield request

    def note(self, request: Request[R], outcome: R | Error) -> None:
        """Keep what came of a request, before anything else is done."""
        if self._file is not None:
            self._file.add(request.key, outcome)
        if self._file is None or request.key not in self._file:
            self._found[request.key] = outcome
        self._count()

    def ready(self) -> Iterator[Outcome[R]]:
        """The outcomes that are there, in order, up to the first that is not; what nothing waits for is forgotten."""
        while self._places:
            index, place = self._places[0]
            if isinstance(place, Exception):
                found: R | Exception = place
            elif place in self._found:
                found = self._found[place]
            elif self._file is not None and place in self._file:
                found = self._file[place]
            else:
                return
            self._places.popleft()
            if isinstance(place, str):
                self._waiting[place] -= 1
                if self.window is not None and not self._waiting[place]:
                    del self._waiting[place]
                    self._found.pop(place, None)
                    self._asked.discard(place)
            yield _outcome(index, found)

    def _count(self) -> None:
        if self._bar is not None:
            self._bar.update()


def _outcome(index: int, found: R | Exception) -> Outcome[R]:
    return Outcome(index, None, found) if isinstance(found, Exception) else Outcome(index, found, None)


def _checked(arguments: object, index: int) -> Mapping[str, Any]:
    if not isinstance(arguments, Mapping) or not all(isinstance(name, str) for name in arguments):
        raise TypeError(f"requests[{index}]: {codec.shown(arguments)} was given; allowed is a mapping of argument names")
    return arguments


def checked_workers(workers: object) -> int:
    """The number of workers; raises TypeError or ValueError where it is none."""
    if isinstance(workers, bool) or not isinstance(workers, int):
        raise TypeError(f"workers: {codec.shown(workers)} was given; allowed is a whole number")
    if workers < 1:
        raise ValueError(f"workers: {workers} was given; allowed is one or more")
    return workers


def _progress_bar(total: int | None) -> Any:
    try:
        from tqdm import tqdm
    except ImportError as error:
        raise ImportError('a progress bar needs tqdm, which is not installed: pip install "wattpair[progress]"') from error
    return tqdm(total=total, unit="call")


def answer(transport: Transport, request: Request[R]) -> R | Error:
    """The result of a request, or the error that it ended in."""
    try:
        return transport.call(request)
    except Error as error:
        return error


def run_threads(transport: Transport, gathering: Gathering[R], workers: int, *, own_session: bool) -> Iterator[Outcome[R]]:
    """`Client.iter_many`: each thread has a session of its own; one like the client's, where that was given to the client."""
    of_thread, sessions, pauses = local(), [], Pauses()

    def prepare() -> None:
        session = http.Session() if own_session else _like(transport.session)
        if own_session:
            sessions.append(session)
        of_thread.transport = transport.worker(session, pauses)

    with gathering, ThreadPoolExecutor(workers, "wattpair", prepare) as pool:
        running: dict[Future[R | Error], Request[R]] = {}
        try:
            for request in gathering.open_requests():
                if request is not None:
                    running[pool.submit(lambda asked: answer(of_thread.transport, asked), request)] = request
                while running and (len(running) >= AHEAD * workers or gathering.is_full):
                    _note_first(gathering, running)
                yield from gathering.ready()
            while running:
                _note_first(gathering, running)
                yield from gathering.ready()
        finally:
            # After an interruption too: the requests that are under way are finished and kept, but nothing is waited for.
            pauses.end()
            pool.shutdown(cancel_futures=True)
            _note_ended(gathering, running)
            for session in sessions:
                session.close()


def _like(session: http.Session) -> http.Session:
    """A session with the settings and connections of another, for a thread of its own.

    What a session changes while it is used are its cookies, which are copied; its connections are urllib3's, which locks them.
    """
    other = object.__new__(type(session))
    vars(other).update(vars(session))
    jar = session.cookies
    other.cookies = jar.copy() if isinstance(jar, RequestsCookieJar) else merge_cookies(RequestsCookieJar(), jar)
    return other


def _note_first(gathering: Gathering[R], running: dict[Future[R | Error], Request[R]]) -> None:
    done, _ = wait(running, return_when=FIRST_COMPLETED)
    for future in done:
        outcome = future.result()
        gathering.note(running.pop(future), outcome)


def _note_ended(gathering: Gathering[R], running: Mapping[Any, Request[R]]) -> None:
    """Keep what the workers finished after the run broke off."""
    for ended, request in running.items():
        if not ended.cancelled() and ended.exception() is None:
            gathering.note(request, ended.result())


async def run_tasks(transport: AsyncTransport, gathering: Gathering[R], workers: int) -> AsyncGenerator[Outcome[R], None]:
    """`AsyncClient.iter_many`."""
    pauses = Pauses()
    with gathering:
        running: dict[asyncio.Task[R | Error], Request[R]] = {}
        try:
            for request in gathering.open_requests():
                if request is not None:
                    asked = _answer_awaited(transport, request, pauses)
                    running[asyncio.create_task(asked)] = request
                while running and (len(running) >= workers or gathering.is_full):
                    await _note_first_awaited(gathering, running)
                for outcome in gathering.ready():
                    yield outcome
            while running:
                await _note_first_awaited(gathering, running)
                for outcome in gathering.ready():
                    yield outcome
        except asyncio.CancelledError:
            for task in running:
                task.cancel()
            raise
        finally:
            pauses.end()
            await asyncio.gather(*running, return_exceptions=True)
            _note_ended(gathering, running)


async def _answer_awaited(transport: AsyncTransport, request: Request[R], pauses: Pauses) -> R | Error:
    try:
        return await transport.call(request, pauses)
    except Error as error:
        return error


async def _note_first_awaited(gathering: Gathering[R], running: dict[asyncio.Task[R | Error], Request[R]]) -> None:
    done, _ = await asyncio.wait(running, return_when=asyncio.FIRST_COMPLETED)
    for task in done:
        outcome = task.result()
        gathering.note(running.pop(task), outcome)

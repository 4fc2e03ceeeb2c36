"""Both clients as one: the asynchronous one behind plain calls, so that one test asks the same of each.

The fixture `kind` of conftest.py gives "waiting" and "asynchronous" in turn.
"""

from __future__ import annotations

import asyncio
import functools
import inspect
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import Any, cast

import httpx
import requests

from wattpair import AsyncClient, Client
from wattpair.testing import FakeService


class Driven:
    """An AsyncClient whose coroutines run to their end at once."""

    def __init__(self, client: AsyncClient, runner: asyncio.Runner) -> None:
        self._client = client
        self._runner = runner

    def __getattr__(self, name: str) -> Any:
        value = getattr(self._client, name)
        if inspect.ismethod(value) and name.startswith("iter_"):
            return lambda *positional, **arguments: self._iterate(value(*positional, **arguments))
        if not inspect.iscoroutinefunction(value):
            return value

        @functools.wraps(value)
        def run(*positional: Any, **arguments: Any) -> Any:
            return self._runner.run(value(*positional, **arguments))

        return run

    def _iterate(self, values: Any) -> Iterator[Any]:
        try:
            while True:
                try:
                    yield self._runner.run(anext(values))
                except StopAsyncIteration:
                    return
        finally:
            self._runner.run(values.aclose())


@contextmanager
def opened(kind: str, url: str, **options: Any) -> Iterator[Client]:
    """A client of a kind, closed at the end."""
    if kind == "waiting":
        with Client(url, **options) as client:
            yield client
        return
    with asyncio.Runner() as runner:
        asynchronous = AsyncClient(url, **options)
        try:
            yield cast(Client, Driven(asynchronous, runner))
        finally:
            runner.run(asynchronous.close())


def opened_fake(kind: str, fake: FakeService, **options: Any) -> AbstractContextManager[Client]:
    """A client of a kind, of a fake service; it repeats nothing unless told."""
    session: Any = fake.session() if kind == "waiting" else fake.async_session()
    return opened(kind, "http://wattpair.test", **({"retries": 0} | options), session=session)


def failing_session(kind: str, waiting: Exception, awaiting: Exception, calls: list[str]) -> Any:
    """A session whose every request ends in an error, noted in `calls`."""

    class Failing(requests.Session):
        def request(self, *_: object, **__: object) -> requests.Response:
            calls.append("request")
            raise waiting

    def fail(request: httpx.Request) -> httpx.Response:
        calls.append("request")
        raise awaiting

    return Failing() if kind == "waiting" else httpx.AsyncClient(transport=httpx.MockTransport(fail))


def noting_pauses(kind: str, client: Client) -> list[float]:
    """The pauses that a client would make from now on, with the longest jitter."""
    pauses: list[float] = []

    async def note(seconds: float) -> None:
        pauses.append(seconds)

    transport: Any = client._transport
    transport._sleep = pauses.append if kind == "waiting" else note
    transport._share = lambda: 1.0
    return pauses

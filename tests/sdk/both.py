"""Both clients as one: the asynchronous one behind plain calls, so that one test asks the same of each."""

from __future__ import annotations

import asyncio
import functools
import inspect
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, cast

import httpx
import pytest
import requests

from wattpair import AsyncClient, Client


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


Opened = Iterator[Client]


@contextmanager
def opened(kind: str, url: str, **options: Any) -> Opened:
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


Pauses = list[float]


def noting_pauses(kind: str, client: Client) -> Pauses:
    """The pauses that a client would make from now on, with the longest jitter."""
    pauses: Pauses = []

    async def note(seconds: float) -> None:
        pauses.append(seconds)

    transport: Any = client._transport
    transport._sleep = pauses.append if kind == "waiting" else note
    transport._share = lambda: 1.0
    return pauses


kinds = pytest.mark.parametrize("kind", ["waiting", "asynchronous"])
ClientOf = Callable[..., Any]

"""The asynchronous client: the same methods as coroutines, over httpx."""

from __future__ import annotations

from collections.abc import AsyncGenerator, Callable, Coroutine, Iterable, Mapping
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self, TypeVar, Unpack

try:
    import httpx
except ImportError as missing:
    raise ImportError('AsyncClient needs httpx, which is not installed: pip install "wattpair[async]"') from missing

from wattpair import codec
from wattpair.call import Request
from wattpair.client import WINDOW
from wattpair.http.async_transport import AsyncTransport
from wattpair.http.options import DEFAULT_RETRIES, DEFAULT_TIMEOUT_S, Hook, RunOptions, checked
from wattpair.operations import AsyncOperations

if TYPE_CHECKING:
    from wattpair.models import DesignResult
    from wattpair.roofs.many import Outcome

R = TypeVar("R")


class AsyncClient(AsyncOperations):
    """A client of the wattpair service for asyncio; its methods are those of `Client`, to be awaited.

    Repetition, errors and results are those of `Client` too. One client serves many tasks at once.

    Parameters
    ----------
    base_url, api_key, timeout, retries, headers, on_exchange
        As for `Client`.
    session : httpx.AsyncClient, optional
        A session of your own, for proxies, certificates or authentication; the client then does not close it.

    Examples
    --------
    >>> from wattpair import AsyncClient
    >>> async with AsyncClient("http://127.0.0.1:8080") as client:  # doctest: +SKIP
    ...     climate = await client.describe_climate(site={"latitude_deg": 52.1, "longitude_deg": 5.2})
    """

    def __init__(
        self,
        base_url: str,
        api_key: str | None = None,
        timeout: float | tuple[float, float] = DEFAULT_TIMEOUT_S,
        retries: int = DEFAULT_RETRIES,
        session: httpx.AsyncClient | None = None,
        *,
        headers: Mapping[str, str] | None = None,
        on_exchange: Hook | None = None,
    ) -> None:
        options = checked(base_url, api_key, timeout, retries, headers, on_exchange)
        if session is not None and not isinstance(session, httpx.AsyncClient):
            raise TypeError(f"session: {codec.shown(session)} was given; allowed is an httpx.AsyncClient")
        self._session = session or httpx.AsyncClient()
        self._owns_session = session is None
        self._transport = AsyncTransport(options, self._session)

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        await self.close()

    async def close(self) -> None:
        """Close the client's own session; one that was given stays open."""
        if self._owns_session:
            await self._session.aclose()

    async def designs(self, roofs: Iterable[Mapping[str, Any]], **options: Unpack[RunOptions]) -> list[Outcome[DesignResult]]:
        """The design of many roofs; as `Client.designs`."""
        return await self.many(self.design_roof, roofs, **options)

    async def many(
        self,
        call: Callable[..., Coroutine[Any, Any, R]],
        requests: Iterable[Mapping[str, Any]],
        *,
        workers: int = 4,
        progress: bool = False,
        resume: Path | str | None = None,
    ) -> list[Outcome[R]]:
        """The same call for many requests, several at a time; as `Client.many`."""
        run = self._run(call, requests, None, workers=workers, progress=progress, resume=resume)
        return [outcome async for outcome in run]

    def iter_designs(
        self, roofs: Iterable[Mapping[str, Any]], **options: Unpack[RunOptions]
    ) -> AsyncGenerator[Outcome[DesignResult], None]:
        """The design of many roofs, one after another; as `Client.iter_designs`."""
        return self.iter_many(self.design_roof, roofs, **options)

    def iter_many(
        self,
        call: Callable[..., Coroutine[Any, Any, R]],
        requests: Iterable[Mapping[str, Any]],
        **options: Unpack[RunOptions],
    ) -> AsyncGenerator[Outcome[R], None]:
        """The same call for many requests, one outcome after another; as `Client.iter_many`."""
        return self._run(call, requests, WINDOW, **options)

    def _run(
        self, call: Any, requests: Iterable[Any], window: int | None, **options: Unpack[RunOptions]
    ) -> AsyncGenerator[Outcome[Any], None]:
        from wattpair.roofs.many import gathering_of, run_tasks

        return run_tasks(self._transport, *gathering_of(call, requests, self._transport.options.base_url, window, **options))

    async def _perform(self, request: Request[R]) -> R:
        return await self._transport.call(request)

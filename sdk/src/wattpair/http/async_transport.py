"""Carries calls over httpx."""

from __future__ import annotations

import asyncio
import random
import ssl
from collections.abc import Awaitable, Callable
from typing import TypeVar

import httpx

from wattpair.call import Request
from wattpair.errors import BadAnswer, ConnectionFailed, Error, TimedOut, TransportError
from wattpair.http.conversation import Answer, Conversation, reason_of
from wattpair.http.options import Options
from wattpair.http.pauses import Pauses

R = TypeVar("R")


class AsyncTransport:
    """Sends requests and awaits their answers."""

    def __init__(self, options: Options, session: httpx.AsyncClient) -> None:
        self.options = options
        self.session = session
        connect_s, read_s = options.timeout
        self._timeout = httpx.Timeout(connect=connect_s, read=read_s, write=read_s, pool=None)
        self._sleep: Callable[[float], Awaitable[None]] = asyncio.sleep
        # Jitter guards against callers in step, not against anyone who guesses.
        self._share: Callable[[], float] = random.random

    async def call(self, request: Request[R], pauses: Pauses | None = None) -> R:
        """The result of a call, after as many attempts as it takes and the options allow; `pauses` are those of its run."""
        conversation = Conversation(self.options, request, self._share, pauses)
        while True:
            if rest_s := conversation.rest_s:
                await self._sleep(rest_s)
            try:
                return conversation.read(await self._send(conversation))
            except Error as error:
                await self._sleep(conversation.pause_s(error))
                if conversation.is_over:
                    raise

    async def _send(self, conversation: Conversation[R]) -> Answer:
        try:
            response = await self.session.request(
                conversation.verb,
                conversation.url,
                content=conversation.content,
                headers=conversation.headers(),
                timeout=self._timeout,
                # A redirected POST would arrive as a GET, with its headers, at an address that nobody named.
                follow_redirects=False,
            )
        except (httpx.HTTPError, httpx.InvalidURL, UnicodeError) as error:  # the last for some hosts in other scripts
            raise conversation.failed(_transport_error(error, conversation.where, conversation.request_id)) from error
        headers = {name.lower(): value for name, value in response.headers.items()}
        return Answer(response.status_code, headers, response.content)


def _transport_error(error: Exception, where: str, request_id: str) -> TransportError:
    if isinstance(error, httpx.ConnectTimeout):
        return TimedOut(where, "no connection within the timeout", request_id, transient=True)
    if isinstance(error, httpx.TimeoutException):
        return TimedOut(where, "no answer within the timeout", request_id)
    if isinstance(error, (httpx.NetworkError, httpx.RemoteProtocolError)):
        return ConnectionFailed(where, reason_of(error), request_id, transient=not _is_of_a_certificate(error))
    if isinstance(error, httpx.DecodingError):
        return BadAnswer(where, f"the answer cannot be unpacked: {reason_of(error)}", request_id)
    return TransportError(where, reason_of(error), request_id)


def _is_of_a_certificate(error: BaseException | None) -> bool:
    while error is not None and not isinstance(error, ssl.SSLError):
        error = error.__cause__ or error.__context__
    return error is not None

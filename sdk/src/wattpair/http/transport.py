"""Carries calls over requests."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from typing import TypeVar

import requests
import urllib3.exceptions  # comes with requests, which wraps it

from wattpair.call import Request
from wattpair.errors import BadAnswer, ConnectionFailed, Error, TimedOut, TransportError
from wattpair.http.conversation import Answer, Conversation, reason_of
from wattpair.http.options import Options
from wattpair.http.pauses import Pauses

R = TypeVar("R")


class Transport:
    """Sends requests and waits for their answers, where it is a worker of a run of many calls with the pauses of that run."""

    def __init__(self, options: Options, session: requests.Session, pauses: Pauses | None = None) -> None:
        self.options = options
        self.session = session
        self._pauses = pauses
        self._sleep: Callable[[float], None] = time.sleep if pauses is None else pauses.sleep
        # Jitter guards against callers in step, not against anyone who guesses.
        self._share: Callable[[], float] = random.random

    def worker(self, session: requests.Session, pauses: Pauses) -> Transport:
        """The same over another session, as a worker of a run of many calls."""
        other = Transport(self.options, session, pauses)
        other._share = self._share
        if self._sleep is not time.sleep:
            other._sleep = self._sleep
        return other

    def call(self, request: Request[R]) -> R:
        """The result of a call, after as many attempts as it takes and the options allow."""
        conversation = Conversation(self.options, request, self._share, self._pauses)
        while True:
            if rest_s := conversation.rest_s:
                self._sleep(rest_s)
            try:
                return conversation.read(self._send(conversation))
            except Error as error:
                self._sleep(conversation.pause_s(error))
                if conversation.is_over:
                    raise

    def _send(self, conversation: Conversation[R]) -> Answer:
        try:
            response = self.session.request(
                conversation.verb,
                conversation.url,
                data=conversation.content,
                headers=conversation.headers(),
                timeout=self.options.timeout,
                auth=_as_it_is if "authorization" in self.options.headers else None,
                # A redirected POST would arrive as a GET, with its headers, at an address that nobody named.
                allow_redirects=False,
            )
        except (requests.RequestException, urllib3.exceptions.HTTPError) as error:  # requests lets some of them through
            raise conversation.failed(_transport_error(error, conversation.where, conversation.request_id)) from error
        headers = {name.lower(): value for name, value in response.headers.items()}
        return Answer(response.status_code, headers, response.content)


def _as_it_is(prepared: requests.PreparedRequest) -> requests.PreparedRequest:
    """Authentication by the headers alone: a .netrc file must not put another key in their place."""
    return prepared


def _transport_error(error: Exception, where: str, request_id: str) -> TransportError:
    inner = error.args[0] if error.args else None
    if isinstance(error, requests.ConnectTimeout):
        return TimedOut(where, "no connection within the timeout", request_id, transient=True)
    if isinstance(error, requests.Timeout):
        return TimedOut(where, "no answer within the timeout", request_id)
    if isinstance(inner, urllib3.exceptions.ReadTimeoutError):
        # What requests makes of a timeout after the first bytes of the answer.
        return TimedOut(where, "the answer stopped for longer than the timeout", request_id)
    if isinstance(error, (requests.ConnectionError, requests.exceptions.ChunkedEncodingError)):
        certificate = isinstance(error, requests.exceptions.SSLError)
        return ConnectionFailed(where, reason_of(error), request_id, transient=not certificate)
    if isinstance(error, requests.exceptions.ContentDecodingError):
        return BadAnswer(where, f"the answer cannot be unpacked: {reason_of(error)}", request_id)
    return TransportError(where, reason_of(error), request_id)

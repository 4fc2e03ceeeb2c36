"""One request and its answer: timeouts, repetition, and errors as `wattpair.errors` has them."""

from __future__ import annotations

import contextlib
import itertools
import json
import logging
import random
import time
import uuid
from collections.abc import Callable, Mapping
from http import HTTPStatus
from typing import NoReturn, TypeVar

import requests
import urllib3.exceptions  # comes with requests, which wraps it
from requests.structures import CaseInsensitiveDict

from wattpair import codec
from wattpair._version import __version__
from wattpair.errors import (
    BadAnswer,
    ConnectionFailed,
    Error,
    StatusError,
    TimedOut,
    TransportError,
    class_of,
)
from wattpair.results import Problem

LOG = logging.getLogger("wattpair")

T = TypeVar("T")
REQUEST_ID = "X-Request-ID"
REPEATED_STATUSES = frozenset({429, 502, 503, 504})
BACKOFF_FIRST_S = 0.5
BACKOFF_MOST_S = 8.0
RETRY_AFTER_MOST_S = 30
EXCERPT_LENGTH = 200


class Transport:
    """Sends requests; every request may be repeated, since all operations of the service are pure.

    Parameters
    ----------
    base_url : str
        Address of the service, checked, without a slash at its end.
    timeout : tuple of float
        Seconds to wait for a connection, and between two bytes of the answer.
    retries : int
        Further attempts after the first.
    session : requests.Session
        What sends the requests.
    headers : mapping
        Headers of every request.
    """

    def __init__(
        self,
        base_url: str,
        *,
        timeout: tuple[float, float],
        retries: int,
        session: requests.Session,
        headers: Mapping[str, str],
    ) -> None:
        self._base_url = base_url
        self._timeout = timeout
        self._retries = retries
        self._session = session
        self._headers = CaseInsensitiveDict({"User-Agent": f"wattpair-python/{__version__}"} | dict(headers))
        self._headers["Accept"] = "application/json, application/problem+json"
        self._sleep: Callable[[float], None] = time.sleep
        # Jitter guards against callers in step, not against anyone who guesses.
        self._share: Callable[[], float] = random.random

    def get(self, path: str, kind: type[T], *, also: int | None = None) -> T:
        """The answer of a GET as an instance of `kind`, which may come with the status `also` as well as with a success."""
        return self._call("GET", path, None, kind, also)

    def post(self, path: str, body: Mapping[str, codec.Json], kind: type[T]) -> T:
        """The answer of a POST with a JSON body as an instance of `kind`."""
        content = json.dumps(body, allow_nan=False, separators=(",", ":")).encode()
        return self._call("POST", path, content, kind)

    def _call(self, method: str, path: str, content: bytes | None, kind: type[T], also: int | None = None) -> T:
        # One id for all attempts, known before there is an answer: a timeout can be looked up in the service's log too.
        request_id = self._headers.get(REQUEST_ID) or uuid.uuid4().hex
        for attempt in itertools.count():
            try:
                response, where = self._attempt(method, path, content, request_id)
                return _read(response, where, response.headers.get(REQUEST_ID) or request_id, kind, also)
            except Error as error:
                wait_s = self._wait_s(error, attempt)
                if wait_s is None:
                    raise
                LOG.info("attempt %d failed, the next follows in %.1f s: %s", attempt + 1, wait_s, error)
            self._sleep(wait_s)
        raise AssertionError("the last attempt returns or raises")

    def _attempt(self, method: str, path: str, content: bytes | None, request_id: str) -> tuple[requests.Response, str]:
        url = self._base_url + path
        where = f"{method} {url}"
        headers = self._headers.copy()
        headers[REQUEST_ID] = request_id
        if content is not None:
            headers["Content-Type"] = "application/json"
        started_s = time.monotonic()
        try:
            # A redirected POST would arrive as a GET, with its headers, at an address that nobody named.
            response = self._session.request(
                method, url, data=content, headers=headers, timeout=self._timeout, allow_redirects=False
            )
        except requests.RequestException as error:
            _raise_transport_error(error, where, request_id)
        LOG.debug("%s: %d in %.3f s, request id %s", where, response.status_code, time.monotonic() - started_s, request_id)
        return response, where

    def _wait_s(self, error: Error, attempt: int) -> float | None:
        """Seconds until the next attempt; None where there is to be none."""
        if attempt >= self._retries or not _may_pass(error):
            return None
        backoff_s = self._share() * min(BACKOFF_MOST_S, BACKOFF_FIRST_S * 2.0**attempt)
        asked_s = error.retry_after if isinstance(error, StatusError) else None
        if asked_s is None:
            return backoff_s
        return None if asked_s > RETRY_AFTER_MOST_S else max(float(asked_s), backoff_s)


def _may_pass(error: Error) -> bool:
    """Whether the same request may succeed a little later."""
    if isinstance(error, StatusError):
        return error.status in REPEATED_STATUSES
    if isinstance(error, TimedOut):
        # What took too long to compute would do so again, and the caller has waited as long as agreed.
        return isinstance(error.__cause__, requests.ConnectTimeout)
    return isinstance(error, ConnectionFailed) and not isinstance(error.__cause__, requests.exceptions.SSLError)


def _raise_transport_error(error: requests.RequestException, where: str, request_id: str) -> NoReturn:
    inner = error.args[0] if error.args else None
    if isinstance(error, requests.Timeout):
        during = "connection" if isinstance(error, requests.ConnectTimeout) else "answer"
        raise TimedOut(where, f"no {during} within the timeout", request_id) from error
    if isinstance(inner, urllib3.exceptions.ReadTimeoutError):
        # What requests makes of a timeout after the first bytes of the answer.
        raise TimedOut(where, "the answer stopped for longer than the timeout", request_id) from error
    if isinstance(error, (requests.ConnectionError, requests.exceptions.ChunkedEncodingError)):
        raise ConnectionFailed(where, _reason(error), request_id) from error
    if isinstance(error, requests.exceptions.ContentDecodingError):
        raise BadAnswer(where, f"the answer cannot be unpacked: {_reason(error)}", request_id) from error
    raise TransportError(where, _reason(error), request_id) from error


def _reason(error: BaseException) -> str:
    """The innermost cause in words, without the layers of the libraries around it."""
    while True:
        inner = error.__cause__ or next((each for each in error.args if isinstance(each, BaseException)), None)
        if inner is None:
            return str(error) or type(error).__name__
        error = inner


def _read(response: requests.Response, where: str, request_id: str, kind: type[T], also: int | None) -> T:
    if response.status_code == also:
        with contextlib.suppress(ValueError, RecursionError):  # what stands in front of the service has that status too
            return codec.decode(json.loads(response.content), kind)
    if not HTTPStatus.OK <= response.status_code < HTTPStatus.MULTIPLE_CHOICES:
        raise _status_error(response, where, request_id)
    try:
        parsed = json.loads(response.content)
    except (ValueError, RecursionError) as error:
        raise BadAnswer(where, f"the answer is not JSON but {_excerpt(response)}", request_id) from error
    try:
        return codec.decode(parsed, kind)
    except codec.Mismatch as error:
        raise BadAnswer(where, f"in the answer, {error}", request_id) from error


def _status_error(response: requests.Response, where: str, request_id: str) -> StatusError:
    status = response.status_code
    try:
        problem = codec.decode(json.loads(response.content), Problem)
    except (ValueError, RecursionError):
        problem = None
    excerpt = "" if problem is not None else _excerpt(response)
    if "Location" in response.headers:
        excerpt = f"redirected to {response.headers['Location']}; is base_url right?"
    return class_of(status)(where, status, problem, request_id, _retry_after(response), excerpt)


def _retry_after(response: requests.Response) -> int | None:
    """Retry-After in seconds, as the service gives it; a date is not read."""
    text = response.headers.get("Retry-After", "").strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None


def _excerpt(response: requests.Response) -> str:
    kind = response.headers.get("Content-Type", "without a content type")
    text = " ".join(response.content[: 4 * EXCERPT_LENGTH].decode("utf-8", "replace").split())
    if not text:
        return f"an empty body ({kind})"
    return f"{text if len(text) <= EXCERPT_LENGTH else text[:EXCERPT_LENGTH] + '...'} ({kind})"

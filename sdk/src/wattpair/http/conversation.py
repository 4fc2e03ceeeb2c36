"""One call, whatever carries it: its headers, the reading of its answer, its errors and its repetition."""

from __future__ import annotations

import contextlib
import logging
import math
import os
import time
import uuid
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from http import HTTPStatus
from typing import Generic, TypeVar, cast

import msgspec

from wattpair import codec
from wattpair.call import JSON, Request
from wattpair.document import Document, is_whole
from wattpair.errors import BadAnswer, Error, StatusError, TooManyRequests, TransportError, class_of
from wattpair.http.options import REQUEST_ID, Exchange, Options
from wattpair.http.pauses import Pauses

LOG = logging.getLogger("wattpair")

R = TypeVar("R")
BACKOFF_FIRST_S = 0.5
BACKOFF_MOST_S = 8.0
RETRY_AFTER_MOST_S = 120
"""Above the minute over which the service counts requests."""
PATIENCE_S = 600.0
"""Pauses that a call of a run of many makes, in sum, for a service that is busy (429, 503)."""
BUSY = frozenset({HTTPStatus.TOO_MANY_REQUESTS, HTTPStatus.SERVICE_UNAVAILABLE})
EXCERPT_LENGTH = 200


@dataclass(frozen=True, slots=True)
class Answer:
    """What came back over the wire; the names of its headers are in lower case."""

    status: int
    headers: Mapping[str, str]
    content: bytes


class Conversation(Generic[R]):
    """One call with all its attempts. Every call may be repeated, since all operations of the service are pure.

    `share` gives random numbers from 0 to 1 for the jitter of pauses. With the `pauses` of a run of many calls, a busy service
    is waited for beyond the number of retries.
    """

    def __init__(self, options: Options, request: Request[R], share: Callable[[], float], pauses: Pauses | None = None) -> None:
        self._pauses = pauses
        self._options = options
        self._request = request
        self._share = share
        # One id for all attempts, known before there is an answer: a timeout can be looked up in the service's log too.
        self.request_id = options.headers.get(REQUEST_ID.lower()) or uuid.uuid4().hex
        self.verb, self.content = request.verb, request.content
        self.url = options.base_url + request.path
        self.where = f"{self.verb} {self.url}"
        self._attempt = 0
        self._failed = 0
        self._patience_s = PATIENCE_S if pauses is not None and options.retries else 0.0
        self._started_s = time.monotonic()

    def headers(self) -> dict[str, str]:
        """The headers of the next attempt, which starts now."""
        self._attempt += 1
        self._started_s = time.monotonic()
        kind = {} if self.content is None else {"content-type": JSON}
        accept = f"{self._request.media_type}, application/problem+json"
        return {**self._options.headers, **kind, "accept": accept, REQUEST_ID.lower(): self.request_id}

    def read(self, answer: Answer) -> R:
        """The result in an answer; raises an Error where there is none."""
        request_id = answer.headers.get(REQUEST_ID.lower()) or self.request_id
        try:
            result = _read(answer, self._request, self.where, request_id)
        except Error as error:
            self._tell(answer.status, request_id, error)
            raise
        self._tell(answer.status, request_id, None)
        _warn_of_an_end(self.where, answer.headers)
        return result

    def failed(self, error: TransportError) -> TransportError:
        """Note that an attempt ended without an answer; gives the error back, to be raised."""
        self._tell(None, self.request_id, error)
        return error

    @property
    def rest_s(self) -> float:
        """Seconds for which its run rests, before an attempt may begin."""
        return 0.0 if self._pauses is None else self._pauses.left_s()

    @property
    def is_over(self) -> bool:
        """Whether its run has ended, so that nothing more is to be sent."""
        return self._pauses is not None and self._pauses.over

    def pause_s(self, error: Error) -> float:
        """Seconds until the next attempt; raises the error where there is to be none."""
        wait_s = self._wait_s(error)
        if wait_s is None:
            raise error
        if self._pauses is not None and isinstance(error, TooManyRequests):
            self._pauses.rest_all(wait_s)
        return wait_s

    def _wait_s(self, error: Error) -> float | None:
        asked_s = float(error.retry_after or 0) if isinstance(error, StatusError) else 0.0
        if not error.transient or asked_s > RETRY_AFTER_MOST_S:
            return None
        longest_s = min(BACKOFF_MOST_S, BACKOFF_FIRST_S * 2.0 ** min(self._attempt - 1, 10))
        if isinstance(error, StatusError) and error.status in BUSY and self._patience_s > 0.0:
            self._patience_s -= max(asked_s, longest_s)
        else:
            self._failed += 1
            if self._failed > self._options.retries:
                return None
        wait_s = max(asked_s, self._share() * longest_s)
        LOG.info("attempt %d failed, the next follows in %.1f s: %s", self._attempt, wait_s, error)
        return wait_s

    def _tell(self, status: int | None, request_id: str, error: Error | None) -> None:
        elapsed_s = time.monotonic() - self._started_s
        LOG.debug("%s: %s in %.3f s, request id %s", self.where, status or "no answer", elapsed_s, request_id)
        if self._options.on_exchange is not None:
            told = Exchange(self.verb, self.url, request_id, self._attempt, elapsed_s, status, error)
            self._options.on_exchange(told)


def reason_of(error: BaseException) -> str:
    """The innermost cause in words, without the layers of the libraries around it."""
    while True:
        inner = error.__cause__ or next((each for each in error.args if isinstance(each, BaseException)), None)
        if inner is None:
            # What asyncio says of a refused connection names everything but that it was refused.
            cause = os.strerror(error.errno) if isinstance(error, ConnectionError) and error.errno else str(error)
            return cause or type(error).__name__
        error = inner


def _read(answer: Answer, request: Request[R], where: str, request_id: str) -> R:
    if answer.status == request.also:
        with contextlib.suppress(msgspec.DecodeError):  # what stands in front of the service has that status too
            return codec.decode(answer.content, request.kind)
    if not HTTPStatus.OK <= answer.status < HTTPStatus.MULTIPLE_CHOICES:
        raise _status_error(answer, where, request_id)
    if request.media_type != JSON:
        return cast(R, _document(answer, request.media_type, where, request_id))
    try:
        return codec.decode(answer.content, request.kind)
    except msgspec.ValidationError as error:
        raise BadAnswer(where, f"the answer is not what the contract says: {error}", request_id) from error
    except msgspec.DecodeError as error:
        raise BadAnswer(where, f"the answer is not JSON but {_excerpt(answer)}", request_id) from error


def _document(answer: Answer, media_type: str, where: str, request_id: str) -> Document:
    """The answer as it came, if the service itself gave it, in the form that was asked for and whole."""
    if answer.headers.get("content-type", "").partition(";")[0].strip().lower() != media_type:
        raise BadAnswer(where, f"the answer is not {media_type} but {_excerpt(answer)}", request_id)
    if REQUEST_ID.lower() not in answer.headers:
        # A page of a proxy, such as one to sign in, is HTML with the status 200 too.
        raise BadAnswer(
            where, f"the answer has no {REQUEST_ID}, so it is not the service's own: {_excerpt(answer)}", request_id
        )
    document = Document(media_type=media_type, content=answer.content)
    if not is_whole(document):
        raise BadAnswer(where, f"the answer is cut off, or no {media_type}: {_excerpt(answer)}", request_id)
    return document


def _status_error(answer: Answer, where: str, request_id: str) -> StatusError:
    from wattpair.models import Problem

    try:
        problem = codec.decode(answer.content, Problem)
    except msgspec.DecodeError:
        problem = None
    excerpt = "" if problem is not None else _excerpt(answer)
    if "location" in answer.headers:
        excerpt = f"redirected to {answer.headers['location']}; is base_url right?"
    return class_of(answer.status)(where, answer.status, problem, request_id, _retry_after_s(answer), excerpt)


def _retry_after_s(answer: Answer) -> int | None:
    """Retry-After in whole seconds from now; None where it is neither seconds nor a date."""
    text = answer.headers.get("retry-after", "").strip()
    if text.isascii() and text.isdigit() and len(text) < 10:
        return int(text)
    try:
        date = parsedate_to_datetime(text)
    except ValueError:
        return None
    if date.tzinfo is None:
        return None
    return max(0, math.ceil((date - datetime.now(UTC)).total_seconds()))


def _excerpt(answer: Answer) -> str:
    kind = answer.headers.get("content-type", "without a content type")
    text = " ".join(answer.content[: 4 * EXCERPT_LENGTH].decode("utf-8", "replace").split())
    text = "".join(each if each.isprintable() else "\ufffd" for each in text)  # it goes to logs and terminals
    if not text:
        return f"an empty body ({kind})"
    return f"{text if len(text) <= EXCERPT_LENGTH else text[:EXCERPT_LENGTH] + '...'} ({kind})"


def _warn_of_an_end(where: str, headers: Mapping[str, str]) -> None:
    """Pass on that an operation is to go: Python shows a warning once for each place that calls it."""
    if "deprecation" in headers:
        until = f", and ends on {headers['sunset']}" if "sunset" in headers else ""
        # The caller's line is five levels up: this, read, call, _perform, and the method itself.
        warnings.warn(f"{where} is deprecated by the service{until}", DeprecationWarning, stacklevel=6)

"""The fake service and the two sessions that end in it."""

from __future__ import annotations

import contextlib
import json
import re
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from http import HTTPStatus
from importlib import resources
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlsplit

import msgspec
import requests
from requests.adapters import BaseAdapter

from wattpair import codec
from wattpair.call import JSON, Call
from wattpair.client import Client
from wattpair.document import Document
from wattpair.http.options import REQUEST_ID
from wattpair.models import FieldError
from wattpair.operations import CALLS

if TYPE_CHECKING:
    import httpx

    from wattpair.async_client import AsyncClient

URL = "http://wattpair.test"
SILENT = "the fake service stays silent"
Arguments = Mapping[str, Any]
Answer = Mapping[str, Any] | object
"""JSON or a result of the client; a Document or its bytes where the answer is one."""
SUFFIXES = {JSON: "json", "text/html": "html", "application/pdf": "pdf", "text/csv": "csv"}


@dataclass(frozen=True, slots=True)
class FakeCall:
    """One call that reached the fake service; each attempt of a repeated call is one.

    `operation` is the name of the client's method, `arguments` are as JSON has them, names of `headers` in lower case.
    """

    operation: str
    arguments: Arguments
    headers: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class _Reply:
    status: int
    content: bytes
    headers: Mapping[str, str]


class _NoAnswerError(Exception):
    """No answer at all, or none within the timeout."""


Behaviour = Callable[[Arguments], _Reply]


class FakeService:
    """Answers the calls of its clients as told, and with an answer of the real service where nothing was told.

    `calls` has the calls so far, each a FakeCall, in order.
    """

    def __init__(self) -> None:
        self.calls: list[FakeCall] = []
        self._standing: dict[str, Behaviour] = {}
        self._next: dict[str, deque[Behaviour]] = {name: deque() for name in CALLS}

    def session(self) -> requests.Session:
        """A session for code that makes its `Client` itself: `Client(any_url, session=fake.session())`.

        Every address ends in this service. The client is then wholly its maker's: it repeats, and makes pauses, as it was told.
        """
        session = requests.Session()
        session.trust_env = False  # neither a proxy nor a .netrc file of the machine has a part in a test
        for scheme in ("http://", "https://"):
            session.mount(scheme, _Adapter(self))
        return session

    def async_session(self) -> httpx.AsyncClient:
        """A session for code that makes its `AsyncClient` itself; as `session`."""
        import httpx

        return httpx.AsyncClient(transport=httpx.MockTransport(self._answer_httpx))

    def client(self, **options: Any) -> Client:
        """A Client of this service, with options of `Client`; it repeats nothing unless told, and then without a pause."""
        client = Client(URL, **({"retries": 0} | options), session=self.session())
        client._transport._sleep = lambda _: None  # noqa: SLF001 - tests should not wait
        return client

    def async_client(self, **options: Any) -> AsyncClient:
        """An AsyncClient of this service; as `client`."""
        from wattpair.async_client import AsyncClient

        async def no_pause(_: float) -> None:
            return

        client = AsyncClient(URL, **({"retries": 0} | options), session=self.async_session())
        client._transport._sleep = no_pause  # noqa: SLF001 - tests should not wait
        return client

    def answer(self, operation: str, answer: Answer | Callable[[Arguments], Answer], *, times: int | None = None) -> None:
        """Answer an operation from now on.

        Parameters
        ----------
        operation : str
            Name of the client's method, such as "size_pairings".
        answer : mapping, result or callable
            The answer as JSON or as a result of the client, for a sheet or a CSV as a Document or its bytes; or a callable
            that makes one of the arguments. The client takes whole documents only: HTML from "<!doctype html" to "</html>",
            a PDF from "%PDF-" to "%%EOF", a CSV that ends with a line (CR LF).
        times : int, optional
            Only the next so many calls.

        Raises
        ------
        ValueError
            There is no such operation, or `times` is below one.
        TypeError
            The answer is none of what it may be.
        """
        call = self._call(operation)
        if callable(answer):
            self._tell(operation, lambda arguments: _reply_of(call, answer(arguments)), times)
        else:
            reply = _reply_of(call, answer)
            self._tell(operation, lambda _: reply, times)

    def refuse(
        self,
        operation: str,
        status: int = 422,
        *,
        detail: str = "Refused by the fake service.",
        errors: Sequence[FieldError] = (),
        retry_after: int | None = None,
        times: int | None = None,
    ) -> None:
        """Refuse an operation from now on, so that the client raises the error of a status, 400 or above.

        `detail` says what is wrong, `errors` are the fields at fault, `retry_after` the seconds after which to call again. With
        `times`, only the next so many calls are refused.
        """
        if not HTTPStatus.BAD_REQUEST <= status <= 599:
            raise ValueError(f"status: {status} was given; allowed is a status of an error, from 400 to 599")
        problem = {
            "type": "urn:wattpair:problem:fake",
            "title": "Refused",
            "status": int(status),
            "detail": detail,
            "request_id": "fake",
            "errors": list(errors),
        }
        headers = {} if retry_after is None else {"Retry-After": str(retry_after)}
        self._tell(operation, lambda _: _json_reply(status, problem, headers), times)

    def break_connection(self, operation: str, *, times: int | None = None) -> None:
        """Break off, so that the client raises ConnectionFailed."""
        self._tell(operation, partial(_say_nothing, "the fake service broke the connection"), times)

    def stay_silent(self, operation: str, *, times: int | None = None) -> None:
        """Answer nothing, so that the client raises TimedOut, at once."""
        self._tell(operation, partial(_say_nothing, SILENT), times)

    def _tell(self, operation: str, behaviour: Behaviour, times: int | None) -> None:
        name = self._call(operation).name
        if times is None:
            self._standing[name] = behaviour
        elif times < 1:
            raise ValueError(f"times: {times} was given; allowed is one or more, or None for all calls from now on")
        else:
            self._next[name].extend([behaviour] * times)

    def _call(self, operation: str) -> Call:
        if operation not in self._next:
            raise ValueError(f"operation: {operation!r} was given; allowed is one of {', '.join(self._next)}")
        return CALLS[operation]

    def _reply(self, verb: str, url: str, headers: Mapping[str, str], content: bytes | None) -> _Reply:
        named = {name.lower(): value for name, value in headers.items()}
        call, arguments = _called(verb, urlsplit(url).path, named.get("accept", JSON))
        if content:
            arguments |= json.loads(content)
        self.calls.append(FakeCall(call.name, arguments, named))
        reply = self._behaviour(call)(arguments)
        return replace(reply, headers={REQUEST_ID: named.get(REQUEST_ID.lower(), "fake"), **reply.headers})

    def _behaviour(self, call: Call) -> Behaviour:
        with contextlib.suppress(IndexError):  # another thread may take the last one first
            return self._next[call.name].popleft()
        return self._standing.get(call.name, lambda _: _reply_of(call, _canned(call)))

    def _answer_httpx(self, request: httpx.Request) -> httpx.Response:
        import httpx

        try:
            reply = self._reply(request.method, str(request.url), request.headers, request.content)
        except _NoAnswerError as error:
            kind = httpx.ReadTimeout if str(error) == SILENT else httpx.ReadError
            raise kind(str(error), request=request) from error
        return httpx.Response(reply.status, content=reply.content, headers=dict(reply.headers))


class _Adapter(BaseAdapter):
    """The end of a session of requests, where the network would be."""

    def __init__(self, service: FakeService) -> None:
        super().__init__()
        self._service = service

    def send(self, request: requests.PreparedRequest, *_: Any, **__: Any) -> requests.Response:
        content = request.body.encode() if isinstance(request.body, str) else request.body
        try:
            reply = self._service._reply(str(request.method), str(request.url), request.headers, content)  # noqa: SLF001
        except _NoAnswerError as error:
            kind = requests.ReadTimeout if str(error) == SILENT else requests.ConnectionError
            raise kind(str(error), request=request) from error
        response = requests.Response()
        response.status_code = reply.status
        response.headers.update(reply.headers)
        response.request = request
        response.url = str(request.url)
        response._content = reply.content  # noqa: SLF001 - requests has no other way to make one
        return response

    def close(self) -> None:
        """Nothing is open."""


def _say_nothing(why: str, _: Arguments) -> _Reply:
    raise _NoAnswerError(why)


def _reply_of(call: Call, answer: Answer) -> _Reply:
    if call.media_type == JSON:
        return _json_reply(HTTPStatus.OK, answer)
    content = answer.content if isinstance(answer, Document) else answer
    if not isinstance(content, bytes):
        raise TypeError(f"{codec.shown(answer)} was given as an answer; allowed is a Document or bytes")
    kind = answer.media_type if isinstance(answer, Document) else call.media_type
    return _Reply(HTTPStatus.OK, content, {"Content-Type": kind})


def _json_reply(status: int, answer: Answer, headers: Mapping[str, str] | None = None) -> _Reply:
    if not isinstance(answer, (Mapping, msgspec.Struct)):
        raise TypeError(f"{codec.shown(answer)} was given as an answer; allowed is a mapping or a result of the client")
    return _Reply(status, codec.to_json(answer), {"Content-Type": "application/json", **(headers or {})})


def _called(verb: str, path: str, accept: str) -> tuple[Call, dict[str, Any]]:
    """The call that a request is of, and its arguments in the path; the service may be at any address."""
    for call in CALLS.values():
        match = re.search(re.sub(r"\{(\w+)\}", r"(?P<\1>[^/]+)", call.path) + "$", path)
        if call.verb == verb and accept.partition(",")[0] == call.media_type and match:
            return call, {name: unquote(value) for name, value in match.groupdict().items()}
    raise AssertionError(f"{verb} {path} with Accept {accept} is no call of this client")


@cache
def _stored(operation: str, suffix: str) -> bytes:
    return resources.files(__package__).joinpath("answers", f"{operation}.{suffix}").read_bytes()


def _canned(call: Call) -> Answer:
    """The real service's answer to the example of the contract."""
    content = _stored(call.name, SUFFIXES[call.media_type])
    return json.loads(content) if call.media_type == JSON else content

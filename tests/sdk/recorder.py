"""A session that sends nothing: it keeps what it was given and answers as told."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import requests
from requests.adapters import BaseAdapter

from wattpair import Client


@dataclass(frozen=True)
class Sent:
    """One request."""

    verb: str
    url: str
    headers: Mapping[str, str]
    body: Any


class Recorder(BaseAdapter):
    """The end of a session where the network would be."""

    def __init__(self, answer: Any = None, status: int = 200) -> None:
        super().__init__()
        self.answer = answer
        self.status = status
        self.sent: list[Sent] = []
        self.closed = False

    def send(self, request: requests.PreparedRequest, *_: Any, **__: Any) -> requests.Response:
        body = None if request.body is None else json.loads(request.body)
        self.sent.append(Sent(str(request.method), str(request.url), request.headers, body))
        response = requests.Response()
        response.status_code = self.status
        response.request = request
        response.url = str(request.url)
        response._content = json.dumps(self.answer).encode()
        return response

    def close(self) -> None:
        self.closed = True


def recording(answer: Any = None, *, status: int = 200, **options: Any) -> tuple[Client, Recorder]:
    """A client whose requests end in a recorder."""
    recorder = Recorder(answer, status)
    session = requests.Session()
    session.mount("http://", recorder)
    return Client("http://service.test/base/", session=session, retries=0, **options), recorder

"""How each call goes to the service: what is sent, and what the answer is read as. `operations.py` has them all."""

from __future__ import annotations

import hashlib
import inspect
import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cached_property
from typing import Any, Generic, TypeVar
from urllib.parse import quote

import msgspec

from wattpair import codec
from wattpair.document import Document

JSON = "application/json"
R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class Request(Generic[R]):
    """What goes to the service for one call."""

    verb: str
    path: str
    """Below the service's address."""
    content: bytes | None
    """JSON body."""
    media_type: str
    """Form of the answer."""
    kind: type[R]
    """What the answer is read as; a Document where it is not JSON."""
    also: int | None
    """A status, other than a success, that comes with such an answer too."""

    @property
    def key(self) -> str:
        """The same for requests that ask the same, whatever the order of their fields."""
        body = msgspec.json.decode(self.content or b"null")
        text = msgspec.json.encode([self.verb, self.path, self.media_type, body], order="deterministic")
        return hashlib.sha256(text).hexdigest()


@dataclass(frozen=True)
class Call:
    """One call of the contract."""

    name: str
    """Name of the clients' method."""
    verb: str
    path: str
    """With the names of arguments in braces."""
    request_model: str | None
    """Model of the body; None where all arguments stand in the path."""
    result_model: str
    """Model of the answer, or Document."""
    media_type: str = JSON
    also: int | None = None
    """A status, other than a success, that comes with an answer."""

    @cached_property
    def _path_names(self) -> list[str]:
        return re.findall(r"\{(\w+)\}", self.path)

    @cached_property
    def arguments(self) -> Mapping[str, Any]:
        """Type hints of the arguments by their names."""
        return codec.hints_of(_model(self.request_model)) if self.request_model else dict.fromkeys(self._path_names, str)

    @cached_property
    def needed(self) -> list[str]:
        """Arguments that cannot be left out."""
        if self.request_model is None:
            return self._path_names
        return [each.name for each in msgspec.structs.fields(_model(self.request_model)) if each.required]

    @property
    def result(self) -> type[Any]:
        """What an answer is read as."""
        return Document if self.result_model == "Document" else _model(self.result_model)

    def request(self, **arguments: Any) -> Request[Any]:
        """The request of a call with these arguments; those that are None are left out.

        Raises
        ------
        TypeError
            An argument is missing, unknown or of a wrong type.
        ValueError
            A number that JSON cannot hold.
        """
        for name in arguments.keys() - self.arguments.keys():
            near, takes = get_close_matches(name, self.arguments, 1), f"it takes {', '.join(self.arguments) or 'none'}"
            raise TypeError(f"{self.name}(): {name} is no argument of it; {f'is {near[0]} meant?' if near else takes}")
        missing = [repr(name) for name in self.needed if arguments.get(name) is None]
        if missing:
            raise TypeError(f"{self.name}(): missing a required argument: {', '.join(missing)}")
        given = codec.encode(arguments, self.arguments)
        path = self.path.format(**{name: quote(given.pop(name), safe="") for name in self._path_names})
        content = msgspec.json.encode(given) if self.verb == "POST" else None
        return Request(self.verb, path, content, self.media_type, self.result, self.also)


def _model(name: str) -> Any:
    from wattpair import models  # many classes, which nobody needs before the first call

    return getattr(models, name)


def call_of(method: Any) -> Call:
    """The call behind a client's method, such as `client.size_pairings`."""
    from wattpair.operations import CALLS, AsyncOperations, Operations

    name = getattr(method, "__name__", "")
    call = CALLS.get(name)
    behind = inspect.unwrap(method) if callable(method) else method
    if call is None or getattr(behind, "__func__", behind) not in (getattr(Operations, name), getattr(AsyncOperations, name)):
        raise TypeError(f"call: {codec.shown(method)} was given; allowed is a client's method, such as client.size_pairings")
    return call

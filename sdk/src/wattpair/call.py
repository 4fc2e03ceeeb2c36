"""One description of each call, which every client uses: what is sent, and what the answer is read as.

A call is described by a method without a body: its name, arguments and return type are those of the contract. `post` and `get`
turn it into a `Call`, which is a plain method on a `Client` and a coroutine on an `AsyncClient`.
"""

from __future__ import annotations

import functools
import hashlib
import inspect
import json
import re
from abc import ABC, abstractmethod
from collections.abc import Callable, Coroutine
from dataclasses import dataclass
from typing import Any, Concatenate, Generic, ParamSpec, TypeVar, overload
from urllib.parse import quote

from wattpair import codec

P = ParamSpec("P")
R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class Request(Generic[R]):
    """What goes to the service for one call.

    Attributes
    ----------
    verb, path : str
        HTTP method, and path below the service's address.
    content : bytes or None
        JSON body.
    kind : type
        What the answer is read as.
    also : int or None
        A status, other than a success, that comes with such an answer too.
    """

    verb: str
    path: str
    content: bytes | None
    kind: type[R]
    also: int | None

    @property
    def key(self) -> str:
        """The same for requests that ask the same, whatever the order of their fields."""
        body = None if self.content is None else json.loads(self.content)
        text = json.dumps([self.verb, self.path, body], sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()


class Waiting(ABC):
    """Base class of clients whose calls return results."""

    @abstractmethod
    def _perform(self, request: Request[R]) -> R:
        """Carry a request out."""


class Awaiting(ABC):
    """Base class of clients whose calls are coroutines."""

    @abstractmethod
    async def _perform(self, request: Request[R]) -> R:
        """Carry a request out."""


class Call(Generic[P, R]):
    """The description of a call, as an attribute of clients.

    Parameters
    ----------
    described : callable
        The method that describes it.
    verb, path : str
        HTTP method, and path with the names of arguments in braces.
    also : int, optional
        A status, other than a success, that comes with an answer.
    """

    def __init__(self, described: Callable[Concatenate[Any, P], R], verb: str, path: str, also: int | None = None) -> None:
        self.described = described
        self.name = described.__name__
        self.verb = verb
        self.path = path
        self.also = also
        signature = inspect.signature(described)
        _, *parameters = signature.parameters.values()
        self.signature = signature.replace(parameters=parameters)
        self.path_names = re.findall(r"\{(\w+)\}", path)

    @property
    def result(self) -> type[R]:
        """What an answer is read as."""
        kind: type[R] = codec.hints_of(self.described)["return"]
        return kind

    @overload
    def __get__(self, client: None, owner: type) -> Callable[Concatenate[Any, P], R]: ...

    @overload
    def __get__(self, client: Waiting, owner: type) -> Callable[P, R]: ...

    @overload
    def __get__(self, client: Awaiting, owner: type) -> Callable[P, Coroutine[Any, Any, R]]: ...

    def __get__(self, client: Any, owner: type) -> Any:
        if client is None:
            return self.described
        bound: Any = self._awaiting(client) if isinstance(client, Awaiting) else self._waiting(client)
        functools.update_wrapper(bound, self.described)
        bound.__signature__ = self.signature
        bound.call = self
        return bound

    def _waiting(self, client: Waiting) -> Callable[..., R]:
        def bound(*positional: Any, **arguments: Any) -> R:
            return client._perform(self.request(*positional, **arguments))  # noqa: SLF001 - what clients offer to calls

        return bound

    def _awaiting(self, client: Awaiting) -> Callable[..., Coroutine[Any, Any, R]]:
        async def bound(*positional: Any, **arguments: Any) -> R:
            return await client._perform(self.request(*positional, **arguments))  # noqa: SLF001 - as above

        return bound

    def request(self, *positional: Any, **arguments: Any) -> Request[R]:
        """The request of a call with these arguments.

        Raises
        ------
        TypeError
            An argument is missing, unknown or of a wrong type.
        ValueError
            A number that JSON cannot hold.
        """
        try:
            given = self.signature.bind(*positional, **arguments).arguments
        except TypeError as error:
            raise TypeError(f"{self.name}(): {error}; the arguments are {', '.join(self.signature.parameters)}") from None
        hints = codec.hints_of(self.described)
        fields = codec.encode_fields(given, hints)
        path = self.path.format(**{name: quote(str(fields.pop(name)), safe="") for name in self.path_names})
        content = None
        if self.verb == "POST":
            content = json.dumps(fields, allow_nan=False, separators=(",", ":")).encode()
        return Request(self.verb, path, content, self.result, self.also)


def post(path: str) -> Callable[[Callable[Concatenate[Any, P], R]], Call[P, R]]:
    """Make a method the description of a calculation: its arguments are the fields of a JSON body."""
    return lambda described: Call(described, "POST", path)


def get(path: str, *, also: int | None = None) -> Callable[[Callable[Concatenate[Any, P], R]], Call[P, R]]:
    """Make a method the description of something to look up: its arguments stand in the path."""
    return lambda described: Call(described, "GET", path, also)


def call_of(method: Any) -> Call[..., Any]:
    """The description behind a client's method, such as `client.size_pairings`."""
    call = getattr(method, "call", None)
    if not isinstance(call, Call):
        raise TypeError(f"call: {codec.shown(method)} was given; allowed is a client's method, such as client.size_pairings")
    return call

"""One description of each call, which every client uses: what is sent, and what the answer is read as.

A call is described by a method without a body: its name, arguments and return type are those of the contract. `post` and `get`
turn it into a `Call`. A `Client` has a method in its place and an `AsyncClient` a coroutine: plain functions of their class, so
that what inspects, documents or replaces methods finds what it knows.
"""

from __future__ import annotations

import difflib
import functools
import hashlib
import inspect
import json
import re
from abc import ABC, abstractmethod
from collections.abc import Callable, Coroutine
from dataclasses import dataclass
from types import FunctionType
from typing import Any, Concatenate, Generic, ParamSpec, TypeVar, cast, overload
from urllib.parse import quote

from wattpair import codec
from wattpair.document import Document

JSON = "application/json"
P = ParamSpec("P")
R = TypeVar("R")
T = TypeVar("T")
CALL = "call"
"""Where a method keeps its description."""


@dataclass(frozen=True, slots=True)
class Request(Generic[R]):
    """What goes to the service for one call.

    Attributes
    ----------
    verb, path : str
        HTTP method, and path below the service's address.
    content : bytes or None
        JSON body.
    media_type : str
        Form of the answer.
    kind : type
        What the answer is read as; a Document where it is not JSON.
    also : int or None
        A status, other than a success, that comes with such an answer too.
    """

    verb: str
    path: str
    content: bytes | None
    media_type: str
    kind: type[R]
    also: int | None

    @property
    def key(self) -> str:
        """The same for requests that ask the same, whatever the order of their fields."""
        body = None if self.content is None else json.loads(self.content)
        text = json.dumps([self.verb, self.path, self.media_type, body], sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()


class Waiting(ABC):
    """Base class of clients whose calls return results."""

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        for name, call in calls_of(cls).items():
            setattr(cls, name, call.waiting())

    @abstractmethod
    def _perform(self, request: Request[R]) -> R:
        """Carry a request out."""


class Awaiting(ABC):
    """Base class of clients whose calls are coroutines."""

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        for name, call in calls_of(cls).items():
            setattr(cls, name, call.awaiting())

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
    media_type : str
        Form of the answer.
    also : int, optional
        A status, other than a success, that comes with an answer.
    """

    def __init__(
        self,
        described: Callable[Concatenate[Any, P], R],
        verb: str,
        path: str,
        *,
        media_type: str = JSON,
        also: int | None = None,
    ) -> None:
        self.described = described
        self.name = described.__name__
        self.verb = verb
        self.path = path
        self.media_type = media_type
        self.also = also
        signature = inspect.signature(described)
        _, *parameters = signature.parameters.values()
        self.signature = signature.replace(parameters=parameters)
        self.needed = [name for name, each in self.signature.parameters.items() if each.default is each.empty]
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
        # For type checkers above all: classes of clients have functions in place of their calls.
        return self.described

    def waiting(self) -> Callable[Concatenate[Any, P], R]:
        """The method of a client whose calls return results."""

        def method(client: Waiting, /, *positional: Any, **arguments: Any) -> R:
            return client._perform(self.request(*positional, **arguments))  # noqa: SLF001 - what clients offer to calls

        return self._named(method)

    def awaiting(self) -> Callable[Concatenate[Any, P], Coroutine[Any, Any, R]]:
        """The method of a client whose calls are coroutines."""

        async def method(client: Awaiting, /, *positional: Any, **arguments: Any) -> R:
            return await client._perform(self.request(*positional, **arguments))  # noqa: SLF001 - as above

        return self._named(method)

    def _named(self, method: T) -> T:
        described: Any = self.described
        functools.update_wrapper(cast(Any, method), described)
        setattr(method, CALL, self)
        return method

    def as_document(self, name: str, media_type: str, documentation: str) -> Call[P, Document]:
        """The same call under another name, with the answer in a form for people or other programs.

        Parameters
        ----------
        name : str
            Name of the method.
        media_type : str
            The form.
        documentation : str
            What its documentation says before the parameters, which are those of this call.
        """
        original: Any = self.described
        described = FunctionType(original.__code__, original.__globals__, name)
        described.__kwdefaults__ = original.__kwdefaults__
        described.__annotations__ = {**original.__annotations__, "return": Document}
        described.__module__ = original.__module__
        described.__qualname__ = f"{original.__qualname__.rpartition('.')[0]}.{name}"
        parameters = inspect.cleandoc(original.__doc__).partition("Parameters\n")[2].partition("\n\nReturns\n")[0]
        described.__doc__ = f"{inspect.cleandoc(documentation)}\n\nParameters\n{parameters}\n\n{_DOCUMENT_RETURNED}"
        return Call(described, self.verb, self.path, media_type=media_type)

    def request(self, *positional: Any, **arguments: Any) -> Request[R]:
        """The request of a call with these arguments.

        Raises
        ------
        TypeError
            An argument is missing, unknown or of a wrong type.
        ValueError
            A number that JSON cannot hold.
        """
        self._check_names(positional, arguments)
        fields = codec.encode_fields(arguments, codec.hints_of(self.described))
        path = self.path.format(**{name: quote(str(fields.pop(name)), safe="") for name in self.path_names})
        content = None
        if self.verb == "POST":
            content = json.dumps(fields, allow_nan=False, separators=(",", ":")).encode()
        return Request(self.verb, path, content, self.media_type, self.result, self.also)

    def _check_names(self, positional: tuple[Any, ...], arguments: dict[str, Any]) -> None:
        """Raise TypeError for arguments that have no name, are not known or are missing."""
        known = self.signature.parameters
        takes = f"it takes {', '.join(known)}" if known else "it takes no arguments"
        if positional:
            by_name = "; arguments are given by name" if known else ""
            raise TypeError(f"{self.name}(): {codec.shown(positional[0])} was given without a name{by_name}; {takes}")
        for name in arguments.keys() - known.keys():
            near = difflib.get_close_matches(name, known, 1)
            raise TypeError(f"{self.name}(): {name} is no argument of it; {f'is {near[0]} meant?' if near else takes}")
        missing = [repr(name) for name in self.needed if name not in arguments]
        if missing:
            raise TypeError(f"{self.name}(): missing a required argument: {', '.join(missing)}; {takes}")


_DOCUMENT_RETURNED = """\
Returns
-------
Document
    The answer as it came: `content` in bytes, `text`, and `save(path)`."""


def calls_of(kind: type) -> dict[str, Call[..., Any]]:
    """The calls by their names that a class has no method for yet."""
    found = {name: each for parent in reversed(kind.__mro__) for name, each in vars(parent).items()}
    return {name: each for name, each in found.items() if isinstance(each, Call)}


def post(path: str) -> Callable[[Callable[Concatenate[Any, P], R]], Call[P, R]]:
    """Make a method the description of a calculation: its arguments are the fields of a JSON body."""
    return lambda described: Call(described, "POST", path)


def get(path: str, *, also: int | None = None) -> Callable[[Callable[Concatenate[Any, P], R]], Call[P, R]]:
    """Make a method the description of something to look up: its arguments stand in the path."""
    return lambda described: Call(described, "GET", path, also=also)


def call_of(method: Any) -> Call[..., Any]:
    """The description behind a client's method, such as `client.size_pairings`."""
    call = getattr(method, CALL, None)
    if not isinstance(call, Call):
        raise TypeError(f"call: {codec.shown(method)} was given; allowed is a client's method, such as client.size_pairings")
    return call

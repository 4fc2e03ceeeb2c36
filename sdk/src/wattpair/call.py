"""How each call goes to the service: what is sent, and what the answer is read as. `operations.py` has them all."""

from __future__ import annotations

import difflib
import hashlib
import inspect
import json
import re
from collections.abc import Collection, Mapping
from dataclasses import MISSING, dataclass, fields
from functools import cached_property
from typing import Any, Generic, TypeAlias, TypeVar
from urllib.parse import quote

from wattpair import codec
from wattpair.document import Document

JSON = "application/json"
R = TypeVar("R")
Fields: TypeAlias = Mapping[str, Any]
"""A plain mapping in place of one of the models, with the same keys."""
Numbers: TypeAlias = Collection[float]
"""Numbers in their order: a list, a tuple, a numpy array, a pandas Series."""


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


class Call:
    """One call of the contract.

    Parameters
    ----------
    name : str
        Name of the clients' method.
    verb, path : str
        HTTP method, and path with the names of arguments in braces.
    request : str or None
        Model of the body; None where all arguments stand in the path.
    result : str
        Model of the answer, or Document.
    media_type : str
        Form of the answer.
    also : int, optional
        A status, other than a success, that comes with an answer.
    """

    def __init__(
        self,
        name: str,
        verb: str,
        path: str,
        request: str | None,
        result: str,
        *,
        media_type: str = JSON,
        also: int | None = None,
    ) -> None:
        self.name, self.verb, self.path, self.media_type, self.also = name, verb, path, media_type, also
        self._request, self._result = request, result
        self._path_names = re.findall(r"\{(\w+)\}", path)

    @cached_property
    def arguments(self) -> Mapping[str, Any]:
        """Type hints of the arguments by their names."""
        return dict.fromkeys(self._path_names, str) if self._request is None else codec.hints_of(_model(self._request))

    @cached_property
    def needed(self) -> list[str]:
        """Arguments that cannot be left out."""
        if self._request is None:
            return list(self._path_names)
        return [each.name for each in fields(_model(self._request)) if each.default is MISSING]

    @property
    def result(self) -> type[Any]:
        """What an answer is read as."""
        return Document if self._result == "Document" else _model(self._result)

    def request(self, **arguments: Any) -> Request[Any]:
        """The request of a call with these arguments; those that are None are left out.

        Raises
        ------
        TypeError
            An argument is missing, unknown or of a wrong type.
        ValueError
            A number that JSON cannot hold.
        """
        self._check_names(arguments)
        given = codec.encode_fields(arguments, self.arguments)
        path = self.path.format(**{name: quote(str(given.pop(name)), safe="") for name in self._path_names})
        content = None
        if self.verb == "POST":
            content = json.dumps(given, allow_nan=False, separators=(",", ":")).encode()
        return Request(self.verb, path, content, self.media_type, self.result, self.also)

    def _check_names(self, arguments: Mapping[str, Any]) -> None:
        """Raise TypeError for arguments that are not known or are missing."""
        known = self.arguments
        takes = f"it takes {', '.join(known)}" if known else "it takes no arguments"
        for name in arguments.keys() - known.keys():
            near = difflib.get_close_matches(name, known, 1)
            raise TypeError(f"{self.name}(): {name} is no argument of it; {f'is {near[0]} meant?' if near else takes}")
        missing = [repr(name) for name in self.needed if arguments.get(name) is None]
        if missing:
            raise TypeError(f"{self.name}(): missing a required argument: {', '.join(missing)}")


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

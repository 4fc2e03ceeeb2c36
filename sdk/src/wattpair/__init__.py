"""Python client of the wattpair service.

`Client` has a method for each operation; `wattpair.models` has what requests and answers are made of, and `wattpair.errors` the
tree of errors. All of these names stand here too.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from wattpair._version import __version__ as __version__
from wattpair.client import Client as Client
from wattpair.codec import Fields as Fields, Numbers as Numbers
from wattpair.document import Document as Document
from wattpair.errors import (
    BadAnswer as BadAnswer,
    ConnectionFailed as ConnectionFailed,
    Error as Error,
    InvalidFields as InvalidFields,
    MalformedRequest as MalformedRequest,
    NotAcceptable as NotAcceptable,
    NotFound as NotFound,
    ResultsFileError as ResultsFileError,
    ServerFault as ServerFault,
    ServiceUnavailable as ServiceUnavailable,
    StatusError as StatusError,
    TimedOut as TimedOut,
    TooLarge as TooLarge,
    TooManyRequests as TooManyRequests,
    TransportError as TransportError,
    Unauthorized as Unauthorized,
    UnsupportedMediaType as UnsupportedMediaType,
    WorkersDied as WorkersDied,
)
from wattpair.http.options import Exchange as Exchange

if TYPE_CHECKING:
    from wattpair.async_client import AsyncClient as AsyncClient
    from wattpair.models import *  # noqa: F403 - all that the contract has, generated
    from wattpair.roofs.many import Outcome as Outcome

_LATER = {"AsyncClient": "wattpair.async_client", "Outcome": "wattpair.roofs.many"}
"""Where names are that are imported when they are first asked for; all others are models."""


def __getattr__(name: str) -> Any:
    """What the first call, or some users alone, need; left out of the import for its cost."""
    if not name.startswith("_"):
        module = import_module(_LATER.get(name, "wattpair.models"))
        if name in globals():  # the module itself was asked for, and the import has put it there
            return globals()[name]
        if name in _LATER or name in module.__all__:
            globals()[name] = value = getattr(module, name)
            return value
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *_LATER, *import_module("wattpair.models").__all__})

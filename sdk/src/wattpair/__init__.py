"""Python client of the wattpair service.

`Client` has a method for each operation; `wattpair.models` has what requests and answers are made of, and `wattpair.errors` the
tree of errors. All of these names stand here too.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from wattpair._version import (
    __version__ as __version__,
)
from wattpair.client import (
    Client as Client,
)
from wattpair.document import (
    Document as Document,
)
from wattpair.errors import (
    BadAnswer as BadAnswer,
)
from wattpair.errors import (
    ConnectionFailed as ConnectionFailed,
)
from wattpair.errors import (
    Error as Error,
)
from wattpair.errors import (
    InvalidFields as InvalidFields,
)
from wattpair.errors import (
    MalformedRequest as MalformedRequest,
)
from wattpair.errors import (
    NotAcceptable as NotAcceptable,
)
from wattpair.errors import (
    NotFound as NotFound,
)
from wattpair.errors import (
    ResultsFileError as ResultsFileError,
)
from wattpair.errors import (
    ServerFault as ServerFault,
)
from wattpair.errors import (
    ServiceUnavailable as ServiceUnavailable,
)
from wattpair.errors import (
    StatusError as StatusError,
)
from wattpair.errors import (
    TimedOut as TimedOut,
)
from wattpair.errors import (
    TooLarge as TooLarge,
)
from wattpair.errors import (
    TooManyRequests as TooManyRequests,
)
from wattpair.errors import (
    TransportError as TransportError,
)
from wattpair.errors import (
    Unauthorized as Unauthorized,
)
from wattpair.errors import (
    UnsupportedMediaType as UnsupportedMediaType,
)
from wattpair.errors import (
    WorkersDied as WorkersDied,
)
from wattpair.options import (
    Exchange as Exchange,
)

if TYPE_CHECKING:
    from wattpair.async_client import AsyncClient as AsyncClient
    from wattpair.many import Outcome as Outcome
    from wattpair.models import *  # noqa: F403 - all that the contract has, generated

_LATER = {"AsyncClient": "wattpair.async_client", "Outcome": "wattpair.many"}
"""Where names are that are imported when they are first asked for; all others are models."""


def __getattr__(name: str) -> Any:
    """What the first call, or some users alone, need; left out of the import for its cost."""
    module = import_module(_LATER.get(name, "wattpair.models"))
    if name.startswith("_") or name not in vars(module):
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    globals()[name] = value = getattr(module, name)
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *_LATER, *vars(import_module("wattpair.models"))})

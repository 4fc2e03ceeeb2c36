"""Everything that a call can raise once its arguments are in order; `help(wattpair.errors)` begins with the tree of classes.

Each has `request_id` and `transient`; a StatusError has the service's `problem`, whose `field_errors` name the Python argument.
Arguments that are missing, unknown or of a wrong type raise TypeError and numbers that JSON cannot hold raise ValueError, both
before anything is sent. A file that `many` cannot go on with is a ResultsFileError, which is a ValueError.
"""

from __future__ import annotations

from collections.abc import Sequence
from http.client import responses
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wattpair.models import FieldError, Problem


TRANSIENT_STATUSES = frozenset({429, 502, 503})


class Error(Exception):
    """Base class of everything that a call raises once its arguments are in order.

    `request_id` is the id under which the service's log has the request. `transient` says whether the same call may succeed a
    little later: the client repeats such calls by itself before it raises.
    """

    request_id: str
    transient: bool = False


class TransportError(Error):
    """No answer that could be used; `where` has method and address of the request, `reason` what went wrong."""

    def __init__(self, where: str, reason: str, request_id: str, transient: bool = False) -> None:
        super().__init__(where, reason, request_id, transient)
        self.where = where
        self.reason = reason
        self.request_id = request_id
        self.transient = transient

    def __str__(self) -> str:
        return f"{self.where}: {self.reason} (request id {self.request_id})"


class ConnectionFailed(TransportError):
    """No connection, or it broke before the answer was complete."""


class TimedOut(TransportError):
    """No connection, or no answer, within the timeout."""


class BadAnswer(TransportError):
    """An answer that is not what the contract says: cut off, HTML from a proxy, another form, a field missing."""


class StatusError(Error):
    """An answer with a status other than 2xx.

    `where` has method and address of the request, `status` the HTTP status. `problem` is the service's own account, None where
    something in front of it answered; `excerpt` is then the start of the answer. `retry_after` has the seconds after which the
    service asks to be called again, or None.
    """

    def __init__(
        self, where: str, status: int, problem: Problem | None, request_id: str, retry_after: int | None, excerpt: str = ""
    ) -> None:
        super().__init__(where, status, problem, request_id, retry_after, excerpt)
        self.where = where
        self.status = status
        self.problem = problem
        self.request_id = request_id
        self.retry_after = retry_after
        self.excerpt = excerpt
        self.transient = status in TRANSIENT_STATUSES

    @property
    def field_errors(self) -> Sequence[FieldError]:
        """The fields concerned, if the service named any; each has the Python argument as `argument`."""
        return self.problem.errors if self.problem is not None else ()

    def __str__(self) -> str:
        detail = self.problem.detail if self.problem is not None else self.excerpt
        lines = [f"{self.where}: {self.status} {responses.get(self.status, 'unknown status')}: {detail}".removesuffix(": ")]
        lines += [
            f"  {error.argument or 'the whole body'}: {error.given} was given; allowed is {error.allowed}"
            for error in self.field_errors
        ]
        if self.retry_after is not None:
            lines.append(f"  may be repeated after {self.retry_after} s")
        return "\n".join([*lines, f"  request id {self.request_id}"])


class MalformedRequest(StatusError):
    """400: the body is not JSON that the service reads."""


class Unauthorized(StatusError):
    """401: the service asks for an `api_key`, or for another one."""


class NotFound(StatusError):
    """404: nothing at this path; often `base_url` is not that of the service."""


class NotAcceptable(StatusError):
    """406: the service cannot give what is asked for in this form, such as PDF, or in this language."""


class TooLarge(StatusError):
    """413: the body is larger than the service, or a proxy, takes."""


class UnsupportedMediaType(StatusError):
    """415: the body did not arrive as application/json."""


class InvalidFields(StatusError):
    """422: fields are not as allowed; `field_errors` names each of them."""


class TooManyRequests(StatusError):
    """429: called too often; `retry_after` says when to call again."""


class ServerFault(StatusError):
    """5xx: the service, or something in front of it, failed."""


class ServiceUnavailable(ServerFault):
    """503: the service cannot answer now; `retry_after` may say when it can."""


_BY_STATUS: dict[int, type[StatusError]] = {
    400: MalformedRequest,
    401: Unauthorized,
    404: NotFound,
    406: NotAcceptable,
    413: TooLarge,
    415: UnsupportedMediaType,
    422: InvalidFields,
    429: TooManyRequests,
    503: ServiceUnavailable,
}


def class_of(status: int) -> type[StatusError]:
    """The class for a status."""
    return _BY_STATUS.get(status, ServerFault if status >= 500 else StatusError)


class WorkersDied(Error):
    """Several workers of a cluster died, one after the other, while they had the same requests in hand."""

    request_id = ""
    transient = True


class ResultsFileError(ValueError):
    """A file of results that cannot be gone on with; raised by `many` before anything is sent."""

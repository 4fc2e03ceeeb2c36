"""What the worker answers by itself, when the application never sees a request or takes too long for it."""

from __future__ import annotations

from dataclasses import dataclass
from http import HTTPStatus

from gunicorn.http import errors
from gunicorn.util import http_date

from wattpair_service.api.exchange import problems
from wattpair_service.api.guards import access, logs, metrics
from wattpair_service.api.guards import admission as load
from wattpair_service.connection import BodyTooLarge
from wattpair_service.identity import Identity


@dataclass(frozen=True, slots=True)
class Refusal:
    """A problem without fields."""

    status: HTTPStatus
    slug: str
    detail: str
    is_repeatable: bool = False
    outcome: str = "refused"


BUSY = Refusal(HTTPStatus.SERVICE_UNAVAILABLE, load.BUSY, load.BUSY_DETAIL, True, "shed")
SLOW = Refusal(HTTPStatus.REQUEST_TIMEOUT, "slow-request", "The request did not come in time; send it whole and at once.")
FAILED = Refusal(HTTPStatus.INTERNAL_SERVER_ERROR, "internal-fault", "The service failed on this request.", outcome="failed")
MALFORMED = "malformed-http"
OF_ERRORS: tuple[tuple[type[Exception], Refusal], ...] = (
    (
        BodyTooLarge,
        Refusal(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "body-too-large", "The body is larger than this service takes."),
    ),
    (
        errors.LimitRequestLine,
        Refusal(HTTPStatus.REQUEST_URI_TOO_LONG, MALFORMED, "The request's line is too long."),
    ),
    (
        errors.LimitRequestHeaders,
        Refusal(HTTPStatus.REQUEST_HEADER_FIELDS_TOO_LARGE, MALFORMED, "The request's headers are too many or too long."),
    ),
    (
        errors.ExpectationFailed,
        Refusal(HTTPStatus.EXPECTATION_FAILED, MALFORMED, "Only Expect: 100-continue is understood."),
    ),
    (
        errors.UnsupportedTransferCoding,
        Refusal(HTTPStatus.NOT_IMPLEMENTED, MALFORMED, "The only transfer coding taken is chunked."),
    ),
    (
        Exception,
        Refusal(HTTPStatus.BAD_REQUEST, MALFORMED, "This is not an HTTP request that the service reads."),
    ),
)
"""By gunicorn's exception; none of its messages is passed on, since they quote what was sent."""


def of_error(error: Exception) -> Refusal:
    """What to say of a request that cannot be read."""
    return next(refusal for kind, refusal in OF_ERRORS if isinstance(error, kind))


def overdue(time_max_s: float) -> Refusal:
    """What to say when a request took too long."""
    detail = f"The answer took more than {time_max_s:g} s; the service may be busy, or the request large."
    return Refusal(HTTPStatus.SERVICE_UNAVAILABLE, "overdue", detail, is_repeatable=True)


def answer(refusal: Refusal, identity: Identity, *, count: bool = True) -> bytes:
    """The bytes to send; the refusal is logged and counted unless the application will do so."""
    if count:
        note(refusal, identity)
    body = problems.Problem(refusal.status, refusal.slug, refusal.detail).document(identity.request_id)
    headers = {
        "Date": http_date(),
        "Connection": "close",
        **({"Retry-After": load.RETRY_AFTER_S} if refusal.is_repeatable else {}),
        **identity.headers,
        **access.HEADERS,
        "Content-Type": problems.MEDIA_TYPE,
        "Content-Length": len(body),
    }
    lines = [
        f"HTTP/1.1 {refusal.status.value} {refusal.status.phrase}",
        *(f"{name}: {value}" for name, value in headers.items()),
    ]
    return "\r\n".join(lines).encode("ascii") + b"\r\n\r\n" + body


def note(refusal: Refusal, identity: Identity | None = None) -> None:
    """Put it among the answers that the application counts and logs."""
    metrics.count_refused(refusal.status.value)
    if refusal is BUSY:
        metrics.SHED.inc()
    fields = {
        **(identity.fields if identity is not None else {}),
        "operation": "unread",
        "status": refusal.status.value,
        "outcome": refusal.outcome,
        "reason": refusal.slug,
    }
    logs.LOG.info("unread", extra={"fields": fields})

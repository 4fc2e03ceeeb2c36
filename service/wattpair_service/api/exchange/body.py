"""Reads a request's body as strict JSON: one object, UTF-8, no duplicate keys, no NaN, bounded depth."""

from __future__ import annotations

import json
from http import HTTPStatus
from math import inf
from typing import Any, NoReturn

from flask import Request
from werkzeug.exceptions import RequestEntityTooLarge

from wattpair_service.api.exchange.problems import Problem

DEPTH_MAX = 32


class _RefusedError(ValueError):
    """JSON that Python's parser accepts and this service refuses."""


def json_object(request: Request) -> dict[str, Any]:
    """The body as a dict. Raises a Problem that says what is wrong with it."""
    _require_plain_json(request)
    data = request.get_data()
    if len(data) > (request.content_length or 0) and len(data) >= (request.max_content_length or inf):
        # A body without Content-Length was cut off at the limit.
        raise RequestEntityTooLarge
    try:
        text = data.decode("utf-8")
        body = json.loads(text, object_pairs_hook=_without_duplicates, parse_constant=_refuse_constant)
    except UnicodeDecodeError as error:
        raise _malformed(f"The body is not UTF-8 at byte {error.start}.") from error
    except json.JSONDecodeError as error:
        raise _malformed(f"The body is not JSON at line {error.lineno}, column {error.colno}: {error.msg}.") from error
    except RecursionError as error:
        raise _malformed(f"The body is nested more than {DEPTH_MAX} levels deep.") from error
    except _RefusedError as error:
        raise _malformed(f"The body cannot be read: {error}.") from error
    except ValueError as error:
        # Python refuses to read integers of thousands of digits.
        raise _malformed("The body cannot be read: a number has too many digits.") from error
    if not isinstance(body, dict):
        raise _malformed("The body must be one JSON object.")
    if _depth(body) > DEPTH_MAX:
        raise _malformed(f"The body is nested more than {DEPTH_MAX} levels deep.")
    return body


def _require_plain_json(request: Request) -> None:
    """Raise a Problem where the headers announce something other than JSON, or a compressed body."""
    if request.mimetype != "application/json":
        raise Problem(
            HTTPStatus.UNSUPPORTED_MEDIA_TYPE,
            "unsupported-media-type",
            f"Content-Type is {request.mimetype or 'missing'}; send application/json.",
        )
    coding = request.headers.get("Content-Encoding", "").strip().lower()
    if coding not in ("", "identity"):
        # A compressed body can expand a thousandfold, and requests are too small to gain from compression.
        raise Problem(
            HTTPStatus.UNSUPPORTED_MEDIA_TYPE,
            "unsupported-media-type",
            f"Content-Encoding is {coding[:80]!r}; send the body uncompressed.",
            headers={"Accept-Encoding": "identity"},
        )


def _malformed(detail: str) -> Problem:
    return Problem(HTTPStatus.BAD_REQUEST, "malformed-json", detail)


def _without_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    result: dict[str, Any] = {}
    for key, value in pairs:
        if key in result:
            raise _RefusedError(f"the key {key[:80]!r} stands twice in one object")
        result[key] = value
    return result


def _refuse_constant(name: str) -> NoReturn:
    raise _RefusedError(f"{name} is not a JSON number")


def _depth(body: object) -> int:
    """Nesting of objects and arrays. Arrays of numbers, the bulk of a body, are not walked item by item."""
    deepest, waiting = 0, [(body, 1)]
    while waiting:
        value, level = waiting.pop()
        deepest = max(deepest, level)
        if deepest > DEPTH_MAX:
            break
        inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
        waiting += [(item, level + 1) for item in inner if type(item) in (dict, list)]
    return deepest

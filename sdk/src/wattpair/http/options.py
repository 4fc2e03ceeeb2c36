"""What every client is made with, checked before anything is sent."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from numbers import Real
from reprlib import repr as shortened
from typing import Any
from urllib.parse import urlsplit

from wattpair import codec
from wattpair._version import __version__
from wattpair.errors import Error

DEFAULT_TIMEOUT_S = (5.0, 60.0)
DEFAULT_RETRIES = 2
TIMEOUT_MOST_S = 86_400
"""A socket takes more, but who waits longer has mistaken the unit."""
PORT_MOST = 65_535
LABEL_LENGTH = 63
REQUEST_ID = "X-Request-ID"
HEADER_NAME = re.compile(r"[A-Za-z0-9!#$%&'*+.^_`|~-]+")
SET_BY_CALLS = frozenset({"accept", "content-type", "content-length", "transfer-encoding"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Exchange:
    """One attempt of a call, as a client's `on_exchange` is told of it.

    Attributes
    ----------
    verb, url : str
        HTTP method and address.
    request_id : str
        The id under which the service's log has the request.
    attempt : int
        1 for the first attempt of a call, 2 for its first repetition, and so on.
    elapsed_s : float
        How long it took [s].
    status : int or None
        HTTP status; None where no answer came.
    error : Error or None
        What went wrong, if anything.
    """

    verb: str
    url: str
    request_id: str
    attempt: int
    elapsed_s: float
    status: int | None
    error: Error | None


Hook = Callable[[Exchange], object]


@dataclass(frozen=True, slots=True)
class Options:
    """Checked options of a client."""

    base_url: str
    timeout: tuple[float, float]
    retries: int
    headers: Mapping[str, str]
    """Headers of every request, by their names in lower case."""
    on_exchange: Hook | None


def checked(
    base_url: object, api_key: object, timeout: object, retries: object, headers: object, on_exchange: Hook | None
) -> Options:
    """The options of a client; what each may be stands with `Client`, which hands them on."""
    if on_exchange is not None and not callable(on_exchange):
        raise TypeError(f"on_exchange: {codec.shown(on_exchange)} was given; allowed is a callable that takes an Exchange")
    return Options(
        _checked_url(base_url), _checked_timeout(timeout), _checked_retries(retries), _headers(api_key, headers), on_exchange
    )


def _checked_url(base_url: object) -> str:
    if not isinstance(base_url, str):
        raise TypeError(f"base_url: {codec.shown(base_url)} was given; allowed is a text")
    if any(mark in base_url for mark in "@?#"):
        # Its text is not shown: addresses stand in errors and logs, where a password must not.
        raise ValueError("base_url: allowed is scheme, host, port and path only; give credentials as api_key or in a session")
    if fault := _fault_of_address(base_url):
        raise ValueError(f'base_url: {base_url!r} was given, {fault}; allowed is an address such as "http://127.0.0.1:8080"')
    return base_url.rstrip("/")


def _fault_of_address(address: str) -> str:
    """What keeps an address from being one, in words; empty where nothing does."""
    if not address.isprintable() or " " in address:
        return "which has spaces or control characters in it"
    try:
        parts = urlsplit(address)
    except ValueError:
        return "whose host in brackets is no IPv6 address"
    if parts.scheme not in ("http", "https"):
        return "which does not begin with http:// or https://"
    if not parts.hostname:
        return "which names no host (an IPv6 address stands in brackets)"
    if not all(0 < len(label) <= LABEL_LENGTH for label in parts.hostname.removesuffix(".").split(".")):
        return f"a part of whose host is empty or longer than {LABEL_LENGTH} characters"
    try:
        port = parts.port
    except ValueError:
        port = 0
    return f"whose port is none from 1 to {PORT_MOST}" if port == 0 else ""


def _checked_timeout(timeout: object) -> tuple[float, float]:
    pair: tuple[Any, Any] = timeout if isinstance(timeout, tuple) and len(timeout) == 2 else (timeout, timeout)
    if any(isinstance(each, bool) or not isinstance(each, Real) for each in pair):
        raise TypeError(f"timeout: {codec.shown(timeout)} was given; allowed are seconds, or a pair (connect, read)")
    if not all(0 < each <= TIMEOUT_MOST_S for each in pair):
        raise ValueError(
            f"timeout: {shortened(timeout)} was given; allowed are seconds above 0 and at most {TIMEOUT_MOST_S}, a day"
        )
    return float(pair[0]), float(pair[1])


def _checked_retries(retries: object) -> int:
    if isinstance(retries, bool) or not isinstance(retries, int):
        raise TypeError(f"retries: {codec.shown(retries)} was given; allowed is a whole number")
    if retries < 0:
        raise ValueError(f"retries: {retries} was given; allowed is zero or more")
    return retries


def _headers(api_key: object, given: object) -> dict[str, str]:
    if given is not None and not isinstance(given, Mapping):
        raise TypeError(f"headers: {type(given).__name__} was given; allowed is a mapping of texts to texts")
    headers = {"user-agent": f"wattpair-python/{__version__}", "accept-encoding": "gzip"}
    if api_key is not None:
        headers["authorization"] = f"Bearer {_checked_key(api_key)}"
    for name, value in (given or {}).items():
        if not isinstance(name, str) or not isinstance(value, str):
            raise TypeError(f"headers: {name!r} has a value of type {type(value).__name__}; allowed are texts")
        _check_header(name, value)
        headers[name.lower()] = value
    return headers


def _checked_key(api_key: object) -> str:
    # Keys and headers are not shown: a secret must not end up in a log.
    if not isinstance(api_key, str):
        raise TypeError(f"api_key: {type(api_key).__name__} was given; allowed is a text")
    if api_key == "":
        raise ValueError("api_key: an empty text was given; leave it out where the service needs no key")
    if not _is_sendable(api_key) or " " in api_key:
        raise ValueError(
            "api_key: it has a space, a line's end or a character beyond ASCII in it; allowed is a key as the service's "
            "operator gave it (a line read from a file needs .strip())"
        )
    return api_key


def _check_header(name: str, value: str) -> None:
    if not HEADER_NAME.fullmatch(name):
        raise ValueError(f"headers: {name!r} is no name of a header; allowed are letters, digits and hyphens")
    if name.lower() in SET_BY_CALLS:
        raise ValueError(
            f"headers: {name!r} is set by each call itself, which knows the form of its body and its answer; leave it out "
            "(sheet_html, sheet_pdf and materials_csv ask for other forms than JSON)"
        )
    if not _is_sendable(value) or value != value.strip():
        raise ValueError(
            f"headers: {name!r} has spaces at an end, control characters such as a line's end, or characters beyond ASCII "
            "in its value"
        )


def _is_sendable(text: str) -> bool:
    return text.isascii() and text.isprintable()

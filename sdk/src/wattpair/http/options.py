"""What every client is made with, checked before anything is sent."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from numbers import Real
from pathlib import Path
from reprlib import repr as shortened
from typing import Any, TypedDict
from urllib.parse import urlsplit

from wattpair import codec
from wattpair._version import __version__
from wattpair.errors import Error

DEFAULT_TIMEOUT_S = (5.0, 60.0)
DEFAULT_RETRIES = 2
TIMEOUT_MOST_S = 86_400
"""A socket takes more, but who waits longer has mistaken the unit."""
LABEL_LENGTH = 63
"""Of a part of a host's name (RFC 1035, section 2.3.4)."""
REQUEST_ID = "X-Request-ID"
HEADER_NAME = re.compile(r"[A-Za-z0-9!#$%&'*+.^_`|~-]+")
SET_BY_CALLS = frozenset({"accept", "content-type", "content-length", "transfer-encoding"})


@dataclass(frozen=True, slots=True)
class Exchange:
    """One attempt of a call, as a client's `on_exchange` is told of it.

    `verb` and `url` are HTTP method and address; the service's log has the request under `request_id`. `attempt` is 1 for the
    first attempt of a call, 2 for its first repetition, and so on, which took `elapsed_s` seconds. `status` is the HTTP status,
    None where no answer came; `error` is what went wrong, if anything.
    """

    verb: str
    url: str
    request_id: str
    attempt: int
    elapsed_s: float
    status: int | None
    error: Error | None


Hook = Callable[[Exchange], object]


class RunOptions(TypedDict, total=False):
    """Options of a run of many calls; what each is stands with `Client.many`."""

    workers: int
    progress: bool
    resume: Path | str | None


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
    _check_type(on_exchange is None or callable(on_exchange), "on_exchange", on_exchange, "a callable that takes an Exchange")
    _check_type(isinstance(retries, int) and not isinstance(retries, bool), "retries", retries, "a whole number")
    if retries < 0:  # type: ignore[operator]
        raise ValueError(f"retries: {retries} was given; allowed is zero or more")
    sent = _headers(api_key, headers)
    return Options(_checked_url(base_url), _checked_timeout(timeout), retries, sent, on_exchange)  # type: ignore[arg-type]


def _check_type(is_right: bool, name: str, given: object, allowed: str) -> None:
    if not is_right:
        raise TypeError(f"{name}: {codec.shown(given)} was given; allowed is {allowed}")


def _checked_url(base_url: Any) -> str:
    _check_type(isinstance(base_url, str), "base_url", base_url, "a text")
    if any(mark in base_url for mark in "@?#"):
        # Its text is not shown: addresses stand in errors and logs, where a password must not.
        raise ValueError("base_url: allowed is scheme, host, port and path only; give credentials as api_key or in a session")
    try:
        if not base_url.startswith(("http://", "https://")):
            raise ValueError("it does not begin with http:// or https://")
        if not base_url.isprintable() or " " in base_url:
            raise ValueError("it has spaces or control characters in it")
        host = urlsplit(base_url).hostname or ""
        if urlsplit(base_url).port == 0 or not all(0 < len(part) <= LABEL_LENGTH for part in host.removesuffix(".").split(".")):
            raise ValueError("its host or port cannot be one")
    except ValueError as fault:
        allowed = 'an address such as "http://127.0.0.1:8080"'
        raise ValueError(f"base_url: {base_url!r} was given, but {fault}; allowed is {allowed}") from None
    return str(base_url).rstrip("/")


def _checked_timeout(timeout: Any) -> tuple[float, float]:
    pair = timeout if isinstance(timeout, tuple) and len(timeout) == 2 else (timeout, timeout)
    are_numbers = all(isinstance(each, Real) and not isinstance(each, bool) for each in pair)
    _check_type(are_numbers, "timeout", timeout, "a number of seconds, or a pair (connect, read)")
    if not all(0 < each <= TIMEOUT_MOST_S for each in pair):
        raise ValueError(
            f"timeout: {shortened(timeout)} was given; allowed are seconds above 0 and at most {TIMEOUT_MOST_S}, a day"
        )
    return float(pair[0]), float(pair[1])


def _headers(api_key: Any, given: Any) -> dict[str, str]:
    # Keys and headers are not shown: a secret must not end up in a log.
    headers = {"user-agent": f"wattpair-python/{__version__}", "accept-encoding": "gzip"}
    if api_key is not None:
        if not isinstance(api_key, str):
            raise TypeError(f"api_key: {type(api_key).__name__} was given; allowed is a text")
        if not api_key or not _is_sendable(api_key) or " " in api_key:
            raise ValueError(
                "api_key: it is empty, or has a space, a line's end or a character beyond ASCII in it; allowed is a key as the "
                "service's operator gave it (a line read from a file needs .strip())"
            )
        headers["authorization"] = f"Bearer {api_key}"
    if not isinstance(given, Mapping | None):
        raise TypeError(f"headers: {type(given).__name__} was given; allowed is a mapping of texts to texts")
    for name, value in (given or {}).items():
        if not isinstance(name, str) or not isinstance(value, str):
            raise TypeError(f"headers: {name!r} has a value of type {type(value).__name__}; allowed are texts")
        if not HEADER_NAME.fullmatch(name):
            raise ValueError(f"headers: {name!r} is no name of a header; allowed are letters, digits and hyphens")
        if name.lower() in SET_BY_CALLS:
            raise ValueError(f"headers: {name!r} is set by each call itself, which knows the form of its answer; leave it out")
        if not _is_sendable(value) or value != value.strip():
            raise ValueError(f"headers: {name!r} has spaces at an end, control or other characters than ASCII in its value")
        headers[name.lower()] = value
    return headers


def _is_sendable(text: str) -> bool:
    return text.isascii() and text.isprintable()

"""The client: one method for each operation of the service."""

from __future__ import annotations

import math
from collections.abc import Mapping
from numbers import Real
from types import TracebackType
from typing import Any, Self
from urllib.parse import urlsplit

import requests

from wattpair import codec
from wattpair.operations.bill_of_materials import BillOfMaterialsOperations
from wattpair.operations.circuits import CircuitsOperations
from wattpair.operations.clipping import ClippingOperations
from wattpair.operations.design import DesignOperations
from wattpair.operations.health import HealthOperations
from wattpair.operations.layout import LayoutOperations
from wattpair.operations.selection import SelectionOperations
from wattpair.operations.site_climate import SiteClimateOperations
from wattpair.operations.sizing import SizingOperations
from wattpair.transport import Transport

DEFAULT_TIMEOUT_S = (5.0, 60.0)
DEFAULT_RETRIES = 2


class Client(
    SiteClimateOperations,
    SizingOperations,
    ClippingOperations,
    SelectionOperations,
    LayoutOperations,
    CircuitsOperations,
    BillOfMaterialsOperations,
    DesignOperations,
    HealthOperations,
):
    """A client of the wattpair service.

    All operations are pure calculations, so that every call may be repeated: the client does so by itself when a connection
    fails or the service is busy (429, 502, 503, 504), after a random part of 0.5 s, 1 s, 2 s and so on up to 8 s, but not
    before the Retry-After of the answer. A Retry-After above 30 s is raised at once, and so is a timeout while the service
    computes.

    A client holds no state between calls but the connections of its session. Use one client for each thread: sessions of
    requests are not made to be shared.

    Parameters
    ----------
    base_url : str
        Address of the service with its scheme, such as "http://127.0.0.1:8080".
    timeout : float or tuple of float
        Seconds to wait for a connection, and for the answer between two of its bytes; one number stands for both.
    retries : int
        Further attempts after the first.
    session : requests.Session, optional
        A session of your own, for proxies, certificates or authentication; the client then does not close it.
    headers : mapping of str to str, optional
        Headers of every request, such as Authorization. X-Request-ID, if not among them, is made anew for each call.

    Raises
    ------
    ValueError
        `base_url` is not an http address, `timeout` is not above zero, `retries` is below zero, or a header cannot be sent.
    TypeError
        An argument of a wrong type.

    Examples
    --------
    >>> from wattpair import Client, FaceCount
    >>> with Client("http://127.0.0.1:8080") as client:  # doctest: +SKIP
    ...     bill = client.list_materials(
    ...         faces=[FaceCount(name="south", module_count=8)],
    ...         unit_ac_current_a=1.5,
    ...         module_mass_kg=21.3,
    ...         unit_mass_kg=1.1,
    ...     )
    """

    def __init__(
        self,
        base_url: str,
        *,
        timeout: float | tuple[float, float] = DEFAULT_TIMEOUT_S,
        retries: int = DEFAULT_RETRIES,
        session: requests.Session | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> None:
        if session is not None and not isinstance(session, requests.Session):
            raise TypeError(f"session: {codec.shown(session)} was given; allowed is a requests.Session")
        self._session = session or requests.Session()
        self._owns_session = session is None
        self._transport = Transport(
            _checked_url(base_url),
            timeout=_checked_timeout(timeout),
            retries=_checked_retries(retries),
            session=self._session,
            headers=_checked_headers(headers or {}),
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Close the client's own session; one that was given stays open."""
        if self._owns_session:
            self._session.close()


def _checked_url(base_url: str) -> str:
    if not isinstance(base_url, str):
        raise TypeError(f"base_url: {codec.shown(base_url)} was given; allowed is a text")
    parts = urlsplit(base_url)
    if "@" in parts.netloc or parts.query or parts.fragment:
        # Its text is not shown: addresses stand in errors and logs, where a password must not.
        raise ValueError("base_url: allowed is scheme, host, port and path only; give credentials in headers or a session")
    # Reading an impossible port raises ValueError by itself.
    if parts.scheme not in ("http", "https") or not parts.hostname or parts.port == 0:
        raise ValueError(f'base_url: {base_url!r} was given; allowed is an address such as "http://127.0.0.1:8080"')
    return base_url.rstrip("/")


def _checked_timeout(timeout: object) -> tuple[float, float]:
    pair: tuple[Any, Any] = timeout if isinstance(timeout, tuple) and len(timeout) == 2 else (timeout, timeout)
    for each in pair:
        if isinstance(each, bool) or not isinstance(each, Real):
            raise TypeError(f"timeout: {codec.shown(timeout)} was given; allowed are seconds, or a pair (connect, read)")
        if not 0.0 < float(each) < math.inf:
            raise ValueError(f"timeout: {timeout!r} was given; allowed are finite seconds above zero")
    return float(pair[0]), float(pair[1])


def _checked_retries(retries: object) -> int:
    if isinstance(retries, bool) or not isinstance(retries, int):
        raise TypeError(f"retries: {codec.shown(retries)} was given; allowed is a whole number")
    if retries < 0:
        raise ValueError(f"retries: {retries} was given; allowed is zero or more")
    return retries


def _checked_headers(headers: Mapping[str, str]) -> dict[str, str]:
    # Values are not shown: a token, often read with the end of its line, must not end up in a log.
    for name, value in headers.items():
        if not isinstance(name, str) or not isinstance(value, str):
            raise TypeError(f"headers: {name!r} has a value of type {type(value).__name__}; allowed are texts")
        if not value.isprintable() or value != value.strip():
            raise ValueError(f"headers: {name!r} has spaces at an end or control characters in its value, such as a line's end")
    return dict(headers)

"""Chooses the media type of a response by the Accept header (RFC 9110, 12.5.1)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from http import HTTPStatus

from flask import Request
from werkzeug.datastructures import MIMEAccept

from wattpair_service.api.exchange.problems import Problem

NOT_ACCEPTABLE = "not-acceptable"


def media_type_for(request: Request, forms: Mapping[str, Callable[[], bool]]) -> str:
    """The media type to respond with: the first of those that Accept ranks highest; without Accept, the first of all.

    Parameters
    ----------
    forms : mapping of str to callable
        Media types, the default first, each with a function that says whether its libraries are installed.

    Raises
    ------
    Problem
        406: Accept allows none of those whose libraries are installed.
    """
    accept = request.headers.get("Accept", "").strip()
    if not accept:
        return next(iter(forms))
    # Every form is offered in one variant only: parameters such as charset=utf-8 need not match.
    ranges = MIMEAccept([(each.partition(";")[0].strip(), quality) for each, quality in request.accept_mimetypes])
    preferred = ranges.best_match(forms)
    if preferred is not None and forms[preferred]():
        return preferred
    available = [form for form, is_available in forms.items() if is_available()]
    found = ranges.best_match(available)
    if found is not None:
        return found
    detail = f"Accept is {accept[:80]!r}; offered are {', '.join(available)}."
    if missing := [form for form in forms if form not in available]:
        detail += f" {', '.join(missing)} needs a library that is not installed here: the service's extra `pdf`."
    raise Problem(HTTPStatus.NOT_ACCEPTABLE, NOT_ACCEPTABLE, detail, headers={"Vary": "Accept"})

"""Which form of an answer a request asks for, by its Accept header (RFC 9110, 12.5.1)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from http import HTTPStatus

from flask import Request
from werkzeug.datastructures import MIMEAccept

from wattpair_service.api.exchange.problems import Problem

NOT_ACCEPTABLE = "not-acceptable"


def wanted(request: Request, forms: Mapping[str, Callable[[], bool]]) -> str:
    """The media type to answer with: the first of the best liked; the first of all where the request does not say.

    Parameters
    ----------
    forms : mapping of str to callable
        Media types, the usual one first, each with whether what it needs is installed. That is asked only where it matters.

    Raises
    ------
    Problem
        406: none of those that can be had is asked for.
    """
    asked = request.headers.get("Accept", "").strip()
    if not asked:
        return next(iter(forms))
    # Every form is offered in one variant only: parameters such as charset=utf-8 need not match.
    ranges = MIMEAccept([(each.partition(";")[0].strip(), quality) for each, quality in request.accept_mimetypes])
    liked = ranges.best_match(forms)
    if liked is not None and forms[liked]():
        return liked
    there = [form for form, installed in forms.items() if installed()]
    found = ranges.best_match(there)
    if found is not None:
        return found
    detail = f"Accept is {asked[:80]!r}; offered are {', '.join(there)}."
    if missing := [form for form in forms if form not in there]:
        detail += f" {', '.join(missing)} needs a library that is not installed here: the service's extra `pdf`."
    raise Problem(HTTPStatus.NOT_ACCEPTABLE, NOT_ACCEPTABLE, detail, headers={"Vary": "Accept"})

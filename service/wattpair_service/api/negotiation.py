"""Which form of an answer a request asks for, by its Accept header (RFC 9110, 12.5.1)."""

from __future__ import annotations

from collections.abc import Sequence
from http import HTTPStatus

from flask import Request
from werkzeug.datastructures import MIMEAccept

from wattpair_service.api.problems import Problem

NOT_ACCEPTABLE = "not-acceptable"


def wanted(request: Request, offered: Sequence[str], missing: Sequence[str] = ()) -> str:
    """The media type to answer with: the first of the best liked; the first of all where the request does not say.

    Parameters
    ----------
    offered : sequence of str
        Media types that can be had, the usual one first.
    missing : sequence of str
        Those that could be had with what is not installed here.

    Raises
    ------
    Problem
        406: none of them is asked for.
    """
    asked = request.headers.get("Accept", "").strip()
    if not asked:
        return offered[0]
    # Every form is offered in one variant only: parameters such as charset=utf-8 need not match.
    ranges = MIMEAccept([(each.partition(";")[0].strip(), quality) for each, quality in request.accept_mimetypes])
    found = ranges.best_match(offered)
    if found is None:
        detail = f"Accept is {asked[:80]!r}; offered are {', '.join(offered)}."
        if missing:
            detail += f" {', '.join(missing)} needs a library that is not installed here: the service's extra `pdf`."
        raise Problem(HTTPStatus.NOT_ACCEPTABLE, NOT_ACCEPTABLE, detail, headers={"Vary": "Accept"})
    return found

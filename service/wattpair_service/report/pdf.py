"""The sheet as PDF, from the same HTML, without a browser."""

from __future__ import annotations

import re
from functools import cache
from importlib.util import find_spec
from typing import Any


@cache
def available() -> bool:
    """Whether the PDF writer and its system libraries are installed."""
    if find_spec("weasyprint") is None:
        return False
    try:
        import weasyprint  # noqa: F401
    except OSError:
        return False
    return True


class PdfError(ValueError):
    """A page that the PDF writer cannot lay out."""


def as_pdf(html: str) -> bytes:
    """A page as PDF with tags for screen readers (PDF/UA-1).

    Nothing is fetched: what is not in the page is not in the PDF.

    Raises
    ------
    PdfError
        The writer fails on this page.
    """
    from weasyprint import HTML

    try:
        document = HTML(string=_with_alternatives(html), url_fetcher=_fetcher()).render()
        # A fixed identifier: the same page gives the same file.
        return bytes(document.write_pdf(pdf_identifier=b"wattpair", pdf_variant="pdf/ua-1"))
    except Exception as error:  # the writer has no common base class of its errors
        raise PdfError(f"{type(error).__name__}: {error}") from error


_ALTERNATIVE = re.compile(r"</title><desc[^>]*>([^<]*)</desc>")


def _with_alternatives(html: str) -> str:
    """Append each drawing's description to its title: the PDF writer uses only the title as text alternative."""
    return _ALTERNATIVE.sub(r". \1</title>", html)


def _fetcher() -> Any:
    from weasyprint.urls import URLFetcher

    return URLFetcher(allowed_protocols=["data"])

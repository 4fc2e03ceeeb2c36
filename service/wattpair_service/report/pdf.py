"""The sheet as PDF, from the same HTML, without a browser."""

from __future__ import annotations

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


def as_pdf(html: str) -> bytes:
    """A page as PDF. Nothing is fetched: what is not in the page is not in the PDF."""
    from weasyprint import HTML

    document = HTML(string=html, url_fetcher=_fetcher()).render()
    # Without a clock: the same page is the same file.
    return bytes(document.write_pdf(pdf_identifier=b"wattpair"))


def _fetcher() -> Any:
    from weasyprint.urls import URLFetcher

    return URLFetcher(allowed_protocols=["data"])

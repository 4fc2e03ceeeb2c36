"""The harness sees what it is there to see: each of these pages is at fault, and is found out."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.browser.visit import Visit, visiting

pytestmark = pytest.mark.release

HEAD = "<!doctype html><html lang='en'><head><meta charset='utf-8'><title>A page</title>"
MAIN = "</head><body style='background:#fff'><main><h1>One</h1>"
COMPLAINS, ELSEWHERE, NOT_EVERYBODY = "complains", "asks elsewhere", "not everybody"


def test_a_page_without_fault_passes(visit: Visit) -> None:
    visit.show(f"{HEAD}{MAIN}<p>Text</p></main></body></html>")
    visit.require_accessible()
    visit.screenshots("plain")
    names = {each.name for each in visit.folder.glob("plain-*.png")}
    assert names == {"plain-wide.png", "plain-narrow.png", "plain-print.png"}
    assert visit.printed("plain") == 1
    assert len(visit.requests) == 1


@pytest.mark.parametrize(
    ("markup", "found"),
    [
        ("<script>console.error('no')</script>", COMPLAINS),
        ("<script>console.warn('no')</script>", COMPLAINS),
        ("<script>throw new Error('no')</script>", COMPLAINS),
        ("<script>Promise.reject(new Error('no'))</script>", COMPLAINS),
        ("<img alt='' src='https://example.org/a.png'>", ELSEWHERE),
        ("<link rel='stylesheet' href='http://192.0.2.1/a.css'>", ELSEWHERE),
        ("<img alt='' src='http://127.0.0.1:9/a.png'>", ELSEWHERE),
        ("<script>new WebSocket('wss://example.org/a')</script>", ELSEWHERE),
        ("<img alt='' src='beside.png'>", ELSEWHERE),
        ("<img src='data:image/gif;base64,R0lGODlhAQABAAAAACw='>", NOT_EVERYBODY),
        ("<p style='color:#ccc'>pale</p>", NOT_EVERYBODY),
        ("<meta name='viewport' content='width=device-width'><div style='width:600px'>.</div>", "wide in a window"),
    ],
)
def test_a_fault_is_seen(browser: Browser, service_url: str, tmp_path: Path, markup: str, found: str) -> None:
    with visiting(browser, service_url, tmp_path) as faulty:
        requirement = {
            COMPLAINS: faulty.require_quiet,
            ELSEWHERE: faulty.require_quiet,
            NOT_EVERYBODY: faulty.require_accessible,
        }.get(found, lambda: faulty.screenshots("wide"))
        faulty.show(f"{HEAD}{MAIN}{markup}</main></body></html>")
        # The browser tells of what a page did when it comes to it, which on a busy machine takes longer than a look.
        with pytest.raises(AssertionError, match=found):
            repeated(requirement)


def repeated(requirement: Callable[[], None], seconds: float = 10.0) -> None:
    """Ask again and again, until it fails or the time is over."""
    last = time.monotonic() + seconds
    while time.monotonic() < last:
        requirement()


def test_printed_pages_are_counted(visit: Visit) -> None:
    visit.show(f"{HEAD}</head><body>{'<p style=break-after:page>A page</p>' * 2}<p>The last</p></body></html>")
    assert (visit.printed("three"), visit.printed("three", "Letter")) == (3, 3)

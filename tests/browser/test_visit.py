"""The harness sees what it is there to see: each of these pages is at fault, and is found out."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.browser.visit import Visit, visiting

pytestmark = pytest.mark.release

HEAD = "<!doctype html><html lang='en'><head><meta charset='utf-8'><title>A page</title>"


@pytest.fixture
def faulty(browser: Browser, service_url: str, tmp_path: Path) -> Iterator[Visit]:
    """A page that may misbehave."""
    with visiting(browser, service_url, tmp_path) as opened:
        yield opened


def test_a_page_without_fault_passes(visit: Visit) -> None:
    visit.show(f"{HEAD}</head><body><main><h1>One</h1><p>Text</p></main></body></html>")
    visit.require_accessible()
    visit.screenshots("plain")
    assert {each.name for each in visit.folder.glob("plain-*.png")} == {
        "plain-wide.png", "plain-narrow.png", "plain-print.png",
    }  # fmt: skip
    assert visit.printed("plain") == 1
    assert len(visit.requests) == 1


@pytest.mark.parametrize(
    "script",
    ["console.error('no')", "console.warn('no')", "throw new Error('no')", "Promise.reject(new Error('no'))"],
)
def test_a_complaint_is_seen(faulty: Visit, script: str) -> None:
    faulty.show(f"{HEAD}</head><body><script>{script}</script></body></html>")
    with pytest.raises(AssertionError, match="complains"):
        faulty.require_quiet()


@pytest.mark.parametrize(
    "markup",
    [
        "<img alt='' src='https://example.org/a.png'>",
        "<link rel='stylesheet' href='http://192.0.2.1/a.css'>",
        "<img alt='' src='http://127.0.0.1:9/a.png'>",
        "<script>new WebSocket('wss://example.org/a')</script>",
        "<img alt='' src='beside.png'>",
    ],
)
def test_a_request_elsewhere_is_seen(faulty: Visit, markup: str) -> None:
    faulty.show(f"{HEAD}</head><body>{markup}</body></html>")
    with pytest.raises(AssertionError, match="asks elsewhere"):
        faulty.require_quiet()


@pytest.mark.parametrize("markup", ["<img src='data:image/gif;base64,R0lGODlhAQABAAAAACw='>", "<p style='color:#ccc'>pale</p>"])
def test_what_not_everybody_can_use_is_seen(faulty: Visit, markup: str) -> None:
    faulty.show(f"{HEAD}</head><body style='background:#fff'><main><h1>One</h1>{markup}</main></body></html>")
    with pytest.raises(AssertionError, match="not everybody"):
        faulty.require_accessible()


def test_what_sticks_out_is_seen(faulty: Visit) -> None:
    faulty.show(
        f"{HEAD}<meta name='viewport' content='width=device-width'></head><body><div style='width:600px'>.</div></body></html>"
    )
    with pytest.raises(AssertionError, match="wide in a window"):
        faulty.screenshots("wide")


def test_printed_pages_are_counted(visit: Visit) -> None:
    visit.show(f"{HEAD}</head><body>{'<p style=break-after:page>A page</p>' * 2}<p>The last</p></body></html>")
    assert (visit.printed("three"), visit.printed("three", "Letter")) == (3, 3)

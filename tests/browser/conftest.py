"""A headless Chromium and the real service. See `visit.py` for what a test can ask of a page.

`SCREENSHOTS_FOLDER=FOLDER pytest tests/browser` keeps the screenshots and prints in FOLDER.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.browser.visit import Visit, visiting

ONLY_THIS_MACHINE = "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"
"""Nothing that a page asks for can leave this machine, also where the machine has a network."""


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """Chromium; its absence is a failure, not a reason to skip.

    For this folder alone: while it is open an event loop runs, in which no other test could start one.
    """
    program = shutil.which("chromium")
    assert program is not None, "chromium is not installed; on Debian: apt-get install chromium"
    with sync_playwright() as playwright:
        # Chromium's own sandbox does not work for root, as whom the gate runs; the pages are our own.
        opened = playwright.chromium.launch(executable_path=program, chromium_sandbox=False, args=[ONLY_THIS_MACHINE])
        yield opened
        opened.close()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Where screenshots and prints go."""
    kept = Path(os.environ.get("SCREENSHOTS_FOLDER", tmp_path))
    kept.mkdir(parents=True, exist_ok=True)
    return kept


@pytest.fixture
def visit(browser: Browser, service_url: str, folder: Path) -> Iterator[Visit]:
    """A page of the service, in a wide window; the test fails if it complains or asks elsewhere."""
    with visiting(browser, service_url, folder) as opened:
        yield opened
        opened.require_quiet()

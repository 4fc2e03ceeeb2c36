"""One page in Chromium, everything that it did, and what is asked of every page of this product."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal

import requests
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, ConsoleMessage, Page, Response

from tests.contract.bodies import PATHS, Body, example

PAPERS: tuple[Literal["A4", "Letter"], ...] = ("A4", "Letter")
SCREENS = {"wide": (1280, 800), "narrow": (390, 844)}
"""Windows in which a page is looked at: width and height [px]."""
A4_PX = (794, 1123)
"""A sheet of A4 at 96 px to the inch."""
REFUSED_IMPACTS = ("serious", "critical")
INSIDE_THE_PAGE = ("data:", "blob:", "about:")
"""Addresses behind which there is no host."""


class Visit:
    """A page, with records of what it said and asked for.

    Attributes
    ----------
    page : Page
        Playwright's page, for everything that this class does not offer.
    messages : list of str
        Warnings and errors on the console, and exceptions that nothing caught.
    requests : list of str
        Addresses that the page asked for, its own first.
    """

    def __init__(self, page: Page, service_url: str, folder: Path) -> None:
        self.page = page
        self.service_url = service_url
        self.folder = folder
        self.messages: list[str] = []
        self.requests: list[str] = []
        self._allowed = f"{service_url}/"
        page.context.on("request", lambda request: self.requests.append(request.url))
        page.context.on("console", self._on_console)
        page.on("websocket", lambda websocket: self.requests.append(websocket.url))
        page.on("pageerror", lambda error: self.messages.append(f"exception: {error}"))

    def open(self, path: str) -> Response:
        """Open a path of the service, and wait until the page is at rest."""
        response = self.page.goto(self.service_url + path, wait_until="networkidle")
        assert response is not None, f"{path} was not answered"
        return response

    def show(self, html: str) -> None:
        """Show a page as one gets it by e-mail: from a file, without a network; it may ask for nothing."""
        file = self.folder / "page.html"
        file.write_text(html, encoding="utf-8")
        self._allowed = file.as_uri()
        self.page.context.set_offline(True)
        self.page.goto(self._allowed, wait_until="load")

    def require_quiet(self) -> None:
        """No request to anywhere but the service, no warning and no error."""
        self.page.evaluate("new Promise(done => setTimeout(done, 20))")
        elsewhere = [url for url in self.requests if not url.startswith((self._allowed, *INSIDE_THE_PAGE))]
        assert not elsewhere, f"the page asks elsewhere: {elsewhere}"
        assert not self.messages, f"the page complains: {self.messages}"

    def require_accessible(self) -> None:
        """Nothing that axe-core calls serious or critical, as the page stands now."""
        found: list[dict[str, Any]] = Axe().run(self.page).response["violations"]
        refused = [_described(each) for each in found if each["impact"] in REFUSED_IMPACTS]
        assert not refused, f"not everybody can use the page: {refused}"

    def require_fit(self) -> None:
        """Nothing sticks out of the window to the right."""
        wide, window = self.page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
        assert wide <= window, f"the page is {wide} px wide in a window of {window} px"

    def screenshots(self, name: str) -> None:
        """Write NAME-wide.png, NAME-narrow.png and NAME-print.png, and require that the page fits both windows."""
        for screen, (width, height) in SCREENS.items():
            self.page.set_viewport_size({"width": width, "height": height})
            self.require_fit()
            self.page.screenshot(path=self.folder / f"{name}-{screen}.png", full_page=True)
        self.page.emulate_media(media="print")
        self.page.set_viewport_size({"width": A4_PX[0], "height": A4_PX[1]})
        self.page.screenshot(path=self.folder / f"{name}-print.png", full_page=True)
        self.page.emulate_media(media="null")

    def printed(self, name: str, paper: Literal["A4", "Letter"] = "A4") -> int:
        """Write NAME-PAPER.pdf as a printer would get it; returns the number of its pages."""
        pdf = self.page.pdf(
            path=self.folder / f"{name}-{paper}.pdf", format=paper, print_background=True, prefer_css_page_size=False
        )
        return len(re.findall(rb"/Type\s*/Page\b", pdf))

    def _on_console(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning", "assert"):
            self.messages.append(f"{message.type}: {message.text}")


@contextmanager
def visiting(browser: Browser, service_url: str, folder: Path) -> Iterator[Visit]:
    """A fresh page that shares nothing with another."""
    width, height = SCREENS["wide"]
    context = browser.new_context(
        viewport={"width": width, "height": height}, service_workers="block", locale="en-GB", timezone_id="UTC"
    )
    try:
        yield Visit(context.new_page(), service_url, folder)
    finally:
        context.close()


def answer(service_url: str, operation_id: str) -> dict[str, Any]:
    """What the service answers to an example."""
    response = requests.post(service_url + PATHS[operation_id], json=example(operation_id), timeout=60)
    response.raise_for_status()
    return dict(response.json())


def sheet(service_url: str, body: Body, **wishes: object) -> str:
    """The sheet of a design from the running service."""
    body = body | {"sheet": body.get("sheet", {}) | wishes}
    response = requests.post(f"{service_url}/v1/design", json=body, headers={"Accept": "text/html"}, timeout=60)
    assert response.status_code == 200, response.text
    return response.text


def _described(violation: dict[str, Any]) -> str:
    places = [" ".join(map(str, node["target"])) for node in violation["nodes"]]
    return f"{violation['impact']}: {violation['help']} ({violation['id']}) at {places}"

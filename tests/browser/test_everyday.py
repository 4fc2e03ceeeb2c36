"""One visit of each page; the other files here ask more of them before releases."""

from __future__ import annotations

import json

from playwright.sync_api import expect

from tests.browser.visit import Visit, sheet
from tests.contract.bodies import example
from tests.sheet_cases import hostile_design
from wattpair_service.api.contract import contract


def test_the_first_page_says_what_this_is(visit: Visit) -> None:
    visit.open("/")
    expect(visit.page.locator("h1")).to_contain_text("Which microinverter goes with which module")
    assert json.loads(visit.page.locator("#request").inner_text()) == example("design_roof")
    visit.require_accessible()
    visit.screenshots("home")
    assert visit.printed("home") >= 1


def test_the_api_page_lists_every_operation(visit: Visit) -> None:
    visit.open("/docs")
    expect(visit.page.locator(".opblock").first).to_be_visible()
    shown = visit.page.locator(".opblock-summary-path").evaluate_all("found => found.map(each => each.dataset.path)")
    assert shown == list(contract.document()["paths"])
    visit.require_accessible()
    visit.screenshots("docs")


def test_no_text_of_a_request_runs_in_the_sheet(visit: Visit) -> None:
    visit.show(sheet(visit.service_url, hostile_design()))
    assert visit.page.evaluate("typeof window.hit") == "undefined"
    assert visit.page.locator("script, iframe").count() == 0
    assert visit.page.locator("h1").is_visible()
    visit.require_accessible()
    visit.screenshots("sheet-hostile")

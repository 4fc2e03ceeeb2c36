"""The API page in Chromium."""

from __future__ import annotations

import json

from playwright.sync_api import Locator, expect

from tests.browser.test_home import answer
from tests.browser.visit import Visit
from wattpair_service.api import contract


def opened(visit: Visit, operation: str) -> Locator:
    """An operation of the page, opened by its address."""
    visit.open(f"/docs#operations-{operation}")
    block = visit.page.locator(f"#operations-{operation}")
    expect(block.get_by_role("button", name="Try it out")).to_be_visible()
    return block


def test_it_lists_every_operation(visit: Visit) -> None:
    visit.open("/docs")
    expect(visit.page.locator(".opblock").first).to_be_visible()
    shown = visit.page.locator(".opblock-summary-path").evaluate_all("found => found.map(each => each.dataset.path)")
    assert shown == list(contract.document()["paths"])
    visit.require_accessible()
    visit.screenshots("docs")


def test_an_operation_can_be_tried_out(visit: Visit) -> None:
    block = opened(visit, "pairing-compute_clipping")
    block.get_by_role("button", name="Try it out").click()
    visit.require_accessible()
    block.get_by_role("button", name="Execute").click()
    live = block.locator(".live-responses-table tbody")
    expect(live.locator(".response-col_status").first).to_have_text("200")
    assert json.loads(live.locator("pre").first.inner_text()) == answer(visit.service_url, "/v1/clipping", "compute_clipping")
    assert visit.requests[-1] == f"{visit.service_url}/v1/clipping"
    visit.require_accessible()
    visit.screenshots("docs-tried")


def test_an_operation_that_is_read_can_be_tried_out(visit: Visit) -> None:
    block = opened(visit, "service-check_ready")
    block.get_by_role("button", name="Try it out").click()
    block.get_by_role("button", name="Execute").click()
    expect(block.locator(".live-responses-table tbody .response-col_status").first).to_have_text("200")
    visit.require_accessible()


def test_everything_unfolded_is_accessible(visit: Visit) -> None:
    visit.open("/docs")
    controls = visit.page.locator(".opblock-summary-control")
    expect(controls.first).to_be_visible()
    for control in controls.all():
        control.click()
    visit.page.locator(".models-control").first.click()
    expect(visit.page.locator(".models article").first).to_be_visible()
    visit.require_accessible()

"""The API page in Chromium."""

from __future__ import annotations

import json

import pytest
from playwright.sync_api import Locator, expect

from tests.browser.visit import Visit, answer

pytestmark = pytest.mark.release


def try_out(visit: Visit, operation: str) -> Locator:
    """Open an operation of the page by its address, send its example, and give the row of the answer."""
    visit.open(f"/docs#operations-{operation}")
    block = visit.page.locator(f"#operations-{operation}")
    block.get_by_role("button", name="Try it out").click()
    visit.require_accessible()
    block.get_by_role("button", name="Execute").click()
    live = block.locator(".live-responses-table tbody")
    expect(live.locator(".response-col_status").first).to_have_text("200")
    visit.require_accessible()
    return live


def test_a_calculation_can_be_tried_out(visit: Visit) -> None:
    live = try_out(visit, "pairing-compute_clipping")
    assert json.loads(live.locator("pre").first.inner_text()) == answer(visit.service_url, "compute_clipping")
    assert visit.requests[-1] == f"{visit.service_url}/v1/clipping"
    visit.screenshots("docs-tried")


def test_an_operation_that_is_read_can_be_tried_out(visit: Visit) -> None:
    try_out(visit, "service-check_ready")


def test_everything_unfolded_is_accessible(visit: Visit) -> None:
    visit.open("/docs")
    controls = visit.page.locator(".opblock-summary-control")
    expect(controls.first).to_be_visible()
    for control in controls.all():
        control.click()
    visit.page.locator(".models-control").first.click()
    expect(visit.page.locator(".models article").first).to_be_visible()
    visit.require_accessible()

"""The first page in Chromium."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from urllib.request import urlopen

import pytest
from playwright.sync_api import Route, expect

from tests.browser.visit import SCREENS, Visit, answer
from tests.contract.bodies import changed, example

pytestmark = pytest.mark.release


def send(visit: Visit, request: str | None = None) -> None:
    """Press the page's button, with another request in its place."""
    visit.open("/")
    if request is not None:
        visit.page.evaluate("text => { document.getElementById('request').textContent = text }", request)
    visit.page.get_by_role("button", name="Send this request").click()


def test_the_example_is_sent_and_its_answer_shown(visit: Visit) -> None:
    send(visit)
    expect(visit.page.locator("#status")).to_contain_text("200 OK")
    answered = answer(visit.service_url, "design_roof")
    shown = visit.page.locator("#answer")
    expect(shown.locator(".verdict")).to_have_text(answered["selection"]["recommendation"]["sentence"])
    assert shown.locator("h4").all_inner_texts()[:-1] == [
        *(f"{each['rank']}. {each['microinverter']}" for each in answered["selection"]["candidates"]),
        answered["built"]["sentence"],
    ]
    reason = answered["selection"]["candidates"][0]["reasons"][0]
    expect(shown.locator(".candidate p").first).to_contain_text(f"{reason['value']:.1f} V, limit {reason['limit']:.1f} V")
    expect(shown).to_contain_text(f"{float(answered['bill_of_materials']['prices']['total']):,.2f} EUR")
    assert shown.locator("li").all_inner_texts() == [each["text"] for each in answered["cautions"]]
    shown.locator("summary").click()
    assert json.loads(shown.locator("details pre").inner_text()) == answered
    visit.require_accessible()
    visit.screenshots("home-answered")


def test_no_value_is_parted_from_its_unit_in_a_narrow_window(visit: Visit) -> None:
    send(visit)
    expect(visit.page.locator("#status")).to_contain_text("200 OK")
    width, height = SCREENS["narrow"]
    visit.page.set_viewport_size({"width": width, "height": height})
    lines = visit.page.evaluate(
        """() => [...document.querySelectorAll("#answer dd")].map(each => {
            const text = document.createRange();
            text.selectNodeContents(each);
            return text.getClientRects().length;
        })"""
    )
    assert set(lines) == {1}
    visit.require_fit()


def test_what_fails_has_no_rank(visit: Visit) -> None:
    field = "/candidates/{}/microinverter/dc_short_circuit_current_max_a"
    send(visit, json.dumps(changed(example("design_roof"), {field.format(index): 13 for index in (0, 1)})))
    shown = visit.page.locator("#answer")
    expect(shown.locator("h4").first).to_have_text("Unit 300")
    expect(shown).to_contain_text("fail: short circuit current")
    expect(shown).to_contain_text("Nothing is built")
    assert "null" not in shown.locator(".candidates").inner_text()


def test_a_refused_request_shows_what_is_wrong(visit: Visit) -> None:
    send(visit, '{"site": "<b>here</b>"}')
    expect(visit.page.locator("#status")).to_contain_text("422")
    expect(visit.page.locator("#answer > p")).to_contain_text("fields are not as allowed")
    expect(visit.page.locator("#answer b")).to_have_count(0)
    visit.page.locator("#answer summary").click()
    expect(visit.page.locator("#answer pre")).to_contain_text("<b>here</b>")
    visit.page.wait_for_timeout(50)
    assert [message for message in visit.messages if "422" not in message] == []
    visit.messages.clear()


@pytest.mark.parametrize(
    "fails", [Route.abort, lambda route: route.fulfill(status=502, body="<h1>Bad gateway</h1>")], ids=["no answer", "502"]
)
def test_a_service_that_is_gone_is_said_to_be_gone(visit: Visit, fails: Callable[[Route], None]) -> None:
    visit.page.route("**/v1/design", lambda route: fails(route))
    send(visit)
    expect(visit.page.locator("#status")).to_contain_text("The response cannot be read")
    expect(visit.page.get_by_role("button", name="Send this request")).to_be_enabled()
    visit.page.wait_for_timeout(50)
    visit.messages.clear()


def test_its_links_lead_somewhere(visit: Visit) -> None:
    visit.open("/")
    links = visit.page.evaluate("[...document.querySelectorAll('a[href]')].map(link => link.href)")
    assert len(links) > 15
    for link in links:
        assert link.startswith(visit.service_url)
        with urlopen(link) as response:
            assert response.status == 200


def test_its_commands_run_as_they_stand(visit: Visit) -> None:
    visit.open("/")
    commands = visit.page.locator("#curl").inner_text()
    done = subprocess.run(["bash", "-c", commands], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == answer(visit.service_url, "compute_clipping")


def test_its_python_runs_as_it_stands(visit: Visit) -> None:
    visit.open("/")
    program = visit.page.locator("#python").inner_text()
    done = subprocess.run([sys.executable, "-W", "error", "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    totals = answer(visit.service_url, "compute_clipping")["totals"]
    assert done.stdout.splitlines() == [
        f"{each['microinverter']}: clipped {each['clipped_share']['value']:.1%}" for each in totals
    ]

"""The first page in Chromium."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any
from urllib.request import Request, urlopen

import pytest
from playwright.sync_api import Route, expect

from tests.browser.visit import Visit
from tests.contract.bodies import changed, example


def answer(service_url: str, path: str, operation_id: str) -> dict[str, Any]:
    """What the service answers to an example."""
    body = json.dumps(example(operation_id)).encode()
    with urlopen(Request(service_url + path, body, {"Content-Type": "application/json"})) as response:
        return dict(json.load(response))


def test_it_says_what_this_is(visit: Visit) -> None:
    visit.open("/")
    expect(visit.page.locator("h1")).to_contain_text("Which microinverter goes with which module")
    assert json.loads(visit.page.locator("#request").inner_text()) == example("design_roof")
    visit.require_accessible()
    visit.screenshots("home")
    assert visit.printed("home") >= 1


def test_the_example_is_sent_and_its_answer_shown(visit: Visit) -> None:
    visit.open("/")
    visit.page.get_by_role("button", name="Send this request").click()
    expect(visit.page.locator("#status")).to_contain_text("200 OK")
    said = answer(visit.service_url, "/v1/design", "design_roof")
    shown = visit.page.locator("#answer")
    expect(shown.locator(".verdict")).to_have_text(said["selection"]["recommendation"]["sentence"])
    assert shown.locator("h4").all_inner_texts()[:-1] == [
        *(f"{each['rank']}. {each['microinverter']}" for each in said["selection"]["candidates"]),
        said["built"]["sentence"],
    ]
    reason = said["selection"]["candidates"][0]["reasons"][0]
    expect(shown.locator(".candidate p").first).to_contain_text(f"{reason['value']:.1f} V, limit {reason['limit']:.1f} V")
    expect(shown).to_contain_text(f"{float(said['bill_of_materials']['prices']['total']):,.2f} EUR")
    narrow_values(visit)
    assert shown.locator("li").all_inner_texts() == said["cautions"]
    shown.locator("summary").click()
    assert json.loads(shown.locator("details pre").inner_text()) == said
    visit.require_accessible()
    visit.screenshots("home-answered")


def narrow_values(visit: Visit) -> None:
    """No value is parted from its unit in a narrow window, and nothing sticks out of it."""
    wide = visit.page.viewport_size
    assert wide is not None
    visit.page.set_viewport_size({"width": 390, "height": 800})
    lines = visit.page.evaluate(
        """() => [...document.querySelectorAll("#answer dd")].map(each => {
            const text = document.createRange();
            text.selectNodeContents(each);
            return text.getClientRects().length;
        })"""
    )
    assert set(lines) == {1}
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= 390
    visit.page.set_viewport_size(wide)


def test_what_fails_has_no_rank(visit: Visit) -> None:
    body = changed(example("design_roof"), {
        "/candidates/0/microinverter/dc_short_circuit_current_max_a": 13,
        "/candidates/1/microinverter/dc_short_circuit_current_max_a": 13,
    })  # fmt: skip
    visit.open("/")
    visit.page.evaluate("body => { document.getElementById('request').textContent = body }", json.dumps(body))
    visit.page.get_by_role("button", name="Send this request").click()
    shown = visit.page.locator("#answer")
    expect(shown.locator("h4").first).to_have_text("Unit 300")
    expect(shown).to_contain_text("fail: short circuit current")
    expect(shown).to_contain_text("Nothing is built")
    assert "null" not in shown.locator(".candidates").inner_text()


def test_a_refused_request_shows_what_is_wrong(visit: Visit) -> None:
    visit.open("/")
    visit.page.evaluate("document.getElementById('request').textContent = '{\"site\": \"<b>here</b>\"}'")
    visit.page.get_by_role("button", name="Send this request").click()
    expect(visit.page.locator("#status")).to_contain_text("422")
    expect(visit.page.locator("#answer > p")).to_contain_text("fields are not as allowed")
    expect(visit.page.locator("#answer b")).to_have_count(0)
    visit.page.locator("#answer summary").click()
    expect(visit.page.locator("#answer pre")).to_contain_text("<b>here</b>")
    visit.page.wait_for_timeout(50)
    assert [message for message in visit.messages if "422" not in message] == []
    visit.messages.clear()


@pytest.mark.parametrize("fails", [Route.abort, lambda route: route.fulfill(status=502, body="<h1>Bad gateway</h1>")])
def test_a_service_that_is_gone_is_said_to_be_gone(visit: Visit, fails: Any) -> None:
    visit.open("/")
    visit.page.route("**/v1/design", lambda route: fails(route))
    button = visit.page.get_by_role("button", name="Send this request")
    button.click()
    expect(visit.page.locator("#status")).to_contain_text("No answer that can be read")
    expect(button).to_be_enabled()
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
    assert json.loads(done.stdout) == answer(visit.service_url, "/v1/clipping", "compute_clipping")


def test_its_python_runs_as_it_stands(visit: Visit) -> None:
    visit.open("/")
    program = visit.page.locator("#python").inner_text()
    done = subprocess.run([sys.executable, "-W", "error", "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    totals = answer(visit.service_url, "/v1/clipping", "compute_clipping")["totals"]
    assert done.stdout.splitlines() == [
        f"{each['microinverter']}: clipped {each['clipped_share']['value']:.1%}" for each in totals
    ]

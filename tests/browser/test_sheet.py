"""The sheet as its reader gets it: by e-mail, on a phone, on paper."""

from __future__ import annotations

from typing import Literal

import pytest
import requests

from tests.browser.visit import Visit
from tests.contract.bodies import Body, changed
from tests.sheet_cases import data_address, hostile_design, png, svg, variants

VARIANTS = variants()
WIDER = (
    "[...document.querySelectorAll('svg, table, svg text')]"
    ".filter(each => each.getBoundingClientRect().right > innerWidth + 1).length"
)
PAPERS: tuple[Literal["A4", "Letter"], ...] = ("A4", "Letter")


def sheet(service_url: str, body: Body, **wishes: str) -> str:
    """The sheet of a design from the running service."""
    body = body | {"sheet": body.get("sheet", {}) | wishes}
    response = requests.post(f"{service_url}/v1/design", json=body, headers={"Accept": "text/html"}, timeout=60)
    assert response.status_code == 200, response.text
    return response.text


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_sheet_works_alone_on_every_screen_and_on_paper(visit: Visit, service_url: str, language: str) -> None:
    visit.show(sheet(service_url, VARIANTS["the example"], language=language))
    visit.require_accessible()
    visit.screenshots(f"sheet-{language}")
    for paper in PAPERS:
        assert 2 <= visit.printed(f"sheet-{language}", paper) <= 4


@pytest.mark.parametrize("variant", ["nothing passes", "no prices", "several modules", "faces by count"])
def test_a_sheet_of_another_shape_is_as_good(visit: Visit, service_url: str, variant: str) -> None:
    visit.show(sheet(service_url, VARIANTS[variant]))
    visit.require_accessible()
    visit.screenshots(f"sheet-{variant.replace(' ', '-')}")
    assert 1 <= visit.printed("sheet-shape") <= 4


@pytest.mark.parametrize("variant", ["eight candidates", "eight candidates on four faces"])
@pytest.mark.parametrize("language", ["en", "de"])
def test_a_large_design_stays_within_four_pages(visit: Visit, service_url: str, variant: str, language: str) -> None:
    visit.show(sheet(service_url, VARIANTS[variant], language=language))
    for paper in PAPERS:
        assert 2 <= visit.printed(f"sheet-{variant.replace(' ', '-')}-{language}", paper) <= 4


def test_no_name_pushes_a_table_off_the_page(visit: Visit, service_url: str) -> None:
    body = changed(VARIANTS["the example"], {"/modules/0/module/name": "W" * 100, "/faces/0/name": "W" * 100})
    body["candidates"][0]["microinverter"]["name"] = "W" * 100
    visit.show(sheet(service_url, body))
    visit.screenshots("sheet-long-names")
    visit.page.set_viewport_size({"width": 703, "height": 1000})
    visit.page.emulate_media(media="print")
    assert visit.page.evaluate(WIDER) == 0
    visit.page.emulate_media(media="null")


def test_no_text_of_a_request_runs(visit: Visit, service_url: str) -> None:
    visit.show(sheet(service_url, hostile_design()))
    assert visit.page.evaluate("typeof window.hit") == "undefined"
    assert visit.page.locator("script, iframe").count() == 0
    assert visit.page.locator("h1").is_visible()
    visit.require_accessible()
    visit.screenshots("sheet-hostile")


@pytest.mark.parametrize("logo", [data_address(png(40, 20), "png"), data_address(svg(), "svg+xml")], ids=["png", "svg"])
def test_a_logo_is_seen(visit: Visit, service_url: str, logo: str) -> None:
    visit.show(sheet(service_url, VARIANTS["the example"], logo=logo, company="A firm"))
    shown = visit.page.locator("header img")
    assert shown.evaluate("image => [image.naturalWidth, image.naturalHeight]") != [0, 0]


def test_nothing_is_cut_on_paper(visit: Visit, service_url: str) -> None:
    """No drawing and no table is wider than what is printed of A4."""
    visit.show(sheet(service_url, VARIANTS["the example"]))
    visit.page.set_viewport_size({"width": 703, "height": 1000})
    visit.page.emulate_media(media="print")
    assert visit.page.evaluate(WIDER) == 0
    broken = visit.page.evaluate(
        "[...document.querySelectorAll('figure')].filter(each => getComputedStyle(each).breakInside !== 'avoid').length"
    )
    assert broken == 0
    visit.page.emulate_media(media="null")

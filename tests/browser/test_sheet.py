"""The sheet as its reader gets it: by e-mail, on a phone, on paper."""

from __future__ import annotations

from typing import Literal

import pytest

from tests.browser.visit import PAPERS, Visit, sheet
from tests.contract.bodies import changed
from tests.contract.test_sheet import PAGES_MOST
from tests.sheet_cases import data_address, png, svg, variants
from wattpair_service.engineering.sentences import LANGUAGES

pytestmark = pytest.mark.release

VARIANTS = variants()
LONG = "W" * 100
LONG_NAMES = dict.fromkeys(("/modules/0/module/name", "/faces/0/name", "/candidates/0/microinverter/name"), LONG)
WIDER = (
    "[...document.querySelectorAll('svg, table, svg text')]"
    ".filter(each => each.getBoundingClientRect().right > innerWidth + 1).length"
)
BREAKABLE = "[...document.querySelectorAll('figure')].filter(each => getComputedStyle(each).breakInside !== 'avoid').length"


@pytest.mark.parametrize(
    ("variant", "language", "fewest_pages"),
    [
        ("the example", "en", 2),
        ("the example", "de", 2),
        ("every part priced", "en", 2),
        ("nothing passes", "en", 2),
        ("no prices", "en", 2),
        ("several modules", "en", 2),
        ("faces by count", "en", 2),
        ("eight candidates", "en", 2),
        ("eight candidates", "de", 2),
        ("eight candidates on four faces", "en", 2),
        ("eight candidates on four faces", "de", 2),
    ],
)
def test_the_sheet_works_alone_on_every_screen_and_on_paper(
    visit: Visit, variant: str, language: str, fewest_pages: int
) -> None:
    visit.show(sheet(visit.service_url, VARIANTS[variant], language=language))
    visit.require_accessible()
    name = f"sheet-{variant.replace(' ', '-')}-{language}"
    visit.screenshots(name)
    assert [fewest_pages <= visit.printed(name, paper) <= PAGES_MOST for paper in PAPERS] == [True, True]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("variant", ["the example", "every part priced", "eight candidates on four faces", "an export limit"])
def test_the_customer_has_one_page(visit: Visit, variant: str, language: str, paper: Literal["A4", "Letter"]) -> None:
    visit.show(sheet(visit.service_url, VARIANTS[variant], language=language, paper=paper, parts=["customer"]))
    assert visit.printed(f"customer-{variant.replace(' ', '-')}-{language}", paper) == 1


@pytest.mark.parametrize("changes", [{}, LONG_NAMES], ids=["the example", "long names"])
def test_nothing_is_cut_on_paper(visit: Visit, changes: dict[str, str]) -> None:
    """No drawing and no table is wider than what is printed of A4."""
    visit.show(sheet(visit.service_url, changed(VARIANTS["the example"], changes)))
    visit.screenshots("sheet-on-paper")
    visit.page.set_viewport_size({"width": 703, "height": 1000})
    visit.page.emulate_media(media="print")
    assert visit.page.evaluate(WIDER) == 0
    assert visit.page.evaluate(BREAKABLE) == 0


@pytest.mark.parametrize("logo", [data_address(png(40, 20), "png"), data_address(svg(), "svg+xml")], ids=["png", "svg"])
def test_a_logo_is_seen(visit: Visit, logo: str) -> None:
    visit.show(sheet(visit.service_url, VARIANTS["the example"], logo=logo, company="A firm"))
    shown = visit.page.locator("header img")
    assert shown.evaluate("image => [image.naturalWidth, image.naturalHeight]") != [0, 0]

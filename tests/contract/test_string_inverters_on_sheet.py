"""A design with string inverters as HTML and PDF: one comparison for the customer, all of them for the installer."""

from __future__ import annotations

import html
import io
import re
from functools import cache
from typing import Any

import pytest
from page import ValidationProfile, validate_pdf_bytes
from pypdf import PdfReader

from tests.contract.bodies import DELETED, Body, changed
from tests.sheet_cases import HOSTILE, variants
from wattpair_service.api.operations.design import OPERATION
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.design.design import Design
from wattpair_service.engineering.strings.comparison import StringComparison
from wattpair_service.report.house import House, SheetOptions
from wattpair_service.report.pdf import as_pdf
from wattpair_service.report.sheet import sheet
from wattpair_service.words.language import language as language_of

INVERTER = {
    "name": "String 8", "ac_power_w": 8000, "dc_voltage_max_v": 1000, "tracker_count": 3, "tracker_voltage_min_v": 80,
    "tracker_voltage_max_v": 850, "start_voltage_v": 100, "tracker_current_max_a": 16,
    "tracker_short_circuit_current_max_a": 22, "european_efficiency_percent": 97.2,
}  # fmt: skip
LOW_VOLTAGE = {
    "name": "String low", "dc_voltage_max_v": 60, "tracker_voltage_max_v": 55, "start_voltage_v": 50,
    "tracker_voltage_min_v": 40,
}  # fmt: skip
OPTIMISER = {"name": "Optimiser", "efficiency_percent": 98.8, "voltage_min_v": 12, "voltage_max_v": 80, "price": 45}
OFFER = {"inverter": INVERTER, "price": 900}
WITH_OPTIMISERS = {"inverter": INVERTER | {"name": "String 8 O"}, "price": 900, "optimiser": OPTIMISER}
FAILING = {"inverter": INVERTER | LOW_VOLTAGE, "price": 700}
WITHOUT_PRICE = {"inverter": INVERTER | {"name": HOSTILE[0]}}
CHIMNEY = {"/faces/0/layout/obstructions/0/name": "chimney", "/faces/0/layout/obstructions/0/height_m": 1.4}
TWO_MAPS = CHIMNEY | {
    "/faces/1/module_count": DELETED,
    "/faces/1/layout": {
        "width_m": 8,
        "height_m": 5,
        "obstructions": [
            {"outline": [{"x_m": x, "y_m": y} for x, y in ((3, 3), (3.7, 3), (3.7, 3.6), (3, 3.6))], "height_m": 1.2}
        ],
    },
}
"""A map of what shade takes on each of both faces: the fullest page."""
CASES: dict[str, list[Body]] = {
    "none": [],
    "one": [OFFER],
    "three": [OFFER, WITH_OPTIMISERS, FAILING],
    "failing": [FAILING],
    "no price": [WITHOUT_PRICE],
}


@cache
def design_with(case: str, variant: str = "every part priced", *, two_maps: bool = False) -> Design:
    """A design whose first face has a chimney, with string inverters."""
    body = changed(variants()[variant], TWO_MAPS if two_maps else CHIMNEY)
    body |= {"string_inverters": CASES[case]} if CASES[case] else {}
    found = OPERATION.handle(OPERATION.request().load(body), StationFolder())
    assert isinstance(found, Design)
    return found


def page_of(design: Design, **options: str | tuple[str, ...]) -> str:
    return sheet(design, SheetOptions(**options), House())  # type: ignore[arg-type]


def words_of(page: str) -> str:
    """The text of a page, without its style and the words inside its drawings."""
    bare = re.sub(r"<style>.*?</style>|<svg.*?</svg>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", bare)).split())


def comparisons(design: Design) -> list[StringComparison]:
    return [each.comparison for each in design.selection.string_inverters if each.comparison is not None]


def figure(text: str) -> float:
    return float(text.replace("−", "-").replace(",", "").replace("+", ""))


def test_the_customer_reads_the_sentence_and_both_sides() -> None:
    design = design_with("one")
    (compared,) = comparisons(design)
    assert compared.money is not None
    text = words_of(page_of(design, parts=("customer",)))
    amount = language_of("en").whole_money(abs(compared.money.net_gain), design.currency)
    share = compared.energy_share
    assert f"On this roof Unit 300 yields {abs(share.value):.1%} (" in text
    assert f"worth {amount} {'more' if compared.money.net_gain > 0 else 'less'} in all." in text
    assert f"Energy in year one {compared.microinverters_kwh:,.0f} kWh {compared.string_inverter_kwh:,.0f} kWh" in text
    assert "Off when one fails 1 module all 20 modules" in text
    assert "Replaced each when it fails after year 13" in text
    assert "arc-fault" not in text


def test_what_turns_the_comparison_is_told_in_the_direction_that_turns_it() -> None:
    design = design_with("one")
    (compared,) = comparisons(design)
    assert compared.money is not None
    price = compared.money.turning.extra_price
    assert price is not None
    leads = compared.better == "microinverters"
    amount = language_of("en").whole_money(abs(price), design.currency)
    direction, side, subject = ("less", "string inverter", "it") if leads else ("more", "microinverters", "the string inverter")
    sentence = f"The {side} would be worth as much if {subject} cost {amount} {direction} today"
    for part in ("customer", "installer"):
        assert sentence in words_of(page_of(design, parts=(part,)))


def test_of_several_the_customer_sees_the_one_of_highest_value() -> None:
    design = design_with("three")
    first, second = comparisons(design)
    assert first.money is not None
    assert second.money is not None
    best = first if first.money.net_gain < second.money.net_gain else second
    text = words_of(page_of(design, parts=("customer",)))
    assert "The best of 2 string inverters that can be built" in text
    assert re.findall(r"% \([^)]+\) (?:more|less) than (.*?) and costs", text) == [best.system.offer.name]


def test_the_causes_on_the_sheet_add_up() -> None:
    design = design_with("one")
    page = page_of(design, parts=("installer",))
    table = page.split("where the difference comes from, kWh in year one</caption>")[1].split("</table>")[0]
    rows = [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row)[:4] for row in re.findall(r"<tr.*?</tr>", table)[1:]]
    (_, *possible, _), *causes, (_, *at_meter) = rows
    assert {"shade", "modules that differ from one another", "conversion to AC"} <= {row[0] for row in causes}
    rounding = len(causes) / 2.0 + 1.0
    for column in range(2):
        lost = sum(figure(row[column + 1]) for row in causes)
        assert figure(possible[column]) + lost == pytest.approx(figure(at_meter[column]), abs=rounding)
    assert sum(figure(row[3]) for row in causes) == pytest.approx(figure(at_meter[2]), abs=rounding)
    assert table.count("<svg") == len(causes)


def test_the_installer_sees_strings_checks_orders_and_each_caution_once() -> None:
    design = design_with("three")
    text = words_of(page_of(design))
    found = design.selection.string_inverters[0].stringing
    for each in found.strings:
        first, last = each.modules[0][1] + 1, each.modules[-1][1] + 1
        face = design.faces[each.modules[0][0]].face.name
        assert f"{each.tracker} {face}: {first}–{last} {len(each.modules)} with a caution: arc-fault" in text
    lengths = found.lengths
    assert f" {lengths.shortest} to {lengths.longest} with a caution" in text
    assert "set by the optimisers' datasheet, and are not checked here" in text
    for told in ("DC isolator: one for each string", "Trunk cable with a drop", "carries the voltage of whole strings"):
        assert text.count(told) == 1, told


def test_one_that_fails_shows_its_obstacle_and_nothing_to_compare() -> None:
    page = page_of(design_with("failing"))
    text = words_of(page)
    assert "Must not be built: No number of modules in series passes every check" in text
    assert "none of those on offer can be built on this roof" in text
    assert "On this roof" not in text
    assert "where the difference comes from" not in text
    assert "<script>" not in page


def test_without_a_price_energy_alone_is_compared() -> None:
    page = page_of(design_with("no price"))
    text = words_of(page)
    assert "Prices are incomplete, so energy alone is compared." in text
    assert "Cost of inverters" not in text
    assert "would be worth as much" not in text
    assert "<script>" not in page


def test_another_pairing_that_is_built_is_not_compared_for_the_customer() -> None:
    design = design_with("one", "another built")
    assert "Or a string inverter?" not in page_of(design, parts=("customer",))
    assert "The rest of this sheet is for Unit 345, as requested." in page_of(design, parts=("installer",))


def test_without_string_inverters_the_sheet_is_silent_of_them() -> None:
    design = design_with("none")
    english, german = (words_of(page_of(design, language=code)) for code in ("en", "de"))
    assert "tring inverter" not in english
    assert "String" not in german.replace("größte Stringsicherung", "").replace("Zellstring", "")


def test_german_has_one_word_for_a_string() -> None:
    text = words_of(page_of(design_with("three"), language="de"))
    assert "MPP-Tracker" in text
    assert not re.search(r"Str[aä]ng", text)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize(
    ("variant", "case", "two_maps"),
    [("the example", "one", False), ("every part priced", "one", False), ("every part priced", "three", True)],
)
def test_the_customers_part_is_one_page(variant: str, case: str, two_maps: bool, language: str, paper: str) -> None:
    options = {"language": language, "paper": paper, "parts": ("customer",)}
    data = as_pdf(page_of(design_with(case, variant, two_maps=two_maps), **options))  # type: ignore[arg-type]
    assert len(PdfReader(io.BytesIO(data)).pages) == 1


def test_the_pdf_conforms() -> None:
    data = as_pdf(page_of(design_with("three")))
    report = validate_pdf_bytes(data, profile=ValidationProfile.PDF_UA_1)
    assert report.is_compliant, report
    root: Any = PdfReader(io.BytesIO(data)).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]

"""The design as HTML and PDF: what is offered, what it says, and that nothing in a request becomes markup."""

from __future__ import annotations

import html
import io
import json
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import yaml
from flask.testing import FlaskClient
from page import ValidationProfile, validate_pdf_bytes
from pypdf import PdfReader
from werkzeug.test import TestResponse

from tests.contract.bodies import DELETED, PATHS, Body, changed, example, pointers, problem
from tests.sheet_cases import BIDI, HOSTILE, data_address, hostile_design, png, svg, variants
from wattpair_service.api.guards.log_lines import JsonLines
from wattpair_service.api.operations.design import OPERATION
from wattpair_service.app import create_app
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.design.design import Design
from wattpair_service.engineering.materials.bill_lines import ROLES
from wattpair_service.report import pdf
from wattpair_service.report.markup import plain
from wattpair_service.report.sections import tables
from wattpair_service.settings import Settings
from wattpair_service.words.language import language as language_of

HTML, PDF, JSON = "text/html", "application/pdf", "application/json"
BYTES_MOST = 500_000
VARIANTS = variants()


def ask(client: FlaskClient, body: Body, accept: str | None) -> TestResponse:
    """The design in a form."""
    return client.post("/v1/design", json=body, headers={} if accept is None else {"Accept": accept})


def page(client: FlaskClient, body: Body) -> str:
    """The sheet."""
    response = ask(client, body, HTML)
    assert response.status_code == 200, response.get_data(as_text=True)
    assert response.content_type == "text/html; charset=utf-8"
    return response.get_data(as_text=True)


class Reader(HTMLParser):
    """The elements of a page with their attributes, the levels of its headings, and its text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.text = ""
        self.feed(page)
        self.headings = [int(tag[1]) for tag, _ in self.elements if re.fullmatch("h[1-6]", tag)]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {name: value or "" for name, value in attrs}))

    def handle_data(self, data: str) -> None:
        self.text += f" {data}" if self.text else data


def text_of(client: FlaskClient, body: Body) -> str:
    """The text of the sheet."""
    return Reader(page(client, body)).text


def design_of(body: Body) -> Design:
    found: Design = OPERATION.handle(OPERATION.request().load(body), StationFolder())
    return found


def answer_of(client: FlaskClient, body: Body) -> Any:
    """The answer that the sheet shows."""
    return ask(client, body, JSON).get_json()


BROWSER = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"


@pytest.mark.parametrize(
    ("accept", "form"),
    [
        (None, JSON),
        ("*/*", JSON),
        ("application/*", JSON),
        ("text/html", HTML),
        ("text/html; charset=utf-8", HTML),
        (BROWSER, HTML),
        ("application/json;q=0.2, text/html;q=0.1", JSON),
        ("application/json;q=0.1, text/html;q=0.2", HTML),
        ("application/json;q=0, */*;q=0.5", HTML),
    ],
)
def test_the_preferred_form_is_given(client: FlaskClient, accept: str | None, form: str) -> None:
    response = ask(client, VARIANTS["one candidate"], accept)
    assert (response.status_code, response.mimetype) == (200, form)
    assert "Accept" in response.vary


FORMS = {
    "design_roof": "application/json, text/html, application/pdf, text/csv",
    "list_materials": "application/json, text/csv",
}
FORMS |= {"size_pairings": "application/json"}


@pytest.mark.parametrize(
    ("operation_id", "accept"),
    [
        *(("design_roof", each) for each in ("image/png", "application/json;q=0", "nonsense", "text/html;q=0")),
        ("list_materials", "text/html"),
        ("size_pairings", "text/csv"),
    ],
)
def test_a_refusal_of_accept_tells_what_is_offered(client: FlaskClient, operation_id: str, accept: str) -> None:
    response = client.post(PATHS[operation_id], json=example(operation_id), headers={"Accept": accept})
    assert problem(response, 406, "not-acceptable")["detail"].endswith(f"offered are {FORMS[operation_id]}.")


def test_a_language_that_is_not_offered_is_not_acceptable(client: FlaskClient) -> None:
    body = changed(VARIANTS["the example"], {"/sheet/language": "xx"})
    (error,) = problem(ask(client, body, HTML), 406, "not-acceptable")["errors"]
    assert (error["pointer"], error["given"], error["allowed"]) == ("/sheet/language", '"xx"', 'one of "en", "de"')
    both = changed(body, {"/sheet/paper": "A5"})
    assert pointers(problem(ask(client, both, HTML), 422, "invalid-fields")) == {"/sheet/language", "/sheet/paper"}


def test_without_its_library_the_pdf_is_not_offered(monkeypatch: pytest.MonkeyPatch, client: FlaskClient) -> None:
    monkeypatch.setattr(pdf, "find_spec", lambda _: None)
    pdf.available.cache_clear()
    try:
        refused = problem(ask(client, VARIANTS["the example"], PDF), 406, "not-acceptable")
        second = ask(client, VARIANTS["the example"], "application/pdf, text/html;q=0.5")
    finally:
        pdf.available.cache_clear()
    assert second.mimetype == HTML
    assert "offered are application/json, text/html, text/csv." in refused["detail"]
    assert "application/pdf needs a library that is not installed here" in refused["detail"]


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("logo", data_address(svg("<script/>"), "svg+xml"), "holds script"),
        ("logo", "https://example.org/logo.png", "data:image/png;base64"),
        ("accent", "#ffee00", "would do"),
        ("accent", "green", "six hexadecimal digits"),
        ("date", "4 March", "a date such as 2026-03-04"),
        ("date", "20260304", "a date such as 2026-03-04"),
        ("paper", "A5", '"A4", "Letter"'),
        ("company", "a\nb", "without control characters"),
        ("notes", "\x07", "but line feeds"),
        ("address", [], "an array of 1 to 6"),
        ("language", 3, '"en", "de"'),
        ("language", "", '"en", "de"'),
        ("language", "no language", '"en", "de"'),
        *((field, f"a{BIDI}", "without control characters") for field in ("company", "customer", "notes")),
        ("slogan", "x", "only the fields company"),
    ],
)
def test_a_fault_of_the_sheet_names_its_field(client: FlaskClient, field: str, value: object, said: str) -> None:
    body = VARIANTS["the example"] | {"sheet": {field: value}}
    for accept in (HTML, JSON):
        (error,) = problem(ask(client, body, accept), 422, "invalid-fields")["errors"]
        assert error["pointer"] == f"/sheet/{field}"
        assert said in error["allowed"]


ADDRESSES = ("src", "href", "action", "data", "srcset")


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("variant", VARIANTS)
def test_every_design_has_a_sheet_that_needs_nothing_beside_itself(client: FlaskClient, variant: str, language: str) -> None:
    body = VARIANTS[variant]
    body = body | {"sheet": body.get("sheet", {}) | {"language": language}}
    text = page(client, body)
    assert len(text.encode()) < BYTES_MOST
    read = Reader(text)
    for tag, attributes in read.elements:
        assert tag not in ("script", "iframe", "object", "embed", "base", "form", "style" if "style" in attributes else "a")
        assert not [name for name in attributes if name.startswith("on")]
        assert all(attributes[name].startswith("data:") for name in ADDRESSES if name in attributes)
    assert "@import" not in text
    assert not re.search(r"url\((?!#)", text)
    assert ("html", {"lang": language}) in read.elements
    assert read.headings[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(read.headings))
    ids = [attributes["id"] for _, attributes in read.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    for tag, attributes in read.elements:
        if tag == "svg" and "aria-hidden" not in attributes:
            assert attributes["role"] == "img"
            assert set(attributes["aria-labelledby"].split()) <= set(ids)
    found = design_of(body)
    shown = [each.text for each in found.cautions if each.reader != "seller"]
    assert [
        words for each in shown if (words := language_of(language, str(found.selection.place)).write(each)) not in read.text
    ] == []
    assert "None" not in read.text
    assert "nan" not in read.text.split()


@pytest.mark.parametrize("variant", ["the example", "no prices", "nothing passes", "another built"])
def test_the_german_sheet_holds_no_english_sentence_of_the_engine(client: FlaskClient, variant: str) -> None:
    body = changed(VARIANTS[variant], {"/sheet/language": "de"})
    text, answer = text_of(client, body), answer_of(client, body)
    english = [*(each["text"] for each in answer["cautions"]), answer["selection"]["recommendation"]["sentence"]]
    english += [each["source"] for each in answer["assumptions"] if " " in each["source"] and "10." not in each["source"]]
    english += [each["name"] for each in answer["method"] if " " in each["name"]]
    assert [each for each in english if each in text] == []


def test_the_sheet_says_what_the_answer_says(client: FlaskClient) -> None:
    body = VARIANTS["every part priced"]
    text, answer = text_of(client, body), answer_of(client, body)
    unit = answer["built"]["pairing"]["microinverter"]
    built = next(each for each in answer["selection"]["candidates"] if each["microinverter"] == unit)
    prices, energy, money = answer["bill_of_materials"]["prices"], built["energy"]["at_meter_range_kwh"], built["money"]
    assert prices["complete"]
    expected = [
        f"{energy['value']:,.0f} kWh", f"{energy['low']:,.0f} to {energy['high']:,.0f} kWh",
        f"€{float(prices['total']):,.2f}", f"{built['unit_count']} × {unit}", "4 March 2026", "Ardenholt Solar",
        "For Family Example", "Scaffolding stands on the street side.",
        f"after {money['whole_system']['simple_payback_years']:.1f} years",
        "modules, microinverters with their replacements, circuits, cables, devices and mounting",
    ]  # fmt: skip
    assert [each for each in expected if each not in text] == []
    inputs = text.split("Given for this roof")[1][:400]
    expected = [
        "from the grid: 0.28 EUR/kWh", "to the grid: 0.07 EUR/kWh", "used at home: 35%", "discount rate: 3%",
        "years of the comparison: 25", "labour for a visit: 90 EUR", "price of a module: 95 EUR",
    ]  # fmt: skip
    assert [each for each in expected if each not in inputs] == []
    # What the company pays and earns is not for its customer.
    hidden = [f"{float(prices[name]):,.2f}" for name in ("cost", "margin")] + ["markup", "cut by the export limit"]
    assert [each for each in hidden if each in text] == []


def test_parts_of_the_same_kind_stand_together() -> None:
    design, language = design_of(example("design_roof")), language_of("en")
    table = tables.parts(design, language)
    assert table is not None
    names = [row.cells[0] for row in table.rows if row.kind != "sum"]
    by_role = [language.say(f"role.{role}") for role in ROLES]
    assert names == sorted(names, key=by_role.index)
    assert names[:2] == ["module", "microinverter"]


def test_an_incomplete_price_is_no_headline(client: FlaskClient) -> None:
    body = changed(VARIANTS["the example"], {"/sheet/parts": ["customer"]})
    text, prices = text_of(client, body), answer_of(client, body)["bill_of_materials"]["prices"]
    assert not prices["complete"]
    assert f"The price is not complete: {len(prices['missing'])} kinds of part have no price yet." in text
    shown = (f"{float(prices[name]):,.2f}" for name in ("net", "tax", "total"))
    assert [each for each in (*shown, "Pays for itself", "Value today") if each in text] == []


def test_the_customer_and_the_installer_get_their_own_part(client: FlaskClient) -> None:
    body = VARIANTS["every part priced"]
    both, customer, installer = (
        text_of(client, changed(body, {"/sheet/parts": parts}))
        for parts in (["customer", "installer"], ["customer"], ["installer"])
    )
    assert both == text_of(client, body)
    for_the_customer, for_the_installer = ("What happens next", "Saved and earned"), ("What to order", "Branch circuits")
    assert [each for each in for_the_customer if each not in customer or each in installer] == []
    assert [each for each in for_the_installer if each not in installer or each in customer] == []
    cautions = [each for each in answer_of(client, body)["cautions"] if each["text"] in customer]
    assert [each["reader"] for each in cautions] == ["customer"] * 3


def test_a_failing_check_stands_first_with_value_limit_and_way_out(client: FlaskClient) -> None:
    """Twenty units behind one busbar of 60 A with a main device of 60 A leave nothing for generation."""
    board = {"/region": "united_states", "/circuits": {"busbar_rating_a": 60, "main_device_a": 60, "home_run_length_m": 10}}
    body = changed(VARIANTS["the example"], board | {"/sheet/parts": ["installer"]})
    (check,) = (each for each in answer_of(client, body)["circuits"]["connection"]["checks"] if each["meets"] is False)
    text = text_of(client, body)
    line = f"{check['name']}: {check['value']:,.4g} A, the limit is {check['limit']:,.4g} A. {check['explanation']}"
    line = line.replace("120 %", "120%")
    assert line in text
    assert text.index(line) < text.index("Checks of the pairing")
    assert "Ways out" in line


HOUSES = Path(__file__).parents[1] / "houses"


@pytest.mark.parametrize(
    ("language", "rise", "way_out", "board"),
    [
        ("en", "voltage rise: circuit 1: ", "a home run of 6 AWG would meet it", "find the ratings of busbar and main device"),
        ("de", "Spannungsanhebung: Stromkreis 1: ", "eine Leitung zum Verteiler mit 6 AWG", "die Nennwerte von Sammelschiene"),
    ],
)
def test_checks_that_are_open_or_pass_with_a_caution_say_what_to_do(
    client: FlaskClient, language: str, rise: str, way_out: str, board: str
) -> None:
    """The house in Texas has 1.26 % on 10 AWG; without its ratings nothing is known of the board. Its units are on L1-L2."""
    texas = yaml.safe_load((HOUSES / "texas.yaml").read_text(encoding="utf-8"))
    unknown = {name: value for name, value in texas["circuits"].items() if name not in ("main_device_a", "busbar_rating_a")}
    text = text_of(client, texas | {"circuits": unknown, "sheet": {"language": language, "parts": ["installer"]}})
    assert [each for each in (rise, way_out, board, "12.8 A, L1-L2".replace(".", "," if language == "de" else "."))
            if each not in text] == []  # fmt: skip
    assert "busbar_rating_a" not in text
    assert "main_device_a" not in text


def test_letter_has_feet_and_pounds(client: FlaskClient) -> None:
    metric, customary = (
        text_of(client, changed(VARIANTS["the example"], {"/sheet/paper": paper})) for paper in ("A4", "Letter")
    )
    masses = [mass["mass_kg"] for mass in answer_of(client, VARIANTS["the example"])["bill_of_materials"]["masses"]]
    assert all(f"{mass:,.0f} kg" in metric and f"{mass / 0.45359237:,.0f} lb" in customary for mass in masses)
    # A scale bar, and cables to order: prices are for a metre.
    assert re.search(r"\b5 m\b", metric)
    assert re.search(r"\b(10|20) ft\b", customary)
    assert "elevation" in customary
    assert re.search(r"\b34 m \(112 ft\)", customary)
    assert not re.search(r"\d (kg|m)\b(?![²] | \()", customary.split("Before and at work")[0])


@pytest.mark.parametrize("language", ["en", "de"])
def test_what_the_seller_has_to_settle_is_not_on_the_sheet(client: FlaskClient, language: str) -> None:
    body = changed(VARIANTS["the example"], {"/candidates/0/price": 61.23, "/sheet/language": language})
    assert any("61.23" in each["text"] for each in answer_of(client, body)["cautions"] if each["reader"] == "seller")
    assert not re.search("61[.,]23", text_of(client, body))


def test_what_the_export_limit_cuts_stands_beside_what_is_used(client: FlaskClient) -> None:
    body = VARIANTS["an export limit"]
    text, answer = text_of(client, body), answer_of(client, body)
    unit = answer["built"]["pairing"]["microinverter"]
    energy = next(each["energy"] for each in answer["selection"]["candidates"] if each["microinverter"] == unit)
    assert energy["cut_kwh"] > 1.0
    parts = energy["used_at_home_kwh"] + energy["exported_kwh"] + energy["cut_kwh"]
    assert parts == pytest.approx(energy["at_meter_kwh"], rel=1e-6)
    cut = f"{energy['cut_kwh']:,.0f} kWh cut by the export limit of 3,000 W"
    assert f"{energy['exported_kwh']:,.0f} kWh exported; {cut}" in text
    limit = answer["selection"]["export_limit"]
    assert all(f" {each['cut_first_year_kwh']:,.0f} " in text for each in limit["candidates"])
    assert limit["sentence"].replace("3000 W", "3,000 W") in text


def test_cautions_that_all_candidates_share_stand_once(client: FlaskClient) -> None:
    text = text_of(client, VARIANTS["eight candidates"])
    (shared,) = re.findall("Cautions of every candidate that passes: ([^.]*)[.]", text)
    table = text.split("Candidates compared")[1].split("Cautions of every")[0]
    assert [check for check in shared.split(", ") if check in table] == []


@pytest.mark.parametrize(
    ("language", "plurals"), [("en", "units|modules|rows|branch circuits|faces"), ("de", "Geräte|Module|Reihen")]
)
def test_a_face_of_one_module_has_no_plural(client: FlaskClient, language: str, plurals: str) -> None:
    changes = {"/faces/0/layout": DELETED, "/faces/0/module_count": 1, "/sheet/language": language}
    assert not re.search(rf"\b1 ({plurals})\b", text_of(client, changed(VARIANTS["one candidate"], changes)))


def test_empty_lines_of_the_notes_are_folded(client: FlaskClient) -> None:
    text = page(client, changed(VARIANTS["the example"], {"/sheet/notes": "a" + "\n \n" * 500 + "b"}))
    assert '<p class="notes">a\n\nb</p>' in text


def test_a_microinverter_that_is_asked_for_but_fails_is_named(client: FlaskClient) -> None:
    """Nothing is proposed in its place; the installer sees value, limit and a way out."""
    text = text_of(client, VARIANTS["a failing one asked for"])
    assert "Unit 345 on Module 425 was requested, but fails its electrical checks" in text
    assert "There is no proposal yet" in text
    assert "20 × Unit 300" not in text
    assert re.search(r"open-circuit voltage on the coldest day: 42\.6\d? V, the limit is 40 V\..* Way out: ", text)


@pytest.mark.parametrize("form", [HTML, pytest.param(PDF, marks=pytest.mark.release)])
def test_the_same_request_gives_the_same_bytes(client: FlaskClient, form: str) -> None:
    first, second = (ask(client, VARIANTS["the example"], form) for _ in range(2))
    assert first.data == second.data


def test_a_sheet_without_a_date_has_none(client: FlaskClient) -> None:
    text = text_of(client, changed(VARIANTS["the example"], {"/sheet": {}}))
    assert not re.search(r"\b20\d\d-|(?:January|March) 20\d\d", text.split("Please keep")[0])


def test_text_stays_text(client: FlaskClient) -> None:
    text = page(client, hostile_design())
    read, harmless = Reader(text), Reader(page(client, VARIANTS["the example"]))
    assert {tag for tag, _ in read.elements} <= {tag for tag, _ in harmless.elements}
    hostile_names, names = ({name for _, given in each.elements for name in given} for each in (read, harmless))
    assert hostile_names <= names
    assert text.count("<style") == text.count("</style") == 1
    for hostile in HOSTILE:
        assert html.escape(hostile).replace("&#x27;", "&#39;").replace("&quot;", "&#34;") in text
        assert hostile in read.text
    assert plain(f"a{BIDI}\x07") == "aabc"


@pytest.mark.parametrize("logo", [data_address(png(), "png"), data_address(svg(), "svg+xml")], ids=["PNG", "SVG"])
def test_a_logo_is_shown_as_an_image(client: FlaskClient, logo: str) -> None:
    named, unnamed = ({"company": "A <b> firm", "logo": logo}, {"logo": logo})
    for sheet in (named, unnamed):
        body = changed(VARIANTS["the example"], {"/sheet": sheet})
        assert ("img", {"src": logo, "alt": "company logo"}) in Reader(page(client, body)).elements


def test_the_operators_file_stands_behind_the_request(tmp_path: Path) -> None:
    file = tmp_path / "sheet.toml"
    file.write_text('company = "House & Sons"\nlanguage = "de"\n[words.de]\n"sheet.title" = "Unser <Plan>"\n', encoding="utf-8")
    client = create_app(Settings.read({"WATTPAIR_SHEET_FILE": str(file)})).test_client()
    body = changed(VARIANTS["the example"], {"/sheet": {"customer": "Familie Muster"}})
    text = page(client, body)
    assert "House &amp; Sons" in text
    assert "Unser &lt;Plan&gt;" in text
    assert '<html lang="de">' in text


SIZES = {"A4": (595, 842), "Letter": (612, 792)}
PAGES_MOST = 7
"""One for the customer, the others for the installer."""
EXPECTED = {
    "en": ("Ardenholt Solar: Your solar roof", "Please keep in mind", "For the installer"),
    "de": ("Ardenholt Solar: Ihr Solardach", "Bitte beachten", "Für den Installateur"),
}


@pytest.mark.parametrize(
    ("paper", "language"),
    [
        ("Letter", "en"),
        ("A4", "de"),
        *(pytest.param(*each, marks=pytest.mark.release) for each in (("A4", "en"), ("Letter", "de"))),
    ],
)
def test_the_pdf_has_a_page_for_the_customer_is_tagged_and_says_the_same(
    client: FlaskClient, paper: str, language: str
) -> None:
    sheet = {"/sheet/paper": paper, "/sheet/language": language, "/sheet/logo": data_address(svg(), "svg+xml")}
    body, (title, words, _) = changed(VARIANTS["the example"], sheet), EXPECTED[language]
    response = client.post(PATHS["design_roof"], json=body, headers={"Accept": PDF, "Accept-Encoding": "gzip"})
    assert (response.status_code, response.mimetype) == (200, PDF)
    assert response.headers["Content-Disposition"] == 'inline; filename="sheet.pdf"'
    assert "Content-Encoding" not in response.headers
    assert ("Accept" in response.vary, "Accept-Encoding" in response.vary) == (True, False)
    read = PdfReader(io.BytesIO(response.data))
    assert 2 <= len(read.pages) <= PAGES_MOST
    assert words in read.pages[0].extract_text()
    assert EXPECTED[language][2] in read.pages[1].extract_text().splitlines()[0]
    for number, each in enumerate(read.pages, start=1):
        assert (round(each.mediabox.width), round(each.mediabox.height)) == SIZES[paper]
        assert f"{number} / {len(read.pages)}" in each.extract_text()
    text = " ".join(" ".join(each.extract_text() for each in read.pages).split())
    assert [
        each for each in ("Ardenholt Solar", "Family Example", "Module 425", "10.1002/pip.1182", words) if each not in text
    ] == []
    root: Any = read.trailer["/Root"]
    assert (bool(root["/MarkInfo"]["/Marked"]), root["/Lang"]) == (True, language)
    assert read.metadata is not None
    assert read.metadata.title == title
    report = validate_pdf_bytes(response.data, profile=ValidationProfile.PDF_UA_1)
    assert report.is_compliant, report
    elements = list(structure(root["/StructTreeRoot"]))
    drawings = [str(each.get("/Alt", "")) for each in elements if each.get("/S") == "/Figure"]
    assert sum(". " in each for each in drawings) >= 6
    assert any("Most in" in each for each in drawings) or language != "en"
    # The monthly figures too: a table beside the drawings.
    assert sum(each.get("/S") == "/Table" for each in elements) >= 5


def structure(element: Any) -> Iterator[Any]:
    """Every element below one in a PDF's tree."""
    children = element.get("/K", [])
    for child in children if isinstance(children, list) else [children]:
        found = child.get_object() if hasattr(child, "get_object") else child
        if hasattr(found, "get"):
            yield found
            yield from structure(found)


def test_a_failure_of_the_pdf_writer_is_refused_and_logged(
    monkeypatch: pytest.MonkeyPatch, client: FlaskClient, caplog: pytest.LogCaptureFixture
) -> None:
    def fail() -> None:
        raise ZeroDivisionError("a frame without a side")

    monkeypatch.setattr(pdf, "_fetcher", fail)
    found = problem(ask(client, VARIANTS["the example"], PDF), 422, "no-pdf")
    assert "send Accept: text/html" in found["detail"]
    lines = [json.loads(JsonLines().format(record)) for record in caplog.records]
    (line,) = (each for each in lines if each["message"] == "no PDF")
    assert line["exception"] == "ZeroDivisionError"
    assert line["at"][-1].endswith(" fail")
    assert "a frame without a side" not in json.dumps(lines)


@pytest.mark.release
def test_the_pdf_holds_hostile_text(client: FlaskClient) -> None:
    response = ask(client, hostile_design(), PDF)
    assert response.status_code == 200
    assert "window.hit=1" in "".join(each.extract_text() for each in PdfReader(io.BytesIO(response.data)).pages)


def test_the_pdf_fetches_nothing() -> None:
    with pytest.raises(ValueError, match="disallowed protocol"):
        pdf._fetcher().fetch("http://192.0.2.1/a.png")

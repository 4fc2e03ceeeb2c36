"""The design as HTML and PDF: what is offered, what it says, and that nothing in a request becomes markup."""

from __future__ import annotations

import html
import io
import json
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from pypdf import PdfReader
from werkzeug.test import TestResponse

from tests.contract.bodies import DELETED, Body, changed, pointers, problem
from tests.sheet_cases import BIDI, HOSTILE, data_address, hostile_design, png, svg, variants
from wattpair_service.api.logs import JsonLines
from wattpair_service.app import create_app
from wattpair_service.report import pdf
from wattpair_service.report.language import language as language_of
from wattpair_service.report.markup import plain
from wattpair_service.settings import Settings

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
    """What a page holds: its elements with their attributes, and the text that is read."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.said: list[str] = []
        self.headings: list[int] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))

    def handle_data(self, data: str) -> None:
        self.said.append(data)

    @property
    def text(self) -> str:
        """All text."""
        return " ".join(self.said)


def test_a_language_that_is_not_offered_is_not_acceptable(client: FlaskClient) -> None:
    body = changed(VARIANTS["the example"], {"/sheet/language": "xx"})
    (error,) = problem(ask(client, body, HTML), 406, "not-acceptable")["errors"]
    assert error["pointer"] == "/sheet/language"
    assert error["given"] == '"xx"'
    assert error["allowed"] == 'one of "en", "de"'
    for nonsense in ("", "no language"):
        wrong = changed(body, {"/sheet/language": nonsense})
        assert pointers(problem(ask(client, wrong, HTML), 422, "invalid-fields")) == {"/sheet/language"}
    both = changed(body, {"/sheet/paper": "A5"})
    assert pointers(problem(ask(client, both, HTML), 422, "invalid-fields")) == {"/sheet/language", "/sheet/paper"}


def test_without_its_library_the_pdf_is_not_offered(monkeypatch: pytest.MonkeyPatch, client: FlaskClient) -> None:
    monkeypatch.setattr(pdf, "find_spec", lambda _: None)
    pdf.available.cache_clear()
    try:
        found = problem(ask(client, VARIANTS["the example"], PDF), 406, "not-acceptable")
        second = ask(client, VARIANTS["the example"], "application/pdf, text/html;q=0.5")
    finally:
        pdf.available.cache_clear()
    assert second.mimetype == HTML
    assert "offered are application/json, text/html." in found["detail"]
    assert "application/pdf needs a library that is not installed here" in found["detail"]


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
        ("slogan", "x", "only the fields company"),
    ],
)
def test_a_fault_of_the_sheet_names_its_field(client: FlaskClient, field: str, value: object, said: str) -> None:
    body = VARIANTS["the example"] | {"sheet": {field: value}}
    for accept in (HTML, JSON):
        (error,) = problem(ask(client, body, accept), 422, "invalid-fields")["errors"]
        assert error["pointer"] == f"/sheet/{field}"
        assert said in error["allowed"]


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
        for name, value in attributes.items():
            assert not name.startswith("on")
            if name in ("src", "href", "action", "data", "srcset"):
                assert value.startswith("data:")
    assert "@import" not in text
    assert not re.search(r"url\((?!#)", text)
    assert ("html", {"lang": language}) in read.elements
    assert read.headings[0] == 1
    assert all(after - before <= 1 for before, after in zip(read.headings, read.headings[1:], strict=False))
    ids = [attributes["id"] for _, attributes in read.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    for tag, attributes in read.elements:
        if tag == "svg" and "aria-hidden" not in attributes:
            assert attributes["role"] == "img"
            assert set(attributes["aria-labelledby"].split()) <= set(ids)
    answer = ask(client, body, JSON).get_json()
    for caution in answer["cautions"] if language == "en" else ():
        assert language_of("en").engine(caution) in read.text
    assert "None" not in read.text
    assert "nan" not in read.text.split()


def test_the_german_sheet_holds_no_sentence_of_the_engine_in_english(client: FlaskClient) -> None:
    for variant in ("the example", "no prices", "nothing passes", "another built"):
        body = changed(VARIANTS[variant], {"/sheet/language": "de"})
        text = Reader(page(client, body)).text
        answer = ask(client, body, JSON).get_json()
        english = [
            *answer["cautions"],
            *(each["source"] for each in answer["assumptions"] if " " in each["source"] and "10." not in each["source"]),
            *(each["name"] for each in answer["method"] if " " in each["name"]),
            answer["selection"]["recommendation"]["sentence"],
        ]
        assert [each for each in english if each in text] == []


def test_the_sheet_says_what_the_answer_says(client: FlaskClient) -> None:
    body = VARIANTS["the example"]
    answer = ask(client, body, JSON).get_json()
    text = Reader(page(client, body)).text
    built = next(
        each
        for each in answer["selection"]["candidates"]
        if each["microinverter"] == answer["built"]["pairing"]["microinverter"]
    )
    prices = answer["bill_of_materials"]["prices"]
    energy = built["energy"]["delivered_range_kwh"]
    for said in (
        f"{energy['value']:,.0f} kWh",
        f"{energy['low']:,.0f} to {energy['high']:,.0f} kWh",
        f"€{float(prices['total']):,.2f}",
        f"{built['unit_count']} × {built['microinverter']}",
        "4 March 2026",
        "Ardenholt Solar",
        "For Family Example",
        "Scaffolding stands on the street side.",
    ):
        assert said in text, said
    # What the company pays and earns is not for its customer.
    for hidden in (prices["cost"], prices["margin"]):
        assert f"{float(hidden):,.2f}" not in text
    assert "markup" not in text


@pytest.mark.parametrize("language", ["en", "de"])
def test_what_the_seller_has_to_settle_is_not_on_the_sheet(client: FlaskClient, language: str) -> None:
    body = changed(VARIANTS["the example"], {"/candidates/0/price": 61.23, "/sheet/language": language})
    assert any("61.23" in each for each in ask(client, body, JSON).get_json()["cautions"])
    text = Reader(page(client, body)).text
    assert "61.23" not in text
    assert "61,23" not in text


def test_what_the_export_limit_cuts_stands_beside_what_is_used(client: FlaskClient) -> None:
    body = VARIANTS["an export limit"]
    answer = ask(client, body, JSON).get_json()
    text = Reader(page(client, body)).text
    pairing = answer["built"]["pairing"]["microinverter"]
    energy = next(each["energy"] for each in answer["selection"]["candidates"] if each["microinverter"] == pairing)
    assert energy["cut_kwh"] > 1.0
    parts = energy["used_at_home_kwh"] + energy["exported_kwh"] + energy["cut_kwh"]
    assert parts == pytest.approx(energy["first_year"]["delivered_kwh"], rel=1e-6)
    assert (
        f"{energy['exported_kwh']:,.0f} kWh exported; {energy['cut_kwh']:,.0f} kWh cut by the export limit of 3,000 W" in text
    )
    for each in answer["selection"]["export_limit"]["candidates"]:
        assert f" {each['cut_first_year_kwh']:,.0f} " in text
    assert answer["selection"]["export_limit"]["sentence"] in text
    assert "cut by the export limit" not in Reader(page(client, VARIANTS["the example"])).text


def test_what_was_given_stands_beside_what_was_taken(client: FlaskClient) -> None:
    text = Reader(page(client, VARIANTS["the example"])).text
    given = text.split("Given for this roof")[1][:400]
    for said in ("from the network: 0.28 EUR/kWh", "to the network: 0.07 EUR/kWh", "used at home: 35%", "discount rate: 3%",
                 "years looked at: 25", "labour of a visit: 90 EUR", "price of a module: 95 EUR"):  # fmt: skip
        assert said in given, said
    assert "modules, microinverters with their replacements. The other parts and the work of building are not in it." in text


def test_cautions_that_all_candidates_share_are_said_once(client: FlaskClient) -> None:
    text = Reader(page(client, VARIANTS["eight candidates"])).text
    (shared,) = re.findall("The caution of every candidate that passes: ([^.]*)[.]", text)
    table = text.split("Candidates compared")[1].split("The caution of every")[0]
    for check in shared.split(", "):
        assert check not in table


def test_a_face_of_one_module_has_no_plural(client: FlaskClient) -> None:
    body = changed(VARIANTS["one candidate"], {"/faces/0/layout": DELETED, "/faces/0/module_count": 1})
    for language, wrong in (
        ("en", r"\b1 (units|modules|rows|branch circuits|faces)\b"),
        ("de", r"\b1 (Geräte|Module|Reihen)\b"),
    ):
        text = Reader(page(client, changed(body, {"/sheet/language": language}))).text
        assert not re.search(rf"\b1 ({wrong})\b", text)


def test_empty_lines_of_the_notes_are_folded(client: FlaskClient) -> None:
    text = page(client, changed(VARIANTS["the example"], {"/sheet/notes": "a" + "\n \n" * 500 + "b"}))
    assert '<p class="notes">a\n\nb</p>' in text


def test_a_microinverter_that_is_asked_for_but_fails_is_named(client: FlaskClient) -> None:
    text = Reader(page(client, VARIANTS["a failing one asked for"])).text
    assert "Unit 345 on Module 425 was asked for, but fails its electrical checks" in text
    assert "19 × Unit 300" in text


def test_the_same_request_gives_the_same_bytes(client: FlaskClient) -> None:
    body = VARIANTS["the example"]
    for accept in (HTML, PDF):
        assert ask(client, body, accept).data == ask(client, body, accept).data
    undated = changed(body, {"/sheet": {}})
    assert not re.search(r"\b20\d\d-|(?:January|March) 20\d\d", Reader(page(client, undated)).text.split("Please keep")[0])


def test_text_stays_text(client: FlaskClient) -> None:
    text = page(client, hostile_design())
    read = Reader(text)
    harmless = Reader(page(client, VARIANTS["the example"]))
    assert {tag for tag, _ in read.elements} <= {tag for tag, _ in harmless.elements}
    attributes = {name for _, given in harmless.elements for name in given}
    assert {name for _, given in read.elements for name in given} <= attributes
    assert text.count("<style") == text.count("</style") == 1
    for hostile in HOSTILE:
        assert html.escape(hostile).replace("&#x27;", "&#39;").replace("&quot;", "&#34;") in text
        assert hostile in read.text
    for field in ("company", "customer", "notes"):
        turned = changed(VARIANTS["the example"], {f"/sheet/{field}": f"a{BIDI}"})
        assert pointers(problem(ask(client, turned, HTML), 422, "invalid-fields")) == {f"/sheet/{field}"}
    assert plain(f"a{BIDI}\x07") == "aabc"


def test_a_logo_is_shown_as_an_image(client: FlaskClient) -> None:
    for address in (data_address(png(), "png"), data_address(svg(), "svg+xml")):
        body = changed(VARIANTS["the example"], {"/sheet": {"company": "A <b> firm", "logo": address}})
        # The name follows in words: it is not read twice.
        assert ("img", {"src": address, "alt": ""}) in Reader(page(client, body)).elements
        del body["sheet"]["company"]
        assert ("img", {"src": address, "alt": "the company's sign"}) in Reader(page(client, body)).elements


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


@pytest.mark.parametrize(("paper", "language"), [("A4", "de"), ("Letter", "en")])
def test_the_pdf_has_two_to_four_pages_of_its_paper_and_says_the_same(client: FlaskClient, paper: str, language: str) -> None:
    body = changed(VARIANTS["the example"], {"/sheet/paper": paper, "/sheet/language": language})
    body["sheet"]["logo"] = data_address(svg(), "svg+xml")
    response = ask(client, body, PDF)
    assert response.headers["Content-Disposition"] == 'inline; filename="sheet.pdf"'
    read = PdfReader(io.BytesIO(response.data))
    assert 2 <= len(read.pages) <= 4
    for number, each in enumerate(read.pages, start=1):
        assert (round(each.mediabox.width), round(each.mediabox.height)) == SIZES[paper]
        assert f"{number} / {len(read.pages)}" in each.extract_text()
    said = " ".join(" ".join(each.extract_text() for each in read.pages).split())
    for expected in ("Ardenholt Solar", "Family Example", "Module 425", "10.1002/pip.1182"):
        assert expected in said
    assert ("Bitte beachten" if language == "de" else "Please keep in mind") in said


def test_the_pdf_is_tagged_and_each_drawing_has_its_alternative(client: FlaskClient) -> None:
    read = PdfReader(io.BytesIO(ask(client, VARIANTS["the example"], PDF).data))
    root: Any = read.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert read.metadata is not None
    assert read.metadata.title == "Ardenholt Solar: Your roof, worked out"
    assert "pdfuaid" in root["/Metadata"].get_data().decode()
    elements = list(structure(root["/StructTreeRoot"]))
    drawings = [str(each.get("/Alt", "")) for each in elements if each.get("/S") == "/Figure"]
    assert sum(". " in each for each in drawings) >= 6
    assert any("Most in" in each for each in drawings)
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


def test_a_failure_of_the_pdf_writer_is_told(
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


def test_the_paper_holds_hostile_text_and_fetches_nothing(client: FlaskClient) -> None:
    response = ask(client, hostile_design(), PDF)
    assert response.status_code == 200
    said = "".join(each.extract_text() for each in PdfReader(io.BytesIO(response.data)).pages)
    assert "window.hit=1" in said
    with pytest.raises(ValueError, match="disallowed protocol"):
        pdf._fetcher().fetch("http://192.0.2.1/a.png")

"""The customer's sheet and the parts as CSV: from the real service, and what becomes of answers that are neither."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import requests

import wattpair
from tests.sdk import fault_server as faults
from tests.sdk.both import noting_pauses, opened
from tests.sdk.canned import DOCUMENTS, file_of
from tests.sdk.conftest import FACES, MODULE, PLACE, UNITS, serving
from tests.sdk.fault_server import FaultServer, answers
from wattpair import Client
from wattpair.testing import FakeService
from wattpair_service.report import pdf
from wattpair_service.settings import Settings

DESIGN: dict[str, Any] = {
    "site": PLACE,
    "modules": [wattpair.ModuleOffer(module=MODULE)],
    "candidates": [wattpair.Candidate(microinverter=unit) for unit in UNITS[:2]],
    "faces": [
        wattpair.DesignFace(name=face.name, tilt_deg=face.tilt_deg, azimuth_deg=face.azimuth_deg, module_count=8)
        for face in FACES
    ],
    "sheet": wattpair.Sheet(company="Example & Co", customer="Mx Sample", date="2030-01-31"),
}
BILL: dict[str, Any] = {
    "faces": [wattpair.FaceCount(name="=south", module_count=8)],
    "unit_ac_current_a": 1.5,
    "module_mass_kg": 21.3,
    "unit_mass_kg": 1.1,
    "price_book": wattpair.PriceBook(
        currency="EUR",
        tax_percent="21",
        items=[{"part_number": "M", "cost": "100.10", "price": "120"}],
        part_numbers=[{"role": "module", "part_number": "M"}],
    ),
}
ARGUMENTS = {"sheet_html": DESIGN, "sheet_pdf": DESIGN, "order_csv": DESIGN, "materials_csv": BILL}
CALLS = {call.name: call for call, _ in DOCUMENTS}
WHOLE = {name: file_of(call).read_bytes() for name, call in CALLS.items()}
ID: dict[str, Any] = {"X_Request_ID": "id-of-service"}
HTML = b"<!doctype html><html><body><h1>Sign in</h1></body></html>"
by_form = pytest.mark.parametrize("name", CALLS)


def ask(client: Client, name: str) -> wattpair.Document:
    document: wattpair.Document = getattr(client, name)(**ARGUMENTS[name])
    return document


@pytest.mark.parametrize(
    "name", ["sheet_html", pytest.param("sheet_pdf", marks=pytest.mark.release), "order_csv", "materials_csv"]
)
def test_a_document_is_what_the_service_gives_byte_for_byte(service_url: str, kind: str, name: str) -> None:
    call = CALLS[name]
    with opened(kind, service_url) as client:
        document = ask(client, name)
    body, accept = call.request(**ARGUMENTS[name]).content, {"Accept": call.media_type, "Content-Type": "application/json"}
    directly = requests.post(service_url + call.path, data=body, headers=accept, timeout=60)
    assert document == wattpair.Document(media_type=call.media_type, content=directly.content)


def test_the_sheet_bears_what_was_asked_for_in_its_language(client: Client) -> None:
    english = client.sheet_html(**DESIGN).text
    wishes = {"company": "Example & Co", "language": "de", "date": date(2030, 1, 31)}
    german = client.sheet_html(**DESIGN | {"sheet": wishes}).text
    assert "Example &amp; Co" in english
    assert "Mx Sample" in english
    assert "31. Januar 2030" in german
    assert ('<html lang="en">' in english, '<html lang="de">' in german) == (True, True)


def test_the_csv_has_the_lines_of_the_bill(client: Client) -> None:
    bill = client.list_materials(**BILL)
    rows = list(csv.DictReader(io.StringIO(client.materials_csv(**BILL).text)))
    assert [(row["role"], float(row["quantity"])) for row in rows] == [(line.role, line.quantity) for line in bill.lines]
    assert bill.prices is not None
    assert [row["net"] for row in rows if row["net"]] == [str(line.net) for line in bill.prices.lines if line.net is not None]
    assert "'=south" in {row["belongs_to"] for row in rows}


def test_a_document_is_saved_and_shows_its_size_alone(tmp_path: Path) -> None:
    document = wattpair.Document(media_type="application/pdf", content=b"%PDF-%%EOF")
    for path in (tmp_path / "sheet.pdf", str(tmp_path / "sheet.pdf")):
        assert document.save(path) == tmp_path / "sheet.pdf"
        assert (tmp_path / "sheet.pdf").read_bytes() == document.content
    assert repr(document) == "Document(media_type='application/pdf', content=<10 bytes>)"
    with pytest.raises(ValueError, match="application/pdf has no text; its bytes are in content"):
        document.text  # noqa: B018
    with pytest.raises(TypeError, match=r"path: 3 \(int\) was given; allowed is a path"):
        document.save(3)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("name", "changes", "raised", "text"),
    [
        (
            "sheet_pdf",
            {"faces": [{"name": "south", "tilt_deg": 99, "azimuth_deg": 180, "module_count": 3}]},
            wattpair.InvalidFields,
            r"faces\[0\]\.tilt_deg: 99 was given",
        ),
        ("sheet_html", {"sheet": wattpair.Sheet(accent="#ffffff")}, wattpair.InvalidFields, r"sheet\.accent: .*white"),
        (
            "sheet_html",
            {"sheet": {"language": "fr"}},
            wattpair.NotAcceptable,
            r'sheet\.language: "fr" was given; allowed is .*en.*de',
        ),
        ("sheet_pdf", {"sheet": {"company": 3}}, TypeError, r"sheet\.company: 3 \(int\) was given; allowed is a text"),
        ("sheet_pdf", {"colour": "red"}, TypeError, "unexpected keyword argument .colour."),
    ],
)
def test_refusals_of_documents_are_those_of_every_call(
    service_url: str, kind: str, name: str, changes: dict[str, Any], raised: type[Exception], text: str
) -> None:
    with opened(kind, service_url) as client, pytest.raises(raised, match=text):
        getattr(client, name)(**DESIGN | changes)


@pytest.fixture
def no_pdf_writer(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    pdf.available.cache_clear()
    monkeypatch.setattr(pdf, "find_spec", lambda _: None)
    yield
    pdf.available.cache_clear()


@pytest.mark.usefixtures("no_pdf_writer")
def test_a_service_that_writes_no_pdf_says_so() -> None:
    with serving(Settings()) as url, Client(url) as client:
        with pytest.raises(wattpair.NotAcceptable, match=r"406 Not Acceptable: .*the service's extra `pdf`"):
            client.sheet_pdf(**DESIGN)
        assert client.sheet_html(**DESIGN).text


def answers_of(name: str) -> dict[str, tuple[faults.Behaviour, str]]:
    """What is no document of a form, and what the client says of it."""
    form, whole = CALLS[name].media_type, WHOLE[name]
    page = answers(HTML.replace(b"Sign", b"\x1b[2J"), kind="text/html; charset=utf-8")
    return {
        "json": (
            answers(b'{"currency": null}', **ID),
            rf"the answer is not {form} but \{{\"currency\": null\}} \(application/json\)",
        ),
        "page of a proxy": (page, f"(is not {form}|has no X-Request-ID).*\ufffd\\[2J in"),
        "nothing": (answers(b"", kind="application/octet-stream", **ID), f"the answer is not {form} but an empty body"),
        "no type": (answers(b"", kind="", **ID), f"the answer is not {form} but"),
        "no id": (answers(whole, kind=form), "has no X-Request-ID, so it is not the service's own"),
        "half": (answers(whole[: len(whole) // 2], kind=form, **ID), "is cut off, or no"),
        "empty": (answers(b"", kind=form, **ID), "is cut off, or no"),
    }


@by_form
@pytest.mark.parametrize("answer", answers_of("sheet_html"))
def test_an_answer_that_is_no_whole_document_of_the_service_is_refused(kind: str, name: str, answer: str) -> None:
    fault, text = answers_of(name)[answer]
    with FaultServer(fault) as server, opened(kind, server.url) as client:
        with pytest.raises(wattpair.BadAnswer, match=text) as caught:
            ask(client, name)
        assert "\x1b" not in str(caught.value)
        assert len(server.requests) == 1


@by_form
def test_a_document_is_asked_for_again_like_every_answer(kind: str, name: str) -> None:
    form = CALLS[name].media_type
    good = answers(WHOLE[name], kind=f"{form}; charset=utf-8", **ID)
    with FaultServer(answers(b"", 503), faults.ends_within_the_body, good) as server, opened(kind, server.url) as client:
        noting_pauses(kind, client)
        assert ask(client, name).content == WHOLE[name]
        assert [headers["Accept"] for headers, _ in server.requests] == [f"{form}, application/problem+json"] * 3
    with FaultServer(faults.resets_within_the_body) as server, opened(kind, server.url, retries=0) as client:
        with pytest.raises(wattpair.ConnectionFailed):
            ask(client, name)
        assert len(server.requests) == 1


def test_many_sheets_are_kept_in_a_file_of_results(service_url: str, kind: str, tmp_path: Path) -> None:
    roofs: list[Any] = [DESIGN | {"site": PLACE | {"latitude_deg": latitude_deg}} for latitude_deg in (45.0, 99.0, 52.0)]
    sent: list[Any] = []
    file = tmp_path / "sheets.jsonl"
    with opened(kind, service_url, on_exchange=sent.append) as client:
        first, again = (client.many(client.sheet_html, roofs, workers=2, resume=file) for _ in range(2))
        assert [type(outcome.error) for outcome in first] == [type(None), wattpair.InvalidFields, type(None)]
        assert [outcome.result for outcome in again] == [outcome.result for outcome in first]
        assert first[0].unwrap().media_type == "text/html"
        assert len(sent) == 3


@pytest.mark.parametrize("content", ["\u00e4", "A", 3])
def test_a_document_is_kept_as_base64_and_a_damaged_one_is_refused(content: object, tmp_path: Path) -> None:
    file, fake, every_byte = tmp_path / "sheets.jsonl", FakeService(), b"%PDF-" + bytes(range(256)) + b"%%EOF"
    fake.answer("sheet_pdf", every_byte, times=1)
    with fake.client() as client:
        for _ in range(2):
            assert client.many(client.sheet_pdf, [DESIGN], resume=file)[0].unwrap().content == every_byte
        head, line = file.read_text().splitlines()
        kept = json.loads(line)
        kept["answer"]["content"] = content
        file.write_text(f"{head}\n{json.dumps(kept)}\n")
        with pytest.raises(wattpair.ResultsFileError, match=r"line 2 is damaged \(.*\$\.content"):
            client.many(client.sheet_pdf, [DESIGN], resume=file)

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

from tests.sdk import fault_server as faults
from tests.sdk.both import kinds, noting_pauses, opened
from tests.sdk.canned import DOCUMENTS, file_of
from tests.sdk.conftest import FACES, MODULE, PLACE, UNITS
from tests.sdk.fault_server import FaultServer, answers
from wattpair import (
    BadAnswer,
    Candidate,
    Client,
    ConnectionFailed,
    DesignFace,
    Document,
    FaceCount,
    InvalidFields,
    ModuleOffer,
    NotAcceptable,
    PriceBook,
    Sheet,
)
from wattpair.codec import decode, plain
from wattpair_service.report import pdf

DESIGN: dict[str, Any] = {
    "site": PLACE,
    "modules": [ModuleOffer(module=MODULE)],
    "candidates": [Candidate(microinverter=unit) for unit in UNITS[:2]],
    "faces": [
        DesignFace(name=face.name, tilt_deg=face.tilt_deg, azimuth_deg=face.azimuth_deg, module_count=8) for face in FACES
    ],
    "sheet": Sheet(company="Example & Co", customer="Mx Sample", date="2030-01-31"),
}
BILL: dict[str, Any] = {
    "faces": [FaceCount(name="=south", module_count=8)],
    "unit_ac_current_a": 1.5,
    "module_mass_kg": 21.3,
    "unit_mass_kg": 1.1,
    "price_book": PriceBook(
        currency="EUR",
        tax_percent="21",
        items=[{"part_number": "M", "cost": "100.10", "price": "120"}],
        part_numbers=[{"role": "module", "part_number": "M"}],
    ),
}
ARGUMENTS = {"sheet_html": DESIGN, "sheet_pdf": DESIGN, "materials_csv": BILL}
by_form = pytest.mark.parametrize("call", [call for call, _ in DOCUMENTS], ids=lambda call: call.name)
HTML = b"<!doctype html><html><body><h1>Sign in</h1></body></html>"


@kinds
@by_form
def test_a_document_is_what_the_service_gives_byte_for_byte(service_url: str, kind: str, call: Any) -> None:
    given = ARGUMENTS[call.name]
    with opened(kind, service_url) as client:
        document = getattr(client, call.name)(**given)
    accept = {"Accept": call.media_type}
    directly = requests.post(service_url + call.path, json=_as_json(call, given), headers=accept, timeout=60)
    assert document == Document(media_type=call.media_type, content=directly.content)


def _as_json(call: Any, arguments: dict[str, Any]) -> Any:
    return json.loads(call.request(**arguments).content)


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
    document = client.materials_csv(**BILL)
    rows = list(csv.DictReader(io.StringIO(document.text)))
    assert [(row["role"], float(row["quantity"])) for row in rows] == [(line.role, line.quantity) for line in bill.lines]
    assert bill.prices is not None
    assert [row["net"] for row in rows if row["net"]] == [str(line.net) for line in bill.prices.lines if line.net is not None]
    assert "'=south" in {row["belongs_to"] for row in rows}


def test_a_document_is_saved_and_shows_its_size_alone(client: Client, tmp_path: Path) -> None:
    document = client.sheet_pdf(**DESIGN)
    for path in (tmp_path / "sheet.pdf", str(tmp_path / "sheet.pdf")):
        assert document.save(path) == tmp_path / "sheet.pdf"
        assert (tmp_path / "sheet.pdf").read_bytes() == document.content
    assert repr(document) == f"Document(media_type='application/pdf', content=<{len(document.content)} bytes>)"
    with pytest.raises(ValueError, match="application/pdf has no text; its bytes are in content"):
        document.text  # noqa: B018
    with pytest.raises(TypeError, match=r"path: 3 \(int\) was given; allowed is a path"):
        document.save(3)  # type: ignore[arg-type]


@kinds
def test_refusals_of_documents_are_those_of_every_call(service_url: str, kind: str) -> None:
    with opened(kind, service_url) as client:
        with pytest.raises(InvalidFields) as caught:
            client.sheet_pdf(**DESIGN | {"faces": [{"name": "south", "tilt_deg": 99, "azimuth_deg": 180, "module_count": 3}]})
        assert [each.argument for each in caught.value.field_errors] == ["faces[0].tilt_deg"]
        with pytest.raises(InvalidFields, match=r"sheet\.accent: .*white"):
            client.sheet_html(**DESIGN | {"sheet": Sheet(accent="#ffffff")})
        with pytest.raises(NotAcceptable, match=r'sheet\.language: "fr" was given; allowed is .*en.*de'):
            client.sheet_html(**DESIGN | {"sheet": {"language": "fr"}})
        with pytest.raises(TypeError, match=r"sheet\.company: 3 \(int\) was given; allowed is a text"):
            client.sheet_pdf(**DESIGN | {"sheet": {"company": 3}})
        with pytest.raises(TypeError, match=r"^sheet_pdf\(\): colour is no argument of it"):
            client.sheet_pdf(**DESIGN, colour="red")  # type: ignore[call-arg]


@pytest.fixture
def no_pdf_writer(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    pdf.available.cache_clear()
    monkeypatch.setattr(pdf, "find_spec", lambda _: None)
    yield
    pdf.available.cache_clear()


@pytest.mark.usefixtures("no_pdf_writer")
def test_a_service_that_writes_no_pdf_says_so(client: Client) -> None:
    with pytest.raises(NotAcceptable, match=r"406 Not Acceptable: .*the service's extra `pdf`"):
        client.sheet_pdf(**DESIGN)
    assert client.sheet_html(**DESIGN).text


WHOLE = {call.name: file_of(call).read_bytes() for call, _ in DOCUMENTS}
ID: dict[str, Any] = {"X_Request_ID": "id-of-service"}


@kinds
@by_form
@pytest.mark.parametrize(
    ("fault", "text"),
    [
        (answers(b'{"currency": null}', **ID), r"the answer is not {} but \{{\"currency\": null\}} \(application/json\)"),
        (
            answers(HTML.replace(b"Sign", b"\x1b[2J"), kind="text/html; charset=utf-8"),
            "(is not {}|has no X-Request-ID).*\ufffd\\[2J in",
        ),
        (answers(b"", kind="application/octet-stream", **ID), "the answer is not {} but an empty body"),
        (answers(b"", kind="", **ID), "the answer is not {} but"),
    ],
    ids=["json", "html", "nothing", "no type"],
)
def test_an_answer_in_another_form_is_none(kind: str, call: Any, fault: faults.Behaviour, text: str) -> None:
    with FaultServer(fault) as server, opened(kind, server.url) as client:
        with pytest.raises(BadAnswer, match=text.format(call.media_type)) as caught:
            getattr(client, call.name)(**ARGUMENTS[call.name])
        assert "\x1b" not in str(caught.value)
        assert len(server.requests) == 1


@kinds
@by_form
def test_a_document_that_is_cut_off_or_not_the_services_own_is_none(kind: str, call: Any) -> None:
    whole = WHOLE[call.name]
    unmarked = answers(whole, kind=call.media_type)
    half = answers(whole[: len(whole) // 2], kind=call.media_type, **ID)
    empty = answers(b"", kind=call.media_type, **ID)
    with FaultServer(unmarked, half, empty) as server, opened(kind, server.url) as client:
        for text in ("has no X-Request-ID, so it is not the service's own", "is cut off, or no", "is cut off, or no"):
            with pytest.raises(BadAnswer, match=text):
                getattr(client, call.name)(**ARGUMENTS[call.name])


@kinds
@by_form
def test_a_document_is_asked_for_again_like_every_answer(kind: str, call: Any) -> None:
    good = answers(WHOLE[call.name], kind=f"{call.media_type}; charset=utf-8", **ID)
    with FaultServer(answers(b"", 503), faults.ends_within_the_body, good) as server, opened(kind, server.url) as client:
        noting_pauses(kind, client)
        assert getattr(client, call.name)(**ARGUMENTS[call.name]).content == WHOLE[call.name]
        assert {headers["Accept"] for headers, _ in server.requests} == {f"{call.media_type}, application/problem+json"}
        assert len(server.requests) == 3
    with FaultServer(faults.resets_within_the_body) as server, opened(kind, server.url, retries=0) as client:
        ask_for = getattr(client, call.name)
        with pytest.raises(ConnectionFailed):
            ask_for(**ARGUMENTS[call.name])


@kinds
def test_many_sheets_and_a_run_that_goes_on(service_url: str, kind: str, tmp_path: Path) -> None:
    roofs: list[Any] = [DESIGN | {"site": PLACE | {"latitude_deg": latitude_deg}} for latitude_deg in (45.0, 99.0, 52.0)]
    sent: list[Any] = []
    with opened(kind, service_url, on_exchange=sent.append) as client:
        first = client.many(client.sheet_html, roofs, workers=2, resume=tmp_path / "sheets.jsonl")
        again = client.many(client.sheet_html, roofs, workers=2, resume=tmp_path / "sheets.jsonl")
    assert [type(outcome.error) for outcome in first] == [type(None), InvalidFields, type(None)]
    assert [outcome.result for outcome in again] == [outcome.result for outcome in first]
    assert first[0].unwrap().media_type == "text/html"
    assert len(sent) == 3


def test_a_document_that_is_kept_as_json_comes_back() -> None:
    document = Document(media_type="application/pdf", content=bytes(range(256)))
    assert decode(json.loads(json.dumps(plain(document))), Document) == document
    for content in ("\u00e4", "A", 3):
        with pytest.raises(ValueError, match=r"/content is .* where the contract says bytes in base64"):
            decode({"media_type": "text/csv", "content": content}, Document)

"""Longer answers come as gzip to those who take it, and say the same in either form."""

from __future__ import annotations

import gzip
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import OPERATION_IDS, PATHS, example, strict_json

GZIP = {"Accept-Encoding": "gzip"}
KEPT = ["/v1/regions/ireland", "/openapi.json", "/openapi.yaml", "/", "/pages/home.js"]
BROKEN: dict[str, Any] = {"site": {}, "modules": [{"module": {}}], "candidates": [{"microinverter": {}}], "faces": [{}]}


@pytest.mark.parametrize("operation_id", OPERATION_IDS)
def test_packed_and_plain_say_the_same_and_packed_is_always_the_same(client: FlaskClient, operation_id: str) -> None:
    body = example(operation_id)
    plain = client.post(PATHS[operation_id], json=body)
    first, second = (client.post(PATHS[operation_id], json=body, headers=GZIP) for _ in range(2))
    assert "Content-Encoding" not in plain.headers
    assert len(plain.data) >= 1024
    assert first.headers["Content-Encoding"] == "gzip"
    assert int(first.headers["Content-Length"]) == len(first.data) < 0.6 * len(plain.data)
    assert gzip.decompress(first.data) == plain.data
    assert first.data == second.data
    assert first.data[4:8] == bytes(4), "the time of packing stands in it"
    for response in (plain, first):
        assert "Accept-Encoding" in response.vary
        assert response.content_type == "application/json"


@pytest.mark.parametrize(
    ("accepted", "packed"),
    [
        ("gzip", True),
        ("GZip", True),
        ("gzip, deflate, br, zstd", True),
        ("br;q=1.0, gzip;q=0.001", True),
        ("*", True),
        ("identity, gzip", True),
        ("identity;q=0.5, gzip;q=0.6", True),
        ("identity;q=0, gzip", True),
        ("identity;q=1, gzip;q=0.5", False),
        ("gzip;q=0", False),
        ("gzip;q=0.000, *", False),
        ("*;q=0", False),
        ("identity", False),
        ("br, deflate", False),
        ("", False),
        ("gzipped", False),
        (",;q=gzip;;,", False),
    ],
)
def test_the_request_decides(client: FlaskClient, accepted: str, packed: bool) -> None:
    plain = client.get("/v1/regions/ireland")
    response = client.get("/v1/regions/ireland", headers={"Accept-Encoding": accepted})
    assert response.status_code == 200
    assert (response.headers.get("Content-Encoding") == "gzip") is packed
    assert (gzip.decompress(response.data) if packed else response.data) == plain.data
    assert "Accept-Encoding" in response.vary


@pytest.mark.parametrize("path", ["/health/live", "/v1/regions", "/nothing/here"])
def test_a_short_answer_stays_plain(client: FlaskClient, path: str) -> None:
    response = client.get(path, headers=GZIP)
    assert strict_json(response)
    assert "Content-Encoding" not in response.headers
    assert "Accept-Encoding" not in response.vary


def test_a_long_problem_is_packed_too(client: FlaskClient) -> None:
    response = client.post(PATHS["design_roof"], json=BROKEN, headers=GZIP)
    assert response.status_code == 422
    assert response.content_type == "application/problem+json"
    assert response.headers["Content-Encoding"] == "gzip"
    assert b"invalid-fields" in gzip.decompress(response.data)


@pytest.mark.parametrize(
    ("operation_id", "media_type", "packed"),
    [("design_roof", "text/html", True), ("list_materials", "text/csv", True), ("design_roof", "application/pdf", False)],
)
def test_text_is_packed_and_what_is_packed_already_is_not(
    client: FlaskClient, operation_id: str, media_type: str, packed: bool
) -> None:
    asked = GZIP | {"Accept": media_type}
    response = client.post(PATHS[operation_id], json=example(operation_id), headers=asked)
    assert response.status_code == 200
    assert response.mimetype == media_type
    assert (response.headers.get("Content-Encoding") == "gzip") is packed
    assert ("Accept" in response.vary, "Accept-Encoding" in response.vary) == (True, packed)


@pytest.mark.parametrize("path", KEPT)
def test_a_tag_holds_for_both_forms_and_a_head_is_that_of_its_get(client: FlaskClient, path: str) -> None:
    plain, packed = client.get(path), client.get(path, headers=GZIP)
    tag = plain.headers["ETag"]
    assert tag.startswith("W/")
    assert packed.headers["ETag"] == tag
    for headers, whole in (({}, plain), (GZIP, packed)):
        unchanged = client.get(path, headers=headers | {"If-None-Match": tag})
        assert (unchanged.status_code, unchanged.data) == (304, b"")
        assert unchanged.headers["ETag"] == tag
        assert "Accept-Encoding" in unchanged.vary
        assert not {"Content-Encoding", "Content-Length"} & set(unchanged.headers.keys())
        head = client.head(path, headers=headers)
        assert (head.status_code, head.data) == (200, b"")
        for name in ("ETag", "Vary", "Content-Length", "Content-Encoding", "Content-Type"):
            assert head.headers.get(name) == whole.headers.get(name)

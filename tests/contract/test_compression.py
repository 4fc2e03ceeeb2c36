"""Longer answers come as gzip to those who accept it, and are the same in either form."""

from __future__ import annotations

import gzip
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import OPERATION_IDS, PATHS, example, strict_json

GZIP = {"Accept-Encoding": "gzip"}
BROKEN: dict[str, Any] = {"site": {}, "modules": [{"module": {}}], "candidates": [{"microinverter": {}}], "faces": [{}]}


@pytest.mark.parametrize(
    ("operation_id", "media_type"),
    [*((each, "application/json") for each in OPERATION_IDS), ("design_roof", "text/html"), ("list_materials", "text/csv")],
)
def test_plain_and_packed_answers_are_the_same(client: FlaskClient, operation_id: str, media_type: str) -> None:
    body, accept = example(operation_id), {"Accept": media_type}
    plain = client.post(PATHS[operation_id], json=body, headers=accept)
    first, second = (client.post(PATHS[operation_id], json=body, headers=accept | GZIP) for _ in range(2))
    assert "Content-Encoding" not in plain.headers
    assert len(plain.data) >= 1024
    assert first.headers["Content-Encoding"] == "gzip"
    assert int(first.headers["Content-Length"]) == len(first.data) < 0.6 * len(plain.data)
    assert gzip.decompress(first.data) == plain.data
    assert first.data == second.data
    assert first.data[4:8] == bytes(4), "the time of packing stands in it"
    for response in (plain, first):
        assert (response.status_code, response.mimetype) == (200, media_type)
        assert "Accept-Encoding" in response.vary


PACKED = ["gzip", "GZip", "gzip, deflate, br, zstd", "br;q=1.0, gzip;q=0.001", "*", "identity, gzip"]
PACKED += ["identity;q=0.5, gzip;q=0.6", "identity;q=0, gzip"]
PLAIN = ["identity;q=1, gzip;q=0.5", "gzip;q=0", "gzip;q=0.000, *", "*;q=0", "identity", "br, deflate", "", "gzipped"]
PLAIN += [",;q=gzip;;,"]


@pytest.mark.parametrize(("accepted", "is_packed"), [(each, True) for each in PACKED] + [(each, False) for each in PLAIN])
def test_the_request_decides(client: FlaskClient, accepted: str, is_packed: bool) -> None:
    plain = client.get("/v1/regions/ireland")
    response = client.get("/v1/regions/ireland", headers={"Accept-Encoding": accepted})
    assert response.status_code == 200
    assert (response.headers.get("Content-Encoding") == "gzip") is is_packed
    assert (gzip.decompress(response.data) if is_packed else response.data) == plain.data
    assert "Accept-Encoding" in response.vary


@pytest.mark.parametrize("path", ["/health/live", "/v1/regions", "/nothing/here"])
def test_a_short_answer_stays_plain(client: FlaskClient, path: str) -> None:
    response = client.get(path, headers=GZIP)
    assert strict_json(response)
    assert "Content-Encoding" not in response.headers
    assert "Accept-Encoding" not in response.vary


def test_a_long_problem_is_packed_too(client: FlaskClient) -> None:
    response = client.post(PATHS["design_roof"], json=BROKEN, headers=GZIP)
    assert (response.status_code, response.content_type) == (422, "application/problem+json")
    assert response.headers["Content-Encoding"] == "gzip"
    assert b"invalid-fields" in gzip.decompress(response.data)


@pytest.mark.parametrize("headers", [{}, GZIP], ids=["plain", "packed"])
@pytest.mark.parametrize("path", ["/v1/regions/ireland", "/openapi.json", "/openapi.yaml", "/", "/pages/home.js"])
def test_a_tag_holds_for_both_forms_and_a_head_is_that_of_its_get(
    client: FlaskClient, path: str, headers: dict[str, str]
) -> None:
    whole, tag = client.get(path, headers=headers), client.get(path).headers["ETag"]
    assert tag.startswith("W/")
    assert whole.headers["ETag"] == tag
    unchanged = client.get(path, headers=headers | {"If-None-Match": tag})
    assert (unchanged.status_code, unchanged.data, unchanged.headers["ETag"]) == (304, b"", tag)
    assert "Accept-Encoding" in unchanged.vary
    assert not {"Content-Encoding", "Content-Length"} & set(unchanged.headers.keys())
    head = client.head(path, headers=headers)
    assert (head.status_code, head.data) == (200, b"")
    for name in ("ETag", "Vary", "Content-Length", "Content-Encoding", "Content-Type"):
        assert head.headers.get(name) == whole.headers.get(name)

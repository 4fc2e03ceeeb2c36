"""Data that is looked up: cached by its ETag, the same as what the service computes with, and refused by name."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import problem, strict_json
from tests.contract.test_contract import OPERATIONS, faults
from wattpair_service.api import contract
from wattpair_service.rules import region_data, regions

PATHS = ["/v1/regions", "/openapi.json", "/openapi.yaml", *(f"/v1/regions/{name}" for name in regions())]


@pytest.mark.parametrize("path", PATHS)
def test_what_the_caller_has_is_not_sent_again(client: FlaskClient, path: str) -> None:
    first = client.get(path)
    assert first.status_code == 200
    tag = first.headers["ETag"]
    assert first.headers["Cache-Control"] == "no-cache"
    for sent in (tag, f'"other", {tag}', "*", tag.removeprefix("W/")):
        again = client.get(path, headers={"If-None-Match": sent})
        assert (again.status_code, again.data) == (304, b"")
        assert again.headers["ETag"] == tag
        assert again.headers["X-Request-ID"]
    other = client.get(path, headers={"If-None-Match": '"other"'})
    assert (other.status_code, other.data) == (200, first.data)


@pytest.mark.parametrize("path", PATHS)
def test_a_tag_in_if_match_is_refused_as_the_contract_says(client: FlaskClient, path: str) -> None:
    tag = client.get(path).headers["ETag"]
    for sent in (tag, tag.removeprefix("W/"), '"other"', f'"other", {tag}'):
        body = problem(client.get(path, headers={"If-Match": sent}), 412, "precondition-failed")
        assert "If-None-Match" in body["detail"]
    assert client.get(path, headers={"If-Match": "*"}).status_code == 200
    assert client.get(path, headers={"If-Match": "*", "If-None-Match": tag}).status_code == 304
    described = contract.document()["paths"]["/v1/regions/{name}" if path.startswith("/v1/regions/") else path]["get"]
    assert "412" in described["responses"]


def test_each_state_of_data_has_its_own_tag(client: FlaskClient) -> None:
    assert len({client.get(path).headers["ETag"] for path in PATHS}) == len(PATHS)


def test_regions_are_as_described_and_as_their_files_have_them(client: FlaskClient) -> None:
    listed = strict_json(client.get("/v1/regions"))
    assert [region["name"] for region in listed["regions"]] == list(regions())
    for operation, path in (("list_regions", "/v1/regions"), ("read_region", "/v1/regions/ireland")):
        schema = OPERATIONS[operation][2]["responses"]["200"]["content"]["application/json"]["schema"]
        assert faults(strict_json(client.get(path)), schema) == []
    for name in regions():
        region = strict_json(client.get(f"/v1/regions/{name}"))
        assert region["rules"] == region_data(name)
        assert region["cautions"]


@pytest.mark.parametrize("name", ["atlantis", "Ireland", "%2e%2e", "ireland.toml", "conductors", "é"])
def test_an_unknown_region_is_refused_with_those_that_there_are(client: FlaskClient, name: str) -> None:
    body = problem(client.get(f"/v1/regions/{name}"), 404, "not-found")
    assert "ireland" in body["detail"]

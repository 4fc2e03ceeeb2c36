"""What is looked up (pages, contract, examples, rules of regions): its tags, the methods that it takes, and unknown names."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import problem, strict_json
from tests.contract.test_contract import DOCUMENT, faults, response_schema
from wattpair_service.pages.routes import FILES
from wattpair_service.rules import region_data, regions

DATA = ["/v1/regions", "/openapi.json", "/openapi.yaml", *(f"/v1/regions/{name}" for name in regions())]
READABLE = [*DATA, "/", "/docs", "/examples/compute_clipping.json", *(f"/pages/{name}" for name in FILES)]


@pytest.mark.parametrize("path", READABLE)
def test_what_the_caller_has_is_not_sent_again(client: FlaskClient, path: str) -> None:
    first = client.get(path)
    assert (first.status_code, first.headers["Cache-Control"]) == (200, "no-cache")
    tag = first.headers["ETag"]
    for known in (tag, tag.removeprefix("W/"), f'"another", {tag}', "*"):
        again = client.get(path, headers={"If-None-Match": known})
        assert (again.status_code, again.data, again.headers["ETag"]) == (304, b"", tag), known
        assert again.headers["X-Request-ID"]
    other = client.get(path, headers={"If-None-Match": '"another"'})
    assert (other.status_code, other.data) == (200, first.data)
    head = client.head(path)
    assert (head.status_code, head.data, head.headers["ETag"]) == (200, b"", tag)
    assert head.headers["Content-Length"] == str(len(first.data))


@pytest.mark.parametrize("path", DATA)
def test_a_tag_in_if_match_is_refused_as_the_contract_says(client: FlaskClient, path: str) -> None:
    tag = client.get(path).headers["ETag"]
    for sent in (tag, tag.removeprefix("W/"), '"other"', f'"other", {tag}'):
        refused = problem(client.get(path, headers={"If-Match": sent}), 412, "precondition-failed")
        assert "If-None-Match" in refused["detail"], sent
    assert client.get(path, headers={"If-Match": "*"}).status_code == 200
    assert client.get(path, headers={"If-Match": "*", "If-None-Match": tag}).status_code == 304
    described = DOCUMENT["paths"]["/v1/regions/{name}" if path.startswith("/v1/regions/") else path]["get"]
    assert "412" in described["responses"]


@pytest.mark.parametrize("path", ["/health/live", "/health/ready", *READABLE])
@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE"])
def test_what_can_be_read_cannot_be_written(client: FlaskClient, path: str, method: str) -> None:
    response = client.open(path, method=method)
    problem(response, 405, "method-not-allowed")
    assert set(response.headers["Allow"].split(", ")) == {"GET", "HEAD", "OPTIONS"}


def test_each_state_of_data_has_its_own_tag(client: FlaskClient) -> None:
    assert len({client.get(path).headers["ETag"] for path in DATA}) == len(DATA)


def test_regions_are_as_described_and_as_their_files_have_them(client: FlaskClient) -> None:
    listed = strict_json(client.get("/v1/regions"))
    assert [region["name"] for region in listed["regions"]] == list(regions())
    assert faults(listed, response_schema("list_regions")) == []
    for name in regions():
        region = strict_json(client.get(f"/v1/regions/{name}"))
        assert faults(region, response_schema("read_region")) == []
        assert region["rules"] == region_data(name)
        assert region["cautions"]


@pytest.mark.parametrize("name", ["atlantis", "Ireland", "%2e%2e", "ireland.toml", "conductors", "é"])
def test_an_unknown_region_is_refused_with_the_known_ones(client: FlaskClient, name: str) -> None:
    assert "ireland" in problem(client.get(f"/v1/regions/{name}"), 404, "not-found")["detail"]

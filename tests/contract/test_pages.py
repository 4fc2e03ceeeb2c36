"""The pages for people and the files that they load, as they go over the wire."""

from __future__ import annotations

import re
from urllib.parse import urljoin

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import OPERATION_IDS, example, problem, strict_json
from tests.contract.test_contract import COMMITTED, DOCUMENT

PAGES = pytest.mark.parametrize("path", ["/", "/docs"])
BROWSER = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"


@PAGES
@pytest.mark.parametrize(
    "accept",
    [None, "*/*", "text/html", "text/html;level=1", "TEXT/HTML;q=0.4;level=2", "text/*;q=0.1, application/json", BROWSER],
)
def test_a_page_is_html_and_held_to_this_service(client: FlaskClient, path: str, accept: str | None) -> None:
    response = client.get(path, headers={} if accept is None else {"Accept": accept})
    assert (response.status_code, response.content_type) == (200, "text/html; charset=utf-8")
    policy = dict(each.split(" ", 1) for each in response.headers["Content-Security-Policy"].split("; "))
    assert policy["default-src"] == policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert response.headers["Referrer-Policy"] == "no-referrer"
    assert "Accept" in response.headers["Vary"]


@PAGES
@pytest.mark.parametrize(
    "accept", ["application/json", "image/png", "text/html;q=0", "text/html;level=1;q=0", "application/pdf, text/plain"]
)
def test_a_page_is_offered_as_html_only(client: FlaskClient, path: str, accept: str) -> None:
    response = client.get(path, headers={"Accept": accept})
    said = problem(response, 406, "not-acceptable")
    assert response.headers["Vary"] == "Accept"
    assert "text/html" in said["detail"]
    assert "/openapi.json" in said["detail"]


def test_a_slash_behind_the_api_page_is_forgiven(client: FlaskClient) -> None:
    response = client.get("/docs/")
    assert (response.status_code, response.headers["Location"]) == (308, "../docs")
    assert urljoin("http://here/below/docs/", response.headers["Location"]) == "http://here/below/docs"


@PAGES
def test_a_page_has_no_script_or_style_of_its_own_and_loads_only_what_is_here(client: FlaskClient, path: str) -> None:
    text = client.get(path).get_data(as_text=True)
    assert not re.search(r"<style|<script(?![^>]* src=)|\sstyle=|\son[a-z]+=|javascript:|//(?!127\.0\.0\.1)", text)
    loaded = re.findall(r'(?:src|href)="(pages/[^"]+)"', text)
    assert len(loaded) >= 5
    for each in loaded:
        assert client.get(f"/{each}").status_code == 200


@pytest.mark.parametrize(
    ("name", "content_type"),
    [("home.js", "text/javascript"), ("page.css", "text/css"), ("icon.svg", "image/svg+xml"), ("swagger-ui.css", "text/css")],
)
def test_a_file_is_what_it_says(client: FlaskClient, name: str, content_type: str) -> None:
    response = client.get(f"/pages/{name}")
    assert response.mimetype == content_type
    assert response.headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize("operation_id", OPERATION_IDS)
def test_every_operation_has_an_example_to_send(client: FlaskClient, operation_id: str) -> None:
    assert strict_json(client.get(f"/examples/{operation_id}.json")) == example(operation_id)


FILES = ["", "routes.py", "home.html", "../app.py", "..%2fapp.py", "swagger-ui.js", "home.js/", "%00"]
EXAMPLES = ["nothing.json", "compute_clipping", "check_live.json", "<script>.json"]


@pytest.mark.parametrize("path", [f"/pages/{name}" for name in FILES] + [f"/examples/{name}" for name in EXAMPLES])
def test_other_files_are_not_there(client: FlaskClient, path: str) -> None:
    problem(client.get(path), 404, "not-found")


def test_the_contract_is_served_as_it_is_committed(client: FlaskClient) -> None:
    response = client.get("/openapi.yaml")
    assert (response.content_type, response.get_data()) == ("application/yaml", COMMITTED.read_bytes())
    assert strict_json(client.get("/openapi.json")) == DOCUMENT

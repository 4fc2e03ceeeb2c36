"""The form of an answer is the one that Accept asks for, or 406 with what is offered."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import example, problem
from tests.contract.test_sheet import HTML, JSON, PDF, VARIANTS, ask


@pytest.mark.parametrize(
    ("accept", "given"),
    [
        (None, JSON),
        ("*/*", JSON),
        ("application/*", JSON),
        ("text/html", HTML),
        ("text/html; charset=utf-8", HTML),
        ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", HTML),
        ("application/json;q=0.2, text/html;q=0.1", JSON),
        ("application/json;q=0.1, text/html;q=0.2", HTML),
        ("application/json;q=0, */*;q=0.5", HTML),
        ("application/pdf", PDF),
    ],
)
def test_the_best_liked_form_is_given(client: FlaskClient, accept: str | None, given: str) -> None:
    response = ask(client, VARIANTS["one candidate"], accept)
    assert (response.status_code, response.mimetype) == (200, given)
    assert "Accept" in response.vary


@pytest.mark.parametrize("accept", ["image/png", "application/json;q=0", "nonsense", "text/html;q=0"])
def test_an_accept_that_cannot_be_met_is_told_what_is_offered(client: FlaskClient, accept: str) -> None:
    found = problem(ask(client, VARIANTS["the example"], accept), 406, "not-acceptable")
    for offered in (JSON, HTML, PDF):
        assert offered in found["detail"]


def test_other_operations_have_their_forms_too(client: FlaskClient) -> None:
    response = client.post("/v1/bill-of-materials", json=example("list_materials"), headers={"Accept": "text/csv"})
    assert response.mimetype == "text/csv"
    response = client.post("/v1/bill-of-materials", json=example("list_materials"), headers={"Accept": "text/html"})
    assert problem(response, 406, "not-acceptable")["detail"].endswith("offered are application/json, text/csv.")
    found = problem(
        client.post("/v1/sizing", json=example("size_pairings"), headers={"Accept": "text/csv"}), 406, "not-acceptable"
    )
    assert found["detail"].endswith("offered are application/json.")

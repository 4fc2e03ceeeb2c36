"""The proxy as its files have it, in front of two copies: TLS, what stays inside, what it says itself, a copy that is gone."""

from __future__ import annotations

import contextlib
import gzip
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from http import HTTPStatus
from pathlib import Path
from typing import Any

import pytest
import requests

import wattpair
from tests.contract.bodies import example
from tests.deployment import Deployment, behind_nginx, certificate_in, deployed
from tests.running import wait_until
from wattpair_service.api.exchange.problems import TYPE_PREFIX, Problem

SIZING = example("size_pairings")
BEGUN = b"POST /v1/sizing HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 5\r\n\r\n"


@pytest.fixture(scope="module")
def deployment(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Deployment]:
    with deployed(tmp_path_factory.mktemp("proxy")) as running:
        yield running


@contextlib.contextmanager
def other_proxy(deployment: Deployment, folder: Path, changes: dict[str, str]) -> Iterator[Deployment]:
    """A further proxy in front of the same copies, with changes."""
    ports = [each.service.port for each in deployment.copies]
    certificate, private = certificate_in(folder)
    with behind_nginx(folder, ports, certificate, private, changes) as port:
        yield replace(deployment, port=port, certificate=certificate, folder=folder)


def require_problem(response: requests.Response, status: int, slug: str) -> Any:
    """The proxy says it as the service would."""
    problem = response.json()
    assert response.headers["Content-Type"] == "application/problem+json"
    assert response.headers["Strict-Transport-Security"]
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert response.status_code == problem["status"] == status
    assert (problem["type"], problem["title"]) == (f"{TYPE_PREFIX}{slug}", HTTPStatus(status).phrase)
    assert problem["request_id"] == response.headers["X-Request-ID"]
    assert problem.keys() == json.loads(Problem(HTTPStatus(status), "", "").document("")).keys()
    return problem


def test_the_client_calculates_through_it_and_the_counts_stay_inside(deployment: Deployment) -> None:
    with deployment.session() as session, deployment.session("unknown") as stranger:
        with wattpair.Client(deployment.url, session=session) as client:
            assert client.check_ready().status == "ready"
            assert client.size_pairings(**SIZING).pairings
        require_problem(session.get(f"{deployment.url}/metrics", timeout=20), 404, "not-found")
        assert stranger.post(f"{deployment.url}/v1/sizing", json={}, timeout=20).status_code == 401
        answer = stranger.get(f"{deployment.url}/health/live", headers={"X-Request-ID": "mine"}, timeout=20)
        assert answer.headers["Strict-Transport-Security"]
        assert (answer.headers["X-Request-ID"], answer.headers["X-Content-Type-Options"]) == ("mine", "nosniff")


def test_what_it_refuses_itself_is_a_problem_and_a_line_of_its_log(deployment: Deployment) -> None:
    with deployment.session() as session:
        named = {"X-Request-ID": "too-large-1"}
        large = session.post(f"{deployment.url}/v1/sizing", data=b" " * 9_000_000, headers=named, timeout=20)
        require_problem(large, 413, "body-too-large")
        require_problem(session.get(deployment.url + "/x" * 9000, timeout=20), 414, "malformed-http")
        require_problem(session.get(deployment.url, headers={"X-Long": "x" * 40_000}, timeout=20), 431, "malformed-http")
        assert session.post(f"{deployment.url}/v1/sizing", json={}, timeout=20).status_code == 422
    wait_until(lambda: "too-large-1" in deployment.logs(), 20, "it is logged")
    own = [json.loads(line) for line in deployment.logs().splitlines() if '"logger":"proxy"' in line]
    assert {413, 414, 431} <= {line["status"] for line in own}
    assert 422 not in {line["status"] for line in own}, "what the service answers, it logs"


def test_long_answers_are_packed_for_who_takes_that(deployment: Deployment) -> None:
    with deployment.session() as session:
        for encoding in ("gzip", "identity"):
            answer = session.get(
                f"{deployment.url}/openapi.json", headers={"Accept-Encoding": encoding}, timeout=20, stream=True
            )
            body = answer.raw.read()
            assert (answer.headers.get("Content-Encoding") == "gzip") == (encoding == "gzip")
            assert "Accept-Encoding" in answer.headers["Vary"]
            assert json.loads(gzip.decompress(body) if encoding == "gzip" else body)["openapi"]


def require_told_to_wait(response: requests.Response, known_as: str) -> None:
    """For a second."""
    problem = require_problem(response, 429, "too-many-requests")
    assert (response.headers["Retry-After"], problem["request_id"]) == ("1", known_as)


def test_an_address_that_asks_too_often_is_told_to_wait(deployment: Deployment, tmp_path: Path) -> None:
    changes = {"rate=100r/s": "rate=1r/m", "burst=200": "burst=3"}
    with other_proxy(deployment, tmp_path, changes) as proxied, proxied.session() as session:
        answers = [session.get(f"{proxied.url}/health/live", timeout=20, headers={"X-Request-ID": "asked-1"}) for _ in range(6)]
    assert [each.status_code for each in answers] == [200] * 3 + [429] * 3  # one more has asked whether the proxy answers
    for each in answers[3:]:
        require_told_to_wait(each, "asked-1")


def test_a_run_of_many_calls_rests_where_its_address_asks_too_often_and_gets_every_answer(
    deployment: Deployment, tmp_path: Path
) -> None:
    statuses: list[int | None] = []
    changes = {"rate=100r/s": "rate=5r/s", "burst=200": "burst=4"}
    asked = [SIZING | {"site": SIZING["site"] | {"latitude_deg": 40.0 + number}} for number in range(12)]
    with (
        other_proxy(deployment, tmp_path, changes) as proxied,
        proxied.session() as session,
        wattpair.Client(proxied.url, session=session, on_exchange=lambda exchange: statuses.append(exchange.status)) as client,
    ):
        outcomes = list(client.iter_many(client.size_pairings, asked, workers=8))
    assert [each.error for each in outcomes] == [None] * 12
    assert set(statuses) == {200, 429}
    assert statuses.count(200) == 12


def test_an_address_with_too_many_requests_at_once_is_told_to_wait(deployment: Deployment, tmp_path: Path) -> None:
    changes = {"limit_conn connections 100": "limit_conn connections 5", "client_body_timeout 10s": "client_body_timeout 60s"}
    with (
        other_proxy(deployment, tmp_path, changes) as proxied,
        proxied.session() as session,
        contextlib.ExitStack() as stack,
    ):

        def asked() -> requests.Response:
            quoted = {"X-Request-ID": '","status":200,"x":"', "Connection": "close"}
            return session.get(f"{proxied.url}/health/live", timeout=20, headers=quoted)

        for _ in range(4):
            stack.enter_context(proxied.connect()).sendall(BEGUN)
        assert asked().status_code == 200
        stack.enter_context(proxied.connect()).sendall(BEGUN)
        wait_until(lambda: asked().status_code == 429, 20, "all five count")
        refused = asked()
        assert re.fullmatch("[0-9a-f]{32}", refused.headers["X-Request-ID"])
        require_told_to_wait(refused, refused.headers["X-Request-ID"])


def test_where_one_copy_is_gone_the_other_answers_and_where_both_are_the_proxy_says_so(deployment: Deployment) -> None:
    with deployment.session() as session, wattpair.Client(deployment.url, session=session, retries=0) as client:
        deployment.copies[0].stop()
        for _ in range(10):
            assert client.size_pairings(**SIZING).pairings
        deployment.copies[1].stop()
        refused = session.post(f"{deployment.url}/v1/sizing", json=SIZING, timeout=20)
        require_problem(refused, 503, "busy")
        assert refused.headers["Retry-After"] == "1"
        said = {"status": 503, "request_id": refused.headers["X-Request-ID"]}
        wait_until(lambda: any(said.items() <= line.items() for line in deployment.lines()), 10, "the log has its name")
        for copy in deployment.copies:
            copy.start()
        assert client.size_pairings(**SIZING).pairings

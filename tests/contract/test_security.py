"""Attacks on the service behind its proxy: no answer shows where its code lies or takes over a header of the caller's own."""

from __future__ import annotations

import contextlib
import hmac
import json
import ssl
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import OPERATION_IDS, changed, example, leaves, post
from tests.contract.security_table import BODY_LIMIT, KEY, SECRET, STRANGER, TABLE, WITHDRAWN, call
from tests.deployment import Deployment, deployed
from tests.running import wait_until
from wattpair_service.api.guards import keys


@pytest.fixture(scope="module")
def closed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Deployment]:
    changes = {"client_max_body_size 8m": f"client_max_body_size {BODY_LIMIT}"}
    with deployed(
        tmp_path_factory.mktemp("security"), proxy=changes, api_key=KEY, body_limit_bytes=BODY_LIMIT, copies=1
    ) as running:
        yield running


def sent(closed: Deployment, request: bytes) -> tuple[bytes, bytes]:
    """Head and body of the answer to some bytes."""
    received = b""
    with closed.connect(20.0) as connection, contextlib.suppress(BrokenPipeError, ConnectionResetError, ssl.SSLEOFError):
        connection.sendall(request)  # it may be refused before all of it was taken
        while chunk := connection.recv(65536):
            received += chunk
    head, _, body = received.partition(b"\r\n\r\n")
    return head, body


@pytest.mark.parametrize("attack", TABLE)
def test_an_attack_is_refused(closed: Deployment, attack: str) -> None:
    request, expected = TABLE[attack]
    head, body = sent(closed, request)
    status, _, kind = expected.partition(" ")
    assert head[9:12].decode() == status, (head, body[:300])
    assert SECRET.encode() not in head
    for secret in (b"Traceback", b'.py"', b"/service/", b"root:", KEY.encode()):
        assert secret not in body
    if kind:
        assert b"Content-Type: application/problem+json" in head
        problem = json.loads(body)
        assert (str(problem["status"]), problem["type"]) == (status, f"urn:wattpair:problem:{kind}")


def test_no_attack_reaches_a_log(closed: Deployment) -> None:
    worker, before = closed.copies[0].worker, len(closed.lines())  # each line is JSON
    for request, _ in TABLE.values():
        sent(closed, request)
    wait_until(lambda: len(closed.lines()) - before >= len(TABLE), 20, "each has a line, of the service or of the proxy")
    for secret in (KEY, STRANGER, WITHDRAWN, SECRET, "<script>", "passwd"):
        assert secret not in closed.logs()
    assert closed.copies[0].worker == worker


@pytest.mark.parametrize("given", ["first", "last", "unknown"])
def test_the_comparison_takes_as_many_steps_for_any_key(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, given: str) -> None:
    known = {name: keys.new_key() for name in ("first", "second", "third", "last")}
    file = tmp_path / "keys.toml"
    file.write_text("\n".join(keys.entry(name, key) for name, key in known.items()))
    ring, compared, constant_time = keys.Keyring(file), [], hmac.compare_digest

    def compare(one: str, other: str) -> bool:
        compared.append(len(one))
        return constant_time(one, other)

    monkeypatch.setattr("wattpair_service.api.guards.keys.hmac.compare_digest", compare)
    found = ring.find(known.get(given, STRANGER))
    assert (found.name if found else "unknown") == given
    assert compared == [64] * len(known)


CUSTOMER = "Invented-Street-7"
HTML = '"><script>alert(1)</script><img src=x onerror=alert(1)>'
TEXTS = {each: [pointer for pointer, leaf in leaves(example(each)) if isinstance(leaf, str)] for each in OPERATION_IDS}
"""Where texts stand in the examples."""
FORMS = [(each, "application/json") for each in OPERATION_IDS] + [("design_roof", "text/html")]


@pytest.mark.parametrize(("operation_id", "pointer"), [(each, pointer) for each in TEXTS for pointer in TEXTS[each]])
def test_html_in_any_text_is_text(client: FlaskClient, operation_id: str, pointer: str) -> None:
    response = post(client, operation_id, changed(example(operation_id), {pointer: HTML}))
    assert response.status_code in (200, 422)
    assert response.content_type in ("application/json", "application/problem+json")
    assert response.headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize(
    ("operation_id", "accept"), [*FORMS, pytest.param("design_roof", "application/pdf", marks=pytest.mark.release)]
)
def test_no_text_of_a_customer_reaches_the_log(closed: Deployment, operation_id: str, accept: str) -> None:
    """Each text alone; then at once those that may be anything; then all of them."""

    (copy,) = closed.copies
    body = example(operation_id)
    headers = {"Authorization": f"Bearer {KEY}"}
    every = {pointer: f"Mrs {number} of {CUSTOMER}" for number, pointer in enumerate(TEXTS[operation_id])}
    free = {
        pointer: text
        for pointer, text in every.items()
        if copy.service.post(operation_id, changed(body, {pointer: text}), headers).status == 200
    }
    headers["Accept"] = accept
    assert copy.service.post(operation_id, changed(body, free), headers).status == 200
    last = copy.service.post(operation_id, changed(body, every), headers | {"X-Request-ID": f"last-{operation_id}"})
    assert last.status == (422 if free != every else 200)
    wait_until(lambda: f"last-{operation_id}" in closed.logs(), 20, "the last is logged")
    assert CUSTOMER not in closed.logs()


def test_after_a_body_of_broken_chunks_the_connection_says_nothing_more(closed: Deployment) -> None:
    broken = call("zz\r\nx\r\n0\r\n\r\n", "Transfer-Encoding: chunked", length=False).replace(b"Connection: close\r\n", b"")
    head, body = sent(closed, broken)
    assert head.startswith(b"HTTP/1.1 400")
    assert b"HTTP/1.1" not in body

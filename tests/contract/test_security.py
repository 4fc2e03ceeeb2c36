"""What was tried against the running service, and what came back.

The table of security_table.py is sent byte for byte to gunicorn on loopback. Nothing may show where its code lies, or let a
header of the caller's making into the answer.
"""

from __future__ import annotations

import contextlib
import copy
import hmac
import json
import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import OPERATION_IDS, example, post
from tests.contract.security_table import BODY_LIMIT, KEY, SECRET, STRANGER, TABLE, WITHDRAWN, call
from tests.running import Service, service
from wattpair_service.api import keys


@pytest.fixture(scope="module")
def closed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    folder = tmp_path_factory.mktemp("security")
    keys_file = folder / "keys.toml"
    keys_file.write_text(keys.entry("tester", KEY) + "requests_per_minute = 100000\n")
    with service(folder, keys_file=keys_file, body_limit_bytes=BODY_LIMIT, workers=1) as started:
        yield started


def sent(port: int, request: bytes) -> tuple[bytes, bytes]:
    """Head and body of the answer to some bytes."""
    with socket.create_connection(("127.0.0.1", port), 20) as connection:
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):  # refused before all of it was taken
            connection.sendall(request)
        received = b""
        while chunk := connection.recv(65536):
            received += chunk
    head, _, body = received.partition(b"\r\n\r\n")
    return head, body


@pytest.mark.parametrize("tried", TABLE)
def test_what_came_back(closed: Service, tried: str) -> None:
    request, expected = TABLE[tried]
    head, body = sent(closed.port, request)
    status, _, kind = expected.partition(" ")
    assert head[9:12].decode() == status, (head, body[:300])
    assert SECRET.encode() not in head
    for told in (b"Traceback", b'.py"', b"/service/", b"root:", KEY.encode()):
        assert told not in body
    if kind:
        assert b"Content-Type: application/problem+json" in head
        problem = json.loads(body)
        assert (str(problem["status"]), problem["type"]) == (status, f"urn:wattpair:problem:{kind}")


def test_nothing_of_it_reached_the_log(closed: Service) -> None:
    text = closed.log.read_text(encoding="utf-8")
    assert len(closed.lines()) >= len(TABLE)  # each line is JSON
    for told in (KEY, STRANGER, WITHDRAWN, SECRET, "<script>", "passwd"):
        assert told not in text
    assert len(closed.workers) == 1


@pytest.mark.parametrize("given", ["first", "last", "unknown"])
def test_the_comparison_takes_as_many_steps_for_any_key(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, given: str) -> None:
    made = {name: keys.new_key() for name in ("first", "second", "third", "last")}
    file = tmp_path / "keys.toml"
    file.write_text("\n".join(keys.entry(name, key) for name, key in made.items()))
    ring, compared, constant_time = keys.Keyring(file), [], hmac.compare_digest

    def compare(one: str, other: str) -> bool:
        compared.append(len(one))
        return constant_time(one, other)

    monkeypatch.setattr("wattpair_service.api.keys.hmac.compare_digest", compare)
    found = ring.find(made.get(given, STRANGER))
    assert (found.name if found else "unknown") == given
    assert compared == [64] * len(made)


CUSTOMER = "Invented-Street-7"
HTML = '"><script>alert(1)</script><img src=x onerror=alert(1)>'


def texts(body: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Where texts stand in a body."""
    items = body.items() if isinstance(body, dict) else enumerate(body) if isinstance(body, list) else ()
    for step, inner in items:
        if isinstance(inner, str):
            yield (*path, step)
        yield from texts(inner, (*path, step))


@pytest.mark.parametrize("operation_id", [each for each in OPERATION_IDS if list(texts(example(each)))])
def test_html_in_any_text_is_text(client: FlaskClient, operation_id: str) -> None:
    for place in texts(example(operation_id)):
        body = copy.deepcopy(example(operation_id))
        put(body, place, HTML)
        response = post(client, operation_id, body)
        assert response.status_code in (200, 422), place
        assert response.content_type in ("application/json", "application/problem+json")
        assert response.headers["X-Content-Type-Options"] == "nosniff"


def put(body: Any, place: tuple[Any, ...], text: str) -> None:
    """Put a text at a place of a body."""
    *way, last = place
    for step in way:
        body = body[step]
    body[last] = text


@pytest.mark.parametrize("operation_id", OPERATION_IDS)
def test_no_text_of_a_customer_reaches_the_log(closed: Service, operation_id: str) -> None:
    """Each text alone; then at once those that may be anything; then all of them. A sheet is made of the free ones too."""
    whole, free, every = (copy.deepcopy(example(operation_id)) for _ in range(3))
    headers = {"Authorization": f"Bearer {KEY}"}
    sent_before = len([line for line in closed.lines() if line.get("operation") == operation_id])
    for number, place in enumerate(texts(whole)):
        alone = copy.deepcopy(whole)
        put(alone, place, f"Mrs {number} of {CUSTOMER}")
        put(every, place, f"Mrs {number} of {CUSTOMER}")
        if closed.post(operation_id, alone, headers).status == 200:
            put(free, place, f"Mrs {number} of {CUSTOMER}")
    accepted = ["application/json", *(["text/html", "application/pdf"] if operation_id == "design_roof" else [])]
    for accept in accepted:
        assert closed.post(operation_id, free, headers | {"Accept": accept}).status == 200
        assert closed.post(operation_id, every, headers | {"Accept": accept}).status == (422 if free != every else 200)
    sent_now = len([line for line in closed.lines() if line.get("operation") == operation_id])
    assert sent_now - sent_before == len(list(texts(whole))) + 2 * len(accepted)
    assert CUSTOMER not in closed.log.read_text(encoding="utf-8")


def test_after_a_body_of_broken_chunks_the_connection_says_nothing_more(closed: Service) -> None:
    broken = call("zz\r\nx\r\n0\r\n\r\n", "Transfer-Encoding: chunked", length=False).replace(b"Connection: close\r\n", b"")
    head, body = sent(closed.port, broken)
    assert head.startswith(b"HTTP/1.1 400")
    assert b"HTTP/1.1" not in body

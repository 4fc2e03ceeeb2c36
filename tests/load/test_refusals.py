"""What the worker refuses by itself: told, named and traced as the application's answers are."""

from __future__ import annotations

import json
import re
import socket
from collections.abc import Iterator

import pytest

from tests.contract.bodies import PATHS
from tests.running import Answer, Service, service
from wattpair_service import refusals
from wattpair_service.api import load
from wattpair_service.identity import Identity

TRACE_ID = "a" * 32
LINE = f"POST {PATHS['size_pairings']} HTTP/1.1"
NAMES = [f"traceparent: 00-{TRACE_ID}-{'b' * 16}-01", "Content-Type: application/json"]


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    folder = tmp_path_factory.mktemp("refusals")
    with service(folder, workers=1, request_time_max_s=1, body_limit_bytes=100_000) as started:
        yield started


def answer(running: Service, *lines: str) -> Answer:
    """What comes back to a head, and to no body."""
    with socket.create_connection(("127.0.0.1", running.port), 30) as client:
        client.sendall("\r\n".join(lines).encode("latin-1") + b"\r\n\r\n")
        received = b""
        while chunk := client.recv(1 << 16):
            received += chunk
    head, _, body = received.partition(b"\r\n\r\n")
    first, *headers = head.decode("ascii").split("\r\n")
    named = (each.partition(": ") for each in headers)
    return Answer(int(first.split(" ")[1]), {name.lower(): value for name, _, value in named}, body)


@pytest.mark.parametrize(
    ("status", "lines"),
    [
        (413, ["Host: x", "Content-Length: 100001"]),
        (408, ["Host: x", "Content-Length: 5"]),
        (501, ["Host: x", "Transfer-Encoding: gzip, chunked"]),
        (501, ["Host: x", "Transfer-Encoding: gzip", "Transfer-Encoding: chunked"]),
        (501, ["Host: x", "Transfer-Encoding: identity, chunked"]),
        (501, ["Host: x", "Transfer-Encoding: braided"]),
        (400, ["Host: x", "Transfer-Encoding: gzip"]),
        (400, ["Host: x", "Content-Length: 1", "Content-Length: 2"]),
        (400, ["Content-Length: 5"]),
        (400, ["Host: a b", "Content-Length: 5"]),
        (400, ["Host:", "Content-Length: 5"]),
        (400, ["Host: x/y", "Content-Length: 5"]),
        (400, ["Host: x, y", "Content-Length: 5"]),
        (400, ["Host: me@x", "Content-Length: 5"]),
        (400, ["Host: x:port", "Content-Length: 5"]),
        (400, ["Host: :8080", "Content-Length: 5"]),
        (400, ["Host: ::1", "Content-Length: 5"]),
        (400, ["Host: [::1", "Content-Length: 5"]),
        (400, ["Host: x%2", "Content-Length: 5"]),
        (400, ["Host: \xe9", "Content-Length: 5"]),
    ],
    ids=lambda value: ", ".join(value) if isinstance(value, list) else str(value),
)
def test_a_refusal_is_named_and_traced_as_any_answer(
    running: Service, request: pytest.FixtureRequest, status: int, lines: list[str]
) -> None:
    asked = f"asked-{abs(hash(request.node.name))}"
    refused = answer(running, LINE, *NAMES, f"X-Request-ID: {asked}", *lines)
    assert refused.status == status
    assert refused.headers["content-type"] == "application/problem+json"
    assert refused.headers["x-content-type-options"] == "nosniff"
    assert refused.headers["connection"] == "close"
    assert re.fullmatch(r"[A-Z][a-z]{2}, \d\d [A-Z][a-z]{2} \d{4} \d\d:\d\d:\d\d GMT", refused.headers["date"])
    assert refused.headers["x-request-id"] == refused.json["request_id"] == asked
    version, trace_id, span_id, flags = refused.headers["traceparent"].split("-")
    assert (version, trace_id, flags) == ("00", TRACE_ID, "01")
    (line,) = (each for each in running.lines() if each.get("request_id") == asked)
    assert (line["trace_id"], line["span_id"], line["parent_id"]) == (TRACE_ID, span_id, "b" * 16)


@pytest.mark.parametrize("lines", [["nonsense"], ["Host: x", "Expect: the-impossible"], ["Host: x", f"X-Long: {'a' * 20_000}"]])
def test_a_refusal_of_what_has_no_head_has_names_of_its_own(running: Service, lines: list[str]) -> None:
    refused = answer(running, LINE, *NAMES, *lines)
    assert len(refused.headers["x-request-id"]) == 32
    assert refused.headers["traceparent"].startswith("00-")
    assert TRACE_ID not in refused.headers["traceparent"]


@pytest.mark.parametrize(
    "host", ["x", "x:", "a_b.example:8080", "192.0.2.7:80", "[::1]", "[2001:db8::192.0.2.7]:8080", "[v1.a:b]", "x%20y", "a,b"]
)
def test_a_host_as_the_rules_have_it_is_taken(running: Service, host: str) -> None:
    assert answer(running, "GET /health/live HTTP/1.1", f"Host: {host}", "Connection: close").status == 200


def test_busy_is_said_in_one_way_whoever_says_it() -> None:
    from_worker = json.loads(refusals.answer(refusals.BUSY, Identity.of("one")).partition(b"\r\n\r\n")[2])
    assert from_worker == json.loads(load._busy().document("one"))

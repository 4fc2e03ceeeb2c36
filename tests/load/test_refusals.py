"""What the worker refuses by itself: told, named and traced as the application's answers are."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.contract.bodies import PATHS
from tests.load.raw import answer_to
from tests.running import Answer, Service, service
from wattpair_service import refusals
from wattpair_service.api.guards import admission as load
from wattpair_service.identity import Identity

TRACE_ID = "a" * 32
HEAD = (
    f"POST {PATHS['size_pairings']} HTTP/1.1",
    f"traceparent: 00-{TRACE_ID}-{'b' * 16}-01",
    "Content-Type: application/json",
)


def answer(running: Service, *lines: str) -> Answer:
    """What comes back to a head, and to no body."""
    received = answer_to(running, "\r\n".join(lines).encode("latin-1") + b"\r\n\r\n")
    head, _, body = received.partition(b"\r\n\r\n")
    first, *headers = head.decode("ascii").split("\r\n")
    named = (each.partition(": ") for each in headers)
    return Answer(int(first.split(" ")[1]), {name.lower(): value for name, _, value in named}, body)


def require_named_and_traced(running: Service, status: int, lines: list[str]) -> None:
    asked = f"asked-{abs(hash((status, *lines)))}"
    refused = answer(running, *HEAD, f"X-Request-ID: {asked}", *lines)
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


@pytest.mark.parametrize(
    ("status", "lines"),
    [
        (413, ["Host: x", f"Content-Length: {8 * 1024**2 + 1}"]),
        (501, ["Host: x", "Transfer-Encoding: gzip, chunked"]),
        (501, ["Host: x", "Transfer-Encoding: gzip", "Transfer-Encoding: chunked"]),
        (501, ["Host: x", "Transfer-Encoding: identity, chunked"]),
        (501, ["Host: x", "Transfer-Encoding: braided"]),
        (400, ["Host: x", "Transfer-Encoding: gzip"]),
        (400, ["Host: x", "Content-Length: 1", "Content-Length: 2"]),
        (400, ["Content-Length: 5"]),
        *(
            (400, [f"Host:{host}", "Content-Length: 5"])
            for host in (
                " a b", "", " x/y", " x, y", " me@x", " x:port", " :8080", " ::1", " [::1", " x%2", " \xe9",
            )
        ),
    ],
    ids=lambda value: ", ".join(value) if isinstance(value, list) else str(value),
)  # fmt: skip
def test_a_refusal_is_named_and_traced_as_any_answer(shared_service: Service, status: int, lines: list[str]) -> None:
    require_named_and_traced(shared_service, status, lines)


@pytest.mark.release
def test_the_refusal_of_a_request_that_does_not_come_whole_is_too(tmp_path: Path) -> None:
    with service(tmp_path, workers=1, request_time_max_s=1) as running:
        require_named_and_traced(running, 408, ["Host: x", "Content-Length: 5"])


@pytest.mark.parametrize(
    "lines",
    [["nonsense"], ["Host: x", "Expect: the-impossible"], ["Host: x", f"X-Long: {'a' * 20_000}"]],
    ids=["no header", "expectation", "too long"],
)
def test_a_refusal_of_what_has_no_head_has_names_of_its_own(shared_service: Service, lines: list[str]) -> None:
    refused = answer(shared_service, *HEAD, *lines)
    assert len(refused.headers["x-request-id"]) == 32
    assert refused.headers["traceparent"].startswith("00-")
    assert TRACE_ID not in refused.headers["traceparent"]


@pytest.mark.parametrize(
    "host", ["x", "x:", "a_b.example:8080", "192.0.2.7:80", "[::1]", "[2001:db8::192.0.2.7]:8080", "[v1.a:b]", "x%20y", "a,b"]
)
def test_a_host_as_the_rules_have_it_is_taken(shared_service: Service, host: str) -> None:
    assert answer(shared_service, "GET /health/live HTTP/1.1", f"Host: {host}", "Connection: close").status == 200


def test_what_is_no_request_is_counted(shared_service: Service) -> None:
    before = shared_service.metric("wattpair_requests_total", operation="unread", status="400")
    assert answer_to(shared_service, b"zz\r\n\r\n").startswith(b"HTTP/1.1 400")
    assert shared_service.metric("wattpair_requests_total", operation="unread", status="400") == before + 1


def test_busy_is_said_in_one_way_whoever_says_it() -> None:
    from_worker = json.loads(refusals.answer(refusals.BUSY, Identity.of("one")).partition(b"\r\n\r\n")[2])
    assert from_worker == json.loads(load._busy().document("one"))

"""What the client does when the network, a proxy or the service misbehaves, over real sockets."""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
import requests

from tests.sdk import fault_server as faults
from tests.sdk.contract import operations, sample
from tests.sdk.fault_server import FaultServer, answers
from wattpair import (
    BadAnswer,
    Client,
    ConnectionFailed,
    Error,
    InvalidFields,
    MalformedRequest,
    NotFound,
    ServerFault,
    ServiceUnavailable,
    StatusError,
    TimedOut,
    TooLarge,
    TooManyRequests,
    UnsupportedMediaType,
)

QUICK_S = 0.1
HTML = b"<html><body>\n  <h1>The gateway is closed</h1></body></html>"


@contextmanager
def client_of(url: str, retries: int = 2, **options: object) -> Iterator[tuple[Client, list[float]]]:
    """A client that notes its pauses instead of making them, with the longest jitter."""
    pauses: list[float] = []
    with Client(url, timeout=QUICK_S, retries=retries, **options) as client:  # type: ignore[arg-type]
        client._transport._sleep = pauses.append
        client._transport._share = lambda: 1.0
        yield client, pauses


def problem(status: int, **fields: object) -> bytes:
    body = {
        "type": "urn:wattpair:problem:some-kind",
        "title": "Some kind",
        "status": status,
        "detail": "Something is not right.",
        "request_id": "id-in-body",
        "errors": [],
    }
    return json.dumps(body | fields).encode()


def test_a_refused_connection_is_tried_thrice_with_growing_pauses() -> None:
    with client_of(faults.unused_url()) as (client, pauses):
        with pytest.raises(ConnectionFailed, match=r"GET http://.*/health/live: .*refused \(request id \w{32}\)"):
            client.check_live()
        assert pauses == [0.5, 1.0]


def test_pauses_grow_to_a_limit_and_are_a_random_part_of_it() -> None:
    with client_of(faults.unused_url(), retries=7) as (client, pauses):
        with pytest.raises(ConnectionFailed):
            client.check_live()
        assert pauses == [0.5, 1.0, 2.0, 4.0, 8.0, 8.0, 8.0]
        shares = iter([0.0, 0.25, 0.5, 0.75, 0.0, 0.25, 0.5])
        pauses.clear()
        client._transport._share = lambda: next(shares)
        with pytest.raises(ConnectionFailed):
            client.check_live()
        assert pauses == [0.0, 0.25, 1.0, 3.0, 0.0, 2.0, 4.0]


@pytest.mark.parametrize(
    "fault", [faults.resets_within_the_body, faults.ends_within_the_body, faults.hangs_up], ids=lambda fault: fault.__name__
)
def test_a_broken_connection_is_made_again(fault: faults.Behaviour) -> None:
    with FaultServer(fault, answers()) as server, client_of(server.url) as (client, pauses):
        assert client.check_live().status == "live"
        assert len(pauses) == 1
    with FaultServer(fault) as server, client_of(server.url) as (client, _):
        with pytest.raises(ConnectionFailed):
            client.check_live()
        assert len(server.requests) == 3


@pytest.mark.parametrize("fault", [faults.is_silent, faults.stops_within_the_body], ids=lambda fault: fault.__name__)
def test_a_slow_answer_is_a_timeout_and_is_not_asked_for_again(fault: faults.Behaviour) -> None:
    with FaultServer(fault) as server, client_of(server.url) as (client, pauses):
        with pytest.raises(TimedOut, match="timeout") as caught:
            client.check_live()
        assert pauses == []
        assert caught.value.request_id == server.requests[0][0]["X-Request-ID"]


def test_a_connection_that_takes_too_long_is_tried_again() -> None:
    class Slow(requests.Session):
        calls = 0

        def request(self, *_: object, **__: object) -> requests.Response:
            self.calls += 1
            raise requests.ConnectTimeout

    session = Slow()
    with client_of("http://service.test", session=session) as (client, _), pytest.raises(TimedOut, match="no connection"):
        client.check_live()
    assert session.calls == 3


def test_a_certificate_that_does_not_fit_is_not_tried_again() -> None:
    class Untrusted(requests.Session):
        def request(self, *_: object, **__: object) -> requests.Response:
            raise requests.exceptions.SSLError("certificate verify failed")

    with client_of("https://service.test", session=Untrusted()) as (client, pauses):
        with pytest.raises(ConnectionFailed, match="certificate"):
            client.check_live()
        assert pauses == []


@pytest.mark.parametrize("status", [429, 502, 503, 504])
def test_a_busy_service_is_asked_again_with_the_same_bytes(status: int) -> None:
    busy = answers(problem(status), status, "application/problem+json")
    (operation,) = (each for each in operations() if each.name == "list_materials")
    bill = json.dumps(sample(operation.answer)).encode()
    with FaultServer(busy, busy, answers(bill)) as server, client_of(server.url) as (client, pauses):
        client.list_materials(faces=[], unit_ac_current_a=1, module_mass_kg=20, unit_mass_kg=1)
        assert pauses == [0.5, 1.0]
        assert len({body for _, body in server.requests}) == 1
        assert len({headers["X-Request-ID"] for headers, _ in server.requests}) == 1


@pytest.mark.parametrize(("asked", "pause"), [("2", 2.0), ("0", 0.5), ("30", 30.0), (" 7 ", 7.0)])
def test_retry_after_is_respected(asked: str, pause: float) -> None:
    busy = answers(problem(429), 429, Retry_After=asked)
    with FaultServer(busy, answers()) as server, client_of(server.url) as (client, pauses):
        client.check_live()
        assert pauses == [pause]


@pytest.mark.parametrize("asked", ["Wed, 21 Oct 2026 07:28:00 GMT", "-3", "soon", "", "1.5", "\u00b2"])
def test_a_retry_after_that_is_no_number_of_seconds_is_as_none(asked: str) -> None:
    busy = answers(problem(503), 503, Retry_After=asked)
    with FaultServer(busy, answers()) as server, client_of(server.url) as (client, pauses):
        client.check_live()
        assert pauses == [0.5]


def test_a_long_retry_after_is_raised_at_once() -> None:
    with FaultServer(answers(problem(429), 429, Retry_After="31")) as server, client_of(server.url) as (client, pauses):
        with pytest.raises(TooManyRequests, match="after 31 s") as caught:
            client.check_live()
        assert (caught.value.retry_after, pauses, len(server.requests)) == (31, [], 1)


@pytest.mark.parametrize("body", [problem(503), HTML, b"", b"[" * 100_000, b'{"status":"not ready"}'])
def test_readiness_that_something_in_front_of_the_service_refuses_is_asked_for_again(body: bytes) -> None:
    with FaultServer(answers(body, 503)) as server, client_of(server.url) as (client, pauses):
        with pytest.raises(ServiceUnavailable):
            client.check_ready()
        assert len(pauses) == 2


def test_a_service_that_is_not_ready_answers_at_once() -> None:
    body = {"status": "not ready", "faults": ["no folder"], "station_count": 0, "broken_stations": []}
    with FaultServer(answers(json.dumps(body).encode(), 503)) as server, client_of(server.url) as (client, pauses):
        ready = client.check_ready()
    assert (ready.status, ready.faults, pauses) == ("not ready", ("no folder",), [])


def test_a_service_that_stays_unavailable_is_given_up() -> None:
    busy = answers(problem(503), 503, "application/problem+json", Retry_After="1", X_Request_ID="id-of-service")
    with FaultServer(busy) as server, client_of(server.url) as (client, pauses):
        with pytest.raises(ServiceUnavailable) as caught:
            client.check_live()
        assert (len(server.requests), pauses) == (3, [1.0, 1.0])
    assert caught.value.request_id == "id-of-service"
    assert caught.value.retry_after == 1
    assert caught.value.problem is not None
    assert caught.value.problem.type == "urn:wattpair:problem:some-kind"


def test_no_retries_means_one_attempt() -> None:
    with FaultServer(answers(b"", 503)) as server, client_of(server.url, retries=0) as (client, pauses):
        with pytest.raises(ServiceUnavailable):
            client.check_live()
        assert (len(server.requests), pauses) == (1, [])


@pytest.mark.parametrize(
    ("status", "kind"),
    [
        (400, MalformedRequest),
        (401, StatusError),
        (404, NotFound),
        (413, TooLarge),
        (415, UnsupportedMediaType),
        (422, InvalidFields),
        (500, ServerFault),
        (507, ServerFault),
        (599, ServerFault),
    ],
)
def test_each_status_has_its_class_and_is_not_asked_for_again(status: int, kind: type[StatusError]) -> None:
    with FaultServer(answers(problem(status), status, "application/problem+json")) as server:
        with client_of(server.url) as (client, pauses), pytest.raises(Error, match="Something is not right") as caught:
            client.check_live()
        assert (type(caught.value), pauses) == (kind, [])


def test_the_text_of_an_error_names_each_field() -> None:
    errors = [
        {"pointer": "/module/power_w", "given": "4250", "allowed": "a number at most 1000 [W]", "detail": "-"},
        {"pointer": "", "given": "an object", "allowed": "fewer fields", "detail": "-"},
    ]
    body = problem(422, detail="2 fields are not as allowed; see errors.", errors=errors)
    with FaultServer(answers(body, 422, X_Request_ID="id-7")) as server, client_of(server.url) as (client, _):
        with pytest.raises(InvalidFields) as caught:
            client.check_live()
        assert str(caught.value).splitlines() == [
            f"GET {server.url}/health/live: 422 Unprocessable Entity: 2 fields are not as allowed; see errors.",
            "  /module/power_w: 4250 was given; allowed is a number at most 1000 [W]",
            "  the whole body: an object was given; allowed is fewer fields",
            "  request id id-7",
        ]
    assert [each.pointer for each in caught.value.field_errors] == ["/module/power_w", ""]


@pytest.mark.parametrize(
    ("body", "kind", "text"),
    [
        (b'{"status":"li', "application/json", r'not JSON but \{"status":"li \(application/json\)'),
        (HTML, "text/html", r"not JSON but <html><body> <h1>The gateway is closed.*\(text/html\)"),
        (b"", "text/plain", "not JSON but an empty body"),
        (b"\xff\xfe\xfa", "application/json", "not JSON"),
        (b"[" * 100_000, "application/json", "not JSON"),
        (b"{}", "application/json", "/status is None, where the contract says a value"),
        (b"[]", "application/json", "the whole answer is .*, where the contract says an object"),
        (b'{"status":"dead"}', "application/json", r"/status is 'dead' \(str\), where the contract says one of \"live\""),
    ],
)
def test_an_answer_that_is_not_of_the_contract(body: bytes, kind: str, text: str) -> None:
    with FaultServer(answers(body, 200, kind)) as server, client_of(server.url) as (client, pauses):
        with pytest.raises(BadAnswer, match=text) as caught:
            client.check_live()
        assert pauses == []
        assert caught.value.request_id in str(caught.value)


def test_a_long_page_is_shortened_in_the_text() -> None:
    with FaultServer(answers(HTML * 1000, 502, "text/html")) as server, client_of(server.url) as (client, pauses):
        with pytest.raises(ServerFault, match=r"502 Bad Gateway: <html>.*The gateway is closed") as caught:
            client.check_live()
        assert len(pauses) == 2
    assert caught.value.problem is None
    assert caught.value.field_errors == ()
    assert len(str(caught.value)) < 500


def test_packed_answers_are_read_and_badly_packed_ones_refused() -> None:
    packed = answers(gzip.compress(faults.LIVE), Content_Encoding="gzip")
    with FaultServer(packed, answers(faults.LIVE, Content_Encoding="gzip")) as server, client_of(server.url) as (client, _):
        assert client.check_live().status == "live"
        with pytest.raises(BadAnswer, match="unpacked"):
            client.check_live()


def test_a_redirect_is_not_followed() -> None:
    moved = answers(b"", 308, Location="https://elsewhere.test/")
    with FaultServer(moved) as server, client_of(server.url) as (client, _):
        with pytest.raises(StatusError, match=r"308 .*redirected to https://elsewhere\.test/"):
            client.check_live()
        assert len(server.requests) == 1

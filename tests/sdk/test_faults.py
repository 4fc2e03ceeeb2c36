"""What the client does when the network, a proxy or the service misbehaves, over real sockets."""

from __future__ import annotations

import gzip
import json
import ssl
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path
from typing import Any

import httpx
import pytest
import requests
from urllib3.exceptions import LocationParseError

import wattpair
from tests.sdk import fault_server as faults
from tests.sdk.both import failing_session, noting_pauses, opened
from tests.sdk.contract import operations, sample
from tests.sdk.fault_server import FaultServer, answers
from wattpair import (
    BadAnswer,
    Client,
    ConnectionFailed,
    Error,
    Exchange,
    InvalidFields,
    MalformedRequest,
    NotAcceptable,
    NotFound,
    ServerFault,
    ServiceUnavailable,
    StatusError,
    TimedOut,
    TooLarge,
    TooManyRequests,
    TransportError,
    Unauthorized,
    UnsupportedMediaType,
)

ClientOf = Callable[..., Any]
HTML = b"<html><body>\n  <h1>The gateway is closed</h1></body></html>"


@pytest.fixture
def client_of(kind: str) -> ClientOf:
    """Opens a client that notes its pauses instead of making them, with the longest jitter."""

    @contextmanager
    def open_client(
        url: str, retries: int = 2, timeout: object = 5.0, **options: object
    ) -> Iterator[tuple[Client, list[float]]]:
        with opened(kind, url, timeout=timeout, retries=retries, **options) as client:
            yield client, noting_pauses(kind, client)

    return open_client


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


def test_pauses_grow_to_a_limit_and_are_a_random_part_of_it(client_of: ClientOf) -> None:
    with client_of(faults.unused_url(), retries=7) as (client, pauses):
        with pytest.raises(ConnectionFailed, match=r"GET http://.*/health/live: .*[Rr]efused.* \(request id \w{32}\)"):
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
def test_a_broken_connection_is_made_again(client_of: ClientOf, fault: faults.Behaviour) -> None:
    with FaultServer(fault, answers()) as server, client_of(server.url) as (client, pauses):
        assert client.check_live().status == "live"
        assert len(pauses) == 1
    with FaultServer(fault) as server, client_of(server.url) as (client, _):
        with pytest.raises(ConnectionFailed):
            client.check_live()
        assert len(server.requests) == 3


@pytest.mark.parametrize("fault", [faults.is_silent, faults.stops_within_the_body], ids=lambda fault: fault.__name__)
def test_a_slow_answer_is_a_timeout_and_is_not_asked_for_again(client_of: ClientOf, fault: faults.Behaviour) -> None:
    with FaultServer(fault) as server, client_of(server.url, timeout=(5.0, 0.2)) as (client, pauses):
        with pytest.raises(TimedOut, match="timeout") as caught:
            client.check_live()
        assert pauses == []
        assert caught.value.request_id == server.requests[0][0]["X-Request-ID"]


def certificate_error() -> httpx.ConnectError:
    error = httpx.ConnectError("certificate verify failed")
    error.__cause__ = ssl.SSLCertVerificationError("certificate verify failed")
    return error


@pytest.mark.parametrize(
    ("of_requests", "of_httpx", "raised", "text", "attempts"),
    [
        (requests.ConnectTimeout(), httpx.ConnectTimeout("slow"), TimedOut, "no connection", 3),
        (requests.exceptions.SSLError("certificate verify failed"), certificate_error(), ConnectionFailed, "certificate", 1),
        (LocationParseError("host"), UnicodeError("label"), TransportError, "host|label", 1),
    ],
    ids=["slow", "certificate", "other"],
)
def test_errors_of_the_libraries_are_errors_of_transport(
    client_of: ClientOf,
    kind: str,
    of_requests: Exception,
    of_httpx: Exception,
    raised: type[Exception],
    text: str,
    attempts: int,
) -> None:
    calls: list[str] = []
    session = failing_session(kind, of_requests, of_httpx, calls)
    with client_of("https://service.test", session=session) as (client, _), pytest.raises(raised, match=text):
        client.check_live()
    assert len(calls) == attempts


@pytest.mark.parametrize("status", [429, 502, 503, 504])
def test_a_busy_service_is_asked_again_with_the_same_bytes(client_of: ClientOf, status: int) -> None:
    busy = answers(problem(status), status, "application/problem+json")
    (operation,) = (each for each in operations() if each.name == "list_materials")
    bill = json.dumps(sample(operation.answer)).encode()
    with FaultServer(busy, busy, answers(bill)) as server, client_of(server.url) as (client, pauses):
        client.list_materials(faces=[], unit_ac_current_a=1, module_mass_kg=20, unit_mass_kg=1)
        assert pauses == [0.5, 1.0]
        assert len({body for _, body in server.requests}) == 1
        assert len({headers["X-Request-ID"] for headers, _ in server.requests}) == 1


NO_NUMBERS = ["Wed, 21 Oct", "Wed, 21 Oct 2026 07:28:00", "-3", "soon", "", "1.5", "\u00b2"]
PAST = "Wed, 21 Oct 2015 07:28:00 GMT"


@pytest.mark.parametrize(
    ("asked", "pause"),
    [("2", 2.0), ("0", 0.5), ("120", 120.0), (" 7 ", 7.0), (PAST, 0.5), *((text, 0.5) for text in NO_NUMBERS)],
)
def test_a_pause_is_as_long_as_the_service_asks_for(client_of: ClientOf, asked: str, pause: float) -> None:
    busy = answers(problem(503), 503, Retry_After=asked)
    with FaultServer(busy, answers()) as server, client_of(server.url) as (client, pauses):
        client.check_live()
        assert pauses == [pause]


def test_a_service_may_ask_for_a_pause_until_a_date(client_of: ClientOf) -> None:
    soon = format_datetime(datetime.now(UTC) + timedelta(seconds=20), usegmt=True)
    with (
        FaultServer(answers(problem(503), 503, Retry_After=soon), answers()) as server,
        client_of(server.url) as (client, pauses),
    ):
        client.check_live()
        assert 10.0 <= pauses[0] <= 20.0


def test_a_long_retry_after_is_raised_at_once(client_of: ClientOf) -> None:
    with FaultServer(answers(problem(429), 429, Retry_After="121")) as server, client_of(server.url) as (client, pauses):
        with pytest.raises(TooManyRequests, match="after 121 s") as caught:
            client.check_live()
        assert (caught.value.retry_after, pauses, len(server.requests)) == (121, [], 1)


@pytest.mark.parametrize("body", [problem(503), HTML, b"", b"[" * 100_000, b'{"status":"not ready"}'])
def test_readiness_that_something_in_front_of_the_service_refuses_is_asked_for_again(client_of: ClientOf, body: bytes) -> None:
    with FaultServer(answers(body, 503)) as server, client_of(server.url) as (client, pauses):
        with pytest.raises(ServiceUnavailable):
            client.check_ready()
        assert len(pauses) == 2


def test_a_service_that_is_not_ready_answers_at_once(client_of: ClientOf) -> None:
    body = {"status": "not ready", "faults": ["no folder"], "station_count": 0, "broken_station_count": 0}
    with FaultServer(answers(json.dumps(body).encode(), 503)) as server, client_of(server.url) as (client, pauses):
        ready = client.check_ready()
    assert (ready.status, ready.faults, pauses) == ("not ready", ("no folder",), [])


def test_a_service_that_stays_unavailable_is_given_up(client_of: ClientOf) -> None:
    busy = answers(problem(503), 503, "application/problem+json", Retry_After="1", X_Request_ID="id-of-service")
    with FaultServer(busy) as server, client_of(server.url) as (client, pauses):
        with pytest.raises(ServiceUnavailable) as caught:
            client.check_live()
        assert (len(server.requests), pauses) == (3, [1.0, 1.0])
    assert caught.value.request_id == "id-of-service"
    assert caught.value.retry_after == 1
    assert caught.value.problem is not None
    assert caught.value.problem.type == "urn:wattpair:problem:some-kind"


@pytest.mark.parametrize(
    ("status", "raised"),
    [
        (400, MalformedRequest),
        (401, Unauthorized),
        (403, StatusError),
        (404, NotFound),
        (406, NotAcceptable),
        (413, TooLarge),
        (415, UnsupportedMediaType),
        (422, InvalidFields),
        (500, ServerFault),
        (507, ServerFault),
        (599, ServerFault),
    ],
)
def test_each_status_has_its_class_and_is_not_asked_for_again(
    client_of: ClientOf, status: int, raised: type[StatusError]
) -> None:
    with FaultServer(answers(problem(status), status, "application/problem+json")) as server:
        with client_of(server.url) as (client, pauses), pytest.raises(Error, match="Something is not right") as caught:
            client.check_live()
        assert (type(caught.value), pauses) == (raised, [])


def test_the_text_of_an_error_names_each_field(client_of: ClientOf) -> None:
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
            "  module.power_w: 4250 was given; allowed is a number at most 1000 [W]",
            "  the whole body: an object was given; allowed is fewer fields",
            "  request id id-7",
        ]
    assert [each.pointer for each in caught.value.field_errors] == ["/module/power_w", ""]
    assert [each.argument for each in caught.value.field_errors] == ["module.power_w", ""]


@pytest.mark.parametrize(
    ("body", "content_type", "text"),
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
def test_an_answer_that_is_not_of_the_contract(client_of: ClientOf, body: bytes, content_type: str, text: str) -> None:
    with FaultServer(answers(body, 200, content_type)) as server, client_of(server.url) as (client, pauses):
        with pytest.raises(BadAnswer, match=text) as caught:
            client.check_live()
        assert pauses == []
        assert caught.value.request_id in str(caught.value)


def test_a_long_page_is_shortened_in_the_text(client_of: ClientOf) -> None:
    with FaultServer(answers(HTML * 1000, 502, "text/html")) as server, client_of(server.url) as (client, pauses):
        with pytest.raises(ServerFault, match=r"502 Bad Gateway: <html>.*The gateway is closed") as caught:
            client.check_live()
        assert len(pauses) == 2
    assert caught.value.problem is None
    assert caught.value.field_errors == ()
    assert len(str(caught.value)) < 500


def test_packed_answers_are_read_and_badly_packed_ones_refused(client_of: ClientOf) -> None:
    packed = answers(gzip.compress(faults.LIVE), Content_Encoding="gzip")
    with FaultServer(packed, answers(faults.LIVE, Content_Encoding="gzip")) as server, client_of(server.url) as (client, _):
        assert client.check_live().status == "live"
        with pytest.raises(BadAnswer, match="unpacked"):
            client.check_live()


def test_a_redirect_is_not_followed(client_of: ClientOf) -> None:
    moved = answers(b"", 308, Location="https://elsewhere.test/")
    with FaultServer(moved) as server, client_of(server.url) as (client, _):
        with pytest.raises(StatusError, match=r"308 .*redirected to https://elsewhere\.test/"):
            client.check_live()
        assert len(server.requests) == 1


def test_a_hook_is_told_of_each_attempt(client_of: ClientOf) -> None:
    told: list[Exchange] = []
    with FaultServer(answers(problem(503), 503), faults.hangs_up, answers()) as server:
        with client_of(server.url, on_exchange=told.append) as (client, _):
            client.check_live()
        assert [(each.attempt, each.status, type(each.error)) for each in told] == [
            (1, 503, ServiceUnavailable),
            (2, None, ConnectionFailed),
            (3, 200, type(None)),
        ]
        assert {(each.verb, each.url) for each in told} == {("GET", f"{server.url}/health/live")}
        assert {each.request_id for each in told} == {server.requests[0][0]["X-Request-ID"]}


def test_a_deprecated_operation_warns_where_it_is_called(client_of: ClientOf, kind: str) -> None:
    ending = answers(Deprecation="@1767225600", Sunset="Thu, 31 Dec 2026 00:00:00 GMT")
    expected = pytest.warns(DeprecationWarning, match=r"/health/live is deprecated .* ends on Thu, 31 Dec 2026")
    with FaultServer(ending) as server, client_of(server.url) as (client, _), expected as caught:
        client.check_live()
    if kind == "waiting":
        assert caught[0].filename == __file__


def test_headers_of_every_request(client_of: ClientOf, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "netrc").write_text("machine 127.0.0.1 login somebody password else", encoding="utf-8")
    monkeypatch.setenv("NETRC", str(tmp_path / "netrc"))
    with FaultServer(answers()) as server, client_of(server.url, api_key="secret", headers={"X-Tenant": "a"}) as (client, _):
        client.check_live()
        headers, _ = server.requests[0]
    assert headers["User-Agent"] == f"wattpair-python/{wattpair.__version__}"
    assert headers["Authorization"] == "Bearer secret"
    assert headers["Accept-Encoding"] == "gzip"
    assert headers["X-Tenant"] == "a"

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
from tests.running import free_port, wait_until
from tests.sdk.both import failing_session, noting_pauses, opened
from tests.sdk.contract import operations, sample
from tests.sdk.fault_server import (
    LIVE,
    Behaviour,
    FaultServer,
    answers,
    ends_within_the_body,
    hangs_up,
    is_silent,
    resets_within_the_body,
    stops_within_the_body,
)

HTML = b"<html><body>\n  <h1>The gateway is closed</h1></body></html>"
NOT_READY = {"status": "not ready", "faults": ["no folder"], "station_count": 0, "broken_station_count": 0}
ClientOf = Callable[..., Any]


@pytest.fixture
def client_of(kind: str) -> ClientOf:
    """Opens a client that notes its pauses instead of making them, with the longest jitter."""

    @contextmanager
    def open_client(url: str, **options: Any) -> Iterator[tuple[wattpair.Client, list[float]]]:
        with opened(kind, url, **({"timeout": 5.0, "retries": 2} | options)) as client:
            yield client, noting_pauses(kind, client)

    return open_client


def refusal(status: int, fields: Any = None, **headers: str) -> Behaviour:
    """An answer of the service that refuses."""
    body = {
        "type": "urn:wattpair:problem:some-kind",
        "title": "Some kind",
        "status": status,
        "detail": "Something is not right.",
        "request_id": "id-in-body",
        "errors": [],
    }
    return answers(json.dumps(body | (fields or {})).encode(), status, "application/problem+json", **headers)


BROKEN = [resets_within_the_body, ends_within_the_body, hangs_up]
NO_PAUSES = ["Wed, 21 Oct", "Wed, 21 Oct 2026 07:28:00", "-3", "soon", "", "1.5", "\u00b2", "Wed, 21 Oct 2015 07:28:00 GMT"]


@pytest.mark.parametrize(
    ("first", "pauses"),
    [
        *(([fault], [0.5]) for fault in BROKEN),
        *(([refusal(status)] * 2, [0.5, 1.0]) for status in (429, 502, 503)),
        *(
            ([refusal(429, Retry_After=text)], [pause])
            for text, pause in [("2", 2.0), ("0", 0.5), ("120", 120.0), (" 7 ", 7.0)]
        ),
        *(([refusal(503, Retry_After=text)], [0.5]) for text in NO_PAUSES),
    ],
)
def test_a_call_is_repeated_with_the_same_bytes_after_a_pause(
    client_of: ClientOf, first: list[Behaviour], pauses: list[float]
) -> None:
    (operation,) = (each for each in operations() if each.name == "list_materials")
    bill = answers(json.dumps(sample(operation.answer)).encode())
    with FaultServer(*first, bill) as server, client_of(server.url) as (client, made):
        client.list_materials(faces=[], unit_ac_current_a=1, module_mass_kg=20, unit_mass_kg=1)
        assert made == pauses
        assert len({(body, headers["X-Request-ID"]) for headers, body in server.requests}) == 1


def test_a_service_may_ask_for_a_pause_until_a_date(client_of: ClientOf) -> None:
    soon = format_datetime(datetime.now(UTC) + timedelta(seconds=20), usegmt=True)
    with FaultServer(refusal(503, Retry_After=soon), answers()) as server, client_of(server.url) as (client, pauses):
        client.check_live()
        assert 10.0 <= pauses[0] <= 20.0


STATUSES: dict[int, type[Exception]] = {
    400: wattpair.MalformedRequest,
    401: wattpair.Unauthorized,
    403: wattpair.StatusError,
    404: wattpair.NotFound,
    406: wattpair.NotAcceptable,
    413: wattpair.TooLarge,
    415: wattpair.UnsupportedMediaType,
    422: wattpair.InvalidFields,
    500: wattpair.ServerFault,
    504: wattpair.ServerFault,
    507: wattpair.ServerFault,
    599: wattpair.ServerFault,
}
NOT_OF_THE_CONTRACT = [
    (b'{"status":"li', "application/json", r'not JSON but \{"status":"li \(application/json\)'),
    (HTML, "text/html", r"not JSON but <html><body> <h1>The gateway is closed.*\(text/html\)"),
    (b"", "text/plain", "not JSON but an empty body"),
    (b"\xff\xfe\xfa", "application/json", "not JSON"),
    (b'{"status":"\xff"}', "application/json", "not JSON"),
    (b'{"status":"live","x":' + b"[" * 100_000, "application/json", "not JSON"),
    (b"[" * 100_000, "application/json", "Expected `object`, got `array`"),
    (b"{}", "application/json", "Object missing required field `status`"),
    (b"[]", "application/json", "Expected `object`, got `array`"),
    (b'{"status":5}', "application/json", r"Expected `str`, got `int` - at `\$\.status`"),
]


@pytest.mark.parametrize(
    ("fault", "raised", "text", "pauses"),
    [
        *((fault, wattpair.ConnectionFailed, "health/live", [0.5, 1.0]) for fault in BROKEN),
        *((refusal(status), raised, "Something is not right", []) for status, raised in STATUSES.items()),
        *((answers(body, 200, form), wattpair.BadAnswer, text, []) for body, form, text in NOT_OF_THE_CONTRACT),
        (answers(LIVE, Content_Encoding="gzip"), wattpair.BadAnswer, "unpacked", []),
        (refusal(429, Retry_After="121"), wattpair.TooManyRequests, "after 121 s", []),
        (refusal(503, Retry_After="1"), wattpair.ServiceUnavailable, "Something is not right", [1.0, 1.0]),
        (answers(b'{"type":"h\xf4te"}', 502), wattpair.ServerFault, "502 Bad Gateway: .*te", [0.5, 1.0]),
        (answers(HTML * 1000, 502), wattpair.ServerFault, r"502 Bad Gateway: <html>.*The gateway is closed", [0.5, 1.0]),
        (
            answers(b"", 308, Location="https://elsewhere.test/"),
            wattpair.StatusError,
            r"308 .*redirected to https://elsewhere\.test/",
            [],
        ),
    ],
)
def test_each_fault_has_its_error(
    client_of: ClientOf, fault: Behaviour, raised: type[wattpair.Error], text: str, pauses: list[float]
) -> None:
    with FaultServer(fault) as server, client_of(server.url) as (client, made):
        with pytest.raises(wattpair.Error, match=text) as caught:
            client.check_live()
        assert (type(caught.value), made, len(server.requests)) == (raised, pauses, len(pauses) + 1)
        assert caught.value.request_id in str(caught.value)
        assert len(str(caught.value)) < 500


def test_pauses_grow_to_a_limit_and_are_a_random_part_of_it(client_of: ClientOf) -> None:
    with client_of(f"http://127.0.0.1:{free_port()}", retries=7) as (client, pauses):
        with pytest.raises(wattpair.ConnectionFailed, match=r"GET http://.*/health/live: .*[Rr]efused.* \(request id \w{32}\)"):
            client.check_live()
        assert pauses == [0.5, 1.0, 2.0, 4.0, 8.0, 8.0, 8.0]
        shares = iter([0.0, 0.25, 0.5, 0.75, 0.0, 0.25, 0.5])
        pauses.clear()
        client._transport._share = lambda: next(shares)
        with pytest.raises(wattpair.ConnectionFailed):
            client.check_live()
        assert pauses == [0.0, 0.25, 1.0, 3.0, 0.0, 2.0, 4.0]


@pytest.mark.parametrize("fault", [is_silent, stops_within_the_body], ids=lambda fault: fault.__name__)
def test_a_slow_answer_is_a_timeout_and_is_not_asked_for_again(client_of: ClientOf, fault: Behaviour) -> None:
    with FaultServer(fault) as server, client_of(server.url, timeout=(5.0, 0.3)) as (client, pauses):
        with pytest.raises(wattpair.TimedOut, match="timeout") as caught:
            client.check_live()
        assert pauses == []
        wait_until(lambda: len(server.requests) == 1, 5.0, "the server has read the request")
        assert caught.value.request_id == server.requests[0][0]["X-Request-ID"]


def certificate_error() -> httpx.ConnectError:
    error = httpx.ConnectError("certificate verify failed")
    error.__cause__ = ssl.SSLCertVerificationError("certificate verify failed")
    return error


@pytest.mark.parametrize(
    ("of_requests", "of_httpx", "raised", "text", "attempts"),
    [
        (requests.ConnectTimeout(), httpx.ConnectTimeout("slow"), wattpair.TimedOut, "no connection", 3),
        (
            requests.exceptions.SSLError("certificate verify failed"),
            certificate_error(),
            wattpair.ConnectionFailed,
            "certificate",
            1,
        ),
        (LocationParseError("host"), UnicodeError("label"), wattpair.TransportError, "host|label", 1),
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


@pytest.mark.parametrize("body", [None, HTML, b"", b"[" * 100_000, b'{"status":"not ready"}'], ids=lambda body: str(body)[:20])
def test_readiness_that_something_in_front_of_the_service_refuses_is_asked_for_again(
    client_of: ClientOf, body: bytes | None
) -> None:
    fault = refusal(503) if body is None else answers(body, 503)
    with FaultServer(fault) as server, client_of(server.url) as (client, pauses):
        with pytest.raises(wattpair.ServiceUnavailable):
            client.check_ready()
        assert len(pauses) == 2


def test_a_service_that_is_not_ready_answers_at_once(client_of: ClientOf) -> None:
    with FaultServer(answers(json.dumps(NOT_READY).encode(), 503)) as server, client_of(server.url) as (client, pauses):
        ready = client.check_ready()
    assert (ready.status, ready.faults, pauses) == ("not ready", ("no folder",), [])


def test_an_error_carries_what_the_service_says(client_of: ClientOf) -> None:
    errors = [
        {"pointer": "/module/power_w", "given": "4250", "allowed": "a number at most 1000 [W]", "detail": "-"},
        {"pointer": "", "given": "an object", "allowed": "fewer fields", "detail": "-"},
    ]
    fields = {"detail": "2 fields are not as allowed; see errors.", "errors": errors}
    fault = refusal(422, fields, X_Request_ID="id-7", Retry_After="3")
    with FaultServer(fault, answers(HTML, 403)) as server, client_of(server.url) as (client, _):
        with pytest.raises(wattpair.InvalidFields) as caught:
            client.check_live()
        with pytest.raises(wattpair.StatusError) as of_a_proxy:
            client.check_live()
    error = caught.value
    assert str(error).splitlines() == [
        f"GET {server.url}/health/live: 422 Unprocessable Entity: 2 fields are not as allowed; see errors.",
        "  module.power_w: 4250 was given; allowed is a number at most 1000 [W]",
        "  the whole body: an object was given; allowed is fewer fields",
        "  may be repeated after 3 s",
        "  request id id-7",
    ]
    assert [(each.pointer, each.argument) for each in error.field_errors] == [("/module/power_w", "module.power_w"), ("", "")]
    assert (error.request_id, error.retry_after) == ("id-7", 3)
    assert error.problem is not None
    assert error.problem.type == "urn:wattpair:problem:some-kind"
    assert (of_a_proxy.value.problem, of_a_proxy.value.field_errors, of_a_proxy.value.retry_after) == (None, (), None)


def test_a_hook_is_told_of_each_attempt(client_of: ClientOf) -> None:
    exchanges: list[wattpair.Exchange] = []
    with FaultServer(refusal(503), hangs_up, answers()) as server:
        with client_of(server.url, on_exchange=exchanges.append) as (client, _):
            client.check_live()
        assert [(each.attempt, each.status, type(each.error)) for each in exchanges] == [
            (1, 503, wattpair.ServiceUnavailable),
            (2, None, wattpair.ConnectionFailed),
            (3, 200, type(None)),
        ]
        assert {(each.verb, each.url) for each in exchanges} == {("GET", f"{server.url}/health/live")}
        assert {each.request_id for each in exchanges} == {server.requests[0][0]["X-Request-ID"]}


def test_a_deprecated_operation_warns_where_it_is_called(client_of: ClientOf, kind: str) -> None:
    ending = answers(Deprecation="@1767225600", Sunset="Thu, 31 Dec 2026 00:00:00 GMT")
    expected = pytest.warns(DeprecationWarning, match=r"/health/live is deprecated .* ends on Thu, 31 Dec 2026")
    with FaultServer(ending) as server, client_of(server.url) as (client, _), expected as caught:
        client.check_live()
    if kind == "waiting":
        assert caught[0].filename == __file__


def test_every_request_has_the_key_and_headers_and_takes_packed_answers(
    client_of: ClientOf, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "netrc").write_text("machine 127.0.0.1 login somebody password else", encoding="utf-8")
    monkeypatch.setenv("NETRC", str(tmp_path / "netrc"))
    packed = answers(gzip.compress(LIVE), Content_Encoding="gzip")
    with FaultServer(packed) as server, client_of(server.url, api_key="secret", headers={"X-Tenant": "a"}) as (client, _):
        assert client.check_live().status == "live"
        headers, _ = server.requests[0]
    assert headers["User-Agent"] == f"wattpair-python/{wattpair.__version__}"
    assert headers["Authorization"] == "Bearer secret"
    assert headers["Accept-Encoding"] == "gzip"
    assert headers["X-Tenant"] == "a"

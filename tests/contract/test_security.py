"""What was tried against the running service, and what came back.

The table is sent byte for byte to gunicorn on loopback. Nothing may answer 500, show where its code lies, or let a header of
the caller's making into the answer.
"""

from __future__ import annotations

import contextlib
import copy
import gzip
import hmac
import json
import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import OPERATION_IDS, PATHS, example, post
from tests.load.server import Service, service
from wattpair_service.api import keys

KEY, STRANGER = keys.new_key(), keys.new_key()
BODY = json.dumps(example("plan_circuits"))
PATH = PATHS["plan_circuits"]
BODY_LIMIT = 100_000
SECRET = "injected-by-the-caller"
JSON_TYPE = "Content-Type: application/json"
AUTHORIZED = f"Authorization: Bearer {KEY}"


def call(
    body: str | bytes = BODY,
    *headers: str,
    method: str = "POST",
    path: str = PATH,
    key: str | None = AUTHORIZED,
    length: bool = True,
) -> bytes:
    """A request as bytes."""
    content = body.encode("utf-8", "surrogatepass") if isinstance(body, str) else body
    lines = [f"{method} {path} HTTP/1.1", "Host: x", "Connection: close", JSON_TYPE, *([key] if key else []), *headers]
    if length:
        lines.append(f"Content-Length: {len(content)}")
    return "\r\n".join(lines).encode("latin-1") + b"\r\n\r\n" + content


def with_name(text: str) -> str:
    """The body with its face's name replaced by a JSON text as it stands."""
    return BODY.replace(json.dumps(example("plan_circuits")["faces"][0]["name"]), text, 1)


def with_number(text: str) -> str:
    """The body with the unit's current replaced by a JSON number as it stands."""
    body = example("plan_circuits")
    body["unit_ac_current_a"] = 12345
    return json.dumps(body).replace("12345", text)


TABLE: dict[str, tuple[bytes, set[int]]] = {
    "a good request": (call(), {200}),
    # keys
    "no key": (call(key=None), {401}),
    "wrong key": (call(key="Authorization: Bearer wattpair_wrong"), {401}),
    "the key of another service": (call(key=f"Authorization: Bearer {STRANGER}"), {401}),
    "empty key": (call(key="Authorization: Bearer "), {401}),
    "key as Basic": (call(key=f"Authorization: Basic {KEY}"), {401}),
    "key's hash as key": (call(key=f"Authorization: Bearer {keys.hash_of(KEY)}"), {401}),
    "key cut short": (call(key=f"Authorization: Bearer {KEY[:-1]}"), {401}),
    "key and more": (call(key=f"Authorization: Bearer {KEY}{KEY}"), {401}),
    "key in the address": (call(key=None, path=f"{PATH}?key={KEY}"), {401}),
    "key in a cookie": (call(key=f"Cookie: Authorization={KEY}"), {401}),
    "two keys, a wrong and a right one": (call(BODY, "Authorization: Bearer wrong"), {400, 401}),
    "very long key": (call(key=f"Authorization: Bearer {'k' * 7000}"), {401}),
    "key of odd bytes": (call(key="Authorization: Bearer \xff\xfe\x80"), {401}),
    "metrics without a key": (call("", method="GET", path="/metrics", key=None), {401}),
    # headers
    "line break in the request id": (call(BODY, f"X-Request-ID: a\r\n {SECRET}: 1"), {400}),
    "bare line feed in a header": (call(BODY, f"X-Request-ID: a\n{SECRET}: 1"), {200, 400}),
    "encoded line break in the request id": (call(BODY, f"X-Request-ID: a%0d%0a{SECRET}: 1"), {200}),
    "line break in the trace": (call(BODY, f"traceparent: 00-%0d%0a{SECRET}"), {200}),
    "NUL in a header": (call(BODY, "X-Request-ID: a\x00b"), {400}),
    "header without a colon": (call(BODY, "nonsense"), {400}),
    "header with a space in its name": (call(BODY, "X Y: z"), {400}),
    "header of 20 kB": (call(BODY, f"X-Long: {'a' * 20_000}"), {431}),
    "five hundred headers": (call(BODY, *[f"X-{n}: 1" for n in range(500)]), {431}),
    "two lengths": (call(BODY, "Content-Length: 3"), {400}),
    "length and chunks": (call(BODY, "Transfer-Encoding: chunked"), {400}),
    "negative length": (call(BODY, "Content-Length: -5", length=False), {400}),
    "length with a sign": (call(BODY, f"Content-Length: +{len(BODY)}", length=False), {400}),
    "unknown transfer coding": (call(BODY, "Transfer-Encoding: braided", length=False), {400, 501}),
    "bad chunk size": (call("zz\r\nx\r\n0\r\n\r\n", "Transfer-Encoding: chunked", length=False), {400}),
    "another host": (call(BODY, f"X-Forwarded-Host: {SECRET}"), {200}),
    "unknown expectation": (call(BODY, "Expect: the-impossible"), {417}),
    "HTTP 9.9": (call().replace(b"HTTP/1.1", b"HTTP/9.9"), {400}),
    "TLS to a plain port": (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n", {400}),
    # paths and methods
    "up and out": (call("", method="GET", path="/../../../../etc/passwd"), {404}),
    "up and out, encoded": (call("", method="GET", path="/pages/%2e%2e/%2e%2e/etc/passwd", key=None), {404}),
    "metrics past a public folder": (call("", method="GET", path="/pages/../metrics", key=None), {404}),
    "metrics past a public folder, encoded": (call("", method="GET", path="/pages/..%2fmetrics", key=None), {404}),
    "double slash": (call("", method="GET", path="//metrics", key=None), {401, 308}),
    "NUL in the path": (call("", method="GET", path="/health/live%00.html", key=None), {401}),
    "odd UTF-8 in the path": (call("", method="GET", path="/%c0%ae%c0%ae/metrics", key=None), {401}),
    "script in the path": (call("", method="GET", path="/<script>alert(1)</script>"), {404}),
    "path of 9 kB": (call("", method="GET", path="/" + "a" * 9000), {414}),
    "TRACE": (call("", method="TRACE"), {405}),
    "method of its own": (call("", method="BREW"), {405}),
    "method override": (call("", "X-HTTP-Method-Override: POST", method="GET"), {405}),
    "delete": (call("", method="DELETE", path="/health/live"), {405}),
    # sizes
    "body above the limit": (call(" " * (BODY_LIMIT + 1)), {413}),
    "body of unannounced length above the limit": (
        call(b"186a1\r\n" + b" " * 100_001 + b"\r\n0\r\n\r\n", "Transfer-Encoding: chunked", length=False),
        {413},
    ),
    "decompression bomb": (call(gzip.compress(b"0" * 10_000_000), "Content-Encoding: gzip"), {400, 415}),
    "a hundred thousand levels": (call("[" * 49_000 + "]" * 49_000), {400}),
    "33 levels in an object": (call('{"a":' * 33 + "1" + "}" * 33), {400}),
    "twenty thousand keys": (call("{" + ",".join(f'"k{n}":1' for n in range(8000)) + "}"), {422}),
    "array of thousands where few are allowed": (call(json.dumps({"faces": [0] * 20_000})), {422}),
    # numbers
    "integer of 5,000 digits": (call(with_number("9" * 5000)), {400}),
    "integer of 400 digits": (call(with_number("9" * 400)), {422}),
    "exponent of 999": (call(with_number("1e999")), {422}),
    "exponent of minus 999,999": (call(with_number("15e-999999")), {422}),
    "exponent of a million digits": (call(with_number("1e" + "9" * 4000)), {422}),
    "minus zero": (call(with_number("-0.0")), {422}),
    "NaN": (call(with_number("NaN")), {400}),
    "Infinity": (call(with_number("-Infinity")), {400}),
    "hexadecimal": (call(with_number("0x10")), {400}),
    "leading zero": (call(with_number("010")), {400}),
    "true for a number": (call(with_number("true")), {422}),
    "number in quotes": (call(with_number('"1.5"')), {422}),
    # JSON and Unicode
    "duplicate key": (call('{"faces": 1, "faces": 2}'), {400}),
    "duplicate key, one of them escaped": (call('{"faces": 1, "f\\u0061ces": 2}'), {400}),
    "key of a prototype": (call('{"__proto__": {"admin": true}}'), {422}),
    "byte order mark": (call(b"\xef\xbb\xbf" + BODY.encode()), {400}),
    "UTF-16": (call(BODY.encode("utf-16")), {400}),
    "UTF-7 announced": (call(BODY).replace(b"application/json", b"application/json; charset=utf-7"), {200}),
    "overlong UTF-8": (call(BODY.encode().replace(b"{", b"{\xc0\xa2", 1)), {400}),
    "lone surrogate, escaped": (call(with_name('"\\ud800"')), {200, 422}),
    "lone surrogate, as bytes": (call(with_name('"\ud800"')), {400}),
    "NUL in a name": (call(with_name('"a\\u0000b"')), {200, 422}),
    "right-to-left override in a name": (call(with_name('"\\u202egnp"')), {200, 422}),
    "ten thousand combining marks": (call(with_name('"a' + "\\u0301" * 10_000 + '"')), {422}),
    "look-alike key": (call(BODY.replace('"faces"', '"f\u0430ces"', 1)), {422}),
    "comment in JSON": (call("{/* x */}"), {400}),
    "two documents": (call("{}{}"), {400}),
    "nothing": (call(""), {400}),
    "a form": (call("a=b").replace(b"application/json", b"application/x-www-form-urlencoded"), {415}),
    "a pickle": (call(b"\x80\x04.").replace(b"application/json", b"application/python-pickle"), {415}),
    "XML with an entity": (call('<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]><x>&e;</x>'), {400}),
}


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
    status = int(head[9:12])
    assert status in expected, (head, body[:300])
    assert SECRET.encode() not in head
    for told in (b"Traceback", b".py", b"/service/", b"root:", KEY.encode()):
        assert told not in body
    if status >= 400 and not request.startswith(b"HEAD"):
        assert b"Content-Type: application/problem+json" in head
        assert json.loads(body)["status"] == status


def test_nothing_of_it_reached_the_log(closed: Service) -> None:
    text = closed.log.read_text(encoding="utf-8")
    assert len(closed.lines()) > len(TABLE) / 2  # each line is JSON
    for told in (KEY, STRANGER, SECRET, "<script>", "passwd"):
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
        inner = body
        for step in place[:-1]:
            inner = inner[step]
        inner[place[-1]] = HTML
        response = post(client, operation_id, body)
        assert response.status_code in (200, 422), place
        assert response.content_type in ("application/json", "application/problem+json")
        assert response.headers["X-Content-Type-Options"] == "nosniff"


def test_after_a_body_of_broken_chunks_the_connection_says_nothing_more(closed: Service) -> None:
    broken = call("zz\r\nx\r\n0\r\n\r\n", "Transfer-Encoding: chunked", length=False).replace(b"Connection: close\r\n", b"")
    head, body = sent(closed.port, broken)
    assert head.startswith(b"HTTP/1.1 400")
    assert b"HTTP/1.1" not in body

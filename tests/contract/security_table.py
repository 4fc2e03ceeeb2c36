"""Attacks that are sent byte for byte to the running service; of each, the status and the problem that must come back.

What is wrong inside a body of JSON is tried in test_bad_body.py and test_bad_input.py.
"""

from __future__ import annotations

import gzip
import json
import zlib

from tests.contract.bodies import PATHS, changed, example
from wattpair_service.api.guards import keys

KEY, STRANGER, WITHDRAWN = (f"wattpair_{letter * 43}" for letter in "ksw")
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


BOMB = gzip.compress(b"0" * 50_000_000)


NAME, CURRENT, COUNT = "/faces/0/name", "/unit_ac_current_a", "/faces/0/module_count"


def with_json(text: str, pointer: str = CURRENT) -> str:
    """The body with a piece of JSON, as it stands, for the value at a pointer."""
    return json.dumps(changed(example("plan_circuits"), {pointer: "12345"})).replace('"12345"', text)


def get(path: str, key: str | None = AUTHORIZED, *headers: str, method: str = "GET") -> bytes:
    """A request without a body."""
    return call("", *headers, method=method, path=path, key=key)


def typed(content_type: str, body: str | bytes = BODY) -> bytes:
    """The request with another content type."""
    return call(body).replace(b"application/json", content_type.encode())


TABLE: dict[str, tuple[bytes, str]] = {
    "a good request": (call(), "200"),
    # keys
    "no key": (call(key=None), "401 key-missing"),
    "wrong key": (call(key="Authorization: Bearer wattpair_wrong"), "401 key-unknown"),
    "the key of another service": (call(key=f"Authorization: Bearer {STRANGER}"), "401 key-unknown"),
    "empty key": (call(key="Authorization: Bearer "), "401 key-missing"),
    "key as Basic": (call(key=f"Authorization: Basic {KEY}"), "401 key-missing"),
    "key's hash as key": (call(key=f"Authorization: Bearer {keys.hash_of(KEY)}"), "401 key-unknown"),
    "key cut short": (call(key=f"Authorization: Bearer {KEY[:-1]}"), "401 key-unknown"),
    "key and more": (call(key=f"Authorization: Bearer {KEY}{KEY}"), "401 key-unknown"),
    "key in the address": (call(key=None, path=f"{PATH}?key={KEY}"), "401 key-missing"),
    "key in a cookie": (call(key=f"Cookie: Authorization={KEY}"), "401 key-missing"),
    "two keys, a wrong and a right one": (call(BODY, "Authorization: Bearer wrong"), "400 malformed-http"),
    "very long key": (call(key=f"Authorization: Bearer {'k' * 7000}"), "401 key-unknown"),
    "key of odd bytes": (call(key="Authorization: Bearer \xff\xfe\x80"), "401 key-unknown"),
    "metrics without a key": (get("/metrics", None), "404 not-found"),
    "key of a withdrawn caller": (call(key=f"Authorization: Bearer {WITHDRAWN}"), "401 key-unknown"),
    "key in another case": (call(key=f"Authorization: Bearer {KEY.swapcase()}"), "401 key-unknown"),
    "key with NUL": (call(key=f"Authorization: Bearer {KEY}\x00"), "400 malformed-http"),
    "metrics with the key in the address": (get(f"/metrics?key={KEY}", None), "404 not-found"),
    "health by POST without a key": (call("{}", path="/health/ready", key=None), "401 key-missing"),
    # headers
    "line break in the request id": (call(BODY, f"X-Request-ID: a\r\n {SECRET}: 1"), "400 malformed-http"),
    "bare line feed in a header": (call(BODY, f"X-Request-ID: a\n{SECRET}: 1"), "200"),
    "encoded line break in the request id": (call(BODY, f"X-Request-ID: a%0d%0a{SECRET}: 1"), "200"),
    "line break in the trace": (call(BODY, f"traceparent: 00-%0d%0a{SECRET}"), "200"),
    "NUL in a header": (call(BODY, "X-Request-ID: a\x00b"), "400 malformed-http"),
    "header without a colon": (call(BODY, "nonsense"), "200"),
    "header with a space in its name": (call(BODY, "X Y: z"), "400 malformed-http"),
    "header of 20 kB": (call(BODY, f"X-Long: {'a' * 20_000}"), "431 malformed-http"),
    "five hundred headers": (call(BODY, *[f"X-{n}: 1" for n in range(500)]), "200"),
    "two lengths": (call(BODY, "Content-Length: 3"), "400 malformed-http"),
    "length and chunks": (call(BODY, "Transfer-Encoding: chunked"), "400 malformed-http"),
    "negative length": (call(BODY, "Content-Length: -5", length=False), "400 malformed-http"),
    "length with a sign": (call(BODY, f"Content-Length: +{len(BODY)}", length=False), "400 malformed-http"),
    "unknown transfer coding": (call(BODY, "Transfer-Encoding: braided", length=False), "501 malformed-http"),
    "bad chunk size": (call("zz\r\nx\r\n0\r\n\r\n", "Transfer-Encoding: chunked", length=False), "400 malformed-http"),
    "another host": (call(BODY, f"X-Forwarded-Host: {SECRET}"), "200"),
    "unknown expectation": (call(BODY, "Expect: the-impossible"), "200"),
    "HTTP 9.9": (call().replace(b"HTTP/1.1", b"HTTP/9.9"), "505 malformed-http"),
    "TLS to a plain port": (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n", "400 malformed-http"),
    "carriage return alone in a header": (call(BODY, f"X-Request-ID: a\r{SECRET}: 1"), "400 malformed-http"),
    "line separators of Unicode in a header": (call(BODY, f"X-Request-ID: a\x85\x0b\x0c{SECRET}: 1"), "200"),
    "a host of the caller's making": (call().replace(b"Host: x", f"Host: {SECRET}".encode()), "200"),
    "two hosts": (call(BODY, f"Host: {SECRET}"), "400 malformed-http"),
    "line break in Accept": (call(BODY, f"Accept: text/csv%0d%0a{SECRET}: 1"), "406 not-acceptable"),
    "line break in the content type": (typed(f"application/json; x=%0d%0a{SECRET}: 1"), "200"),
    "a host with markup": (call().replace(b"Host: x", b"Host: <script>"), "200"),
    "no host": (get("/health/live").replace(b"Host: x\r\n", b""), "400 malformed-http"),
    "a place of the caller's choice": (call(BODY, "SCRIPT_NAME: /elsewhere"), "200"),
    "two opinions on TLS": (call(BODY, "X-Forwarded-Proto: https", "X-Forwarded-Ssl: off"), "200"),
    # paths and methods
    "up and out": (get("/../../../../etc/passwd"), "400 malformed-http"),
    "up and out, encoded": (get("/pages/%2e%2e/%2e%2e/etc/passwd", None), "400 malformed-http"),
    "metrics past a public folder": (get("/pages/../metrics", None), "404 not-found"),
    "metrics past a public folder, encoded": (get("/pages/..%2fmetrics", None), "404 not-found"),
    "double slash": (get("//metrics", None), "404 not-found"),
    "NUL in the path": (get("/health/live%00.html", None), "400 malformed-http"),
    "odd UTF-8 in the path": (get("/%c0%ae%c0%ae/metrics", None), "401 key-missing"),
    "script in the path": (get("/<script>alert(1)</script>"), "404 not-found"),
    "path of 9 kB": (get("/" + "a" * 9000), "414 malformed-http"),
    "TRACE": (call("", method="TRACE"), "405 method-not-allowed"),
    "method of its own": (call("", method="BREW"), "405 method-not-allowed"),
    "method override": (call("", "X-HTTP-Method-Override: POST", method="GET"), "405 method-not-allowed"),
    "delete": (call("", method="DELETE", path="/health/live"), "405 method-not-allowed"),
    "metrics with a slash": (get("/metrics/", None), "401 key-missing"),
    "metrics with parameters": (get("/metrics;/pages/x.css", None), "401 key-missing"),
    "metrics by a whole address": (get("http://x/metrics", None), "404 not-found"),
    "metrics past the examples": (get("/examples/..%2f..%2fmetrics", None), "400 malformed-http"),
    "backslashes": (get("/pages/..\\..\\settings.py", None), "404 not-found"),
    "encoded twice": (get("/pages/%252e%252e%252fsettings.py", None), "404 not-found"),
    "the code beside the pages": (get("/pages/routes.py", None), "404 not-found"),
    "a region above the rules": (get("/v1/regions/..%2f..%2fsettings"), "404 not-found"),
    "a region with NUL": (get("/v1/regions/germany%00"), "400 malformed-http"),
    "a region's file in a body": (call(with_json('"../../equipment/demo"', "/region")), "422 invalid-fields"),
    "a region by its place in a body": (call(with_json('"/etc/passwd"', "/region")), "422 invalid-fields"),
    # sizes
    "body above the limit": (call(" " * (BODY_LIMIT + 1)), "413 body-too-large"),
    "body of unannounced length above the limit": (
        call(b"186a1\r\n" + b" " * 100_001 + b"\r\n0\r\n\r\n", "Transfer-Encoding: chunked", length=False),
        "413 body-too-large",
    ),
    "bomb of gzip": (call(BOMB, "Content-Encoding: gzip"), "415 unsupported-media-type"),
    "bomb of gzip twice": (call(gzip.compress(BOMB), "Content-Encoding: gzip, gzip"), "415 unsupported-media-type"),
    "bomb of gzip within JSON": (call(gzip.compress(b'{"a":' * 10**7), "Content-Encoding: gzip"), "415 unsupported-media-type"),
    "bomb of deflate": (call(zlib.compress(b"0" * 50_000_000), "Content-Encoding: deflate"), "415 unsupported-media-type"),
    "bomb by an unknown coding": (call(BOMB, "Content-Encoding: br"), "415 unsupported-media-type"),
    "bomb in the transfer": (call(BOMB, "Transfer-Encoding: gzip, chunked", length=False), "501 malformed-http"),
    "gzip cut short": (call(gzip.compress(BODY.encode())[:-9], "Content-Encoding: gzip"), "415 unsupported-media-type"),
    "gzip of something else": (call("not gzip", "Content-Encoding: gzip"), "415 unsupported-media-type"),
    "levels in turn": (call('{"faces":' + '[{"a":' * 2000 + "1" + "}]" * 2000 + "}"), "400 malformed-json"),
    "levels that do not end": (call("[" * 99_000), "400 malformed-json"),
    "levels in a text": (call(with_json(json.dumps("[" * 90), NAME)), "200"),
    # numbers
    "minus zero": (call(with_json("-0.0")), "422 invalid-fields"),
    "exponent of minus 999,999": (call(with_json("15e-999999")), "422 invalid-fields"),
    "exponent of 4,000 digits": (call(with_json("1e" + "9" * 4000)), "422 invalid-fields"),
    "integer of 5,000 digits for a count": (call(with_json("9" * 5000, COUNT)), "400 malformed-json"),
    "integer of 30 digits for a count": (call(with_json("9" * 30, COUNT)), "422 invalid-fields"),
    "integer of 64 bits for a count": (call(with_json(str(2**63), COUNT)), "422 invalid-fields"),
    "a count with an exponent": (call(with_json("1e3", COUNT)), "422 invalid-fields"),
    "a count with an exponent of 400": (call(with_json("1e400", COUNT)), "422 invalid-fields"),
    "smallest number of all": (call(with_json("5e-324")), "422 invalid-fields"),
    "largest number of all": (call(with_json("1.7976931348623157e308")), "422 invalid-fields"),
    "digits of another script": (call(with_json("\u0661\u0662")), "400 malformed-json"),
    "number with underscores": (call(with_json("1_0")), "400 malformed-json"),
    # JSON and Unicode
    "look-alike key": (call(BODY.replace('"faces"', '"f\u0430ces"', 1)), "422 invalid-fields"),
    "duplicate key, one of them escaped": (call('{"faces": 1, "f\\u0061ces": 2}'), "400 malformed-json"),
    "duplicate key deep inside": (call(with_json('"a", "name": "b"', NAME)), "400 malformed-json"),
    "key of a prototype": (call('{"__proto__": {"admin": true}}'), "422 invalid-fields"),
    "UTF-7 announced": (typed("application/json; charset=utf-7"), "200"),
    "lone surrogate, as bytes": (call(with_json('"\ud800"', NAME)), "400 malformed-json"),
    "NUL in a name": (call(with_json('"a\\u0000b"', NAME)), "422 invalid-fields"),
    "ten thousand combining marks": (call(with_json('"a' + "\\u0301" * 10_000 + '"', NAME)), "422 invalid-fields"),
    "key with NUL at its end": (call(BODY.replace('"faces"', '"faces\\u0000"', 1)), "422 invalid-fields"),
    "a name of other planes": (call(with_json('"\U0001f3e0\U00020000"', NAME)), "200"),
    "no character at all": (call(with_json('"\\uffff"', NAME)), "422 invalid-fields"),
    "a form": (typed("application/x-www-form-urlencoded", "a=b"), "415 unsupported-media-type"),
    "a pickle": (typed("application/python-pickle", b"\x80\x04."), "415 unsupported-media-type"),
    "XML with an entity": (call('<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]><x>&e;</x>'), "400 malformed-json"),
}

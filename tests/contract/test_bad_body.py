"""What is not one JSON object, sent in the wrong way or to the wrong place."""

from __future__ import annotations

import json

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import OPERATION_IDS, PATHS, example, pointers, post, problem, refusal

MATERIALS = PATHS["list_materials"]

NOT_ONE_OBJECT = {
    "empty": (b"", "is not JSON at line 1, column 1"),
    "blank": (b" \n ", "is not JSON at line 2"),
    "cut short": (b'{"site": {', "is not JSON at line 1, column 11"),
    "trailing comma": (b'{"a": 1,}', "is not JSON"),
    "single quotes": (b"{'a': 1}", "is not JSON"),
    "two objects": (b"{}{}", "is not JSON at line 1, column 3"),
    "comment": (b"{} // x", "is not JSON"),
    "byte order mark": (b"\xef\xbb\xbf{}", "is not JSON"),
    "UTF-16": ("{}".encode("utf-16"), "is not UTF-8 at byte 0"),
    "invalid UTF-8": (b'{"a": "\xff"}', "is not UTF-8 at byte 7"),
    "overlong UTF-8": (b'{"a": "\xc0\xaf"}', "is not UTF-8 at byte 7"),
    "raw newline in a text": (b'{"a": "\n"}', "Invalid control character"),
    "NaN": (b'{"a": NaN}', "NaN is not a JSON number"),
    "Infinity": (b'{"a": [Infinity]}', "Infinity is not a JSON number"),
    "minus Infinity": (b'{"a": -Infinity}', "-Infinity is not a JSON number"),
    "plus": (b'{"a": +1}', "is not JSON"),
    "leading zero": (b'{"a": 01}', "is not JSON"),
    "hexadecimal": (b'{"a": 0x1F}', "is not JSON"),
    "ten thousand digits": (b'{"a": ' + b"9" * 10_000 + b"}", "cannot be read: a number has too many digits"),
    "duplicate keys": (b'{"a": 1, "b": {"c": 1, "c": 1}}', "the key 'c' stands twice"),
    "array": (b"[{}]", "must be one JSON object"),
    "text": (b'"{}"', "must be one JSON object"),
    "number": (b"1", "must be one JSON object"),
    "null": (b"null", "must be one JSON object"),
    "deep arrays": (b'{"a": ' + b"[" * 32 + b"]" * 32 + b"}", "nested more than 32 levels deep"),
    "deep objects": (b'{"a":' * 33 + b"1" + b"}" * 33, "nested more than 32 levels deep"),
    "very deep": (b"[" * 200_000, "nested more than 32 levels deep"),
}


@pytest.mark.parametrize(("data", "detail"), NOT_ONE_OBJECT.values(), ids=NOT_ONE_OBJECT)
def test_what_is_not_one_json_object(client: FlaskClient, data: bytes, detail: str) -> None:
    refused = problem(post(client, "list_materials", data), 400, "malformed-json")
    assert detail in refused["detail"]
    assert refused["errors"] == []


@pytest.mark.parametrize("number", ["1e999", "-1e999"])
def test_a_number_beyond_all_floats(client: FlaskClient, number: str) -> None:
    text = json.dumps(example("list_materials") | {"unit_mass_kg": 12345}).replace("12345", number)
    assert pointers(refusal(client, "list_materials", text)) == {"/unit_mass_kg"}


@pytest.mark.parametrize("operation_id", OPERATION_IDS)
@pytest.mark.parametrize(
    "content_type", ["text/plain", "application/x-www-form-urlencoded", "application/json-patch+json", "", "json", None]
)
def test_another_content_type(client: FlaskClient, operation_id: str, content_type: str | None) -> None:
    response = client.post(PATHS[operation_id], data=b"{}", content_type=content_type)
    assert problem(response, 415, "unsupported-media-type")["detail"].endswith("send application/json.")


@pytest.mark.parametrize("content_type", ["application/json; charset=utf-8", "Application/JSON"])
def test_a_content_type_may_have_a_charset(client: FlaskClient, content_type: str) -> None:
    response = client.post(MATERIALS, data=json.dumps(example("list_materials")), content_type=content_type)
    assert response.status_code == 200


def test_fifty_megabytes(client: FlaskClient) -> None:
    problem(post(client, "list_materials", b'{"a": "' + b"x" * 50_000_000 + b'"}'), 413, "body-too-large")


def test_fifty_megabytes_in_chunks_are_not_read_to_their_end(client: FlaskClient) -> None:
    class Stream:
        """A stream whose length is not announced."""

        left = 50_000_000

        def read(self, size: int = -1) -> bytes:
            count = self.left if size < 0 else min(size, self.left)
            self.left -= count
            return b" " * count

    stream = Stream()
    chunked = {"wsgi.input": stream, "wsgi.input_terminated": True, "HTTP_TRANSFER_ENCODING": "chunked"}
    problem(client.post(MATERIALS, content_type="application/json", environ_overrides=chunked), 413, "body-too-large")
    assert stream.left > 30_000_000


@pytest.mark.parametrize("path", ["/v1", "/v1/sizing/", "/v1/nothing", "/v1/%00", "/favicon.ico", "/v1/../sizing"])
@pytest.mark.parametrize("method", ["GET", "POST", "DELETE"])
def test_nothing_there(client: FlaskClient, path: str, method: str) -> None:
    problem(client.open(path, method=method), 404, "not-found")


@pytest.mark.parametrize("operation_id", OPERATION_IDS)
@pytest.mark.parametrize("method", ["GET", "PUT", "PATCH", "DELETE"])
def test_a_calculation_takes_post_alone(client: FlaskClient, operation_id: str, method: str) -> None:
    response = client.open(PATHS[operation_id], method=method)
    problem(response, 405, "method-not-allowed")
    assert set(response.headers["Allow"].split(", ")) == {"POST", "OPTIONS"}

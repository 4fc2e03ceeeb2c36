"""What is not one JSON object, sent in the wrong way or to the wrong place."""

from __future__ import annotations

import json

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import OPERATION_IDS, PATHS, example, pointers, post, problem
from wattpair_service.api.problems import ERRORS_MOST
from wattpair_service.app import create_app
from wattpair_service.settings import Settings

EVERY_POST = pytest.mark.parametrize("operation_id", OPERATION_IDS)

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


@EVERY_POST
@pytest.mark.parametrize(("data", "says"), NOT_ONE_OBJECT.values(), ids=NOT_ONE_OBJECT)
def test_what_is_not_one_json_object(client: FlaskClient, operation_id: str, data: bytes, says: str) -> None:
    said = problem(post(client, operation_id, data), 400, "malformed-json")
    assert says in said["detail"]
    assert said["errors"] == []


NUMBERS = {"list_materials": "unit_mass_kg", "plan_circuits": "unit_ac_current_a", "lay_out_face": "module_length_m"}
"""A number that stands once in an operation's example; elsewhere it is the latitude."""


@EVERY_POST
def test_a_number_beyond_all_floats(client: FlaskClient, operation_id: str) -> None:
    first = f'"{NUMBERS.get(operation_id, "latitude_deg")}": '
    before, after = json.dumps(example(operation_id)).split(first)
    for number in ("1e999", "-1e999"):
        text = before + first + number + after[after.index(",") if "," in after else after.index("}") :]
        (pointer,) = pointers(problem(post(client, operation_id, text), 422, "invalid-fields"))
        assert pointer.endswith(first.strip('": '))


@EVERY_POST
@pytest.mark.parametrize(
    "content_type", ["text/plain", "application/x-www-form-urlencoded", "application/json-patch+json", "", "json", None]
)
def test_another_content_type(client: FlaskClient, operation_id: str, content_type: str | None) -> None:
    response = client.post(PATHS[operation_id], data=json.dumps(example(operation_id)), content_type=content_type)
    said = problem(response, 415, "unsupported-media-type")
    assert said["detail"].endswith("send application/json.")


@pytest.mark.parametrize("content_type", ["application/json; charset=utf-8", "Application/JSON"])
def test_a_content_type_may_have_a_charset(client: FlaskClient, content_type: str) -> None:
    body = json.dumps(example("list_materials"))
    assert client.post(PATHS["list_materials"], data=body, content_type=content_type).status_code == 200


@EVERY_POST
def test_fifty_megabytes(client: FlaskClient, operation_id: str) -> None:
    data = b'{"a": "' + b"x" * 50_000_000 + b'"}'
    problem(post(client, operation_id, data), 413, "body-too-large")


def test_fifty_megabytes_in_chunks(client: FlaskClient) -> None:
    class Endless:
        """A stream whose length is not announced."""

        def __init__(self) -> None:
            self.left = 50_000_000

        def read(self, size: int = -1) -> bytes:
            """Give the next part."""
            count = self.left if size < 0 else min(size, self.left)
            self.left -= count
            return b" " * count

    stream = Endless()
    response = client.post(
        PATHS["list_materials"],
        content_type="application/json",
        environ_overrides={"wsgi.input": stream, "wsgi.input_terminated": True, "HTTP_TRANSFER_ENCODING": "chunked"},
    )
    problem(response, 413, "body-too-large")
    assert stream.left > 30_000_000, "it was not read to its end"


def test_the_limit_is_a_setting() -> None:
    small = create_app(Settings(body_limit_bytes=1024)).test_client()
    body = json.dumps(example("list_materials"))
    assert post(small, "list_materials", body + " " * (1024 - len(body))).status_code == 200
    problem(post(small, "list_materials", b" " * 1025), 413, "body-too-large")


@pytest.mark.parametrize("path", ["/v1", "/v1/sizing/", "/v1/nothing", "/v1/%00", "/favicon.ico", "/v1/../sizing"])
@pytest.mark.parametrize("method", ["GET", "POST", "DELETE"])
def test_nothing_there(client: FlaskClient, path: str, method: str) -> None:
    problem(client.open(path, method=method), 404, "not-found")


@EVERY_POST
@pytest.mark.parametrize("method", ["GET", "PUT", "PATCH", "DELETE"])
def test_another_method(client: FlaskClient, operation_id: str, method: str) -> None:
    response = client.open(PATHS[operation_id], method=method)
    problem(response, 405, "method-not-allowed")
    assert set(response.headers["Allow"].split(", ")) == {"POST", "OPTIONS"}


@pytest.mark.parametrize("path", ["/health/live", "/health/ready", "/openapi.json"])
def test_another_method_on_what_can_be_read(client: FlaskClient, path: str) -> None:
    response = client.post(path)
    problem(response, 405, "method-not-allowed")
    assert set(response.headers["Allow"].split(", ")) == {"GET", "HEAD", "OPTIONS"}


@EVERY_POST
def test_an_answer_is_not_many_times_its_request(client: FlaskClient, operation_id: str) -> None:
    body = {f"x{i}": 1 for i in range(50_000)}
    response = post(client, operation_id, body)
    said = problem(response, 422, "invalid-fields")
    assert len(said["errors"]) == ERRORS_MOST
    assert said["detail"].startswith(f"More than {ERRORS_MOST} fields")
    assert len(response.get_data()) < len(json.dumps(body))

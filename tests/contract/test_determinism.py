"""The same request gives the same bytes; every answer carries a request id."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import OPERATION_IDS, PATHS, WEATHER_USERS, Body, example, full, post
from tests.running import service
from wattpair_service import THREAD_COUNTS
from wattpair_service.app import create_app
from wattpair_service.settings import Settings

EVERY_POST = pytest.mark.parametrize("operation_id", OPERATION_IDS)

ANSWER = """
import json, sys
from wattpair_service.app import create_app
from wattpair_service.settings import Settings
client = create_app(Settings()).test_client()
for path, body in json.load(sys.stdin):
    print(json.dumps(client.post(path, data=body, content_type="application/json").get_data(as_text=True)))
"""


BODIES = {each: (each, example(each)) for each in OPERATION_IDS} | {
    f"{each}, {kind}": (each, full(each, kind)) for each in WEATHER_USERS for kind in ("hourly", "monthly", "file")
}


@pytest.mark.parametrize(("operation_id", "sent"), BODIES.values(), ids=BODIES)
def test_the_same_request_gives_the_same_bytes(client: FlaskClient, operation_id: str, sent: Body) -> None:
    body = json.dumps(sent)
    first, second = post(client, operation_id, body), post(client, operation_id, body)
    elsewhere = post(create_app(Settings()).test_client(), operation_id, body)
    assert first.status_code == 200
    assert first.get_data() == second.get_data() == elsewhere.get_data()


@pytest.mark.parametrize("threads", ["1", "2"])
def test_another_process_gives_the_same_bytes(client: FlaskClient, threads: str) -> None:
    bodies = [(PATHS[each], json.dumps(body)) for each, body in BODIES.values()]
    environment = os.environ | {
        "PYTHONHASHSEED": "4711",
        "OPENBLAS_NUM_THREADS": threads,
        "PYTHONPATH": os.pathsep.join(sys.path),
    }
    process = subprocess.run(
        [sys.executable, "-c", ANSWER], input=json.dumps(bodies), env=environment, capture_output=True, text=True
    )
    assert process.returncode == 0, process.stderr
    for name, (operation_id, body), line in zip(BODIES, BODIES.values(), process.stdout.splitlines(), strict=True):
        here, there = post(client, operation_id, json.dumps(body)).get_data(as_text=True), json.loads(line)
        # Not the whole of both, which nobody could compare.
        place = next((index for index, (mine, other) in enumerate(zip(here, there, strict=False)) if mine != other), 0)
        part = slice(max(0, place - 200), place + 50)
        assert here == there, f"{name}: {here[part]!r} here, {there[part]!r} there"


def test_the_running_service_gives_the_same_bytes_however_many_threads_it_may_use(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = []
    for count in ("1", "4"):
        for name in THREAD_COUNTS:
            monkeypatch.setenv(name, count)
        with service(tmp_path, workers=1) as started:
            answers.append({name: started.post(*asked).body for name, asked in BODIES.items()})
    assert [name for name, body in answers[0].items() if body != answers[1][name]] == []


@EVERY_POST
def test_the_order_of_fields_does_not_matter(client: FlaskClient, operation_id: str) -> None:
    body = full(operation_id)
    turned = dict(reversed(body.items()))
    assert post(client, operation_id, turned).get_data() == post(client, operation_id, body).get_data()


@pytest.mark.parametrize("given", ["a", "Order-2026.07_b", "0" * 64])
@pytest.mark.parametrize("path", ["/health/live", "/health/ready", "/openapi.json", "/nothing/here"])
def test_a_request_id_is_echoed(client: FlaskClient, path: str, given: str) -> None:
    response = client.get(path, headers={"X-Request-ID": given})
    assert response.headers["X-Request-ID"] == given


@pytest.mark.parametrize("given", [None, "", " ", "a b", "0" * 65, "é", "a\tb", "<script>", "a/b", "a:b"])
def test_a_missing_or_malformed_one_is_made(client: FlaskClient, given: str | None) -> None:
    headers = {} if given is None else {"X-Request-ID": given}
    made = [client.get("/nothing", headers=headers) for _ in range(2)]
    ids = [response.headers["X-Request-ID"] for response in made]
    assert ids == [response.get_json(force=True)["request_id"] for response in made]
    assert len(set(ids)) == 2
    assert all(len(each) == 32 and set(each) <= set("0123456789abcdef") for each in ids)


@EVERY_POST
def test_the_request_id_does_not_change_an_answer(client: FlaskClient, operation_id: str) -> None:
    body = json.dumps(example(operation_id))
    answers = {
        client.post(PATHS[operation_id], data=body, content_type="application/json", headers={"X-Request-ID": name}).get_data()
        for name in ("first", "second")
    }
    assert len(answers) == 1

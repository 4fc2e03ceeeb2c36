"""Keys, limits and load, as a caller meets them, and what the log and the metrics say of it."""

from __future__ import annotations

import json
import logging
import os
import signal
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.contract.bodies import PATHS, example, post, strict_json
from tests.running import service, wait_until
from wattpair_service.api import keys, layout, limits, metrics, operations
from wattpair_service.api.logs import JsonLines
from wattpair_service.app import create_app
from wattpair_service.cli import main
from wattpair_service.identity import Trace
from wattpair_service.settings import Settings

OLD, NEW, WIDGET = (keys.new_key() for _ in range(3))
LAYOUT = layout.OPERATION
OPERATION = LAYOUT.operation_id
OPEN_PATHS = (
    "/",
    "/docs",
    "/pages/page.css",
    "/examples/size_pairings.json",
    "/openapi.json",
    "/openapi.yaml",
    "/health/live",
    "/health/ready",
)


@pytest.fixture
def keys_file(tmp_path: Path) -> Path:
    file = tmp_path / "keys.toml"
    entries = [
        keys.entry("crm-2025", OLD),
        keys.entry("crm-2026", NEW),
        keys.entry("widget", WIDGET) + "requests_per_minute = 2\n",
    ]
    file.write_text("\n".join(entries))
    return file


@pytest.fixture
def closed(keys_file: Path) -> FlaskClient:
    """A client of a service that asks for keys."""
    return create_app(Settings(keys_file=keys_file, requests_per_minute=5)).test_client()


def ask(client: FlaskClient, key: str | None, **headers: str) -> TestResponse:
    given = headers | ({"Authorization": f"Bearer {key}"} if key is not None else {})
    return client.post(PATHS[OPERATION], json=example(OPERATION), headers=given)


def slug(response: TestResponse) -> str:
    assert response.content_type == "application/problem+json"
    return str(json.loads(response.data)["type"]).removeprefix("urn:wattpair:problem:")


def test_several_keys_are_known_at_once(closed: FlaskClient) -> None:
    assert [ask(closed, key).status_code for key in (OLD, NEW, WIDGET)] == [200, 200, 200]


@pytest.mark.parametrize("path", OPEN_PATHS)
def test_the_contract_the_pages_and_the_health_need_no_key(closed: FlaskClient, path: str) -> None:
    assert closed.get(path).status_code == 200


@pytest.mark.parametrize("path", ["/metrics", "/v1/sizing", "/nothing", "/health/live/", "/docsx"])
def test_all_else_needs_one(closed: FlaskClient, path: str) -> None:
    for response in (closed.get(path), closed.post(path)):
        assert (response.status_code, slug(response)) == (401, "key-missing")
        assert response.headers["WWW-Authenticate"] == 'Bearer realm="wattpair"'


def test_a_withdrawn_key_is_refused_and_a_new_one_taken_without_a_restart(
    closed: FlaskClient, keys_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("wattpair_service.api.keys.time.monotonic", lambda: 1e9)
    fresh = keys.new_key()
    keys_file.write_text(keys.entry("crm-2027", fresh))
    assert (ask(closed, fresh).status_code, ask(closed, OLD).status_code) == (200, 401)


def test_the_command_makes_a_key_that_works(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["key", "crm"]) == 0
    lines, told = capsys.readouterr()
    key = told.partition("shown this once: ")[2].strip()
    assert key not in lines
    file = tmp_path / "keys.toml"
    file.write_text(lines)
    assert ask(create_app(Settings(keys_file=file)).test_client(), key).status_code == 200
    assert main(["key", "a name"]) == 2


def test_beyond_its_limit_a_key_waits_and_the_others_do_not(closed: FlaskClient) -> None:
    assert [ask(closed, WIDGET).status_code for _ in range(3)] == [200, 200, 429]  # its own limit
    assert [ask(closed, NEW).status_code for _ in range(6)] == [200] * 5 + [429]  # the service's
    refused = ask(closed, WIDGET)
    assert slug(refused) == "too-many-requests"
    assert 1 <= int(refused.headers["Retry-After"]) <= 60
    assert closed.get("/metrics", headers={"Authorization": f"Bearer {WIDGET}"}).status_code == 200


def test_the_count_is_one_for_all_processes_and_survives_one_that_dies() -> None:
    shared = limits.WorkersStorage()
    for _ in range(3):
        child = os.fork()
        if child == 0:
            shared.incr("crm", 60)
            os._exit(0)
        os.waitpid(child, 0)
    assert shared.incr("crm", 60, 2) == 5
    os.pwrite(shared._file, b"{half", 0)  # as a worker that died while it wrote would leave it
    assert shared.incr("crm", 60) == 1
    assert (shared.get("crm"), shared.reset(), shared.get("crm")) == (1, 1, 0)


def test_what_is_too_much_is_refused_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    begun, go_on = threading.Event(), threading.Event()

    def slow(request: Any, stations: Any) -> Any:
        begun.set()
        assert go_on.wait(20)
        return LAYOUT.handle(request, stations)

    monkeypatch.setattr(operations, "OPERATIONS", (replace(LAYOUT, handle=slow),))
    app = create_app(Settings(queue_length=0))
    answers: list[int] = []
    worker = threading.Thread(target=lambda: answers.append(ask(app.test_client(), None).status_code))
    worker.start()
    assert begun.wait(20)
    refused = ask(app.test_client(), None)
    assert (refused.status_code, slug(refused), refused.headers["Retry-After"]) == (503, "busy", "1")
    assert app.test_client().get("/health/live").status_code == 200
    go_on.set()
    worker.join(20)
    assert answers == [200]
    assert ask(app.test_client(), None).status_code == 200


def breaks(*_: Any) -> Any:
    raise RuntimeError("Mrs Smith, 1 High Street")


def test_a_fault_gives_its_turn_back(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(operations, "OPERATIONS", (replace(LAYOUT, handle=breaks),))
    client = create_app(Settings(queue_length=0)).test_client()
    assert [ask(client, None).status_code for _ in range(3)] == [500] * 3


SECRET_WORDS = ("Smith", "High Street", "51.2345", OLD, NEW, WIDGET)


def test_the_log_holds_names_and_times_and_nothing_of_a_customer(closed: FlaskClient, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    body = example("compute_clipping")
    body["site"] = body["site"] | {"latitude_deg": 51.2345}
    body["module"] = body["module"] | {"name": "Module-of-Smith"}
    body["faces"][0]["name"] = "High Street"
    header = {"Authorization": f"Bearer {NEW}", "X-Request-ID": "quote-7", "traceparent": f"00-{'a' * 32}-{'b' * 16}-01"}
    closed.post(PATHS["compute_clipping"], json=body, headers=header)
    closed.post(PATHS["compute_clipping"], json=body | {"site": "Smith, High Street"}, headers=header)
    closed.post(PATHS["compute_clipping"], data=b'{"Smith', headers=header | {"Content-Type": "application/json"})
    closed.get("/Smith?address=High%20Street", headers=header)
    ask(closed, "wattpair_unknown-key-of-Smith")
    lines = [json.loads(JsonLines().format(record)) for record in caplog.records]
    text = json.dumps(lines)
    assert not [word for word in SECRET_WORDS if word in text]
    requests = [line for line in lines if line["logger"] == "wattpair_service.requests"]
    assert [(line["operation"], line["key"], line["status"], line["outcome"]) for line in requests] == [
        ("compute_clipping", "crm-2026", 200, "answered"),
        ("compute_clipping", "crm-2026", 422, "refused"),
        ("compute_clipping", "crm-2026", 400, "refused"),
        ("unknown", "crm-2026", 404, "refused"),
        ("lay_out_face", None, 401, "without key"),
    ]
    assert all(line["duration_ms"] >= 0 for line in requests)
    assert [line["request_id"] for line in requests[:4]] == ["quote-7"] * 4
    assert {line["trace_id"] for line in requests[:4]} == {"a" * 32}


def test_a_fault_is_logged_by_its_kind_and_place_alone(
    caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(operations, "OPERATIONS", (replace(LAYOUT, handle=breaks),))
    answer = ask(create_app(Settings()).test_client(), None)
    lines = [json.loads(JsonLines().format(record)) for record in caplog.records]
    assert "Smith" not in json.dumps(lines)
    assert "Smith" not in answer.get_data(as_text=True)
    (fault,) = (line for line in lines if line.get("exception"))
    assert fault["exception"] == "RuntimeError"
    assert fault["at"][-1].endswith("breaks")


@pytest.mark.parametrize(
    ("given", "goes_on"),
    [
        (f"00-{'a' * 32}-{'b' * 16}-01", True),
        (f"01-{'a' * 32}-{'b' * 16}-01-more", True),
        (f"00-{'a' * 32}-{'b' * 16}-01-more", False),
        (f"ff-{'a' * 32}-{'b' * 16}-01", False),
        (f"00-{'0' * 32}-{'b' * 16}-01", False),
        (f"00-{'a' * 32}-{'0' * 16}-01", False),
        (f"00-{'A' * 32}-{'b' * 16}-01", False),
        ("", False),
    ],
)
def test_a_trace_goes_on_where_it_can_be_read(given: str, goes_on: bool) -> None:
    trace = Trace.of(given)
    assert (trace.trace_id == "a" * 32) is goes_on
    assert (trace.parent_id is not None) is goes_on
    assert str(trace) == f"00-{trace.trace_id}-{trace.span_id}-{trace.flags}"
    assert trace.span_id != "b" * 16


def test_the_metrics_count_requests_core_time_and_caches(client: FlaskClient) -> None:
    def samples() -> dict[str, float]:
        lines = client.get("/metrics").get_data(as_text=True).splitlines()
        return {line.rsplit(" ", 1)[0]: float(line.rsplit(" ", 1)[1]) for line in lines if not line.startswith("#")}

    before = samples()
    for _ in range(2):
        assert strict_json(post(client, "compute_clipping", example("compute_clipping")))
    after = samples()
    for name, grown in {
        'wattpair_requests_total{operation="compute_clipping",status="200"}': 2,
        'wattpair_request_seconds_count{operation="compute_clipping"}': 2,
        'wattpair_core_seconds_count{operation="compute_clipping"}': 2,
    }.items():
        assert after[name] - before.get(name, 0.0) == grown
    hits = 'wattpair_cache_lookups_total{cache="atlas_conditions",outcome="hit"}'
    assert after[hits] > before.get(hits, 0.0)
    metrics.count_refused(431)
    assert samples()['wattpair_requests_total{operation="unread",status="431"}'] >= 1
    core, whole = (after[f'wattpair_{each}_seconds_sum{{operation="compute_clipping"}}'] for each in ("core", "request"))
    assert 0 < core < whole
    assert not any("crm" in name for name in after)


def test_the_metrics_are_those_of_all_workers_and_of_those_that_died(tmp_path: Path) -> None:
    def counted() -> tuple[float, float, float]:
        one = {"operation": "size_pairings"}
        names = ("wattpair_requests_total", "wattpair_core_seconds_count", "wattpair_request_seconds_count")
        asked, calculated, timed = (started.metric(name, **one) for name in names)
        return asked, calculated, timed

    def workers_that_answered() -> set[int]:
        return {line["process"] for line in started.lines() if line.get("operation") == "size_pairings"}

    with service(tmp_path, workers=2, queue_length=40) as started:
        wait_until(lambda: len(started.workers) == 2, 20, "both workers are there")
        sent = 0
        while len(workers_that_answered()) < 2 and sent < 400:
            with ThreadPoolExecutor(8) as pool:
                answers = pool.map(lambda _: started.post("size_pairings", example("size_pairings")).status, range(20))
                assert set(answers) == {200}
            sent += 20
        assert len(workers_that_answered()) == 2
        assert counted() == (sent, sent, sent)
        assert started.metric("wattpair_cache_lookups_total", cache="module_fit") > 0
        killed = started.workers[0]
        os.kill(killed, signal.SIGKILL)
        wait_until(lambda: killed not in started.workers and len(started.workers) == 2, 20, "the worker is replaced")
        assert started.post("size_pairings", example("size_pairings")).status == 200
        assert counted() == (sent + 1, sent + 1, sent + 1)

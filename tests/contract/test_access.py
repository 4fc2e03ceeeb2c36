"""Keys, rate limits and admission as a caller meets them, and what the log and the metrics show."""

from __future__ import annotations

import json
import logging
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.contract.bodies import PATHS, example, post, problem, strict_json
from wattpair_service.api import routes as operations
from wattpair_service.api.guards import keys
from wattpair_service.api.guards.identity import Trace
from wattpair_service.api.guards.log_lines import JsonLines
from wattpair_service.api.operations import layout
from wattpair_service.app import create_app
from wattpair_service.cli import main
from wattpair_service.settings import Settings

OLD, NEW, WIDGET = (f"wattpair_{letter * 43}" for letter in "onw")
LAYOUT = layout.OPERATION
OPEN_PATHS = ["/", "/docs", "/pages/page.css", "/examples/size_pairings.json", "/openapi.json", "/openapi.yaml"]
OPEN_PATHS += ["/health/live", "/health/ready"]


@pytest.fixture
def keys_file(tmp_path: Path) -> Path:
    file = tmp_path / "keys.toml"
    limited = keys.entry("widget", WIDGET) + "requests_per_minute = 2\n"
    file.write_text(keys.entry("crm-2025", OLD) + keys.entry("crm-2026", NEW) + limited)
    return file


@pytest.fixture
def closed(keys_file: Path) -> FlaskClient:
    """A client of a service that asks for keys."""
    return create_app(Settings(keys_file=keys_file, requests_per_minute=5)).test_client()


def ask(client: FlaskClient, key: str | None) -> TestResponse:
    headers = {} if key is None else {"Authorization": f"Bearer {key}"}
    return client.post(LAYOUT.path, json=example(LAYOUT.operation_id), headers=headers)


@pytest.mark.parametrize("path", OPEN_PATHS)
def test_contract_pages_and_health_need_no_key(closed: FlaskClient, path: str) -> None:
    assert closed.get(path).status_code == 200


@pytest.mark.parametrize("method", ["GET", "POST"])
@pytest.mark.parametrize("path", ["/metrics", "/v1/sizing", "/nothing", "/health/live/", "/docsx"])
def test_everything_else_needs_a_key(closed: FlaskClient, path: str, method: str) -> None:
    response = closed.open(path, method=method)
    problem(response, 401, "key-missing")
    assert response.headers["WWW-Authenticate"] == 'Bearer realm="wattpair"'


def test_the_keys_file_is_read_again_without_a_restart(
    closed: FlaskClient, keys_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("wattpair_service.api.guards.keys.time.monotonic", lambda: 1e9)
    added = keys.new_key()
    keys_file.write_text(keys.entry("crm-2027", added))
    assert (ask(closed, added).status_code, ask(closed, OLD).status_code) == (200, 401)


def test_the_command_makes_a_key_that_works(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["key", "crm"]) == 0
    lines, shown = capsys.readouterr()
    key = shown.partition("shown this once: ")[2].strip()
    assert key not in lines
    file = tmp_path / "keys.toml"
    file.write_text(lines)
    assert ask(create_app(Settings(keys_file=file)).test_client(), key).status_code == 200
    assert main(["key", "a name"]) == 2


def test_a_rate_limit_holds_for_its_key_alone(closed: FlaskClient) -> None:
    assert [ask(closed, WIDGET).status_code for _ in range(3)] == [200, 200, 429]  # its own limit
    assert [ask(closed, NEW).status_code for _ in range(6)] == [200] * 5 + [429]  # the service's
    assert ask(closed, OLD).status_code == 200
    refused = ask(closed, WIDGET)
    problem(refused, 429, "too-many-requests")
    assert 1 <= int(refused.headers["Retry-After"]) <= 60
    assert closed.get("/metrics", headers={"Authorization": f"Bearer {WIDGET}"}).status_code == 200


def test_a_calculation_beyond_the_queue_is_refused_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    begun, go_on = threading.Event(), threading.Event()

    def slow(request: Any, stations: Any) -> Any:
        begun.set()
        assert go_on.wait(20)
        return LAYOUT.handle(request, stations)

    monkeypatch.setattr(operations, "OPERATIONS", (replace(LAYOUT, handle=slow),))
    app = create_app(Settings(queue_length=0))
    with ThreadPoolExecutor(1) as pool:
        first = pool.submit(lambda: ask(app.test_client(), None).status_code)
        assert begun.wait(20)
        refused = ask(app.test_client(), None)
        live = app.test_client().get("/health/live").status_code
        go_on.set()
    problem(refused, 503, "busy")
    assert (refused.headers["Retry-After"], live, first.result()) == ("1", 200, 200)
    assert ask(app.test_client(), None).status_code == 200


def fail(*_: Any) -> Any:
    raise RuntimeError("Mrs Smith, 1 High Street")


def test_a_fault_of_the_service_frees_its_place_and_shows_its_kind_and_line_alone(
    caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(operations, "OPERATIONS", (replace(LAYOUT, handle=fail),))
    client = create_app(Settings(queue_length=0)).test_client()
    first, second = ask(client, None), ask(client, None)
    for response in (first, second):
        problem(response, 500, "internal-fault")
        assert "Smith" not in response.get_data(as_text=True)
    lines = [json.loads(JsonLines().format(record)) for record in caplog.records]
    assert "Smith" not in json.dumps(lines)
    faults = [line for line in lines if line.get("exception")]
    assert [fault["exception"] for fault in faults] == ["RuntimeError"] * 2
    assert faults[0]["at"][-1].endswith("fail")


def test_the_log_holds_names_and_times_and_nothing_of_a_customer(closed: FlaskClient, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    path, body = PATHS["compute_clipping"], example("compute_clipping")
    body["site"]["latitude_deg"] = 51.2345
    body["module"]["name"] = "Module-of-Smith"
    body["faces"][0]["name"] = "High Street"
    headers = {"Authorization": f"Bearer {NEW}", "X-Request-ID": "quote-7", "traceparent": f"00-{'a' * 32}-{'b' * 16}-01"}
    closed.post(path, json=body, headers=headers)
    closed.post(path, json=body | {"site": "Smith, High Street"}, headers=headers)
    closed.post(path, data=b'{"Smith', headers=headers | {"Content-Type": "application/json"})
    closed.get("/Smith?address=High%20Street", headers=headers)
    ask(closed, "wattpair_unknown-key-of-Smith")
    lines = [json.loads(JsonLines().format(record)) for record in caplog.records]
    text = json.dumps(lines)
    assert [word for word in ("Smith", "High Street", "51.2345", OLD, NEW, WIDGET) if word in text] == []
    requests = [line for line in lines if line["logger"] == "wattpair_service.requests"]
    assert [(line["operation"], line["key"], line["status"], line["outcome"]) for line in requests] == [
        ("compute_clipping", "crm-2026", 200, "answered"),
        ("compute_clipping", "crm-2026", 422, "refused"),
        ("compute_clipping", "crm-2026", 400, "refused"),
        ("unknown", "crm-2026", 404, "refused"),
        ("lay_out_face", None, 401, "without key"),
    ]
    assert all(line["duration_ms"] >= 0 for line in requests)
    assert [(line["request_id"], line["trace_id"]) for line in requests[:4]] == [("quote-7", "a" * 32)] * 4


@pytest.mark.parametrize(
    ("traceparent", "is_continued"),
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
def test_a_readable_trace_is_continued(traceparent: str, is_continued: bool) -> None:
    trace = Trace.of(traceparent)
    assert (trace.trace_id == "a" * 32) is (trace.parent_id is not None) is is_continued
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
    of = 'operation="compute_clipping"'
    counters = (
        f'wattpair_requests_total{{{of},status="200"}}', f"wattpair_request_seconds_count{{{of}}}",
        f"wattpair_core_seconds_count{{{of}}}",
    )  # fmt: skip
    assert {name: after[name] - before.get(name, 0.0) for name in counters} == dict.fromkeys(counters, 2)
    hits = 'wattpair_cache_lookups_total{cache="atlas_conditions",outcome="hit"}'
    assert after[hits] > before.get(hits, 0.0)
    assert 0 < after[f"wattpair_core_seconds_sum{{{of}}}"] < after[f"wattpair_request_seconds_sum{{{of}}}"]
    assert not any("crm" in name for name in after)

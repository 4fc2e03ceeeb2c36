"""The same request gives the same bytes, in whatever process; every answer carries a request id."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import OPERATION_IDS, PATHS, WEATHER_USERS, Body, example, full, post
from tests.running import Service, service
from wattpair_service import THREAD_COUNTS

BODIES = {each: (each, example(each)) for each in OPERATION_IDS} | {
    f"{each}, {kind}": (each, full(each, kind)) for each in WEATHER_USERS for kind in ("hourly", "monthly", "file")
}
EVERY_BODY = pytest.mark.parametrize(("operation_id", "body"), BODIES.values(), ids=BODIES)


@EVERY_BODY
def test_the_same_request_gives_the_same_bytes_here_and_in_another_process(
    client: FlaskClient, shared_service: Service, operation_id: str, body: Body
) -> None:
    first, second = (post(client, operation_id, body) for _ in range(2))
    assert first.status_code == 200
    assert first.get_data() == second.get_data() == shared_service.post(operation_id, body).body


@pytest.fixture(scope="module", params=["1", "4"])
def service_with_threads(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Iterator[Service]:
    """A service whose libraries may use so many threads."""
    with pytest.MonkeyPatch.context() as environment:
        for name in THREAD_COUNTS:
            environment.setenv(name, request.param)
        environment.setenv("PYTHONHASHSEED", "4711")
        with service(tmp_path_factory.mktemp("threads")) as started:
            yield started


@pytest.mark.release
@EVERY_BODY
def test_the_number_of_threads_and_the_hash_seed_change_no_byte(
    client: FlaskClient, service_with_threads: Service, operation_id: str, body: Body
) -> None:
    assert service_with_threads.post(operation_id, body).body == post(client, operation_id, body).get_data()


@pytest.mark.parametrize("operation_id", OPERATION_IDS)
def test_the_order_of_fields_does_not_matter(client: FlaskClient, operation_id: str) -> None:
    body = full(operation_id, "climate")
    assert post(client, operation_id, dict(reversed(body.items()))).get_data() == post(client, operation_id, body).get_data()


@pytest.mark.parametrize("request_id", ["a", "Order-2026.07_b", "0" * 64])
@pytest.mark.parametrize("path", ["/health/live", "/openapi.json", "/nothing/here"])
def test_a_request_id_is_returned(client: FlaskClient, path: str, request_id: str) -> None:
    assert client.get(path, headers={"X-Request-ID": request_id}).headers["X-Request-ID"] == request_id


@pytest.mark.parametrize("request_id", [None, "", " ", "a b", "0" * 65, "é", "a\tb", "<script>", "a/b", "a:b"])
def test_a_missing_or_malformed_request_id_is_replaced(client: FlaskClient, request_id: str | None) -> None:
    headers = {} if request_id is None else {"X-Request-ID": request_id}
    responses = [client.get("/nothing", headers=headers) for _ in range(2)]
    ids = [response.headers["X-Request-ID"] for response in responses]
    assert ids == [json.loads(response.data)["request_id"] for response in responses]
    assert len(set(ids)) == 2
    assert all(len(each) == 32 and set(each) <= set("0123456789abcdef") for each in ids)


def test_the_request_id_does_not_change_an_answer(client: FlaskClient) -> None:
    path, body = PATHS["plan_circuits"], example("plan_circuits")
    first, second = (client.post(path, json=body, headers={"X-Request-ID": name}) for name in ("first", "second"))
    assert (first.status_code, first.data) == (200, second.data)

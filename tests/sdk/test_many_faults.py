"""Many requests at a time, where requests, their source or the session have ways of their own."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from fractions import Fraction
from http.cookiejar import CookieJar
from pathlib import Path
from typing import Any

import pytest
import requests

from tests.sdk.both import kinds
from tests.sdk.test_many import COMMON, asked, fake_answer, fake_of, roofs
from wattpair import Client
from wattpair.testing import FakeService


def endless() -> dict[str, Any]:
    site: dict[str, Any] = {"latitude_deg": 52, "longitude_deg": 5}
    site["site"] = site
    return COMMON | {"site": site}


UNSENDABLE: dict[str, tuple[Any, type[Exception]]] = {
    "endless": (endless(), RecursionError),
    "too large for a float": (COMMON | {"site": {"latitude_deg": Fraction(10**400), "longitude_deg": 5}}, ValueError),
    "too many digits": (COMMON | {"site": {"latitude_deg": 10**5000, "longitude_deg": 5}}, ValueError),
    "infinite": (COMMON | {"site": {"latitude_deg": float("inf"), "longitude_deg": 5}}, ValueError),
}


@pytest.mark.parametrize(("request_", "raised"), UNSENDABLE.values(), ids=UNSENDABLE)
@kinds
def test_what_cannot_be_written_as_json_is_its_own_fault_alone(
    kind: str, request_: Any, raised: type[Exception], tmp_path: Path
) -> None:
    file, fake = tmp_path / "results.jsonl", FakeService()
    given = [*roofs(3)[:2], request_, roofs(3)[2]]
    with fake_of(kind, fake) as client:
        for _ in range(2):
            outcomes = client.many(client.size_pairings, given, workers=2, resume=file)
            assert [type(outcome.error) for outcome in outcomes] == [type(None), type(None), raised, type(None)]
    assert asked(fake) == [0, 1, 2]
    assert file.read_bytes().count(b"\n") == 4


@kinds
def test_where_the_source_of_requests_fails_nothing_is_lost_and_the_run_goes_on_later(kind: str, tmp_path: Path) -> None:
    file, fake = tmp_path / "results.jsonl", FakeService()

    def failing() -> Iterator[dict[str, Any]]:
        yield from roofs(20)[:11]
        raise ConnectionResetError("the database has gone")

    with fake_of(kind, fake) as client:
        with pytest.raises(ConnectionResetError, match="the database has gone"):
            client.many(client.size_pairings, failing(), workers=3, resume=file)
        computed = asked(fake)
        assert file.read_bytes().count(b"\n") - 1 == len(computed)
        outcomes = client.many(client.size_pairings, iter(roofs(20)), workers=3, resume=file)
        assert [outcome.error for outcome in outcomes] == [None] * 20
        assert asked(fake) == list(range(20))
        with pytest.raises(ConnectionResetError):
            list(client.iter_many(client.size_pairings, failing(), resume=file))
    assert computed
    assert len(fake.calls) == 20


class Noting(requests.Session):
    """A session with attributes of its own, which notes who sends and with which cookies."""

    seen: list[requests.Session]
    jars: list[Any]

    def __init__(self, fake: FakeService) -> None:
        super().__init__()
        self.mount("http://", fake.client()._session.get_adapter("http://wattpair.test"))
        self.headers["X-Tenant"] = "a"
        self.seen = []
        self.jars = []

    def request(self, *positional: Any, **options: Any) -> requests.Response:
        self.seen.append(self)
        self.jars.append(self.cookies)
        response = super().request(*positional, **options)
        self.cookies.set(f"of{len(self.seen)}", "x")
        return response


@pytest.mark.parametrize("jar", [None, CookieJar()])
def test_a_session_that_was_given_is_not_shared_by_threads(jar: Any) -> None:
    fake = FakeService()
    session = Noting(fake)
    session.cookies.set("given", "x")
    if jar is not None:
        jar.set_cookie(next(iter(session.cookies)))
        session.cookies = jar
    together = threading.Barrier(3, timeout=30)

    def wait_for_the_others(_: Any) -> Any:
        together.wait()
        return fake_answer("size_pairings")

    fake.answer("size_pairings", wait_for_the_others)
    with Client("http://wattpair.test", session=session, retries=0) as client:
        assert all(each.error is None for each in client.many(client.size_pairings, roofs(6), workers=3))
    assert len(fake.calls) == 6
    assert len({id(each) for each in session.seen}) == len({id(each) for each in session.jars}) == 3
    assert session not in session.seen
    assert [cookie.name for cookie in session.cookies] == ["given"]
    assert all("given" in {cookie.name for cookie in each} for each in session.jars)
    assert {call.headers["x-tenant"] for call in fake.calls} == {"a"}

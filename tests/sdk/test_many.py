"""Many requests at a time: order, failures beside successes, and going on after an interruption."""

from __future__ import annotations

import errno
import json
import os
import signal
import subprocess
import sys
import textwrap
import threading
from collections.abc import Iterator
from fractions import Fraction
from http.cookiejar import CookieJar
from pathlib import Path
from typing import Any

import pytest
import requests
from hypothesis import given, settings, strategies as st

import wattpair
from tests.sdk.both import noting_pauses, opened, opened_fake
from tests.sdk.canned import FOLDER
from tests.sdk.conftest import MODULE, PLACE, UNITS
from tests.sdk.contract import operations
from tests.sdk.fault_server import FaultServer
from wattpair import BadAnswer, Client, ConnectionFailed, InvalidFields, ResultsFileError, Site, TooManyRequests
from wattpair.roofs.results_file import ResultsFile
from wattpair.testing import FakeService

COMMON: dict[str, Any] = {"module": MODULE, "microinverters": UNITS[:2]}
SIZING = json.loads((FOLDER / "size_pairings.json").read_text(encoding="utf-8"))


def roofs(count: int) -> list[dict[str, Any]]:
    return [COMMON | {"site": {**PLACE, "temp_lowest_c": -index / 10}} for index in range(count)]


def numbers_sent(fake: FakeService) -> list[float]:
    """The roofs that reached the service, by their number."""
    return sorted(round(-10 * call.arguments["site"]["temp_lowest_c"]) for call in fake.calls)


def lines_kept(file: Path) -> int:
    """Results in a file, without its head."""
    return file.read_bytes().count(b"\n") - 1


def test_results_come_in_order_with_failures_beside_them(service_url: str, kind: str) -> None:
    given: list[Any] = roofs(12)
    given[3] = COMMON | {"site": {**PLACE, "latitude_deg": 99}}
    given[5] = {"site": PLACE}
    given[7] = "no mapping"
    given[9] = COMMON | {"site": {"latitude_deg": "52", "longitude_deg": 5.2}}
    with opened(kind, service_url) as client:
        outcomes = client.many(client.size_pairings, iter(given), workers=3)
        alone = client.size_pairings(**given[8])
    assert [outcome.index for outcome in outcomes] == list(range(12))
    failed = {outcome.index: type(outcome.error) for outcome in outcomes if outcome.error is not None}
    assert failed == {3: InvalidFields, 5: TypeError, 7: TypeError, 9: TypeError}
    lowest = {outcome.index: outcome.result.design_temperatures.lowest_c for outcome in outcomes if outcome.result is not None}
    assert lowest == {index: -index / 10 for index in range(12) if index not in failed}
    assert outcomes[8].unwrap() == alone
    with pytest.raises(InvalidFields, match=r"site\.latitude_deg"):
        outcomes[3].unwrap()
    assert "missing a required argument: 'module'" in str(outcomes[5].error)
    assert "requests[7]: 'no mapping' (str) was given" in str(outcomes[7].error)


def test_designs_of_many_roofs(client: Client) -> None:
    (operation,) = (each for each in operations() if each.name == "design_roof")
    roof = operation.examples[0]
    outcomes = client.designs([roof, {**roof, "faces": []}], workers=2)
    assert outcomes[0].unwrap() == client.design_roof(**roof)
    assert isinstance(outcomes[1].error, InvalidFields)
    assert outcomes[1].error.field_errors[0].argument == "faces"


def test_requests_that_ask_the_same_are_sent_once(kind: str) -> None:
    fake, first = FakeService(), roofs(1)[0]
    same = dict(reversed(first.items())) | {"site": Site(**first["site"])}
    with opened_fake(kind, fake) as client:
        outcomes = client.many(client.size_pairings, [first, same, first])
    assert len(fake.calls) == 1
    assert len(outcomes) == 3
    assert outcomes[0].result == outcomes[1].result == outcomes[2].result is not None


def test_requests_are_read_no_further_ahead_than_the_workers_are() -> None:
    fake, ahead = FakeService(), []

    def read() -> Iterator[dict[str, Any]]:
        for index, roof in enumerate(roofs(40)):
            ahead.append(index - len(fake.calls))
            yield roof

    with fake.client() as client:
        client.many(client.size_pairings, read(), workers=2)
    assert max(ahead) <= 4


@pytest.mark.parametrize("fault", [KeyboardInterrupt, ConnectionResetError], ids=lambda fault: fault.__name__)
def test_nothing_is_computed_twice_and_nothing_lost_after_an_interruption(
    kind: str, tmp_path: Path, fault: type[BaseException]
) -> None:
    file, fake, again = tmp_path / "results.jsonl", FakeService(), FakeService()

    def interrupted() -> Iterator[dict[str, Any]]:
        yield from roofs(30)[:20]
        raise fault("the database has gone")

    with opened_fake(kind, fake) as client:
        with pytest.raises(fault, match="the database has gone"):
            client.many(client.size_pairings, interrupted(), workers=3, resume=file)
        computed = numbers_sent(fake)
        keys = {json.loads(line)["key"] for line in file.read_text().splitlines()[1:]}
        assert len(keys) == len(computed) > 0
        outcomes = client.many(client.size_pairings, roofs(30), workers=3, resume=file)
        assert [(outcome.index, outcome.error) for outcome in outcomes] == [(index, None) for index in range(30)]
        assert numbers_sent(fake) == list(range(30))
        with pytest.raises(fault):
            list(client.iter_many(client.size_pairings, interrupted(), resume=file))
    with opened_fake(kind, again) as client:
        assert client.many(client.size_pairings, reversed(roofs(30)), resume=file)[0].result == outcomes[29].result
    assert (len(fake.calls), again.calls) == (30, [])


KILLED = """
    import os, signal, sys
    from pathlib import Path
    from tests.sdk.test_many import roofs
    from wattpair import Client

    def dying():
        yield from roofs(12)
        while Path(sys.argv[2]).read_bytes().count(b"\\n") < 9:
            pass
        os.kill(os.getpid(), signal.SIGKILL)

    with Client(sys.argv[1]) as client:
        client.many(client.size_pairings, dying(), workers=2, resume=sys.argv[2])
"""


@pytest.mark.release
def test_a_killed_process_loses_nothing_that_it_noted(service_url: str, tmp_path: Path) -> None:
    file, fake = tmp_path / "results.jsonl", FakeService()
    killed = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(KILLED), service_url, str(file)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        check=False,
    )
    assert killed.returncode == -signal.SIGKILL
    kept = lines_kept(file)
    assert kept >= 8
    with Client(service_url, session=fake.session()) as client:
        outcomes = client.many(client.size_pairings, roofs(12), resume=file)
    assert len(fake.calls) == 12 - kept
    assert all(outcome.error is None for outcome in outcomes)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A file with the results of five roofs."""
    file = tmp_path_factory.mktemp("whole") / "results.jsonl"
    with FakeService().client() as client:
        client.many(client.size_pairings, roofs(5), workers=1, resume=file)
    return file.read_bytes()


@settings(max_examples=settings().max_examples // 2)
@given(share=st.floats(0, 1))
def test_a_file_cut_off_anywhere_is_gone_on_with(whole: bytes, share: float, tmp_path_factory: pytest.TempPathFactory) -> None:
    kept, fake = whole[: round(share * len(whole))], FakeService()
    file = tmp_path_factory.mktemp("cut") / "results.jsonl"
    file.write_bytes(kept)
    with fake.client() as client:
        outcomes = client.many(client.size_pairings, roofs(5), resume=file)
    assert all(outcome.error is None for outcome in outcomes)
    assert len(fake.calls) == 5 - max(0, kept.count(b"\n") - 1)
    assert sorted(file.read_bytes().splitlines()) == sorted(whole.splitlines())


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        (b'"0.1.0"', b'"0.0.9"', "is of another client version: '0.0.9' stands there, '0.1.0' is needed"),
        (b'"wattpair_results":1', b'"wattpair_results":2', "is of another wattpair results: 2 stands there, 1 is needed"),
        (b'"contract_version":"1.', b'"contract_version":"2.', "is of another contract version: "),
        (b"wattpair.test", b"elsewhere.test", "is of another base url: 'http://elsewhere.test'"),
        (b'"size_pairings"', b'"plan_circuits"', "is of another call: 'plan_circuits'"),
        (b"", b"id,price\n1,2\n", "no file of results"),
        (b"", b"[]\n", "no file of results"),
        (b"", b"notes without an end of line", "no file of results"),
        (b'{"key"', b'{"kex"', "line 2 is damaged"),
        (b'"verdict":"ok"', b'"verdict":3', "line 2 is damaged .*verdict"),
        (b'{"key"', b"\0\0\0", "line 2 is damaged"),
        (b'"verdict":"ok"', b'"verdict":"\xff"', "line 2 is damaged .*utf-8"),
        (b'"verdict":"ok"', b'"verdict":"passed?"', "line 2 is damaged .*verdict"),
        pytest.param(b'"answer":', b'"answer":' + b"[" * 100_000, "line 2 is damaged", id="deep"),
        pytest.param(b"", b"[" * 100_000 + b"\n", "no file of results", id="deep head"),
        (b"", b"\xff\n", "no file of results"),
    ],
)
def test_a_file_that_is_not_one_to_go_on_with_is_refused_and_left_as_it_is(
    whole: bytes, tmp_path: Path, old: bytes, new: bytes, text: str
) -> None:
    assert wattpair.__version__ == "0.1.0"
    file, changed = tmp_path / "results.jsonl", whole.replace(old, new, 1) if old else new
    file.write_bytes(changed)
    with FakeService().client() as client, pytest.raises(ResultsFileError, match=text):
        client.many(client.size_pairings, roofs(5), resume=file)
    assert file.read_bytes() == changed


def test_a_folder_is_no_file_of_results(tmp_path: Path) -> None:
    with FakeService().client() as client, pytest.raises(ResultsFileError, match="cannot be written: Is a directory"):
        client.many(client.size_pairings, roofs(1), resume=tmp_path)


def test_a_file_in_use_is_refused(tmp_path: Path) -> None:
    file, fake, inner = tmp_path / "results.jsonl", FakeService(), FakeService()

    def try_the_same_file(_: Any) -> Any:
        with inner.client() as client, pytest.raises(ResultsFileError, match="being written by another run"):
            client.many(client.size_pairings, roofs(1), resume=file)
        return SIZING

    fake.answer("size_pairings", try_the_same_file)
    with fake.client() as client:
        client.many(client.size_pairings, roofs(1), resume=file)
    assert (len(fake.calls), inner.calls) == (1, [])


def test_refusals_for_good_are_kept_and_errors_that_may_pass_are_tried_again(tmp_path: Path) -> None:
    file, fake = tmp_path / "results.jsonl", FakeService()
    error = wattpair.FieldError(pointer="/module/power_w", given="1", allowed="more", detail="-")
    fake.refuse("size_pairings", 422, errors=[error], times=1)
    fake.refuse("size_pairings", 429, retry_after=7, times=1)
    fake.break_connection("size_pairings", times=1)
    with fake.client() as client:
        first, second = (client.many(client.size_pairings, roofs(4), workers=1, resume=file) for _ in range(2))
    assert [type(each.error) for each in first] == [InvalidFields, TooManyRequests, ConnectionFailed, type(None)]
    assert [type(each.error) for each in second] == [InvalidFields, type(None), type(None), type(None)]
    assert str(second[0].error) == str(first[0].error)
    assert "module.power_w: 1 was given" in str(second[0].error)
    assert len(fake.calls) == 6


@pytest.mark.parametrize(
    ("arguments", "raised", "text"),
    [
        ({"workers": 0}, ValueError, "workers: 0 was given; allowed is one or more"),
        ({"workers": 2.0}, TypeError, "workers: 2.0"),
        ({"workers": True}, TypeError, "workers: True"),
        ({"requests": {"site": 1}}, TypeError, "requests: .*allowed is an iterable of mappings"),
        ({"requests": 3}, TypeError, "requests: 3"),
        ({"resume": 3}, TypeError, r"resume: 3 \(int\) was given; allowed is a path"),
        ({"call": print}, TypeError, "call: .*allowed is a client's method, such as client.size_pairings"),
        ({"call": "size_pairings"}, TypeError, "call: 'size_pairings'"),
    ],
)
def test_bad_arguments_are_refused_before_anything_is_sent(
    kind: str, arguments: dict[str, Any], raised: type[Exception], text: str
) -> None:
    fake = FakeService()
    with opened_fake(kind, fake) as client, pytest.raises(raised, match=text):
        client.many(**{"requests": roofs(1), "call": client.size_pairings, **arguments})
    assert fake.calls == []


def test_a_progress_bar_counts_every_request(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    with FakeService().client() as client:
        client.many(client.size_pairings, [*roofs(3), *roofs(2), {}], progress=True)
        assert "6/6" in capsys.readouterr().err
        monkeypatch.setitem(sys.modules, "tqdm", None)
        with pytest.raises(ImportError, match=r"pip install \"wattpair\[progress\]\""):
            client.many(client.size_pairings, roofs(1), progress=True)


def test_a_fault_of_the_callers_own_ends_the_run_and_keeps_what_was_done(tmp_path: Path) -> None:
    file, fake = tmp_path / "results.jsonl", FakeService()

    def fail_at_the_fourth(_: Any) -> None:
        if len(fake.calls) == 4:
            raise RuntimeError("the caller's own")

    with fake.client(on_exchange=fail_at_the_fourth) as client, pytest.raises(RuntimeError, match="own"):
        client.many(client.size_pairings, roofs(5), workers=1, resume=file)
    assert lines_kept(file) >= 3


def test_a_run_waits_for_a_busy_service_but_not_for_ever(kind: str) -> None:
    fake = FakeService()
    fake.refuse("size_pairings", 429, retry_after=60, times=4)
    fake.refuse("size_pairings", 503, times=6)
    with opened_fake(kind, fake, retries=1) as client:
        pauses = noting_pauses(kind, client)
        assert client.many(client.size_pairings, roofs(1), workers=1)[0].error is None
        assert [pause for pause in pauses if pause == 60] == [60] * 4
        fake.calls.clear()
        fake.refuse("size_pairings", 429, retry_after=60)
        outcomes = client.many(client.size_pairings, roofs(1), workers=1)
    assert isinstance(outcomes[0].error, TooManyRequests)
    assert 10 <= len(fake.calls) <= 13


def test_after_a_429_all_workers_of_a_run_rest() -> None:
    fake = FakeService()
    fake.refuse("size_pairings", 429, retry_after=60, times=1)
    with opened_fake("waiting", fake, retries=1) as client:
        pauses = noting_pauses("waiting", client)
        assert all(each.error is None for each in client.many(client.size_pairings, roofs(3), workers=1))
    assert len([pause for pause in pauses if pause > 59]) >= 3


def test_an_interruption_does_not_wait_for_a_pause() -> None:
    fake = FakeService()
    fake.refuse("size_pairings", 503, retry_after=100)

    def interrupted() -> Iterator[dict[str, Any]]:
        yield roofs(1)[0]
        while not fake.calls:
            pass
        raise KeyboardInterrupt

    with Client("http://wattpair.test", session=fake.session()) as client, pytest.raises(KeyboardInterrupt):
        client.many(client.size_pairings, interrupted(), workers=1)


def test_an_iteration_holds_few_outcomes_and_keeps_their_order(kind: str, tmp_path: Path) -> None:
    fake, read = FakeService(), []

    def reading() -> Iterator[dict[str, Any]]:
        for index, roof in enumerate(roofs(80)):
            read.append(index)
            yield roof

    with opened_fake(kind, fake) as client:
        for _ in range(2):
            read.clear()
            run = client.iter_many(client.size_pairings, reading(), workers=2, resume=tmp_path / "results.jsonl")
            found = [(outcome.index, outcome.error, len(read) - index <= 33) for index, outcome in enumerate(run)]
            assert found == [(index, None, True) for index in range(80)]
            assert len(fake.calls) == 80


def test_equal_requests_in_a_window_are_sent_once_and_have_each_their_own_outcome() -> None:
    fake, given, asked = FakeService(), roofs(5), list[int]()
    three_read, all_read = threading.Event(), threading.Event()

    def requests() -> Iterator[dict[str, Any]]:
        for number in (0, 1, 0, 2, 3, 0, 4):
            if number == 3:
                three_read.set()
            yield given[number]
        all_read.set()
        yield given[0]

    def answer(arguments: Any) -> Any:
        number = round(-10 * arguments["site"]["temp_lowest_c"])
        asked.append(number)
        # The first outcome is there while its equals are read, and they wait for the second one's.
        assert number != 0 or three_read.wait(30)
        assert number != 1 or all_read.wait(30)
        return SIZING

    fake.answer("size_pairings", answer)
    with fake.client() as client:
        run = client.iter_many(client.size_pairings, requests(), workers=2)
        assert [(outcome.index, outcome.error) for outcome in run] == [(index, None) for index in range(8)]
    assert sorted(asked) == [0, 1, 2, 3, 4]


def test_equal_requests_that_follow_after_their_outcome_are_sent_again() -> None:
    fake, (roof, *_) = FakeService(), roofs(1)
    with fake.client() as client:
        apart = client.iter_many(client.size_pairings, [roof, *roofs(60)[1:], roof], workers=1)
        assert [outcome.error for outcome in apart] == [None] * 61
    assert numbers_sent(fake).count(0) == 2


def test_a_full_disk_ends_the_run_and_lets_go_of_the_file(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file, fake, kept = tmp_path / "results.jsonl", FakeService(), ResultsFile.add

    def add(self: Any, key: str, outcome: Any) -> None:
        if len(fake.calls) > 2:
            raise OSError(errno.ENOSPC, "No space left on device")
        kept(self, key, outcome)

    with opened_fake(kind, fake) as client:
        monkeypatch.setattr(ResultsFile, "add", add)
        with pytest.raises(OSError, match="No space left") as caught:
            client.many(client.size_pairings, roofs(9), workers=1, resume=file, progress=True)
        monkeypatch.setattr(ResultsFile, "add", kept)
        assert all(each.error is None for each in client.many(client.size_pairings, roofs(9), resume=file))
    assert caught.value.__traceback__ is not None, "which holds on to the run"
    assert lines_kept(file) == 9


def test_an_answer_with_a_bad_byte_is_its_own_fault_alone(kind: str) -> None:
    def answer(handler: Any) -> None:
        text = json.dumps(SIZING).encode()
        handler.send(200, text.replace(b'"ok"', b'"\xff"', 1) if len(server.requests) == 2 else text, {})

    with FaultServer(answer) as server, opened(kind, server.url) as client:
        outcomes = client.many(client.size_pairings, roofs(4), workers=1)
    assert [type(outcome.error) for outcome in outcomes].count(BadAnswer) == 1
    assert sum(outcome.error is None for outcome in outcomes) == 3


def test_an_error_in_place_of_a_request_is_none() -> None:
    with FakeService().client() as client:
        (outcome,) = client.many(client.size_pairings, [ValueError("mine")])  # type: ignore[list-item]
    assert isinstance(outcome.error, TypeError)
    assert "requests[0]: ValueError('mine') (ValueError) was given; allowed is a mapping" in str(outcome.error)


UNSENDABLE: dict[str, tuple[Any, type[Exception]]] = {
    "endless": ({"latitude_deg": 52, "longitude_deg": 5}, RecursionError),
    "too large for a float": ({"latitude_deg": Fraction(10**400), "longitude_deg": 5}, ValueError),
    "too many digits": ({"latitude_deg": 10**5000, "longitude_deg": 5}, ValueError),
    "infinite": ({"latitude_deg": float("inf"), "longitude_deg": 5}, ValueError),
}
UNSENDABLE["endless"][0]["site"] = UNSENDABLE["endless"][0]


@pytest.mark.parametrize(("site", "raised"), UNSENDABLE.values(), ids=UNSENDABLE)
def test_what_cannot_be_written_as_json_is_its_own_fault_alone(
    kind: str, site: Any, raised: type[Exception], tmp_path: Path
) -> None:
    file, fake = tmp_path / "results.jsonl", FakeService()
    given = [*roofs(3)[:2], COMMON | {"site": site}, roofs(3)[2]]
    with opened_fake(kind, fake) as client:
        for _ in range(2):
            outcomes = client.many(client.size_pairings, given, workers=2, resume=file)
            assert [type(outcome.error) for outcome in outcomes] == [type(None), type(None), raised, type(None)]
    assert numbers_sent(fake) == [0, 1, 2]
    assert lines_kept(file) == 3


class Noting(requests.Session):
    """A session with attributes of its own, which notes who sends and with which cookies."""

    def __init__(self, fake: FakeService) -> None:
        super().__init__()
        self.mount("http://", fake.session().get_adapter("http://wattpair.test"))
        self.headers["X-Tenant"] = "a"
        self.seen: list[requests.Session] = []
        self.jars: list[Any] = []

    def request(self, *positional: Any, **options: Any) -> requests.Response:
        self.seen.append(self)
        self.jars.append(self.cookies)
        response = super().request(*positional, **options)
        self.cookies.set(f"of{len(self.seen)}", "x")
        return response


@pytest.mark.parametrize("jar", [None, CookieJar()], ids=["of requests", "of the caller"])
def test_workers_work_at_the_same_time_and_share_no_session(jar: Any) -> None:
    fake = FakeService()
    session = Noting(fake)
    session.cookies.set("given", "x")
    if jar is not None:
        jar.set_cookie(next(iter(session.cookies)))
        session.cookies = jar
    together = threading.Barrier(3, timeout=30)
    fake.answer("size_pairings", lambda _: SIZING if together.wait() >= 0 else None)
    with Client("http://wattpair.test", session=session, retries=0) as client:
        assert all(each.error is None for each in client.many(client.size_pairings, roofs(6), workers=3))
    assert len(fake.calls) == 6
    assert len({id(each) for each in session.seen}) == len({id(each) for each in session.jars}) == 3
    assert session not in session.seen
    assert [cookie.name for cookie in session.cookies] == ["given"]
    assert all("given" in {cookie.name for cookie in each} for each in session.jars)
    assert {call.headers["x-tenant"] for call in fake.calls} == {"a"}

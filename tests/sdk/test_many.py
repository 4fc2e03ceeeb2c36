"""Many requests at a time: order, failures beside successes, and going on after an interruption."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import textwrap
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

import wattpair
from tests.sdk.both import kinds, noting_pauses, opened
from tests.sdk.canned import FOLDER
from tests.sdk.conftest import MODULE, PLACE, UNITS
from tests.sdk.contract import operations
from wattpair import Client, ConnectionFailed, InvalidFields, Outcome, ResultsFileError, Site, TooManyRequests
from wattpair._version import CONTRACT_VERSION
from wattpair.testing import FakeService

COMMON: dict[str, Any] = {"module": MODULE, "microinverters": UNITS[:2]}


def roofs(count: int) -> list[dict[str, Any]]:
    return [COMMON | {"site": {**PLACE, "temp_lowest_c": -index / 10}} for index in range(count)]


def asked(fake: FakeService) -> list[float]:
    """The roofs that reached the service, by their number."""
    return sorted(round(-10 * call.arguments["site"]["temp_lowest_c"]) for call in fake.calls)


def fake_of(kind: str, fake: FakeService) -> Any:
    return opened(kind, "http://wattpair.test", session=session_of(kind, fake), retries=0)


def session_of(kind: str, fake: FakeService) -> Any:
    return (fake.client() if kind == "waiting" else fake.async_client())._session


@kinds
def test_results_come_in_order_with_failures_beside_them(service_url: str, kind: str) -> None:
    requests: list[Any] = roofs(12)
    requests[3] = COMMON | {"site": {**PLACE, "latitude_deg": 99}}
    requests[5] = {"site": PLACE}
    requests[7] = "no mapping"
    requests[9] = COMMON | {"site": {"latitude_deg": "52", "longitude_deg": 5.2}}
    with opened(kind, service_url) as client:
        outcomes = client.many(client.size_pairings, iter(requests), workers=3)
        alone = client.size_pairings(**requests[8])
    assert [outcome.index for outcome in outcomes] == list(range(12))
    assert {outcome.index: type(outcome.error) for outcome in outcomes if outcome.error is not None} == {
        3: InvalidFields,
        5: TypeError,
        7: TypeError,
        9: TypeError,
    }
    for outcome in outcomes:
        assert (outcome.result is None) == (outcome.error is not None)
        if outcome.result is not None:
            assert outcome.result.design_temperatures.lowest_c == -outcome.index / 10
    assert outcomes[8].unwrap() == alone
    with pytest.raises(InvalidFields, match=r"site\.latitude_deg"):
        outcomes[3].unwrap()
    assert "missing a required argument: 'module'" in str(outcomes[5].error)
    assert "requests[7]: 'no mapping' (str) was given" in str(outcomes[7].error)


def test_designs_of_many_roofs(service_url: str) -> None:
    (operation,) = (each for each in operations() if each.name == "design_roof")
    roof = operation.examples[0]
    with Client(service_url) as client:
        outcomes = client.designs([roof, {**roof, "faces": []}], workers=2)
        assert outcomes[0].unwrap() == client.design_roof(**roof)
    assert isinstance(outcomes[1].error, InvalidFields)
    assert outcomes[1].error.field_errors[0].argument == "faces"


@kinds
def test_requests_that_ask_the_same_are_sent_once(kind: str) -> None:
    fake = FakeService()
    first = roofs(1)[0]
    same = dict(reversed(first.items())) | {"site": Site(**first["site"])}
    with fake_of(kind, fake) as client:
        outcomes = client.many(client.size_pairings, [first, same, first])
    assert len(fake.calls) == 1
    assert len(outcomes) == 3
    assert outcomes[0].result == outcomes[1].result == outcomes[2].result is not None


def test_workers_work_at_the_same_time() -> None:
    fake, together = FakeService(), threading.Barrier(4, timeout=30)

    def wait_for_the_others(_: Any) -> Any:
        together.wait()
        return fake_answer("size_pairings")

    fake.answer("size_pairings", wait_for_the_others)
    with fake.client() as client:
        assert all(each.error is None for each in client.many(client.size_pairings, roofs(8), workers=4))


def fake_answer(operation: str) -> Any:
    return json.loads((FOLDER / f"{operation}.json").read_text(encoding="utf-8"))


def test_requests_are_read_no_further_ahead_than_the_workers_are() -> None:
    fake, ahead = FakeService(), []

    def read() -> Iterator[dict[str, Any]]:
        for index, roof in enumerate(roofs(40)):
            ahead.append(index - len(fake.calls))
            yield roof

    with fake.client() as client:
        client.many(client.size_pairings, read(), workers=2)
    assert max(ahead) <= 4


@kinds
def test_nothing_is_computed_twice_and_nothing_lost_after_an_interruption(kind: str, tmp_path: Path) -> None:
    file, fake = tmp_path / "results.jsonl", FakeService()

    def interrupted() -> Iterator[dict[str, Any]]:
        yield from roofs(30)[:20]
        raise KeyboardInterrupt

    with fake_of(kind, fake) as client:
        with pytest.raises(KeyboardInterrupt):
            client.many(client.size_pairings, interrupted(), workers=3, resume=file)
        kept = {json.loads(line)["key"] for line in file.read_text().splitlines()[1:]}
        computed = len(fake.calls)
        assert kept
        outcomes = client.many(client.size_pairings, roofs(30), workers=3, resume=file)
    assert all(outcome.error is None for outcome in outcomes)
    assert [outcome.index for outcome in outcomes] == list(range(30))
    assert len(kept) == computed
    assert asked(fake) == list(range(30))
    again = FakeService()
    with fake_of(kind, again) as client:
        assert client.many(client.size_pairings, reversed(roofs(30)), resume=file)[0].result == outcomes[29].result
    assert again.calls == []


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


def test_a_killed_process_loses_nothing_that_it_noted(service_url: str, tmp_path: Path) -> None:
    file = tmp_path / "results.jsonl"
    killed = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(KILLED), service_url, str(file)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        check=False,
    )
    assert killed.returncode == -signal.SIGKILL
    kept = file.read_bytes().count(b"\n") - 1
    assert kept >= 8
    fake = FakeService()
    with Client(service_url, session=fake.client()._session) as client:
        outcomes = client.many(client.size_pairings, roofs(12), resume=file)
    assert len(fake.calls) == 12 - kept
    assert all(outcome.error is None for outcome in outcomes)


def written(file: Path, count: int = 5) -> bytes:
    fake = FakeService()
    with fake.client() as client:
        client.many(client.size_pairings, roofs(count), workers=1, resume=file)
    return file.read_bytes()


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return written(tmp_path_factory.mktemp("whole") / "results.jsonl")


def go_on(file: Path) -> tuple[list[Outcome[Any]], int]:
    fake = FakeService()
    with fake.client() as client:
        outcomes = client.many(client.size_pairings, roofs(5), resume=file)
    return outcomes, len(fake.calls)


@given(share=st.floats(0, 1))
def test_a_file_cut_off_anywhere_is_gone_on_with(whole: bytes, share: float, tmp_path_factory: pytest.TempPathFactory) -> None:
    kept = whole[: round(share * len(whole))]
    file = tmp_path_factory.mktemp("cut") / "results.jsonl"
    file.write_bytes(kept)
    outcomes, computed = go_on(file)
    assert all(outcome.error is None for outcome in outcomes)
    assert computed == 5 - max(0, kept.count(b"\n") - 1)
    assert sorted(file.read_bytes().splitlines()) == sorted(whole.splitlines())


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (lambda data: data.replace(b'"0.1.0"', b'"0.0.9"', 1), "of another version of wattpair: '0.0.9' stands there, '0.1.0'"),
        (lambda data: data.replace(b'"wattpair_results":1', b'"wattpair_results":2', 1), "of another format: 2 stands there"),
        (lambda data: data.replace(b'"contract_version":"1.', b'"contract_version":"2.', 1), "another version of the contract"),
        (
            lambda data: data.replace(b"wattpair.test", b"elsewhere.test", 1),
            "of another service: 'http://elsewhere.test' stands",
        ),
        (lambda data: data.replace(b'"size_pairings"', b'"plan_circuits"', 1), "of another call: 'plan_circuits' stands there"),
        (lambda _: b"id,price\n1,2\n", "no file of results"),
        (lambda _: b"[]\n", "no file of results"),
        (lambda _: b"notes without an end of line", "no file of results"),
        (lambda data: data.replace(b'{"key"', b'{"kex"', 1), "line 2 is damaged"),
        (lambda data: data.replace(b'"verdict":"', b'"verdict":"un', 1), "line 2 is damaged .*verdict"),
        (lambda data: data.replace(b'{"key"', b"\0\0\0", 1), "line 2 is damaged"),
    ],
)
def test_a_file_that_is_not_one_to_go_on_with_is_refused_and_left_as_it_is(
    whole: bytes, tmp_path: Path, change: Callable[[bytes], bytes], text: str
) -> None:
    assert wattpair.__version__ == "0.1.0"
    file = tmp_path / "results.jsonl"
    file.write_bytes(change(whole))
    with pytest.raises(ResultsFileError, match=text):
        go_on(file)
    assert file.read_bytes() == change(whole)


def test_a_file_in_use_is_refused(tmp_path: Path) -> None:
    file, fake, inner = tmp_path / "results.jsonl", FakeService(), FakeService()

    def try_the_same_file(_: Any) -> Any:
        with inner.client() as client, pytest.raises(ResultsFileError, match="being written by another run"):
            client.many(client.size_pairings, roofs(1), resume=file)
        return fake_answer("size_pairings")

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
        first = client.many(client.size_pairings, roofs(4), workers=1, resume=file)
        second = client.many(client.size_pairings, roofs(4), workers=1, resume=file)
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
@kinds
def test_bad_arguments_are_refused_before_anything_is_sent(
    kind: str, arguments: dict[str, Any], raised: type[Exception], text: str
) -> None:
    fake = FakeService()
    with fake_of(kind, fake) as client, pytest.raises(raised, match=text):
        client.many(**({"call": client.size_pairings, "requests": roofs(1)} | arguments))
    assert fake.calls == []


def test_a_progress_bar_counts_every_request(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    fake = FakeService()
    with fake.client() as client:
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
    assert file.read_bytes().count(b"\n") - 1 >= 3


@kinds
def test_a_run_waits_for_a_busy_service_beyond_the_number_of_retries(kind: str) -> None:
    fake = FakeService()
    fake.refuse("size_pairings", 429, retry_after=60, times=4)
    fake.refuse("size_pairings", 503, times=6)
    with opened(kind, "http://wattpair.test", session=session_of(kind, fake), retries=1) as client:
        pauses = noting_pauses(kind, client)
        outcomes = client.many(client.size_pairings, roofs(1), workers=1)
    assert outcomes[0].error is None
    assert [pause for pause in pauses if pause == 60] == [60] * 4


@kinds
def test_a_run_does_not_wait_for_ever(kind: str) -> None:
    fake = FakeService()
    fake.refuse("size_pairings", 429, retry_after=60)
    with opened(kind, "http://wattpair.test", session=session_of(kind, fake), retries=1) as client:
        noting_pauses(kind, client)
        outcomes = client.many(client.size_pairings, roofs(1), workers=1)
    assert isinstance(outcomes[0].error, TooManyRequests)
    assert 10 <= len(fake.calls) <= 13


def test_after_a_429_all_workers_of_a_run_rest() -> None:
    fake = FakeService()
    pauses: list[float] = []
    fake.refuse("size_pairings", 429, retry_after=60, times=1)
    with fake.client(retries=1) as client:
        client._transport._sleep = pauses.append
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

    with Client("http://wattpair.test", session=fake.client()._session) as client, pytest.raises(KeyboardInterrupt):
        client.many(client.size_pairings, interrupted(), workers=1)


@kinds
def test_an_iteration_holds_few_outcomes_and_keeps_their_order(kind: str, tmp_path: Path) -> None:
    fake, read = FakeService(), []

    def reading() -> Iterator[dict[str, Any]]:
        for index, roof in enumerate(roofs(120)):
            read.append(index)
            yield roof

    with fake_of(kind, fake) as client:
        for turn in range(2):
            read.clear()
            run = client.iter_many(client.size_pairings, reading(), workers=2, resume=tmp_path / "kept.jsonl")
            for index, outcome in enumerate(run):
                assert outcome.index == index
                assert outcome.error is None
                assert len(read) - index <= 33
            assert len(fake.calls) == 120, turn


def test_a_folder_is_no_file_of_results(tmp_path: Path) -> None:
    with FakeService().client() as client, pytest.raises(ResultsFileError, match="cannot be written: Is a directory"):
        client.many(client.size_pairings, roofs(1), resume=tmp_path)


def test_the_contract_of_the_client_is_todays() -> None:
    text = (Path(__file__).resolve().parents[2] / "openapi" / "wattpair.v1.yaml").read_text(encoding="utf-8")
    assert yaml.safe_load(text)["info"]["version"] == CONTRACT_VERSION

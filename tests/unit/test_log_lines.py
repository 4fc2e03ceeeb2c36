"""Log lines where the reader stalls, the disk is full, or the log call is faulty."""

from __future__ import annotations

import json
import logging
import os
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from io import TextIOWrapper
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from wattpair_service.api.guards import log_lines
from wattpair_service.api.guards.log_lines import LineHandler
from wattpair_service.api.guards.logs import JsonLines

DROPPED = "{} lines of the log could not be written and were dropped"


@pytest.fixture
def dropped(monkeypatch: pytest.MonkeyPatch) -> list[None]:
    """Grows by one for each dropped line."""
    calls: list[None] = []
    monkeypatch.setattr(log_lines, "watchers", [lambda: calls.append(None)])
    return calls


@pytest.fixture(params=["pipe", "socket"])
def log(request: pytest.FixtureRequest) -> Iterator[tuple[LineHandler, Callable[[], bytes]]]:
    """A handler, and a function that reads what it has written since the last call."""
    out, into = os.pipe() if request.param == "pipe" else (each.detach() for each in socket.socketpair())
    os.set_blocking(out, False)
    with open(out, "rb", buffering=0) as reader, open(into, "w") as stream:  # noqa: PTH123 - descriptors

        def read() -> bytes:
            received = b""
            while piece := reader.read(1 << 20):
                received += piece
            return received

        yield handler(stream), read
        assert os.get_blocking(into)  # other processes share the descriptor


def handler(stream: TextIOWrapper[Any]) -> LineHandler:
    made = LineHandler(stream)
    made.setFormatter(JsonLines())
    return made


def say(to: LineHandler, message: str) -> None:
    to.handle(logging.makeLogRecord({"msg": message}))


def messages(text: bytes) -> list[str]:
    return [json.loads(line)["message"] for line in text.splitlines()]


@pytest.mark.parametrize("length", [100, 50_000])
def test_a_reader_that_stalls_gets_whole_lines_and_the_number_of_dropped_ones(
    log: tuple[LineHandler, Callable[[], bytes]], dropped: list[None], length: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    to, read = log
    waits_ms: list[int] = []
    poll = to._poll.poll

    def recorded(wait_ms: int) -> list[tuple[int, int]]:
        waits_ms.append(wait_ms)
        return poll(wait_ms)

    monkeypatch.setattr(to, "_poll", SimpleNamespace(poll=recorded))
    while len(dropped) < 7:
        say(to, "x" * length)
    assert {*waits_ms} == {0}, "no line waits for its reader"
    received = read()
    say(to, "after")
    said = messages(received + read())
    assert said[-2:] == [DROPPED.format(7), "after"]
    assert {*said[:-2]} == {"x" * length}
    assert len(dropped) == 7
    say(to, "more")
    assert messages(read()) == ["more"]


class WithoutText:
    def __str__(self) -> str:
        raise KeyError("a customer's name")


@pytest.mark.parametrize(
    ("message", "arguments", "kind"), [("%d", ("a customer's name",), "TypeError"), ("%s", (WithoutText(),), "KeyError")]
)
def test_a_faulty_log_call_is_reported_by_its_position_without_its_arguments(
    log: tuple[LineHandler, Callable[[], bytes]], message: str, arguments: tuple[object, ...], kind: str
) -> None:
    to, read = log
    position: dict[str, object] = {"pathname": "somewhere.py", "lineno": 7}
    to.handle(logging.makeLogRecord({"msg": message, "args": arguments, **position}))
    say(to, "after")
    assert messages(read()) == [f"a line of the log has no words: {kind} at somewhere.py:7", "after"]


def test_a_child_does_not_report_what_its_parent_dropped(
    log: tuple[LineHandler, Callable[[], bytes]], dropped: list[None]
) -> None:
    to, read = log
    while len(dropped) < 7:
        say(to, "x" * 50_000)
    received = read()
    child = os.fork()
    if child == 0:
        say(to, "of the child")
        os._exit(0)
    os.waitpid(child, 0)
    of_child = read()
    say(to, "after")
    assert b"of the child" in of_child
    assert b"dropped" not in of_child
    assert messages(received + read())[-2:] == [DROPPED.format(7), "after"]


def test_a_full_disk_or_no_log_at_all_stops_nothing(dropped: list[None]) -> None:
    with Path("/dev/full").open("w") as full:
        for _ in range(3):
            say(handler(full), "nobody reads this")
    say(LineHandler(None), "nobody reads this")
    assert len(dropped) == 3


LIBRARY = """
import logging
from wattpair_service.api.guards import logs
logs.configure()
library = logging.getLogger("weasyprint.text")
library.setLevel(logging.INFO)
library.info("the name Smith")
library.warning("no font has Smith")
library.error("%s", "Smith cannot be drawn")
logging.getLogger("wattpair_service.some").info("own words")
"""


def test_libraries_log_only_errors_and_never_their_words() -> None:
    ended = subprocess.run([sys.executable, "-c", LIBRARY], capture_output=True, check=True, timeout=60)
    lines = [(line["logger"], line["level"], line["message"]) for line in map(json.loads, ended.stderr.splitlines())]
    assert lines == [("weasyprint.text", "error", "<string>:9"), ("wattpair_service.some", "info", "own words")]

"""The log's way out, where what is behind it takes nothing."""

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

from wattpair_service.api import log_lines
from wattpair_service.api.log_lines import LineHandler
from wattpair_service.api.logs import JsonLines

TOLD = "{} lines of the log could not be written and were dropped"


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> list[None]:
    """Grows by one for each line that is dropped."""
    calls: list[None] = []
    monkeypatch.setattr(log_lines, "watchers", [lambda: calls.append(None)])
    return calls


@pytest.fixture(params=["pipe", "socket"])
def ways(request: pytest.FixtureRequest) -> Iterator[tuple[LineHandler, Callable[[], bytes]]]:
    """A handler, and what has come out of it since it was last asked."""
    if request.param == "pipe":
        out, into = os.pipe()
    else:
        out, into = (each.detach() for each in socket.socketpair())
    os.set_blocking(out, False)
    with open(out, "rb", buffering=0) as reader, open(into, "w") as stream:  # noqa: PTH123 - descriptors

        def taken() -> bytes:
            received = b""
            while piece := reader.read(1 << 20):
                received += piece
            return received

        yield handler(stream), taken
        assert os.get_blocking(into)  # as all who share it have it


def handler(stream: TextIOWrapper[Any]) -> LineHandler:
    made = LineHandler(stream)
    made.setFormatter(JsonLines())
    return made


def say(to: LineHandler, message: str) -> None:
    to.handle(logging.makeLogRecord({"msg": message}))


def messages(text: bytes) -> list[str]:
    return [json.loads(line)["message"] for line in text.splitlines()]


@pytest.mark.parametrize("length", [100, 50_000])
def test_a_reader_that_stalls_gets_whole_lines_and_is_told_what_it_missed(
    ways: tuple[LineHandler, Callable[[], bytes]], counted: list[None], length: int
) -> None:
    to, taken = ways
    while len(counted) < 7:
        say(to, "x" * length)
    received = taken()
    say(to, "after")
    received += taken()
    said = messages(received)
    assert said[-2:] == [TOLD.format(7), "after"]
    assert {*said[:-2]} == {"x" * length}
    assert len(counted) == 7
    say(to, "more")
    assert messages(taken()) == ["more"]


def test_no_line_waits_for_its_reader(
    ways: tuple[LineHandler, Callable[[], bytes]], counted: list[None], monkeypatch: pytest.MonkeyPatch
) -> None:
    to, _ = ways
    waits_ms: list[int] = []
    ask = to._poll.poll

    def noted(wait_ms: int) -> list[tuple[int, int]]:
        waits_ms.append(wait_ms)
        return ask(wait_ms)

    monkeypatch.setattr(to, "_poll", SimpleNamespace(poll=noted))
    while len(counted) < 2:
        say(to, "x" * 50_000)
    assert {*waits_ms} == {0}


class Unsayable:
    """What the log cannot put in words."""

    def __str__(self) -> str:
        raise KeyError("a customer's name")


@pytest.mark.parametrize(
    ("message", "arguments", "kind"), [("%d", ("a customer's name",), "TypeError"), ("%s", (Unsayable(),), "KeyError")]
)
def test_a_line_without_words_fails_nobody_and_tells_where_it_stands(
    ways: tuple[LineHandler, Callable[[], bytes]], message: str, arguments: tuple[object, ...], kind: str
) -> None:
    to, taken = ways
    place: dict[str, object] = {"pathname": "somewhere.py", "lineno": 7}
    to.handle(logging.makeLogRecord({"msg": message, "args": arguments, **place}))
    say(to, "after")
    assert messages(taken()) == [f"a line of the log has no words: {kind} at somewhere.py:7", "after"]


def test_a_child_does_not_tell_what_its_parent_missed(
    ways: tuple[LineHandler, Callable[[], bytes]], counted: list[None]
) -> None:
    to, taken = ways
    while len(counted) < 7:
        say(to, "x" * 50_000)
    received = taken()
    child = os.fork()
    if child == 0:
        say(to, "of the child")
        os._exit(0)
    os.waitpid(child, 0)
    of_child = taken()
    say(to, "after")
    assert b"of the child" in of_child
    assert b"dropped" not in of_child
    assert messages(received + taken())[-2:] == [TOLD.format(7), "after"]


def test_a_full_disk_is_counted(counted: list[None]) -> None:
    with Path("/dev/full").open("w") as full:
        for _ in range(3):
            say(handler(full), "nobody reads this")
    assert len(counted) == 3


def test_a_process_that_was_started_without_a_place_for_its_log_goes_on(counted: list[None]) -> None:
    say(LineHandler(None), "nobody reads this")
    assert counted == []


LIBRARY = """
import logging
from wattpair_service.api import logs
logs.configure()
library = logging.getLogger("weasyprint.text")
library.setLevel(logging.INFO)
library.info("the name Smith")
library.warning("no font has Smith")
library.error("%s", "Smith cannot be drawn")
logging.getLogger("wattpair_service.some").info("own words")
"""


def test_a_library_is_heard_by_its_errors_alone_and_not_by_its_words() -> None:
    ended = subprocess.run([sys.executable, "-c", LIBRARY], capture_output=True, check=True, timeout=60)
    lines = [(line["logger"], line["level"], line["message"]) for line in map(json.loads, ended.stderr.splitlines())]
    assert lines == [("weasyprint.text", "error", "<string>:9"), ("wattpair_service.some", "info", "own words")]

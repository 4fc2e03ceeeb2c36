"""A worker that cannot accept a further connection."""

from __future__ import annotations

import contextlib
import errno
import os
import selectors
import socket
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any, cast

import pytest
from gunicorn.config import Config

from wattpair_service import worker as worker_module
from wattpair_service.settings import Settings
from wattpair_service.worker import Worker


class Log:
    def __init__(self) -> None:
        self.warnings: list[str] = []

    def warning(self, message: str, *values: object) -> None:
        self.warnings.append(message % values)


class Listener(socket.socket):
    def accept(self) -> tuple[socket.socket, object]:
        raise OSError(errno.EMFILE, os.strerror(errno.EMFILE))


@contextlib.contextmanager
def waited_for(listener: socket.socket, log: Log, **settings: int) -> Iterator[Worker]:
    """A worker at a listener at which three clients wait, who have said something each."""
    cfg = Config()
    for name, value in settings.items():
        cfg.set(name, value)
    with listener, contextlib.ExitStack() as stack:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        listener.setblocking(False)
        for _ in range(3):
            stack.enter_context(socket.create_connection(listener.getsockname(), 20)).sendall(b"GET")
        worker = Worker(1, os.getppid(), [listener], SimpleNamespace(settings=Settings()), 30, cfg, log)
        stack.callback(worker.tmp.close)
        worker._poller = stack.enter_context(selectors.DefaultSelector())
        worker._threads = cast("Any", SimpleNamespace(load=0))
        yield worker
        for connection in worker._connections:
            connection.sock.close()


def test_a_worker_out_of_descriptors_pauses_accepting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(worker_module, "ACCEPT_PAUSE_S", 600.0)  # which no slow machine takes for a few lines
    log = Log()
    with waited_for(listener := Listener(), log) as worker:
        for _ in range(3):
            worker._accept_again_s = 0.0
            worker._accept_or_wait()
            assert worker._poller.select(20)
            worker._on_waiting(listener, selectors.EVENT_READ)
            assert 500.0 < worker._accept_or_wait() <= 600.0
            assert not worker._poller.get_map()
    assert log.warnings == ["no further connection can be taken: Too many open files"]


def test_a_full_worker_leaves_connections_to_others_but_takes_all_before_it_stops() -> None:
    with waited_for(listener := socket.socket(), Log(), worker_connections=1) as worker:
        worker._accept_waiting(listener, 64)
        assert len(worker._connections) == 1
        worker.alive = False
        worker._accept_waiting(listener, 64)
        assert len(worker._connections) == 3

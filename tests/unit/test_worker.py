"""The worker's door, where no further connection can be taken."""

from __future__ import annotations

import errno
import os
import selectors
import socket
from types import SimpleNamespace
from typing import Any, cast

from gunicorn.config import Config

from wattpair_service.settings import Settings
from wattpair_service.worker import ACCEPT_PAUSE_S, Worker


class Log:
    def __init__(self) -> None:
        self.warnings: list[str] = []

    def warning(self, message: str, *values: object) -> None:
        self.warnings.append(message % values)


class Listener(socket.socket):
    """One that a connection waits at, and that cannot give it."""

    def accept(self) -> tuple[socket.socket, object]:
        raise OSError(errno.EMFILE, os.strerror(errno.EMFILE))


def test_a_worker_that_cannot_take_a_connection_looks_away_from_it_for_a_while() -> None:
    log = Log()
    with Listener() as listener, socket.socket() as client:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        client.connect(listener.getsockname())
        worker = Worker(1, os.getppid(), [listener], SimpleNamespace(settings=Settings()), 30, Config(), log)
        worker._poller = selectors.DefaultSelector()
        worker._threads = cast("Any", SimpleNamespace(load=0))
        for _ in range(3):
            worker._accept_again_s = 0.0
            worker._accept_or_wait()
            assert worker._poller.select(20)
            worker._on_waiting(listener, selectors.EVENT_READ)
            assert 0 < worker._accept_or_wait() <= ACCEPT_PAUSE_S
            assert not worker._poller.get_map()
        worker.tmp.close()
    assert log.warnings == ["no further connection can be taken: Too many open files"]

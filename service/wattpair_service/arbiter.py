"""gunicorn's arbiter, made to lose no request: neither when a worker is replaced nor when the service stops."""

from __future__ import annotations

import queue
import signal
import socket
import time
from contextlib import suppress
from typing import Any

from gunicorn import sock
from gunicorn.arbiter import Arbiter as BaseArbiter

HOPS_LEFT_LEAST = (socket.IPPROTO_IP, 21), (socket.IPPROTO_IPV6, 73)
"""Linux's IP_MINTTL and IPV6_MINHOPCOUNT, for which Python has no names."""
HOPS_MOST = 255
LOOK_S = 0.1
HURRY_S = 2.0
"""What is left to workers whose stop is asked for once more, and at once."""


class Arbiter(BaseArbiter):  # type: ignore[misc]  # gunicorn publishes no types
    """Starts a worker's successor before that worker ends."""

    LISTENERS: list[Any]

    def spawn_worker(self) -> None:
        """Start a worker; where the machine has no room for one, those that are there go on, and it is tried again."""
        try:
            super().spawn_worker()
        except OSError as error:
            self.log.error("no further worker can be started: %s", error.strerror)

    def manage_workers(self) -> None:
        """Start the successors of those that leave, and let these go once their successors are at work."""
        leaving = [process_id for process_id, worker in self.WORKERS.items() if worker.is_leaving]
        if not leaving:
            super().manage_workers()
            return
        for _ in range(self.num_workers + len(leaving) - len(self.WORKERS)):
            self.spawn_worker()
        if sum(worker.is_accepting for worker in self.WORKERS.values()) >= self.num_workers:
            for process_id in leaving:
                self.kill_worker(process_id, signal.SIGTERM)

    def stop(self, graceful: bool = True) -> None:
        """Let nobody in any more, before the workers take those who are in and close the door; then wait for the workers.

        gunicorn's own stop waits by the wall clock, which may be set meanwhile.
        """
        is_last = self.reexec_pid == self.master_pid == 0 and not self.systemd
        for listener in self.LISTENERS if is_last else []:
            let_nobody_in(listener)
        sock.close_sockets(self.LISTENERS, is_last)
        self.LISTENERS = []
        self.kill_workers(signal.SIGTERM if graceful else signal.SIGQUIT)
        self._wait_for_workers(is_hurried=not graceful)
        self.kill_workers(signal.SIGKILL)
        self.reap_workers()

    def _wait_for_workers(self, *, is_hurried: bool) -> None:
        end_s = time.monotonic() + self.cfg.graceful_timeout
        while self.WORKERS and time.monotonic() < end_s:
            with suppress(queue.Empty):
                if self.SIG_QUEUE.get_nowait() in (signal.SIGINT, signal.SIGQUIT) and not is_hurried:
                    is_hurried, end_s = True, time.monotonic() + HURRY_S
                    self.kill_workers(signal.SIGQUIT)
            self.reap_workers()
            time.sleep(LOOK_S)


def let_nobody_in(listener: Any) -> None:
    """Drop what would open a further connection: who tries now tries again, and is refused once the door is closed.

    Without this, whoever came between a worker's last look and its closing would have connected in vain. A filter of packets
    would do the same, but not every kernel takes one of a process without privileges. Packets mostly begin with 64 or 128 hops;
    for a system on the same network that begins with 255, the door stays open that moment longer.
    """
    _require_hops(listener, HOPS_MOST)


def let_in(client: socket.socket) -> None:
    """Take what comes from a client that was let in last: its socket asks for what the listener did."""
    _require_hops(client, 0)


def _require_hops(sock: Any, least: int) -> None:
    for option in HOPS_LEFT_LEAST:
        with suppress(OSError):  # the other family, or a kernel without it
            sock.setsockopt(*option, least)

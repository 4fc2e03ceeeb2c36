"""gunicorn's arbiter, made to lose no request: neither when a worker is replaced nor when the service stops."""

from __future__ import annotations

import ctypes
import signal
import socket
import struct
from contextlib import suppress
from typing import Any

from gunicorn.arbiter import Arbiter as BaseArbiter

SO_ATTACH_FILTER = 26
RETURN_NOTHING = struct.pack("HBBI", 0x06, 0, 0, 0)
"""A filter of one instruction: of what comes, keep 0 bytes."""


class Arbiter(BaseArbiter):  # type: ignore[misc]  # gunicorn publishes no types
    """Starts a worker's successor before that worker ends."""

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
        """Let nobody in any more, before the workers take those who are in and close the door."""
        is_last = self.reexec_pid == self.master_pid == 0 and not self.systemd
        for listener in self.LISTENERS if is_last else []:
            _let_nobody_in(listener)
        super().stop(graceful)


def _let_nobody_in(listener: Any) -> None:
    """Drop what would open a further connection: who tries now tries again, and is refused once the door is closed.

    Without this, whoever came between a worker's last look and its closing would have connected in vain.
    """
    instruction = ctypes.create_string_buffer(RETURN_NOTHING)
    with suppress(OSError):  # a kernel without filters
        listener.setsockopt(socket.SOL_SOCKET, SO_ATTACH_FILTER, struct.pack("HP", 1, ctypes.addressof(instruction)))

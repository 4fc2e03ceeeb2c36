"""The pauses of a run of many calls, which its workers make together and an interruption ends."""

from __future__ import annotations

import time
from threading import Event, Lock


class Pauses:
    """What the workers of one run share: until when they are to rest, and whether the run is over."""

    def __init__(self) -> None:
        self._until_s = 0.0
        self._lock = Lock()
        self._over = Event()

    def sleep(self, wait_s: float) -> None:
        """Wait, unless the run ends meanwhile."""
        self._over.wait(wait_s)

    def rest_all(self, wait_s: float) -> None:
        """Let no worker begin an attempt for a while: the service counts the requests of all of them together."""
        with self._lock:
            self._until_s = max(self._until_s, time.monotonic() + wait_s)

    def left_s(self) -> float:
        """Seconds until attempts may begin again."""
        return max(0.0, self._until_s - time.monotonic())

    @property
    def over(self) -> bool:
        """Whether the run has ended, so that nothing more is to be sent."""
        return self._over.is_set()

    def end(self) -> None:
        """End the run, and every pause of its workers that are threads."""
        self._over.set()

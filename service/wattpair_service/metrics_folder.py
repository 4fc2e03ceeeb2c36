"""The folder in which this service's workers count, and those of services that were killed."""

from __future__ import annotations

import fcntl
import os
import shutil
import tempfile
from contextlib import suppress
from pathlib import Path

PREFIX, LOCK = "wattpair-metrics-", "lock"


def make(parent: Path) -> Path:
    """A new folder, which is this service's for as long as one of its processes lives: the kernel lets go of its lock then."""
    while True:
        folder = Path(tempfile.mkdtemp(prefix=PREFIX, dir=parent))
        lock = folder / LOCK
        descriptor = os.open(lock, os.O_RDONLY | os.O_CREAT)
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        if lock.exists():
            return folder
        os.close(descriptor)  # it was swept before it was locked


def sweep(parent: Path) -> None:
    """Take the folders away whose service is gone."""
    for folder in parent.glob(f"{PREFIX}*"):
        with suppress(OSError):  # it has no lock, another user owns it, or its service lives
            _sweep(folder)


def _sweep(folder: Path) -> None:
    descriptor = os.open(folder / LOCK, os.O_RDONLY | os.O_NONBLOCK | os.O_NOFOLLOW)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        shutil.rmtree(folder)
    finally:
        os.close(descriptor)

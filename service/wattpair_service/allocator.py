"""What glibc's allocator is told; another C library knows nothing of it and goes its own way."""

from __future__ import annotations

import ctypes
from contextlib import suppress

M_TRIM_THRESHOLD, M_MMAP_THRESHOLD, M_ARENA_MAX = -1, -3, -8
ARENAS = 1
"""Which the threads share: one for each of them keeps some 40 MB that nobody uses."""
OF_THEIR_OWN_BYTES = 4 << 20
"""From which on a piece of memory is the system's again when it is let go."""
LEFT_OVER_BYTES = 24 << 20
"""Kept at the end of the heap. With less, as glibc begins, the arrays of an hourly year go back after each step of a
calculation, and clearing their pages for the next takes a sixth of a selection's time."""


def settle() -> None:
    """Set it, before there are threads."""
    with suppress(OSError, AttributeError):
        tell = ctypes.CDLL(None).mallopt
        for what, value in (
            (M_ARENA_MAX, ARENAS),
            (M_MMAP_THRESHOLD, OF_THEIR_OWN_BYTES),
            (M_TRIM_THRESHOLD, LEFT_OVER_BYTES),
        ):
            tell(what, value)


def give_back() -> None:
    """Let the system have what is free."""
    with suppress(OSError, AttributeError):
        ctypes.CDLL(None).malloc_trim(0)

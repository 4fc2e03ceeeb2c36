"""The answers of `check_live` and `check_ready`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Liveness:
    """The answer of a running service.

    Attributes
    ----------
    status : str
        Always "live".
    """

    status: Literal["live"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Readiness:
    """Whether the service can read its data.

    Attributes
    ----------
    status : {"ready", "not ready"}
        Whether it is ready.
    faults : tuple of str
        Why it is not ready.
    station_count : int
        Usable station files.
    broken_station_count : int
        Station files that cannot be used; the service's log names them.
    """

    status: Literal["ready", "not ready"]
    faults: tuple[str, ...]
    station_count: int
    broken_station_count: int

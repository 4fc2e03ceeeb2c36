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
class BrokenStation:
    """A weather file of the service's operator that is left out.

    Attributes
    ----------
    name, reason : str
        Name of the file, and what is wrong with it.
    """

    name: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Readiness:
    """Whether the service can read its data.

    Attributes
    ----------
    status : {"ready", "not ready"}
        Whether it is ready.
    faults : tuple of str
        What keeps it from being ready.
    station_count : int
        Usable station files.
    broken_stations : tuple of BrokenStation
        Station files that are left out; the others are served all the same.
    """

    status: Literal["ready", "not ready"]
    faults: tuple[str, ...]
    station_count: int
    broken_stations: tuple[BrokenStation, ...]

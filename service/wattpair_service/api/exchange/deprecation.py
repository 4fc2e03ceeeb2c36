"""How an operation announces its end: RFC 9745 and RFC 8594."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from email.utils import format_datetime
from typing import Any


@dataclass(frozen=True, slots=True)
class Deprecation:
    """The end of an operation: day of the announcement, first day on which it may be gone, and what to use instead."""

    since: date
    sunset: date
    instead: str

    def headers(self) -> dict[str, str]:
        """Headers of each of its responses, problems too."""
        return {
            "Deprecation": f"@{int(_midnight(self.since).timestamp())}",
            "Sunset": format_datetime(_midnight(self.sunset), usegmt=True),
        }

    def described(self) -> str:
        """The announcement in words, for the contract."""
        return f"Deprecated since {self.since.isoformat()}, and may be gone from {self.sunset.isoformat()}: {self.instead}"


DESCRIBED_HEADERS: dict[str, Any] = {
    "Deprecation": {"description": "Since when it is deprecated (RFC 9745), as @ and unix time.", "schema": {"type": "string"}},
    "Sunset": {"description": "When it may be gone (RFC 8594), as an HTTP date.", "schema": {"type": "string"}},
}
"""The contract's entries for these headers."""


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time(), UTC)

"""By what a request is found again: in its answer, in the log, in a trace."""

from __future__ import annotations

import re
import secrets
import uuid
from dataclasses import dataclass

REQUEST_ID = "X-Request-ID"
TRACE_PARENT = "traceparent"
_REQUEST_ID_FORM = re.compile(r"[A-Za-z0-9._-]{1,64}")
_TRACE_PARENT_FORM = re.compile(r"(?!ff)[0-9a-f]{2}-(?!0{32})([0-9a-f]{32})-(?!0{16})([0-9a-f]{16})-([0-9a-f]{2})(-.*)?")


@dataclass(frozen=True, slots=True)
class Trace:
    """The place of a request in a distributed trace (W3C Trace Context)."""

    trace_id: str
    parent_id: str | None
    span_id: str
    flags: str

    @classmethod
    def of(cls, given: str) -> Trace:
        """Go on with a caller's trace; begin one where there is none, or none that can be read."""
        found = _TRACE_PARENT_FORM.fullmatch(given)
        # Version 00 ends after its flags; later versions may go on.
        if found is None or (given.startswith("00") and found[4]):
            return cls(secrets.token_hex(16), None, secrets.token_hex(8), "00")
        return cls(found[1], found[2], secrets.token_hex(8), found[3])

    def __str__(self) -> str:
        return f"00-{self.trace_id}-{self.span_id}-{self.flags}"


@dataclass(frozen=True, slots=True)
class Identity:
    """By what a request is found again: its id, and its place in a trace."""

    request_id: str
    trace: Trace

    @classmethod
    def of(cls, request_id: str = "", trace_parent: str = "") -> Identity:
        """A caller's id for its request where it can stand in the log, else a new one; and its trace."""
        known = _REQUEST_ID_FORM.fullmatch(request_id)
        return cls(request_id if known else uuid.uuid4().hex, Trace.of(trace_parent))

    @property
    def headers(self) -> dict[str, str]:
        """What every answer says of it."""
        return {REQUEST_ID: self.request_id, TRACE_PARENT: str(self.trace)}

    @property
    def fields(self) -> dict[str, str | None]:
        """What its line in the log says of it."""
        trace = self.trace
        return {
            "request_id": self.request_id,
            "trace_id": trace.trace_id,
            "span_id": trace.span_id,
            "parent_id": trace.parent_id,
        }

"""An error as the service reports it."""

from __future__ import annotations

import json
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldError:
    """One fault of a request.

    Attributes
    ----------
    pointer : str
        JSON pointer (RFC 6901) to the field; empty for the whole body.
    given, allowed : str
        What stood there, shortened, and what is allowed there.
    detail : str
        Pointer, given and allowed in one sentence.
    """

    pointer: str
    given: str
    allowed: str
    detail: str

    @property
    def argument(self) -> str:
        """The field as Python would write it, such as "faces[0].tilt_deg"; empty for the whole body."""
        # A step is unescaped by itself, ~1 before ~0: "~01" stands for "~1", and a "/" within a name divides nothing.
        steps = [step.replace("~1", "/").replace("~0", "~") for step in self.pointer.split("/")[1:]]
        return "".join(map(_as_python, steps)).removeprefix(".")


def _as_python(step: str) -> str:
    if step.isascii() and step.isdigit():
        return f"[{step}]"
    return f".{step}" if step.isidentifier() else f"[{json.dumps(step, ensure_ascii=False)}]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """An error as the service reports it (RFC 9457).

    Attributes
    ----------
    type : str
        Stable name of the kind of problem.
    title : str
        Name of the HTTP status.
    status : int
        HTTP status.
    detail : str
        What is wrong, in plain words.
    request_id : str
        Id of the request, as in the service's log.
    errors : tuple of FieldError
        Problems by field; may be empty.
    """

    type: str
    title: str
    status: int
    detail: str
    request_id: str
    errors: tuple[FieldError, ...]

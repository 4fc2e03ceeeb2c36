"""What several answers share."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from wattpair.frames import Row, frame

if TYPE_CHECKING:
    import pandas as pd

Verdict = Literal["ok", "caution", "fail"]
"""Outcome of a check."""


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
class Assumption:
    """An input that the request left out, and what was taken for it.

    Attributes
    ----------
    name : str
        Path of the field in the request, without list indexes.
    value : object
        Value taken; None where it follows from other fields.
    unit : str or None
        Unit of the value, if it has one.
    source : str
        Where the value comes from.
    """

    name: str
    value: object
    unit: str | None
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Method:
    """A model that was used.

    Attributes
    ----------
    name, version : str
        Name of the model and version of its implementation in the service.
    source : str
        Published source.
    """

    name: str
    version: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """A figure and the range that it is expected in.

    Attributes
    ----------
    value, low, high : float
        The figure and the ends of its range.
    covers : str
        What the range holds, and what it leaves out.
    """

    value: float
    low: float
    high: float
    covers: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What goes with every answer.

    Attributes
    ----------
    assumptions : tuple of Assumption
        Inputs that the request left out.
    cautions : tuple of str
        Plain sentences that must stay with the result.
    method : tuple of Method
        Models used.
    """

    assumptions: tuple[Assumption, ...]
    cautions: tuple[str, ...]
    method: tuple[Method, ...]

    def _frame(self, rows: Iterator[Row], columns: list[str]) -> pd.DataFrame:
        return frame(rows, columns, attributes={"cautions": self.cautions})

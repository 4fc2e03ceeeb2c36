"""What several answers share."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from wattpair.frames import Figures, Row, frame

if TYPE_CHECKING:
    import pandas as pd

Verdict = Literal["ok", "caution", "fail"]
"""Outcome of a check."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """An input that the request left out, and what was taken for it.

    Attributes
    ----------
    name : str
        Path of the field in the request, without list indexes.
    value : object
        Value used; None where it follows from other fields.
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
class Range(Figures):
    """A figure and the range that it is expected in.

    Attributes
    ----------
    value, low, high : float
        The figure and the ends of its range.
    covers : str
        What the range covers, and what it leaves out.
    """

    value: float
    low: float
    high: float
    covers: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StationUsed:
    """A weather file of the service's operator.

    Attributes
    ----------
    name : str
        Name of the file.
    distance_km : float
        Distance from the site [km].
    height_difference_m : float
        Elevation of the station minus that of the site [m].
    """

    name: str
    distance_km: float
    height_difference_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClimateUsed:
    """Where the year's weather comes from.

    Attributes
    ----------
    kind, source : str
        Kind of weather, as in the request, and the same in plain words.
    elevation_m : float
        Elevation used for the site [m].
    level_error_share : float or None
        Standard error of its mean yearly irradiation, as a share, 0 to 1; None where unknown.
    station : StationUsed or None
        The file used; None without one.
    """

    kind: str  # any text, so that kinds of weather that this version does not know can be answered too
    source: str
    elevation_m: float
    level_error_share: float | None
    station: StationUsed | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignTemperatures(Figures):
    """Air temperatures to design for.

    Attributes
    ----------
    lowest_c, highest_c : float
        Lowest and highest expected air temperature [degC].
    lowest_source, highest_source : str
        Where each comes from and why.
    """

    lowest_c: float
    lowest_source: str
    highest_c: float
    highest_source: str


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

    def _frame(self, rows: Iterable[Row], columns: list[str], *, index: str | None = None) -> pd.DataFrame:
        return frame(rows, columns, index=index, attributes={"cautions": self.cautions})

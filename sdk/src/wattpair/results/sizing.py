"""The answer of `size_pairings`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wattpair.frames import Figures, names_of, row_of
from wattpair.results.shared import DesignTemperatures, Result, Verdict

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True)
class Check(Figures):
    """One electrical check.

    Attributes
    ----------
    name : str
        Name of the check.
    face : str or None
        Name of the face that it is for; None for the pairing.
    value : float
        Computed value, in `unit`.
    limit, margin : float or None
        Limit of the check, and the distance to it, positive on the safe side; None where there is no limit.
    unit : str
        Unit of value, limit and margin.
    verdict : {"ok", "caution", "fail"}
        Verdict.
    source, explanation : str
        Where value or limit comes from; what is compared and why, in plain words.
    """

    name: str
    face: str | None
    value: float
    limit: float | None
    unit: str
    margin: float | None
    verdict: Verdict
    source: str
    explanation: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PairingSizing:
    """The checks of one pairing.

    Attributes
    ----------
    microinverter : str
        Name of the microinverter.
    verdict : {"ok", "caution", "fail"}
        Worst verdict of the checks.
    checks : tuple of Check
        The checks, the most severe verdict first.
    """

    microinverter: str
    verdict: Verdict
    checks: tuple[Check, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SizingResult(Result):
    """Electrical checks of every pairing.

    Attributes
    ----------
    module : str
        Name of the module.
    place, edition : str
        Place whose rules were applied, and their edition.
    design_temperatures : DesignTemperatures
        Design temperatures of the checks.
    pairings : tuple of PairingSizing
        The pairings, in the order of the request.
    """

    module: str
    place: str
    edition: str
    design_temperatures: DesignTemperatures
    pairings: tuple[PairingSizing, ...]

    def to_frame(self) -> pd.DataFrame:
        """One row for each check: `microinverter`, then the fields of `Check`."""
        rows = ({"microinverter": p.microinverter} | row_of(check) for p in self.pairings for check in p.checks)
        return self._frame(rows, ["microinverter", *names_of(Check)])

"""The grid connection procedure, and what it requires."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseTotal:
    """Everything on one phase.

    Attributes
    ----------
    phase : int
        Phase, 1 to 3.
    unit_count : int
        Microinverters on it.
    current_a : float
        Rated AC current, summed without diversity [A].
    power_va : float
        Rated apparent power [VA].
    """

    phase: int
    unit_count: int
    current_a: float
    power_va: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Filing:
    """What must be sent, and when.

    Attributes
    ----------
    document : str
        Document to send.
    when : str
        When it is due.
    """

    document: str
    when: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ConnectionCheck:
    """What the connection has to keep.

    Attributes
    ----------
    name : str
        Name of the check.
    value : float
        Computed value, in `unit`.
    limit : float or None
        Its limit; None where the operator sets it or a figure is missing.
    unit : str
        Unit of value and limit.
    meets : bool or None
        Whether the limit is met; None where there is none.
    source : str
        Clause, and how the rule was obtained.
    explanation : str
        The same in words.
    """

    name: str
    value: float
    limit: float | None
    unit: str
    meets: bool | None
    source: str
    explanation: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Connection:
    """The grid connection procedure by the rules of the region.

    Attributes
    ----------
    place : str
        Country or area whose rules apply.
    edition : str
        Edition of the rules.
    phases : tuple of PhaseTotal
        Totals by phase.
    power_total_va : float
        Rated apparent power of all phases [VA].
    route : str
        Procedure that applies.
    reason : str
        Why it applies, and why others do not.
    filings : tuple of Filing
        Documents to send, and when.
    allows : str
        What the procedure allows.
    source : str
        Clause, and how the rule was obtained.
    checks : tuple of ConnectionCheck
        Further checks of the grid connection.
    """

    place: str
    edition: str
    phases: tuple[PhaseTotal, ...]
    power_total_va: float
    route: str
    reason: str
    filings: tuple[Filing, ...]
    allows: str
    source: str
    checks: tuple[ConnectionCheck, ...]

"""Cautions of results, because the work can hurt someone: each a sentence for one reader, at one task."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wattpair_service.engineering.sentences import Form, Value, Words, sentence

Reader = Literal["customer", "electrician", "office", "seller"]
"""Whom a caution is for: `electrician` orders, builds and tests, `office` plans, keeps the data in order and settles the papers
with network operator and authorities, `seller` keeps the price book: its cautions are for no customer."""
Task = Literal["order", "estimate", "roof", "dc", "ac", "connection", "commissioning"]
"""The work at which it counts."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution. `code` is stable; `text` says it."""

    code: str
    reader: Reader
    task: Task
    text: Words


@dataclass(frozen=True, slots=True)
class CautionForm:
    """A caution with slots; called with their values it gives the caution."""

    code: str
    reader: Reader
    task: Task
    form: Form

    def __call__(self, **values: Value) -> Caution:
        """The caution with these values."""
        return Caution(self.code, self.reader, self.task, self.form(**values))


def caution_form(code: str, reader: Reader, task: Task, *slots: str) -> CautionForm:
    """Declare a caution with slots."""
    return CautionForm(code, reader, task, sentence(f"caution.{code}", *slots))


def caution(code: str, reader: Reader, task: Task) -> Caution:
    """Declare a caution without slots: the caution itself."""
    return caution_form(code, reader, task)()


BUILT_IN_CLIMATE = caution("built_in_climate", "office", "estimate")
LOCAL_CODES = caution("local_codes", "electrician", "connection")
ISOLATION = caution("isolation", "electrician", "ac")
CONNECTORS = caution("connectors", "electrician", "dc")
CONNECTOR_MAKES = caution("connector_makes", "electrician", "dc")
DATASHEETS = caution("datasheets", "electrician", "order")
OUTAGE = caution("outage", "customer", "commissioning")
HEIGHT = caution("height", "electrician", "roof")
STRUCTURE = caution("structure", "electrician", "roof")
RESIDUAL_CURRENT = caution("residual_current", "electrician", "ac")
CONSENT = caution("consent", "customer", "commissioning")
RAPID_SHUTDOWN = caution("rapid_shutdown", "electrician", "dc")
TRUNK_LIMIT = caution("trunk_limit", "electrician", "ac")
YIELD = caution("yield", "customer", "estimate")
ELECTRICAL_CAUTIONS = (LOCAL_CODES, ISOLATION, CONNECTORS, CONNECTOR_MAKES, DATASHEETS)
ENERGY_CAUTIONS = (YIELD, LOCAL_CODES)
ORDER_CAUTIONS = (
    LOCAL_CODES,
    ISOLATION,
    CONNECTORS,
    CONNECTOR_MAKES,
    OUTAGE,
    HEIGHT,
    CONSENT,
    STRUCTURE,
    DATASHEETS,
)

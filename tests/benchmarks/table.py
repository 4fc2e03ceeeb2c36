"""What a run prints, and what it writes to RESULTS.md."""

from __future__ import annotations

import os
import platform
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.benchmarks.measuring import Row, figure

RESULTS = Path(__file__).with_name("RESULTS.md")
COLUMNS = ("what", "median (quartiles)", "target", "met", "made from")
MET = {True: "yes", False: "no", None: ""}


def machine() -> str:
    """When and on what kind of machine."""
    lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    names = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    return (
        f"{datetime.now(UTC):%Y-%m-%d}, {os.cpu_count()} cores of {names[0] if names else platform.machine()}, "
        f"Python {platform.python_version()}, load of the machine at the start {os.getloadavg()[0]:.1f}"
    )


def head(columns: Sequence[str]) -> str:
    """Of a Markdown table."""
    return f"| {' | '.join(columns)} |\n|{'-|' * len(columns)}"


def line(row: Row) -> str:
    """A row of the table that is printed."""
    return f"| {row.name} | {_value(row)} | {_target(row)} | {MET[row.met]} | {row.made_from} |"


def headlines(rows: Iterable[Row]) -> str:
    """The table of the headlines alone."""
    return "\n".join([head(COLUMNS[:3]), *(f"| {row.name} | {_value(row)} | {_target(row)} |" for row in rows if row.headline)])


def write(measured: str, rows: Iterable[Row]) -> None:
    """The headlines, for who reads the repository."""
    heading = "# How fast the service is\n\n`python -m tests.benchmarks --write` wrote this."
    RESULTS.write_text(f"{heading}\nMeasured: {measured}.\n\n{headlines(rows)}\n", encoding="utf-8")


def document(measured: str, rows: Iterable[Row]) -> dict[str, Any]:
    """The same for machines."""
    return {"measured": measured, "rows": [asdict(row) | {"met": row.met} for row in rows]}


def _target(row: Row) -> str:
    return "" if row.target is None else f"{row.target} {row.unit}"


def _value(row: Row) -> str:
    value = row.value
    quartiles = "" if value.low == value.high else f" ({figure(value.low)} to {figure(value.high)})"
    return f"{figure(value.median)} {row.unit}{quartiles}"

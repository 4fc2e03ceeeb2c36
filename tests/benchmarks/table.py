"""What a run prints."""

from __future__ import annotations

import os
import platform
from collections.abc import Iterable
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.benchmarks.measuring import Row, figure

HEADS = ("what", "median (quartiles)", "target", "met", "made from")
MET = {True: "yes", False: "no", None: ""}


def heading() -> str:
    """When and on what kind of machine."""
    now = datetime.now(UTC)
    load = os.getloadavg()[0]
    return (
        f"{now:%Y-%m-%d}, {os.cpu_count()} cores of {_processor()}, Python {platform.python_version()}, "
        f"load of the machine at the start {load:.1f}"
    )


def _processor() -> str:
    lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    names = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    return names[0] if names else platform.machine()


def lines(rows: Iterable[Row]) -> Iterable[str]:
    """A Markdown table, a line as soon as its row is there."""
    yield f"| {' | '.join(HEADS)} |"
    yield f"|{'-|' * len(HEADS)}"
    for row in rows:
        yield f"| {row.name} | {_value(row)} | {_asked(row)} | {MET[row.met]} | {row.made_from} |"


def short(rows: Iterable[Row]) -> Iterable[str]:
    """The headlines alone, for the README."""
    yield f"| {' | '.join(HEADS[:3])} |"
    yield "|-|-|-|"
    for row in rows:
        if row.headline:
            yield f"| {row.name} | {_value(row)} | {_asked(row)} |"


def _asked(row: Row) -> str:
    return "" if row.target is None else f"{row.target} {row.unit}"


def _value(row: Row) -> str:
    value = row.value
    if value.low == value.high:
        return f"{figure(value.median)} {row.unit}"
    return f"{figure(value.median)} {row.unit} ({figure(value.low)} to {figure(value.high)})"


def document(measured: str, rows: Iterable[Row]) -> dict[str, Any]:
    """The same for machines."""
    return {"measured": measured, "rows": [asdict(row) | {"met": row.met} for row in rows]}

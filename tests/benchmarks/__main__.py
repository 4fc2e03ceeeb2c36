"""`python -m tests.benchmarks [--json] [--only NAME...]`: how fast the service is, measured side by side in one run."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterator

from tests.benchmarks import against_pvlib, core, features, growth, hot_path, memory, requests_per_second, table, wrk
from tests.benchmarks.measuring import Row
from wattpair_service import allocator

BENCHMARKS: dict[str, Callable[[], Iterator[Row]]] = {
    "selection": against_pvlib.selection_rows,
    "minutes": against_pvlib.minute_rows,
    "core": core.rows,
    "growth": growth.rows,
    "hot-path": hot_path.rows,
    "whole-requests": features.request_rows,
    "spread": features.spread_rows,
    "design": features.design_rows,
    "requests": requests_per_second.rows,
    "memory": memory.rows,
}


def main() -> int:
    """Measure and print; a target that is missed is printed, not a failure."""
    parser = argparse.ArgumentParser(
        description="Benchmarks. All take some twenty minutes; the machine should have nothing else to do.",
    )
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("--only", nargs="+", choices=BENCHMARKS, metavar="NAME", help=f"of {', '.join(BENCHMARKS)}")
    options = parser.parse_args()
    if "requests" in (options.only or BENCHMARKS):
        try:
            wrk.installed()
        except RuntimeError as error:
            parser.error(f"{error}; or leave requests out with --only")
    allocator.settle()  # as the service does when it starts
    measured = table.heading()
    rows: list[Row] = []
    measuring = (row for name in options.only or BENCHMARKS for row in BENCHMARKS[name]())
    if options.json:
        print(json.dumps(table.document(measured, measuring), indent=2))
        return 0
    print(f"{measured}\n")
    for line in table.lines(_kept(measuring, rows)):
        print(line, flush=True)
    print("\nIn short:\n")
    print("\n".join(table.short(rows)))
    return 0


def _kept(rows: Iterator[Row], kept: list[Row]) -> Iterator[Row]:
    for row in rows:
        kept.append(row)
        yield row


if __name__ == "__main__":
    raise SystemExit(main())

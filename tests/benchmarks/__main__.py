"""`python -m tests.benchmarks [--json] [--only NAME...] [--write]`: how fast the service is, side by side in one run."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Iterator

from tests.benchmarks import (
    against_pvlib,
    core,
    features,
    growth,
    hot_path,
    many_roofs,
    memory,
    requests_per_second,
    shade,
    table,
    wrk,
)
from tests.benchmarks.measuring import Row
from tests.deployment import IMAGE_ENVIRONMENT

BENCHMARKS: dict[str, Callable[[], Iterator[Row]]] = {
    "selection": against_pvlib.selection_rows,
    "minutes": against_pvlib.minute_rows,
    "core": core.rows,
    "growth": growth.rows,
    "hot-path": hot_path.rows,
    "whole-requests": features.request_rows,
    "spread": features.spread_rows,
    "design": features.design_rows,
    "shade": shade.rows,
    "requests": requests_per_second.rows,
    "memory": memory.rows,
    "many-roofs": many_roofs.rows,
}


def _hand_out_memory_as_the_image_does() -> None:
    """From the first allocation on: begin anew with its environment."""
    if not IMAGE_ENVIRONMENT.items() <= os.environ.items():
        os.execve(sys.executable, sys.orig_argv, os.environ | IMAGE_ENVIRONMENT)


def main() -> int:
    """Measure and print; a target that is missed is printed, not a failure."""
    parser = argparse.ArgumentParser(
        description="Benchmarks. All take some twenty minutes; the machine should have nothing else to do.",
    )
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("--only", nargs="+", choices=BENCHMARKS, metavar="NAME", help=f"of {', '.join(BENCHMARKS)}")
    parser.add_argument("--write", action="store_true", help=f"write the headlines with their targets to {table.RESULTS.name}")
    options = parser.parse_args()
    if options.write and options.only:
        parser.error("--write needs all benchmarks, --only leaves some out")
    if "requests" in (options.only or BENCHMARKS):
        try:
            wrk.installed()
        except RuntimeError as error:
            parser.error(f"{error}; or leave requests out with --only")
    _hand_out_memory_as_the_image_does()
    measured = table.machine()
    rows: list[Row] = []
    if not options.json:
        print(f"{measured}\n\n{table.head(table.COLUMNS)}")
    for name in options.only or BENCHMARKS:
        for row in BENCHMARKS[name]():
            rows.append(row)
            if not options.json:
                print(table.line(row), flush=True)
    if options.json:
        print(json.dumps(table.document(measured, rows), indent=2))
    else:
        print(f"\nIn short:\n\n{table.headlines(rows)}")
    if options.write:
        table.write(measured, rows)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

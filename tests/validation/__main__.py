"""`python -m tests.validation [--json]`: the whole ledger; exits 1 when a check fails."""

from __future__ import annotations

import argparse
import json

from tests.validation import (
    climate_stations,
    cold_extremes,
    conversion,
    irradiance,
    irradiation_levels,
    measured_systems,
    module_list,
    money,
    roof_to_meter,
    sap,
    self_consumption,
    shade_electrical,
    shade_geometry,
    shade_year,
    strings,
    subhourly,
    temperature,
    trade_case,
    voltage,
    yields,
)
from tests.validation.ledger import table

CHAPTERS = (
    irradiance, sap, climate_stations, irradiation_levels, cold_extremes, subhourly, temperature, module_list, voltage,
    conversion, yields, shade_geometry, shade_electrical, shade_year, strings, trade_case, measured_systems, self_consumption,
    money, roof_to_meter,
)  # fmt: skip
"""In the order of the way of a request."""


def main() -> int:
    parser = argparse.ArgumentParser(description="Checks of the service against published figures.")
    parser.add_argument("--json", action="store_true", help="print JSON")
    options = parser.parse_args()
    checks = [check for chapter in CHAPTERS for check in chapter.checks()]
    print(json.dumps([check.row() for check in checks], indent=2) if options.json else "\n".join(table(checks)))
    return 0 if all(check.ok for check in checks) else 1


raise SystemExit(main())

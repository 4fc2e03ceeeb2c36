"""`python -m tests.validation [--json]`: the whole ledger; exits 1 when a check fails."""

from __future__ import annotations

import argparse
import json

from tests.validation.everything import all_checks
from tests.validation.ledger import table


def main() -> int:
    parser = argparse.ArgumentParser(description="Checks of the service against published figures.")
    parser.add_argument("--json", action="store_true", help="print JSON")
    options = parser.parse_args()
    checks = list(all_checks())
    if options.json:
        print(json.dumps([check.row() for check in checks], indent=2))
    else:
        print("\n".join(table(checks)))
    return 0 if all(check.ok for check in checks) else 1


raise SystemExit(main())

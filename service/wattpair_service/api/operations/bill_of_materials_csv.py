"""The bill's lines as CSV (RFC 4180): one header row, CRLF, quotes where needed.

A text that begins with = + - @, a tab or a return gets an apostrophe before it, so that no spreadsheet runs it as a formula.
"""

from __future__ import annotations

import csv
import io
from typing import Any

LINE_COLUMNS = ("role", "specification", "quantity", "unit", "scope", "belongs_to", "derivation")
PRICE_COLUMNS = ("part_number", "unit_price", "net")
MEDIA_TYPE = "text/csv"
CONTENT_TYPE = "text/csv; charset=utf-8; header=present"


FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def _cell(value: Any) -> Any:
    """The value as a cell; a text that begins like a formula gets an apostrophe before it."""
    if value is None:
        return ""
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA_STARTS) else value


def as_csv(bill: dict[str, Any] | None) -> str:
    """The lines of a bill with their prices, in its order; null is an empty cell. Without a bill there are no lines."""
    lines, prices = (bill["lines"], bill["prices"]) if bill is not None else ([], None)
    priced = prices["lines"] if prices is not None else [{}] * len(lines)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(("line", *LINE_COLUMNS, *PRICE_COLUMNS, "currency"))
    for number, (line, price) in enumerate(zip(lines, priced, strict=True), start=1):
        cells = [line[name] for name in LINE_COLUMNS] + [price.get(name) for name in PRICE_COLUMNS]
        writer.writerow([number, *map(_cell, cells), prices["currency"] if prices else ""])
    return text.getvalue()

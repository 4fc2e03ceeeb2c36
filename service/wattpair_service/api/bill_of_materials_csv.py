"""The bill's lines as CSV (RFC 4180): one header row, CRLF, quotes where a text needs them."""

from __future__ import annotations

import csv
import io
from typing import Any

LINE_COLUMNS = ("role", "specification", "quantity", "unit", "scope", "belongs_to", "derivation")
PRICE_COLUMNS = ("part_number", "unit_price", "net")
MEDIA_TYPE = "text/csv"
CONTENT_TYPE = "text/csv; charset=utf-8; header=present"


def as_csv(answer: dict[str, Any]) -> str:
    """The lines of an answer with their prices, in the order of the answer; what is null is empty."""
    prices = answer["prices"]
    priced = prices["lines"] if prices is not None else [{}] * len(answer["lines"])
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(("line", *LINE_COLUMNS, *PRICE_COLUMNS, "currency"))
    for number, (line, price) in enumerate(zip(answer["lines"], priced, strict=True), start=1):
        cells = [line[name] for name in LINE_COLUMNS] + [price.get(name) for name in PRICE_COLUMNS]
        writer.writerow([number, *("" if cell is None else cell for cell in cells), prices["currency"] if prices else ""])
    return text.getvalue()

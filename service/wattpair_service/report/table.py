"""A table of the sheet: a caption, the heads of its columns, and its rows, all in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

RowKind = Literal["", "chosen", "failing", "sum"]


@dataclass(frozen=True, slots=True)
class Row:
    """Cells of a row, and what sets it apart."""

    cells: tuple[str, ...]
    kind: RowKind = ""


@dataclass(frozen=True, slots=True)
class Table:
    """Columns whose name stands in `numeric` hold figures, which stand at the right. The first column names the row."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    numeric: tuple[bool, ...]

    @classmethod
    def of(cls, caption: str, columns: Iterable[tuple[str, bool]], rows: Iterable[Row]) -> Table:
        """A table from pairs of a column's head and whether it holds figures."""
        heads, numeric = zip(*columns, strict=True)
        return cls(caption, heads, tuple(rows), numeric)

"""Reads a table of roofs: a row for each, whose columns are arguments of a call (see `wattpair.roofs.arguments`).

The cells of a CSV file are texts, and each is read by the type of its argument: a cell that cannot be is a fault of its row
alone, and a name such as "0017" or "NA" stays what it is. The file is UTF-8, with commas between cells, points as decimal
marks, and double quotes around texts that hold a comma, a quote or an end of line. A cell of an argument that is a list or an
object holds it as JSON. Parquet has types of its own, and may hold lists and structs, such as a column "faces".

An empty cell is an argument that is not given. A row without any filled cell is no row.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from wattpair import codec
from wattpair.call import Call
from wattpair.roofs.arguments import Column, check_together, checked_common, joined

SUFFIXES = (".csv", ".parquet")
SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "bars"}


@dataclass(frozen=True, slots=True)
class RoofsTable:
    """A table of roofs.

    Attributes
    ----------
    head : pandas.DataFrame
        The columns that are no arguments: identity, and what is kept.
    rows : list
        For each row the arguments of its call, or the error that says why there are none.
    """

    head: pd.DataFrame
    rows: list[dict[str, Any] | ValueError]


@dataclass(frozen=True, slots=True)
class _Cells:
    """A table as it was read: None is an empty cell; a row of another length than the head is a fault of its own."""

    names: list[str]
    rows: list[list[Any]]
    are_texts: bool


def checked_path(given: object, argument: str) -> Path:
    """The path of a table; raises TypeError or ValueError where it is none."""
    if not isinstance(given, (str, Path)):
        raise TypeError(f"{argument}: {codec.shown(given)} was given; allowed is a path")
    path = Path(given)
    if path.suffix not in SUFFIXES:
        raise ValueError(f"{argument}: {path} was given; allowed is a file that ends in .csv or .parquet")
    return path


def read(
    roofs: Path | str, call: Call, common: Mapping[str, Any] | None, identity: str, keep: Sequence[str] = ()
) -> RoofsTable:
    """Read a table of roofs.

    Parameters
    ----------
    roofs : path
        The file.
    call : Call
        The call that each row has arguments of.
    common : mapping or None
        Arguments that all rows share.
    identity : str
        Column whose values tell the rows apart.
    keep : sequence of str
        Further columns that are no arguments.

    Returns
    -------
    RoofsTable
        What is kept of each row, and its arguments.

    Raises
    ------
    ValueError
        The file cannot be read as a table, or its columns are not those of the call.
    TypeError
        The path, or an argument of `common`, is of a wrong type.
    """
    shared = checked_common(common, call)
    path = checked_path(roofs, "roofs")
    try:
        cells = _of_csv(path) if path.suffix == ".csv" else _of_parquet(path)
    except OSError as error:
        raise ValueError(f"roofs: {path} cannot be read: {error.strerror or error}") from error
    others = list(dict.fromkeys([identity, *keep]))
    for name in others:
        if name not in cells.names:
            raise ValueError(f"roofs: {path} has no column {name!r}; it has {', '.join(cells.names)}")
    columns = [None if name in others else Column.of(name, call) for name in cells.names]
    check_together([column for column in columns if column is not None], shared, call)
    head = _head(cells, others)
    _check_identities(head[identity])
    return RoofsTable(head, [_arguments(cells, row, columns, shared, call) for row in cells.rows])


def _of_csv(path: Path) -> _Cells:
    lines = _lines_of_csv(path)
    if not lines:
        raise ValueError(f"roofs: {path} is empty; allowed is a line of column names, and a line for each roof")
    head = [name.strip() for name in lines[0]]
    names = _without_empty_end(head, 0)
    for separator, words in SEPARATORS.items():
        if len(names) == 1 and separator in names[0]:
            raise ValueError(
                f"roofs: {path} has {words} between its cells; allowed are commas, with a point as decimal mark (35.5)"
            )
    for place, name in enumerate(names):
        if not name or name in names[:place]:
            fault = f"column {place + 1} has no name" if not name else f"column {name!r} stands there twice"
            raise ValueError(f"roofs: {path}: {fault}; allowed is a name of its own for each column")
    rows: list[list[Any]] = [[cell if cell.strip() else None for cell in line] for line in lines[1:]]
    # No other row is shortened: a decimal comma may have pushed its cells aside.
    rows = [_without_empty_end(row, len(names)) if len(row) == len(head) else row for row in rows]
    return _Cells(names, rows, are_texts=True)


def _lines_of_csv(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        reader = csv.reader(file, strict=True)
        try:
            return [line for line in reader if any(map(str.strip, line))]
        except csv.Error as error:
            raise ValueError(f"roofs: {path} cannot be read as CSV at line {reader.line_num}: {error}") from error
        except UnicodeDecodeError as error:
            raise ValueError(
                f"roofs: {path} is not UTF-8; save it with this encoding (spreadsheets call it CSV UTF-8)"
            ) from error


def _without_empty_end(cells: list[Any], least: int) -> list[Any]:
    """A line without the empty columns that some spreadsheets write behind the last."""
    while len(cells) > least and not cells[-1]:
        cells = cells[:-1]
    return cells


def _of_parquet(path: Path) -> _Cells:
    try:
        table = pd.read_parquet(path).convert_dtypes()
    except ValueError as error:
        raise ValueError(f"roofs: {path} cannot be read as Parquet: {error}") from error
    rows = [[_plain(cell) for cell in row] for row in table.itertuples(index=False, name=None)]
    return _Cells([str(name) for name in table.columns], [row for row in rows if row.count(None) < len(row)], are_texts=False)


def _plain(cell: Any) -> Any:
    """A cell's value without the types of numpy and pandas; None where it is empty."""
    if isinstance(cell, dict):
        return {name: inner for name, each in cell.items() if (inner := _plain(each)) is not None}
    if hasattr(cell, "tolist") and getattr(cell, "ndim", 0) > 0:
        return [_plain(each) for each in cell]
    if isinstance(cell, list):
        return [_plain(each) for each in cell]
    if cell is None or cell is pd.NA or cell != cell:
        return None
    return cell.item() if hasattr(cell, "item") else cell


def _head(cells: _Cells, names: Sequence[str]) -> pd.DataFrame:
    places = {name: cells.names.index(name) for name in names}
    kept = {
        name: pd.Series([row[place] if place < len(row) else None for row in cells.rows], dtype="object")
        for name, place in places.items()
    }
    return pd.DataFrame(kept).convert_dtypes()


def _check_identities(values: pd.Series[Any]) -> None:
    seen: dict[Any, int] = {}
    for row, value in enumerate(values, start=1):
        if pd.isna(value):
            fault = f"is empty in row {row} below the head"
        elif value in seen:
            fault = f"has {value!r} in row {seen[value]} below the head and again in row {row}"
        else:
            seen[value] = row
            continue
        raise ValueError(f"roofs: column {values.name!r} {fault}; allowed is a value of its own in each row")


def _arguments(
    cells: _Cells, row: Sequence[Any], columns: Sequence[Column | None], common: Mapping[str, Any], call: Call
) -> dict[str, Any] | ValueError:
    """The arguments of a row's call, or all that is wrong with its cells."""
    if len(row) != len(columns):
        return ValueError(
            f"the row has {len(row)} cells, where the head has {len(columns)}; allowed is a comma between cells, "
            "quotes around a text that holds one, and a point as decimal mark"
        )
    filled, faults = [], []
    for column, cell in zip(columns, row, strict=True):
        if column is not None and cell is not None:
            try:
                filled.append((column, column.value_of(cell) if cells.are_texts else cell))
            except ValueError as error:
                faults.append(f"column {column.name!r}: {error}")
    if faults:
        return ValueError("\n".join(faults))
    try:
        arguments = joined(common, filled)
    except ValueError as error:
        return error
    missing = [name for name in call.needed if name not in arguments]
    return ValueError("\n".join(_missing(missing, columns))) if missing else arguments


def _missing(needed: Sequence[str], columns: Sequence[Column | None]) -> Iterator[str]:
    """A fault for each argument that a row has only empty cells for."""
    for name in needed:
        empty = ", ".join(repr(column.name) for column in columns if column is not None and column.steps[0] == name)
        yield f"nothing was given for {name}, which is needed; allowed is a value in one or more of the columns {empty}"

"""Tables of roofs and of results, as `wattpair.portfolio` reads and writes them.

A column of roofs is an argument as Python would write it: "site.latitude_deg", "faces[0].module_count". Empty cells are left
out. A column of results is a field of the result, written likewise. Parquet may hold lists and structs, such as a column
"faces".
"""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from wattpair.call import Call
from wattpair.many import Outcome

Columns = Mapping[str, object]


def checked_target(path: Path) -> Path:
    """The path of a table to write; raises ValueError where it cannot be one."""
    _check_suffix(path, "results")
    if not path.parent.is_dir():
        raise ValueError(f"results: {path} was given; allowed is a file in a folder that is there")
    if path.is_dir() or not os.access(path.parent, os.W_OK):
        raise ValueError(f"results: {path} was given; allowed is a file in a folder that can be written to")
    return path


def _check_suffix(path: Path, argument: str) -> None:
    if path.suffix not in (".csv", ".parquet"):
        raise ValueError(f"{argument}: {path} was given; allowed is a file that ends in .csv or .parquet")


def read(path: Path, identity: str, others: Sequence[str], call: Call[..., Any]) -> pd.DataFrame:
    """A table of roofs with a column of identities and `others`, whose further columns are arguments of a call."""
    _check_suffix(path, "roofs")
    texts: dict[Any, Any] = dict.fromkeys(others, "string")
    table = pd.read_csv(path, dtype=texts) if path.suffix == ".csv" else pd.read_parquet(path)
    absent = [name for name in others if name not in table]
    if absent:
        raise ValueError(f"roofs: {path} has no column {absent[0]!r}; it has {', '.join(map(str, table.columns))}")
    bad = table[identity].isna() | table[identity].duplicated()
    if bad.any():
        raise ValueError(
            f"roofs: column {identity!r} must have a value of its own in each row, unlike row {int(bad.argmax()) + 1}"
        )
    for column in (each for each in table.columns if each not in others):
        step = _steps(str(column))[0]
        if step not in call.signature.parameters:
            raise ValueError(
                f"roofs: column {column!r} is no argument of {call.name}; name it in `keep`, or use one of "
                f"{', '.join(call.signature.parameters)}"
            )
    return table.convert_dtypes()


def _steps(column: str) -> list[str | int]:
    """A column's path in steps: "faces[0].name" is "faces", 0, "name"."""
    if not re.fullmatch(r"\w+(\[\d+\]|\.\w+)*", column):
        raise ValueError(f'roofs: column {column!r} is no path of an argument, such as "site.latitude_deg" or "faces[0].name"')
    return [int(step) if step.isdigit() else step for step in re.findall(r"\w+", column)]


def rows(table: pd.DataFrame) -> Iterator[dict[str, Any]]:
    """Each row by its columns."""
    for values in table.itertuples(index=False, name=None):
        yield dict(zip(map(str, table.columns), values, strict=True))


def nested(row: Mapping[str, Any], without: set[str]) -> dict[str, Any]:
    """A row as arguments, without its empty cells."""
    root: dict[str | int, Any] = {}
    for column, cell in row.items():
        value = None if column in without else _plain(cell)
        if value is None:
            continue
        *way, last = _steps(column)
        place = root
        for step in way:
            place = place.setdefault(step, {})
            if not isinstance(place, dict):
                raise ValueError(f"roofs: column {column!r} lies within another column")
        if last in place:
            raise ValueError(f"roofs: column {column!r} lies around another column")
        place[last] = value
    return {str(name): _lists(value) for name, value in root.items()}


def _lists(value: Any) -> Any:
    """Mappings by place as lists: a roof may leave out whole items."""
    if not isinstance(value, dict):
        return value
    if value and all(isinstance(key, int) for key in value):
        return [_lists(value[key]) for key in sorted(value)]
    return {key: _lists(inner) for key, inner in value.items()}


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


def scalars(result: Any) -> dict[str, object]:
    """The fields of a result that are no lists, by their path."""
    return dict(_walk(result, ""))


def _walk(value: Any, path: str) -> Iterator[tuple[str, object]]:
    if is_dataclass(value):
        for each in fields(value):
            yield from _walk(getattr(value, each.name), f"{path}.{each.name}" if path else each.name)
    elif not isinstance(value, (tuple, list, Mapping)):
        yield path, value


def results_table(head: pd.DataFrame, outcomes: list[Outcome[Any]], columns: Callable[[Any], Columns]) -> pd.DataFrame:
    """The columns of `head`, with what came of each of its rows."""
    found = [
        _failed(outcome.error) if outcome.error is not None else _columns_of(outcome.result, columns) for outcome in outcomes
    ]
    made = pd.DataFrame(found, index=head.index, columns=None if found else ["succeeded", "error"])
    double = made.columns.intersection(head.columns)
    if len(double):
        raise ValueError(f"columns: {double[0]!r} stands in the table already; let `columns` name it otherwise")
    return pd.concat([head, made], axis="columns")


def _failed(error: Exception) -> dict[str, object]:
    return {"succeeded": False, "error": f"{type(error).__name__}: {error}"}


def _columns_of(result: Any, columns: Callable[[Any], Columns]) -> dict[str, object]:
    """A row; a fault of the user's own `columns` stays in it, so that no other roof's result is lost."""
    try:
        return {"succeeded": True, "error": None, **columns(result)}
    except Exception as error:
        failed = _failed(error)
        return failed | {"error": f"columns: {failed['error']}"}


def write(table: pd.DataFrame, path: Path) -> None:
    """Write beside the place and move there, so that nobody finds half a table."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    os.close(handle)
    beside = Path(name)
    try:
        if path.suffix == ".csv":
            table.to_csv(beside, index=False)
        else:
            table.to_parquet(beside, index=False)
        mask = os.umask(0)
        os.umask(mask)
        beside.chmod(0o666 & ~mask)
        beside.replace(path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise

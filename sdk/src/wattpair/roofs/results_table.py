"""Makes and writes a table of results: a row for each roof, in the order of the roofs.

A row has the roof's identity and what is kept of it; `succeeded`; `error`, which says why it did not; and the columns of its
result, each a field written as a path, such as "bill_of_materials.unit_count".
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import suppress
from functools import reduce
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import msgspec
import pandas as pd
from pandas.api.types import infer_dtype

from wattpair import codec
from wattpair.roofs.many import Outcome
from wattpair.roofs.roofs_table import checked_path

Columns = Mapping[str, object]
OUTCOME = ("succeeded", "error")
CAUTIONS = "cautions"


def checked_target(results: Path | str, *others: Path | str | None) -> Path:
    """The path of a table to write, which is none of the others; raises TypeError or ValueError where it cannot be written."""
    path = checked_path(results, "results")
    if any(other is not None and path.resolve() == Path(other).resolve() for other in others):
        raise ValueError(f"results: {path} is given for something else too; allowed is a file of its own")
    if path.is_dir() or (path.exists() and not path.stat().st_mode & 0o222):
        raise ValueError(f"results: {path} is a folder or protected against writing; allowed is a file that may be replaced")
    try:
        beside = _beside(path)
        beside.touch()
        beside.unlink()
    except OSError as error:
        raise ValueError(f"results: {path} cannot be written: {error.strerror}; allowed is a file that can be") from error
    return path


def column_names(kind: Any) -> Iterator[str]:
    """The columns of a result of a class: all its fields that are no lists, by their path, and its cautions."""
    for name, hint in codec.hints_of(kind).items():
        (inner, *_) = codec.kinds_of(hint)
        if isinstance(inner, type) and issubclass(inner, msgspec.Struct):
            yield from (f"{name}.{path}" for path in column_names(inner) if path != CAUTIONS)
        elif name == CAUTIONS or inner not in (Collection, Mapping):
            yield name


def columns_of(names: Iterable[str], result: Any) -> dict[str, object]:
    """What a result has in columns of these names."""
    found = {name: reduce(lambda part, step: getattr(part, step, None), name.split("."), result) for name in names}
    return found | ({CAUTIONS: "\n".join(each.text for each in result.cautions)} if CAUTIONS in found else {})


def row_of(
    outcome: Outcome[Any], columns: Callable[[Any], Columns], taken: Collection[str]
) -> tuple[dict[str, object], Exception | None]:
    """The row of a roof, and its error if there is one; raises ValueError where a column of the result has a taken name."""
    error, cells = outcome.error, {}
    if error is None:
        try:
            cells = {str(name): value for name, value in dict(columns(outcome.result)).items()}
        except Exception as fault:
            # It stays in its row, so that no other roof's result is lost.
            error = ValueError(f"columns: {type(fault).__name__}: {fault}")
            error.__cause__ = fault
    for name in cells:
        if name in taken:
            raise ValueError(f"columns: {name!r} stands in the table already; allowed is another name")
    told = None if error is None else f"{type(error).__name__}: {error}"
    return {"succeeded": error is None, "error": told, **cells}, error


def table_of(head: pd.DataFrame, rows: Collection[Columns], names: Iterable[str] = ()) -> pd.DataFrame:
    """The whole table, with columns of these names even where every roof failed."""
    whole = dict.fromkeys([*OUTCOME, *names, *(name for row in rows for name in row)])
    made = {name: _column([row.get(name) for row in rows]) for name in whole}
    return pd.concat([head, pd.DataFrame(made, index=head.index)], axis="columns")


def _column(values: Iterable[object]) -> pd.Series[Any]:
    """A column; whole numbers stay whole beside empty cells; texts, where Parquet does not take its values together."""
    cells = pd.Series([codec.of_python(value) for value in values], dtype="object")
    kind = infer_dtype(cells)
    if kind not in ("mixed", "mixed-integer"):
        # What Parquet does not take, such as a number that is too large for it, is written as text.
        with suppress(ValueError, TypeError, NotImplementedError, OverflowError):
            whole = kind == "integer"
            column = cells.astype("Int64") if whole else cells.convert_dtypes(convert_integer=False, convert_floating=False)
            column.to_frame("").to_parquet(BytesIO())
            return column
    return cells.map(lambda value: str(value).encode(errors="replace").decode(), na_action="ignore").astype("string")


def write(table: pd.DataFrame, path: Path) -> None:
    """Write beside the path and move there, so that nobody finds half a table."""
    beside = _beside(path)
    try:
        save = table.to_csv if path.suffix == ".csv" else table.to_parquet
        save(beside, index=False)
        beside.replace(path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise


def _beside(path: Path) -> Path:
    return path.with_name(f".{path.name}.{uuid4().hex}")

"""Makes and writes a table of results: a row for each roof, in the order of the roofs.

A row has the roof's identity and what is kept of it; `succeeded`; `error`, which says why it did not; and the columns of its
result, each a field written as a path, such as "bill_of_materials.unit_count".
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from numbers import Real
from pathlib import Path
from types import NoneType
from typing import Any, get_origin, get_type_hints

import msgspec
import pandas as pd

from wattpair import codec
from wattpair.roofs.roofs_table import checked_path

Columns = Mapping[str, object]
OUTCOME = ("succeeded", "error")
CAUTIONS = "cautions"
KINDS: tuple[type, ...] = (bool, str, Real, Decimal, datetime, date)
"""What a cell may be; one for all cells of a column."""
WORDS = "a text, a number, true or false, a date, or None"


def checked_target(results: Path | str, *others: Path | str | None) -> Path:
    """The path of a table to write, which is none of the others; raises TypeError or ValueError where it cannot be written."""
    path = checked_path(results, "results")
    if any(other is not None and path.resolve() == Path(other).resolve() for other in others):
        raise ValueError(f"results: {path} is given for something else too; allowed is a file of its own")
    if not path.parent.is_dir():
        raise ValueError(f"results: {path} was given; allowed is a file in a folder that is there")
    if path.is_dir():
        raise ValueError(f"results: {path} is a folder; allowed is a file")
    if path.exists() and not path.stat().st_mode & 0o222:
        raise ValueError(f"results: {path} is protected against writing; allowed is a file that may be replaced")
    try:
        _file_beside(path).unlink()
    except OSError as error:
        raise ValueError(f"results: {path} cannot be written: {error.strerror}; allowed is a file that can be") from error
    return path


def columns_of(kind: Any) -> Callable[[Any], Columns]:
    """What makes columns of a result of a class: all its fields that are no lists, the same ones for each, and its cautions."""
    paths = {name: name.split(".") for name in column_names(kind)}

    def make(result: Any) -> dict[str, object]:
        return {name: "\n".join(result.cautions) if name == CAUTIONS else _at(result, path) for name, path in paths.items()}

    return make


def column_names(kind: Any) -> list[str]:
    """The names of the columns that `columns_of` makes."""
    return [".".join(path) for path in _paths(kind)] + [CAUTIONS] * (CAUTIONS in kind.__struct_fields__)


def _paths(kind: Any) -> Iterator[tuple[str, ...]]:
    for name, hint in get_type_hints(kind).items():
        (inner, *_) = codec.types_of(hint)
        if isinstance(inner, type) and issubclass(inner, msgspec.Struct):
            yield from ((name, *way) for way in _paths(inner))
        elif get_origin(inner) not in (tuple, Mapping):
            yield (name,)


def _at(value: Any, path: list[str]) -> object:
    for name in path:
        value = None if value is None else getattr(value, name)
    found: object = value
    return found


class ResultsTable:
    """Gathers what came of the roofs, one after another.

    Parameters
    ----------
    head : pandas.DataFrame
        Identity, and what is kept, of each roof.
    identity : str
        The column of identities.
    columns : callable
        Makes the columns of a result.
    names : sequence of str
        Columns that the table has even where every roof failed.

    Attributes
    ----------
    failures : dict of str to Exception
        The errors by identity.
    """

    def __init__(self, head: pd.DataFrame, identity: str, columns: Callable[[Any], Columns], names: Sequence[str] = ()) -> None:
        self._head = head
        self._names = list(head[identity])
        self._columns = columns
        self._kinds: dict[str, type] = {}
        self._made = dict.fromkeys([*OUTCOME, *names])
        self._rows: list[dict[str, object]] = []
        self.failures: dict[str, Exception] = {}

    def add(self, result: Any, error: Exception | None) -> None:
        """Add what came of the next roof.

        Raises
        ------
        ValueError
            A column of the result is called as one of the table's others.
        """
        row: dict[str, object] = {}
        if error is None:
            try:
                row = self._checked(self._columns(result))
            except Exception as fault:
                # It stays in its row, so that no other roof's result is lost.
                error = ValueError(f"columns: {type(fault).__name__}: {fault}")
                error.__cause__ = fault
        for name in row:
            if name in self._head or name in OUTCOME:
                raise ValueError(f"columns: {name!r} stands in the table already; allowed is another name")
        if error is not None:
            self.failures[str(self._names[len(self._rows)])] = error
        told = None if error is None else f"{type(error).__name__}: {error}"
        self._rows.append({"succeeded": error is None, "error": told, **row})
        self._made.update(dict.fromkeys(row))

    def _checked(self, given: Columns) -> dict[str, object]:
        """A row whose cells can stand in the table: one that cannot be written would cost all roofs their results."""
        row = {name: codec.scalar(value) for name, value in dict(given).items()}
        kinds: dict[str, type] = {}
        for name, value in row.items():
            if not isinstance(name, str):
                raise TypeError(f"{codec.shown(name)} is the name of a column; allowed is a text")
            if value is not None:
                kinds[name] = _kind(name, value)
                if kinds[name] is not self._kinds.get(name, kinds[name]):
                    raise TypeError(f"{name!r} is {codec.shown(value)}, unlike in a row above; allowed is one kind in a column")
        self._kinds |= kinds
        return row

    def table(self) -> pd.DataFrame:
        """The whole table."""
        made = {name: _series([row.get(name) for row in self._rows]) for name in self._made}
        return pd.concat([self._head, pd.DataFrame(made, index=self._head.index)], axis="columns")


def _kind(name: str, value: object) -> type:
    kind = next((each for each in KINDS if isinstance(value, each)), None)
    if kind is None:
        raise TypeError(f"{name!r} is {codec.shown(value)}; allowed is {WORDS}")
    return kind


def _series(values: list[Any]) -> pd.Series[Any]:
    """A column, in which whole numbers stay whole beside empty cells."""
    whole = set(map(type, values)) == {int, NoneType}
    return pd.Series(values, dtype="Int64" if whole else None)


def write(table: pd.DataFrame, path: Path) -> None:
    """Write beside the place and move there, so that nobody finds half a table."""
    beside = _file_beside(path)
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


def _file_beside(path: Path) -> Path:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    os.close(handle)
    return Path(name)

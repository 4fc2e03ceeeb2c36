"""Reads a table of roofs: a row for each, whose columns are arguments of a call.

A column, such as "site.latitude_deg" or "faces[0].module_count", is a path through models whose types say what its cells are.
A row's cells are laid upon the arguments that are common to all rows: mappings and the numbered items of lists go together,
anything else replaces what is common. An empty cell is an argument that is not given. A row without any filled cell is no row.

A CSV file is UTF-8, with commas between cells, points as decimal marks, and double quotes around texts that hold a comma, a
quote or an end of line. Each text is read by the type of its argument, lists and objects as JSON: one that cannot be is a fault
of its row alone, and a name such as "0017" or " NA" stays what it is. Parquet has types of its own, and may hold lists and
structs, such as a column "faces"; what is null within them is not given.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from decimal import Decimal
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from types import NoneType
from typing import Any, Literal, NamedTuple, get_args

import msgspec
import pandas as pd

from wattpair import codec
from wattpair.call import Call
from wattpair.roofs.many import Unreadable

KIND = "kind"
"""The field that tells apart the models which an argument may be of."""
WORDS = {
    float: "a number with a point as decimal mark, such as 35.5",
    int: "a whole number",
    bool: "true or false",
    list: "a list as JSON, such as [1, 2]",
    dict: 'an object as JSON, such as {"tilt_deg": 35}',
}
"""What a cell can be that is no text."""
CELLS: dict[Any, Any] = {Decimal: str, Collection: list, Mapping: dict} | {kind: kind for kind in (Literal, str, *WORDS)}
"""What a cell is by the kind of its argument; an object for a model."""
NUMBERS = {
    float: re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?"),
    int: re.compile(r"[+-]?[0-9]{1,4000}(\.0*)?"),  # also 10.0, as data frames write whole numbers beside empty cells
}


class RoofsTable(NamedTuple):
    """A table of roofs: what is no argument, and for each row its arguments or why there are none."""

    head: pd.DataFrame
    rows: list[dict[str, Any] | Unreadable]


class _Column(NamedTuple):
    """A column that is an argument, or a part of one; its cells are str, words of a Literal, one of WORDS, or what they are."""

    name: str
    steps: tuple[str | int, ...]
    kind: Any

    def value_of(self, text: str) -> Any:
        """The value that a text stands for; raises ValueError for one that is none which the argument may be."""
        if self.kind in (str, Any):
            return text
        word = text.strip()
        if self.kind is Literal:
            return word
        with suppress(KeyError, msgspec.DecodeError):
            if self.kind is bool:
                return {"true": True, "false": False}[word.lower()]
            if self.kind in (list, dict):
                return codec.decode(word.encode(), self.kind)
            if NUMBERS[self.kind].fullmatch(word):
                value = int(word.partition(".")[0]) if self.kind is int else float(word)
                if abs(value) < math.inf:
                    return value
        raise ValueError(f"{codec.shortened(text)!r} was given; allowed is {WORDS[self.kind]}")


def checked_path(given: object, argument: str) -> Path:
    """The path of a table; raises TypeError or ValueError where it is none."""
    if not isinstance(given, (str, Path)):
        raise TypeError(f"{argument}: {codec.shown(given)} was given; allowed is a path")
    path = Path(given)
    if path.suffix not in (".csv", ".parquet"):
        raise ValueError(f"{argument}: {path} was given; allowed is a file that ends in .csv or .parquet")
    return path


def read(
    roofs: Path | str, call: Call, common: Mapping[str, Any] | None, identity: str, keep: Sequence[str] = ()
) -> RoofsTable:
    """Read a table of roofs, whose columns `identity` and `keep` are no arguments.

    Raises ValueError where the file is no such table, and TypeError where its path or a value of `common` is of a wrong type.
    """
    common = _checked_common({} if common is None else common, call)
    path = checked_path(roofs, "roofs")
    try:
        names, rows = _of_csv(path) if path.suffix == ".csv" else _of_parquet(path)
    except (OSError, ValueError) as error:
        raise ValueError(f"roofs: {path} cannot be read: {getattr(error, 'strerror', None) or error}") from error
    others = list(dict.fromkeys([identity, *keep]))
    for name in others:
        if name not in names:
            raise ValueError(f"roofs: {path} has no column {name!r}; it has {', '.join(names)}")
    try:
        columns = {index: _column(name, call) for index, name in enumerate(names) if name not in others}
        if path.suffix == ".parquet":
            columns = {index: column._replace(kind=Any) for index, column in columns.items()}
        _check_together(columns.values(), common, call)
    except ValueError as error:
        raise ValueError(f"roofs: {error}") from None
    kept = {name: [dict(enumerate(row)).get(names.index(name)) for row in rows] for name in others}
    head = pd.DataFrame(kept, dtype="object").convert_dtypes()
    seen: dict[Any, int] = {}
    for number, value in enumerate(head[identity], start=1):
        if pd.isna(value) or value in seen:
            fault = (
                f"has {value!r} in row {seen[value]} below the head, and again in"
                if value in seen
                else "is empty below the head, in"
            )
            raise ValueError(f"roofs: column {identity!r} {fault} row {number}; allowed is a value of its own in each row")
        seen[value] = number
    return RoofsTable(head, [_arguments(row, names, columns, common, call) for row in rows])


def _checked_common(common: Mapping[str, Any], call: Call) -> Mapping[str, Any]:
    if not isinstance(common, Mapping):
        raise TypeError(f"common: {codec.shown(common)} was given; allowed is a mapping of argument names")
    for name in common:
        if name not in call.arguments:
            raise ValueError(f"common: {name!r} is no argument of {call.name}; allowed are {', '.join(call.arguments)}")
    try:
        codec.encode(common, call.arguments)
    except (TypeError, ValueError) as error:
        raise type(error)(f"common.{error}") from None
    return common


def _of_csv(path: Path) -> tuple[list[str], list[list[Any]]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        reader = csv.reader(file, strict=True)
        try:
            lines = [line for line in reader if any(map(str.strip, line))]
        except csv.Error as error:
            raise ValueError(f"line {reader.line_num}: {error}") from error
        except UnicodeDecodeError as error:
            raise ValueError("it is not UTF-8; save it with this encoding (spreadsheets call it CSV UTF-8)") from error
    if not lines:
        raise ValueError("it is empty; allowed is a line of column names, and a line for each roof")
    head = [name.strip() for name in lines[0]]
    # Some spreadsheets write empty columns behind the last.
    width = max(count for count, name in enumerate(head, start=1) if name)
    names = head[:width]
    if width == 1 and (separator := re.search(r"[;\t|]", names[0])):
        raise ValueError(f"it has {separator[0]!r} between its cells; allowed are commas, with a point as decimal mark (35.5)")
    for name in names:
        if not name or names.count(name) > 1:
            fault = f"column {name!r} stands there twice" if name else "a column has no name"
            raise ValueError(f"{fault}; allowed is a name of its own for each column")
    rows = [[cell if cell.strip() else None for cell in line] for line in lines[1:]]
    # No other row is shortened: a decimal comma may have pushed its cells aside.
    return names, [row[:width] if len(row) == len(head) and not any(row[width:]) else row for row in rows]


def _of_parquet(path: Path) -> tuple[list[str], list[list[Any]]]:
    table = pd.read_parquet(path).convert_dtypes().dropna(how="all")
    # pandas has several kinds of empty cells.
    rows = table.astype("object").where(table.notna(), None).to_numpy().tolist()
    return [str(name) for name in table.columns], [[_given(cell) for cell in row] for row in rows]


def _given(cell: Any) -> Any:
    """A cell without the fields within it that are null."""
    cell = codec.of_python(cell)
    if isinstance(cell, dict):
        fields = {name: _given(value) for name, value in cell.items()}
        return {name: value for name, value in fields.items() if value is not None and value == value}  # NaN equals nothing
    return [_given(item) for item in cell] if isinstance(cell, list) else cell


def _column(name: str, call: Call) -> _Column:
    kinds = _kinds(call)
    path = re.sub(r"\[[0-9]{1,4}\]", "[0]", name)
    if path not in kinds:
        begun = [known for known in kinds if known.startswith(path)]
        known = ", ".join(begun[:3] or get_close_matches(path, kinds) or call.arguments)
        raise ValueError(f"column {name!r} is no argument of {call.name}; name it in `keep`, or use such as {known}")
    return _Column(name, tuple(int(step) if step.isdigit() else step for step in re.findall(r"\w+", name)), kinds[path])


@cache
def _kinds(call: Call) -> dict[str, Any]:
    """What the cells of each possible column are; items of lists have the number 0."""
    return {path: kind for name, hint in call.arguments.items() for path, kind in _paths(name, hint)}


def _paths(path: str, hint: Any) -> Iterator[tuple[str, Any]]:
    for kind, option in codec.kinds_of(hint).items():
        if kind is not NoneType:
            yield path, CELLS.get(kind, dict)
        if kind is Collection:
            yield from _paths(f"{path}[0]", *get_args(option))
        elif kind not in CELLS and kind is not NoneType:
            fields = codec.hints_of(kind) | ({KIND: Literal} if kind.__struct_config__.tag else {})
            for name, inner in fields.items():
                yield from _paths(f"{path}.{name}", inner)


def _check_together(columns: Iterable[_Column], common: Mapping[str, Any], call: Call) -> None:
    """Raise ValueError where columns contradict each other, or leave out what no row can do without."""
    for column in columns:
        for other in columns:
            if other is not column and other.steps[: len(column.steps)] == column.steps:
                raise ValueError(f"column {column.name!r} lies around another column, {other.name!r}")
    given = _joined(common, [(column, None) for column in columns])
    for name in call.needed:
        if name not in given:
            raise ValueError(f"no column, and nothing in `common`, gives {name!r}, which {call.name} needs")


def _arguments(
    row: Sequence[Any], names: Sequence[str], columns: Mapping[int, _Column], common: Mapping[str, Any], call: Call
) -> dict[str, Any] | Unreadable:
    """The arguments of a row's call, or all that is wrong with its cells."""
    if len(row) != len(names):
        return Unreadable(
            f"the row has {len(row)} cells, where the head has {len(names)}; allowed is a comma between cells, "
            "quotes around a text that holds one, and a point as decimal mark"
        )
    filled, faults = [], []
    for index, column in columns.items():
        if row[index] is not None:
            try:
                filled.append((column, column.value_of(row[index])))
            except ValueError as error:
                faults.append(f"column {column.name!r}: {error}")
    if faults:
        return Unreadable("\n".join(faults))
    try:
        arguments = _joined(common, filled)
    except ValueError as error:
        return Unreadable(str(error))
    for name in call.needed:
        if name not in arguments:
            empty = ", ".join(repr(column.name) for column in columns.values() if column.steps[0] == name)
            faults.append(f"nothing was given for {name}, which is needed; allowed is a value in a column of it: {empty}")
    return Unreadable("\n".join(faults)) if faults else arguments


def _joined(common: Mapping[str, Any], cells: Iterable[tuple[_Column, Any]]) -> dict[str, Any]:
    """Values of cells laid upon what is common; raises ValueError where a list has an item, but not the one before it."""
    arguments: dict[Any, Any] = dict(common)
    # Items of lists go by their numbers; of a model its kind goes first.
    for column, value in sorted(cells, key=lambda cell: [(step != KIND, step) for step in cell[0].steps]):
        (name, *steps) = column.steps
        arguments[name] = _laid_upon(arguments.get(name), steps, value, column.name)
    return arguments


def _laid_upon(base: Any, steps: Sequence[str | int], value: Any, column: str) -> Any:
    """What is common, with a value where the steps lead to."""
    if not steps and isinstance(value, dict):
        for name in sorted(value, key=lambda name: name != KIND):
            base = _laid_upon(base, [name], value[name], column)
        return base or {}
    if not steps:
        return value
    (step, *further) = steps
    if isinstance(step, int):
        items = [] if base is None else list(base)
        if step > len(items):
            before = f"nothing was given for [{len(items)}], which comes before it"
            raise ValueError(f"column {column!r}: {before}; allowed is a list without a gap")
        items[step : step + 1] = [_laid_upon(items[step] if step < len(items) else None, further, value, column)]
        return items
    fields = base or {}
    if isinstance(base, msgspec.Struct):
        fields = {name: each for name, each in codec.fields_of(base).items() if each is not None}
    if step == KIND and value not in (None, fields.get(KIND)):
        fields = {}  # another way to give the same thing, such as the weather, of which nothing of the first is left
    return {**fields, step: _laid_upon(fields.get(step), further, value, column)}

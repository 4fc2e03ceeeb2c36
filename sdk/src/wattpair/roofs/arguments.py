"""Columns of a table as arguments of a call: "site.latitude_deg", "faces[0].module_count".

A column is a path through the models, whose types say what its cells are. A row's cells are laid upon the arguments that are
common to all rows: mappings and the numbered items of lists go together, anything else replaces what is common.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import count
from typing import Any, get_args, get_origin, get_type_hints

import msgspec

from wattpair import codec
from wattpair.call import Call

_PATH = re.compile(r"\w+(\[\d{1,4}\]|\.\w+)*", re.ASCII)
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


@dataclass(frozen=True, slots=True)
class Column:
    """A column that is an argument, or a part of one.

    Attributes
    ----------
    name : str
        Its name, such as "faces[0].name".
    steps : tuple of str and int
        Its path, such as "faces", 0, "name".
    types : tuple
        What the argument may be.
    """

    name: str
    steps: tuple[str | int, ...]
    types: tuple[Any, ...]

    @classmethod
    def of(cls, name: str, call: Call) -> Column:
        """The column of this name; raises ValueError where the call has no such argument."""
        if not _PATH.fullmatch(name):
            raise ValueError(
                f'roofs: column {name!r} is no path of an argument, such as "site.latitude_deg" or "faces[0].name"'
            )
        steps: tuple[str | int, ...] = tuple(int(step) if step.isdigit() else step for step in re.findall(r"\w+", name))
        types: Iterable[Any] = ()
        place = ""
        inner: dict[str | int, tuple[Any, ...]] = {name: (hint,) for name, hint in call.arguments.items()}
        for step in steps:
            known = [f"{place}[{each}]" if isinstance(each, int) else f"{place}.{each}" for each in inner] or [place]
            types = [option for hint in inner.get(0 if isinstance(step, int) else step, ()) for option in codec.types_of(hint)]
            if not types:
                raise ValueError(
                    f"roofs: column {name!r} is no argument of {call.name}; name it in `keep`, or use one of "
                    f"{', '.join(each.removeprefix('.') for each in known)}"
                )
            place += f"[{step}]" if isinstance(step, int) else f".{step}"
            inner = _inner(types)
        return cls(name, steps, tuple(types))

    def value_of(self, text: str) -> Any:
        """The value that a cell of CSV stands for; raises ValueError where it stands for none that the argument may be."""
        kind = _kind(self.types)
        if kind is str:
            return text.strip()
        value = None
        try:
            is_json = kind in (list, dict)
            value = msgspec.json.decode(text, type=kind) if is_json else msgspec.convert(text.strip(), kind, strict=False)
        except (msgspec.DecodeError, RecursionError):
            pass
        if value is None or (kind is float and not math.isfinite(value)):
            raise ValueError(f"{codec.shortened(text)!r} was given; allowed is {WORDS[kind]}")
        return value


def _inner(types: Iterable[Any]) -> dict[str | int, tuple[Any, ...]]:
    """The hints of what lies one step within, by their names; by 0 where it is a list."""
    found: dict[str | int, tuple[Any, ...]] = {}
    for option in types:
        if get_origin(option) in (list, Sequence):
            found[0] = get_args(option)
        elif isinstance(option, type) and issubclass(option, msgspec.Struct):
            own = {**get_type_hints(option), **({KIND: str} if option.__struct_config__.tag else {})}
            found |= {name: (*found.get(name, ()), hint) for name, hint in own.items()}
    return found


def _kind(types: Iterable[Any]) -> Any:
    for option in types:
        origin = get_origin(option) or option
        if origin in (str, Decimal):
            return str
        if origin in (list, Sequence):
            return list
        if origin in WORDS:
            return origin
    return dict


def checked_common(common: Mapping[str, Any] | None, call: Call) -> Mapping[str, Any]:
    """The arguments that all rows share; raises TypeError or ValueError where they cannot be."""
    if common is None:
        return {}
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


def check_together(columns: Sequence[Column], common: Mapping[str, Any], call: Call) -> None:
    """Raise ValueError where columns contradict each other, or leave out what no row can do without."""
    for column in columns:
        for other in columns:
            if column is not other and other.steps[: len(column.steps)] == column.steps:
                raise ValueError(f"roofs: column {column.name!r} lies around another column, {other.name!r}")
    try:
        given = joined(common, [(column, None) for column in columns])
    except ValueError as error:
        raise ValueError(f"roofs: {error}") from None
    for name in call.needed:
        if name not in given:
            raise ValueError(f"roofs: no column, and nothing in `common`, gives {name!r}, which {call.name} needs")


def joined(common: Mapping[str, Any], cells: Iterable[tuple[Column, Any]]) -> dict[str, Any]:
    """The arguments of a call: the values of cells laid upon those that are common to all rows.

    Raises
    ------
    ValueError
        An item of a list is given, but not the one before it.
    """
    root: dict[str | int, Any] = {}
    names = []
    for column, value in cells:
        names.append(column.name)
        place = root
        for step in column.steps[:-1]:
            place = place.setdefault(step, {})
        place[column.steps[-1]] = value
    return {**common, **{str(name): _laid_upon(common.get(str(name)), over, str(name), names) for name, over in root.items()}}


def _laid_upon(base: Any, over: Any, place: str, names: Sequence[str]) -> Any:
    if not isinstance(over, dict):
        return over
    if over and all(isinstance(step, int) for step in over):
        return _items_laid_upon([] if base is None else list(base), over, place, names)
    under: Mapping[str, Any] = codec.plain(base) or {}
    if over.get(KIND) not in (None, under.get(KIND)):
        under = {}  # another way to give the same thing, such as the weather, of which nothing of the first is left
    return {**under, **{name: _laid_upon(under.get(name), inner, f"{place}.{name}", names) for name, inner in over.items()}}


def _items_laid_upon(items: list[Any], over: Mapping[int, Any], place: str, names: Sequence[str]) -> list[Any]:
    missing = next(index for index in count(len(items)) if index not in over)
    if beyond := [index for index in sorted(over) if index > missing]:
        later = ", ".join(repr(name) for name in names if name.startswith(f"{place}[{beyond[0]}]"))
        raise ValueError(f"nothing was given for {place}[{missing}], but for {later}; allowed is a list without a gap")
    for index in sorted(over):
        laid = _laid_upon(items[index] if index < len(items) else None, over[index], f"{place}[{index}]", names)
        items[index : index + 1] = [laid]
    return items

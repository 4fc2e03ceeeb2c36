"""Columns of a table as arguments of a call: "site.latitude_deg", "faces[0].module_count".

A column is a path through the input classes, whose types say what its cells are. A row's cells are laid upon the arguments that
are common to all rows: mappings and the numbered items of lists go together, anything else replaces what is common.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from itertools import count
from types import NoneType
from typing import Any, get_args, get_origin

from wattpair import codec
from wattpair.call import Call

_PATH = re.compile(r"\w+(\[\d{1,4}\]|\.\w+)*", re.ASCII)
_LISTS = (Sequence, Collection)
KIND = "kind"
"""The field that tells apart the classes which an argument may be of."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column that is an argument, or a part of one.

    Attributes
    ----------
    name : str
        Its name, such as "faces[0].name".
    steps : tuple of str and int
        Its path, such as "faces", 0, "name".
    options : tuple
        Type hints of the argument, of which a cell's value has one.
    """

    name: str
    steps: tuple[str | int, ...]
    options: tuple[Any, ...]

    @classmethod
    def of(cls, name: str, call: Call) -> Column:
        """The column of this name; raises ValueError where the call has no such argument."""
        if not _PATH.fullmatch(name):
            raise ValueError(
                f'roofs: column {name!r} is no path of an argument, such as "site.latitude_deg" or "faces[0].name"'
            )
        steps = tuple(int(step) if step.isdigit() else step for step in re.findall(r"\w+", name))
        hints = call.arguments
        known, options = list(hints), _without_none(hints.get(str(steps[0])))
        place = str(steps[0])
        for step in steps[1:]:
            if not options:
                break
            known = [inner for option in options for inner in _ways(option, place)] or [place]
            options = tuple(inner for option in options for inner in _within(option, step))
            place += f"[{step}]" if isinstance(step, int) else f".{step}"
        if not options:
            raise ValueError(
                f"roofs: column {name!r} is no argument of {call.name}; name it in `keep`, or use one of "
                f"{', '.join(dict.fromkeys(known))}"
            )
        return cls(name, steps, options)


def _without_none(hint: Any) -> tuple[Any, ...]:
    return tuple(option for option in codec.alternatives(hint) if option not in (None, NoneType))


def _within(option: Any, step: str | int) -> tuple[Any, ...]:
    """What stands one step within a type."""
    if isinstance(step, int):
        return _without_none(get_args(option)[0]) if get_origin(option) in _LISTS else ()
    return _without_none(codec.hints_of(option).get(step)) if _is_input(option) else ()


def _ways(option: Any, place: str) -> list[str]:
    """The steps that lead into a type, as columns write them."""
    if get_origin(option) in _LISTS:
        return [f"{place}[0]"]
    return [f"{place}.{name}" for name in codec.hints_of(option)] if _is_input(option) else []


def _is_input(option: Any) -> bool:
    return is_dataclass(option)


def checked_common(common: Mapping[str, Any] | None, call: Call) -> Mapping[str, Any]:
    """The arguments that all rows share; raises TypeError or ValueError where they cannot be."""
    if common is None:
        return {}
    if not isinstance(common, Mapping):
        raise TypeError(f"common: {codec.shown(common)} was given; allowed is a mapping of argument names")
    for name in common:
        if name not in call.arguments:
            raise ValueError(f"common: {name!r} is no argument of {call.name}; allowed are {', '.join(call.arguments)}")
    codec.encode_fields(common, call.arguments, "common")
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
    under: Mapping[str, Any] = base if isinstance(base, Mapping) else _fields_of(base)
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


def _fields_of(value: Any) -> dict[str, Any]:
    """An input class as a mapping of what it holds."""
    if value is None:
        return {}
    return {each.name: inner for each in fields(value) if (inner := getattr(value, each.name)) is not None}

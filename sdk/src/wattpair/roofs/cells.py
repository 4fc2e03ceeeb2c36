"""Cells of a CSV table as values, each by the type of the argument that its column is."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any, Literal, NoReturn, get_origin

Options = tuple[Any, ...]
"""Type hints of an argument, of which its value has one."""

SHOWN_LENGTH = 60
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_WHOLE_NUMBER = re.compile(r"[+-]?\d{1,300}(\.0*)?", re.ASCII)
_BOOLS = {"true": True, "false": False}


def value_of(text: str, options: Options) -> Any:
    """The value that a cell stands for.

    Parameters
    ----------
    text : str
        The cell, which is not empty.
    options : tuple
        What its argument may be.

    Returns
    -------
    object
        A text, truth value or number; a list or mapping where the cell holds one as JSON.

    Raises
    ------
    ValueError
        It stands for none of what the argument may be; the text says what was given and what is allowed.
    """
    kinds = {get_origin(option) or option for option in options}
    for kind, (_, read) in _SCALARS.items():
        if kind in kinds and (value := read(text)) is not None:
            return value
    structured = kinds - set(_SCALARS)
    if structured and isinstance(value := _json(text), list if structured & _LISTS else dict):
        return value
    raise ValueError(f"{shown(text)} was given; allowed is {_allowed(kinds)}")


def shown(text: str) -> str:
    """A cell as the text of an error quotes it."""
    return repr(text if len(text) <= SHOWN_LENGTH else text[: SHOWN_LENGTH - 3] + "...")


def _allowed(kinds: Collection[Any]) -> str:
    words = [words for kind, (words, _) in _SCALARS.items() if kind in kinds]
    if not words:
        words = ["a list as JSON, such as [1, 2]" if set(kinds) & _LISTS else 'an object as JSON, such as {"tilt_deg": 35}']
    return " or ".join(words)


def _number(text: str) -> float | None:
    stripped = text.strip()
    number = float(stripped) if _NUMBER.fullmatch(stripped) else math.inf
    return number if math.isfinite(number) else None


def _whole_number(text: str) -> int | None:
    """Also of 10.0, as spreadsheets and data frames write whole numbers of a column with empty cells."""
    stripped = text.strip()
    return int(stripped.partition(".")[0]) if _WHOLE_NUMBER.fullmatch(stripped) else None


def _json(text: str) -> Any:
    try:
        return json.loads(text, parse_constant=_refuse)
    except (ValueError, RecursionError):
        return None


def _refuse(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number of JSON")


_LISTS = {Collection, Sequence}
_SCALARS: Mapping[Any, tuple[str, Callable[[str], Any]]] = {
    str: ("a text", lambda text: text),
    # The service knows which words it takes, and names them.
    Literal: ("a word", str.strip),
    bool: ("true or false", lambda text: _BOOLS.get(text.strip().lower())),
    int: ("a whole number", _whole_number),
    float: ("a number with a point as decimal mark, such as 35.5", _number),
}
"""What a cell can be without JSON: in words, and what reads it, or gives None. A text takes every cell, so that it is first."""

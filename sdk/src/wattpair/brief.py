"""What a result shows of itself: enough to know it by, on a line or two, however much it holds."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from typing import Any

DEPTH = 2
ITEMS_MOST = 3
FIELDS_MOST = 9
"""Of what lies within a result; the result itself shows all of its fields."""
TEXT_LENGTH = 40
DIGITS = 6


def brief(result: object) -> str:
    """The `repr` of a result: its fields by name, with what is long or lies deep within it named by its class and number."""
    return _object(result, DEPTH)


def _object(value: Any, depth: int) -> str:
    shown = [f"{each.name}={_shown(getattr(value, each.name), depth - 1)}" for each in fields(value)]
    return f"{type(value).__name__}({', '.join(shown)})"


def _shown(value: Any, depth: int) -> str:
    if is_dataclass(value):
        is_short = depth > 0 and len(fields(value)) <= FIELDS_MOST
        return _object(value, depth) if is_short else f"<{type(value).__name__}>"
    if hasattr(value, "dtype"):
        return f"<{len(value)} numbers>"
    if isinstance(value, (tuple, list)) and value:
        items = [_shown(item, depth) for item in value[: ITEMS_MOST + 1]]
        if len(items) > ITEMS_MOST or items[0].startswith("<"):
            return f"<{len(value)} of {type(value[0]).__name__}>"
        return f"({', '.join(items)}{',' * (len(items) == 1)})"
    if isinstance(value, float):
        return repr(float(f"{value:.{DIGITS}g}"))
    if isinstance(value, str) and len(value) > TEXT_LENGTH:
        return repr(value[: TEXT_LENGTH - 3] + "...")
    return repr(value)

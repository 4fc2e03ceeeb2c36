"""What a result shows of itself: enough to know it by, on a line or two, however much it holds."""

from __future__ import annotations

from dataclasses import fields, is_dataclass

DEPTH = 2
ITEMS_MOST = 3
TEXT_LENGTH = 40


def brief(result: object) -> str:
    """The `repr` of a result: its fields by name, with long tuples and texts and what lies deep within it shortened."""
    return _shown(result, DEPTH)


def _shown(value: object, depth: int) -> str:
    if is_dataclass(value):
        name = type(value).__name__
        if depth == 0:
            return f"<{name}>"
        return f"{name}({', '.join(f'{each.name}={_shown(getattr(value, each.name), depth - 1)}' for each in fields(value))})"
    if isinstance(value, tuple) and value:
        if len(value) > ITEMS_MOST or (depth == 0 and not isinstance(value[0], (int, float, str))):
            return f"<{len(value)} of {type(value[0]).__name__}>"
        return f"({', '.join(_shown(item, depth) for item in value)}{',' * (len(value) == 1)})"
    if isinstance(value, str) and len(value) > TEXT_LENGTH:
        return repr(value[: TEXT_LENGTH - 3] + "...")
    return repr(value)

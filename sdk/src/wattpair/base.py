"""What all models have: they cannot be changed, and show themselves in short."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import msgspec

from wattpair import codec

if TYPE_CHECKING:
    import pandas as pd

DEPTH = 2
ITEMS_MOST = 3
FIELDS_MOST = 9
"""Of what lies within a model; the model itself shows all of its fields."""
TEXT_LENGTH = 40
DIGITS = 6


class Model(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Base class of all that is sent and answered."""

    def to_dict(self) -> dict[str, Any]:
        """The fields by their names, as values of JSON; decimals are texts."""
        fields: dict[str, Any] = msgspec.json.decode(codec.to_json(self))
        return fields

    def __repr__(self) -> str:
        return _shown_fields(self, DEPTH)


class Figures(Model, frozen=True, kw_only=True):
    """Base class of results that are plain figures under names."""

    def to_series(self) -> pd.Series[Any]:
        """The figures by their names as a pandas Series."""
        from wattpair.tables import pandas

        series: pd.Series[Any] = pandas().Series(msgspec.structs.asdict(self), name=type(self).__name__)
        return series


class FieldOfARequest(Model, frozen=True, kw_only=True):
    """Base class of what is said of a field."""

    pointer: str

    @property
    def argument(self) -> str:
        """The field as Python would write it, such as "faces[0].tilt_deg"; empty for the whole body."""
        # A step is unescaped by itself, ~1 before ~0: "~01" stands for "~1", and a "/" within a name divides nothing.
        steps = [step.replace("~1", "/").replace("~0", "~") for step in self.pointer.split("/")[1:]]
        return "".join(map(_as_python, steps)).removeprefix(".")


def _as_python(step: str) -> str:
    if step.isascii() and step.isdigit():
        return f"[{step}]"
    return f".{step}" if step.isidentifier() else f"[{json.dumps(step, ensure_ascii=False)}]"


def _shown_fields(model: msgspec.Struct, depth: int) -> str:
    shown = [f"{name}={_shown(getattr(model, name), depth - 1)}" for name in model.__struct_fields__]
    return f"{type(model).__name__}({', '.join(shown)})"


def _shown(value: Any, depth: int) -> str:
    if isinstance(value, Model):
        is_short = depth > 0 and len(value.__struct_fields__) <= FIELDS_MOST
        return _shown_fields(value, depth) if is_short else f"<{type(value).__name__}>"
    if getattr(value, "shape", ()):  # of numpy and pandas
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

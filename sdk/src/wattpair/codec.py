"""Arguments to JSON and answers to results. msgspec checks both against the models.

Of arguments only types are checked: values, and fields that this version does not know, are the service's to judge, which names
all of them at once. Answers are checked for everything that their models promise; fields that are new are ignored.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping
from decimal import Decimal
from types import NoneType, UnionType
from typing import TYPE_CHECKING, Annotated, Any, TypeAlias, TypeVar, Union, get_args, get_origin

import msgspec

T = TypeVar("T")
Fields: TypeAlias = Mapping[str, Any]
"""A plain mapping in place of one of the models, with the same keys."""

if TYPE_CHECKING:
    from typing import Literal as Literal

    OrFields: TypeAlias = T | Fields
    Numbers: TypeAlias = Collection[float]
    """Numbers in their order: a list, a tuple, a numpy array, a pandas Series."""
    DecimalOrText: TypeAlias = Decimal | str
else:
    # What a type checker is told of a model's fields is what callers may give; here is what that has become when it is checked.
    OrFields = Annotated[T, "or a mapping"]
    Numbers = list[float]
    DecimalOrText = Decimal

    class Literal:
        """A word of those that the contract lists: the service knows which it takes, and may come to know more."""

        def __class_getitem__(cls, _: object) -> type:
            return str


SHOWN_LENGTH = 60
KINDS = {
    "float": "a number",
    "int": "a whole number",
    "bool": "true or false",
    "str": "a text",
    "decimal": "a decimal",
    "array": "a sequence",
    "object": "a mapping or a model",
}
"""Types as msgspec names them, in words."""
_WRONG_TYPE = re.compile(r"Expected `([^`]+)`, got `[^`]+`(?: - at `\$(.*)`)?")


def shown(value: object) -> str:
    """A value and its type for an error's text, shortened."""
    if value is None:
        return "None"
    return f"{shortened(repr(value))} ({type(value).__name__})"


def shortened(text: str) -> str:
    """A text that is not too long for an error."""
    return text if len(text) <= SHOWN_LENGTH else text[: SHOWN_LENGTH - 3] + "..."


def encode(arguments: Mapping[str, Any], hints: Mapping[str, Any]) -> dict[str, Any]:
    """Arguments as they go into JSON; fields that are None are left out.

    Parameters
    ----------
    arguments : mapping
        Values by name: models, mappings, numbers and arrays of Python, numpy and pandas.
    hints : mapping
        What each is to be.

    Returns
    -------
    dict
        The arguments as values of JSON.

    Raises
    ------
    TypeError
        A value of a wrong type; the text names its place and what is allowed.
    ValueError
        A number that JSON cannot hold.
    """
    return {name: _encoded(name, value, hints[name]) for name, value in arguments.items() if value is not None}


def _encoded(name: str, value: Any, hint: Any) -> Any:
    try:
        given = msgspec.to_builtins(value, builtin_types=(Decimal,), str_keys=True, enc_hook=_unwrapped)
        checked = msgspec.convert(given, hint)
    except msgspec.ValidationError as error:
        if wrong := _WRONG_TYPE.match(str(error)):
            place = wrong[2] or ""
            allowed = " or ".join(KINDS.get(kind, kind) for kind in wrong[1].split(" | ") if kind != "null")
            raise TypeError(f"{name}{place}: {shown(_at(value, place))} was given; allowed is {allowed}") from None
        checked = None  # a fault of values, which the service names
    except TypeError as error:
        raise TypeError(f"{name}: {error}") from None
    except (OverflowError, ValueError):
        raise ValueError(f"{name}: {shown(value)} was given; allowed is a finite number") from None
    return _sent(given, checked, name)


def _unwrapped(value: Any) -> Any:
    """Numbers and arrays of numpy and pandas, known by their form alone: neither is imported here."""
    if hasattr(value, "tolist"):
        return value.tolist()
    if hasattr(value, "as_integer_ratio"):
        return float(value)
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, Collection):
        return list(value)
    raise TypeError(f"{shown(value)} was given; allowed is what JSON can hold")


def scalar(value: Any) -> Any:
    """A scalar of numpy as one of Python."""
    return value.item() if getattr(value, "shape", None) == () and hasattr(value, "item") else value


def _at(value: Any, place: str) -> Any:
    """What stands at a place such as "faces[0].tilt_deg"."""
    for name, index in re.findall(r"(\w+)|\[(\d+)\]", place):
        value = list(value)[int(index)] if index else value[name] if isinstance(value, Mapping) else getattr(value, name)
    return value


def _part(checked: Any, step: str | int) -> Any:
    """The checked counterpart of a part of what is sent; None where nothing is known of it."""
    if isinstance(step, int):
        return checked[step] if isinstance(checked, (list, tuple)) else None
    return checked.get(step) if isinstance(checked, dict) else getattr(checked, step, None)


def _sent(value: Any, checked: Any, place: str) -> Any:
    """A value as JSON holds it: a Decimal is a number where one is asked for, else a text that keeps each of its digits."""
    if isinstance(value, dict):
        return {name: _sent(each, _part(checked, name), f"{place}.{name}") for name, each in value.items() if each is not None}
    if isinstance(value, (list, tuple)):
        if set(map(type, value)) == {float} and all(map(math.isfinite, value)):
            return value
        return [_sent(each, _part(checked, index), f"{place}[{index}]") for index, each in enumerate(value)]
    if (isinstance(value, float) and not math.isfinite(value)) or (isinstance(value, Decimal) and not value.is_finite()):
        raise ValueError(f"{place}: {value} was given; allowed is a finite number")
    if isinstance(value, Decimal):
        return float(value) if isinstance(checked, float) else format(value, "f")
    return value


def types_of(hint: Any) -> tuple[Any, ...]:
    """The types that a hint allows, but for None."""
    options = get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)
    return tuple(option for option in options if option is not NoneType)


def plain(model: object) -> Any:
    """A model as values of JSON, without the fields that are None; of a result the reverse of `decode`."""
    return msgspec.to_builtins(model, enc_hook=_unwrapped)


def decode(content: bytes, kind: type[T]) -> T:
    """A result from JSON.

    Raises
    ------
    msgspec.DecodeError
        It is no JSON, or (a `msgspec.ValidationError`) a field is missing or of a wrong type.
    """
    return msgspec.json.decode(content, type=kind)

"""Arguments to JSON and answers to results, by the types of the models.

Of arguments only types are checked: values, and fields that this version does not know, are the service's to judge, which names
all of them at once. Answers are checked by msgspec for everything that their models promise; fields that are new are ignored.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping, Sequence, Set
from contextlib import suppress
from datetime import date
from decimal import Decimal
from enum import Enum
from functools import cache
from threading import Lock
from types import NoneType, UnionType
from typing import TYPE_CHECKING, Any, Literal, TypeAlias, TypeVar, Union, get_args, get_origin, get_type_hints

import msgspec

T = TypeVar("T")
Fields: TypeAlias = Mapping[str, Any]
"""A plain mapping in place of one of the models, with the same keys."""
Numbers: TypeAlias = Collection[float]
"""Numbers in their order: a list, a tuple, a numpy array, a pandas Series."""

if TYPE_CHECKING:
    DecimalText: TypeAlias = Decimal
else:

    class _TakesDecimals(type):
        def __instancecheck__(cls, value: object) -> bool:
            return isinstance(value, Decimal)

    class DecimalText(metaclass=_TakesDecimals):
        """A Decimal to whoever reads it; of its own to msgspec, which would take numbers and NaN for a Decimal too."""


SHOWN_LENGTH = 60
_DECODERS: dict[Any, msgspec.json.Decoder[Any]] = {}
_MAKING = Lock()
SCALARS: dict[Any, tuple[str, tuple[type, ...]]] = {
    float: ("a number", (float, int)),
    int: ("a whole number", (int,)),
    bool: ("true or false", (bool,)),
    Decimal: ("a decimal", (str,)),  # a text in JSON, so that no digit is lost
    str: ("a text", (str,)),
    Literal: ("", (str,)),
    NoneType: ("nothing", (NoneType,)),
}
"""Types without parts: in words, and what they are in JSON before it is written."""
ANYTHING = {kind: kind for kind in SCALARS} | {Mapping: Fields, Collection: Collection[Any]}
"""What is sent where this version does not know what is asked for."""
DECIMAL = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?")
UNORDERED = (str, bytes, bytearray, memoryview, Mapping, Set)
"""Collections that are no sequence of values."""


def shown(value: object) -> str:
    """A value and its type for an error's text, shortened."""
    if value is None:
        return "None"
    return f"{shortened(repr(value))} ({type(value).__name__})"


def shortened(text: str) -> str:
    """A text that is not too long for an error."""
    return text if len(text) <= SHOWN_LENGTH else text[: SHOWN_LENGTH - 3] + "..."


def encode(arguments: Mapping[str, Any], hints: Mapping[str, Any]) -> dict[str, Any]:
    """Arguments as values of JSON, by their hints; those that are None are left out.

    Raises TypeError for a value of a wrong type and ValueError for a number or text that JSON cannot hold; both name its path.
    """
    return {name: _encoded(value, hints[name], name) for name, value in arguments.items() if value is not None}


def _encoded(value: Any, hint: Any, path: str) -> Any:
    """A value as JSON has it; `path` leads to it from the arguments."""
    kinds, given, value = kinds_of(hint), value, of_python(value)
    if isinstance(value, Enum):
        value = value.value
    if isinstance(value, msgspec.Struct) and (hint is Any or not kinds.keys().isdisjoint(type(value).__mro__)):
        return _encoded_fields(fields_of(value), hints_of(type(value)), path)
    if isinstance(value, Mapping) and Mapping in kinds:
        return _encoded_fields(value, _hints_for(value, kinds), path)
    if Collection in kinds and isinstance(value, Collection) and not isinstance(value, UNORDERED):
        return _encoded_items(list(value), get_args(kinds[Collection])[0], path)
    value = _scalar(value, kinds, path)
    if any(type(value) in SCALARS[kind][1] for kind in kinds if kind in SCALARS):
        return value
    raise TypeError(f"{path}: {shown(given)} was given; allowed is {_allowed(hint)}")


def _encoded_fields(fields: Mapping[Any, Any], hints: Mapping[str, Any], path: str) -> dict[str, Any]:
    return {
        _encoded(name, str, f"a key of {path}"): _encoded(value, hints.get(name, Any), f"{path}.{name}")
        for name, value in fields.items()
        if value is not None or NoneType not in kinds_of(hints.get(name, Any))
    }


def _encoded_items(items: list[Any], hint: Any, path: str) -> list[Any]:
    # Many numbers at once; of those of numpy some are a float by type.
    if hint is float and all(issubclass(kind, (float, int)) and kind is not bool for kind in set(map(type, items))):
        with suppress(OverflowError):
            numbers = list(map(float, items))
            if all(map(math.isfinite, numbers)):
                return numbers
    return [_encoded(item, hint, f"{path}[{index}]") for index, item in enumerate(items)]


def _scalar(value: Any, kinds: Mapping[Any, Any], path: str) -> Any:
    """A value without parts as JSON has it; as it is where there is nothing like it in JSON."""
    if isinstance(value, date) and value == value:  # NaT of pandas equals nothing
        return value.isoformat()
    if isinstance(value, str):
        if not str.isascii(value) and any("\ud800" <= each <= "\udfff" for each in value):
            raise ValueError(f"{path}: {value!a} was given; allowed is a text without halves of characters")
        return str.__str__(value)
    if isinstance(value, (bool, type)) or not hasattr(value, "as_integer_ratio"):
        return value
    if isinstance(value, int):
        return int(value)
    if isinstance(value, Decimal) and Decimal in kinds and value.is_finite():
        return format(value, "f")  # the service takes no exponents
    if not kinds.keys() & {float, Decimal}:
        return value
    try:
        number = float(value)
    except (OverflowError, ValueError):  # of fractions that are too large, and of signalling NaNs
        number = math.nan
    if not math.isfinite(number):
        raise ValueError(f"{path}: {shortened(str(value))} was given; allowed is a finite number")
    return number


def _hints_for(fields: Mapping[Any, Any], kinds: Mapping[Any, Any]) -> Mapping[str, Any]:
    """Hints of the model that a mapping stands for, which its kind tells among several; none where this version knows none."""
    models = [kind for kind in kinds if isinstance(kind, type) and issubclass(kind, msgspec.Struct)]
    of_kind = [each for each in models if fields.get(each.__struct_config__.tag_field) == each.__struct_config__.tag]
    known = models if len(models) == 1 else of_kind
    return hints_of(known[0]) if known else {}


hints_of = cache(get_type_hints)
"""Type hints of a model, read once."""


@cache
def kinds_of(hint: Any) -> Mapping[Any, Any]:
    """The types that a hint allows, by their kinds: models, keys of SCALARS, Mapping, and Collection for every sequence."""
    options = get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)
    kinds = {get_origin(option) or option: option for option in options}
    for sequence in kinds.keys() & {Sequence, tuple}:
        kinds[Collection] = kinds.pop(sequence)
    return ANYTHING if hint is Any else kinds


def _allowed(hint: Any) -> str:
    """What a hint allows, in words."""
    words = (_words(kind, option) for kind, option in kinds_of(hint).items() if kind is not NoneType)
    return "what JSON can hold" if hint is Any else " or ".join(words)


def _words(kind: Any, option: Any) -> str:
    if kind is Literal:
        return "one of " + ", ".join(f'"{word}"' for word in get_args(option))
    if kind is Collection:
        return f"a sequence, each item {_allowed(get_args(option)[0])}"
    return SCALARS[kind][0] if kind in SCALARS else "a mapping" if kind is Mapping else str(kind.__name__)


def fields_of(model: msgspec.Struct) -> dict[str, Any]:
    """The fields of a model by their names, what tells its kind among them."""
    config = model.__struct_config__
    return ({config.tag_field: config.tag} if config.tag_field else {}) | msgspec.structs.asdict(model)


def of_python(value: Any) -> Any:
    """A scalar or an array of numpy or pandas, known by its method alone since neither is imported here, as Python has it."""
    return value.tolist() if hasattr(value, "tolist") and not isinstance(value, (type, memoryview)) else value


def to_json(value: object) -> bytes:
    """What has been answered, or is to be, as JSON: the reverse of `decode`."""
    return msgspec.json.encode(value, enc_hook=_with_parts)


def _with_parts(value: Any) -> Any:
    return value.tolist() if hasattr(value, "tolist") else (dict if isinstance(value, Mapping) else list)(value)


def decode(content: bytes | msgspec.Raw, kind: type[T]) -> T:
    """A result from JSON; raises DecodeError where it is none, its ValidationError where it is not what the model promises."""
    try:
        return _decoder(kind).decode(content)
    except (UnicodeDecodeError, RecursionError) as error:
        raise msgspec.DecodeError(str(error)) from None


def _decoder(kind: type[T]) -> msgspec.json.Decoder[T]:
    """The decoder of a type, made by one thread at a time: msgspec 0.22 crashes where two prepare a model at once."""
    decoder: msgspec.json.Decoder[T] | None = _DECODERS.get(kind)
    if decoder is None:
        with _MAKING:
            decoder = _DECODERS.setdefault(kind, msgspec.json.Decoder(kind, dec_hook=_decimal))
    return decoder


def _decimal(_: Any, value: Any) -> Decimal:
    if not isinstance(value, str) or not DECIMAL.fullmatch(value):
        raise ValueError(f"Expected a finite decimal as a text, got {shown(value)}")
    return Decimal(value)

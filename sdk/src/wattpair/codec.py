"""Inputs to JSON and JSON to results, from the type hints of dataclasses alone.

A new operation needs nothing here. Inputs are checked for their types only: values, and fields that this version does not
know, are the service's to judge. Results are checked for everything that their classes promise.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence, Set
from dataclasses import MISSING, Field, fields, is_dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from functools import cache
from numbers import Integral, Real
from types import NoneType, UnionType
from typing import Any, Literal, TypeAlias, TypeVar, Union, get_args, get_origin, get_type_hints

Json: TypeAlias = "bool | int | float | str | Sequence[Json] | Mapping[str, Json] | None"
T = TypeVar("T")

SHOWN_LENGTH = 60
NUMBER = (Real, Decimal)
"""What is taken for a number with a fraction; a Decimal is no Real to Python."""


@cache
def hints_of(described: Any) -> Mapping[str, Any]:
    """Type hints of a model, read once."""
    return get_type_hints(described)


@cache
def alternatives(hint: Any) -> tuple[Any, ...]:
    """The members of a union; the hint itself where it is none."""
    return get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)


def shown(value: object) -> str:
    """A value and its type for an error's text, shortened."""
    if value is None:
        return "None"
    text = repr(value)
    return f"{text if len(text) <= SHOWN_LENGTH else text[: SHOWN_LENGTH - 3] + '...'} ({type(value).__name__})"


def encode_fields(values: Mapping[str, object], hints: Mapping[str, Any], place: str = "") -> dict[str, Json]:
    """An object's fields as JSON; those that are None and may be are left out.

    Parameters
    ----------
    values : mapping
        The fields by name. Those without a hint are sent as they are.
    hints : mapping
        Type hints by name.
    place : str
        The object as Python would write it, such as "faces[0]", for the text of errors.

    Returns
    -------
    dict
        The object as JSON.

    Raises
    ------
    TypeError
        A value of a wrong type; the text names its place and what is allowed.
    ValueError
        A number that JSON cannot hold.
    """
    encoded = {}
    for name, value in values.items():
        inner = f"{place}.{name}" if place else str(name)
        if not isinstance(name, str):
            raise TypeError(f"{inner}: the key {shown(name)} was given; allowed is a text")
        hint = hints.get(name, Any)
        if value is not None or not (hint is Any or NoneType in alternatives(hint)):
            encoded[name] = encode(value, hint, inner)
    return encoded


def encode(value: object, hint: Any, place: str = "") -> Json:
    """A value as JSON, by its type hint; raises as `encode_fields` does."""
    given, value = value, unwrapped(value)
    for option in _ANYTHING if hint is Any else alternatives(hint):
        kind = get_origin(option) or option
        if is_dataclass(kind) and _describes(kind, value):
            return _encode_object(value, kind, place)
        if kind is Mapping and isinstance(value, Mapping):
            return encode_fields(value, {}, place)
        if kind in (Collection, Sequence) and _is_ordered(value):
            return _encode_items(value, get_args(option)[0], place)
        if kind in _SCALARS and isinstance(value, _SCALARS[kind].accepted) and (kind is bool or type(value) is not bool):
            return _SCALARS[kind].convert(value, place)
        if kind is Literal and isinstance(value, str):
            return str.__str__(value)
    if hint is Any and is_dataclass(value) and not isinstance(value, type):
        return _encode_object(value, type(value), place)
    raise TypeError(f"{place}: {shown(given)} was given; allowed is {_allowed(hint)}")


def unwrapped(value: Any) -> Any:
    """A scalar of numpy as one of Python, known by its form alone: numpy is not imported here."""
    return value.item() if getattr(value, "shape", None) == () and hasattr(value, "dtype") and hasattr(value, "item") else value


def _describes(kind: Any, value: object) -> bool:
    """Whether a value is of a dataclass, or a mapping in its place; constants such as `kind` tell mappings apart."""
    if isinstance(value, Mapping):
        return all(value.get(each.name) == each.default for each in fields(kind) if isinstance(each.default, str))
    return isinstance(value, kind)


def _encode_object(value: Any, kind: Any, place: str) -> Json:
    given = value if isinstance(value, Mapping) else {each.name: getattr(value, each.name) for each in fields(value)}
    return encode_fields(given, hints_of(kind), place)


def _is_ordered(value: object) -> bool:
    return isinstance(value, Collection) and not isinstance(value, (str, bytes, bytearray, Mapping, Set))


def _encode_items(values: Any, hint: Any, place: str) -> Json:
    if hint is float:
        return _encode_numbers(list(values), place)
    return [encode(item, hint, f"{place}[{index}]") for index, item in enumerate(values)]


def _encode_numbers(items: list[Any], place: str) -> Json:
    """Many numbers at once: types are looked at by kind, and items one by one only to name a fault."""
    kinds = set(map(type, items))
    if bool not in kinds and all(issubclass(kind, NUMBER) for kind in kinds):
        try:
            numbers = list(map(float, items))
        except (OverflowError, ValueError):  # of whole numbers that are too large, and of signalling NaNs
            numbers = [math.nan]
        if all(map(math.isfinite, numbers)):
            return numbers
    return [encode(item, float, f"{place}[{index}]") for index, item in enumerate(items)]


def _number(value: Any, place: str) -> Json:
    if isinstance(value, Integral):
        return int(value)
    try:
        number = float(value)
    except (OverflowError, ValueError):  # of fractions that are too large, and of signalling NaNs
        number = math.nan
    if not math.isfinite(number):
        raise ValueError(f"{place}: {value} was given; allowed is a finite number")
    return number


def _text(value: Any) -> str:
    """The text of an enumeration, not its name; a date as ISO 8601 has it."""
    return str.__str__(value) if isinstance(value, str) else str(value.isoformat())


def _decimal(value: Any, place: str) -> Json:
    if isinstance(value, str):
        return str.__str__(value)
    if not value.is_finite():
        raise ValueError(f"{place}: {value} was given; allowed is a finite number")
    return format(value, "f")  # the service takes no exponents


class _Scalar:
    """A kind of JSON value: the types that it is made from, and how."""

    def __init__(self, words: str, accepted: type | tuple[type, ...], convert: Callable[[Any, str], Json]) -> None:
        self.words = words
        self.accepted = accepted
        self.convert = convert


_SCALARS: dict[Any, _Scalar] = {
    bool: _Scalar("true or false", bool, lambda value, _: bool(value)),
    int: _Scalar("a whole number", Integral, lambda value, _: int(value)),
    float: _Scalar("a number", NUMBER, _number),
    str: _Scalar("a text", (str, date), lambda value, _: _text(value)),
    Decimal: _Scalar("a decimal", (Decimal, str), _decimal),  # a text in JSON, so that no digit is lost
}
# Where nobody says what is meant, no digit of a Decimal may be lost.
_ANYTHING = (Decimal, *_SCALARS, Mapping[str, Any], Collection[Any])


def _allowed(hint: Any) -> str:
    return " or ".join(dict.fromkeys(_words(option) for option in alternatives(hint) if option is not NoneType))


def _words(option: Any) -> str:
    kind = get_origin(option) or option
    if kind in _SCALARS:
        return _SCALARS[kind].words
    if kind is Literal:
        return "one of " + ", ".join(f'"{choice}"' for choice in get_args(option))
    if kind is Mapping:
        return "a mapping"
    if kind in (Collection, Sequence):
        return f"a sequence, each item {_allowed(get_args(option)[0])}"
    return str(getattr(kind, "__name__", "a value of JSON"))


def plain(result: object) -> Json:
    """A result as the JSON that it was read from; the reverse of `decode`."""
    if is_dataclass(result) and not isinstance(result, type):
        return {each.name: plain(getattr(result, each.name)) for each in fields(result)}
    if isinstance(result, (tuple, list)):
        return [plain(item) for item in result]
    if isinstance(result, Mapping):
        return {name: plain(item) for name, item in result.items()}
    if isinstance(result, bytes):
        return base64.b64encode(result).decode()
    return format(result, "f") if isinstance(result, Decimal) else result  # type: ignore[return-value]


Reader = Callable[[Any], Any]


class Mismatch(ValueError):
    """An answer that is not what its class promises.

    Parameters
    ----------
    allowed : str
        What the class promises.
    value : object
        What stood there.
    """

    def __init__(self, allowed: str, value: object) -> None:
        super().__init__(allowed, value)
        self.pointer = ""
        self.allowed = allowed
        self.value = value

    def __str__(self) -> str:
        return f"{self.pointer or 'the whole answer'} is {shown(self.value)}, where the contract says {self.allowed}"

    def within(self, step: object) -> Mismatch:
        """The same fault seen from the object around it: the pointer grows only where a fault is found."""
        self.pointer = f"/{step}{self.pointer}"
        return self


def decode(value: object, kind: type[T]) -> T:
    """A result from JSON; fields that its class does not know are ignored.

    Parameters
    ----------
    value : object
        The parsed JSON.
    kind : type
        The result's dataclass.

    Returns
    -------
    object
        An instance of the class.

    Raises
    ------
    Mismatch
        A field is missing or of a wrong type.
    """
    described: Any = kind
    result: T = _reader(described)(value)
    return result


@cache
def _reader(hint: Any) -> Reader:
    """What reads a value of a hint, put together once."""
    options = tuple(option for option in alternatives(hint) if option is not NoneType)
    if options != (hint,):
        return _optional(options)
    origin = get_origin(hint)
    if origin is Sequence:
        return _tuple_of(get_args(hint)[0])
    if origin is Literal:
        return _one_of(get_args(hint))
    if origin is Mapping:
        return _read_mapping
    if is_dataclass(hint):
        return _object_of(hint)
    if hint in _PLAIN:
        return _PLAIN[hint]
    raise TypeError(f"a result class has a field of type {hint}, which cannot be read from JSON")


def _optional(options: tuple[Any, ...]) -> Reader:
    if len(options) != 1:
        raise TypeError(f"a result class has a field that is one of {options}, which cannot be told apart in JSON")
    inner = _reader(options[0])
    return lambda value: None if value is None else inner(value)


def _object_of(kind: Any) -> Reader:
    hints = hints_of(kind)
    parts = [(each.name, _reader(hints[each.name]), _is_required(each)) for each in fields(kind)]

    def read(value: Any) -> Any:
        if not isinstance(value, dict):
            raise Mismatch("an object", value)
        found = {}
        for name, reader, required in parts:
            if name in value:
                try:
                    found[name] = reader(value[name])
                except Mismatch as fault:
                    raise fault.within(name) from None
            elif required:
                raise Mismatch("a value, since the field is required", None).within(name)
        return kind(**found)

    return read


def _is_required(each: Field[Any]) -> bool:
    return each.default is MISSING and each.default_factory is MISSING


def _tuple_of(item: Any) -> Reader:
    reader = _reader(item)

    def read(value: Any) -> Any:
        if not isinstance(value, list):
            raise Mismatch("an array", value)
        return tuple(_each(reader, value))

    return read


def _each(reader: Reader, values: list[Any]) -> Iterator[Any]:
    for index, item in enumerate(values):
        try:
            yield reader(item)
        except Mismatch as fault:
            raise fault.within(index) from None


def _one_of(choices: tuple[Any, ...]) -> Reader:
    words = "one of " + ", ".join(f'"{choice}"' for choice in choices)

    def read(value: Any) -> Any:
        if value not in choices:
            raise Mismatch(words, value)
        return value

    return read


def _read_mapping(value: Any) -> Any:
    if not isinstance(value, dict):
        raise Mismatch("an object", value)
    return value


def _read_float(value: Any) -> float:
    if type(value) is float and math.isfinite(value):
        return value
    if type(value) is int and abs(value) < 1 << 1023:
        return float(value)
    raise Mismatch("a finite number", value)


def _read_decimal(value: Any) -> Decimal:
    try:
        number = Decimal(value) if isinstance(value, str) else Decimal("NaN")
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite():
        raise Mismatch("a finite decimal as a text", value)
    return number


def _read_bytes(value: Any) -> bytes:
    try:
        return base64.b64decode(value if isinstance(value, str) else "-", validate=True)
    except ValueError:
        raise Mismatch("bytes in base64", value) from None


def _exactly(kind: type, words: str) -> Reader:
    def read(value: Any) -> Any:
        if type(value) is not kind:
            raise Mismatch(words, value)
        return value

    return read


_PLAIN: dict[Any, Reader] = {
    Any: lambda value: value,
    float: _read_float,
    Decimal: _read_decimal,
    bytes: _read_bytes,
    int: _exactly(int, "a whole number"),
    str: _exactly(str, "a text"),
    bool: _exactly(bool, "true or false"),
}

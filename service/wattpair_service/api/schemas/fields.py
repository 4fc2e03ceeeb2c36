"""Strict input fields: no number in quotes, no NaN, no silent conversion.

The error message of a field states what is allowed; `problems` adds the pointer and the value given.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import inf, isfinite
from typing import Any

import numpy as np
from marshmallow import ValidationError, fields, missing, validate

from wattpair_service.engineering.sentences import Words


@dataclass(frozen=True, slots=True)
class Assumed:
    """A default value and its source."""

    value: object
    source: Words


ELEMENT_ERRORS_SHOWN = 10


def _options(assumed: Assumed | None, required: bool, description: str, unit: str | None) -> dict[str, Any]:
    """Arguments of marshmallow's fields, the same for every field here."""
    metadata: dict[str, Any] = {"description": description if unit is None else f"{description} [{unit}]"}
    if unit is not None:
        metadata["x-unit"] = unit
    # An explicit null is refused even where None stands for fixed("source.not_given").
    options: dict[str, Any] = {"metadata": metadata, "required": required, "allow_none": False}
    if assumed is not None:
        options |= {"load_default": assumed.value, "required": False}
        metadata["x-assumption-source"] = assumed.source
    elif not required:
        options["load_default"] = None
    return options


class Number(fields.Float):
    """A finite JSON number within limits."""

    def __init__(
        self,
        description: str,
        *,
        unit: str | None = None,
        at_least: float | None = None,
        above: float | None = None,
        at_most: float | None = None,
        below: float | None = None,
        required: bool = True,
        assumed: Assumed | None = None,
    ) -> None:
        super().__init__(allow_nan=False, **_options(assumed, required, description, unit))
        self.assumed = assumed
        self.bounds = {
            "minimum": at_least,
            "exclusiveMinimum": above,
            "maximum": at_most,
            "exclusiveMaximum": below,
        }
        self.metadata = {**self.metadata, **({name: limit for name, limit in self.bounds.items() if limit is not None})}
        words = {"minimum": "at least", "exclusiveMinimum": "above", "maximum": "at most", "exclusiveMaximum": "below"}
        limits = " and ".join(f"{words[k]} {v:g}" for k, v in self.bounds.items() if v is not None)
        self.allowed = " ".join(filter(None, [self.kind, limits, f"[{unit}]" if unit else ""]))

    kind = "a number"

    def deserialize(self, value: Any, attr: str | None = None, data: Mapping[str, Any] | None = None, **kwargs: Any) -> Any:
        """Skip marshmallow's validators: a number has none, and going through the empty list doubles the time."""
        if value is None or value is missing:
            return super().deserialize(value, attr, data, **kwargs)
        return self._deserialize(value, attr, data, **kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        if not self.right_type(value) or not self.within(value):
            raise ValidationError(self.allowed)
        return self.convert(value)

    def right_type(self, value: object) -> bool:
        """Whether the value is a JSON number that a float can hold."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            return False
        try:
            return math.isfinite(float(value))
        except OverflowError:
            return False

    def within(self, value: float) -> bool:
        """Whether the value is within all bounds."""
        lowest, above, highest, below = self.bounds.values()
        return (
            (lowest is None or value >= lowest)
            and (above is None or value > above)
            and (highest is None or value <= highest)
            and (below is None or value < below)
        )

    def convert(self, value: Any) -> Any:
        """The value as a float."""
        return float(value)


class WholeNumber(Number):
    """A JSON integer within limits."""

    kind = "a whole number"
    num_type = int  # type: ignore[assignment]  # marshmallow types it for Float alone

    def __init__(self, description: str, **limits: Any) -> None:
        super().__init__(description, **limits)
        self.metadata = {**self.metadata, "type": "integer"}

    def right_type(self, value: object) -> bool:
        """Whether the value is a JSON integer."""
        return isinstance(value, int) and not isinstance(value, bool)

    def convert(self, value: Any) -> Any:
        """The value as an int."""
        return int(value)


class Flag(fields.Boolean):
    """A JSON true or false."""

    allowed = "true or false"

    def __init__(self, description: str, *, assumed: Assumed | None = None, required: bool = False) -> None:
        super().__init__(**_options(assumed, required, description, None))
        self.assumed = assumed

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        if not isinstance(value, bool):
            raise ValidationError(self.allowed)
        return value


class NumberArray(fields.Field[Any]):
    """An array of finite numbers. An error names each wrong item, up to a limit."""

    def __init__(
        self,
        description: str,
        *,
        unit: str,
        lengths: Sequence[int],
        at_least: float = -inf,
        at_most: float = inf,
        required: bool = True,
    ) -> None:
        super().__init__(**_options(None, required, description, unit))
        self.lengths = lengths
        self.at_least, self.at_most = at_least, at_most
        self.allowed = f"an array of {' or '.join(f'{n:,}' for n in lengths)} numbers"
        self.metadata = {
            **self.metadata,
            "type": "array",
            "items": {"type": "number"},
            "minItems": min(lengths),
            "maxItems": max(lengths),
        }

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        if not isinstance(value, list) or len(value) not in self.lengths:
            raise ValidationError(self.allowed)
        if set(map(type, value)) <= {float, int}:
            try:
                array = np.array(value, dtype=np.float64)
            except OverflowError:
                array = np.array([np.nan])
            if np.isfinite(array).all() and np.all((array >= self.at_least) & (array <= self.at_most)):
                return array
        wrong = [i for i, v in enumerate(value) if not _is_finite_number(v) or not self.at_least <= v <= self.at_most]
        bounds = f" from {self.at_least:g} to {self.at_most:g}" if isfinite(self.at_most) else ""
        raise ValidationError({i: [f"a finite number{bounds}"] for i in wrong[:ELEMENT_ERRORS_SHOWN]})


def _is_finite_number(item: object) -> bool:
    if type(item) not in (int, float):
        return False
    try:
        return math.isfinite(float(item))  # type: ignore[arg-type]
    except OverflowError:
        return False


class Text(fields.String):
    """A string of limited length with a visible character and without control and format characters.

    `listed_by` names the operation that lists the choices, where they are data and not words of the contract.
    """

    def __init__(
        self,
        description: str,
        *,
        longest: int = 200,
        required: bool = True,
        assumed: Assumed | None = None,
        choices: Sequence[str] | None = None,
        listed_by: str | None = None,
        several_lines: bool = False,
    ) -> None:
        super().__init__(**_options(assumed, required, description, None))
        self.assumed = assumed
        self.longest = longest
        self.several_lines = several_lines
        self.choices = choices
        self.metadata = {**self.metadata, **({"enum": list(choices)} if choices else {"minLength": 1, "maxLength": longest})}
        if listed_by is not None:
            self.metadata["x-listed-by"] = listed_by
        self.allowed = (
            "one of " + ", ".join(f'"{choice}"' for choice in choices)
            if choices
            else f"a text of 1 to {longest:,} characters, one of them visible, without control characters or format characters"
            + (" but line feeds" if several_lines else "")
        )

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        if not isinstance(value, str) or not self._fits(value):
            raise ValidationError(self.allowed)
        return value

    def _fits(self, value: str) -> bool:
        if self.choices is not None:
            return value in self.choices
        without_breaks = value.replace("\n", " ") if self.several_lines else value
        return len(value) <= self.longest and any(map(_is_visible, value)) and not any(map(_is_refused, without_breaks))


def composed(text: str) -> str:
    """A text in Unicode's form NFC, for comparisons: a letter may be written as one character or as several."""
    return unicodedata.normalize("NFC", text)


def spelling(names: Iterable[str]) -> Callable[[str], str]:
    """A function that replaces a text by the name with the same NFC form; a text that equals none stays as it is."""
    spelled = {composed(name): name for name in names}
    return lambda reference: spelled.get(composed(reference), reference)


JOINERS = "\u200c\u200d"
"""Format characters that scripts need: zero-width non-joiner and joiner."""
FILLERS = "\u115f\u1160\u2800\u3164\uffa0"
"""Letters and symbols that are displayed as blanks."""
REFUSED = ("Cc", "Cf", "Cs", "Zl", "Zp")
"""Control characters; format characters, such as those that change the direction of text; lone surrogates, which are
valid JSON but cannot be written back as UTF-8; line and paragraph separators."""


def _is_visible(character: str) -> bool:
    return unicodedata.category(character)[0] in "LNPS" and character not in FILLERS


def _is_refused(character: str) -> bool:
    return unicodedata.category(character) in REFUSED and character not in JOINERS


class FileText(fields.String):
    """The whole text of a file."""

    def __init__(self, description: str, *, longest: int) -> None:
        super().__init__(**_options(None, True, description, None))
        self.longest = longest
        self.allowed = f"the file's text, 1 to {longest:,} characters"
        self.metadata = {**self.metadata, "minLength": 1, "maxLength": longest}

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        if not isinstance(value, str) or not 0 < len(value) <= self.longest:
            raise ValidationError(self.allowed)
        return value


class LocalTime(fields.String):
    """A date and time without zone, ISO 8601."""

    LONGEST = 26
    """Length of a time with microseconds."""
    allowed = "a date and time without zone, such as 2023-01-01T00:00"

    def __init__(self, description: str, *, assumed: Assumed | None = None) -> None:
        super().__init__(**_options(assumed, True, description, None))
        self.assumed = assumed
        self.metadata = {**self.metadata, "examples": ["2023-01-01T00:00"], "maxLength": self.LONGEST}

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        if isinstance(value, str) and len(value) > self.LONGEST:
            raise ValidationError(f"{self.allowed}, of at most {self.LONGEST} characters")
        try:
            moment = datetime.fromisoformat(value)
        except (TypeError, ValueError):
            raise ValidationError(self.allowed) from None
        if moment.tzinfo is not None or not 1950 <= moment.year <= 2100:
            raise ValidationError(f"{self.allowed}, in 1950 to 2100")
        return moment


class Listed(fields.List[Any]):
    """An array of `fewest` to `most` items."""

    def __init__(
        self,
        item: fields.Field[Any],
        description: str,
        *,
        most: int,
        fewest: int = 1,
        required: bool = True,
        assumed: Assumed | None = None,
    ) -> None:
        self.allowed = f"an array of {most} items" if fewest == most else f"an array of {fewest} to {most} items"
        super().__init__(
            item,
            validate=validate.Length(fewest, most, error=self.allowed),
            error_messages={"invalid": self.allowed},
            **_options(assumed, required, description, None),
        )
        self.assumed = assumed
        self.fewest, self.most = fewest, most
        # A null item says what is allowed, as a null field does.
        item.error_messages |= {"null": getattr(item, "allowed", "an object")}

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        # Before the items are checked, so that a million items do not give a million errors.
        if not isinstance(value, list) or not self.fewest <= len(value) <= self.most:
            raise ValidationError(self.allowed)
        return super()._deserialize(value, attr, data, **kwargs)


class Nested(fields.Nested):
    """One object."""

    def __init__(self, schema: Any, description: str, *, required: bool = True) -> None:
        super().__init__(schema, **_options(None, required, description, None))
        self.allowed = "an object"


class Group(fields.Nested):
    """An object whose fields are all optional. If left out, it counts as empty: all its fields take their defaults."""

    def __init__(self, schema: Any, description: str) -> None:
        super().__init__(schema, **_options(None, False, description, None))
        self.load_default = lambda: self.schema.load({})
        self.allowed = "an object"

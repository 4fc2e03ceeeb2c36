"""Sentences as codes with values; their words in each language stand in `wattpair_service/words/`.

A code is declared once, at module level, with the slots that its words fill in:

    LOCAL_CODES = fixed("caution.local_codes")
    FAR = sentence("caution.far_weather", "distance_km")

`LOCAL_CODES` and `FAR(distance_km=61.2)` are sentences. The service does not start while a declared code has no words.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

LANGUAGES = ("en", "de")
"""Languages that every sentence has words in; the first is that of the API."""

Value: TypeAlias = "float | str | Words | tuple[Value, ...]"
"""What fills a slot: a number, a name or text of a caller, a further sentence, or several that are joined."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """A declared code and the values of its slots."""

    code: str
    values: tuple[tuple[str, Value], ...] = ()


@dataclass(frozen=True, slots=True)
class Cited:
    """A text that is the same in every language: a citation in the language of its publication, or a caller's own rule."""

    text: str

    def text_in(self, _: str) -> str:
        """The text."""
        return self.text

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True)
class Phrase:
    """A text that brings its words along, as a region's rules do: pairs of language and words."""

    by_language: tuple[tuple[str, str], ...]

    def text_in(self, language: str) -> str:
        """The words in a language, else those in the API's."""
        words = dict(self.by_language)
        return words.get(language, words[LANGUAGES[0]])

    def __str__(self) -> str:
        return self.text_in(LANGUAGES[0])


Given: TypeAlias = Cited | Phrase
"""What comes with data, such as a region's rules; as a text it is English."""
Words: TypeAlias = Sentence | Given
"""What is said to people; a bare text is none."""


@dataclass(frozen=True, slots=True)
class Form:
    """A declared code with its slots; called with their values it gives the sentence."""

    code: str
    slots: tuple[str, ...]

    def __call__(self, **values: Value) -> Sentence:
        """The sentence with these values.

        Raises
        ------
        TypeError
            They are not those of the slots.
        """
        if values.keys() != set(self.slots):
            raise TypeError(f"{self.code} has the slots {', '.join(self.slots)}; given are {', '.join(values)}")
        return Sentence(self.code, tuple((slot, values[slot]) for slot in self.slots))


_DECLARED: dict[str, frozenset[str]] = {}


def declared() -> Mapping[str, frozenset[str]]:
    """Every declared code with its slots."""
    return _DECLARED


def sentence(code: str, *slots: str) -> Form:
    """Declare a code with slots.

    Raises
    ------
    ValueError
        The code is declared with other slots already.
    """
    if _DECLARED.setdefault(code, frozenset(slots)) != frozenset(slots):
        raise ValueError(f"{code} is declared twice, with different slots")
    return Form(code, slots)


def fixed(code: str) -> Sentence:
    """Declare a code without slots: the sentence itself."""
    return sentence(code)()


def family(table: str, names: Iterable[str]) -> dict[str, Sentence]:
    """Declare a code for each of the names, such as those of a Literal; the sentences by name."""
    return {name: fixed(f"{table}.{name.replace(' ', '_')}") for name in names}


COMMON_PRACTICE = fixed("source.common_practice")
OF_REQUEST = sentence("source.field_of_request", "field")
THE_REQUEST = fixed("source.the_request")
_SEVERAL = sentence("source.several", "parts")


def several(*parts: Words) -> Words:
    """Sources one after the other."""
    return _SEVERAL(parts=parts) if len(parts) > 1 else parts[0]

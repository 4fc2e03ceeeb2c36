"""The catalogue: the words of every sentence in each language, and the service's own English.

A file has tables of words; `table.name` is a code of `engineering.sentences` or a key of the sheet. Text in {braces} is filled
in: {current_a:.4g} has the format of a number, {spacing_m:length} is a measure with its unit, {parts:; } what stands between
several parts, and {parts:+} joins them as they are. {units:#unit} is a count with its noun, singular or plural, from the table
`count`. Words under `reworded` take the place of those of the same code on the
sheet: the API's own name fields of the request.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from string import Formatter

from wattpair_service.engineering.sentences import LANGUAGES, Phrase, Sentence, Value, declared

Template = tuple[tuple[str, str | None, str], ...]
"""Words in parts: a text, and the slot that follows it with its format; no slot after the last."""
MEASURES = {"length": "m", "thickness": "mm"}
"""Formats of slots that stand for a measure, with the unit that the API writes: a sheet may have feet and inches."""
REWORDED = "reworded."
ENGLISH = LANGUAGES[0]
NUMBER = (int, float)


def template(words: str) -> Template:
    """Words in parts."""
    return tuple((before, slot, spec or "") for before, slot, spec, _ in Formatter().parse(words))


def slots(words: str) -> set[str]:
    """Names of the {slots} in a text."""
    return {slot for _, slot, _ in template(words) if slot is not None}


@cache
def read(code: str) -> Mapping[str, str]:
    """The words of a language by key, those that are reworded for the sheet under `reworded.KEY`."""
    data = tomllib.loads(files(__package__).joinpath(f"{code}.toml").read_text(encoding="utf-8"))
    reworded = {f"{REWORDED}{key}": words for key, words in data.pop("reworded", {}).items()}
    return {f"{table}.{name}": words for table, entries in data.items() for name, words in entries.items()} | reworded


@dataclass(frozen=True, slots=True)
class Writer:
    """Writes sentences in one language, with numbers as Python writes them."""

    code: str
    templates: Mapping[str, Template]

    def write(self, value: Value) -> str:
        """A sentence, a part of one, or a text as it is."""
        if isinstance(value, Sentence):
            parts = self.templates[value.code]
            return self._filled(parts, dict(value.values)) if value.values else parts[0][0]
        return self.text(value.text_in(self.code)) if isinstance(value, Phrase) else str(value)

    def say(self, key: str, **values: Value) -> str:
        """The words of a key, filled in."""
        return self._filled(self.templates[key], values)

    def text(self, text: str) -> str:
        """A text of a region's rules."""
        return text

    def counted(self, noun: str, count: float) -> str:
        """A count with its noun, in singular or plural."""
        return self.say(f"count.{noun}_{'one' if count == 1 else 'other'}", count=self.figure(count, ".0f"))

    def figure(self, value: float, spec: str) -> str:
        """A number in a format, with its noun, or with the unit of a kind of measure."""
        if spec.startswith("#"):
            return self.counted(spec.removeprefix("#"), value)
        return f"{value:g} {MEASURES[spec]}" if spec in MEASURES else format(value, spec)

    def _filled(self, parts: Template, values: Mapping[str, Value]) -> str:
        written = []
        for before, slot, spec in parts:
            written.append(before)
            if slot is not None:
                value = values[slot]
                if isinstance(value, NUMBER):
                    written.append(self.figure(value, spec))
                elif isinstance(value, tuple):
                    written.append(("" if spec == "+" else spec or ", ").join(map(self.write, value)))
                else:
                    written.append(self.write(value))
        return "".join(written)


@cache
def _english() -> Writer:
    return Writer(ENGLISH, {key: template(words) for key, words in read(ENGLISH).items()})


def english(value: Value) -> str:
    """A sentence in the API's own English."""
    return value if isinstance(value, str) else _english().write(value)


def require_words(needed: Iterable[str] = ()) -> None:
    """Refuse to start while a declared or needed code has no words in a language, or not those with its slots.

    Raises
    ------
    RuntimeError
        Names code, language and slot.
    """
    wanted = dict(declared()) | {code: frozenset() for code in needed}
    known = {code: {key: words for key, words in read(code).items() if not key.startswith(REWORDED)} for code in LANGUAGES}
    for key in dict.fromkeys([*wanted, *(key for words in known.values() for key in words)]):
        expected = wanted.get(key, slots(known[ENGLISH].get(key, "")))
        for language in LANGUAGES:
            if not known[language].get(key, "").strip():
                raise RuntimeError(f"words/{language}.toml has no words for {key}")
            if wrong := slots(known[language][key]) ^ expected:
                raise RuntimeError(f"words/{language}.toml has other slots for {key}: {', '.join(sorted(wrong))}")
    for language in LANGUAGES:
        for key, words in read(language).items():
            of = key.removeprefix(REWORDED)
            if of != key and not slots(words) <= slots(known[language].get(of, "")):
                raise RuntimeError(f"words/{language}.toml rewords {of} with other slots")

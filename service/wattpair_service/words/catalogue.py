"""The catalogue: the words of every sentence in each language, and the service's own English.

A file has tables of words; `table.name` is a code of `engineering.sentences` or a key of the sheet. Text in {braces} is filled
in: {current_a:.4g} has the format of a number, {spacing_m:length} is a measure with its unit, {parts:; } what stands between
several parts, and {parts:+} joins them as they are. {units:#unit} is a count with its noun, singular or plural, from the table
`count`. Words under `reworded` take the place of those of the same code on the
sheet: the API's own name fields of the request.
"""

from __future__ import annotations

import logging
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from string import Formatter

from wattpair_service.engineering.sentences import LANGUAGES, Phrase, Sentence, Value, declared

Template = tuple[tuple[str, str | None, str], ...]
"""Words in parts: a text, and the slot that follows it with its format; no slot after the last."""
LOG = logging.getLogger(__name__)
NUMBER_FORMAT = re.compile(r"[+]?,?(\.\d+)?[efgd%]")
MEASURES = {"length": "m"}
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
            return self.say(value.code, **dict(value.values))
        if isinstance(value, NUMBER):
            return self.figure(value, "")
        return self.text(value.text_in(self.code)) if isinstance(value, Phrase) else str(value)

    def say(self, key: str, **values: Value) -> str:
        """The words of a key, filled in; the key itself where it has none, so that an answer never fails for a word."""
        parts = self.templates.get(key)
        if parts is None:
            LOG.error("no words for %s", key)
            return key
        return self._filled(parts, values)

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
                value = values.get(slot, "–")
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
        Names language, key and what is wrong.
    """
    _require_sound_words()
    wanted = dict(declared()) | {code: frozenset() for code in needed}
    known = {code: {key: words for key, words in read(code).items() if not key.startswith(REWORDED)} for code in LANGUAGES}
    for key in dict.fromkeys([*wanted, *(key for words in known.values() for key in words)]):
        expected = wanted.get(key, slots(known[ENGLISH].get(key, "")))
        for language in LANGUAGES:
            if key not in known[language]:
                raise RuntimeError(f"words/{language}.toml has no words for {key}")
            if wrong := slots(known[language][key]) ^ expected:
                raise RuntimeError(f"words/{language}.toml has other slots for {key}: {', '.join(sorted(wrong))}")


def _require_sound_words() -> None:
    """Refuse words that could not be written, and rewordings of nothing or with other slots."""
    for language in LANGUAGES:
        words = read(language)
        for key, each in words.items():
            if fault := _fault(each, words):
                raise RuntimeError(f"words/{language}.toml has {fault} for {key}")
            of = key.removeprefix(REWORDED)
            if of != key and not (of in words and slots(each) <= slots(words[of])):
                raise RuntimeError(f"words/{language}.toml rewords {of} with other slots")


def _fault(each: object, words: Mapping[str, str]) -> str | None:
    """What is wrong with one entry of a language's words by itself; None where nothing is."""
    if not isinstance(each, str) or not each.strip():
        return "no words"
    try:
        parts = tuple(Formatter().parse(each))
    except ValueError as error:
        return f"{error}"
    if any(conversion for *_, conversion in parts):
        return "a conversion"
    specs = [spec for _, _, spec, _ in parts if spec]
    return next((f"the format {spec!r}" for spec in specs if not _is_format(spec, words)), None)


def _is_format(spec: str, words: Mapping[str, str]) -> bool:
    """Whether this is the format of a number, a measure, a noun, or what stands between several parts."""
    if spec.startswith("#"):
        return all(f"count.{spec[1:]}_{form}" in words for form in ("one", "other"))
    return spec in MEASURES or spec == "+" or spec.endswith(" ") or NUMBER_FORMAT.fullmatch(spec) is not None

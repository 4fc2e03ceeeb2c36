"""The sheet's languages: its own words by key, the engine's sentences by their English text, numbers and dates by locale.

`words/en.toml` has the words of the sheet; each other language has the same keys and, under `engine`, the sentences of the
engine. There a key with {slots} stands for every sentence of that form; what fills a slot is looked up in turn.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import cache
from importlib.resources import files
from string import Formatter

from babel import Locale
from babel.dates import format_date, get_month_names
from babel.numbers import NumberPattern, format_currency, format_decimal, format_percent, list_currencies, parse_pattern

LANGUAGES = {"en": "en_GB", "de": "de_DE"}
"""Each language with the locale that writes its numbers and dates."""

Words = Mapping[str, str]

_FIGURE = re.compile(r"([+-]?\d+(?:\.\d+)?)(%?)")


def slots(words: str) -> set[str]:
    """Names of the places in a text that are filled in."""
    return {name for _, name, _, _ in Formatter().parse(words) if name is not None}


def read(code: str) -> tuple[dict[str, str], dict[str, str]]:
    """The words of a language by key (table and name joined by a dot), and its sentences of the engine."""
    data = tomllib.loads((files("wattpair_service.report") / "words" / f"{code}.toml").read_text(encoding="utf-8"))
    engine = data.pop("engine", {})
    return {f"{table}.{name}": words for table, entries in data.items() for name, words in entries.items()}, engine


@dataclass(frozen=True, slots=True)
class _Form:
    """Sentences of one form: what they look like, and the same in the other language."""

    pattern: re.Pattern[str]
    words: str


@dataclass(frozen=True, slots=True)
class Language:
    """One language, with what an operator says in other words."""

    code: str
    words: Words
    sentences: Words
    forms: tuple[_Form, ...]
    locale: Locale = field(repr=False)

    def with_words(self, words: Words) -> Language:
        """The same with an operator's own words for some keys."""
        return replace(self, words={**self.words, **words})

    def say(self, key: str, **values: object) -> str:
        """The words of a key, filled in."""
        return self.words[key].format(**values)

    def engine(self, sentence: str) -> str:
        """A sentence of the engine in this language; as it came where it is none, such as a citation or a name."""
        return self.known(sentence) or sentence

    def known(self, sentence: str) -> str | None:
        """The same, None where the language does not know it."""
        if sentence in self.sentences:
            return self.sentences[sentence]
        for form in self.forms:
            match = form.pattern.fullmatch(sentence)
            if match:
                filled = {name: self._filled(value) for name, value in match.groupdict().items()}
                return form.words.format(**filled)
        return sentence if self.code == "en" else None

    def _filled(self, value: str) -> str:
        """What stands in a slot: a number as the locale writes it, or words that the language may know."""
        figure = _FIGURE.fullmatch(value)
        if figure is None:
            return self.engine(value)
        percent = "" if not figure[2] else "\u00a0%" if self.code == "de" else "%"
        return str(format_decimal(Decimal(figure[1]), locale=self.locale)) + percent

    def number(self, value: float | Decimal, decimals: int = 0) -> str:
        """A number with so many decimals; no minus before nothing."""
        rounded = round(Decimal(value), decimals)
        return _decimal(decimals).apply(rounded or Decimal(0), self.locale)

    def general(self, value: float) -> str:
        """A number with the decimals that it has, at most four."""
        return str(format_decimal(round(value, 4), locale=self.locale))

    def percent(self, share: float | Decimal, decimals: int = 0, *, signed: bool = False) -> str:
        """A share as percent; `signed` puts a plus before a gain."""
        rounded = round(Decimal(share), decimals + 2) or Decimal(0)
        pattern = "0" + ("." + "0" * decimals if decimals else "")
        gap = "\u00a0%" if self.code == "de" else "%"
        plus = "+" if signed and rounded > 0 else ""
        return plus + str(format_percent(rounded, pattern + gap, locale=self.locale))

    def money(self, amount: float | Decimal, currency: str | None) -> str:
        """An amount with its currency; a name that is no known code stands after it."""
        value = round(Decimal(amount), 2) if isinstance(amount, float | int) else amount
        if currency in list_currencies():
            return str(format_currency(value, currency, locale=self.locale, currency_digits=True))
        figure = str(format_decimal(value, format="#,##0.00", locale=self.locale))
        return f"{figure} {currency}" if currency else figure

    def month(self, number: int) -> str:
        """Name of a month, from 1."""
        return str(get_month_names("wide", locale=self.locale)[number])

    def day(self, value: date) -> str:
        """A date in full."""
        return str(format_date(value, format="long", locale=self.locale))


@cache
def _decimal(decimals: int) -> NumberPattern:
    return parse_pattern("#,##0" + ("." + "0" * decimals if decimals else ""))


@cache
def language(code: str) -> Language:
    """A language of `LANGUAGES`."""
    words, sentences = read(code)
    forms = tuple(_Form(_pattern(english), said) for english, said in sentences.items() if slots(english))
    return Language(code, words, {k: v for k, v in sentences.items() if not slots(k)}, forms, Locale.parse(LANGUAGES[code]))


def _pattern(english: str) -> re.Pattern[str]:
    parts = []
    for before, name, _, _ in Formatter().parse(english):
        parts.append(re.escape(before))
        if name is not None:
            parts.append(f"(?P<{name}>.+?)")
    return re.compile("".join(parts), re.DOTALL)

"""The sheet's languages: words by key, sentences of the engine by their English text, numbers and dates by locale.

`words/en.toml` has the words of the sheet; each other language has the same keys and, under `engine`, translations of the
engine's sentences. There a key with {slots} matches every sentence of that form; the text in a slot is translated too.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import cache
from importlib.resources import files
from math import floor, log10
from string import Formatter

from babel import Locale
from babel.dates import format_date, get_month_names
from babel.numbers import NumberPattern, format_currency, format_decimal, format_percent, list_currencies, parse_pattern

LANGUAGES = {"en": "en_GB", "de": "de_DE"}
"""Each language with its locale for numbers and dates."""
LOCALES_BY_PLACE = {("en", "United States"): "en_US", ("en", "Australia"): "en_AU", ("en", "Ireland"): "en_IE"}
"""Locales for the countries of a region's rules that differ from the language's own."""
MINUS = "\u2212"

Words = Mapping[str, str]

_FIGURE = re.compile(r"([+-]?\d+(?:\.\d+)?)(%?)")
_PERCENT = re.compile(r"(?<=\d)[ \u00a0]?%")


def slots(words: str) -> set[str]:
    """Names of the {slots} in a text."""
    return {name for _, name, _, _ in Formatter().parse(words) if name is not None}


def read(code: str) -> tuple[dict[str, str], dict[str, str]]:
    """The words of a language by key (`table.name`), and its translations of the engine's sentences."""
    data = tomllib.loads((files("wattpair_service.report") / "words" / f"{code}.toml").read_text(encoding="utf-8"))
    engine = data.pop("engine", {})
    return {f"{table}.{name}": words for table, entries in data.items() for name, words in entries.items()}, engine


@dataclass(frozen=True, slots=True)
class _Form:
    """Sentences of one form: their pattern in English, and their translation."""

    pattern: re.Pattern[str]
    words: str


@dataclass(frozen=True, slots=True)
class Language:
    """One language, with the operator's own words for some keys."""

    code: str
    words: Words
    sentences: Words
    forms: tuple[_Form, ...]
    locale: Locale = field(repr=False)

    def with_words(self, words: Words) -> Language:
        """The language with the operator's own words for some keys."""
        return replace(self, words={**self.words, **words})

    def say(self, key: str, **values: object) -> str:
        """The words of a key, filled in."""
        return self.words[key].format(**values)

    def engine(self, sentence: str) -> str:
        """The translation of a sentence of the engine; an unknown text, such as a citation or a name, stays as it is.

        Empty where the catalogue marks the sentence as not for the customer.
        """
        known = self.known(sentence)
        return _PERCENT.sub(self._percent_sign, sentence if known is None else known)

    @property
    def _percent_sign(self) -> str:
        """The percent sign after a figure, as the language writes it."""
        return "\u00a0%" if self.code == "de" else "%"

    def known(self, sentence: str) -> str | None:
        """The translation of a sentence of the engine; None where there is none."""
        if sentence in self.sentences:
            return self.sentences[sentence]
        for form in self.forms:
            match = form.pattern.fullmatch(sentence)
            if match:
                filled = {name: self._filled(value) for name, value in match.groupdict().items()}
                return form.words.format(**filled)
        return sentence if self.code == "en" else None

    def _filled(self, value: str) -> str:
        """The text in a slot: a number in the locale's form, or words with their translation."""
        figure = _FIGURE.fullmatch(value)
        if figure is None:
            return self.engine(value)
        return _minus(format_decimal(Decimal(figure[1]), locale=self.locale)) + figure[2]

    def number(self, value: float | Decimal, decimals: int = 0) -> str:
        """A number with this many decimals; zero has no minus sign."""
        rounded = round(Decimal(value), decimals)
        return _minus(_decimal(decimals).apply(rounded or Decimal(0), self.locale))

    def general(self, value: float) -> str:
        """A number with as many decimals as it has, at most four."""
        return _minus(format_decimal(round(value, 4), locale=self.locale))

    def percent(self, share: float | Decimal, decimals: int = 0, *, signed: bool = False) -> str:
        """A share as percent; with `signed`, a positive one has a plus sign."""
        rounded = round(Decimal(share), decimals + 2) or Decimal(0)
        pattern = "0" + ("." + "0" * decimals if decimals else "")
        plus = "+" if signed and rounded > 0 else ""
        return plus + _minus(format_percent(rounded, pattern + self._percent_sign, locale=self.locale))

    def money(self, amount: float | Decimal, currency: str | None) -> str:
        """An amount with its currency; an unknown currency is written after it as it is."""
        value = round(Decimal(amount), 2) if isinstance(amount, float | int) else amount
        if currency in list_currencies():
            return _minus(format_currency(value, currency, locale=self.locale, currency_digits=True))
        figure = _minus(format_decimal(value, format="#,##0.00", locale=self.locale))
        return f"{figure} {currency}" if currency else figure

    def whole_money(self, amount: float | Decimal, currency: str | None) -> str:
        """An amount rounded to whole units of the currency, for estimates."""
        value = round(Decimal(amount)) or Decimal(0)
        if currency in list_currencies():
            whole = self.locale.currency_formats["standard"].pattern.replace(".00", "")
            return _minus(format_currency(value, currency, whole, locale=self.locale, currency_digits=False))
        return f"{self.number(value)} {currency}" if currency else self.number(value)

    def estimates(self, amounts: Sequence[float], currency: str | None) -> tuple[str, ...]:
        """Amounts of one range, rounded to three significant figures of the largest."""
        largest = max(map(abs, amounts))
        decimals = 2 - floor(log10(largest)) if largest > 0.0 else 0
        rounded = [round(Decimal(each), decimals) or Decimal(0) for each in amounts]
        write = self.whole_money if decimals <= 0 else self.money
        return tuple(write(each, currency) for each in rounded)

    def counted(self, name: str, count: int) -> str:
        """A count with its noun, in singular or plural."""
        form = "one" if count == 1 else "other"
        return self.say(f"count.{name}_{form}", count=self.number(count))

    def month(self, number: int) -> str:
        """Name of a month, from 1."""
        return str(get_month_names("wide", locale=self.locale)[number])

    def day(self, value: date) -> str:
        """A date in full."""
        return str(format_date(value, format="long", locale=self.locale))


def _minus(written: object) -> str:
    """A number's text with a true minus sign in place of the hyphen."""
    return str(written).replace("-", MINUS)


@cache
def _decimal(decimals: int) -> NumberPattern:
    return parse_pattern("#,##0" + ("." + "0" * decimals if decimals else ""))


@cache
def language(code: str, place: str | None = None) -> Language:
    """A language of `LANGUAGES`, with the locale of a country where it has its own."""
    if place is not None and (code, place) not in LOCALES_BY_PLACE:
        return language(code)
    words, sentences = read(code)
    forms = tuple(_Form(_pattern(english), translation) for english, translation in sentences.items() if slots(english))
    locale = LOCALES_BY_PLACE[code, place] if place else LANGUAGES[code]
    return Language(code, words, {k: v for k, v in sentences.items() if not slots(k)}, forms, Locale.parse(locale))


def _pattern(english: str) -> re.Pattern[str]:
    parts = []
    for before, name, _, _ in Formatter().parse(english):
        parts.append(re.escape(before))
        if name is not None:
            parts.append(f"(?P<{name}>.+?)")
    return re.compile("".join(parts), re.DOTALL)

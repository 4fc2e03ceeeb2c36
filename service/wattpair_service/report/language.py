"""The sheet's languages: its own words by key, the engine's sentences by their English text, numbers and dates by locale.

`words/en.toml` has the words of the sheet; each other language has the same keys and, under `engine`, the sentences of the
engine. There a key with {slots} stands for every sentence of that form; what fills a slot is looked up in turn.
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
"""Each language with the locale that writes its numbers and dates."""
PLACES = {("en", "United States"): "en_US", ("en", "Australia"): "en_AU", ("en", "Ireland"): "en_IE"}
"""Where a region's rules hold, another locale of the language."""
MINUS = "\u2212"

Words = Mapping[str, str]

_FIGURE = re.compile(r"([+-]?\d+(?:\.\d+)?)(%?)")
_PERCENT = re.compile(r"(?<=\d)[ \u00a0]?%")


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
        """A sentence of the engine in this language; as it came where it is none, such as a citation or a name.

        Empty where the words say that it is not for the customer.
        """
        known = self.known(sentence)
        return _PERCENT.sub(self._percent_sign, sentence if known is None else known)

    @property
    def _percent_sign(self) -> str:
        """As the language sets it behind a figure."""
        return "\u00a0%" if self.code == "de" else "%"

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
        return _minus(format_decimal(Decimal(figure[1]), locale=self.locale)) + figure[2]

    def number(self, value: float | Decimal, decimals: int = 0) -> str:
        """A number with so many decimals; no minus before nothing."""
        rounded = round(Decimal(value), decimals)
        return _minus(_decimal(decimals).apply(rounded or Decimal(0), self.locale))

    def general(self, value: float) -> str:
        """A number with the decimals that it has, at most four."""
        return _minus(format_decimal(round(value, 4), locale=self.locale))

    def percent(self, share: float | Decimal, decimals: int = 0, *, signed: bool = False) -> str:
        """A share as percent; `signed` puts a plus before a gain."""
        rounded = round(Decimal(share), decimals + 2) or Decimal(0)
        pattern = "0" + ("." + "0" * decimals if decimals else "")
        plus = "+" if signed and rounded > 0 else ""
        return plus + _minus(format_percent(rounded, pattern + self._percent_sign, locale=self.locale))

    def money(self, amount: float | Decimal, currency: str | None) -> str:
        """An amount with its currency; a name that is no known code stands after it."""
        value = round(Decimal(amount), 2) if isinstance(amount, float | int) else amount
        if currency in list_currencies():
            return _minus(format_currency(value, currency, locale=self.locale, currency_digits=True))
        figure = _minus(format_decimal(value, format="#,##0.00", locale=self.locale))
        return f"{figure} {currency}" if currency else figure

    def whole_money(self, amount: float | Decimal, currency: str | None) -> str:
        """An amount without its smallest coins, which an estimate does not know."""
        value = round(Decimal(amount)) or Decimal(0)
        if currency in list_currencies():
            whole = self.locale.currency_formats["standard"].pattern.replace(".00", "")
            return _minus(format_currency(value, currency, whole, locale=self.locale, currency_digits=False))
        return f"{self.number(value)} {currency}" if currency else self.number(value)

    def estimates(self, amounts: Sequence[float], currency: str | None) -> tuple[str, ...]:
        """Amounts that belong to one range, to three figures of the largest."""
        largest = max(map(abs, amounts))
        decimals = 2 - floor(log10(largest)) if largest > 0.0 else 0
        rounded = [round(Decimal(each), decimals) or Decimal(0) for each in amounts]
        write = self.whole_money if decimals <= 0 else self.money
        return tuple(write(each, currency) for each in rounded)

    def counted(self, name: str, count: int) -> str:
        """So many of a thing, in the number that the language asks for."""
        form = "one" if count == 1 else "other"
        return self.say(f"count.{name}_{form}", count=self.number(count))

    def month(self, number: int) -> str:
        """Name of a month, from 1."""
        return str(get_month_names("wide", locale=self.locale)[number])

    def day(self, value: date) -> str:
        """A date in full."""
        return str(format_date(value, format="long", locale=self.locale))


def _minus(written: object) -> str:
    """A written number with a real minus sign."""
    return str(written).replace("-", MINUS)


@cache
def _decimal(decimals: int) -> NumberPattern:
    return parse_pattern("#,##0" + ("." + "0" * decimals if decimals else ""))


@cache
def language(code: str, place: str | None = None) -> Language:
    """A language of `LANGUAGES`, as it is written where a place is named that writes it in its own way."""
    if place is not None and (code, place) not in PLACES:
        return language(code)
    words, sentences = read(code)
    forms = tuple(_Form(_pattern(english), said) for english, said in sentences.items() if slots(english))
    locale = PLACES[code, place] if place else LANGUAGES[code]
    return Language(code, words, {k: v for k, v in sentences.items() if not slots(k)}, forms, Locale.parse(locale))


def _pattern(english: str) -> re.Pattern[str]:
    parts = []
    for before, name, _, _ in Formatter().parse(english):
        parts.append(re.escape(before))
        if name is not None:
            parts.append(f"(?P<{name}>.+?)")
    return re.compile("".join(parts), re.DOTALL)

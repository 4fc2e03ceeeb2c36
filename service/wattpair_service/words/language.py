"""The sheet's languages: words with numbers, money, months and dates as a locale writes them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import cache
from math import ceil, floor, log10

from babel import Locale
from babel.dates import format_date, format_skeleton, get_month_names
from babel.numbers import NumberPattern, format_currency, format_decimal, format_percent, list_currencies, parse_pattern

from wattpair_service.words.catalogue import MEASURES, REWORDED, Template, Writer, read, template

LOCALES = {"en": "en_GB", "de": "de_DE"}
"""Each language with its locale for numbers and dates."""
LOCALES_BY_PLACE = {("en", "United States"): "en_US", ("en", "Australia"): "en_AU", ("en", "Ireland"): "en_IE"}
"""Locales for the countries of a region's rules that differ from the language's own."""
MINUS = "\u2212"
METRES_PER_FOOT, KILOGRAMS_PER_POUND = 0.3048, 0.45359237
"""International foot and pound, exact: NIST Special Publication 811, appendix B."""
CUSTOMARY = {"kg": ("lb", KILOGRAMS_PER_POUND), "kg/m2": ("lb/ft²", KILOGRAMS_PER_POUND / METRES_PER_FOOT**2)}
MEASURED = ("m", *CUSTOMARY)
"""Units that a paper of feet and pounds replaces."""
PERCENT_SIGNS = {"en": "%", "de": "\u00a0%"}
"""The percent sign after a figure, as the language writes it."""

_FIGURE = re.compile(r"([+-]?)(\d+)(?:\.(\d+))?(%?)")
_PERCENT = re.compile(r"(?<=\d)[ \u00a0]?%")
_PERCENT_AFTER_SLOT = re.compile(r"(?:(?<=\d)|^)[ \u00a0]?%")


@dataclass(frozen=True, slots=True)
class Language(Writer):
    """One language, with the operator's own words for some keys."""

    locale: Locale = field(repr=False)
    has_feet: bool = False

    def with_words(self, words: Mapping[str, str]) -> Language:
        """The language with the operator's own words for some keys."""
        return replace(self, templates={**self.templates, **{key: _template(self.code, each) for key, each in words.items()}})

    def on_paper(self, paper: str) -> Language:
        """The language with the units that go with a paper: feet, inches and pounds with Letter."""
        return replace(self, has_feet=paper == "Letter")

    def known(self, key: str) -> str | None:
        """The words of a key without slots; None where there are none."""
        return self.say(key) if key in self.templates else None

    def text(self, text: str) -> str:
        """A text of a region's rules, with percent signs as the language writes them."""
        return _PERCENT.sub(PERCENT_SIGNS[self.code], text)

    def figure(self, value: float, spec: str) -> str:
        """A number in a format, as the locale writes it; one without a format as it is. Measures have the paper's units."""
        if spec.startswith("#"):
            return self.counted(spec.removeprefix("#"), value)
        if spec in MEASURES:
            return self.measured(value, MEASURES[spec])
        written = format(value, spec)
        parts = _FIGURE.fullmatch(written)
        if parts is None:
            return written
        sign, whole, decimals, percent = parts.groups()
        number = self.number(Decimal(f"{'-' if sign == '-' else ''}{whole}.{decimals or 0}"), len(decimals or ""))
        return ("+" if sign == "+" else "") + number + (percent and PERCENT_SIGNS[self.code])

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
        return plus + _minus(format_percent(rounded, pattern + PERCENT_SIGNS[self.code], locale=self.locale))

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

    @property
    def length_unit(self) -> tuple[str, float]:
        """The unit of lengths, and how many metres it has."""
        return ("ft", METRES_PER_FOOT) if self.has_feet else ("m", 1.0)

    def length(self, metres: float) -> str:
        """A length: metres with one decimal, or feet and inches."""
        if not self.has_feet:
            return f"{self.number(metres, 1)} m"
        feet, inches = divmod(round(metres / METRES_PER_FOOT * 12.0), 12)
        return f"{self.number(feet)} ft" + (f" {inches} in" if inches else "")

    def measured(self, value: float, unit: str) -> str:
        """A figure in m, kg or kg/m2 with the unit of the paper; lengths as builders write them."""
        if not self.has_feet:
            return f"{self.general(value)} {unit.replace('m2', 'm²')}"
        if unit == "m":
            return self.length(value)
        customary, size = CUSTOMARY[unit]
        return f"{self.number(value / size, 1)} {customary}"

    def height(self, metres: float) -> str:
        """A height in whole metres or feet."""
        unit, unit_m = self.length_unit
        return f"{self.number(metres / unit_m)} {unit}"

    def ordered_length(self, metres: int) -> str:
        """A length to order in metres, as prices are for a metre; with feet beside, never short."""
        feet = f" ({self.number(ceil(metres / METRES_PER_FOOT - 1e-9))} ft)" if self.has_feet else ""
        return f"{self.number(metres)} m{feet}"

    def mass(self, kilograms: float) -> str:
        """A mass in whole kilograms or pounds."""
        return f"{self.number(kilograms / KILOGRAMS_PER_POUND)} lb" if self.has_feet else f"{self.number(kilograms)} kg"

    def month(self, number: int) -> str:
        """Name of a month, from 1."""
        return str(get_month_names("wide", locale=self.locale)[number])

    def day_of_year(self, month: int, day: int) -> str:
        """A day of any year."""
        return str(format_skeleton("MMMMd", date(2001, month, day), locale=self.locale))

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
    """A language of `LOCALES`, with the locale of a country where it has its own."""
    if place is not None and (code, place) not in LOCALES_BY_PLACE:
        return language(code)
    words = read(code)
    reworded = {key.removeprefix(REWORDED): each for key, each in words.items() if key.startswith(REWORDED)}
    locale = LOCALES_BY_PLACE[code, place] if place else LOCALES[code]
    templates = {key: _template(code, each) for key, each in {**words, **reworded}.items()}
    return Language(code, templates, Locale.parse(locale))


def _template(code: str, words: str) -> Template:
    """Words in parts, with units and percent signs as the sheet writes them."""
    parts, after_slot = [], False
    for before, slot, spec in template(words):
        pattern = _PERCENT_AFTER_SLOT if after_slot else _PERCENT
        before = before.replace("degC", "°C").replace("m2", "m²")
        parts.append((pattern.sub(PERCENT_SIGNS[code], before), slot, spec))
        after_slot = slot is not None
    return tuple(parts)

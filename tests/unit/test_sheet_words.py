"""Numbers, money, dates and sentences of a sheet follow the language, and English the country of the roof."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal

import pytest

from wattpair_service.engineering.selection.recommendation import FAILURE_RATE, LOWER_TARIFF
from wattpair_service.engineering.sentences import COMMON_PRACTICE, Cited, Phrase
from wattpair_service.report.sections.installer import coordinates
from wattpair_service.words.catalogue import english
from wattpair_service.words.language import Language, language


@pytest.mark.parametrize(
    ("write", "english", "german"),
    [
        (lambda to: to.number(1234.5, 1), "1,234.5", "1.234,5"),
        (lambda to: to.number(-0.04, 1), "0.0", "0,0"),
        (lambda to: to.number(-2.0), "\u22122", "\u22122"),
        (lambda to: to.money(1234.5, "EUR"), "€1,234.50", "1.234,50\u00a0€"),
        (lambda to: to.money(12.0, "shells"), "12.00 shells", "12,00 shells"),
        (lambda to: to.money(12.0, None), "12.00", "12,00"),
        (lambda to: to.whole_money(1234.5, "JPY"), "JP¥1,234", "1.234\u00a0¥"),
        (lambda to: to.money(Decimal(1234), "JPY"), "JP¥1,234", "1.234\u00a0¥"),
        (lambda to: to.percent(0.0234, 2), "2.34%", "2,34\u00a0%"),
        (lambda to: to.text("0.5 %"), "0.5%", "0.5\u00a0%"),
        (lambda to: to.estimates((13835.37, 11869.69), "EUR"), ("€13,800", "€11,900"), ("13.800\u00a0€", "11.900\u00a0€")),
        (lambda to: to.estimates((12.345, -1.0), "EUR"), ("€12.30", "\u2212€1.00"), ("12,30\u00a0€", "\u22121,00\u00a0€")),
        (lambda to: to.counted("unit", 1), "1 unit", "1 Gerät"),
        (lambda to: to.counted("unit", 2), "2 units", "2 Geräte"),
        (lambda to: coordinates(to, -52.1, 5.2), "52.1° S, 5.2° E", "52,1° S, 5,2° O"),
        (lambda to: to.write(Cited("Jones et al. 1999")), "Jones et al. 1999", "Jones et al. 1999"),
        (lambda to: to.write(Phrase((("en", "up to 60 %"), ("de", "bis 60 %")))), "up to 60%", "bis 60\u00a0%"),
        (lambda to: to.write(Phrase((("en", "up to 16 A"),))), "up to 16 A", "up to 16 A"),
        (
            lambda to: to.write(FAILURE_RATE(percent=0.02)),
            "a failure rate of 0.02% a year", "eine Ausfallrate von 0,02\u00a0% im Jahr",
        ),
        (lambda to: to.write(LOWER_TARIFF(share=0.2)), "a tariff 20% lower", "ein um 20\u00a0% niedrigerer Tarif"),
        (lambda to: to.figure(-1234.5, "+.1f"), "\u22121,234.5", "\u22121.234,5"),
        (lambda to: to.figure(12.0, "+.0f"), "+12", "+12"),
        (lambda to: to.figure(1e20, "g"), "1e+20", "1e+20"),
    ],
)  # fmt: skip
def test_numbers_money_and_texts_follow_the_language(
    write: Callable[[Language], object], english: object, german: object
) -> None:
    assert (write(language("en")), write(language("de"))) == (english, german)


def test_the_api_writes_numbers_plainly() -> None:
    assert english(FAILURE_RATE(percent=0.02)) == "a failure rate of 0.02 % a year"
    assert english(COMMON_PRACTICE) == "common practice, no source"


def test_english_follows_the_country_of_the_roof() -> None:
    american, british = language("en", "United States"), language("en", "Germany")
    day = date(2026, 3, 4)
    assert (american.day(day), british.day(day)) == ("March 4, 2026", "4 March 2026")
    assert (american.money(1.5, "USD"), british.money(1.5, "USD")) == ("$1.50", "US$1.50")

"""The service starts only where everything that it can say has its words, with its slots, in every language."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from wattpair_service import rules
from wattpair_service.app import create_app, require_complete_words
from wattpair_service.engineering.cautions import LOCAL_CODES
from wattpair_service.engineering.sentences import LANGUAGES, sentence
from wattpair_service.words import catalogue

FAR = "caution.far_weather"
WORDS = {code: dict(catalogue.read(code)) for code in LANGUAGES}


@pytest.mark.parametrize("code", LANGUAGES)
@pytest.mark.parametrize(
    ("key", "words", "told"),
    [
        (f"caution.{LOCAL_CODES.code}", None, "no words for caution.local_codes"),
        (FAR, "The weather is from far away.", "other slots for caution.far_weather: distance_km"),
        (FAR, "{distance_km:.0f} km from {station}", "other slots for caution.far_weather: station"),
        ("name.albedo", None, "no words for name.albedo"),
        ("value.perez_1990", " ", "no words for value.perez_1990"),
        ("sheet.title", None, "no words for sheet.title"),
        ("sheet.one_more", "One more", "no words for sheet.one_more"),
        ("reworded.caution.far_weather", "{km} km", "rewords caution.far_weather with other slots"),
        ("reworded.caution.far_whether", "far", "rewords caution.far_whether with other slots"),
        (FAR, "{distance_km:.2q} km", "the format '.2q' for caution.far_weather"),
        (FAR, "{distance_km:lenght} km", "the format 'lenght' for caution.far_weather"),
        (FAR, "{distance_km!r} km", "a conversion for caution.far_weather"),
        (FAR, "{distance_km", "expected '}' before end of string for caution.far_weather"),
    ],
)
def test_without_its_words_the_service_does_not_start(
    monkeypatch: pytest.MonkeyPatch, code: str, key: str, words: str | None, told: str
) -> None:
    changed = {name: each for name, each in (WORDS[code] | {key: words}).items() if each is not None}
    monkeypatch.setattr(catalogue, "read", lambda asked: changed if asked == code else WORDS[asked])
    require_complete_words.cache_clear()
    with pytest.raises(RuntimeError, match=told):
        create_app()
    require_complete_words.cache_clear()


def test_a_region_has_its_texts_in_every_language(monkeypatch: pytest.MonkeyPatch) -> None:
    def without_german(region: str) -> Mapping[str, object]:
        return {"routes": [{"allows": {"en": f"what {region} allows"}}]}

    monkeypatch.setattr(rules, "_region", without_german)
    with pytest.raises(RuntimeError, match=r"rules/australia\.toml has no words in de for 'what australia allows'"):
        rules.require_languages()


def test_a_sentence_takes_the_slots_that_it_declares_and_is_declared_once() -> None:
    far = sentence(FAR, "distance_km")
    with pytest.raises(TypeError, match="distance_km"):
        far(distance_m=3.0)
    with pytest.raises(ValueError, match="declared twice"):
        sentence(FAR, "distance_m")


SAFETY = {
    "isolation": ("can kill", "isolate both", "prove dead"),
    "connectors": ("under load", "arc"),
    "connector_makes": ("different makes", "burn"),
    "outage": ("no output in an outage",),
    "consent": ("Do not switch on", "network operator"),
    "structure": ("wind and snow are not covered", "structural engineer"),
    "height": ("fall protection",),
    "local_codes": ("Local codes", "licensed electrician"),
    "cable_fails": ("not protected",),
}
"""What the cautions that keep people from harm must say, by their codes."""


@pytest.mark.parametrize("code", SAFETY)
def test_a_safety_caution_says_what_it_must(code: str) -> None:
    words = catalogue.read("en")[f"caution.{code}"]
    assert [each for each in SAFETY[code] if each not in words] == []

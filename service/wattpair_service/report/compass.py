"""Directions as points of the compass."""

from __future__ import annotations

from wattpair_service.engineering.sentences import family
from wattpair_service.words.language import Language

COMPASS_POINTS = ("n", "ne", "e", "se", "s", "sw", "w", "nw")
family("roof", (f"compass_{point}" for point in COMPASS_POINTS))
LETTERS = {"n": "north", "e": "east", "s": "south", "w": "west"}


def point_of(azimuth_deg: float) -> str:
    """The nearest of the eight points."""
    return COMPASS_POINTS[round(azimuth_deg / 45.0) % 8]


def name_of(language: Language, azimuth_deg: float) -> str:
    """The nearest point in words."""
    return language.say(f"roof.compass_{point_of(azimuth_deg)}")


def letters_of(language: Language, azimuth_deg: float) -> str:
    """The nearest point in letters."""
    return "".join(language.say(f"sheet.{LETTERS[letter]}") for letter in point_of(azimuth_deg))

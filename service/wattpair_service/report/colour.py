"""Checks the company's accent colour: it must be readable on white."""

from __future__ import annotations

import re

CONTRAST_LEAST = 4.5
"""Against white, for text (WCAG 2.2, 1.4.3)."""
ALLOWED = "a colour such as #1f5c4d: # and six hexadecimal digits"
OWN = "#1f5c4d"
"""The default accent colour."""
_FORM = re.compile(r"#[0-9a-fA-F]{6}")


class ColourError(ValueError):
    """A colour that is refused; the text says what is allowed."""


def checked(colour: str) -> str:
    """The accent colour, unchanged.

    Raises
    ------
    ColourError
        It is no colour, or too light to be read on white; the text then names the nearest darker one of the same hue.
    """
    if not _FORM.fullmatch(colour):
        raise ColourError(ALLOWED)
    found = contrast_on_white(colour)
    if found < CONTRAST_LEAST:
        raise ColourError(
            f"a colour of contrast {CONTRAST_LEAST:g} or more against white, so that it can be read; this one has {found:.1f}, "
            f"and {darker(colour)} would do"
        )
    return colour


def contrast_on_white(colour: str) -> float:
    """Contrast of a colour against white, from 1 to 21 (WCAG 2.2)."""
    parts = [int(colour[at : at + 2], 16) / 255.0 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 1.05 / (0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2] + 0.05)


def darker(colour: str) -> str:
    """The lightest shade of a colour that has enough contrast."""
    parts = [int(colour[at : at + 2], 16) for at in (1, 3, 5)]
    for hundredth in range(99, -1, -1):
        shade = "#" + "".join(f"{round(part * hundredth / 100.0):02x}" for part in parts)
        if contrast_on_white(shade) >= CONTRAST_LEAST:
            return shade
    raise AssertionError("black has a contrast of 21")


def tint(colour: str, share: float) -> str:
    """A share of a colour (0-1) on white paper."""
    parts = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return "#" + "".join(f"{round(255.0 - (255.0 - part) * share):02x}" for part in parts)


def readable_on(ground: str, dark: str, light: str) -> str:
    """Of two colours the one that is easier to read on a ground."""
    on_white = contrast_on_white(ground)
    return light if on_white / contrast_on_white(light) >= contrast_on_white(dark) / on_white else dark

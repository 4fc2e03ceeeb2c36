"""The one way from text to markup: whatever comes from a request is text, and stays text."""

from __future__ import annotations

import re

from markupsafe import Markup, escape

_UNSEEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\ufff9-\ufffb\ufffe\uffff\ud800-\udfff]"
)
"""Control characters, halves of surrogates, and marks that turn the direction of reading: none may reorder or break a page."""


def plain(text: object) -> str:
    """A text without characters that nobody sees."""
    return _UNSEEN.sub("", str(text))


def shown(value: object) -> object:
    """What a template prints: markup that this package made, anything else as plain text, which Jinja then escapes."""
    return value if isinstance(value, Markup) else plain(value)


def element(name: str, *children: object, **attributes: object) -> Markup:
    """One element; children and attributes are escaped unless they are markup already.

    An underscore in an attribute's name stands for a hyphen, one at its end for nothing; None leaves the attribute out.
    """
    given = Markup("").join(
        Markup(' {}="{}"').format(key.rstrip("_").replace("_", "-"), _value(value))
        for key, value in attributes.items()
        if value is not None
    )
    inner = Markup("").join(child if isinstance(child, Markup) else escape(plain(child)) for child in children)
    return Markup("<{0}{1}>{2}</{0}>").format(name, given, inner)


def _value(value: object) -> str:
    """A number with two decimals at most, or plain text."""
    if isinstance(value, float):
        rounded = round(value, 2) + 0.0  # never -0
        return f"{rounded:.2f}".rstrip("0").rstrip(".")
    return plain(value)

"""Turns text into markup. Text from a request is always escaped."""

from __future__ import annotations

import re

from markupsafe import Markup, escape

_UNSEEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\ufff9-\ufffb\ufffe\uffff\ud800-\udfff]"
)
"""Control characters, lone surrogates, and marks that change the text direction: they could reorder or break a page."""


def plain(text: object) -> str:
    """A text without invisible control characters."""
    return _UNSEEN.sub("", str(text))


def shown(value: object) -> object:
    """A template's value: markup stays, anything else becomes plain text, which Jinja escapes."""
    return value if isinstance(value, Markup) else plain(value)


def element(name: str, *children: object, **attributes: object) -> Markup:
    """One element; children and attributes are escaped unless they are markup.

    An underscore in an attribute's name becomes a hyphen, one at its end is dropped. None leaves the attribute out.
    """
    attribute_text = Markup("").join(
        Markup(' {}="{}"').format(key.rstrip("_").replace("_", "-"), _value(value))
        for key, value in attributes.items()
        if value is not None
    )
    inner = Markup("").join(child if isinstance(child, Markup) else escape(plain(child)) for child in children)
    return Markup("<{0}{1}>{2}</{0}>").format(name, attribute_text, inner)


def _value(value: object) -> str:
    """A number with two decimals at most, or plain text."""
    if isinstance(value, float):
        rounded = round(value, 2) + 0.0  # never -0
        return f"{rounded:.2f}".rstrip("0").rstrip(".")
    return plain(value)

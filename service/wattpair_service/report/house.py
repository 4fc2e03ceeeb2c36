"""The company's letterhead and options of the sheet: from the request, else from the operator's file."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from datetime import date
from pathlib import Path
from string import Formatter
from typing import Any

from wattpair_service.engineering.sentences import LANGUAGES, declared
from wattpair_service.report import colour, logo
from wattpair_service.words.catalogue import REWORDED, read

PAPERS = ("A4", "Letter")
PARTS = ("customer", "installer")
"""Parts of a sheet: one page for the customer, and pages for the installer."""
LETTERHEAD = ("company", "address", "logo")
LINE_MOST, LINES_MOST, NOTES_MOST = 120, 6, 2000
"""Most characters of a line, lines of an address, and characters of the notes."""


class HouseFileError(ValueError):
    """An operator's file that cannot be used; the message is one line."""


@dataclass(frozen=True, slots=True)
class SheetOptions:
    """Options and letterhead of a sheet; None or empty where not given."""

    company: str | None = None
    address: tuple[str, ...] = ()
    accent: str | None = None
    logo: str | None = None
    language: str | None = None
    paper: str | None = None
    customer: str | None = None
    notes: str | None = None
    date: date | None = None
    parts: tuple[str, ...] = ()

    @property
    def shown_parts(self) -> tuple[str, ...]:
        """The parts of the sheet: all unless some are chosen."""
        return self.parts or PARTS

    def over(self, others: SheetOptions) -> SheetOptions:
        """These options, with the others' where not given here. The letterhead comes as a whole from one of the two."""
        own = any(getattr(self, name) for name in LETTERHEAD)
        replaceable = [each.name for each in fields(self) if not (own and each.name in LETTERHEAD)]
        return replace(self, **{name: getattr(self, name) or getattr(others, name) for name in replaceable})


@dataclass(frozen=True, slots=True)
class House:
    """The operator's default options, and its own words for some keys of each language."""

    options: SheetOptions = field(default_factory=SheetOptions)
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


def read_house(path: Path) -> House:
    """The operator's file, in TOML: company, address, accent, logo, language, paper, and tables words.en and words.de.

    Raises
    ------
    HouseFileError
        It cannot be read, or something in it is not as allowed.
    """
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise HouseFileError(f"cannot be read as TOML: {error}") from error
    words = _words(data.pop("words", {}))
    unknown = sorted(set(data) - set(_CHECKS))
    if unknown:
        raise HouseFileError(f"{unknown[0]!r} is not known; allowed are {', '.join(_CHECKS)} and words")
    return House(SheetOptions(**{name: _checked(name, value) for name, value in data.items()}), words)


def _line(value: Any) -> str:
    if not isinstance(value, str) or not 0 < len(value) <= LINE_MOST:
        raise ValueError(f"a text of 1 to {LINE_MOST} characters")
    return value


def _lines(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or len(value) > LINES_MOST:
        raise ValueError(f"an array of at most {LINES_MOST} lines")
    return tuple(_line(each) for each in value)


def _one_of(allowed: tuple[str, ...]) -> Callable[[Any], str]:
    def check(value: Any) -> str:
        if value not in allowed:
            raise ValueError("one of " + ", ".join(allowed))
        return str(value)

    return check


def _text(check: Callable[[str], str], allowed: str) -> Callable[[Any], str]:
    def checked(value: Any) -> str:
        if not isinstance(value, str):
            raise ValueError(allowed)
        return check(value)

    return checked


_CHECKS: Mapping[str, Callable[[Any], Any]] = {
    "company": _line,
    "address": _lines,
    "accent": _text(colour.checked, colour.ALLOWED),
    "logo": _text(logo.checked, logo.ALLOWED),
    "language": _one_of(tuple(LANGUAGES)),
    "paper": _one_of(PAPERS),
}


def _checked(name: str, value: Any) -> Any:
    try:
        return _CHECKS[name](value)
    except ValueError as error:
        raise HouseFileError(f"{name} is {str(value)[:60]!r}; allowed is {error}") from error


def _is_of_the_sheet(key: str) -> bool:
    """Whether a company may have its own words: for the sheet's headings and names, never for what the engine says."""
    return key.partition(".")[0] in NAMES or (key not in declared() and not key.startswith(REWORDED))


NAMES = frozenset({"role", "check", "name", "value", "losses", "choice", "roof", "device_role", "task"})
"""Tables of names that the engine's codes have on the sheet."""


def _words(tables: Any) -> dict[str, Mapping[str, str]]:
    """The operator's words; each must be for an existing key and have the same slots."""
    if not isinstance(tables, dict) or not set(tables) <= set(LANGUAGES):
        raise HouseFileError(f"words has tables for {', '.join(LANGUAGES)} alone")
    for code, table in tables.items():
        known = {key: words for key, words in read(code).items() if _is_of_the_sheet(key)}
        for key, own in table.items() if isinstance(table, dict) else [("", None)]:
            if key not in known or not isinstance(own, str) or not own.strip():
                raise HouseFileError(
                    f"words.{code} has {key!r}; allowed are texts for the sheet's own keys, such as sheet.title"
                )
            try:
                same = _formats(own) == _formats(known[key])
            except ValueError:
                same = False
            if not same:
                wanted = ", ".join(sorted(_formats(known[key]))) or "no {slots}"
                raise HouseFileError(
                    f"words.{code} has {key} as {own[:60]!r}; allowed is a text with {wanted}, each as written here"
                )
    return dict(tables)


def _formats(words: str) -> set[str]:
    """The {slots} of a text, with their formats.

    Raises
    ------
    ValueError
        Braces that do not match, or a slot that is converted.
    """
    parts = [(slot, spec, conversion) for _, slot, spec, conversion in Formatter().parse(words) if slot is not None]
    if any(conversion for _, _, conversion in parts):
        raise ValueError("a conversion")
    return {f"{{{slot}:{spec}}}" if spec else f"{{{slot}}}" for slot, spec, _ in parts}

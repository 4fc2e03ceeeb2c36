"""Fields of a request for the sheet: letterhead, language, paper, parts and notes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from marshmallow import ValidationError, fields, post_load

from wattpair_service.api.schemas.base import InputSchema
from wattpair_service.api.schemas.fields import Listed, Text
from wattpair_service.engineering.sentences import LANGUAGES
from wattpair_service.report import colour, house, logo
from wattpair_service.report.house import SheetOptions

LOGO_LONGEST = logo.BYTES_MOST * 4 // 3 + 40
"""Characters of the longest data: address."""


class Checked(Text):
    """A text that a function of the report checks; its error says what is allowed."""

    def __init__(self, description: str, check: Callable[[str], str], *, allowed: str, longest: int) -> None:
        super().__init__(description, longest=longest, required=False)
        self.check = check
        self.allowed = allowed

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        text = super()._deserialize(value, attr, data, **kwargs)
        try:
            return self.check(text)
        except ValueError as error:
            raise ValidationError(str(error)) from error


class Day(fields.String):
    """A date, ISO 8601."""

    allowed = "a date such as 2026-03-04, in 1950 to 2100"

    def __init__(self, description: str) -> None:
        super().__init__(load_default=None, allow_none=False, metadata={"description": description, "format": "date"})

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        try:
            day = date.fromisoformat(value)
        except (TypeError, ValueError):
            raise ValidationError(self.allowed) from None
        if not 1950 <= day.year <= 2100 or value != day.isoformat():
            raise ValidationError(self.allowed)
        return day


class SheetSchema(InputSchema):
    """Letterhead, language, paper and notes of the sheet; what is left out comes from the operator's file."""

    company = Text("Name of the company that issues the sheet", longest=house.LINE_MOST, required=False)
    address = Listed(Text("A line", longest=house.LINE_MOST), "Lines of its address", most=house.LINES_MOST, required=False)
    accent = Checked(
        f"Accent colour, #rrggbb, with a contrast of at least {colour.CONTRAST_LEAST:g} against white",
        colour.checked,
        allowed=colour.ALLOWED,
        longest=7,
    )
    logo = Checked(
        "Logo as a data: address in base64: a PNG, or an SVG of plain shapes alone, of at most "
        f"{logo.BYTES_MOST} bytes when decoded",
        logo.checked,
        allowed=logo.ALLOWED,
        longest=LOGO_LONGEST,
    )
    language = Text(
        "Language of the sheet; default: the operator's, else English. A language that is not offered gives 406, for JSON too",
        choices=tuple(LANGUAGES),
        required=False,
    )
    paper = Text("Paper size of the sheet; default: the operator's, else A4", choices=house.PAPERS, required=False)
    customer = Text("Name of the customer", longest=house.LINE_MOST, required=False)
    notes = Text(
        "Notes from the company to the customer; line feeds are kept",
        longest=house.NOTES_MOST,
        required=False,
        several_lines=True,
    )
    date = Day("Date printed on the sheet; default: none")
    parts = Listed(
        Text("A part", choices=house.PARTS),
        "Parts of the sheet: the customer's page, the installer's pages; default: both",
        most=len(house.PARTS),
        required=False,
    )

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> SheetOptions:
        """The options for the report."""
        return SheetOptions(**data | {name: tuple(data[name] or ()) for name in ("address", "parts")})

"""How the sheet looks that a customer reads."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

SheetLanguage = Literal["en", "de"]
Paper = Literal["A4", "Letter"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Whose name the sheet bears, in which language and on which paper; what is left out comes from the operator's file.

    Parameters
    ----------
    company : str, optional
        Name of the company that gives the sheet.
    address : sequence of str, optional
        Lines of its address.
    accent : str, optional
        Accent colour, #rrggbb, with a contrast of at least 4.5 against white.
    logo : str, optional
        Logo as a data: address in base64: a PNG, or an SVG of shapes, text and gradients alone.
    language : {"en", "de"}, optional
        Language of the sheet; English where nobody asks for another.
    paper : {"A4", "Letter"}, optional
        Paper that the sheet is printed on; A4 where nobody asks for another.
    customer : str, optional
        Whom the sheet is for.
    notes : str, optional
        The company's own words to the customer; line feeds are kept.
    date : str or date, optional
        Date of the sheet, such as 2026-03-04; it bears none where none is given.
    """

    company: str | None = None
    address: Sequence[str] | None = None
    accent: str | None = None
    logo: str | None = None
    language: SheetLanguage | None = None
    paper: Paper | None = None
    customer: str | None = None
    notes: str | None = None
    date: str | datetime.date | None = None

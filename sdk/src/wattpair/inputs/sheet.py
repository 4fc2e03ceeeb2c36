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
    """Letterhead, language, paper and notes of the sheet; what is left out comes from the operator's file.

    Parameters
    ----------
    company : str, optional
        Name of the company that issues the sheet.
    address : sequence of str, optional
        Lines of its address.
    accent : str, optional
        Accent colour, #rrggbb, with a contrast of at least 4.5 against white.
    logo : str, optional
        Logo as a data: address in base64: a PNG, or an SVG of shapes, text and gradients alone.
    language : {"en", "de"}, optional
        Language of the sheet; default: the operator's, else English.
    paper : {"A4", "Letter"}, optional
        Paper size of the sheet; default: the operator's, else A4.
    customer : str, optional
        Name of the customer.
    notes : str, optional
        Notes from the company to the customer; line feeds are kept.
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

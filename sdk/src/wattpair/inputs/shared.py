"""Types that several inputs share."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Literal

Fields = Mapping[str, object]
"""A plain mapping in place of one of the input classes, with the same keys."""

Numbers = Collection[float]
"""Numbers in their order: a list, a tuple, a numpy array, a pandas Series."""

Transposition = Literal["perez_1990", "hay_davies_1980", "isotropic"]
"""Transposition model: gives plane-of-array irradiance from horizontal irradiance."""

ColdVoltageMethod = Literal["module_coefficient", "code_table"]
"""How the open-circuit voltage in the cold is found."""

TrunkFeed = Literal["end", "centre"]
"""Where a trunk is fed."""

ConductorTable = Literal[
    "iec_60228_class_2", "iec_60228_class_5", "nec_chapter_9_table_8_solid", "nec_chapter_9_table_8_stranded"
]
"""Table of standard copper conductors."""

"""The answer of `lay_out_face`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from wattpair.frames import names_of, row_of
from wattpair.results.shared import Result

if TYPE_CHECKING:
    import pandas as pd

Orientation = Literal["portrait", "landscape"]
"""Longer side of the modules up the slope, or along the eaves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedModule:
    """The place of one module.

    Attributes
    ----------
    row : int
        Row, counted from the eaves from 1.
    column : int
        Position in the row, counted from the left from 1.
    x_m : float
        Lower left corner, along the eaves [m].
    y_m : float
        Lower left corner, up the slope [m].
    """

    row: int
    column: int
    x_m: float
    y_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrangement:
    """Modules of one orientation on the face.

    Attributes
    ----------
    orientation : {"portrait", "landscape"}
        Orientation.
    module_width_m : float
        A module's extent along the eaves [m].
    module_height_m : float
        A module's extent up the slope [m].
    module_count : int
        Modules that fit.
    row_module_counts : tuple of int
        Modules in each row from the eaves, for the bill of materials.
    row_segment_counts : tuple of int
        Groups of adjoining modules in each row: 2 where a chimney divides it.
    column_count_most : int
        Modules in the longest row.
    modules : tuple of PlacedModule
        Every module, row by row.
    """

    orientation: Orientation
    module_width_m: float
    module_height_m: float
    module_count: int
    row_module_counts: tuple[int, ...]
    row_segment_counts: tuple[int, ...]
    column_count_most: int
    modules: tuple[PlacedModule, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrientationCount:
    """How many fit in one orientation.

    Attributes
    ----------
    orientation : {"portrait", "landscape"}
        Orientation.
    module_count : int
        Modules that fit.
    """

    orientation: Orientation
    module_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutResult(Result):
    """Where modules fit on a face.

    Attributes
    ----------
    arrangement : Arrangement
        The arrangement with the most modules.
    tried : tuple of OrientationCount
        Every orientation that was tried.
    unit_spacing_m : float
        Distance from one module of a row to the next, for the trunk cable [m].
    face_area_m2 : float
        Area of the face [m2].
    module_area_m2 : float
        Area of all modules [m2].
    covered_share : float
        Share of the face that the modules cover, 0 to 1.
    """

    arrangement: Arrangement
    tried: tuple[OrientationCount, ...]
    unit_spacing_m: float
    face_area_m2: float
    module_area_m2: float
    covered_share: float

    def to_frame(self) -> pd.DataFrame:
        """One row for each module, with the fields of `PlacedModule`."""
        return self._frame(map(row_of, self.arrangement.modules), names_of(PlacedModule))

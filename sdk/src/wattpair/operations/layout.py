"""POST /v1/layout."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from wattpair.call import post

if TYPE_CHECKING:
    from wattpair.inputs import Fields, Obstruction, OrientationWanted, Point
    from wattpair.results import LayoutResult


class LayoutOperations:
    """Where modules fit on a face."""

    @post("/v1/layout")
    def lay_out_face(
        self,
        *,
        module_length_m: float,
        module_width_m: float,
        width_m: float | None = None,
        height_m: float | None = None,
        outline: Sequence[Point | Fields] | None = None,
        obstructions: Sequence[Obstruction | Fields] | None = None,
        orientation: OrientationWanted | None = None,
        edge_distance_m: float | None = None,
        obstruction_distance_m: float | None = None,
        column_gap_m: float | None = None,
        row_gap_m: float | None = None,
    ) -> LayoutResult:
        """How many modules fit on a face, with the place of each.

        Give either `width_m` and `height_m`, or `outline`.

        Parameters
        ----------
        module_length_m : float
            Length of the module's longer side [m].
        module_width_m : float
            Length of its shorter side [m].
        width_m : float, optional
            Width of a rectangular face, along the eaves [m].
        height_m : float, optional
            Height of a rectangular face, along the slope [m].
        outline : sequence of Point, optional
            Corners of the face in order, in place of width_m and height_m; the last is joined to the first.
        obstructions : sequence of Obstruction, optional
            Chimneys, windows and the like; they may reach over the outline.
        orientation : {"portrait", "landscape", "best"}, optional
            Longer side up the slope, along the eaves, or the one of which more fit.
        edge_distance_m : float, optional
            Distance that modules keep from the outline [m].
        obstruction_distance_m : float, optional
            Distance that they keep from obstructions [m].
        column_gap_m : float, optional
            Gap between modules of a row [m].
        row_gap_m : float, optional
            Gap between rows [m].

        Returns
        -------
        LayoutResult
            The arrangement that holds the most modules, and what was tried.
        """

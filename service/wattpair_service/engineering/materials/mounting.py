"""Rails and attachments of a mounting system, counted from where the modules lie.

A run is one rail under the modules of one segment: a row, or the part of a row between two gaps. Its length follows from the
modules' size and the gap between them, never from the spacing of the microinverters. Neglected: rafters (the caller's greatest
spacing is a whole multiple of theirs), thermal joints of long runs, and edge zones with closer attachments.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from dataclasses import dataclass
from math import ceil, floor
from typing import Literal, get_args

from wattpair_service.engineering.roof.layout import Orientation
from wattpair_service.engineering.roof.outline import Point
from wattpair_service.engineering.roof.rows import Grid
from wattpair_service.engineering.rounding import ROUNDING
from wattpair_service.engineering.sentences import Sentence, family, fixed, sentence

Covering = Literal["tiles", "slates", "shingles", "standing_seam", "sheet_metal", "corrugated", "flat"]
BondingJumpers = Literal["module", "rail", "none"]
EarthLugs = Literal["segment", "row", "none"]

LINES_WITHOUT_RAILS = 2
"""Lines of attachments under each row of a rail-less system: one near each long edge of the row."""
INCH_M = 0.0254
ROW_LENGTH_MOST_M = 9.0
"""Longest row of a face of which only the number of modules is known. Common practice, no source."""
ROWS_SOURCE, ORIENTATION_SOURCE = fixed("source.full_rows"), fixed("source.usual_orientation")
ORIENTATIONS = family("orientation", get_args(Orientation))
ROWS, ASSUMED_ROWS = (sentence(f"why.{each}", "modules", "orientation") for each in ("rows", "assumed_rows"))
SEGMENTS = sentence("why.segments", "rows", "segments")


@dataclass(frozen=True, slots=True)
class Attachment:
    """What holds the rails to the roof: its kind, its greatest spacing and cantilever along the rail [m], and its parts.

    `screw` is the kind of its screws, where it takes any.
    """

    kind: str
    spacing_max_m: float
    cantilever_max_m: float
    screws: int
    flashings: int
    screw: str = "screw"


ATTACHMENTS: dict[Covering, Attachment] = {
    "tiles": Attachment("tile hook", 1.2, 0.4, 2, 0, "wood screw"),
    "slates": Attachment("slate hook", 1.0, 0.4, 2, 1, "wood screw"),
    "shingles": Attachment("L-foot", 48.0 * INCH_M, 0.4, 1, 1, "lag screw"),
    "standing_seam": Attachment("seam clamp", 1.2, 0.4, 0, 0),
    "sheet_metal": Attachment("sheet-metal bracket", 1.2, 0.4, 4, 0, "thin-sheet screw"),
    "corrugated": Attachment("hanger bolt", 1.2, 0.4, 0, 0),
    "flat": Attachment("ballast foot", 1.5, 0.4, 0, 0),
}
"""An invented system by roof covering. Its spacings are common practice without much snow or wind, no source; that of L-feet is
every second rafter of 24 in, every third of 16 in."""
ATTACHMENT_KINDS = family("attachment", (each.kind for each in ATTACHMENTS.values()))
SCREW_KINDS = family("screw", (each.screw for each in ATTACHMENTS.values()))


@dataclass(frozen=True, slots=True)
class MountingSystem:
    """A mounting system as its maker sells it. Lengths in m.

    `overhang_m` is the rail past the last module. `offcuts_reused` lets the rest of a rail begin another run of the face.
    Bonding jumpers are one for each module, or one from each further rail of a segment to its first.
    """

    covering: Covering
    attachment: Attachment
    rails_per_row: int
    rail_length_m: float
    overhang_m: float
    offcuts_reused: bool
    column_gap_m: float
    row_gap_m: float
    unit_fixings_per_unit: int
    bonding_jumpers: BondingJumpers
    earth_lugs: EarthLugs
    cable_clips_per_module: int
    roof_entries_per_circuit: int
    module_lead_length_m: float
    frame_height_mm: float | None = None

    @property
    def lines_per_row(self) -> int:
        """Lines of attachments and clamps under a row: its rails, or as many as a rail-less system needs."""
        return self.rails_per_row or LINES_WITHOUT_RAILS

    def run_length_m(self, modules: int, grid: Grid) -> float:
        """Length of a run under adjoining modules [m]."""
        overhang_m = self.overhang_m if self.rails_per_row else 0.0
        return modules * grid.width_m + (modules - 1) * grid.column_gap_m + 2.0 * overhang_m

    def pieces(self, length_m: float) -> int:
        """Pieces of rail in a run: whole rails and one that is cut."""
        return ceil(length_m / self.rail_length_m - ROUNDING)

    def rails_to_order(self, lengths_m: list[float]) -> int:
        """Whole rails for the runs of a face.

        A reused offcut takes the place of a whole rail of another run, so that it costs no further splice; it must reach over
        two attachments. The longest runs are cut first.
        """
        if not self.offcuts_reused:
            return sum(map(self.pieces, lengths_m))
        rails, offcuts = 0, list[float]()
        for length_m in sorted(lengths_m, reverse=True):
            whole = self.pieces(length_m) - 1
            # The shortest offcut that spares the last rail of this run.
            place = bisect_left(offcuts, length_m - whole * self.rail_length_m - ROUNDING)
            if place < len(offcuts):
                offcut = whole * self.rail_length_m + offcuts.pop(place) - length_m
            else:
                whole += 1
                offcut = whole * self.rail_length_m - length_m
            rails += whole
            if offcut >= self.attachment.spacing_max_m:
                insort(offcuts, offcut)
        return rails

    def attachments(self, length_m: float) -> int:
        """Attachments of a run: the fewest within the greatest spacing and cantilever, at least two."""
        attachment = self.attachment
        spans = (length_m - 2.0 * attachment.cantilever_max_m) / attachment.spacing_max_m
        return max(1, ceil(spans - ROUNDING)) + 1


@dataclass(frozen=True, slots=True)
class FaceRows:
    """The modules of a face: how many each segment of each row has, their size on the face, and how they lie.

    `corners` are the lower left corners of the modules [m], row by row, where a layout tells them. `is_assumed` says that only
    the number of modules was known, `is_orientation_assumed` that how they lie was not.
    """

    segments: tuple[tuple[int, ...], ...]
    grid: Grid
    orientation: Orientation
    is_assumed: bool = False
    is_orientation_assumed: bool = False
    corners: tuple[Point, ...] | None = None

    @property
    def row_counts(self) -> tuple[int, ...]:
        """Modules of each row."""
        return tuple(map(sum, self.segments))

    @property
    def segment_counts(self) -> tuple[int, ...]:
        """Modules of each segment, over all rows."""
        return tuple(count for row in self.segments for count in row)

    @property
    def module_pitch_m(self) -> float:
        """From one module of a row to the next [m]."""
        return self.grid.width_m + self.grid.column_gap_m

    @property
    def row_pitch_m(self) -> float:
        """From one row to the next [m]."""
        return self.grid.height_m + self.grid.row_gap_m

    def centres(self) -> tuple[Point, ...]:
        """Middle of each module [m], row by row from the left.

        Without a layout each row begins over the end of the one before, going to and fro, and a gap in a row is as wide as a
        module.
        """
        if self.corners is not None:
            return tuple((x + self.grid.width_m / 2.0, y + self.grid.height_m / 2.0) for x, y in self.corners)
        centres: list[Point] = []
        start = 0
        for row, counts in enumerate(self.segments):
            parts = [part for part, modules in enumerate(counts) for _ in range(modules)]
            columns = [index + gaps for index, gaps in enumerate(parts)]
            left = start if row % 2 == 0 else start - columns[-1]
            start += columns[-1] if row % 2 == 0 else -columns[-1]
            centres += [((left + column) * self.module_pitch_m, row * self.row_pitch_m) for column in columns]
        return tuple(centres)

    def in_words(self) -> Sentence:
        """The rows and segments."""
        rows = (ASSUMED_ROWS if self.is_assumed else ROWS)(
            modules=tuple(map(str, self.row_counts)), orientation=ORIENTATIONS[self.orientation]
        )
        segments = len(self.segment_counts)
        return rows if segments == len(self.segments) else SEGMENTS(rows=rows, segments=segments)


def even_segments(modules: int, segments: int) -> tuple[int, ...]:
    """Modules of each segment of a row of which only their number is known: as equal as whole modules allow."""
    share, extra = divmod(modules, segments)
    return (share + 1,) * extra + (share,) * (segments - extra)


def full_rows(module_count: int, pitch_m: float) -> tuple[tuple[int, ...], ...]:
    """Rows of a face of which only the number of modules is known: full ones, and the rest in the last."""
    most = max(1, floor(ROW_LENGTH_MOST_M / pitch_m + ROUNDING))
    full, rest = divmod(module_count, most)
    return ((most,),) * full + (((rest,),) if rest else ())

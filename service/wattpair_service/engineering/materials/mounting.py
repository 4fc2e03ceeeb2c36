"""Rails, attachments and module leads of a mounting system, counted from where the modules lie.

A run is one rail under the modules of one segment: a row, or the part of a row between two gaps. Its length follows from the
modules' size and the gap between them, never from the spacing of the microinverters. Neglected: rafters (the caller's greatest
spacing is a whole multiple of theirs), thermal joints of long runs, and edge zones with closer attachments.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from dataclasses import dataclass
from math import ceil, floor, hypot
from typing import Literal, get_args

from wattpair_service.engineering.roof.layout import Orientation
from wattpair_service.engineering.roof.rows import Grid
from wattpair_service.engineering.rounding import ROUNDING
from wattpair_service.engineering.sentences import Sentence, family, fixed, sentence

Covering = Literal["tiles", "slates", "shingles", "standing_seam", "sheet_metal", "corrugated", "flat"]
BondingJumpers = Literal["module", "rail", "none"]
EarthLugs = Literal["segment", "row", "none"]

LINES_WITHOUT_RAILS = 2
"""Lines of attachments under each row of a rail-less system: one near each long edge of the row."""
ROW_LENGTH_MOST_M = 9.0
"""Longest row of a face of which only the number of modules is known. Common practice, no source."""
ROWS_SOURCE, ORIENTATION_SOURCE = fixed("source.full_rows"), fixed("source.usual_orientation")
ORIENTATIONS = family("orientation", get_args(Orientation))
ROWS, ASSUMED_ROWS = (sentence(f"why.{each}", "modules", "orientation") for each in ("rows", "assumed_rows"))
SEGMENTS = sentence("why.segments", "rows", "segments")


@dataclass(frozen=True, slots=True)
class Attachment:
    """What holds the rails to the roof: its kind, its greatest spacing and cantilever along the rail [m], and its parts."""

    kind: str
    spacing_max_m: float
    cantilever_max_m: float
    screws: int
    flashings: int


ATTACHMENTS: dict[Covering, Attachment] = {
    "tiles": Attachment("tile hook", 1.2, 0.4, 2, 0),
    "slates": Attachment("slate hook", 1.0, 0.4, 2, 1),
    "shingles": Attachment("L-foot with lag screw", 1.2, 0.4, 1, 1),
    "standing_seam": Attachment("seam clamp", 1.2, 0.4, 0, 0),
    "sheet_metal": Attachment("sheet-metal bracket", 1.2, 0.4, 4, 0),
    "corrugated": Attachment("hanger bolt", 1.2, 0.4, 0, 0),
    "flat": Attachment("ballast foot", 1.5, 0.4, 0, 0),
}
"""An invented system by roof covering. Its spacings are common practice without much snow or wind, no source."""
ATTACHMENT_KINDS = family("attachment", (each.kind for each in ATTACHMENTS.values()))


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

    `is_assumed` says that only the number of modules was known, `is_orientation_assumed` that how they lie was not.
    """

    segments: tuple[tuple[int, ...], ...]
    grid: Grid
    orientation: Orientation
    is_assumed: bool = False
    is_orientation_assumed: bool = False

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


def missing_leads_m(rows: FaceRows, modules_per_unit: int, module_lead_length_m: float) -> list[float]:
    """What is missing [m] to each module whose own leads do not reach its microinverter, in the middle of its modules.

    Units take the modules in turn along a line that goes to and fro from row to row, each row beginning over the end of the
    one before. Neglected: the unit's own leads (to the safe side), gaps between segments, and leads from module to module of
    those in series.
    """
    places: list[tuple[float, float]] = []
    x, step = 0.0, rows.module_pitch_m
    for row, count in enumerate(rows.row_counts):
        places += [(x + step * index, row * rows.row_pitch_m) for index in range(count)]
        x, step = places[-1][0], -step
    missing: list[float] = []
    for start in range(0, len(places), modules_per_unit):
        own = places[start : start + modules_per_unit]
        centre_x, centre_y = (sum(values) / len(own) for values in zip(*own, strict=True))
        missing += [hypot(x - centre_x, y - centre_y) - module_lead_length_m for x, y in own]
    return [each for each in missing if each > ROUNDING]

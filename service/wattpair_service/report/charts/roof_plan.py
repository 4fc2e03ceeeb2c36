"""A face seen at a right angle, with its eaves at the bottom: the scale and the frame that its drawings share."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from wattpair_service.engineering.roof.outline import Polygon, rectangle
from wattpair_service.engineering.shade.scene import Placement, RoofObject
from wattpair_service.report.charts.drawing import SOFT, WIDTH, line, text
from wattpair_service.report.markup import element
from wattpair_service.words.language import Language

TALLEST = 190.0
TOP, BOTTOM, SIDE = 6.0, 34.0, 4.0
BESIDE_M = 3.0
"""How far beside the modules of a face without outline objects are drawn."""
ROUND_LENGTHS = (20.0, 10.0, 5.0, 2.0, 1.0, 0.5)
"""Of the scale bar, in the unit of the paper."""


def scale_px_m(outlines: Sequence[Polygon]) -> float:
    """The scale for all faces [px/m], at which the largest one fits."""
    return min(min((WIDTH - 2 * SIDE) / wide, TALLEST / tall) for wide, tall in map(_size_m, outlines))


def around(placement: Placement, objects: Sequence[RoofObject] = ()) -> Polygon:
    """A rectangle around the modules of a face whose outline is not known, and around objects as far as these are near them."""
    spans = []
    for axis, size_m in enumerate((placement.module_width_m, placement.module_height_m)):
        starts = [corner[axis] for corner in placement.corners]
        first, last = min(starts), max(starts) + size_m
        least = min([first, *(each.extent[axis][0] for each in objects)])
        most = max([last, *(each.extent[axis][1] for each in objects)])
        spans.append((max(least, first - BESIDE_M), min(most, last + BESIDE_M)))
    (left, right), (low, high) = spans
    return tuple((left + x, low + y) for x, y in rectangle(right - left, high - low))


def _size_m(outline: Polygon) -> tuple[float, float]:
    xs, ys = zip(*outline, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


@dataclass(frozen=True, slots=True)
class RoofPlan:
    """Coordinates of points in the plane of a face, given in metres along the eaves and up the slope."""

    outline: Polygon
    px_per_m: float

    @property
    def size_m(self) -> tuple[float, float]:
        """Along the eaves, and up the slope."""
        return _size_m(self.outline)

    @property
    def eaves(self) -> float:
        """Coordinate of the lower edge."""
        return TOP + self.size_m[1] * self.px_per_m

    @property
    def height(self) -> float:
        """Of the drawing with its eaves and its scale bar."""
        return self.eaves + BOTTOM

    def at(self, x_m: float, y_m: float) -> tuple[float, float]:
        """A point."""
        left, bottom = (min(each) for each in zip(*self.outline, strict=True))
        return SIDE + (x_m - left) * self.px_per_m, self.eaves - (y_m - bottom) * self.px_per_m

    def shape(self, corners: Polygon) -> list[tuple[float, float]]:
        """The corners of a polygon."""
        return [self.at(x, y) for x, y in corners]

    def under_it(self, language: Language, *, has_eaves: bool = True) -> Iterator[Markup]:
        """The name of the eaves, or that they lie on this side, and a scale bar of a round length."""
        wide_m, _ = self.size_m
        name = language.say("roof.eaves" if has_eaves else "roof.eaves_this_way")
        right = max(SIDE + wide_m * self.px_per_m, 40.0 if has_eaves else 90.0)
        yield text(right, self.eaves + 12.0, name, anchor="end", size=9.0)
        unit, unit_m = language.length_unit
        length = next((each for each in ROUND_LENGTHS if each * unit_m <= wide_m * 0.5), 0.1)
        end, y = SIDE + length * unit_m * self.px_per_m, self.eaves + 22.0
        yield line(SIDE, y, end, y, width=1.2)
        yield line(SIDE, y - 3.0, SIDE, y + 3.0, width=1.2)
        yield line(end, y - 3.0, end, y + 3.0, width=1.2)
        yield text(end + 5.0, y + 3.5, f"{language.general(length)} {unit}", fill=SOFT)


def rectangles(
    corners: Iterable[tuple[float, float]], width: float, height: float, *, fill: str, stroke: str, line: float | None = None
) -> Markup:
    """Equal rectangles by their upper left corners, as one shape: it keeps the file of a roof of a thousand modules small."""
    outline = " ".join(f"M{x:.1f} {y:.1f}h{width:.1f}v{height:.1f}h{-width:.1f}z" for x, y in corners)
    return element("path", d=outline, fill=fill, stroke=stroke, stroke_width=line)

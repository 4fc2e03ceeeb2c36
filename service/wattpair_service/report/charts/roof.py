"""A face drawn to scale: its modules, where each microinverter sits and on which circuit, obstructions and a scale bar."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from markupsafe import Markup

from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.materials.placed_units import PlacedUnit
from wattpair_service.engineering.roof.layout import LayoutRequest, LayoutResult
from wattpair_service.engineering.roof.outline import Polygon
from wattpair_service.report.charts.drawing import INK, PAPER, SOFT, WIDTH, Pen, line, polygon, text
from wattpair_service.report.markup import element
from wattpair_service.words.language import Language

TALLEST = 190.0
TOP, BOTTOM, SIDE = 6.0, 34.0, 4.0
MARK_ROOM = 10.0
"""Least shorter side of a drawn module for a mark of its microinverter."""
NUMBERS_MOST = 60
"""Most microinverters of a face whose circuits are written beside their marks."""


def scale_px_m(outlines: Sequence[Polygon]) -> float:
    """The scale for all faces [px/m], at which the largest one fits."""
    return min(min((WIDTH - 2 * SIDE) / wide, TALLEST / tall) for wide, tall in map(_size_m, outlines))


def _size_m(outline: Polygon) -> tuple[float, float]:
    xs, ys = zip(*outline, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


def roof(
    pen: Pen,
    language: Language,
    face: Face,
    request: LayoutRequest,
    result: LayoutResult,
    px_per_m: float,
    units: Sequence[PlacedUnit] = (),
) -> Markup:
    """The face seen at a right angle, with its eaves at the bottom; without `units` the modules alone."""
    xs, ys = zip(*request.outline, strict=True)
    left, bottom = min(xs), min(ys)
    wide, tall = _size_m(request.outline)
    height = TOP + tall * px_per_m + BOTTOM

    def at(x: float, y: float) -> tuple[float, float]:
        return SIDE + (x - left) * px_per_m, TOP + (bottom + tall - y) * px_per_m

    def shape(corners: Polygon) -> list[tuple[float, float]]:
        return [at(x, y) for x, y in corners]

    arranged = result.arrangement
    drawn = [polygon(shape(request.outline), fill=PAPER, stroke=INK, width=1.6)]
    drawn += [polygon(shape(each), fill=pen.hatch) for each in request.obstructions]
    corners = [at(module.x_m, module.y_m + arranged.module_height_m) for module in arranged.modules]
    module_size = arranged.module_width_m * px_per_m, arranged.module_height_m * px_per_m
    drawn += _modules(pen, corners, *module_size)
    if min(module_size) >= MARK_ROOM:
        drawn += _units(units, at, [(x + module_size[0] / 2.0, y + module_size[1] / 2.0) for x, y in corners])
    eaves = height - BOTTOM
    drawn.append(text(max(SIDE + wide * px_per_m, 40.0), eaves + 12.0, language.say("roof.eaves"), anchor="end", size=9.0))
    drawn += _scale_bar(language, SIDE, eaves + 22.0, px_per_m, wide)
    description = language.say(
        "roof.description",
        face=face.name,
        modules=language.counted("module", arranged.module_count),
        rows=language.counted("row", len(arranged.row_module_counts)),
        wide=language.length(wide),
        tall=language.length(tall),
        azimuth=language.number(face.azimuth_deg),
        tilt=language.number(face.tilt_deg),
    )
    return pen.frame(height, language.say("roof.title", face=face.name), description, *drawn)


def _modules(pen: Pen, corners: list[tuple[float, float]], width: float, height: float) -> list[Markup]:
    """All modules as one shape: it keeps the file of a roof of a thousand modules small."""
    outline = " ".join(f"M{x:.1f} {y:.1f}h{width:.1f}v{height:.1f}h{-width:.1f}z" for x, y in corners)
    return [element("path", d=outline, fill=pen.accent, stroke=PAPER)]


def _units(
    units: Sequence[PlacedUnit], at: Callable[[float, float], tuple[float, float]], centres: list[tuple[float, float]]
) -> Iterator[Markup]:
    """Each microinverter as a box, joined to the modules that it serves, with the number of its circuit."""
    places = [at(unit.x_m, unit.y_m) for unit in units]
    leads = " ".join(
        f"M{x:.1f} {y:.1f}L{centres[module][0]:.1f} {centres[module][1]:.1f}"
        for (x, y), unit in zip(places, units, strict=True) for module in unit.modules if len(unit.modules) > 1
    )  # fmt: skip
    if leads:
        yield element("path", d=leads, stroke=PAPER, stroke_width=1.2)
    if units:
        yield element("path", d=" ".join(f"M{x - 5.0:.1f} {y - 4.0:.1f}h10v8h-10z" for x, y in places), fill=PAPER, stroke=INK)
    if len(units) <= NUMBERS_MOST:
        for (x, y), unit in zip(places, units, strict=True):
            yield text(x, y + 2.8, unit.circuit_number, anchor="middle", size=8.0)


def _scale_bar(language: Language, x: float, y: float, px_per_m: float, wide: float) -> list[Markup]:
    """A scale bar of a round length."""
    unit, unit_m = language.length_unit
    length = next((each for each in (20.0, 10.0, 5.0, 2.0, 1.0, 0.5) if each * unit_m <= wide * 0.5), 0.1)
    end = x + length * unit_m * px_per_m
    return [
        line(x, y, end, y, width=1.2),
        line(x, y - 3.0, x, y + 3.0, width=1.2),
        line(end, y - 3.0, end, y + 3.0, width=1.2),
        text(end + 5.0, y + 3.5, f"{language.general(length)} {unit}", fill=SOFT),
    ]

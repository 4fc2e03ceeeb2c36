"""A face drawn to scale: its modules, where each microinverter sits and on which circuit, obstructions and a scale bar."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from markupsafe import Markup

from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.materials.placed_units import PlacedUnit
from wattpair_service.engineering.roof.layout import LayoutRequest, LayoutResult
from wattpair_service.report.charts.drawing import INK, PAPER, Pen, polygon, text
from wattpair_service.report.charts.roof_plan import RoofPlan, rectangles
from wattpair_service.report.markup import element
from wattpair_service.words.language import Language

MARK_ROOM = 10.0
"""Least shorter side of a drawn module for a mark of its microinverter."""
NUMBERS_MOST = 60
"""Most microinverters of a face whose circuits are written beside their marks."""


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
    plan, arranged = RoofPlan(request.outline, px_per_m), result.arrangement
    wide, tall = plan.size_m
    drawn = [polygon(plan.shape(request.outline), fill=PAPER, stroke=INK, width=1.6)]
    drawn += [polygon(plan.shape(each), fill=pen.hatch) for each in request.obstructions]
    corners = [plan.at(module.x_m, module.y_m + arranged.module_height_m) for module in arranged.modules]
    module_size = arranged.module_width_m * px_per_m, arranged.module_height_m * px_per_m
    drawn.append(rectangles(corners, *module_size, fill=pen.accent, stroke=PAPER))
    if min(module_size) >= MARK_ROOM:
        drawn += _units(units, plan, [(x + module_size[0] / 2.0, y + module_size[1] / 2.0) for x, y in corners])
    drawn += plan.under_it(language)
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
    return pen.frame(plan.height, language.say("roof.title", face=face.name), description, *drawn)


def _units(units: Sequence[PlacedUnit], plan: RoofPlan, centres: list[tuple[float, float]]) -> Iterator[Markup]:
    """Each microinverter as a box, joined to the modules that it serves, with the number of its circuit."""
    places = [plan.at(unit.x_m, unit.y_m) for unit in units]
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

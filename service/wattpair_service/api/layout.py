"""POST /v1/layout: how many modules fit on a face."""

from __future__ import annotations

from wattpair_service.api.layout_schemas import LayoutRequestSchema, LayoutResultSchema
from wattpair_service.api.operation import Operation
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.layout import LayoutRequest, LayoutResult, layout


def handle(request: LayoutRequest, _: StationFolder) -> LayoutResult:
    """Answer a request."""
    return layout(request)


OPERATION = Operation(
    path="/v1/layout",
    operation_id="lay_out_face",
    summary="How many modules fit on a face, with their places",
    description=(
        "From a face's width and height, or its outline with obstructions, and a module's sides: rows and columns with the "
        "coordinates of every module, portrait or landscape or the one of which more fit. No module overlaps another, leaves "
        "the outline or comes nearer to an edge than asked for. Rows lie at equal pitch; the count is the best of the "
        "positions tried, not a proven optimum. The call changes nothing and may be repeated safely."
    ),
    request=LayoutRequestSchema,
    response=LayoutResultSchema,
    handle=handle,
)

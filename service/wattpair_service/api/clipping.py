"""POST /v1/clipping: what each microinverter delivers and loses on each face over the year."""

from __future__ import annotations

from wattpair_service.api.clipping_schemas import ClippingBody, ClippingRequestSchema, ClippingResultSchema
from wattpair_service.api.operation import Operation
from wattpair_service.climate.request import site_year
from wattpair_service.engineering.clipping import ClippingResult, clipping


def handle(body: ClippingBody) -> ClippingResult:
    """Answer a request."""
    year = site_year(body.site, body.weather)
    return clipping(body.request, year.conditions, weather_source=year.source)


OPERATION = Operation(
    path="/v1/clipping",
    operation_id="compute_clipping",
    summary="Yearly energy of faces with microinverters, each loss by its own name",
    description=(
        "For every face and microinverter: the yearly and monthly energy balance of one module, the hours at the AC limit, a "
        "table of clipped energy by month and hour of day, and the power duration curve; then the whole roof for each "
        "microinverter. The losses and the delivered energy add up to the energy available at maximum power. "
        "The call changes nothing and may be repeated safely."
    ),
    request=ClippingRequestSchema,
    response=ClippingResultSchema,
    handle=handle,
)

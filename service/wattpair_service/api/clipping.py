"""POST /v1/clipping: what each microinverter delivers and loses on each face over the year."""

from __future__ import annotations

from wattpair_service.api.clipping_schemas import ClippingBody, ClippingRequestSchema, ClippingResultSchema
from wattpair_service.api.operation import Operation
from wattpair_service.climate.site_year import site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.clipping import ClippingResult, clipping


def handle(body: ClippingBody, stations: StationFolder) -> ClippingResult:
    """Answer a request."""
    year = site_year(body.site, body.weather, stations)
    return year.with_findings(clipping(body.request, year.conditions, year.spread(), climate=year.climate))


OPERATION = Operation(
    path="/v1/clipping",
    operation_id="compute_clipping",
    summary="Yearly energy of faces with microinverters, each loss by its own name",
    description=(
        "For every face and microinverter: the yearly and monthly energy balance of one module, the hours at the AC limit, a "
        "table of clipped energy by month and hour of day, the power duration curve, and how clipping shrinks as the module "
        "ages; then the whole roof for each microinverter. The losses and the delivered energy add up to the energy available "
        "at maximum power. Clipping counts what happens inside the hour (`clipped_share`, with a range) and stands beside what "
        "hourly means alone would show (`clipped_share_hourly_means`). "
        "The call changes nothing and may be repeated safely."
    ),
    request=ClippingRequestSchema,
    response=ClippingResultSchema,
    handle=handle,
)

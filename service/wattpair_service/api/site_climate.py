"""POST /v1/site-climate: what the light and the air at a site are like."""

from __future__ import annotations

from wattpair_service.api.operation import Operation
from wattpair_service.api.site_climate_schemas import (
    SiteClimateBody,
    SiteClimateRequestSchema,
    SiteClimateResultSchema,
)
from wattpair_service.climate.site_year import nearest_station, site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.site_climate import SiteClimateResult, site_climate


def handle(body: SiteClimateBody, stations: StationFolder) -> SiteClimateResult:
    """Answer a request."""
    year = site_year(body.site, body.weather, stations)
    result = site_climate(
        body.request,
        year.conditions,
        climate=year.climate,
        design=year.design,
        linke_turbidity_by_month=year.linke_turbidity_by_month,
        nearest_station=nearest_station(body.site, stations),
    )
    return year.with_findings(result)


OPERATION = Operation(
    path="/v1/site-climate",
    operation_id="describe_climate",
    summary="Light and air at a site, by month, level and season",
    description=(
        "Monthly irradiation on the horizontal and on each face, the share of the year's energy at each level of irradiance, "
        "and for each season the light at which the energy arrives: 1000 W/m2 is a laboratory's light, not a roof's. With a "
        "module and microinverters also the module's power and the DC/AC ratio at that light. Design temperatures, turbidity, "
        "the nearest station of the operator and the range of a single year stand beside it, with the source that was used. "
        "The call changes nothing and may be repeated safely."
    ),
    request=SiteClimateRequestSchema,
    response=SiteClimateResultSchema,
    handle=handle,
)

"""POST /v1/sizing: whether each pairing is electrically safe and sensible at its site."""

from __future__ import annotations

from wattpair_service.api.operation import Operation
from wattpair_service.api.sizing_schemas import SizingBody, SizingRequestSchema, SizingResultSchema
from wattpair_service.climate.site_year import extremes, site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import BuiltInClimate
from wattpair_service.engineering.sizing import SizingResult, sizing
from wattpair_service.rules import electrical_rules


def handle(body: SizingBody, stations: StationFolder) -> SizingResult:
    """Answer a request."""
    rules = electrical_rules(body.region)
    if not body.request.faces and isinstance(body.weather, BuiltInClimate):
        # Only the temperatures are asked for, and the caller may have given both.
        return sizing(body.request, rules, extremes(body.site), None)
    year = site_year(body.site, body.weather, stations)
    result = sizing(body.request, rules, year.design, year.conditions)
    return year.with_findings(result)


OPERATION = Operation(
    path="/v1/sizing",
    operation_id="size_pairings",
    summary="Electrical checks of a module with one or many microinverters",
    description=(
        "Checks each pairing at the site's coldest and hottest: absolute voltage, short-circuit current, windows, start-up, "
        "operating current and DC/AC ratio. Every check gives its value, limit, margin, verdict and source. A pairing whose "
        "verdict is `fail` must not be built as described; a `caution` costs energy or leaves little margin. Send `faces` "
        "too and the DC/AC ratio is also given at the light in which each face's energy really arrives. The site's lowest and "
        "highest temperature come from the request, else from the built-in climate or the weather; the answer says which. "
        "The call changes nothing and may be repeated safely."
    ),
    request=SizingRequestSchema,
    response=SizingResultSchema,
    handle=handle,
)

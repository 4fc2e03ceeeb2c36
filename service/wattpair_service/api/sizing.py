"""POST /v1/sizing: whether each pairing is electrically safe and sensible at its site."""

from __future__ import annotations

from wattpair_service.api.operation import Operation
from wattpair_service.api.sizing_schemas import SizingBody, SizingRequestSchema, SizingResultSchema
from wattpair_service.climate.request import site_year
from wattpair_service.engineering.sizing import SizingResult, sizing
from wattpair_service.rules import electrical_rules


def handle(body: SizingBody) -> SizingResult:
    """Answer a request."""
    conditions = site_year(body.request.site, body.weather).conditions if body.request.faces else None
    return sizing(body.request, electrical_rules(body.region), conditions)


OPERATION = Operation(
    path="/v1/sizing",
    operation_id="size_pairings",
    summary="Electrical checks of a module with one or many microinverters",
    description=(
        "Checks each pairing at the site's coldest and hottest: absolute voltage, short-circuit current, windows, start-up, "
        "operating current and DC/AC ratio. Every check gives its value, limit, margin, verdict and source. A pairing whose "
        "verdict is `fail` must not be built as described; a `caution` costs energy or leaves little margin. Send `faces` and "
        "`weather` too and the DC/AC ratio is also given at the light in which each face's energy really arrives. "
        "The call changes nothing and may be repeated safely."
    ),
    request=SizingRequestSchema,
    response=SizingResultSchema,
    handle=handle,
)

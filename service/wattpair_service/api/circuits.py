"""POST /v1/circuits: branch circuits, voltage rise and connection route."""

from __future__ import annotations

from wattpair_service.api.circuits_schemas import CircuitsRequestSchema, CircuitsResultSchema
from wattpair_service.api.operation import Operation
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.circuits import CircuitsRequest, CircuitsResult, circuits


def handle(request: CircuitsRequest, _: StationFolder) -> CircuitsResult:
    """Answer a request."""
    return circuits(request)


OPERATION = Operation(
    path="/v1/circuits",
    operation_id="plan_circuits",
    summary="Branch circuits, voltage rise and connection route",
    description=(
        "Splits the microinverters over the fewest branch circuits that protective device, trunk cable and balance of phases "
        "allow, then as evenly as may be; gives the voltage rise of each circuit up to the connection point with the smallest "
        "home-run conductor that meets the limit; and names the connection route by the region's rules: what must be sent "
        "when, what it allows, and where each value comes from. A value left out comes from the region; a region of the "
        "caller's own may be sent in the same form. The call changes nothing and may be repeated safely."
    ),
    request=CircuitsRequestSchema,
    response=CircuitsResultSchema,
    handle=handle,
)

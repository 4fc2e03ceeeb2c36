"""POST /v1/selection: which microinverter to buy, and when that would change."""

from __future__ import annotations

from wattpair_service.api.operation import Operation
from wattpair_service.api.selection_result_schemas import SelectionResultSchema
from wattpair_service.api.selection_schemas import SelectionBody, SelectionRequestSchema
from wattpair_service.climate.site_year import site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.selection import SelectionResult, selection
from wattpair_service.rules import electrical_rules


def handle(body: SelectionBody, stations: StationFolder) -> SelectionResult:
    """Answer a request."""
    year = site_year(body.site, body.weather, stations)
    rules = electrical_rules(body.region)
    result = selection(body.request, rules, year.design, year.conditions, year.spread(), climate=year.climate)
    return year.with_findings(result)


OPERATION = Operation(
    path="/v1/selection",
    operation_id="select_microinverters",
    summary="Which microinverter to buy for a roof: lifetime value, break-even and what would change it",
    description=(
        "Ranks candidate microinverters on one or several modules by net present value: electrical verdict (one that fails "
        "is never ranked), energy of the first year and of the horizon as the modules age, each loss, cost, payback of the "
        "step up from the cheapest, expected replacements. The recommendation says whether it is decided, close, or depends on "
        "something. For neighbouring candidates the answer gives the module power above which the larger pays and the price "
        "gap up to which it does, for the roof and face by face, with the curve; then a mixed choice, what each input must "
        "become for the order to change, and what an export limit cuts. Where a price or the tariff is missing it ranks by "
        "energy and says so; where no candidate passes it says what would have to change. Prices are in the caller's currency. "
        "The call changes nothing and may be repeated safely."
    ),
    request=SelectionRequestSchema,
    response=SelectionResultSchema,
    handle=handle,
)

"""Methods, cautions and assumptions of a selection."""

from __future__ import annotations

from collections.abc import Iterator

from wattpair_service.engineering.money.replacements import BAND_CENTRE
from wattpair_service.engineering.results import Assumption, Method
from wattpair_service.engineering.selection.request import SelectionRequest

MONEY = Method(
    "net present value", "1", "first cost today, yearly flows at the end of each year; capital recovery by the usual annuity"
)
FAILURES = Method("binomial failures", "1", "each unit with the same yearly rate, independently of the others")
BREAK_EVEN = Method("break-even over module power", "1", "the module's single diode scaled in current, voltages held")
AGEING = Method("clipping over the years", "1", "aged power before the AC limit against the limit, at each condition")
NO_MONEY = (
    "A price or the tariff is missing: candidates are ranked by the energy of the horizon, and money is left out of the result."
)
NO_MODULE_PRICE = (
    "The module's price is missing: net present values and costs leave the modules out, so that only their differences between "
    "candidates count, and there is no cost per kWh."
)
NO_RATE = (
    "No independent failure rate of microinverters is published: expected replacements are a band from 0.02 to 0.5 % a year; "
    "give your own rate."
)
MONTHLY_LOAD = (
    "The home's load is a mean day of each month: the share used at home is overstated where the load swings from day to day."
)


def assumptions(request: SelectionRequest, *, no_rate: bool, free_modules: bool) -> Iterator[Assumption]:
    """What was taken where the caller gave nothing, and what the counts leave out."""
    if no_rate:
        source = "geometric middle of 0.02 to 0.5 % a year: no independent failure rate is published"
        yield Assumption("failure_percent_per_year", BAND_CENTRE * 100.0, "%", source)
    if free_modules:
        source = "not given: values leave the modules' cost out, the same for every candidate"
        yield Assumption("modules/0/price", 0.0, None, source)
    yield Assumption("failures_of_a_unit_most", 1, None, "replacements count the first failure of each unit alone")
    per_unit = {unit.microinverter.input_count * request.modules_per_input for unit in request.units}
    if any(face.module_count % each for face in request.faces for each in per_unit):
        source = "a face's last unit counts whole at its price, its energy as though every input carried modules"
        yield Assumption("unfilled_inputs", "neglected", None, source)

"""Answer of POST /v1/selection."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

from marshmallow import fields

from wattpair_service.api.clipping_schemas import BalanceSchema
from wattpair_service.api.result_schemas import (
    ClimateUsedSchema,
    DesignTemperaturesSchema,
    RangeSchema,
    ResultSchema,
    many,
    number,
    numbers,
    one,
    text,
    whole,
)
from wattpair_service.api.schema import OutputSchema
from wattpair_service.api.sizing_schemas import VERDICTS, CheckSchema

HUNDREDTH = Decimal("0.01")


class Money(fields.Float):
    """An amount in the caller's currency, rounded half to even to hundredths here and nowhere else."""

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> float | None:
        if value is None:
            return None
        return float(Decimal(repr(float(value))).quantize(HUNDREDTH, rounding=ROUND_HALF_EVEN)) + 0.0


def money(description: str, *, nullable: bool = False) -> Money:
    """An amount in an answer."""
    return Money(required=True, allow_none=nullable, metadata={"description": f"{description}, in the caller's currency"})


def maybe_text(description: str) -> fields.String:
    """A text that may be null."""
    return fields.String(required=True, allow_none=True, metadata={"description": description})


def maybe(schema: type[OutputSchema], description: str) -> fields.Nested:
    """An object that may be null."""
    return fields.Nested(schema, required=True, allow_none=True, metadata={"description": description})


class StepUpSchema(OutputSchema):
    """From the cheapest candidate that passes to this one."""

    extra_cost = money("What it costs more today")
    extra_energy_kwh = number("What it gives more over the horizon", "kWh")
    simple_payback_years = number("Years until it has paid for itself; null if never", "years", nullable=True)
    discounted_payback_years = number("The same with discounted benefits", "years", nullable=True)
    rate_of_return = number("Internal rate of return of the step, as a share a year; null without one", nullable=True)


class MoneyRangeSchema(OutputSchema):
    """An amount and the range that it is expected in."""

    value = money("The amount")
    low = money("Lower end of the range")
    high = money("Upper end of the range")
    covers = text("What the range holds, and what it leaves out")


class CandidateMoneySchema(OutputSchema):
    """Money of one candidate."""

    units_price = money("Price of all units today")
    net_present_value = money("Worth today of the energy less every cost")
    net_present_value_range = one(MoneyRangeSchema, "The same with its range")
    lifetime_cost = money("Every cost of the horizon, worth today")
    lifetime_cost_per_kwh = number(
        "Lifetime cost over discounted useful energy, in the caller's currency; null without energy or the module's price",
        nullable=True,
    )
    step_up = one(StepUpSchema, "The step up from the cheapest candidate that passes")


class CandidateEnergySchema(OutputSchema):
    """Energy of one candidate on the whole roof."""

    first_year = one(BalanceSchema, "First year, each loss by its own name")
    delivered_range_kwh = one(RangeSchema, "Delivered energy of a single year with its range [kWh]")
    lifetime_kwh = number("Delivered over the horizon as the modules age", "kWh")
    lifetime_range_kwh = one(RangeSchema, "The same with its range [kWh]")
    delivered_kwh_by_year = numbers("The same year by year", "kWh")
    used_at_home_kwh = number("Used at home in the first year, less the night draw", "kWh")
    exported_kwh = number("Exported in the first year", "kWh")
    cut_kwh = number("Cut at the connection in the first year", "kWh")


class ReplacementsSchema(OutputSchema):
    """Units that fail within the horizon."""

    expected = number("Expected number")
    low = whole("Lower end of the range")
    high = whole("Upper end of the range")
    chance_of_any = number("Probability that at least one fails, 0 to 1")
    failure_share_per_year = number("Yearly rate behind the expected number, 0 to 1")
    covers = text("What the range holds")


class CandidateResultSchema(OutputSchema):
    """One microinverter on one module."""

    module = text("Name of the module")
    microinverter = text("Name of the microinverter")
    verdict = text("Worst verdict of its electrical checks; one that fails is not ranked", VERDICTS)
    reasons = many(CheckSchema, "The checks that are not ok")
    rank = fields.Integer(required=True, allow_none=True, metadata={"description": "Place from 1; null where it fails"})
    unit_count = whole("Units on the roof")
    mass_kg = number("Mass of all units", "kg")
    warranty_years = whole("Years of warranty")
    energy = maybe(CandidateEnergySchema, "Energy; null where it fails")
    money = maybe(CandidateMoneySchema, "Money; null where it fails or a price or the tariff is missing")
    replacements = maybe(ReplacementsSchema, "Expected replacements; null where it fails")


class ScenarioSchema(OutputSchema):
    """One thing that may be otherwise."""

    name = text("What is otherwise")
    first = text("Who then comes first")
    regret = number("What the recommended is then short of it, in the unit of the margin")


class RecommendationSchema(OutputSchema):
    """The recommendation."""

    standing = text("Whether it stands within what is not known", ("decided", "close", "depends", "none_passes"))
    sentence = text("The recommendation in one sentence")
    module = maybe_text("Name of the module; null where none passes")
    microinverter = maybe_text("Name of the microinverter; null where none passes")
    runner_up = maybe_text("Who comes second; null without one")
    margin = number("Margin over the second; null without one", nullable=True)
    margin_unit = maybe_text("Unit of the margin: currency, worth today, or kWh over the horizon")
    depends_on = fields.List(
        fields.String(), required=True, metadata={"description": "What would change the order, the gravest first"}
    )
    scenarios = many(ScenarioSchema, "Everything that was tried")


class BreakEvenPowerSchema(OutputSchema):
    """Module power from which the larger pays."""

    pays = text("Whether it pays within the curve always, never, or above the value", ("always", "never", "above"))
    value_w = number("The power; null where it pays always or never", "W", nullable=True)
    low_w = number("Lower end of its range", "W")
    high_w = number("Upper end of its range", "W")
    covers = text("What the range holds")


class PriceGapSchema(OutputSchema):
    """Price gap up to which the larger pays."""

    value = money("Price of the larger unit less that of the smaller for as many modules")
    low = money("Lower end of its range")
    high = money("Upper end of its range")
    asked = money("The gap between the prices in the request")
    covers = text("What the range holds")


class PlaceBreakEvenSchema(OutputSchema):
    """Break-even of the roof or of one face."""

    face = maybe_text("Name of the face, which counts by itself; null for the whole roof")
    power = one(BreakEvenPowerSchema, "Module power from which the larger pays")
    price_gap = one(PriceGapSchema, "Price gap up to which it pays with the module of the request")
    gains = fields.List(
        Money(),
        required=True,
        metadata={"description": "Gain of the larger at each power of the curve, worth today, in the caller's currency"},
    )


class BreakEvenSchema(OutputSchema):
    """Two neighbouring candidates on one module."""

    module = text("Name of the module, which is grown in current for the curve")
    smaller = text("Name of the smaller microinverter")
    larger = text("Name of the larger microinverter")
    module_power_w = numbers("Module powers of the curve", "W")
    places = many(PlaceBreakEvenSchema, "The whole roof, then each face where there are several")


class FaceChoiceSchema(OutputSchema):
    """The microinverter for one face."""

    face = text("Name of the face")
    microinverter = text("Name of the microinverter")


class MixedChoiceSchema(OutputSchema):
    """A microinverter for each face, of at most two kinds."""

    module = text("Name of the module")
    choices = many(FaceChoiceSchema, "The best for each face")
    saving = money("What it is worth more than one kind for all, before the cost of a second kind")
    second_kind_cost = money("Cost of stocking a second kind")
    worthwhile = fields.Boolean(required=True, metadata={"description": "Whether the saving exceeds that cost"})
    sentence = text("The same in plain words")


class SensitivitySchema(OutputSchema):
    """What one input must become for the recommendation to change."""

    name = text("The input")
    unit = text("Its unit")
    now = number("What it is")
    then = number("Nearest value at which another comes first; null where none was found", nullable=True)
    first_then = maybe_text("Who then comes first")
    low = number("Lowest value looked at")
    high = number("Highest value looked at")


class CutEnergySchema(OutputSchema):
    """One candidate behind the connection."""

    module = text("Name of the module")
    microinverter = text("Name of the microinverter")
    cut_first_year_kwh = number("Cut in the first year", "kWh")
    cut_lifetime_kwh = number("Cut over the horizon", "kWh")
    needless_beside = maybe_text("A smaller, cheaper candidate that the limit makes give as much to 0.1 %; null without one")


class ExportLimitSchema(OutputSchema):
    """What the connection cuts."""

    export_limit_w = number("Power that the connection lets out", "W")
    candidates = many(CutEnergySchema, "Each candidate that passes")
    sentence = text("The same in plain words")


class ChangeSchema(OutputSchema):
    """What would have to change for a pairing to pass."""

    module = text("Name of the module")
    microinverter = text("Name of the microinverter")
    check = text("Name of the failing check")
    value = number("What it is, in `unit`")
    limit = number("What it is held against, in `unit`")
    unit = text("Unit of both")
    sentence = text("The same in plain words")


class SelectionResultSchema(ResultSchema):
    """The recommendation and what it rests on."""

    ranked_by = text("What candidates are ranked by", ("net present value", "energy"))
    recommendation = one(RecommendationSchema, "The recommendation")
    candidates = many(CandidateResultSchema, "Every pairing in the order of the request, module by module")
    break_evens = many(BreakEvenSchema, "Neighbouring candidates by AC power for each module; empty without money")
    mixed_choices = many(MixedChoiceSchema, "For each module; empty without money, for one face or one candidate")
    sensitivities = many(SensitivitySchema, "One input each; empty without money or a second candidate")
    export_limit = maybe(ExportLimitSchema, "What the connection cuts; null without a limit")
    what_would_have_to_change = many(ChangeSchema, "Where no candidate passes: the failing checks, fewest first")
    climate = one(ClimateUsedSchema, "Where the year's weather comes from")
    design_temperatures = one(DesignTemperaturesSchema, "Temperatures that the checks are made for")
    place = text("Place whose rules were applied")
    edition = text("Edition of these rules")

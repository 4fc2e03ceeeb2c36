"""POST /v1/selection: which microinverter to buy, and when that would change."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

import numpy as np
from marshmallow import ValidationError, fields, post_load, validates_schema

from wattpair_service.api.exchange.operation import Operation
from wattpair_service.api.operations.clipping import BalanceSchema
from wattpair_service.api.operations.sizing import (
    MICROINVERTERS_MOST,
    VERDICTS,
    CheckSchema,
    modules_per_input_field,
    region_field,
)
from wattpair_service.api.schemas.base import InputSchema, OutputSchema
from wattpair_service.api.schemas.equipment import MicroinverterSchema, ModuleSchema
from wattpair_service.api.schemas.fields import (
    COMMON_PRACTICE,
    Assumed,
    Listed,
    Nested,
    Number,
    NumberArray,
    Text,
    WholeNumber,
    composed,
)
from wattpair_service.api.schemas.prices import CURRENCY, Currency
from wattpair_service.api.schemas.results import (
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
from wattpair_service.api.schemas.site import (
    FACES_MOST,
    FaceSchema,
    SiteSchema,
    transposition_field,
    weather_field,
)
from wattpair_service.climate.site_year import site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import Weather
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.lifetime_energy import HomeUse, Tariff
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.selection.request import ModuleOffer, SelectionRequest, Terms, UnitOffer
from wattpair_service.engineering.selection.selection import SelectionResult, selection
from wattpair_service.engineering.site import Site
from wattpair_service.rules import electrical_rules

MODULES_MOST = 8
PRICE_MOST = 1e6
HOME_SHARE = 0.3
LOAD_LENGTHS = (24, 288, 8760, 8784)
ONE_CURRENCY = Assumed(None, "one currency for every price of the request")
DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


@dataclass(frozen=True, slots=True)
class SelectionBody:
    """A request with what the layers below the core need of it."""

    site: Site
    weather: Weather
    region: str
    request: SelectionRequest


def currency_field(whose: str) -> Currency:
    """Currency of a price."""
    return Currency(f"Currency {whose}, after ISO 4217, such as EUR; all that are given must be the same", assumed=ONE_CURRENCY)


def price_field(description: str) -> Number:
    """A price that may be missing."""
    return Number(description, at_least=0, at_most=PRICE_MOST, required=False)


def failure_field() -> Number:
    """Yearly failure rate."""
    return Number(
        "Units that fail in a year; without it a band from 0.02 to 0.5 % is shown, for no independent rate is published",
        unit="%",
        at_least=0,
        at_most=20,
        required=False,
    )


class ModuleOfferSchema(InputSchema):
    """A module and its price."""

    module = Nested(ModuleSchema, "The module")
    price = price_field("Price of one module; needed to compare several modules")
    currency = currency_field("of the price")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> ModuleOffer:
        """The offer for the core."""
        return ModuleOffer(data["module"], data["price"])


class CandidateSchema(InputSchema):
    """A microinverter on offer."""

    microinverter = Nested(MicroinverterSchema, "The microinverter")
    price = price_field("Price of one unit; where any is missing candidates are ranked by energy")
    currency = currency_field("of the price")
    warranty_years = WholeNumber(
        "Years in which a failed unit is replaced free of charge, labour aside",
        at_least=0,
        at_most=40,
        assumed=Assumed(10, COMMON_PRACTICE),
    )
    failure_percent_per_year = failure_field()

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> UnitOffer:
        """The offer for the core."""
        rate = data["failure_percent_per_year"]
        share = None if rate is None else rate / 100.0
        return UnitOffer(data["microinverter"], data["price"], data["warranty_years"], share)


class TariffSchema(InputSchema):
    """What energy is worth."""

    import_price_per_kwh = Number("Price of energy from the grid in the first year", at_least=0, at_most=1000)
    export_price_per_kwh = Number(
        "Price of energy to the grid in the first year; below 0 where letting it out costs", at_least=-1000, at_most=1000
    )
    price_change_percent_per_year = Number(
        "Change of both prices from each year to the next, compounding",
        unit="%",
        at_least=-20,
        at_most=20,
        assumed=Assumed(0.0, "prices of today, so that discount_rate_percent is a real rate"),
    )
    currency = currency_field("of both prices")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Tariff:
        """The tariff for the core."""
        change = data["price_change_percent_per_year"] / 100.0
        return Tariff(data["import_price_per_kwh"], data["export_price_per_kwh"], change)


def money_field(description: str, source: str) -> Number:
    """An amount that is nothing where it is left out."""
    return Number(description, at_least=0, at_most=PRICE_MOST, assumed=Assumed(0.0, source))


class SelectionRequestSchema(InputSchema):
    """A roof, modules and candidate microinverters with prices, and the terms."""

    site = Nested(SiteSchema, "Where the building stands")
    weather = weather_field()
    region = region_field()
    modules = Listed(Nested(ModuleOfferSchema, "A module"), "The modules to look at, each on every face", most=MODULES_MOST)
    candidates = Listed(Nested(CandidateSchema, "A candidate"), "The microinverters on offer", most=MICROINVERTERS_MOST)
    faces = Listed(Nested(FaceSchema, "A face"), "The faces of the roof", most=FACES_MOST)
    modules_per_input = modules_per_input_field()
    transposition = transposition_field()
    currency = currency_field("of every price of the request")
    tariff = Nested(TariffSchema, "What energy is worth; without it candidates are ranked by energy", required=False)
    share_used_at_home = Number(
        "Share of the energy that the home itself uses, 0 to 1; or give load_w",
        at_least=0,
        at_most=1,
        assumed=Assumed(None, f"{HOME_SHARE:g} where load_w is not given either: {COMMON_PRACTICE}"),
    )
    load_w = NumberArray(
        "The home's load: 24 hours of a mean day, 12 such days from January, or every hour of a year from 1 January in "
        "standard time, of which the mean day of each month is taken",
        unit="W",
        lengths=LOAD_LENGTHS,
        at_least=0,
        at_most=1e7,
        required=False,
    )
    export_limit_w = Number(
        "Power that the connection lets out; without it, all", unit="W", at_least=0, at_most=1e7, required=False
    )
    discount_rate_percent = Number("Discount rate", unit="%", at_least=-20, at_most=50, assumed=Assumed(3.0, COMMON_PRACTICE))
    horizon_years = WholeNumber("Years looked at", at_least=1, at_most=40, assumed=Assumed(25, COMMON_PRACTICE))
    degradation_percent_per_year = Number(
        "Power that the module loses from each year to the next, compounding",
        unit="%",
        at_least=0,
        at_most=5,
        assumed=Assumed(0.5, "median of some 2000 rates, Jordan and Kurtz 2013, 10.1002/pip.1182"),
    )
    failure_percent_per_year = failure_field()
    labour_per_visit = money_field("Labour to replace one failed unit", "labour not given: replacements cost the unit alone")
    maintenance_per_year = money_field("Maintenance of the roof in a year", "the same for every candidate")
    other_cost = money_field("All other cost of the roof today", "the same for every candidate")
    second_kind_cost = money_field("Cost of stocking a second kind of microinverter", "not given")

    break_even_pairs = Text(
        "Break-even of only the recommended candidate with its neighbours, or of every pair of neighbours: slower with many",
        choices=("every", "recommended"),
        assumed=Assumed("recommended", "what the choice turns on; every pair takes longer"),
    )

    @validates_schema(skip_on_field_errors=False)
    def one_use(self, data: dict[str, Any], **_: Any) -> None:
        """A share or a load."""
        if data.get("share_used_at_home") is not None and data.get("load_w") is not None:
            raise ValidationError("left out where load_w is given: the load says what is used at home", "share_used_at_home")

    @validates_schema(skip_on_field_errors=False, pass_original=True)
    def consistent(self, data: dict[str, Any], original: object, **_: Any) -> None:
        """Names must differ, and currencies must not; looked at in what was sent, whatever else is wrong with it."""
        faults = [*_repeated(original), *_other_currencies(original)]
        if faults:
            raise ValidationError(nested_faults(faults))

    @post_load(pass_original=True)
    def to_dataclass(self, data: dict[str, Any], original: dict[str, Any], **_: Any) -> Any:
        """The request for the core."""
        request = selection_request(data, tuple(data["faces"]), currency_of(original))
        return SelectionBody(data["site"], data["weather"], data["region"], request)


def selection_request(data: dict[str, Any], faces: tuple[Face, ...], currency: str | None) -> SelectionRequest:
    """The request for the core, from the loaded fields; fields of other schemas are left alone."""
    rate, load, share = data["failure_percent_per_year"], data["load_w"], data["share_used_at_home"]
    if load is None and share is None:
        share = HOME_SHARE
    return SelectionRequest(
        modules=tuple(data["modules"]),
        units=tuple(data["candidates"]),
        faces=faces,
        transposition=data["transposition"],
        modules_per_input=data["modules_per_input"],
        home_use=HomeUse(share, None if load is None else mean_days(load), data["export_limit_w"]),
        tariff=data["tariff"],
        terms=Terms(
            discount_rate=data["discount_rate_percent"] / 100.0,
            horizon_years=data["horizon_years"],
            degradation_share_per_year=data["degradation_percent_per_year"] / 100.0,
            failure_share_per_year=None if rate is None else rate / 100.0,
            labour_per_visit=data["labour_per_visit"],
            maintenance_per_year=data["maintenance_per_year"],
            other_cost=data["other_cost"],
            second_kind_cost=data["second_kind_cost"],
        ),
        every_pair=data["break_even_pairs"] == "every",
        currency=currency,
    )


def mean_days(load_w: FloatArray) -> FloatArray:
    """A load as mean days of each month, shape (12, 24)."""
    if load_w.size == 24:
        return np.tile(load_w, (12, 1))
    if load_w.size == 288:
        return load_w.reshape(12, 24)
    days = list(DAYS)
    days[1] += (load_w.size - 8760) // 24
    ends = np.cumsum(days)
    by_day = load_w.reshape(-1, 24)
    return np.array([by_day[end - count : end].mean(axis=0) for end, count in zip(ends, days, strict=True)])


ITEMS_MOST = {"faces": FACES_MOST, "candidates": MICROINVERTERS_MOST, "modules": MODULES_MOST}
Path = tuple[str | int, ...]
Fault = tuple[Path, str]
NAMES = {"faces": ("name",), "candidates": ("microinverter", "name"), "modules": ("module", "name")}
"""Where the name of an item stands in each list."""


def names_sent(body: object, field: str) -> list[object]:
    """Names of the items of a list, as they were sent; None where there is none. A list that is too long has other faults."""
    items = sent(body, (field,))
    if not isinstance(items, list) or len(items) > ITEMS_MOST[field]:
        return []
    return [sent(item, NAMES[field]) for item in items]


def sent(body: object, path: Path) -> object:
    """What stands at a place of a body that may be at fault; None where nothing does."""
    for step in path:
        try:
            body = body[step]  # type: ignore[index]  # that is what is tried
        except (TypeError, KeyError, IndexError):
            return None
    return body


def currency_of(body: object) -> str | None:
    """The currency of a request, None where it names none."""
    return next((currency for _, currency in _currencies(body)), None)


def nested_faults(faults: Iterable[Fault]) -> dict[Any, Any]:
    """Messages at their places, as marshmallow nests them."""
    found: dict[Any, Any] = {}
    for (*way, last), message in faults:
        inner = found
        for step in way:
            inner = inner.setdefault(step, {})
        inner[last] = [message]
    return found


def _repeated(body: object) -> Iterator[Fault]:
    for field, place in NAMES.items():
        first: dict[str, int] = {}
        for index, name in enumerate(names_sent(body, field)):
            if isinstance(name, str) and (earlier := first.setdefault(composed(name), index)) != index:
                yield (field, index, *place), f"a name of its own; item {earlier} has the same"


def _currencies(body: object) -> Iterator[tuple[Path, str]]:
    """Every currency that is given in its right form, with its path."""
    offers = ((field, index) for field in ("modules", "candidates") for index in range(len(names_sent(body, field))))
    for place in ((), ("tariff",), ("price_book",), *offers):
        path: Path = (*place, "currency")
        currency = sent(body, path)
        if isinstance(currency, str) and CURRENCY.fullmatch(currency):
            yield path, currency


def _other_currencies(body: object) -> Iterator[Fault]:
    first = currency_of(body)
    for path, currency in _currencies(body):
        if currency != first:
            yield path, f"one currency for the whole request, which is {first}: nothing here converts"


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


def handle(body: SelectionBody, stations: StationFolder) -> SelectionResult:
    """Answer a request."""
    year = site_year(body.site, body.weather, stations)
    rules = electrical_rules(body.region)
    result = selection(body.request, rules, year)
    return year.with_notes(result)


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

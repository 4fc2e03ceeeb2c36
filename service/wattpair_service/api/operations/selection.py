"""POST /v1/selection: which microinverter to buy, and what would change the choice."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any, get_args

import numpy as np
from marshmallow import ValidationError, fields, post_load, validates_schema

from wattpair_service.api.exchange.operation import Operation
from wattpair_service.api.operations.clipping import BalanceSchema
from wattpair_service.api.operations.sizing import (
    MICROINVERTERS_MOST,
    CheckSchema,
    InputWiringSchema,
    input_wiring,
    region_field,
)
from wattpair_service.api.schemas.base import InputSchema, OutputSchema
from wattpair_service.api.schemas.equipment import MicroinverterSchema, ModuleSchema
from wattpair_service.api.schemas.fields import (
    Assumed,
    Flag,
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
    Written,
    many,
    number,
    numbers,
    one,
    text,
    whole,
    words,
)
from wattpair_service.api.schemas.shade import faces_in_surroundings, surroundings_field
from wattpair_service.api.schemas.site import (
    FACES_MOST,
    FaceSchema,
    SiteSchema,
    transposition_field,
    weather_field,
)
from wattpair_service.api.schemas.string_inverter import INVERTERS_MOST, StringCandidateSchema, StringInverterOfferSchema
from wattpair_service.climate.site_year import site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import Weather
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.home_use import HomeUse, Prices, Tariff
from wattpair_service.engineering.energy.system_losses import (
    AC_CABLE_SHARE,
    DOWNTIME_SHARE,
    SHARED_INPUT_MISMATCH_SHARE,
    SystemLosses,
)
from wattpair_service.engineering.inverter.electrical_checks import VERDICTS
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.materials.bill_lines import ROLES
from wattpair_service.engineering.selection.recommendation import Standing
from wattpair_service.engineering.selection.request import (
    NO_SYSTEM,
    REPAIR_DAYS,
    ModuleOffer,
    Obstacle,
    ObstacleKind,
    SelectionRequest,
    SystemTerms,
    Terms,
    UnitOffer,
)
from wattpair_service.engineering.selection.selection import SAME_FOR_EVERY_CANDIDATE, SelectionResult, selection
from wattpair_service.engineering.sentences import COMMON_PRACTICE, Cited, Words, fixed, sentence
from wattpair_service.engineering.site import Site
from wattpair_service.engineering.strings.offer import StringInverterOffer
from wattpair_service.rules import electrical_rules, standard_time

MODULES_MOST = 8
PRICE_MOST = 1e6
HOME_SHARE = 0.3
LOAD_LENGTHS = (24, 288, 8760, 8784)
ONE_CURRENCY = Assumed(None, fixed("source.one_currency"))
OBSTACLE_KIND = "Whether a check of the circuits fails, or no circuits are possible"
BALANCE_OF_PLANT = "Price of all parts beside modules and units: circuits, cables, devices, boards, mounting"
UNPRICED_ROLES = (
    "Roles left out of the balance of plant for every candidate, as a part has no price for one candidate; there is then no "
    "payback"
)
DIFFERING_ROLES = "Roles without a price whose parts differ between the candidates: the recommendation then depends on it"
RATED_CABLE_SHARE = "Share of the rated power that the AC cables take at that power"
NEEDS_AGREEMENT = "Whether the network operator has to agree before the system is switched on"
CONNECTION_COST = "Cost of the grid connection procedure with what the wait for it costs"


@dataclass(frozen=True, slots=True)
class SelectionBody:
    """A request: site and weather for the climate layer, region for the rules, the rest for the core."""

    site: Site
    weather: Weather
    region: str
    request: SelectionRequest


def currency_field(whose: str) -> Currency:
    """Currency of a price."""
    return Currency(
        f"Currency {whose}, ISO 4217, such as EUR; all currencies of a request must be the same", assumed=ONE_CURRENCY
    )


def price_field(description: str) -> Number:
    """A price that may be missing."""
    return Number(description, at_least=0, at_most=PRICE_MOST, required=False)


def failure_field() -> Number:
    """Yearly failure rate."""
    return Number(
        "Share of the units that fails each year; if left out, results show a band from 0.02 to 0.5 %, as no independent rate "
        "is published",
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


class ObstacleSchema(InputSchema):
    """Why a system cannot be built."""

    kind = Text(OBSTACLE_KIND, choices=get_args(ObstacleKind))
    reason = Text("The reason, in words", longest=2000)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Obstacle:
        """The obstacle for the core."""
        return Obstacle(data["kind"], Cited(data["reason"]))


class SystemTermsSchema(InputSchema):
    """What the whole system with a candidate needs beside modules and units."""

    balance_of_plant = price_field(f"{BALANCE_OF_PLANT}; for every candidate that can be built, or for none")
    unpriced_roles = Listed(
        Text("A role", choices=ROLES),
        UNPRICED_ROLES,
        fewest=0,
        most=len(ROLES),
        assumed=Assumed((), fixed("source.all_priced")),
    )
    differing_roles = Listed(Text("A role", choices=ROLES), DIFFERING_ROLES, fewest=0, most=len(ROLES), required=False)
    rated_cable_share = Number(RATED_CABLE_SHARE, at_least=0, at_most=1, required=False)
    connection_procedure = Text("Name of the grid connection procedure", required=False)
    needs_agreement = Flag(NEEDS_AGREEMENT, assumed=Assumed(False, fixed("source.notification_enough")))
    connection_cost = price_field(f"{CONNECTION_COST}; if left out it counts as 0")
    obstacle = Nested(ObstacleSchema, "Why the system cannot be built", required=False)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> SystemTerms:
        """The terms for the core."""
        procedure = data["connection_procedure"]
        words = {"connection_procedure": None if procedure is None else Cited(procedure)}
        roles = {name: tuple(data[name] or ()) for name in ("unpriced_roles", "differing_roles")}
        return SystemTerms(**data | words | roles)


class CandidateSchema(InputSchema):
    """A microinverter on offer."""

    microinverter = Nested(MicroinverterSchema, "The microinverter")
    price = price_field("Price of one unit; if any is missing, candidates are ranked by energy")
    currency = currency_field("of the price")
    warranty_years = WholeNumber(
        "Years in which a failed unit is replaced free of charge, labour aside",
        at_least=0,
        at_most=40,
        assumed=Assumed(10, COMMON_PRACTICE),
    )
    failure_percent_per_year = failure_field()
    system = Nested(
        SystemTermsSchema,
        "The whole system with this candidate; a design computes from its circuits and price book what is left out here",
        required=False,
    )

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> UnitOffer:
        """The offer for the core."""
        rate = data["failure_percent_per_year"]
        share = None if rate is None else rate / 100.0
        return UnitOffer(data["microinverter"], data["price"], data["warranty_years"], share, data["system"] or NO_SYSTEM)


WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
DAYS_OF_BAND = {"every": (0, 1), "weekdays": (0,), "weekend": (1,)}
"""Indexes of prices by kind of day: weekdays, then Saturdays and Sundays."""
BANDS_MOST = 96


@dataclass(frozen=True, slots=True)
class PriceBand:
    """A price, and the hours that it holds in: indexes of an array of shape (2, 12, 24), by kind of day, month and hour."""

    price_per_kwh: float
    hours: tuple[Any, ...]


class ExportBandSchema(InputSchema):
    """A price of exported energy in some hours of the day."""

    from_hour = WholeNumber("First hour of the band in standard time: 7 is from 7:00", at_least=0, at_most=23)
    to_hour = WholeNumber(
        "End of the band: 23 is up to 23:00; not above from_hour where it goes past midnight", at_least=0, at_most=24
    )
    months = Listed(
        WholeNumber("Month", at_least=1, at_most=12), "Months of the band; if left out, all", most=12, required=False
    )
    days = Text(
        "Days of the band; if left out, every day. Hours past midnight are those of the same days",
        choices=tuple(DAYS_OF_BAND),
        required=False,
    )
    price_per_kwh = Number(
        "Price of exported energy in the first year; negative where exporting costs money", at_least=-1000, at_most=1000
    )

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> PriceBand:
        """The band for the tariff."""
        start, end = data["from_hour"], data["to_hour"]
        hours = np.arange(start, end if end > start else end + 24) % 24
        months = np.array(data["months"] or range(1, 13)) - 1
        return PriceBand(data["price_per_kwh"], np.ix_(np.array(DAYS_OF_BAND[data["days"] or "every"]), months, hours))


class ImportBandSchema(ExportBandSchema):
    """A price of imported energy in some hours of the day."""

    price_per_kwh = Number("Price of imported energy in the first year", at_least=0, at_most=1000)


BANDS = "by bands of hours, in place of one price; each hour of each month and kind of day must be in exactly one band"


class TariffSchema(InputSchema):
    """Energy prices: one for every hour, or bands of hours."""

    import_price_per_kwh = Number(
        "Price of imported energy in the first year; or give import_price_bands", at_least=0, at_most=1000, required=False
    )
    import_price_bands = Listed(
        Nested(ImportBandSchema, "A band"), f"Price of imported energy {BANDS}", most=BANDS_MOST, required=False
    )
    export_price_per_kwh = Number(
        "Price of exported energy in the first year, negative where exporting costs money; or give export_price_bands",
        at_least=-1000,
        at_most=1000,
        required=False,
    )
    export_price_bands = Listed(
        Nested(ExportBandSchema, "A band"), f"Price of exported energy {BANDS}", most=BANDS_MOST, required=False
    )
    price_change_percent_per_year = Number(
        "Change of all prices from each year to the next, compounding",
        unit="%",
        at_least=-20,
        at_most=20,
        assumed=Assumed(0.0, fixed("source.prices_of_today")),
    )
    currency = currency_field("of both prices")

    @validates_schema(skip_on_field_errors=True)
    def one_price_for_each_hour(self, data: dict[str, Any], **_: Any) -> None:
        """Either one price or bands that hold each hour once, for import and for export."""
        errors = {}
        for name in ("import_price", "export_price"):
            price, bands = data[f"{name}_per_kwh"], data[f"{name}_bands"]
            if price is None and bands is None:
                errors[f"{name}_per_kwh"] = [f"a number, or give {name}_bands; the field is required without them"]
            elif price is not None and bands is not None:
                errors[f"{name}_bands"] = [f"left out where {name}_per_kwh is given"]
            elif bands is not None and (wrong := _not_once(bands)):
                errors[f"{name}_bands"] = [wrong]
        if errors:
            raise ValidationError(errors)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Tariff:
        """The tariff for the core."""
        import_price, export_price = (
            data[f"{name}_per_kwh"] if data[f"{name}_bands"] is None else _prices(data[f"{name}_bands"])
            for name in ("import_price", "export_price")
        )
        return Tariff(import_price, export_price, data["price_change_percent_per_year"] / 100.0)


def _prices(bands: list[PriceBand]) -> Prices:
    """Prices by kind of day, month and hour; one number where all are the same."""
    prices = np.zeros((2, 12, 24))
    for band in bands:
        prices[band.hours] = band.price_per_kwh
    return float(prices[0, 0, 0]) if np.ptp(prices) == 0.0 else prices


def _not_once(bands: list[PriceBand]) -> str | None:
    """The first hour that is in no band or in several, in words; None where there is none."""
    count = np.zeros((2, 12, 24), dtype=np.int64)
    for band in bands:
        count[band.hours] += 1
    wrong = np.argwhere(count != 1)
    if not wrong.size:
        return None
    day, month, hour = wrong[0].tolist()
    when = f"{hour}:00 to {hour + 1}:00 on {('weekdays', 'weekends')[day]} of month {month + 1}"
    return f"exactly one band for each hour; {when} is in {int(count[day, month, hour]) or 'none'}"


def money_field(description: str, source: Words) -> Number:
    """An amount that is zero if left out."""
    return Number(description, at_least=0, at_most=PRICE_MOST, assumed=Assumed(0.0, source))


def loss_field(cause: str, share: float | None, source: Words) -> Number:
    """Share of the energy that is lost between the single module with its unit and the meter."""
    return Number(f"Share of the energy lost by {cause}, 0 to 1", at_least=0, below=1, assumed=Assumed(share, source))


class SelectionRequestSchema(InputWiringSchema):
    """A roof, modules and candidate microinverters with prices, and the terms."""

    site = Nested(SiteSchema, "Where the building stands")
    weather = weather_field()
    region = region_field()
    modules = Listed(Nested(ModuleOfferSchema, "A module"), "The modules to compare, each on every face", most=MODULES_MOST)
    candidates = Listed(Nested(CandidateSchema, "A candidate"), "The microinverters on offer", most=MICROINVERTERS_MOST)
    faces = Listed(Nested(FaceSchema, "A face"), "The faces of the roof", most=FACES_MOST)
    surroundings = surroundings_field()
    transposition = transposition_field()
    currency = currency_field("of every price of the request")
    tariff = Nested(TariffSchema, "Energy prices; if left out, candidates are ranked by energy", required=False)
    share_used_at_home = Number(
        "Share of the energy that is used at home, 0 to 1; or give load_w",
        at_least=0,
        at_most=1,
        assumed=Assumed(None, sentence("source.home_share", "share")(share=HOME_SHARE)),
    )
    load_w = NumberArray(
        "Household load, the power drawn at home: every hour of a year from 1 January in standard time or, less exact, 12 mean "
        "days from January or one mean day. With hourly weather each hour meets its own load, otherwise all loads of that hour "
        "in its month",
        unit="W",
        lengths=LOAD_LENGTHS,
        at_least=0,
        at_most=1e7,
        required=False,
    )
    export_limit_w = Number(
        "Export limit of the grid connection; if left out, none", unit="W", at_least=0, at_most=1e7, required=False
    )
    first_weekday = Text(
        "Weekday of 1 January in load_w; it counts where the tariff differs at weekends. If left out, monday",
        choices=WEEKDAYS,
        required=False,
    )
    home_utc_offset_h = Number(
        "Offset from UTC of the site's standard time, which load_w and the tariff's bands are in; if left out, that of the "
        "region's rules where the country has one standard time, else that of the weather or, without hourly weather, the "
        "nearest whole hour to the longitude over 15",
        unit="h",
        at_least=-14,
        at_most=14,
        required=False,
    )
    discount_rate_percent = Number("Discount rate", unit="%", at_least=-20, at_most=50, assumed=Assumed(3.0, COMMON_PRACTICE))
    horizon_years = WholeNumber("Years of the comparison", at_least=1, at_most=40, assumed=Assumed(25, COMMON_PRACTICE))
    degradation_percent_per_year = Number(
        "Power that the module loses from each year to the next, compounding",
        unit="%",
        at_least=0,
        at_most=5,
        assumed=Assumed(0.5, fixed("source.median_degradation")),
    )
    failure_percent_per_year = failure_field()
    labour_per_visit = money_field("Labour to replace one failed unit", fixed("source.labour_not_given"))
    maintenance_per_year = money_field("Maintenance of the roof in a year", SAME_FOR_EVERY_CANDIDATE)
    other_cost = price_field(
        "All other cost of the roof today: the work of building, and the balance of plant where the candidates have none; 0 "
        "where other prices include it. If left out it counts as 0, and the whole system has no payback"
    )
    second_kind_cost = money_field("Cost of stocking a second kind of microinverter", fixed("source.not_given"))

    mismatch_loss_share = loss_field(
        "modules on one input that differ",
        None,
        sentence("source.mismatch", "share")(share=SHARED_INPUT_MISMATCH_SHARE),
    )
    snow_loss_share = loss_field("snow on the modules", 0.0, fixed("source.no_snow"))
    downtime_share = loss_field(
        "units or the network being out of service",
        DOWNTIME_SHARE,
        sentence("source.availability", "share")(share=1.0 - DOWNTIME_SHARE),
    )
    ac_cable_loss_share = loss_field(
        "the cables from the units to the meter",
        None,
        sentence("source.cable_share", "share")(share=AC_CABLE_SHARE),
    )

    string_inverters = Listed(
        Nested(StringInverterOfferSchema, "A string inverter"),
        "String inverters to compare with the recommended microinverter on the same roof",
        fewest=0,
        most=INVERTERS_MOST,
        required=False,
    )
    repair_days = Number(
        "Days from a failure to its repair, for the comparison with string inverters",
        unit="d",
        at_least=0,
        at_most=365,
        assumed=Assumed(REPAIR_DAYS, COMMON_PRACTICE),
    )
    break_even_pairs = Text(
        "Pairs to compute the break-even for: the recommended candidate with its neighbours by AC power, or every pair of "
        "neighbours",
        choices=("every", "recommended"),
        assumed=Assumed("recommended", fixed("source.deciding_pairs")),
    )

    @validates_schema(skip_on_field_errors=False)
    def one_use(self, data: dict[str, Any], **_: Any) -> None:
        """Either share_used_at_home or load_w."""
        if data.get("share_used_at_home") is not None and data.get("load_w") is not None:
            raise ValidationError("left out where load_w is given: the share follows from the load", "share_used_at_home")

    @validates_schema(skip_on_field_errors=False, pass_original=True)
    def consistent(self, data: dict[str, Any], original: object, **_: Any) -> None:
        """Names must be unique and currencies the same. Checks the raw body, to report this beside other errors."""
        errors = [*_repeated_names(original), *_other_currencies(original)]
        if errors:
            raise ValidationError(nested_messages(errors))

    @validates_schema
    def one_size(self, data: dict[str, Any], **_: Any) -> None:
        """All modules need the same size where the places of a face's modules are given."""
        places = [each.shade is not None and each.shade.placement is not None for each in data["faces"]]
        if any(places) and (errors := other_sizes(data, "where module_places are given")):
            raise ValidationError(errors)

    @post_load(pass_original=True)
    def to_dataclass(self, data: dict[str, Any], original: dict[str, Any], **_: Any) -> Any:
        """The request for the core."""
        request = selection_request(
            data, faces_in_surroundings(data["faces"], data["surroundings"], data["modules"][0].module), currency_of(original)
        )
        return SelectionBody(data["site"], data["weather"], data["region"], request)


def other_sizes(data: dict[str, Any], where: str) -> dict[str, Any]:
    """Errors of the modules that are not of the first one's size."""
    first, *others = (offer.module for offer in data["modules"])
    errors: dict[int, Any] = {}
    for index, module in enumerate(others, start=1):
        wrong = {
            name: [f"as of the first module, {getattr(first, name):g} m, {where}"]
            for name in ("length_m", "width_m")
            if getattr(module, name) != getattr(first, name)
        }
        if wrong:
            errors[index] = {"module": wrong}
    return {"modules": errors} if errors else {}


def selection_request(data: dict[str, Any], faces: tuple[Face, ...], currency: str | None) -> SelectionRequest:
    """The request for the core, from the loaded fields; fields of other schemas are left alone."""
    rate, load, share = data["failure_percent_per_year"], data["load_w"], data["share_used_at_home"]
    if load is None and share is None:
        share = HOME_SHARE
    weekday, offset_h, offset_source = data["first_weekday"], data["home_utc_offset_h"], None
    if offset_h is None and (of_region := standard_time(data["region"])) is not None:
        offset_h, offset_source = of_region
    return SelectionRequest(
        modules=tuple(data["modules"]),
        units=tuple(data["candidates"]),
        faces=faces,
        transposition=data["transposition"],
        input_wiring=input_wiring(data),
        home_use=HomeUse(
            share_used_at_home=share,
            load_w=None if load is None else by_day(load),
            export_limit_w=data["export_limit_w"],
            first_weekday=None if weekday is None else WEEKDAYS.index(weekday),
            utc_offset_h=offset_h,
            utc_offset_source=offset_source,
        ),
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
        string_inverters=tuple(_on_faces(data)),
        repair_days=data["repair_days"],
        losses=SystemLosses(
            data["mismatch_loss_share"], data["snow_loss_share"], data["downtime_share"], data["ac_cable_loss_share"]
        ),
    )


def _on_faces(data: dict[str, Any]) -> Iterator[StringInverterOffer]:
    """The string inverters with their strings on the faces of the request."""
    names = [face.name for face in data["faces"]]
    for index, each in enumerate(data["string_inverters"] or ()):
        try:
            yield each.on_faces(names)
        except ValidationError as error:
            raise ValidationError({"string_inverters": {index: error.messages}}) from error


def by_day(load_w: FloatArray) -> FloatArray:
    """Household load by day and hour [W]; 12 days are mean days of the months."""
    return np.tile(load_w, (12, 1)) if load_w.size == 24 else load_w.reshape(-1, 24)


ITEMS_MOST = {"faces": FACES_MOST, "candidates": MICROINVERTERS_MOST, "modules": MODULES_MOST}
Path = tuple[str | int, ...]
FieldMessage = tuple[Path, str]
NAMES = {"faces": ("name",), "candidates": ("microinverter", "name"), "modules": ("module", "name")}
"""Path to the name within an item of each list."""


def raw_names(body: object, field: str) -> list[object]:
    """Names of the items of a list in the raw body, None where missing; empty for a list that is too long."""
    items = raw_value(body, (field,))
    if not isinstance(items, list) or len(items) > ITEMS_MOST[field]:
        return []
    return [raw_value(item, NAMES[field]) for item in items]


def raw_value(body: object, path: Path) -> object:
    """The value at a path in a body that was not checked; None where there is none."""
    for step in path:
        try:
            body = body[step]  # type: ignore[index]  # a wrong type is caught below
        except (TypeError, KeyError, IndexError):
            return None
    return body


def currency_of(body: object) -> str | None:
    """The first currency of a request, None where it has none."""
    return next((currency for _, currency in _currencies(body)), None)


def nested_messages(messages: Iterable[FieldMessage]) -> dict[Any, Any]:
    """Messages nested by their paths, as in marshmallow's errors."""
    found: dict[Any, Any] = {}
    for (*parents, last), message in messages:
        inner = found
        for step in parents:
            inner = inner.setdefault(step, {})
        inner[last] = [message]
    return found


def _repeated_names(body: object) -> Iterator[FieldMessage]:
    for field, name_path in NAMES.items():
        first: dict[str, int] = {}
        for index, name in enumerate(raw_names(body, field)):
            if isinstance(name, str) and (earlier := first.setdefault(composed(name), index)) != index:
                yield (field, index, *name_path), f"a unique name; item {earlier} has the same"


def _currencies(body: object) -> Iterator[tuple[Path, str]]:
    """Every well-formed currency, with its path."""
    offers = ((field, index) for field in ("modules", "candidates") for index in range(len(raw_names(body, field))))
    for parent in ((), ("tariff",), ("price_book",), *offers):
        path: Path = (*parent, "currency")
        currency = raw_value(body, path)
        if isinstance(currency, str) and CURRENCY.fullmatch(currency):
            yield path, currency


def _other_currencies(body: object) -> Iterator[FieldMessage]:
    first = currency_of(body)
    for path, currency in _currencies(body):
        if currency != first:
            yield path, f"one currency for the whole request, which is {first}: currencies are not converted"


HUNDREDTH = Decimal("0.01")


class Money(fields.Float):
    """An amount in the caller's currency, rounded half to even to hundredths. Nothing else rounds it."""

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> float | None:
        if value is None:
            return None
        return float(Decimal(repr(float(value))).quantize(HUNDREDTH, rounding=ROUND_HALF_EVEN)) + 0.0


def money(description: str, *, nullable: bool = False) -> Money:
    """An amount in a result."""
    return Money(required=True, allow_none=nullable, metadata={"description": f"{description}, in the caller's currency"})


def maybe_text(description: str) -> fields.String:
    """A text that may be null."""
    return fields.String(required=True, allow_none=True, metadata={"description": description})


def maybe(schema: type[OutputSchema], description: str) -> fields.Nested:
    """An object that may be null."""
    return fields.Nested(schema, required=True, allow_none=True, metadata={"description": description})


class StepUpSchema(OutputSchema):
    """Comparison with the cheapest candidate that can be built."""

    extra_cost = money("Extra cost today")
    extra_energy_kwh = number("Extra energy over the horizon", "kWh")
    simple_payback_years = number("Years until the extra energy has paid the extra cost; null if never", "years", nullable=True)
    discounted_payback_years = number("The same with discounted gains", "years", nullable=True)
    rate_of_return = number("Internal rate of return of the extra cost, as a share per year; null without one", nullable=True)


class MoneyRangeSchema(OutputSchema):
    """An amount and its expected range."""

    value = money("The amount")
    low = money("Lower end of the range")
    high = money("Upper end of the range")
    covers = words("What the range covers, and what it leaves out")


class CashFlowYearSchema(OutputSchema):
    """One year of the whole system, not discounted."""

    year = whole("The year; 0 is today")
    energy_value = money("Value of the energy at the meter")
    replacements = money("Expected cost of failed units")
    maintenance = money("Maintenance")
    net = money("Energy less replacements and maintenance; in year 0 less the price of the system")
    balance = money("Sum of all years so far")


class SystemMoneySchema(OutputSchema):
    """Payback and cash flow of the whole system; null and empty where a price is missing."""

    missing = fields.List(
        words("A price"),
        required=True,
        metadata={"description": "Prices that are missing; the values below are then null, and the cash flow empty"},
    )
    price_today = money(
        "Price of the system today: modules, units, all other parts, grid connection, other cost", nullable=True
    )
    net_present_value = money("Net present value of the whole system", nullable=True)
    simple_payback_years = number("Years until the net of the years has paid the price; null if never", "years", nullable=True)
    discounted_payback_years = number("The same with discounted years", "years", nullable=True)
    rate_of_return = number("Internal rate of return, as a share per year; null without one", nullable=True)
    cash_flow = many(CashFlowYearSchema, "Each year")


class CandidateMoneySchema(OutputSchema):
    """Costs and value of one candidate."""

    units_price = money("Price of all units today")
    energy_value_first_year = money("Value of the first year's energy at the meter")
    balance_of_plant = money("Price of all other parts today; null where not known, then not counted", nullable=True)
    connection_cost = money("Cost of the grid connection; null where not known, then not counted", nullable=True)
    net_present_value = money("Net present value: energy minus all costs")
    net_present_value_range = one(MoneyRangeSchema, "Net present value with its range")
    lifetime_cost = money("Present value of all costs over the horizon")
    lifetime_cost_per_kwh = number(
        "Lifetime cost of the whole system over discounted useful energy, in the caller's currency; null without energy or "
        "where a price is missing (see whole_system)",
        nullable=True,
    )
    step_up = maybe(
        StepUpSchema, "Comparison with the cheapest candidate that can be built; null where this one cannot be built"
    )
    whole_system = one(SystemMoneySchema, "Payback and cash flow of the whole system")


class SystemLossesSchema(OutputSchema):
    """What is lost between single modules with their units and the meter in the first year, each of what is left."""

    mismatch_kwh = number("Modules on one input that differ", "kWh")
    snow_kwh = number("Snow on the modules", "kWh")
    downtime_kwh = number("Units or network out of service", "kWh")
    ac_cable_kwh = number("Cables from the units to the meter", "kWh")


class CandidateEnergySchema(OutputSchema):
    """Energy of one candidate on the whole roof."""

    first_year = one(BalanceSchema, "Energy balance of the first year, up to the terminals of the units")
    delivered_range_kwh = one(RangeSchema, "Energy at the terminals of the units in a single year with its range [kWh]")
    losses = one(SystemLossesSchema, "What is lost in the first year from the units' terminals to the meter")
    at_meter_kwh = number("Energy at the meter in the first year: delivered less these losses", "kWh")
    at_meter_range_kwh = one(RangeSchema, "Energy at the meter in a single year with its range [kWh]")
    lifetime_kwh = number("Energy at the meter over the horizon, with ageing of the modules", "kWh")
    lifetime_range_kwh = one(RangeSchema, "Energy at the meter over the horizon with its range [kWh]")
    delivered_kwh_by_year = numbers("Energy at the terminals of the units in each year", "kWh")
    at_meter_kwh_by_year = numbers("Energy at the meter in each year", "kWh")
    used_at_home_kwh = number("Used at home in the first year, minus the night draw", "kWh")
    exported_kwh = number("Exported in the first year", "kWh")
    cut_kwh = number("Cut by the export limit in the first year", "kWh")
    imported_kwh = number("Imported for load and night draw in the first year; null without load_w", "kWh", nullable=True)
    used_at_home_share = number("Used at home over the energy at the meter in the first year, 0 to 1")
    self_sufficiency_share = number("Used at home over load in the first year, 0 to 1; null without load_w", nullable=True)
    used_at_home_kwh_by_month = numbers("Used at home in each month of the first year, minus the night draw", "kWh")
    exported_kwh_by_month = numbers("Exported in each month of the first year", "kWh")
    imported_kwh_by_month = numbers("Imported in each month of the first year; null without load_w", "kWh", nullable=True)


class ReplacementsSchema(OutputSchema):
    """Units that fail within the horizon."""

    expected = number("Expected number of failures")
    low = whole("Lower end of the range")
    high = whole("Upper end of the range")
    chance_of_any = number("Probability that at least one fails, 0 to 1")
    failure_share_per_year = number("Yearly failure rate used, 0 to 1")
    covers = words("What the range covers")


class ObstacleResultSchema(OutputSchema):
    """Why a system cannot be built."""

    kind = text(OBSTACLE_KIND, get_args(ObstacleKind))
    reason = words("The reason, in words")


class SystemTermsResultSchema(OutputSchema):
    """What the whole system with a candidate needs beside modules and units, as it was counted."""

    balance_of_plant = money(f"{BALANCE_OF_PLANT}; null where not known", nullable=True)
    unpriced_roles = fields.List(fields.String(), required=True, metadata={"description": UNPRICED_ROLES})
    differing_roles = fields.List(fields.String(), required=True, metadata={"description": DIFFERING_ROLES})
    rated_cable_share = number(f"{RATED_CABLE_SHARE}; null where not known", nullable=True)
    connection_procedure = words("Name of the grid connection procedure; null where not known", nullable=True)
    needs_agreement = fields.Boolean(required=True, metadata={"description": NEEDS_AGREEMENT})
    connection_cost = money(f"{CONNECTION_COST}; null where not known, then it counts as 0", nullable=True)
    obstacle = maybe(ObstacleResultSchema, "Why the system cannot be built: it is ranked after all that can; null without one")


class CandidateResultSchema(OutputSchema):
    """One microinverter on one module."""

    module = text("Name of the module")
    microinverter = text("Name of the microinverter")
    verdict = text(
        "Worst verdict of its electrical checks; a pairing that fails, or that waits for the site's record low, is not ranked",
        VERDICTS,
    )
    reasons = many(CheckSchema, "The checks that are not ok")
    rank = fields.Integer(
        required=True, allow_none=True, metadata={"description": "Rank from 1; null where it must not be built"}
    )
    unit_count = whole("Units on the roof")
    mass_kg = number("Mass of all units", "kg")
    warranty_years = whole("Years of warranty")
    system = one(SystemTermsResultSchema, "The whole system with it")
    energy = maybe(CandidateEnergySchema, "Energy; null where it must not be built")
    money = maybe(CandidateMoneySchema, "Costs and value; null where it must not be built, or a price or the tariff is missing")
    replacements = maybe(ReplacementsSchema, "Expected replacements; null where it must not be built")


class ScenarioSchema(OutputSchema):
    """One changed input."""

    name = words("The change")
    first = words("Candidate that is best with it")
    regret = number("Its lead over the recommended candidate, in the unit of the margin")


class RecommendationSchema(OutputSchema):
    """The recommendation."""

    standing = text(
        "How certain the recommendation is; none_can_be_built where even the best must not be built as it stands",
        get_args(Standing),
    )
    sentence = words("The recommendation in one sentence")
    module = maybe_text("Name of the module; null where none passes")
    microinverter = maybe_text("Name of the microinverter; null where none passes")
    runner_up = words("Second-best candidate; null without one", nullable=True)
    margin = number("Lead over the second-best candidate; null without one", nullable=True)
    margin_unit = maybe_text("Unit of the margin: the currency (present value), or kWh over the horizon")
    depends_on = fields.List(
        Written(),
        required=True,
        metadata={"description": "Changes that would alter the recommendation, the largest effect first"},
    )
    scenarios = many(ScenarioSchema, "All changes that were tried")


class BreakEvenPowerSchema(OutputSchema):
    """Module power above which the larger microinverter pays."""

    pays = text(
        "Where on the curve the larger microinverter pays: always, never, or above value_w", ("always", "never", "above")
    )
    value_w = number("Break-even power; null where it pays always or never", "W", nullable=True)
    low_w = number("Lower end of its range", "W")
    high_w = number("Upper end of its range", "W")
    covers = words("What the range covers")


class PriceGapSchema(OutputSchema):
    """Price difference up to which the larger microinverter pays."""

    value = money("Break-even price difference: larger unit minus smaller units for the same number of modules")
    low = money("Lower end of its range")
    high = money("Upper end of its range")
    asked = money("Price difference in the request")
    covers = words("What the range covers")


class PlaceBreakEvenSchema(OutputSchema):
    """Break-even of the roof or of one face."""

    face = maybe_text("Name of the face, computed by itself; null for the whole roof")
    power = one(BreakEvenPowerSchema, "Module power above which the larger pays")
    price_gap = one(PriceGapSchema, "Price difference up to which the larger pays with the module of the request")
    gains = fields.List(
        Money(),
        required=True,
        metadata={"description": "Gain of the larger at each power of the curve: present value, in the caller's currency"},
    )


class BreakEvenSchema(OutputSchema):
    """Break-even of two candidates that are neighbours by AC power, on one module."""

    module = text("Name of the module; the curve scales its current")
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
    choices = many(FaceChoiceSchema, "The best microinverter for each face")
    saving = money("Gain over one kind for all faces, before the cost of a second kind")
    second_kind_cost = money("Cost of stocking a second kind")
    worthwhile = fields.Boolean(required=True, metadata={"description": "Whether the saving exceeds that cost"})
    sentence = words("The same in a sentence")


class SensitivitySchema(OutputSchema):
    """The value of one input at which the recommendation changes."""

    name = text("Name of the input")
    unit = text("Its unit")
    now = number("Current value")
    then = number("Nearest value at which another candidate is best; null where none was found", nullable=True)
    first_then = words("Candidate that is then best", nullable=True)
    low = number("Lowest value tried")
    high = number("Highest value tried")


class CutEnergySchema(OutputSchema):
    """Energy of one candidate that the export limit cuts."""

    module = text("Name of the module")
    microinverter = text("Name of the microinverter")
    cut_first_year_kwh = number("Cut in the first year", "kWh")
    cut_lifetime_kwh = number("Cut over the horizon", "kWh")
    needless_beside = maybe_text(
        "A smaller, cheaper candidate that yields as much under the limit, within 0.1 %; null without one"
    )


class ExportLimitSchema(OutputSchema):
    """Energy that the export limit cuts."""

    export_limit_w = number("Export limit of the grid connection", "W")
    candidates = many(CutEnergySchema, "Each candidate that passes")
    sentence = words("The same in a sentence")


class ChangeSchema(OutputSchema):
    """What would have to change for a pairing to pass."""

    module = text("Name of the module")
    microinverter = text("Name of the microinverter")
    check = text("Name of the failing check")
    value = number("Value of the check, in `unit`")
    limit = number("Limit of the check, in `unit`")
    unit = text("Unit of value and limit")
    sentence = words("The same in a sentence")


class SelectionResultSchema(ResultSchema):
    """The recommendation and its basis."""

    ranked_by = text("Criterion of the ranking", ("net present value", "energy"))
    recommendation = one(RecommendationSchema, "The recommendation")
    candidates = many(CandidateResultSchema, "Every pairing in the order of the request, module by module")
    break_evens = many(
        BreakEvenSchema, "Break-evens of neighbours by AC power, for each module; empty without prices and tariff"
    )
    mixed_choices = many(
        MixedChoiceSchema, "Mixed choice for each module; empty without prices and tariff, for one face or one candidate"
    )
    sensitivities = many(
        SensitivitySchema, "Inputs that could change the recommendation; empty without prices and tariff or a second candidate"
    )
    export_limit = maybe(ExportLimitSchema, "Energy that the export limit cuts; null without a limit")
    string_inverters = many(
        StringCandidateSchema,
        "Each string inverter of the request beside the recommended pairing; its strings alone where none passes",
    )
    what_would_have_to_change = many(ChangeSchema, "Where no candidate passes: the failing checks, fewest first")
    climate = one(ClimateUsedSchema, "Where the year's weather comes from")
    design_temperatures = one(DesignTemperaturesSchema, "Design temperatures of the checks")
    place = words("Country or area whose rules were applied")
    edition = text("Edition of these rules")


def handle(body: SelectionBody, stations: StationFolder) -> SelectionResult:
    """Compute the result."""
    rules = electrical_rules(body.region)
    year = site_year(body.site, body.weather, stations, cold_floors=rules.cold_floors)
    result = selection(body.request, rules, year)
    return year.with_notes(result)


OPERATION = Operation(
    path="/v1/selection",
    operation_id="select_microinverters",
    summary="Which microinverter to buy for a roof: lifetime value, break-even and sensitivity",
    description=(
        "Ranks candidate microinverters on one or several modules by net present value. Each candidate has its electrical "
        "verdict (one that fails, or whose cold voltage waits for the site's record low, is not ranked), energy and losses of "
        "the first year up to the meter, energy over the horizon with ageing of the modules, costs, payback against the "
        "cheapest candidate and of the whole system, and expected replacements. `system` of a candidate has what it needs "
        "beside modules and units. The recommendation is decided, close, or depends on a changed input, unless none passes "
        "or can be built. For candidates that are neighbours by AC power the result gives the module power above which the "
        "larger pays and the price difference up to which it pays, for the roof and for each face, with the curve. It also "
        "gives a mixed choice, the values of inputs at which the recommendation changes, and the energy that an export limit "
        "cuts. If a price or the tariff is missing, candidates are ranked by energy, and a caution says so. If no candidate "
        "passes, the result says what would have to change. Prices are in the caller's currency. The call has no side effects "
        "and may be repeated."
    ),
    request=SelectionRequestSchema,
    response=SelectionResultSchema,
    handle=handle,
)

"""Request of POST /v1/selection; its answer is in `selection_result_schemas`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from marshmallow import ValidationError, post_load, validates_schema

from wattpair_service.api.equipment_schemas import MicroinverterSchema, ModuleSchema
from wattpair_service.api.fields import (
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
from wattpair_service.api.place_schemas import (
    FACES_MOST,
    FaceSchema,
    SiteSchema,
    transposition_field,
    weather_field,
)
from wattpair_service.api.price_schemas import CURRENCY, Currency
from wattpair_service.api.schema import InputSchema
from wattpair_service.api.sizing_schemas import MICROINVERTERS_MOST, modules_per_input_field, region_field
from wattpair_service.climate.weather import Weather
from wattpair_service.engineering.electrical_checks import Site
from wattpair_service.engineering.lifetime_energy import HomeUse, Tariff
from wattpair_service.engineering.plane_of_array import Face
from wattpair_service.engineering.selection_request import ModuleOffer, SelectionRequest, Terms, UnitOffer

FloatArray = npt.NDArray[np.float64]

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

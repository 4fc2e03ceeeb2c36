"""The caller's price book, and the prices of a bill. Amounts are decimals in strings, so that no digit is lost."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from marshmallow import ValidationError, fields, post_load, validates_schema

from wattpair_service.api.schemas.base import InputSchema, OutputSchema
from wattpair_service.api.schemas.fields import Assumed, Listed, Nested, Text, WholeNumber, composed, spelling
from wattpair_service.api.schemas.results import many, text, words
from wattpair_service.engineering.materials.bill_lines import ROLES
from wattpair_service.engineering.money.prices import PartNumber, PriceBook, PriceItem
from wattpair_service.engineering.sentences import fixed

_DECIMAL = re.compile(r"[0-9]{1,9}(\.[0-9]{1,6})?")
CURRENCY = re.compile(r"[A-Z]{3}")


class DecimalText(fields.Field[Decimal]):
    """A decimal number of at least zero, written as a string."""

    def __init__(
        self, description: str, *, at_most: int = 10**9, required: bool = True, assumed: Assumed | None = None
    ) -> None:
        limit = "" if at_most == 10**9 else f" and at most {at_most}"
        metadata: dict[str, Any] = {
            "description": description,
            "type": "string",
            "x-decimal": True,
            "pattern": f"^{_DECIMAL.pattern}$",
        }
        options: dict[str, Any] = {"required": required and assumed is None, "allow_none": False}
        if assumed is not None:
            metadata["x-assumption-source"] = assumed.source
            metadata["default"] = assumed.value
            options["load_default"] = Decimal(str(assumed.value))
        elif not required:
            options["load_default"] = None
        super().__init__(metadata=metadata, **options)
        self.assumed = assumed
        self.at_most = at_most
        self.allowed = f'a decimal in quotes, at least 0{limit}, with up to 6 places: "12.50"'

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Decimal:
        if not isinstance(value, str) or not _DECIMAL.fullmatch(value) or not value.isascii():
            raise ValidationError(self.allowed)
        number = Decimal(value)
        if number > self.at_most:
            raise ValidationError(self.allowed)
        return number


class Currency(fields.String):
    """A currency's three letters."""

    allowed = 'three capital letters after ISO 4217, such as "EUR"'

    def __init__(self, description: str, *, assumed: Assumed | None = None) -> None:
        metadata: dict[str, Any] = {"description": description, "pattern": f"^{CURRENCY.pattern}$"}
        options: dict[str, Any] = {"required": True}
        if assumed is not None:
            metadata["x-assumption-source"] = assumed.source
            options = {"load_default": assumed.value}
        super().__init__(allow_none=False, metadata=metadata, **options)
        self.assumed = assumed

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        if not isinstance(value, str) or not CURRENCY.fullmatch(value):
            raise ValidationError(self.allowed)
        return value


class PriceItemSchema(InputSchema):
    """One part's price before tax."""

    part_number = Text("The caller's part number", longest=100)
    cost = DecimalText("The caller's cost of one piece or metre")
    price = DecimalText("The customer's price of one piece or metre; cost plus markup if left out", required=False)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> PriceItem:
        """The item for the core."""
        return PriceItem(**data)


class PartNumberSchema(InputSchema):
    """Which part fills a role."""

    role = Text("Role of the part on the bill", choices=ROLES)
    specification = Text(
        "Limits it to lines with this specification; if left out, it is for every other line of the role", required=False
    )
    part_number = Text("The caller's part number", longest=100)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> PartNumber:
        """The mapping for the core."""
        return PartNumber(**data)


class PriceBookSchema(InputSchema):
    """The caller's own prices, by part number, and which part fills which role."""

    currency = Currency("Currency of all prices")
    currency_decimals = WholeNumber(
        "Decimal places of amounts", at_least=0, at_most=4, assumed=Assumed(2, fixed("source.cents"))
    )
    tax_percent = DecimalText("Tax on the net total", at_most=100)
    markup_percent = DecimalText(
        "Markup on cost where an item has no price", at_most=1000, assumed=Assumed("0", fixed("source.sold_at_cost"))
    )
    items = Listed(Nested(PriceItemSchema, "A part"), "Prices", most=5000)
    part_numbers = Listed(Nested(PartNumberSchema, "A role"), "Part numbers by role", most=500)

    @validates_schema
    def no_part_twice(self, data: dict[str, Any], **_: Any) -> None:
        """A part number has one price, and a role one part."""
        errors: dict[str, Any] = {}
        keys: dict[str, tuple[list[Any], str]] = {
            "items": ([composed(item.part_number) for item in data["items"]], "a unique part number"),
            "part_numbers": (
                [(part.role, composed(part.specification or "")) for part in data["part_numbers"]],
                "a unique role and specification",
            ),
        }
        error_fields = {"items": "part_number", "part_numbers": "role"}
        for name, (values, told) in keys.items():
            seen: dict[object, int] = {}
            for index, value in enumerate(values):
                if value in seen:
                    found = {error_fields[name]: [f"{told}; item {seen[value]} has the same"]}
                    errors.setdefault(name, {})[index] = found
                seen.setdefault(value, index)
        if errors:
            raise ValidationError(errors)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> PriceBook:
        """The book for the core."""
        as_item = spelling(item.part_number for item in data["items"])
        numbers = tuple(replace(each, part_number=as_item(each.part_number)) for each in data["part_numbers"])
        return PriceBook(**data | {"items": tuple(data["items"]), "part_numbers": numbers})


class Amount(fields.Field[Decimal]):
    """Money in a result: a string in plain decimals."""

    def __init__(self, description: str, *, nullable: bool = False) -> None:
        super().__init__(
            required=True, allow_none=nullable, metadata={"description": description, "type": "string", "x-decimal": True}
        )

    def _serialize(self, value: Decimal | None, attr: str | None, obj: Any, **kwargs: Any) -> Any:
        return None if value is None else f"{value:f}"


def _nullable(description: str) -> fields.String:
    return fields.String(required=True, allow_none=True, metadata={"description": description})


class PricedLineSchema(OutputSchema):
    """Price of one line of the bill."""

    part_number = _nullable("Part number; null without one")
    unit_price = Amount("Price of one piece or metre before tax; null without one", nullable=True)
    net = Amount("Price of the line before tax; null without one", nullable=True)


class MissingPriceSchema(OutputSchema):
    """A part without a price."""

    role = text("Role of the part")
    specification = _nullable("Its size, rating or name; null without one")
    reason = words("Why it has no price")


class PricesSchema(OutputSchema):
    """Prices of the bill."""

    currency = text("Currency of all amounts")
    lines = many(PricedLineSchema, "One for each line of the bill, in its order")
    net = Amount("Sum of the lines that have a price, before tax")
    tax_percent = Amount("Tax rate in percent")
    tax = Amount("Tax on net")
    total = Amount("Net plus tax")
    cost = Amount("The caller's cost of the same parts")
    margin = Amount("Net minus cost")
    margin_percent = Amount("Margin in percent of net; null where net is zero", nullable=True)
    complete = fields.Boolean(required=True, metadata={"description": "Whether every part has a price; documents need none"})
    missing = many(MissingPriceSchema, "Parts without a price, each once")

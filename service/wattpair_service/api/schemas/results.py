"""Parts of results that several operations share."""

from __future__ import annotations

from typing import Any, get_args

from marshmallow import fields

from wattpair_service.api.schemas.base import OutputSchema
from wattpair_service.engineering.cautions import Reader, Task
from wattpair_service.words.catalogue import english


def number(description: str, unit: str | None = None, *, nullable: bool = False) -> fields.Float:
    """A number in a result."""
    metadata = {"description": description if unit is None else f"{description} [{unit}]"}
    return fields.Float(required=True, allow_none=nullable, metadata=metadata if unit is None else metadata | {"x-unit": unit})


def whole(description: str) -> fields.Integer:
    """A whole number in a result."""
    return fields.Integer(required=True, metadata={"description": description})


def text(description: str, choices: tuple[str, ...] = ()) -> fields.String:
    """A text in a result."""
    metadata: dict[str, object] = {"description": description}
    return fields.String(required=True, metadata=metadata | ({"enum": list(choices)} if choices else {}))


class Written(fields.String):
    """A sentence of a result, in the API's English."""

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> str | None:
        return None if value is None else english(value)


def words(description: str, *, nullable: bool = False) -> Written:
    """A sentence in a result."""
    return Written(required=True, allow_none=nullable, metadata={"description": description})


def numbers(description: str, unit: str, *, nullable: bool = False) -> fields.List[Any]:
    """An array of numbers in a result."""
    metadata = {"description": f"{description} [{unit}]", "x-unit": unit}
    return fields.List(fields.Float(), required=True, allow_none=nullable, metadata=metadata)


def one(schema: type[OutputSchema], description: str) -> fields.Nested:
    """An object in a result."""
    return fields.Nested(schema, required=True, metadata={"description": description})


def many(schema: type[OutputSchema], description: str) -> fields.List[Any]:
    """An array of objects in a result."""
    return fields.List(fields.Nested(schema), required=True, metadata={"description": description})


class AssumptionSchema(OutputSchema):
    """An input that the request left out, and the value used for it."""

    name = text("Path of the field in the request, without list indexes")
    value = fields.Raw(
        required=True, allow_none=True, metadata={"description": "Value used; null where it follows from other fields"}
    )
    unit = fields.String(required=True, allow_none=True, metadata={"description": "Unit of the value, if it has one"})
    source = words("Where the value comes from")


class MethodSchema(OutputSchema):
    """A model that was used."""

    name = words("Name of the model")
    version = text("Version of its implementation here")
    source = words("Published source")


class RangeSchema(OutputSchema):
    """A value and its expected range."""

    value = number("The value")
    low = number("Lower end of the range")
    high = number("Upper end of the range")
    covers = words("What the range covers, and what it leaves out")


class DesignTemperaturesSchema(OutputSchema):
    """Lowest and highest air temperature to design for."""

    lowest_c = number("Lowest expected air temperature", "degC")
    lowest_source = words("Source of the value")
    lowest_estimated = fields.Boolean(
        required=True,
        metadata={
            "description": "True where neither the request nor a station within 50 km tells the lowest: it comes from a map, a "
            "typical year or a region's custom"
        },
    )
    mean_yearly_lowest_c = number(
        "Mean of the yearly minima that the weather file of the nearest station publishes, as some codes define the lowest; "
        "null where none does",
        "degC",
        nullable=True,
    )
    highest_c = number("Highest expected air temperature", "degC")
    highest_source = words("Source of the value")


class StationUsedSchema(OutputSchema):
    """A weather file of the operator's folder."""

    name = text("Name of the file")
    distance_km = number("Distance from the site", "km")
    height_difference_m = number("Elevation of the station minus that of the site", "m")


class ClimateUsedSchema(OutputSchema):
    """Where the year's weather comes from."""

    kind = text("Kind of weather", ("climate", "monthly", "station", "hourly", "file"))
    source = words("Source of the weather, in words")
    elevation_m = number("Elevation used for the site", "m")
    level_error_share = number(
        "Standard error of its mean yearly irradiation, as a share, 0 to 1; null where unknown", nullable=True
    )
    station = fields.Nested(
        StationUsedSchema, required=True, allow_none=True, metadata={"description": "The file used; null without one"}
    )


class CautionSchema(OutputSchema):
    """One sentence that must stay with the result, for one reader."""

    code = text("Stable name of the caution")
    reader = text(
        "Whom it is for: the electrician orders, builds and tests; the office plans and settles the papers; what is for the "
        "seller is for no customer",
        get_args(Reader),
    )
    task = text("The work at which it counts", get_args(Task))
    text = words("The sentence")


class ResultSchema(OutputSchema):
    """What every result carries."""

    assumptions = many(AssumptionSchema, "Inputs that the request left out")
    cautions = many(CautionSchema, "What must stay with the result")
    method = many(MethodSchema, "Models used")

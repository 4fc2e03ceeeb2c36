"""GET /v1/regions: the published rules that the service carries."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from marshmallow import fields

from wattpair_service.api.problems import Problem
from wattpair_service.api.reference import Reference
from wattpair_service.api.result_schemas import many, text
from wattpair_service.api.schema import OutputSchema
from wattpair_service.rules import region_data, regions

CAUTION = (
    "These rules are what could be read or remembered of the published ones, as each says of itself. Local codes, the network "
    "operator's conditions and licensed practice decide."
)


class RegionNameSchema(OutputSchema):
    """A region whose rules the service carries."""

    name = text("Name of the region, as requests take it")
    place = text("Where its rules hold")
    edition = text("Edition of the rules")


class RegionsSchema(OutputSchema):
    """The regions whose rules the service carries."""

    regions = many(RegionNameSchema, "The regions, in alphabetical order")


class RegionSchema(RegionNameSchema):
    """The rules of a region."""

    rules = fields.Dict(
        required=True,
        metadata={
            "description": "The rules, each with its clause and how it was obtained, in the form that `region_rules` takes"
        },
    )
    cautions = fields.List(
        fields.String(), required=True, metadata={"description": "Plain sentences that must stay with the rules"}
    )


def _list() -> dict[str, Any]:
    return {"regions": [_name(name) for name in regions()]}


def _name(name: str) -> dict[str, Any]:
    data = region_data(name)
    return {"name": name, "place": data["place"], "edition": data["edition"]}


def _read(name: str) -> dict[str, Any]:
    if name not in regions():
        raise Problem(HTTPStatus.NOT_FOUND, "not-found", f"There is no such region; there are {', '.join(regions())}.")
    return _name(name) | {"rules": region_data(name), "cautions": [CAUTION]}


LIST = Reference(
    path="/v1/regions",
    operation_id="list_regions",
    summary="Regions whose rules the service carries",
    description="Names of the regions that requests may name, with the place and edition of their rules.",
    response=RegionsSchema,
    read=_list,
    names={},
)
READ = Reference(
    path="/v1/regions/{name}",
    operation_id="read_region",
    summary="The rules of a region",
    description=(
        "The published rules that apply where a request names the region: limits, ratings and connection routes, each with its "
        "clause and how the value was obtained. Changed, they can be sent as `region_rules`."
    ),
    response=RegionSchema,
    read=_read,
    names={"name": regions()},
)

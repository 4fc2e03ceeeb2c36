"""Answer of POST /v1/design."""

from __future__ import annotations

from typing import get_args

from marshmallow import Schema, fields

from wattpair_service.api.bill_of_materials_schemas import BillOfMaterialsResultSchema
from wattpair_service.api.circuits_schemas import CircuitsResultSchema
from wattpair_service.api.clipping_schemas import ClippingResultSchema
from wattpair_service.api.layout_schemas import LayoutResultSchema
from wattpair_service.api.result_schemas import ResultSchema, many, one, text
from wattpair_service.api.schema import OutputSchema
from wattpair_service.api.selection_result_schemas import SelectionResultSchema
from wattpair_service.api.site_climate_schemas import SiteClimateResultSchema
from wattpair_service.api.sizing_schemas import SizingResultSchema
from wattpair_service.engineering.design import Basis


def maybe(schema: type[Schema], description: str) -> fields.Nested:
    """A part that may be null."""
    return fields.Nested(schema, required=True, allow_none=True, metadata={"description": description})


class PairingSchema(OutputSchema):
    """A module and a microinverter."""

    module = text("Name of the module")
    microinverter = text("Name of the microinverter")


class BuiltSchema(OutputSchema):
    """What circuits and bill are made for."""

    basis = text("Why: recommended, named by `build`, or why nothing is built", get_args(Basis))
    pairing = maybe(PairingSchema, "The pairing; null where nothing is built")
    sentence = text("The same in plain words")


class FaceDesignSchema(OutputSchema):
    """One face as it is built."""

    name = fields.String(required=True, attribute="face.name", metadata={"description": "Name of the face"})
    module_count = fields.Integer(required=True, attribute="face.module_count", metadata={"description": "Modules on the face"})
    layout = maybe(LayoutResultSchema, "Where they lie; null where the request gave a count")


class DesignResultSchema(ResultSchema):
    """Every part of the job; a part's own assumptions, cautions and method are empty, for they stand here."""

    currency = fields.String(
        required=True, allow_none=True, metadata={"description": "Currency of every price; null where the request names none"}
    )
    built = one(BuiltSchema, "What circuits and bill are made for")
    climate = one(SiteClimateResultSchema, "Light and air, with the module that is built, else the one asked for or the first")
    faces = many(FaceDesignSchema, "The faces, in the order of the request")
    sizing = many(SizingResultSchema, "Electrical checks: each module with every candidate")
    clipping = maybe(ClippingResultSchema, "Energy of that module with every candidate that passes on it; null where none does")
    selection = one(SelectionResultSchema, "The recommendation and what it rests on")
    circuits = maybe(CircuitsResultSchema, "Circuits, voltage rise and connection route; null where nothing is built")
    bill_of_materials = maybe(
        BillOfMaterialsResultSchema, "Parts, dead load and prices of what is built; null where nothing is"
    )

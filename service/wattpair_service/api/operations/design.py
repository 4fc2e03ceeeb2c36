"""POST /v1/design: the complete design of one roof."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from dataclasses import dataclass, replace
from http import HTTPStatus
from typing import Any, get_args

from marshmallow import Schema, ValidationError, fields, post_load, validates_schema

from wattpair_service.api.exchange.operation import Answered, Export, Operation
from wattpair_service.api.exchange.problems import Problem
from wattpair_service.api.operations import bill_of_materials_csv
from wattpair_service.api.operations.bill_of_materials import (
    BillOfMaterialsResultSchema,
    FaceDetailSchema,
    MaterialTermsSchema,
    face_detail,
    material_terms,
    price_book_field,
    require_rows_to_hold,
    spare_horizon_field,
    spare_rate_field,
    spare_warranty_field,
)
from wattpair_service.api.operations.circuits import (
    CircuitsResultSchema,
    CircuitTermsSchema,
    circuit_terms,
    region_rules_field,
)
from wattpair_service.api.operations.clipping import ClippingResultSchema
from wattpair_service.api.operations.layout import FaceLayoutSchema, LayoutResultSchema, layout_request, path_error
from wattpair_service.api.operations.selection import (
    PRICE_MOST,
    SelectionRequestSchema,
    SelectionResultSchema,
    currency_of,
    other_sizes,
    raw_names,
    raw_value,
    selection_request,
)
from wattpair_service.api.operations.sheet import SheetSchema
from wattpair_service.api.operations.site_climate import SiteClimateResultSchema
from wattpair_service.api.operations.sizing import SizingResultSchema
from wattpair_service.api.schemas.base import InputSchema, OutputSchema
from wattpair_service.api.schemas.fields import (
    Assumed,
    Group,
    Listed,
    Nested,
    Number,
    Text,
    WholeNumber,
    composed,
    spelling,
)
from wattpair_service.api.schemas.results import ResultSchema, many, number, one, text, whole, words
from wattpair_service.api.schemas.shade import faces_in_surroundings
from wattpair_service.api.schemas.site import FACES_MOST, FaceSchema
from wattpair_service.climate.site_year import site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import Weather
from wattpair_service.engineering.circuits.circuits import CircuitTerms
from wattpair_service.engineering.design.design import HORIZON, WARRANTY, Basis, Design, design
from wattpair_service.engineering.design.prices import MODULE, UNIT, UNIT_ROLES
from wattpair_service.engineering.design.request import DesignRequest, RequestedFace, Wish
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.materials.bill_lines import FaceDetail
from wattpair_service.engineering.money.prices import PriceBook
from wattpair_service.engineering.money.replacements import BAND_CENTRE, BAND_CENTRE_SOURCE
from wattpair_service.engineering.roof.access import WIDTH_FIELD, AccessRules
from wattpair_service.engineering.sentences import fixed, sentence
from wattpair_service.engineering.shade.scene import Shade
from wattpair_service.report import pdf
from wattpair_service.report.house import House, SheetOptions
from wattpair_service.report.sheet import CONTENT_POLICY, sheet
from wattpair_service.rules import access_rules, access_rules_of, electrical_rules

CONNECTION_COSTS_MOST = 20
BY_LAYOUT = "nothing where layout is given: it follows from the layout"
DETAIL = tuple(FaceDetailSchema().fields)
OFFERS = {"module": "modules", "microinverter": "candidates"}
"""The field with the allowed names for each field of `build`."""


@dataclass(frozen=True, slots=True)
class DesignBody:
    """A request: weather for the climate layer, region for the rules, sheet for the report, the rest for the core."""

    weather: Weather
    region: str
    request: DesignRequest
    sheet: SheetOptions


class DesignFaceSchema(FaceDetailSchema, FaceSchema):
    """One roof plane, with its number of modules or its size."""

    module_count = WholeNumber("Modules on the face; or give layout", at_least=1, at_most=1000, required=False)
    layout = Nested(
        FaceLayoutSchema, "Size of the face, in place of module_count: the service counts the modules that fit", required=False
    )
    unit_spacing_m = Number(
        "Length of trunk cable from one microinverter to the next; default: the made drops of the trunk that reach over the "
        "modules of a unit, side by side in the rows of the layout or the order",
        unit="m",
        at_least=0.1,
        at_most=20,
        required=False,
    )

    @validates_schema
    def count_or_layout(self, data: dict[str, Any], **_: Any) -> None:
        """Either a number of modules or a layout; rows and area follow from the layout."""
        if data["layout"] is None:
            if data["module_count"] is None:
                raise ValidationError("a whole number, or give layout; the field is required without it", "module_count")
            require_rows_to_hold(data)
            return
        errors: dict[str, Any] = {name: [BY_LAYOUT] for name in ("module_count", *DETAIL) if data[name] is not None}
        if data["shade"] is not None and data["shade"].placement is not None:
            errors["shade"] = {"module_places": [BY_LAYOUT]}
        if errors:
            raise ValidationError(errors)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> LoadedFace:
        """The face; its layout needs the module's size, which is not known here."""
        layout, spacing = data.pop("layout"), data.pop("unit_spacing_m")
        detail = face_detail({name: data.pop(name) for name in DETAIL}, spacing)
        face = super().to_dataclass(data | {"module_count": data["module_count"] or 0})
        return LoadedFace(face, layout, spacing, detail)


@dataclass(frozen=True, slots=True)
class LoadedFace:
    """A loaded face; `layout` has the loaded fields of its layout, or is None."""

    face: Face
    layout: dict[str, Any] | None
    unit_spacing_m: float | None
    detail: FaceDetail

    @property
    def name(self) -> str:
        """The face's name."""
        return self.face.name

    def for_module(self, module: Module, rules: AccessRules) -> RequestedFace:
        """The face for the core, with a layout of this module by these rules."""
        layout = None if self.layout is None else layout_request(self.layout, module.length_m, module.width_m, rules)
        return RequestedFace(self._with_obstructions(), layout, self.unit_spacing_m, self.detail)

    def _with_obstructions(self) -> Face:
        """The face with the obstructions of its layout that have a height, as objects that throw shade."""
        found = () if self.layout is None else (each.roof_object for each in self.layout["obstructions"])
        objects = tuple(each for each in found if each is not None)
        if not objects:
            return self.face
        shade = self.face.shade or Shade()
        return replace(self.face, shade=replace(shade, objects=shade.objects + objects))


class BuildSchema(InputSchema):
    """The pairing to design for; what is left out is chosen by rank."""

    module = Text("Name of one of the modules", longest=100, required=False)
    microinverter = Text("Name of one of the candidates", longest=100, required=False)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Wish:
        """The wish for the core."""
        return Wish(**data)


class DesignMaterialTermsSchema(MaterialTermsSchema):
    """Terms of the bill; spares use failure rate and warranty of the ranking."""

    failure_percent_per_year = spare_rate_field(
        None, sentence("source.candidate_else", "percent", "otherwise")(percent=BAND_CENTRE * 100, otherwise=BAND_CENTRE_SOURCE)
    )
    spare_horizon_years = spare_horizon_field(None, HORIZON)
    spare_warranty_years = spare_warranty_field(None, WARRANTY)


class ConnectionCostSchema(InputSchema):
    """Cost of one grid connection procedure."""

    procedure = Text("Code of the procedure, as the region's rules write it")
    cost = Number("Its cost, with what the wait for it costs", at_least=0, at_most=PRICE_MOST)


class DesignRequestSchema(SelectionRequestSchema):
    """A roof, modules and candidates with prices, the terms of selection, circuits and bill, and the price book."""

    faces = Listed(Nested(DesignFaceSchema, "A face"), "The faces of the roof, in the order of the trunk", most=FACES_MOST)
    region_rules = region_rules_field(
        "`region` for circuits and grid connection, and for layouts where they have `access`; the electrical checks still use "
        "`region`"
    )
    build = Nested(BuildSchema, "The pairing for circuits and bill; default: the recommended one", required=False)
    circuits = Group(
        CircuitTermsSchema, "Terms of circuits and grid connection; data of the microinverter come from its datasheet"
    )
    materials = Group(
        DesignMaterialTermsSchema, "Terms of the bill; data of module and microinverter come from their datasheets"
    )
    price_book = price_book_field(
        ". For the roles module, microinverter and microinverter_spare, `specification` names the module or candidate of the "
        "part. A module or candidate without a price is ranked at the sales price of its part"
    )
    connection_costs = Listed(
        Nested(ConnectionCostSchema, "A procedure"),
        "Costs of grid connection procedures, for the ranking; one that is left out counts as 0, and a recommendation that it "
        "could turn is not called decided",
        fewest=0,
        most=CONNECTION_COSTS_MOST,
        assumed=Assumed((), fixed("source.not_given")),
    )
    sheet = Nested(
        SheetSchema, "Letterhead, language, paper and parts of the sheet, for text/html and application/pdf", required=False
    )

    @validates_schema
    def complete(self, data: dict[str, Any], **_: Any) -> None:
        """The width of an access path is known where a layout has one."""
        errors: dict[str, Any] = {}
        for index, face in enumerate(data["faces"]):
            if face.layout is not None and (wrong_path := path_error(face.layout, _access_rules(data))):
                errors.setdefault("faces", {})[index] = {"layout": {WIDTH_FIELD: [wrong_path]}}
        if errors:
            raise ValidationError(errors)

    @validates_schema
    def one_size(self, data: dict[str, Any], **_: Any) -> None:
        """All modules need the same size where a face is given by layout or by the places of its modules."""
        faces = data["faces"]
        if any(each.layout is not None for each in faces):
            errors = other_sizes(data, "where a face is given by layout")
        elif any(each.face.shade is not None and each.face.shade.placement is not None for each in faces):
            errors = other_sizes(data, "where module_places are given")
        else:
            return
        if errors:
            raise ValidationError(errors)

    @validates_schema(skip_on_field_errors=False, pass_original=True)
    def built_is_on_offer(self, data: dict[str, Any], original: object, **_: Any) -> None:
        """`build` must name a module and a candidate of the request. Checks the raw body, to report it beside other errors."""
        errors = {}
        for part, field in OFFERS.items():
            wanted, names = raw_value(original, ("build", part)), raw_names(original, field)
            known = [name for name in names if isinstance(name, str)]
            if isinstance(wanted, str) and known and len(known) == len(names) and composed(wanted) not in map(composed, known):
                errors[part] = ["one of " + ", ".join(f'"{each}"' for each in dict.fromkeys(known))]
        if errors:
            raise ValidationError({"build": errors})

    @post_load(pass_original=True)
    def to_dataclass(self, data: dict[str, Any], original: dict[str, Any], **_: Any) -> DesignBody:
        """The request for the core."""
        first = data["modules"][0].module
        currency = currency_of(original)
        wish, book = _with_listed_spelling(data)
        request = DesignRequest(
            site=data["site"],
            currency=currency,
            faces=tuple(_faces(data, first)),
            selection=selection_request(data, (), currency),
            wish=wish,
            circuits=_terms(data),
            materials=material_terms(data["materials"], data["region"], data["region_rules"]),
            price_book=book,
            connection_costs=tuple((each["procedure"], each["cost"]) for each in data["connection_costs"]),
        )
        return DesignBody(data["weather"], data["region"], request, data["sheet"] or SheetOptions())


def _faces(data: dict[str, Any], module: Module) -> Iterator[RequestedFace]:
    """The faces with what stands around them, laid out for this module."""
    requested = [face.for_module(module, _access_rules(data)) for face in data["faces"]]
    shaded = faces_in_surroundings([each.face for each in requested], data["surroundings"], module)
    return (replace(each, face=face) for each, face in zip(requested, shaded, strict=True))


def _with_listed_spelling(data: dict[str, Any]) -> tuple[Wish, PriceBook | None]:
    """`build` and the price book, with the names of modules and candidates spelled as in their lists."""
    units = spelling(offer.microinverter.name for offer in data["candidates"])
    names = {MODULE: spelling(offer.module.name for offer in data["modules"]), **dict.fromkeys(UNIT_ROLES, units)}

    def listed(role: str, name: str | None) -> str | None:
        return name if name is None or role not in names else names[role](name)

    wish, book = data["build"] or Wish(None, None), data["price_book"]
    if book is not None:
        parts = (replace(each, specification=listed(each.role, each.specification)) for each in book.part_numbers)
        book = replace(book, part_numbers=tuple(parts))
    return Wish(listed(MODULE, wish.module), listed(UNIT, wish.microinverter)), book


def _access_rules(data: dict[str, Any]) -> AccessRules:
    """Distances from edges by the caller's own rules, where they have any, else by the region's."""
    own = (data["region_rules"] or {}).get("access")
    return access_rules(data["region"]) if own is None else access_rules_of(own)


def _terms(data: dict[str, Any]) -> CircuitTerms:
    try:
        return circuit_terms(data["circuits"], data["region"], data["region_rules"])
    except EngineeringError as error:
        raise error.within("circuits") from error


def maybe(schema: type[Schema], description: str) -> fields.Nested:
    """An object that may be null."""
    return fields.Nested(schema, required=True, allow_none=True, metadata={"description": description})


class PairingSchema(OutputSchema):
    """A module and a microinverter."""

    module = text("Name of the module")
    microinverter = text("Name of the microinverter")


class BuiltSchema(OutputSchema):
    """The pairing that circuits and bill are for."""

    basis = text("Why: recommended, named by `build`, or the reason why nothing is built", get_args(Basis))
    pairing = maybe(PairingSchema, "The pairing; null where nothing is built")
    sentence = words("The same in a sentence")


class PlacedUnitSchema(OutputSchema):
    """One microinverter on a face."""

    circuit = text("Its branch circuit")
    modules = fields.List(
        fields.Integer(), required=True, metadata={"description": "The modules that it serves, counted from 0 in `layout`"}
    )
    phases = fields.List(
        fields.Integer(),
        required=True,
        metadata={
            "description": "Phases of the supply that it feeds; single-phase units on a three-phase trunk take them in turn"
        },
    )
    x_m = number(
        "Its place along the eaves from the outline's origin: under the one of its modules that is nearest to their middle, as "
        "near to that middle as the frame allows",
        "m",
    )
    y_m = number("Its place up the slope", "m")


class ModulePositionSchema(OutputSchema):
    """What one module earns beside what it costs."""

    module_number = whole("Number of the module, from 1, in the order of the layout or of its places")
    delivered_kwh = number("Energy of the first year that it delivers through its microinverter", "kWh")
    value = number("Present value of its energy over the horizon; null where a price is missing", nullable=True)
    cost = number(
        "Cost of the module and its share of a microinverter over the horizon; null where a price is missing", nullable=True
    )
    pays = fields.Boolean(
        required=True, allow_none=True, metadata={"description": "Whether the value covers the cost; null where unknown"}
    )


class FacePositionsSchema(OutputSchema):
    """The modules of a face one by one, and the face without those that do not earn their cost."""

    modules = many(ModulePositionSchema, "Every module")
    left_out = fields.List(
        fields.Integer(),
        required=True,
        metadata={
            "description": "What to give as `left_out` of the layout to design the face without the modules that do not earn "
            "their cost: their numbers, and those that it has already; none where all pay"
        },
    )
    kept_delivered_kwh = number("Energy of the first year that the other modules deliver", "kWh")


class FaceDesignSchema(OutputSchema):
    """One face as it is built."""

    name = fields.String(required=True, attribute="face.name", metadata={"description": "Name of the face"})
    module_count = fields.Integer(required=True, attribute="face.module_count", metadata={"description": "Modules on the face"})
    layout = maybe(LayoutResultSchema, "Positions of the modules; null where the request gave a count")
    units = many(
        PlacedUnitSchema,
        "The microinverters in the order of the trunk, along the first row from the eaves and back along the next; empty "
        "without a layout, or where nothing is built",
    )
    positions = maybe(
        FacePositionsSchema,
        "What each module earns with the pairing that is built; null where nothing is built, or all modules see the same sky",
    )


class DesignResultSchema(ResultSchema):
    """All results for one roof. Assumptions, cautions and method of all parts are here; those of each part are empty."""

    currency = fields.String(
        required=True, allow_none=True, metadata={"description": "Currency of every price; null where the request names none"}
    )
    verdict = fields.String(
        required=True,
        allow_none=True,
        metadata={
            "description": "The worse of the pairing's verdict and that of its circuits, ok, caution or fail: a design that "
            "fails must not be built as it is; null where nothing is built"
        },
    )
    built = one(BuiltSchema, "The pairing that circuits and bill are for")
    climate = one(
        SiteClimateResultSchema,
        "Irradiation and temperature, with the module that is built, else the requested one or the first",
    )
    faces = many(FaceDesignSchema, "The faces, in the order of the request")
    sizing = many(SizingResultSchema, "Electrical checks: each module with every candidate")
    clipping = maybe(
        ClippingResultSchema, "Energy of that module with every candidate that passes its checks; null where none does"
    )
    selection = one(SelectionResultSchema, "The recommendation and its basis")
    circuits = maybe(CircuitsResultSchema, "Circuits, voltage rise and grid connection; null where nothing is built")
    bill_of_materials = maybe(BillOfMaterialsResultSchema, "Parts, dead load and prices; null where nothing is built")


LOG = logging.getLogger(__name__)


def handle(body: DesignBody, stations: StationFolder) -> Design:
    """Compute the result."""
    rules = electrical_rules(body.region)
    year = site_year(body.request.site, body.weather, stations, cold_floors=rules.cold_floors)
    result = design(body.request, rules, year)
    return year.with_notes(result)


def as_html(answered: Answered, house: House) -> str:
    """The sheet as HTML."""
    return sheet(answered.result, answered.request.sheet, house)


def as_pdf(answered: Answered, house: House) -> bytes:
    """The sheet as PDF."""
    try:
        return pdf.as_pdf(as_html(answered, house))
    except pdf.PdfError as error:
        LOG.warning("no PDF", exc_info=error.__cause__)
        raise Problem(HTTPStatus.UNPROCESSABLE_ENTITY, NO_PDF, NO_PDF_DETAIL) from error


NO_PDF = "no-pdf"
NO_PDF_DETAIL = (
    "The sheet cannot be laid out as PDF, most likely because of its logo or of a character that no installed font has: leave "
    "/sheet/logo out, or send Accept: text/html, which can be printed."
)
LANGUAGE_TAG = "[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*"
"""Pattern of a language tag (common forms of RFC 5646)."""
HEADERS = {"Content-Security-Policy": CONTENT_POLICY, "X-Content-Type-Options": "nosniff"}

OPERATION = Operation(
    path="/v1/design",
    operation_id="design_roof",
    summary="Complete design of one roof: climate, layout, checks, energy, selection, circuits, bill and prices",
    description=(
        "Gives the results of all other operations in one call. Each part equals the result of its own operation for the same "
        "input, except that `assumptions`, `cautions` and `method` of all parts are at the top and are empty in each part. A "
        "face has a number of modules, or a size from which the layout counts them. Circuits and bill are for the recommended "
        "pairing or for the one that `build` names; `built` says which and why. Every candidate is ranked with its own "
        "circuits, parts and grid connection; the first is the best that can be built. Circuits and bill are for one kind: a "
        "mixed choice is only advice in `selection`. If no pairing passes its electrical checks, or no circuit is possible "
        "for the pairing, the result says so, and the parts that need a pairing are null. Send `Accept: text/html` for the "
        "sheet for customer and installer as one self-contained file, or `application/pdf` for the same as PDF; `sheet` sets "
        "its letterhead, language, paper and parts. Send `Accept: text/csv` for the lines of the order as CSV (RFC 4180). A "
        "language that is not offered gives 406, for JSON too. The call has no side effects and may be repeated."
    ),
    request=DesignRequestSchema,
    response=DesignResultSchema,
    handle=handle,
    exports={
        "text/html": Export(as_html, "text/html; charset=utf-8", "The sheet for customer and installer, in one file", HEADERS),
        "application/pdf": Export(
            as_pdf,
            "application/pdf",
            "The same sheet as PDF, where the service has its extra `pdf`",
            {"Content-Disposition": 'inline; filename="sheet.pdf"', "X-Content-Type-Options": "nosniff"},
            pdf.available,
        ),
        bill_of_materials_csv.MEDIA_TYPE: Export(
            lambda answered, _: bill_of_materials_csv.as_csv(answered.body()["bill_of_materials"]),
            bill_of_materials_csv.CONTENT_TYPE,
            "The order's lines with their prices, RFC 4180; only the header where nothing is built",
        ),
    },
    negotiated={"/sheet/language": LANGUAGE_TAG},
)

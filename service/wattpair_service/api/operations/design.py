"""POST /v1/design: the whole job for one roof."""

from __future__ import annotations

import logging
from dataclasses import dataclass, replace
from http import HTTPStatus
from typing import Any, get_args

from marshmallow import Schema, ValidationError, fields, post_load, validates_schema

from wattpair_service.api.exchange.operation import Answered, Export, Operation
from wattpair_service.api.exchange.problems import Problem
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
)
from wattpair_service.api.operations.circuits import (
    CircuitsResultSchema,
    CircuitTermsSchema,
    circuit_terms,
    region_rules_field,
)
from wattpair_service.api.operations.clipping import ClippingResultSchema
from wattpair_service.api.operations.layout import FaceLayoutSchema, LayoutResultSchema, layout_request
from wattpair_service.api.operations.selection import (
    SelectionRequestSchema,
    SelectionResultSchema,
    currency_of,
    names_sent,
    selection_request,
    sent,
)
from wattpair_service.api.operations.sheet import SheetSchema
from wattpair_service.api.operations.site_climate import SiteClimateResultSchema
from wattpair_service.api.operations.sizing import SizingResultSchema
from wattpair_service.api.schemas.base import InputSchema, OutputSchema
from wattpair_service.api.schemas.fields import (
    COMMON_PRACTICE,
    Group,
    Listed,
    Nested,
    Number,
    Text,
    WholeNumber,
    composed,
    spelling,
)
from wattpair_service.api.schemas.results import ResultSchema, many, one, text
from wattpair_service.api.schemas.site import FACES_MOST, FaceSchema
from wattpair_service.climate.site_year import site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import Weather
from wattpair_service.engineering.circuits.circuits import UNIT_SPACING_M, CircuitTerms
from wattpair_service.engineering.design.design import Basis, Design, design
from wattpair_service.engineering.design.prices import MODULE, UNIT, UNIT_ROLES
from wattpair_service.engineering.design.request import AskedFace, DesignRequest, Wish
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.materials.bill_lines import FaceDetail
from wattpair_service.engineering.materials.spares import FAILURE_SHARE_PER_YEAR, FAILURE_SHARE_SOURCE
from wattpair_service.engineering.money.prices import PriceBook
from wattpair_service.report import pdf
from wattpair_service.report.house import House, Wishes
from wattpair_service.report.sheet import CONTENT_POLICY, sheet
from wattpair_service.rules import electrical_rules

BY_LAYOUT = "nothing where layout is given: the layout says it"
DETAIL = tuple(FaceDetailSchema().fields)
OFFERS = {"module": "modules", "microinverter": "candidates"}
"""Which list holds what may be built."""


@dataclass(frozen=True, slots=True)
class DesignBody:
    """A request with what the layers below the core need of it."""

    weather: Weather
    region: str
    request: DesignRequest
    sheet: Wishes


class DesignFaceSchema(FaceDetailSchema, FaceSchema):
    """One roof plane: its modules by their number or by the size of the face."""

    module_count = WholeNumber("Modules on the face; or give layout", at_least=1, at_most=1000, required=False)
    layout = Nested(FaceLayoutSchema, "Its size, in place of module_count: the modules that fit are counted", required=False)
    unit_spacing_m = Number(
        "Length of trunk from one microinverter to the next; where left out, the layout's spacing times the modules of a unit, "
        f"else {UNIT_SPACING_M:g} m, {COMMON_PRACTICE}",
        unit="m",
        at_least=0.1,
        at_most=20,
        required=False,
    )

    @validates_schema
    def count_or_layout(self, data: dict[str, Any], **_: Any) -> None:
        """One way to say how many; the layout's figures are its own."""
        if data["layout"] is None:
            if data["module_count"] is None:
                raise ValidationError("a whole number, or give layout; the field is required without it", "module_count")
            require_rows_to_hold(data)
            return
        if given := [name for name in ("module_count", *DETAIL) if data[name] is not None]:
            raise ValidationError({name: [BY_LAYOUT] for name in given})

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> LoadedFace:
        """The face, whose layout still waits for the module."""
        layout, spacing = data.pop("layout"), data.pop("unit_spacing_m")
        detail = face_detail({name: data.pop(name) for name in DETAIL})
        face = super().to_dataclass(data | {"module_count": data["module_count"] or 0})
        return LoadedFace(face, layout, spacing, detail)


@dataclass(frozen=True, slots=True)
class LoadedFace:
    """A face as it was read; the loaded fields of its layout, or None."""

    face: Face
    layout: dict[str, Any] | None
    unit_spacing_m: float | None
    detail: FaceDetail

    @property
    def name(self) -> str:
        """The face's name."""
        return self.face.name

    def asked(self, module: Module) -> AskedFace:
        """The face for the core, whose layout is of such modules."""
        layout = None if self.layout is None else layout_request(self.layout, module.length_m, module.width_m)
        return AskedFace(self.face, layout, self.unit_spacing_m, self.detail)


class BuildSchema(InputSchema):
    """What is to be built; what is left out is left to the ranking."""

    module = Text("Name of one of the modules", longest=100, required=False)
    microinverter = Text("Name of one of the candidates", longest=100, required=False)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Wish:
        """The wish for the core."""
        return Wish(**data)


class DesignMaterialTermsSchema(MaterialTermsSchema):
    """The terms of the bill, whose spares follow from the failures that the ranking counts with."""

    failure_percent_per_year = spare_rate_field(
        None, f"that of the candidate, else of the request, else {FAILURE_SHARE_PER_YEAR * 100:g} %: {FAILURE_SHARE_SOURCE}"
    )
    spare_horizon_years = spare_horizon_field(None, "horizon_years of the request")


class DesignRequestSchema(SelectionRequestSchema):
    """A roof, modules and candidates with prices, the terms of money, circuits and parts, and the price book."""

    faces = Listed(Nested(DesignFaceSchema, "A face"), "The faces of the roof, in the order of the trunk", most=FACES_MOST)
    region_rules = region_rules_field("`region` for circuits and connection; the electrical checks stay with `region`")
    build = Nested(BuildSchema, "The pairing for circuits and bill; the recommended where left out", required=False)
    circuits = Group(CircuitTermsSchema, "Terms of circuits and connection; those of the microinverter come from its datasheet")
    materials = Group(
        DesignMaterialTermsSchema, "Terms of the bill; those of module and microinverter come from their datasheets"
    )
    price_book = price_book_field(
        ". A part number of the roles module, microinverter or microinverter_spare whose specification is the name of a module "
        "or candidate is for that one. A module or candidate without a price is ranked at the sales price of its part"
    )
    sheet = Nested(SheetSchema, "How the sheet looks, for those who ask for text/html or application/pdf", required=False)

    @validates_schema
    def complete(self, data: dict[str, Any], **_: Any) -> None:
        """What each part needs of the others."""
        errors: dict[str, Any] = {}
        first, *others = (offer.module for offer in data["modules"])
        if any(face.layout is not None for face in data["faces"]):
            for index, module in enumerate(others, start=1):
                wrong = {
                    name: [f"as of the first module, {getattr(first, name):g} m, where a face is given by layout"]
                    for name in ("length_m", "width_m")
                    if getattr(module, name) != getattr(first, name)
                }
                if wrong:
                    errors.setdefault("modules", {})[index] = {"module": wrong}
        if errors:
            raise ValidationError(errors)

    @validates_schema(skip_on_field_errors=False, pass_original=True)
    def built_is_on_offer(self, data: dict[str, Any], original: object, **_: Any) -> None:
        """What is to be built is the name of an offer; looked at in what was sent, whatever else is wrong with it."""
        faults = {}
        for part, field in OFFERS.items():
            wanted, names = sent(original, ("build", part)), names_sent(original, field)
            known = [name for name in names if isinstance(name, str)]
            if isinstance(wanted, str) and known and len(known) == len(names) and composed(wanted) not in map(composed, known):
                faults[part] = ["one of " + ", ".join(f'"{each}"' for each in dict.fromkeys(known))]
        if faults:
            raise ValidationError({"build": faults})

    @post_load(pass_original=True)
    def to_dataclass(self, data: dict[str, Any], original: dict[str, Any], **_: Any) -> DesignBody:
        """The request for the core."""
        first = data["modules"][0].module
        currency = currency_of(original)
        wish, book = _as_offered(data)
        request = DesignRequest(
            site=data["site"],
            currency=currency,
            faces=tuple(face.asked(first) for face in data["faces"]),
            selection=selection_request(data, (), currency),
            wish=wish,
            circuits=_terms(data),
            materials=material_terms(data["materials"]),
            price_book=book,
        )
        return DesignBody(data["weather"], data["region"], request, data["sheet"] or Wishes())


def _as_offered(data: dict[str, Any]) -> tuple[Wish, PriceBook | None]:
    """What is to be built and the price book, where modules and candidates are named as their own lists spell them."""
    units = spelling(offer.microinverter.name for offer in data["candidates"])
    names = {MODULE: spelling(offer.module.name for offer in data["modules"]), **dict.fromkeys(UNIT_ROLES, units)}

    def name(role: str, given: str | None) -> str | None:
        return given if given is None or role not in names else names[role](given)

    wish, book = data["build"] or Wish(None, None), data["price_book"]
    if book is not None:
        parts = (replace(each, specification=name(each.role, each.specification)) for each in book.part_numbers)
        book = replace(book, part_numbers=tuple(parts))
    return Wish(name(MODULE, wish.module), name(UNIT, wish.microinverter)), book


def _terms(data: dict[str, Any]) -> CircuitTerms:
    try:
        return circuit_terms(data["circuits"], data["region"], data["region_rules"])
    except EngineeringError as error:
        raise error.within("circuits") from error


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


LOG = logging.getLogger(__name__)


def handle(body: DesignBody, stations: StationFolder) -> Design:
    """Answer a request."""
    site = body.request.site
    year = site_year(site, body.weather, stations)
    result = design(body.request, electrical_rules(body.region), year)
    return year.with_notes(result)


def as_html(answered: Answered, house: House) -> str:
    """The sheet."""
    return sheet(answered.result, answered.asked.sheet, house)


def as_pdf(answered: Answered, house: House) -> bytes:
    """The sheet on paper."""
    try:
        return pdf.as_pdf(as_html(answered, house))
    except pdf.PdfError as error:
        LOG.warning("no PDF", exc_info=error.__cause__)
        raise Problem(HTTPStatus.UNPROCESSABLE_ENTITY, NO_PDF, NO_PDF_DETAIL) from error


NO_PDF = "no-pdf"
NO_PDF_DETAIL = (
    "The sheet cannot be laid out as PDF, most likely for its logo or for a character that no font here has: leave /sheet/logo "
    "out, or send Accept: text/html, which can be printed."
)
LANGUAGE_TAG = "[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*"
"""What a language may be called (RFC 5646, its common forms)."""
HEADERS = {"Content-Security-Policy": CONTENT_POLICY, "X-Content-Type-Options": "nosniff"}

OPERATION = Operation(
    path="/v1/design",
    operation_id="design_roof",
    summary="The whole job for one roof: climate, layout, checks, energy, choice, circuits, bill and prices",
    description=(
        "One call for what the other operations answer. Each part equals what its own operation gives for the same input, but "
        "for `assumptions`, `cautions` and `method`: they stand once for all parts at the top and are empty in each part. A "
        "face is given by its count of modules or by its size; then the layout counts them. Circuits and bill are made for the "
        "recommended pairing or, with `build`, for the one that is asked for; `built` says which and why. They are for one "
        "kind of microinverter: a mixed choice stays advice in `selection`. Where nothing passes its electrical checks, or no "
        "circuit can be made for what would be built, the answer says so, and what needs a pairing is null. Send "
        "`Accept: text/html` for the sheet that a customer reads, in one file that needs nothing beside itself, or "
        "`application/pdf` for the same on paper; `sheet` says whose name it bears and in which language. A language that is "
        "not offered is answered by 406, for JSON too. The call changes nothing and may be repeated safely."
    ),
    request=DesignRequestSchema,
    response=DesignResultSchema,
    handle=handle,
    exports={
        "text/html": Export(as_html, "text/html; charset=utf-8", "The sheet for the customer, in one file", HEADERS),
        "application/pdf": Export(
            as_pdf,
            "application/pdf",
            "The same sheet on paper, where the service has its extra `pdf`",
            {"Content-Disposition": 'inline; filename="sheet.pdf"', "X-Content-Type-Options": "nosniff"},
            pdf.available,
        ),
    },
    negotiated={"/sheet/language": LANGUAGE_TAG},
)

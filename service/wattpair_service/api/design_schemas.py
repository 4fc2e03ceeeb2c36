"""Request of POST /v1/design; its answer is in `design_result_schemas`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from marshmallow import ValidationError, post_load, validates_schema

from wattpair_service.api.bill_of_materials_schemas import (
    FaceDetailSchema,
    MaterialTermsSchema,
    face_detail,
    material_terms,
    price_book_field,
    require_rows_to_hold,
    spare_horizon_field,
    spare_rate_field,
)
from wattpair_service.api.circuits_schemas import (
    CircuitTermsSchema,
    circuit_terms,
    region_rules_field,
)
from wattpair_service.api.fields import COMMON_PRACTICE, Group, Listed, Nested, Number, Text, WholeNumber, composed, spelling
from wattpair_service.api.layout_schemas import FaceLayoutSchema, layout_request
from wattpair_service.api.place_schemas import FACES_MOST, FaceSchema
from wattpair_service.api.schema import InputSchema
from wattpair_service.api.selection_schemas import (
    SelectionRequestSchema,
    currency_of,
    names_sent,
    selection_request,
    sent,
)
from wattpair_service.api.sheet_schemas import SheetSchema
from wattpair_service.climate.weather import Weather
from wattpair_service.engineering.bill_lines import FaceDetail
from wattpair_service.engineering.circuits import UNIT_SPACING_M, CircuitTerms
from wattpair_service.engineering.design_prices import MODULE, UNIT, UNIT_ROLES
from wattpair_service.engineering.design_request import AskedFace, DesignRequest, Wish
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.plane_of_array import Face
from wattpair_service.engineering.prices import PriceBook
from wattpair_service.engineering.spares import FAILURE_SHARE_PER_YEAR, FAILURE_SHARE_SOURCE
from wattpair_service.report.house import Wishes

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

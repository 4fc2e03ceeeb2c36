"""A design with shade as HTML and PDF: what the customer and the installer read of it."""

from __future__ import annotations

import html
import io
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from page import ValidationProfile, validate_pdf_bytes
from pypdf import PdfReader

from tests.contract.bodies import DELETED, changed, example
from tests.sheet_cases import HOSTILE
from wattpair_service.api.operations.design import OPERATION
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.design.design import Design
from wattpair_service.engineering.design.module_positions import FacePositions, ModulePosition
from wattpair_service.engineering.irradiance.plane_of_array import HorizonPoint
from wattpair_service.engineering.roof.layout import layout
from wattpair_service.engineering.shade.scene import Building, Placement, RoofObject, Shade, Tree
from wattpair_service.report.house import House, SheetOptions
from wattpair_service.report.pdf import as_pdf
from wattpair_service.report.sections.shade import MODULES_LISTED, face_losses, mapped_faces
from wattpair_service.report.sheet import sheet

CHIMNEY = RoofObject(f"chimney {HOSTILE[0]}", ((6.95, 3.85), (7.65, 3.85), (7.65, 4.55), (6.95, 4.55)), 1.4)
NEAR = Shade(
    objects=(CHIMNEY,),
    buildings=(Building("neighbour", -16.0, -10.0, 12.0, 9.0, 20.0, 6.0, 3.0),),
    trees=(Tree("beech", 10.0, -14.0, -3.5, 14.0, 3.0, 8.0, 0.5, (0.4,) * 12),),
)
HILLS = (HorizonPoint(90.0, 9.0), HorizonPoint(180.0, 3.0), HorizonPoint(270.0, 11.0))
BY_COUNT = {"/faces/0/layout": DELETED, "/faces/0/module_count": 30}


@cache
def design_with(case: str) -> Design:
    """The example with objects around its first face, that face given by a count, with a horizon alone, or without shade."""
    body = changed(example("design_roof"), BY_COUNT if case == "by count" else {})
    loaded = OPERATION.request().load(body)
    first, *others = loaded.request.faces
    face = first.face
    if case == "horizon":
        face = replace(face, horizon=HILLS)
    elif case == "by count":
        corners = tuple((0.2 + 1.2 * (index % 10), 0.2 + 1.8 * (index // 10)) for index in range(30))
        beside = replace(CHIMNEY, outline=tuple((x + 6.0, y) for x, y in CHIMNEY.outline))
        face = replace(face, shade=replace(NEAR, objects=(beside,), placement=Placement(corners, 1.13, 1.72, "portrait")))
    elif case == "near":
        found = layout(first.layout).arrangement
        corners = tuple((each.x_m, each.y_m) for each in found.modules)
        placement = Placement(corners, found.module_width_m, found.module_height_m, found.orientation)
        face = replace(face, shade=replace(NEAR, placement=placement), horizon=HILLS)
    faces = (replace(first, face=face), *others)
    found = OPERATION.handle(replace(loaded, request=replace(loaded.request, faces=faces)), StationFolder())
    assert isinstance(found, Design)
    return found


def page_of(case: str, **options: str | tuple[str, ...]) -> str:
    return sheet(design_with(case), SheetOptions(**options), House())  # type: ignore[arg-type]


def words_of(page: str) -> str:
    """The text of a page, without its style and the words inside its drawings."""
    bare = re.sub(r"<style>.*?</style>|<svg.*?</svg>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", bare)).split())


def test_the_customer_sees_the_loss_of_each_module_and_of_the_face() -> None:
    page = page_of("near", parts=("customer",))
    loss, _ = face_losses(design_with("near"))
    assert loss is not None
    share = loss.loss_share
    ends = f"({share.low:.0%} to {share.high:.0%})"
    assert f"Shade takes {share.value:.0%} of the possible energy {ends}." in words_of(page)
    assert "Layout of garden side" not in page
    assert all(f">{max(each.loss_share, 0.0):.0%}</text>" in page for each in loss.modules)
    assert "Sun and obstacles" not in page


def test_the_installer_sees_each_module_in_a_table() -> None:
    page = page_of("near", parts=("installer",))
    text, (loss, _) = words_of(page), face_losses(design_with("near"))
    assert loss is not None
    for each in loss.modules:
        row = rf"{each.module_number} row \d, column \d {each.loss_kwh:.0f} {each.loss_share:.0%} [A-Z][a-z]+"
        assert re.search(row, text), row
    worst = max(loss.modules, key=lambda each: each.loss_share)
    assert f"Module {worst.module_number} loses most, {worst.loss_share:.0%}." in text
    assert "; b: neighbour; c: beech" in text
    assert "Shade: the range is for all objects 10% nearer and higher" in text
    assert "a: chimney </script><script>" in text
    assert "<script>" not in page


def test_of_many_modules_those_that_lose_most_are_listed() -> None:
    text = words_of(page_of("by count", parts=("installer",)))
    assert f"The {MODULES_LISTED} modules of garden side that lose most" in text
    assert len(re.findall(r"\d\.\d m along the eaves, \d\.\d m up", text)) == MODULES_LISTED
    assert "Faces given by a number of modules are not drawn: street side." in text


def test_a_horizon_alone_has_no_map() -> None:
    page = page_of("horizon")
    assert mapped_faces(design_with("horizon")) == (None, None)
    assert "Layout of garden side" in page
    assert "All modules see the same." in page
    assert "could give." in words_of(page)
    assert "Loss by shade, garden side" not in page


@pytest.mark.parametrize(
    ("case", "rows"),
    [("near", ["Shade", "Shade, mismatch"]), ("horizon", ["Shade"]), ("open", [])],
)
def test_losses_by_shade_are_drawn_where_there_are_any(case: str, rows: list[str]) -> None:
    page = page_of(case)
    listed = re.findall(
        r'<th scope="row">([^<]+)</th><td class="n">([−\d.,]+)</td></tr>', page.split("From sunlight to meter;")[-1]
    )
    named = dict(listed)
    assert [each for each in named if each.startswith(("Shade", "Tracking"))] == rows
    levels = ("Sunlight on modules", "At the modules", "At the meter")
    figures = {name: float(figure.replace("−", "-").replace(",", "")) for name, figure in listed}
    lost = sum(figure for name, figure in figures.items() if name not in levels)
    assert figures["Sunlight on modules"] + lost == pytest.approx(figures["At the meter"], abs=1.0)


def test_without_shade_the_sheet_is_silent_of_it() -> None:
    text = words_of(page_of("open"))
    assert "hade takes" not in text
    assert "Sun and obstacles" not in text


@cache
def with_modules_that_do_not_pay() -> Design:
    """The shaded example, of whose modules the second and third do not pay for themselves."""
    whole = design_with("near")
    first, *others = whole.faces
    count = first.face.module_count
    modules = tuple(ModulePosition(number, 300.0, 200.0, 250.0, number not in (2, 3)) for number in range(1, count + 1))
    positions = FacePositions(modules, (2, 3), (count - 2) * 300.0)
    return replace(whole, faces=(replace(first, positions=positions), *others))


def test_modules_that_do_not_pay_are_framed_listed_and_counted() -> None:
    case = with_modules_that_do_not_pay()
    count = case.faces[0].face.module_count
    customer, installer = (sheet(case, SheetOptions(parts=(part,)), House()) for part in ("customer", "installer"))
    for page in (customer, installer):
        assert ">does not pay for itself<" in page
    text = words_of(installer)
    assert "2 modules with a thick frame do not pay for themselves." in text
    assert f"deliver {(count - 2) * 300:,} kWh a year instead of {count * 300:,}." in text
    assert len(re.findall(r"column \d \d+ <?\d+% [A-Z][a-z]+ no ", text)) == 2
    assert "pay for itself" not in page_of("open")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("language", ["en", "de"])
def test_the_customers_part_is_one_page(language: str, paper: str) -> None:
    options = SheetOptions(language=language, paper=paper, parts=("customer",))
    data = as_pdf(sheet(with_modules_that_do_not_pay(), options, House()))
    assert len(PdfReader(io.BytesIO(data)).pages) == 1


def test_the_pdf_tells_each_drawing_in_words() -> None:
    data = as_pdf(page_of("near"))
    report = validate_pdf_bytes(data, profile=ValidationProfile.PDF_UA_1)
    assert report.is_compliant, report
    root: Any = PdfReader(io.BytesIO(data)).trailer["/Root"]
    told = list(alternatives(root["/StructTreeRoot"]))
    assert any("what shade takes of each in a year" in each for each in told)
    assert any("At noon the sun stands at" in each for each in told)


def alternatives(element: Any) -> Iterator[str]:
    """The alternative texts of all figures below an element of a PDF's tree."""
    children = element.get("/K", [])
    for child in children if isinstance(children, list) else [children]:
        found = child.get_object() if hasattr(child, "get_object") else child
        if hasattr(found, "get"):
            yield str(found.get("/Alt", ""))
            yield from alternatives(found)

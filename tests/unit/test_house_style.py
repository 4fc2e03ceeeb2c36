"""What a company may bring to its sheet: logo, colour, and the operator's file."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.sheet_cases import data_address, png, svg
from wattpair_service.report import colour, logo
from wattpair_service.report.house import HouseFileError, SheetOptions, read_house
from wattpair_service.settings import SettingError, Settings


@pytest.mark.parametrize(
    "address",
    [
        data_address(png(), "png"),
        data_address(svg(), "svg+xml"),
        data_address(
            svg(
                "<title>Name &amp; sons</title><g transform='rotate(-3.5) scale(2 1e-1)' stroke='rgb(1,2,3)' opacity='.5'>"
                "<path d='M0-1.5.5 2A3 3 0 0110 9z' style='fill:#1f5c4d; stroke-width:2px'/><circle r='4' cx='1e1'/></g>",
                "width='40mm' height='100%'",
            ),
            "svg+xml",
        ),
        data_address(png(colour=3, palette=2), "png"),
    ],
)
def test_harmless_logos_are_accepted_unchanged(address: str) -> None:
    assert logo.checked(address) == address


REFUSED = {
    "a web address": ("https://example.org/logo.png", "data:image/png"),
    "GIF": (data_address(b"GIF89a", "gif"), "data:image/png"),
    "no base64": ("data:image/png;base64,@@@@", "data:image/png"),
    "base64 cut off": ("data:image/png;base64,AAAAA", "cannot be read"),
    "too large": (data_address(svg("<g/>" + " " * logo.BYTES_MOST), "svg+xml"), f"{logo.BYTES_MOST} bytes"),
    "not a PNG": (data_address(b"not a PNG", "png"), "a whole PNG"),
    "a PNG cut off": (data_address(png()[:-5], "png"), "damaged"),
    "a PNG with a flipped bit": (data_address(png()[:45] + b"\xff" + png()[46:], "png"), "damaged"),
    "a PNG with fewer pixels than said": (data_address(png(said_width=40), "png"), "the number of its pixels"),
    "a PNG with more pixels than said": (data_address(png(said_width=2), "png"), "the number of its pixels"),
    "a very wide PNG": (data_address(png(said_width=60000), "png"), "60000 x 3"),
    "an interlaced PNG": (data_address(png(interlaced=1), "png"), "not interlaced"),
    "a PNG called SVG": (data_address(png(), "svg+xml"), "an SVG in UTF-8"),
    "an SVG called PNG": (data_address(svg(), "png"), "a whole PNG"),
    "an SVG in an SVG": (data_address(svg("<svg/>"), "svg+xml"), "svg once"),
    "a huge number": (data_address(svg("<path d='M0 0L1e999 1'/>"), "svg+xml"), "at most 100000"),
    "a huge side": (data_address(svg("<rect width='123456'/>"), "svg+xml"), "at most 100000"),
    "a length that is none": (data_address(svg("<rect width='a'/>"), "svg+xml"), "width='a'"),
    "a viewBox of letters": (data_address(svg().replace(b"0 0 40 20", b"a b"), "svg+xml"), "viewBox"),
    "a viewBox of three numbers": (data_address(svg().replace(b"0 0 40 20", b"0 0 1"), "svg+xml"), "viewBox is '0 0 1'"),
    "a viewBox without height": (data_address(svg().replace(b"40 20", b"40 0"), "svg+xml"), "a side of this one"),
    "no width": (data_address(svg(attributes="width='0'"), "svg+xml"), "a side of this one"),
    "no viewBox": (data_address(svg().replace(b"viewBox='0 0 40 20'", b""), "svg+xml"), "or width and height"),
    "no palette": (data_address(png(colour=3), "png"), "one palette"),
    "half a palette entry": (data_address(png(colour=3, palette=1.5), "png"), "one palette"),
    "a wrong bit depth": (data_address(png(colour=3, palette=2, depth=16), "png"), "16 bits"),
    "an animated PNG": (data_address(png(animated=True), "png"), "without animation"),
    "another namespace": (data_address(svg("<p xmlns='http://www.w3.org/1999/xhtml'/>"), "svg+xml"), "holds p"),
    "an external fill": (data_address(svg("<rect fill='URL( http://192.0.2.1/a.svg#a)'/>"), "svg+xml"), "is not taken"),
    "an external style": (data_address(svg("<rect style='fill:url(//192.0.2.1)'/>"), "svg+xml"), "is not taken"),
    "an escaped external style": (data_address(svg(r"<rect style='fill:\75rl(//192.0.2.1)'/>"), "svg+xml"), "is not taken"),
    "a style of another kind": (data_address(svg("<rect style='filter:blur(9px)'/>"), "svg+xml"), "the style 'filter'"),
    "an address with a script": (data_address(svg("<g id='JavaScript:x'/>"), "svg+xml"), "is not taken"),
    "entities": (data_address(b"<!DOCTYPE svg [<!ENTITY a 'aaaa'>]>" + svg("<text>&a;</text>"), "svg+xml"), "without DOCTYPE"),
    "a style sheet instruction": (data_address(b"<?xml-stylesheet href='a.css'?>" + svg(), "svg+xml"), "instructions"),
    "another character set": (data_address(svg().replace(b"rect", b"r\xe9ct"), "svg+xml"), "UTF-8"),
    "not XML": (data_address(b"<svg", "svg+xml"), "at line 1"),
    "no namespace": (data_address(b"<svg/>", "svg+xml"), "holds svg"),
    "too deep": (data_address(svg("<g>" * 50 + "</g>" * 50), "svg+xml"), "nested at most"),
    "too many elements": (data_address(svg("<g/>" * 2500), "svg+xml"), "2000 elements"),
}  # fmt: skip


@pytest.mark.parametrize(("address", "says"), REFUSED.values(), ids=REFUSED)
def test_unsafe_or_damaged_logos_are_refused(address: str, says: str) -> None:
    with pytest.raises(logo.LogoError) as refused:
        logo.checked(address)
    assert says in str(refused.value)


@pytest.mark.parametrize(
    "inner",
    [
        "<script>window.hit=1</script>",
        "<text>A</text>",
        "<foreignObject><g/></foreignObject>",
        "<image href='http://192.0.2.1/a.png'/>",
        "<use href='#a'/>",
        "<style>@import 'http://192.0.2.1/a.css'</style>",
        "<animate attributeName='href'/>",
        "<linearGradient spreadMethod='repeat'/>",
        "<clipPath clip-path='url(#a)'/>",
    ],
)
def test_svg_elements_that_are_not_allowed_are_named(inner: str) -> None:
    element = inner[1:].split(">")[0].split()[0].rstrip("/")
    with pytest.raises(logo.LogoError, match=f"holds {element}"):
        logo.checked(data_address(svg(inner), "svg+xml"))


@pytest.mark.parametrize(
    "attribute", ["onload='window.hit=1'", "ONCLICK='x'", "clip-path='url(#a)'", "stroke-dasharray='.0001'"]
)
def test_svg_attributes_that_are_not_allowed_are_named(attribute: str) -> None:
    with pytest.raises(logo.LogoError, match=attribute.split("=")[0]):
        logo.checked(data_address(svg(f"<g {attribute}/>"), "svg+xml"))


def test_accent_colours_that_contrast_with_white_are_accepted() -> None:
    assert colour.checked("#1F5c4d") == "#1F5c4d"
    assert colour.contrast_on_white("#000000") == pytest.approx(21.0)
    # WCAG's own border case: this grey has 4.54, the next lighter one 4.48.
    assert colour.checked("#767676") == "#767676"


DIGITS, LIGHT = "six hexadecimal digits", r"4\.5.*would do"


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        *((wrong, DIGITS) for wrong in ("green", "#12345", "#1234567", "1f5c4d", "#1f5c4g", "#1f5c4d;}")),
        *((light, LIGHT) for light in ("#777777", "#ffee00", "#ffffff", "#ff0000", "#00ff00")),
    ],
)
def test_other_accent_colours_are_refused(wrong: str, says: str) -> None:
    with pytest.raises(colour.ColourError, match=says):
        colour.checked(wrong)
    if says == LIGHT:
        assert colour.checked(colour.darker(wrong)) != wrong


FILE = """
company = "Ardenholt Solar"
address = ["Mill Lane 4", "Ardenholt"]
accent = "#5c1f4d"
language = "de"
paper = "Letter"
words.de."sheet.title" = "Unser Vorschlag"
"""


def test_operator_file_gives_what_a_request_leaves_out(tmp_path: Path) -> None:
    file = tmp_path / "sheet.toml"
    file.write_text(FILE, encoding="utf-8")
    assert Settings.read({"WATTPAIR_SHEET_FILE": str(file)}).sheet_file == file
    house = read_house(file)
    assert house.words == {"de": {"sheet.title": "Unser Vorschlag"}}
    found = SheetOptions(company="Another", customer="Somebody").over(house.options)
    assert SheetOptions(customer="Somebody").over(house.options).address == ("Mill Lane 4", "Ardenholt")
    # A letterhead is never put together from two.
    assert found == SheetOptions(company="Another", accent="#5c1f4d", language="de", paper="Letter", customer="Somebody")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("company = 3", "company is '3'; allowed is a text"),
        ("company = ''", "a text of 1 to 120"),
        ("address = 'one line'", "an array of at most 6 lines"),
        ("accent = '#ffee00'", "4.5"),
        ("logo = 'logo.png'", "data:image/png"),
        ("language = 'xx'", "one of en, de"),
        ("paper = 'A5'", "one of A4, Letter"),
        ("slogan = 'x'", "'slogan' is not known; allowed are company"),
        ("[words.xx]", "en, de"),
        ("words = 3", "en, de"),
        ("[words]\nen = 3", "allowed are texts"),
        ("[words.en]\n'sheet.nothing' = 'x'", "sheet.nothing"),
        ("[words.en]\n'sheet.title' = 3", "sheet.title"),
        ("[words.en]\n'sheet.title' = ' '", "sheet.title"),
        ("[words.en]\n'caution.isolation' = 'Enjoy the roof.'", "caution.isolation"),
        ("[words.en]\n'reworded.caution.no_rate' = 'x'", "reworded.caution.no_rate"),
        ("[words.en]\n'sheet.title' = 'For {customer}'", "no {slots}"),
        ("[words.en]\n'sheet.for_customer' = 'Hello'", "{customer}"),
        ("[words.en]\n'sheet.for_customer' = 'Hello {customer'", "{customer}"),
        ("[words.en]\n'sheet.for_customer' = '{customer:,}'", "each as written here"),
        ("[words.en]\n'sheet.for_customer' = '{customer!z}'", "each as written here"),
        ("[words.en]\n'sheet.for_customer' = '{customer.code}'", "{customer}"),
        ("company =", "cannot be read as TOML"),
        (None, "sheet.toml"),
    ],
)
def test_errors_in_the_operator_file_stop_the_start(tmp_path: Path, text: str | None, says: str) -> None:
    file = tmp_path / "sheet.toml"
    if text is not None:
        file.write_text(text, encoding="utf-8")
    with pytest.raises(HouseFileError) as refused:
        read_house(file)
    assert says in str(refused.value)
    with pytest.raises(SettingError, match="WATTPAIR_SHEET_FILE") as stopped:
        Settings.read({"WATTPAIR_SHEET_FILE": str(file)})
    assert says in str(stopped.value)

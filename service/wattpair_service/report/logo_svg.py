"""Checks that an SVG has plain shapes only: no scripts, references, repetition or elements that are slow to draw.

Gradients, patterns, clip paths, masks, filters, dashes, markers and repeated shapes take much work for few bytes; text depends
on installed fonts. A logo does without them: the work is then proportional to the bytes.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any
from xml.parsers import expat

ELEMENTS_MOST, DEPTH_MOST = 2000, 40
NUMBER_MOST = 100_000.0
"""Largest number, so that coordinates stay within what PDF allows."""
FRAME_LEAST = 0.01
"""Shortest side of the drawing."""

ELEMENTS = ("svg", "g", "title", "path", "rect", "circle", "ellipse", "line", "polyline", "polygon")
# fmt: off
_GEOMETRY = frozenset((
    "x", "y", "width", "height", "rx", "ry", "cx", "cy", "r", "x1", "y1", "x2", "y2", "stroke-width", "stroke-miterlimit",
))
_LISTS = frozenset(("d", "points", "transform", "viewBox"))
_PAINT = frozenset((
    "fill", "stroke", "color", "opacity", "fill-opacity", "stroke-opacity", "fill-rule", "stroke-linecap", "stroke-linejoin",
    "display", "visibility",
))
_NAMES = frozenset(("id", "class", "version", "role", "preserveAspectRatio", "aria-label", "aria-hidden"))
# fmt: on
_SPACE = "http://www.w3.org/2000/svg"
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_LENGTH = re.compile(rf"({_NUMBER.pattern})(px|pt|mm|cm|in|%)?")
_LISTED = re.compile(r"[A-Za-z0-9\s,.()+-]*")
_PAINTED = re.compile(r"#[0-9a-fA-F]{3,8}|[a-zA-Z-]{1,30}|(?:rgb|hsl)a?\([0-9.,%\s/]{1,60}\)|[0-9.]{1,12}%?")
_NAMED = re.compile(r"[\w .,-]{0,200}")


class SvgError(ValueError):
    """An SVG that is refused; the text says what is allowed."""


def check(data: bytes) -> None:
    """Raise SvgError unless an SVG has only plain shapes, finite numbers and a frame of positive size.

    Raises
    ------
    SvgError
        It has anything else, or is no SVG.
    """
    reader = _Reader()
    parser = expat.ParserCreate("utf-8", " ")
    parser.StartElementHandler = reader.start
    parser.EndElementHandler = reader.end
    parser.StartDoctypeDeclHandler = reader.doctype
    parser.ProcessingInstructionHandler = reader.instruction
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise SvgError(f"an SVG in UTF-8; it cannot be read at line {error.lineno}") from error


class _Reader:
    """Handlers of the XML parser; they raise SvgError for anything that is not allowed."""

    def __init__(self) -> None:
        self.count = self.depth = 0

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """An element begins."""
        self.count += 1
        self.depth += 1
        space, _, local = name.rpartition(" ")
        if self.count > ELEMENTS_MOST or self.depth > DEPTH_MOST:
            raise SvgError(f"an SVG of at most {ELEMENTS_MOST} elements, nested at most {DEPTH_MOST} deep")
        if space != _SPACE or local not in ELEMENTS or (local == "svg") != (self.count == 1):
            raise SvgError(f"an SVG of the elements {', '.join(ELEMENTS)} alone, svg once; this one holds {local[:40]}")
        for attribute, value in attributes.items():
            _check_attribute(attribute, value)
        if self.count == 1:
            _check_frame(attributes)

    def end(self, _: str) -> None:
        """An element ends."""
        self.depth -= 1

    def doctype(self, *_: Any) -> None:
        """A document type may define entities."""
        raise SvgError("an SVG without DOCTYPE and entities")

    def instruction(self, *_: Any) -> None:
        """An instruction may name a style sheet."""
        raise SvgError("an SVG without processing instructions")


def _check_attribute(attribute: str, value: str) -> None:
    if attribute == "style":
        for declaration in filter(None, (each.strip() for each in value.split(";"))):
            name, _, paint = (each.strip() for each in declaration.partition(":"))
            if name not in _PAINT | {"stroke-width", "stroke-miterlimit"}:
                raise SvgError(f"an SVG of plain shapes; the style {name[:40]!r} is not taken")
            _check_attribute(name, paint)
        return
    if attribute.startswith("http://www.w3.org/XML/1998/namespace "):  # xml:space, xml:lang
        known = _NAMED.fullmatch(value) is not None and not attribute.endswith(" base")
    elif attribute in _GEOMETRY:
        known = _LENGTH.fullmatch(value.strip()) is not None
    elif attribute in _LISTS:
        known = _LISTED.fullmatch(value) is not None
    elif attribute in _PAINT:
        known = _PAINTED.fullmatch(value.strip()) is not None
    else:
        known = attribute in _NAMES and _NAMED.fullmatch(value) is not None
    if not known:
        shown = attribute.rpartition(" ")[2][:40]
        raise SvgError(f"an SVG of plain shapes in plain colours; {shown}={value[:40]!r} is not taken")
    if attribute in _GEOMETRY | _LISTS and any(abs(float(each)) > NUMBER_MOST for each in _NUMBER.findall(value)):
        raise SvgError(f"an SVG with numbers of at most {NUMBER_MOST:g}; its {attribute} has a larger one")


def _check_frame(attributes: Mapping[str, str]) -> None:
    """A viewBox of four numbers, or width and height; every side positive."""
    allowed = f"an SVG with viewBox='x y width height', or width and height, each side at least {FRAME_LEAST:g}"
    sides = []
    if "viewBox" in attributes:
        box = re.split(r"\s*,\s*|\s+", attributes["viewBox"].strip())
        if len(box) != 4 or not all(_NUMBER.fullmatch(each) for each in box):
            raise SvgError(f"{allowed}; viewBox is {attributes['viewBox'][:40]!r}")
        sides += box[2:]
    elif not {"width", "height"} <= attributes.keys():
        raise SvgError(allowed)
    for name in ("width", "height"):
        if name in attributes:
            match = _LENGTH.fullmatch(attributes[name].strip())
            sides.append(match[1] if match else "0")
    if any(float(side) < FRAME_LEAST for side in sides):
        raise SvgError(f"{allowed}; a side of this one is smaller")

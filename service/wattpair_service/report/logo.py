"""A company's logo: a small PNG, or an SVG in which nothing can run, refer elsewhere or unfold.

The sheet shows it as an image with a data: address, in which browsers run nothing; the PDF writer fetches nothing. What is
refused here is refused all the same, so that a logo means the same wherever the sheet goes.
"""

from __future__ import annotations

import base64
import binascii
import re
import zlib
from typing import Any
from xml.parsers import expat

BYTES_MOST = 60_000
SIDE_MOST = 2000
"""Pixels of a PNG's side."""
ELEMENTS_MOST, DEPTH_MOST = 2000, 40
"""Of an SVG."""
ALLOWED = f"data:image/png;base64,... or data:image/svg+xml;base64,... of at most {BYTES_MOST} bytes when decoded"

PNG, SVG = "image/png", "image/svg+xml"
_ADDRESS = re.compile(r"data:(image/png|image/svg\+xml);base64,([A-Za-z0-9+/]+={0,2})")
_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
"""Values of a pixel by PNG's colour types."""

ELEMENTS = frozenset((
    "svg", "g", "defs", "title", "desc", "path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "text", "tspan",
    "linearGradient", "radialGradient", "stop", "clipPath",
))  # fmt: skip
"""What an SVG may hold: shapes, text and gradients. Nothing that runs, embeds, animates, styles or repeats."""
_SPACE = "http://www.w3.org/2000/svg"
_REFERENCE = re.compile(r"url\(\s*(?!['\"]?#)", re.IGNORECASE)


class LogoError(ValueError):
    """A logo that is not taken; the text says what is allowed."""


def checked(address: str) -> str:
    """The data: address of a logo, as it came.

    Raises
    ------
    LogoError
        It is neither such a PNG nor such an SVG.
    """
    match = _ADDRESS.fullmatch(address)
    if match is None:
        raise LogoError(ALLOWED)
    try:
        data = base64.b64decode(match[2], validate=True)
    except binascii.Error as error:
        raise LogoError(f"{ALLOWED}; the base64 cannot be read") from error
    if len(data) > BYTES_MOST:
        raise LogoError(f"{ALLOWED}; this one has {len(data)}")
    (_check_png if match[1] == PNG else _check_svg)(data)
    return address


def _check_png(data: bytes) -> None:
    """Every chunk whole, and the pixels exactly as many as the header says."""
    allowed = f"a whole PNG of at most {SIDE_MOST} x {SIDE_MOST} pixels"
    chunks = _chunks(data, allowed)
    kinds = [kind for kind, _ in chunks]
    header = chunks[0][1] if chunks else b""
    if kinds[:1] != [b"IHDR"] or kinds[-1:] != [b"IEND"] or b"IDAT" not in kinds or len(header) != 13:
        raise LogoError(allowed)
    width, height = int.from_bytes(header[:4]), int.from_bytes(header[4:8])
    depth, colour, interlaced = header[8], header[9], header[12]
    if not (0 < width <= SIDE_MOST and 0 < height <= SIDE_MOST and depth in (1, 2, 4, 8, 16) and colour in _CHANNELS):
        raise LogoError(f"{allowed}; this one says {width} x {height}")
    if interlaced:
        raise LogoError(f"{allowed}, not interlaced")
    size = height * (1 + (width * depth * _CHANNELS[colour] + 7) // 8)
    unpacker = zlib.decompressobj()
    try:
        pixels = unpacker.decompress(b"".join(body for kind, body in chunks if kind == b"IDAT"), size + 1)
    except zlib.error as error:
        raise LogoError(f"{allowed}; its pixels cannot be read") from error
    if len(pixels) != size:
        raise LogoError(f"{allowed}; its pixels are not as many as it says")


def _chunks(data: bytes, allowed: str) -> list[tuple[bytes, bytes]]:
    if not data.startswith(_SIGNATURE):
        raise LogoError(allowed)
    found = []
    at = len(_SIGNATURE)
    while at < len(data):
        length = int.from_bytes(data[at : at + 4])
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        if int.from_bytes(data[at + 8 + length : at + 12 + length]) != zlib.crc32(kind + body) or len(body) != length:
            raise LogoError(f"{allowed}; a part of it is damaged")
        found.append((kind, body))
        at += 12 + length
    return found


def _check_svg(data: bytes) -> None:
    """Only what `ELEMENTS` names, without events, styles' addresses, references out of the file, or entities."""
    reader = _SvgReader()
    parser = expat.ParserCreate("utf-8", " ")
    parser.StartElementHandler = reader.start
    parser.EndElementHandler = reader.end
    parser.StartDoctypeDeclHandler = reader.doctype
    parser.ProcessingInstructionHandler = reader.instruction
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise LogoError(f"an SVG in UTF-8; it cannot be read at line {error.lineno}") from error


class _SvgReader:
    """Follows an SVG and refuses what it may not hold."""

    def __init__(self) -> None:
        self.count = self.depth = 0

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """An element begins."""
        self.count += 1
        self.depth += 1
        space, _, local = name.rpartition(" ")
        if self.count > ELEMENTS_MOST or self.depth > DEPTH_MOST:
            raise LogoError(f"an SVG of at most {ELEMENTS_MOST} elements, nested at most {DEPTH_MOST} deep")
        if space != _SPACE or local not in ELEMENTS or (self.count == 1 and local != "svg"):
            raise LogoError(f"an SVG of the elements {', '.join(sorted(ELEMENTS))} alone; this one holds {local[:40]}")
        for attribute, value in attributes.items():
            self._check(attribute.rpartition(" ")[2].lower(), value)

    def _check(self, attribute: str, value: str) -> None:
        if attribute.startswith("on"):
            raise LogoError(f"an SVG without event attributes; this one has {attribute[:40]}")
        if attribute in ("href", "src", "base") and not value.startswith("#"):
            raise LogoError(f"an SVG that refers to nothing outside itself; this one has {attribute}")
        if _REFERENCE.search(value) or "\\" in value or "javascript:" in value.lower() or "@import" in value.lower():
            raise LogoError(f"an SVG that refers to nothing outside itself; its {attribute[:40]} does")

    def end(self, _: str) -> None:
        """An element ends."""
        self.depth -= 1

    def doctype(self, *_: Any) -> None:
        """A document type may define entities."""
        raise LogoError("an SVG without DOCTYPE and entities")

    def instruction(self, *_: Any) -> None:
        """An instruction may name a style sheet."""
        raise LogoError("an SVG without processing instructions")

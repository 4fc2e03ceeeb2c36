"""Checks a company's logo: a small PNG, or an SVG of plain shapes (see `report/logo_svg.py`).

The sheet shows the logo as an image with a data: address. There browsers run no scripts, and the PDF writer fetches nothing.
Active content is refused here as well, so that a logo is harmless wherever the sheet is opened.
"""

from __future__ import annotations

import base64
import binascii
import re
import zlib

from wattpair_service.report import logo_svg

BYTES_MOST = 60_000
SIDE_MOST = 2000
"""Longest side of a PNG, in pixels."""
ALLOWED = f"data:image/png;base64,... or data:image/svg+xml;base64,... of at most {BYTES_MOST} bytes when decoded"

PNG, SVG = "image/png", "image/svg+xml"
_ADDRESS = re.compile(r"data:(image/png|image/svg\+xml);base64,([A-Za-z0-9+/]+={0,2})")
_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
"""Channels of a pixel for each PNG colour type."""
_DEPTHS = {0: (1, 2, 4, 8, 16), 2: (8, 16), 3: (1, 2, 4, 8), 4: (8, 16), 6: (8, 16)}
"""Bits per channel that PNG allows for each colour type."""
_ANIMATION = {b"acTL", b"fcTL", b"fdAT"}


class LogoError(ValueError):
    """A logo that is refused; the text says what is allowed."""


def checked(address: str) -> str:
    """The data: address of a logo, unchanged.

    Raises
    ------
    LogoError
        It is neither an allowed PNG nor an allowed SVG.
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
    if match[1] == PNG:
        _check_png(data)
    else:
        try:
            logo_svg.check(data)
        except logo_svg.SvgError as error:
            raise LogoError(str(error)) from error
    return address


def _check_png(data: bytes) -> None:
    """Raise LogoError unless every chunk is whole and the number of pixels is that of the header."""
    allowed = f"a whole PNG of at most {SIDE_MOST} x {SIDE_MOST} pixels"
    chunks = _chunks(data, allowed)
    kinds = [kind for kind, _ in chunks]
    header = chunks[0][1] if chunks else b""
    if kinds[:1] != [b"IHDR"] or kinds[-1:] != [b"IEND"] or b"IDAT" not in kinds or len(header) != 13:
        raise LogoError(allowed)
    width, height = int.from_bytes(header[:4]), int.from_bytes(header[4:8])
    depth, colour, interlaced = header[8], header[9], header[12]
    if not (0 < width <= SIDE_MOST and 0 < height <= SIDE_MOST and depth in _DEPTHS.get(colour, ())):
        raise LogoError(f"{allowed}; this one says {width} x {height}, {depth} bits of colour type {colour}")
    if interlaced:
        raise LogoError(f"{allowed}, not interlaced")
    if _ANIMATION & set(kinds):
        raise LogoError(f"{allowed}, without animation")
    palettes = [body for kind, body in chunks if kind == b"PLTE"]
    if colour == 3 and not (len(palettes) == 1 and 0 < len(palettes[0]) <= 3 << depth and len(palettes[0]) % 3 == 0):
        raise LogoError(f"{allowed}, with one palette for indexed colours")
    if colour == 3 and kinds.index(b"PLTE") > kinds.index(b"IDAT"):
        raise LogoError(f"{allowed}, its palette before its pixels")
    size = height * (1 + (width * depth * _CHANNELS[colour] + 7) // 8)
    unpacker = zlib.decompressobj()
    try:
        pixels = unpacker.decompress(b"".join(body for kind, body in chunks if kind == b"IDAT"), size + 1)
    except zlib.error as error:
        raise LogoError(f"{allowed}; its pixels cannot be read") from error
    if len(pixels) != size:
        raise LogoError(f"{allowed}; the number of its pixels is not that of its header")


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

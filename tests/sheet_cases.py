"""Designs and logos that the tests of the sheet share."""

from __future__ import annotations

import base64
import struct
import zlib

from tests.contract.bodies import DELETED, Body, changed, example
from wattpair_service.engineering.materials.bill_lines import DOCUMENT_ROLES, ROLES

HOSTILE = (
    "</script><script>window.hit=1</script>",
    '"><img src=x onerror="window.hit=1">',
    "' onmouseover='window.hit=1",
    "javascript:window.hit=1",
    "]]><svg onload=window.hit=1>",
    "</style><style>*{display:none}</style>",
    "</title><iframe src=//192.0.2.1>",
    "{{ 7*7 }}{% raw %}{braces}",
    "<!--",
    "&lt;b&gt;&#x3c;u&#x3e;",
)
"""Texts that would do harm as markup, style, address or template."""
BIDI = "\u202e\u2066abc\u2069\u200f"
"""Marks that would turn the direction of what follows."""


def hostile_design() -> Body:
    """The example with a hostile text wherever a text of one's own may stand."""
    body = example("design_roof")
    texts = iter(HOSTILE * 4)
    modules, units = [each["module"] for each in body["modules"]], [each["microinverter"] for each in body["candidates"]]
    for number, named in enumerate([*modules, *units, *body["faces"]]):
        named["name"] = next(texts)[:95] + str(number)
    for item in body["price_book"]["items"]:
        item["part_number"] += next(texts)[:60]
    body["price_book"]["part_numbers"] = [{"role": "module", "part_number": body["price_book"]["items"][0]["part_number"]}]
    notes = "\n".join(HOSTILE)
    body["sheet"] |= {"company": HOSTILE[0], "customer": HOSTILE[1], "address": list(HOSTILE[:6]), "notes": notes}
    return body


def crowd(faces: int) -> Body:
    """The example with eight candidates, on its two faces or with two more."""
    body = example("design_roof")
    offers = [changed(body["candidates"][number % 2], {}) for number in range(8)]
    for number, offer in enumerate(offers):
        limit_w = 250 + 25 * number
        offer["microinverter"] |= {"name": f"Unit {limit_w}", "ac_power_w": limit_w, "dc_current_max_a": 12.5}
        offer["price"] = 90 + 7 * number
    sides = [changed(body["faces"][0], {"/name": f"side {azimuth}", "/azimuth_deg": azimuth}) for azimuth in (105, 285)]
    return body | {"candidates": offers, "faces": [*body["faces"], *sides][:faces]}


def too_low(*candidates: int) -> Body:
    """Changes after which candidates fail their electrical checks."""
    limits = {"voltage_max": 40, "operating_voltage_max": 39, "full_power_voltage_max": 38}
    return {f"/candidates/{index}/microinverter/dc_{name}_v": volts for index in candidates for name, volts in limits.items()}


def every_part_priced(book: Body) -> Body:
    """The price book with one more item, which is the part of every role that has none."""
    item = {"part_number": "X-1", "cost": "7.50", "price": "9.00"}
    roles = [{"role": role, "part_number": item["part_number"]} for role in ROLES if role not in DOCUMENT_ROLES]
    own = [each for each in book["part_numbers"] if each["role"] in ("module", "microinverter", "microinverter_spare")]
    others = [each for each in roles if each["role"] not in {each["role"] for each in own}]
    return book | {"items": [*book["items"], item], "part_numbers": [*own, *others]}


def variants() -> dict[str, Body]:
    """Designs of every shape that a sheet has to show."""
    body = example("design_roof")
    module = body["modules"][0] | {
        "module": body["modules"][0]["module"]
        | {"name": "Module 460", "current_mp_a": 14.3, "power_w": 459, "current_sc_a": 15.1}
    }
    full_faces = {"/faces/0/layout": {"width_m": 68, "height_m": 28}, "/faces/1/layout": {"width_m": 60, "height_m": 26}}
    every_price = {
        "/price_book": every_part_priced(body["price_book"]), "/other_cost": 0,
        "/connection_costs": [{"procedure": "within_4_6_kva_on_each_phase", "cost": 0}],
    }  # fmt: skip
    asked_for = {"/build": {"microinverter": "Unit 345"}}
    changes: dict[str, Body] = {
        "the example": {},
        "several modules": {"/modules": [body["modules"][0], module]},
        "no prices": {"/tariff": DELETED, "/price_book": DELETED},
        "nothing passes": too_low(0, 1),
        "one candidate": {"/candidates/1": DELETED, "/faces/1": DELETED},
        "faces by count": {"/faces/0/layout": DELETED, "/faces/0/module_count": 8},
        "another built": asked_for,
        "a failing one asked for": too_low(1) | asked_for,
        "an unknown currency": {"/currency": "QQQ", "/price_book": DELETED},
        "every part priced": every_price,
        "an export limit": {"/share_used_at_home": 0.3, "/export_limit_w": 3000},
        "the far south": {"/site/latitude_deg": -53.8, "/site/longitude_deg": -67.7},
        "no sheet asked for": {"/sheet": DELETED},
        "as many modules as a face takes": full_faces | {"/faces/1/module_count": DELETED},
    }
    crowds = {"eight candidates": crowd(2), "eight candidates on four faces": crowd(4)}
    return {name: changed(body, each) for name, each in changes.items()} | crowds | {"hostile texts": hostile_design()}


def data_address(data: bytes, kind: str) -> str:
    """A data: address."""
    return f"data:image/{kind};base64,{base64.b64encode(data).decode()}"


def png(
    width: int = 4,
    height: int = 3,
    *,
    said_width: int | None = None,
    interlaced: int = 0,
    depth: int = 8,
    colour: int = 0,
    palette: float = 0,
    animated: bool = False,
) -> bytes:
    """A PNG of one value, grey or (`colour` 3) a place in a palette of so many colours; `said_width` is what it claims."""
    header = struct.pack(">IIBBBBB", said_width or width, height, depth, colour, 0, 0, interlaced)
    value = b"\x80" if colour == 0 else b"\x01"
    pixels = zlib.compress(b"".join(b"\0" + value * (width * depth // 8) for _ in range(height)))
    colours = ((b"PLTE", b"\x30" * int(palette * 3)),) if palette else ()
    moving = ((b"acTL", struct.pack(">II", 1, 0)),) if animated else ()
    chunks = ((b"IHDR", header), *colours, *moving, (b"IDAT", pixels), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body)) for kind, body in chunks
    )


def svg(inner: str = "<rect width='40' height='20'/>", attributes: str = "") -> bytes:
    """A small SVG."""
    return f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 40 20' {attributes}>{inner}</svg>".encode()

"""The map of a face's losses by shade, and the chart of the sun's paths with what stands before them."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest

from tests.builders import FACE
from wattpair_service.engineering.irradiance.plane_of_array import HorizonPoint
from wattpair_service.engineering.roof.outline import rectangle
from wattpair_service.engineering.shade.on_face import skyline_of_face
from wattpair_service.engineering.shade.scene import Building, Placement, RoofObject, Shade, Tree
from wattpair_service.report import colour
from wattpair_service.report.charts.drawing import INK, PAPER, WIDTH, Pen
from wattpair_service.report.charts.roof_plan import scale_px_m
from wattpair_service.report.charts.shade_map import STEPS, extent, percent, shade_map
from wattpair_service.report.charts.sky_line import sky_line
from wattpair_service.words.language import language

EN, DE, PEN = language("en"), language("de"), Pen("chart", colour.OWN)
OUTLINE = rectangle(9.0, 5.0)
CHIMNEY = RoofObject("chimney </text>", ((1.5, 2.5), (2.2, 2.5), (2.2, 3.1), (1.5, 3.1)), 1.0)
PLACEMENT = Placement(tuple((0.5 + 1.2 * column, 0.3) for column in range(6)), 1.1, 1.7, "portrait")
LOSSES = (0.0, 0.003, 0.03, 0.07, 0.12, 0.41)
ACCENTS = ("#000000", colour.OWN, "#b3470a", "#767676")


def drawn(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(re.sub(' xmlns="[^"]*"', "", svg))


def texts(svg: str) -> list[str]:
    return [each.text or "" for each in drawn(svg).iter("text")]


def a_map(**changes: object) -> str:
    given = {"outline": OUTLINE, "objects": (CHIMNEY,), "px_per_m": scale_px_m([OUTLINE]), "language": EN} | changes
    return str(shade_map(PEN, face="garden <side>", placement=PLACEMENT, loss_shares=LOSSES, **given))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("share", "english", "german"),
    [
        (-0.001, "0%", "0\u00a0%"), (0.0, "0%", "0\u00a0%"), (0.003, "<1%", "<1\u00a0%"), (0.0051, "1%", "1\u00a0%"),
        (0.126, "13%", "13\u00a0%"), (1.0, "100%", "100\u00a0%"),
    ],
)  # fmt: skip
def test_losses_are_whole_percent(share: float, english: str, german: str) -> None:
    assert (percent(EN, share), percent(DE, share)) == (english, german)


def test_each_module_has_its_loss() -> None:
    assert texts(a_map())[:6] == ["0%", "<1%", "3%", "7%", "12%", "41%"]
    assert texts(a_map(language=DE))[:6] == ["0\u00a0%", "<1\u00a0%", "3\u00a0%", "7\u00a0%", "12\u00a0%", "41\u00a0%"]


def test_small_modules_have_their_loss_without_a_percent_sign_or_none() -> None:
    assert texts(a_map(px_per_m=19.0))[:6] == ["0", "<1", "3", "7", "12", "41"]
    assert not {"41", "41%"} & set(texts(a_map(px_per_m=8.0)))


def test_numbers_and_letters_stand_where_they_are_named() -> None:
    plain, numbered = texts(a_map()), texts(a_map(is_numbered=True))
    assert "a" in numbered
    assert "a" not in plain
    assert [each for each in numbered if each in "123456"] == list("123456")
    assert "6" not in texts(a_map(is_numbered=True, px_per_m=14.0))


@pytest.mark.parametrize("accent", ACCENTS)
def test_steps_darken_and_their_figures_can_be_read(accent: str) -> None:
    grounds = [colour.tint(accent, dark) for _, dark in STEPS]
    contrasts = [colour.contrast_on_white(each) for each in grounds]
    assert all(after > 1.12 * before for before, after in pairwise(contrasts))
    for ground, on_white in zip(grounds, contrasts, strict=True):
        ink = colour.readable_on(ground, INK, PAPER)
        between = colour.contrast_on_white(ink) / on_white
        assert max(between, 1.0 / between) > 3.0


def test_modules_that_do_not_pay_are_framed_and_named() -> None:
    without, framed = a_map(), a_map(not_paying={6, 5})
    assert "does not pay for itself" not in without
    assert framed.count("does not pay for itself") == 1
    assert "2 modules with a thick frame do not pay for themselves." in framed
    assert "1 dick umrandetes Modul rechnet sich nicht." in a_map(not_paying={6}, language=DE)
    assert [each.get("d", "").count("M") for each in drawn(framed).iter("path") if each.get("stroke-width") == "2.6"] == [2]


def test_without_an_outline_the_modules_and_what_is_beside_them_are_drawn() -> None:
    far = replace(CHIMNEY, outline=((90.0, 1.0), (91.0, 1.0), (91.0, 2.0), (90.0, 2.0)))
    (left, low), _, (right, top), _ = extent(None, PLACEMENT, (CHIMNEY, far))
    assert (left, low, right, top) == pytest.approx((0.5, 0.3, 7.6 + 3.0, 3.1))
    assert extent(None, PLACEMENT, ())[2] == pytest.approx((7.6, 2.0))
    svg = a_map(outline=None, px_per_m=scale_px_m([extent(None, PLACEMENT, (CHIMNEY,))]))
    assert "towards the eaves" in texts(svg)


def test_the_map_is_told_in_words() -> None:
    root = drawn(a_map())
    assert [each.tag for each in root][:2] == ["title", "desc"]
    assert root.findtext("title") == "Loss by shade, garden <side>"
    assert root.findtext("desc") == (
        "garden <side> with its 6 modules and what shade takes of each in a year: least on module 1, 0%; most on module 6, 41%."
    )


SCENE = replace(
    FACE,
    horizon=(HorizonPoint(0.0, 4.0), HorizonPoint(180.0, 9.0)),
    shade=Shade(
        objects=(CHIMNEY,),
        buildings=(Building("house", -20.0, -9.0, 12.0, 9.0, 20.0, 6.0, 3.0),),
        trees=(Tree("beech", 6.0, -14.0, -3.5, 14.0, 3.0, 8.0, 0.4, (0.4,) * 12),),
        placement=PLACEMENT,
    ),
)
OPEN = replace(FACE, tilt_deg=0.0)


def a_sky(latitude_deg: float = 52.1, *, of: str = "scene", **changes: object) -> str:
    face = SCENE if of == "scene" else OPEN
    given = {"language": EN, "tilt_deg": face.tilt_deg, "azimuth_deg": face.azimuth_deg} | changes
    skyline = skyline_of_face(face)
    return str(sky_line(PEN, face="garden", skyline=skyline, latitude_deg=latitude_deg, **given))  # type: ignore[arg-type]


def test_directions_dates_and_hours_are_named() -> None:
    english, german = texts(a_sky()), texts(a_sky(language=DE))
    assert {"elevation, degrees", "NE", "east", "SE", "south", "SW", "west", "NW", "12", "8", "16"} <= set(english)
    assert {"21 June", "21 March, 21 September", "21 December"} <= set(english)
    assert {"Höhenwinkel, Grad", "NO", "Ost", "SO", "Süd", "21. Juni", "21. März, 21. September"} <= set(german)
    assert "June 21" in texts(a_sky(language=language("en", "United States")))


def test_the_key_names_what_is_drawn() -> None:
    whole, bare = set(texts(a_sky())), set(texts(a_sky(of="open")))
    of_the_scene = {"horizon", "buildings, objects", "tree crowns, partly open", "plane of the modules"}
    assert of_the_scene <= whole
    assert not of_the_scene & bare


def test_in_the_south_the_sun_stands_in_the_north_and_moves_to_the_left() -> None:
    root = drawn(a_sky(-34.0, of="open"))
    at = {each.text: float(each.get("x", 0.0)) for each in root.iter("text")}
    assert at["west"] < at["north"] < at["east"]
    assert at["15"] < at["12"] < at["9"]


@pytest.mark.parametrize("latitude_deg", [-90.0, -67.0, -23.44, -5.0, 0.0, 5.0, 23.44, 45.0, 67.0, 90.0])
@pytest.mark.parametrize("of", ["scene", "open"])
def test_all_lines_stay_on_the_drawing_and_none_leaps_across_it(latitude_deg: float, of: str) -> None:
    root = drawn(a_sky(latitude_deg, of=of))
    height = float(root.get("height", 0.0))
    for each in (*root.iter("polyline"), *root.iter("polygon")):
        points = np.array([[float(number) for number in point.split(",")] for point in each.get("points", "").split()])
        assert np.isfinite(points).all()
        assert (points >= 0.0).all()
        assert (points <= [WIDTH, height]).all()
        if each.tag == "polyline":
            assert np.abs(np.diff(points[:, 0])).max() < WIDTH / 4.0


def test_the_sky_is_told_in_words() -> None:
    told = drawn(a_sky()).findtext("desc") or ""
    assert told.startswith(
        "Elevation against direction. At noon the sun stands at 61 degrees on 21 June and at 14 degrees on 21 December."
    )
    assert re.search(r"What stands before the sky reaches \d+ degrees in the [a-z-]+\.$", told)
    assert "reaches" not in (drawn(a_sky(of="open")).findtext("desc") or "")

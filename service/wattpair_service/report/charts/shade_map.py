"""A face with the share of its energy that each module loses to shade, and the objects on the roof that throw it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence

from markupsafe import Markup

from wattpair_service.engineering.roof.outline import Polygon
from wattpair_service.engineering.shade.scene import Placement, RoofObject
from wattpair_service.report.charts.drawing import (
    DISC,
    INK,
    LETTERS,
    PAPER,
    WIDTH,
    Pen,
    box,
    lettered,
    polygon,
    text,
)
from wattpair_service.report.charts.roof_plan import SIDE, RoofPlan, around, rectangles
from wattpair_service.report.colour import readable_on, tint
from wattpair_service.words.language import Language

STEPS = ((0.0, 0.0), (0.02, 0.14), (0.05, 0.30), (0.10, 0.54), (0.20, 1.0))
"""Each step of the key: the least loss in it (0-1), and how dark it is drawn, as a share of the accent colour."""
SIZES = (13.0, 11.5, 10.0, 9.0, 8.0, 7.0)
"""Sizes of the figures; the largest that fits a module is taken."""
BOLD_EM = {"%": 1.01, "<": 0.84, "\u00a0": 0.35}
"""Width of a letter of the bold typeface in em; of a digit:"""
DIGIT_EM = 0.70
NUMBER_SIZE = 7.5
NUMBER_ROOM = (19.0, 27.0)
"""Least width and height of a drawn module for its number beside its loss."""
KEY_ROW, KEY_SIZE = 15.0, 9.5
EDGE_ROOM = 16.0
"""Least shorter side of a drawn module for edges of full width."""
GAP = 0.8
"""White edge of a drawn module, so that dark ones stay apart."""


def extent(outline: Polygon | None, placement: Placement, objects: Sequence[RoofObject]) -> Polygon:
    """What the drawing of a face shows: its outline or, where that is not known, its modules with the objects beside them."""
    return outline or around(placement, objects)


def shade_map(
    pen: Pen,
    language: Language,
    face: str,
    outline: Polygon | None,
    placement: Placement,
    objects: Sequence[RoofObject],
    loss_shares: Sequence[float],
    px_per_m: float,
    *,
    not_paying: Collection[int] = (),
    is_numbered: bool = False,
) -> Markup:
    """The face seen at a right angle, with the loss of each module in percent.

    Parameters
    ----------
    face : str
        Its name.
    outline : Polygon or None
        Of the face; None where it is not known.
    placement, objects
        Modules, and what stands on the roof, in the plane of the face.
    loss_shares : sequence of float
        Of each module in the order of the placement (0-1).
    px_per_m : float
        Scale, common to all faces.
    not_paying : collection of int
        Numbers, from 1, of modules that do not pay for themselves.
    is_numbered : bool
        Whether modules have their numbers, where there is room, and objects their letters.
    """
    plan = RoofPlan(extent(outline, placement, objects), px_per_m)
    size = placement.module_width_m * px_per_m, placement.module_height_m * px_per_m
    corners = [plan.at(x_m, y_m + placement.module_height_m) for x_m, y_m in placement.corners]
    framed = [corners[number - 1] for number in sorted(not_paying)]
    drawn = [] if outline is None else [polygon(plan.shape(outline), fill=PAPER, stroke=INK, width=1.6)]
    drawn += _modules(pen, corners, size, loss_shares)
    drawn += _frames(framed, size)
    drawn += _figures(pen, language, corners, size, loss_shares)
    if is_numbered and has_room_for_numbers(placement, px_per_m):
        drawn += _numbers(pen, corners, loss_shares)
    drawn += _objects(pen, plan, objects)
    if is_numbered:
        drawn += _letters(plan, objects)
    drawn += plan.under_it(language, has_eaves=outline is not None)
    drawn += _key(pen, language, plan.height, has_frames=bool(framed))
    order = sorted(range(len(loss_shares)), key=lambda index: loss_shares[index])
    best, worst = order[0], order[-1]
    description = language.say(
        "shade.description",
        face=face,
        modules=language.counted("module", len(corners)),
        best=language.number(best + 1),
        least=percent(language, loss_shares[best]),
        worst=language.number(worst + 1),
        most=percent(language, loss_shares[worst]),
    )
    if framed:
        description += " " + frames_in_words(language, len(framed))
    height = plan.height + (2.0 if framed else 1.0) * KEY_ROW - 2.0
    return pen.frame(height, language.say("shade.title", face=face), description, *drawn)


def has_room_for_numbers(placement: Placement, px_per_m: float) -> bool:
    """Whether a module as drawn is large enough for its number beside its loss."""
    sides_m = placement.module_width_m, placement.module_height_m
    return all(side_m * px_per_m >= room for side_m, room in zip(sides_m, NUMBER_ROOM, strict=True))


def percent(language: Language, share: float) -> str:
    """A loss in whole percent; one that would be zero percent but is a loss as less than one."""
    return f"<{language.percent(0.01)}" if 0.0005 <= share < 0.005 else language.percent(max(share, 0.0))


def frames_in_words(language: Language, count: int) -> str:
    """That some modules do not pay for themselves."""
    return language.say(f"shade.frames_{'one' if count == 1 else 'other'}", count=language.number(count))


def _step(share: float) -> int:
    """Index of the step that a loss lies in, as it is rounded in print."""
    return max(index for index, (least, _) in enumerate(STEPS) if round(max(share, 0.0), 2) >= least)


def _fill(pen: Pen, share: float) -> str:
    return tint(pen.accent, STEPS[_step(share)][1])


def _modules(
    pen: Pen, corners: Sequence[tuple[float, float]], size: tuple[float, float], loss_shares: Sequence[float]
) -> Iterator[Markup]:
    """The modules of each step as one shape."""
    thin = _thinness(size)
    for index, (_, dark) in enumerate(STEPS):
        alike = [corner for corner, share in zip(corners, loss_shares, strict=True) if _step(share) == index]
        if alike:
            yield _inside(alike, size, GAP * thin, fill=tint(pen.accent, dark), stroke=INK, line=0.7 * thin)


def _frames(corners: Sequence[tuple[float, float]], size: tuple[float, float]) -> Iterator[Markup]:
    """Thick frames with a white line inside, which sets them apart on dark modules."""
    if corners:
        thin = _thinness(size)
        yield _inside(corners, size, 2.4 * thin, fill="none", stroke=PAPER, line=1.6 * thin)
        yield _inside(corners, size, 0.8 * thin, fill="none", stroke=INK, line=2.6 * thin)


def _inside(
    corners: Iterable[tuple[float, float]], size: tuple[float, float], by: float, *, fill: str, stroke: str, line: float
) -> Markup:
    """The modules, smaller by this much on each side."""
    inner = [(x + by, y + by) for x, y in corners]
    return rectangles(inner, size[0] - 2.0 * by, size[1] - 2.0 * by, fill=fill, stroke=stroke, line=line)


def _thinness(size: tuple[float, float]) -> float:
    """Factor on the width of lines: edges of full width would fill small modules."""
    return min(1.0, min(size) / EDGE_ROOM)


def _figures(
    pen: Pen,
    language: Language,
    corners: Sequence[tuple[float, float]],
    size: tuple[float, float],
    loss_shares: Sequence[float],
) -> Iterator[Markup]:
    """The loss in the middle of each module: with a percent sign, without, or nothing, as there is room."""
    labels = [percent(language, share) for share in loss_shares]
    plain = [each.replace("%", "").rstrip() for each in labels]
    for shown in (labels, plain):
        widest = max(sum(BOLD_EM.get(letter, DIGIT_EM) for letter in label) for label in shown)
        fitting = [each for each in SIZES if each * widest <= size[0] - 5.0 and each * 1.15 <= size[1] - 2.0]
        if fitting:
            break
    else:
        return
    for (x, y), label, share in zip(corners, shown, loss_shares, strict=True):
        ink = readable_on(_fill(pen, share), INK, PAPER)
        middle = y + size[1] / 2.0 + fitting[0] * 0.36
        yield text(x + size[0] / 2.0, middle, label, anchor="middle", bold=True, size=fitting[0], fill=ink)


def _numbers(pen: Pen, corners: Sequence[tuple[float, float]], loss_shares: Sequence[float]) -> Iterator[Markup]:
    """The number of each module in its upper left corner."""
    for number, ((x, y), share) in enumerate(zip(corners, loss_shares, strict=True), 1):
        yield text(x + 4.0, y + 10.0, number, size=NUMBER_SIZE, fill=readable_on(_fill(pen, share), INK, PAPER))


def _objects(pen: Pen, plan: RoofPlan, objects: Sequence[RoofObject]) -> Iterator[Markup]:
    """Outlines of the objects."""
    for each in objects:
        yield polygon(plan.shape(each.outline), fill=PAPER, width=1.4)
        yield polygon(plan.shape(each.outline), fill=pen.hatch, width=1.4)


def _letters(plan: RoofPlan, objects: Sequence[RoofObject]) -> Iterator[Markup]:
    """A letter for each object: in its middle or, where it is too small for that, beside it."""
    for letter, each in zip(LETTERS, objects, strict=False):
        (left, right), (low, high) = each.extent
        x, y = plan.at(*each.middle)
        if min(right - left, high - low) * plan.px_per_m < 2.0 * DISC + 4.0:
            x = min(x + (right - left) * plan.px_per_m / 2.0 + DISC + 1.0, WIDTH - DISC - 1.0)
        yield from lettered(x, y, letter)


def _key(pen: Pen, language: Language, top: float, *, has_frames: bool) -> Iterator[Markup]:
    """The steps with their bounds in percent, and the frame of modules that do not pay."""
    pitch, y = (WIDTH - 2.0 * SIDE) / len(STEPS), top
    for index, (least, dark) in enumerate(STEPS):
        first, is_last = language.number(least * 100.0), index + 1 == len(STEPS)
        after = language.percent(least if is_last else STEPS[index + 1][0])
        bounds = f"≥ {after}" if is_last else f"< {after}" if index == 0 else f"{first}–{after}"
        x = SIDE + index * pitch
        yield box(x, y, 14.0, 10.0, fill=tint(pen.accent, dark), stroke=INK)
        yield text(x + 17.0, y + 9.0, bounds, size=KEY_SIZE)
    if has_frames:
        yield from _frames([(SIDE, y + KEY_ROW)], (14.0, 10.0))
        yield text(SIDE + 18.0, y + KEY_ROW + 9.0, language.say("shade.not_paying"), size=KEY_SIZE)

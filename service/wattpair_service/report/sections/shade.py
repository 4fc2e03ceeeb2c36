"""What the sheet says of the shade on each face: a map of the modules, what stands before the sun, sentences and a table."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from wattpair_service.engineering.design.design import Design, FaceDesign
from wattpair_service.engineering.energy.shade_loss import FaceShade, ModuleShade
from wattpair_service.engineering.roof.outline import Polygon
from wattpair_service.engineering.shade.on_face import skyline_of_face
from wattpair_service.engineering.shade.scene import Placement, Shade
from wattpair_service.report.charts.drawing import LETTERS, Pen
from wattpair_service.report.charts.roof_plan import scale_px_m
from wattpair_service.report.charts.shade_map import (
    extent,
    frames_in_words,
    has_room_for_numbers,
    percent,
    shade_map,
)
from wattpair_service.report.charts.sky_line import sky_line
from wattpair_service.report.sections.drawing import Drawing
from wattpair_service.report.table import Row, Table
from wattpair_service.words.language import Language

MODULES_LISTED = 24
"""Most modules of a face in its table; of more, those that lose most."""
FACES_MOST = 6


@dataclass(frozen=True, slots=True)
class MappedFace:
    """A face whose modules lose differently; `outline` is None where only its modules are known.

    `not_paying` has the numbers of modules that do not pay for themselves.
    """

    name: str
    outline: Polygon | None
    shade: Shade
    placement: Placement
    loss: FaceShade
    not_paying: frozenset[int]

    @classmethod
    def of(cls, face: FaceDesign, loss: FaceShade | None) -> MappedFace | None:
        """The face; None where all of its modules lose the same, or nothing."""
        shade = face.face.shade
        if loss is None or not loss.modules or shade is None or shade.placement is None:
            return None
        outline = None if face.outline is None else face.outline.outline
        return cls(face.face.name, outline, shade, shade.placement, loss, left_out(face))

    @property
    def extent(self) -> Polygon:
        """What its drawing shows."""
        return extent(self.outline, self.placement, self.shade.objects)

    def drawing(self, pen: Pen, language: Language, px_per_m: float, *, is_numbered: bool = False) -> Drawing:
        """The map with its sentences: for the customer one on the face, with `is_numbered` also what the marks mean."""
        chart = shade_map(
            pen,
            language,
            self.name,
            self.outline,
            self.placement,
            self.shade.objects,
            [each.loss_share for each in self.loss.modules],
            px_per_m,
            not_paying=self.not_paying,
            is_numbered=is_numbered,
        )
        notes = list(self._marks(language, px_per_m)) if is_numbered else [loss_in_words(language, None, self.loss)]
        return Drawing(language.say("shade.title", face=self.name), chart, tuple(notes))

    def _marks(self, language: Language, px_per_m: float) -> Iterator[str]:
        if has_room_for_numbers(self.placement, px_per_m):
            yield language.say("shade.numbers")
        if self.shade.objects:
            yield lettered_names(language, [each.name for each in self.shade.objects])


@dataclass(frozen=True, slots=True)
class ShadedFace:
    """A face for the installer."""

    sentences: tuple[str, ...]
    drawings: tuple[Drawing, ...]
    table: Table | None


def left_out(face: FaceDesign) -> frozenset[int]:
    """Numbers of the modules of a face that do not pay for themselves."""
    return frozenset() if face.positions is None else face.positions.not_paying


def face_losses(design: Design) -> tuple[FaceShade | None, ...]:
    """What shade takes of each face; None also where no candidate passes and nothing was computed."""
    if design.clipping is None:
        return (None,) * len(design.faces)
    return tuple(each.shade for each in design.clipping.faces)


def mapped_faces(design: Design) -> tuple[MappedFace | None, ...]:
    """Each face that has a map of its modules, in the order of the request."""
    return tuple(MappedFace.of(face, loss) for face, loss in zip(design.faces, face_losses(design), strict=True))


def shaded_faces(design: Design, language: Language, accent: str) -> tuple[ShadedFace, ...]:
    """The faces with something before their sky, for the installer; all maps have one scale."""
    mapped = mapped_faces(design)
    px_per_m = scale_px_m([each.extent for each in mapped if each is not None]) if any(mapped) else 1.0
    shaded = [
        (number, face, loss, on_map)
        for number, (face, loss, on_map) in enumerate(zip(design.faces, face_losses(design), mapped, strict=True), 1)
        if face.face.is_shaded
    ]
    return tuple(
        ShadedFace(
            sentences=() if loss is None else tuple(_sentences(language, face, loss)),
            drawings=tuple(_drawings(design, language, accent, number, face, on_map, px_per_m)),
            table=None if on_map is None else modules_table(language, face, on_map.loss.modules),
        )
        for number, face, loss, on_map in shaded[:FACES_MOST]
    )


def _drawings(
    design: Design, language: Language, accent: str, number: int, face: FaceDesign, mapped: MappedFace | None, px_per_m: float
) -> Iterator[Drawing]:
    if mapped is not None:
        yield mapped.drawing(Pen(f"shade-{number}", accent), language, px_per_m, is_numbered=True)
    skyline = skyline_of_face(face.face)
    names = [*(each.name for each in skyline.solids), *(each.name for each in skyline.crowns)]
    if not (face.face.horizon or names):
        return
    chart = sky_line(
        Pen(f"sky-{number}", accent),
        language,
        face.face.name,
        skyline,
        latitude_deg=design.site.latitude_deg,
        tilt_deg=face.face.tilt_deg,
        azimuth_deg=face.face.azimuth_deg,
    )
    seen = (
        language.say("sky.from_anywhere") if skyline.module is None else language.say("sky.from_module", number=skyline.module)
    )
    notes = [f"{seen} {language.say('sky.hours')}"]
    if names:
        notes.append(lettered_names(language, names))
    yield Drawing(language.say("sky.title", face=face.face.name), chart, tuple(notes))


def lettered_names(language: Language, names: Iterable[str]) -> str:
    """What the letters of a drawing stand for."""
    return "; ".join(
        language.say("shade.object", letter=letter, name=name) for letter, name in zip(LETTERS, names, strict=False)
    )


def loss_in_words(language: Language, face: str | None, loss: FaceShade) -> str:
    """What shade takes of a face, with its range; without the name of the face under a drawing that has it."""
    share = loss.loss_share
    ends = {name: percent(language, end) for name, end in (("low", share.low), ("high", share.high))}
    value = percent(language, share.value)
    key, named = ("shade.of_possible", {}) if face is None else ("shade.loss", {"face": face})
    if ends["low"] == ends["high"]:
        return language.say(f"{key}_known", share=value, **named)
    return language.say(key, share=value, **named, **ends)


def _sentences(language: Language, face: FaceDesign, loss: FaceShade) -> Iterator[str]:
    yield loss_in_words(language, face.face.name, loss)
    if loss.modules:
        worst = max(loss.modules, key=lambda each: each.loss_share)
        yield language.say("shade.most", worst=language.number(worst.module_number), most=percent(language, worst.loss_share))
    if face.positions is not None and face.positions.not_paying:
        yield frames_in_words(language, len(face.positions.not_paying))
        if len(face.positions.not_paying) < len(face.positions.modules):
            whole_kwh = sum(each.delivered_kwh for each in face.positions.modules)
            kept, whole = (language.number(each) for each in (face.positions.kept_delivered_kwh, whole_kwh))
            yield language.say("shade.without_them", face=face.face.name, kept=kept, whole=whole)


def modules_table(language: Language, face: FaceDesign, modules: tuple[ModuleShade, ...]) -> Table:
    """Loss of each module with its place and its worst month; of many modules those that lose most."""
    name, listed = face.face.name, modules
    caption = language.say("shade.table", face=name)
    if len(modules) > MODULES_LISTED:
        by_loss = sorted(modules, key=lambda each: -each.loss_share)
        listed, most = tuple(by_loss[:MODULES_LISTED]), percent(language, by_loss[MODULES_LISTED].loss_share)
        caption = language.say("shade.table_most", count=language.number(MODULES_LISTED), face=name, most=most)
    placed = () if face.layout is None else face.layout.arrangement.modules
    in_rows = {(each.x_m, each.y_m): (each.row, each.column) for each in placed}
    not_paying = left_out(face)
    rows = (
        Row((
            language.number(each.module_number),
            _place(language, each, in_rows.get((each.x_m, each.y_m))),
            language.number(each.loss_kwh),
            percent(language, each.loss_share),
            language.month(int(each.loss_kwh_by_month.argmax()) + 1) if each.loss_kwh >= 0.5 else "–",
            *((language.say("sheet.no" if each.module_number in not_paying else "sheet.yes"),) if not_paying else ()),
        ))
        for each in listed
    )  # fmt: skip
    numeric = ("kwh", "percent")
    keys = ("module", "place", *numeric, "month", *(("pays",) if not_paying else ()))
    heads = ((language.say(f"shade.{key}"), key in numeric) for key in keys)
    return Table.of(caption, heads, rows)


def _place(language: Language, module: ModuleShade, in_row: tuple[int, int] | None) -> str:
    if in_row is not None:
        return language.say("shade.in_row", row=language.number(in_row[0]), column=language.number(in_row[1]))
    return language.say("shade.at", x=language.length(module.x_m), y=language.length(module.y_m))

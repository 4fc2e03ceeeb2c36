"""The charts of a design's sheet: sums over the roof, and the choice of the pairings and faces that are drawn."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.design.design import Design, FaceDesign
from wattpair_service.engineering.energy.clipping import FaceClipping, PairingClipping
from wattpair_service.engineering.energy.energy_balance import EnergyBalance, total
from wattpair_service.engineering.roof.layout import LayoutResult
from wattpair_service.engineering.roof.outline import Polygon
from wattpair_service.engineering.selection.break_even import BreakEven
from wattpair_service.engineering.sentences import family
from wattpair_service.report.charts.break_even import break_even, in_words
from wattpair_service.report.charts.circuits import circuits
from wattpair_service.report.charts.drawing import Pen
from wattpair_service.report.charts.duration import CURVES_MOST, FaceCurve, UnitLimit, duration
from wattpair_service.report.charts.losses import Step, losses
from wattpair_service.report.charts.months import months
from wattpair_service.report.charts.roof import roof
from wattpair_service.report.charts.roof_plan import scale_px_m
from wattpair_service.report.charts.year import year
from wattpair_service.report.sections.advice import built_candidate
from wattpair_service.report.sections.drawing import Drawing
from wattpair_service.report.sections.shade import MappedFace, ShadedFace, mapped_faces, shaded_faces
from wattpair_service.report.table import Row, Table
from wattpair_service.words.language import Language

BALANCE = tuple(each.name for each in fields(EnergyBalance))
AVAILABLE = BALANCE.index("available_kwh")
SHADE_LOSSES, UNIT_LOSSES = BALANCE[1:AVAILABLE], BALANCE[AVAILABLE + 1 : -1]
"""Losses before the modules' available energy, and those from it to the units' output."""
WHERE_ANY = frozenset({*SHADE_LOSSES, "tracker_kwh"})
"""Losses that most designs do not have: they are drawn where there is one."""
LEAST_KWH = 0.05
"""Of a loss that is drawn: less of it would be printed as zero."""
family("losses", (*SHADE_LOSSES, *UNIT_LOSSES))
PAIRS_MOST, FACES_MOST, CUSTOMER_FACES_MOST = 2, 6, 2
"""Most break-even curves and faces that are drawn, and most faces on the customer's page, so that the sheet stays short."""


@dataclass(frozen=True, slots=True)
class _Built:
    """The faces with the built module, and on each the pairing with the built microinverter.

    `kept` is the share of the units' energy that arrives at the meter.
    """

    faces: tuple[FaceClipping, ...]
    pairings: tuple[PairingClipping, ...]
    kept: float

    @property
    def balance(self) -> EnergyBalance:
        """Energy balance of the whole roof over the year."""
        return total([each.per_module.year.scaled(face.module_count) for face, each in self._faces_and_pairings()])

    def by_month(self) -> list[EnergyBalance]:
        """Energy balances of the whole roof, January to December."""
        return [
            total([each.per_module.months[month].scaled(face.module_count) for face, each in self._faces_and_pairings()])
            for month in range(12)
        ]

    def at_meter_by_month(self) -> list[float]:
        """Energy at the meter in each month [kWh]."""
        return [each.delivered_kwh * self.kept for each in self.by_month()]

    def clipped_kwh(self) -> FloatArray:
        """Clipped energy of the whole roof by month and hour, of shape (12, 24)."""
        return np.asarray(
            sum(each.per_module.clipped_kwh_by_month_hour * face.module_count for face, each in self._faces_and_pairings())
        )

    def _faces_and_pairings(self) -> list[tuple[FaceClipping, PairingClipping]]:
        return list(zip(self.faces, self.pairings, strict=True))


@dataclass(frozen=True, slots=True)
class Drawings:
    """All charts of a sheet; those that a design lacks are empty. `customer` has those of the customer's page."""

    customer: tuple[Drawing, ...]
    year: tuple[Drawing, ...]
    break_even: tuple[Drawing, ...]
    roof: tuple[Drawing, ...]
    shade: tuple[ShadedFace, ...]
    circuits: tuple[Drawing, ...]
    figures: tuple[Table, ...]
    not_drawn: tuple[str, ...]


def drawings(design: Design, language: Language, accent: str) -> Drawings:
    """The charts of a design; without a built pairing there are none of energy."""
    built = _built(design)
    laid_out = [each for each in design.faces if each.outline and each.layout][:FACES_MOST]
    drawn = {each.face.name for each in laid_out} | {each.name for each in mapped_faces(design) if each is not None}
    return Drawings(
        customer=tuple(_for_the_customer(design, built, language, accent)),
        year=() if built is None else tuple(_year(design, built, language, accent)),
        break_even=() if built is None else tuple(_break_evens(design, language, accent)),
        roof=tuple(_roofs(laid_out, language, accent)),
        shade=shaded_faces(design, language, accent),
        circuits=tuple(_circuits(design, language, accent)),
        figures=() if built is None else (_months(built, language), _steps_in_words(_steps(design, built), language)),
        not_drawn=tuple(each.face.name for each in design.faces if each.face.name not in drawn),
    )


def _for_the_customer(design: Design, built: _Built | None, language: Language, accent: str) -> Iterator[Drawing]:
    """The year by month, and the first faces with their modules; where shade differs between them, with what it takes."""
    if built is not None:
        available = [each.available_kwh for each in built.by_month()]
        chart = months(Pen("months", accent), language, built.at_meter_by_month(), available)
        yield Drawing(language.say("months.title"), chart)
    shown: list[FaceDesign | MappedFace] = [
        mapped or face
        for face, mapped in zip(design.faces, mapped_faces(design), strict=True)
        if mapped is not None or (face.outline and face.layout)
    ][:CUSTOMER_FACES_MOST]
    px_per_m = scale_px_m([_extent(each) for each in shown]) if shown else 1.0
    for number, face in enumerate(shown, start=1):
        pen = Pen(f"roof-{number}", accent)
        if isinstance(face, MappedFace):
            yield face.drawing(pen, language, px_per_m)
        else:
            yield from _roof(pen, face, language, px_per_m, with_units=False)


def _extent(face: FaceDesign | MappedFace) -> Polygon:
    """What the drawing of a face shows."""
    if isinstance(face, MappedFace):
        return face.extent
    assert face.outline is not None, "a face that is drawn has its outline"
    return face.outline.outline


def _built(design: Design) -> _Built | None:
    clipping, candidate = design.clipping, built_candidate(design)
    if clipping is None or design.unit is None or candidate is None or candidate.energy is None:
        return None
    index = [each.microinverter for each in clipping.totals].index(candidate.microinverter)
    delivered_kwh = candidate.energy.first_year.delivered_kwh
    kept = candidate.energy.at_meter_kwh / delivered_kwh if delivered_kwh > 0.0 else 1.0
    return _Built(clipping.faces, tuple(face.pairings[index] for face in clipping.faces), kept)


def _year(design: Design, built: _Built, language: Language, accent: str) -> Iterator[Drawing]:
    yield Drawing(language.say("year.title"), year(Pen("year", accent), language, built.clipped_kwh()))
    shares = (language.say("losses.shares"),)
    yield Drawing(language.say("losses.title"), losses(Pen("losses", accent), language, _steps(design, built)), shares)
    yield _duration(design, built, language, accent)


def _duration(design: Design, built: _Built, language: Language, accent: str) -> Drawing:
    assert design.unit is not None, "something is built"
    chosen = design.unit.microinverter.name
    curves = [
        FaceCurve(face.face, each.per_module.duration.ac_power_w, each.per_module.duration.hours_h)
        for face, each in zip(built.faces, built.pairings, strict=True)
    ]
    passing = {each.microinverter for each in built.faces[0].pairings}
    limits = [
        UnitLimit(name, each.microinverter.per_module(design.request.input_wiring).ac_power_w, name == chosen)
        for each in design.request.units
        if (name := each.microinverter.name) in passing
    ]
    note = (language.say("duration.first_faces", count=CURVES_MOST),) if len(curves) > CURVES_MOST else ()
    return Drawing(language.say("duration.title"), duration(Pen("duration", accent), language, curves, limits), note)


def _roofs(laid_out: list[FaceDesign], language: Language, accent: str) -> Iterator[Drawing]:
    """The faces with their microinverters, all drawn to one scale."""
    px_per_m = scale_px_m([_extent(each) for each in laid_out]) if laid_out else 1.0
    for number, face in enumerate(laid_out, start=1):
        yield from _roof(Pen(f"units-{number}", accent), face, language, px_per_m, with_units=True)


def _roof(pen: Pen, face: FaceDesign, language: Language, px_per_m: float, *, with_units: bool) -> Iterator[Drawing]:
    """A face with its microinverters or only its modules; nothing without a layout."""
    if face.outline is None or face.layout is None:
        return
    units = face.units if with_units else ()
    chart = roof(pen, language, face.face, face.outline, face.layout, px_per_m, units)
    notes = _setting_out(face.layout, language) if with_units else ()
    yield Drawing(language.say("roof.title", face=face.face.name), chart, notes)


def _setting_out(result: LayoutResult, language: Language) -> tuple[str, ...]:
    """Where the first module lies, and what the numbers mean."""
    arranged, first = result.arrangement, result.arrangement.modules[0]
    size = {"width": language.length(arranged.module_width_m), "height": language.length(arranged.module_height_m)}
    return (language.say("roof.setting_out", x=language.length(first.x_m), y=language.length(first.y_m), **size),)


def _circuits(design: Design, language: Language, accent: str) -> Iterator[Drawing]:
    """The circuits of the whole roof."""
    if design.circuits is not None:
        yield Drawing(language.say("circuits.title"), circuits(Pen("circuits", accent), language, design.circuits))


def _break_evens(design: Design, language: Language, accent: str) -> Iterator[Drawing]:
    module, unit = design.module.module, design.unit
    chosen = unit and unit.microinverter.name
    pairs = [
        each for each in design.selection.break_evens if each.module == module.name and chosen in (each.smaller, each.larger)
    ]
    for number, pair in enumerate(pairs[:PAIRS_MOST], start=1):
        chart = break_even(Pen(f"break-even-{number}", accent), language, pair, design.currency, module.power_w)
        title = language.say("break_even.title", larger=pair.larger, smaller=pair.smaller)
        yield Drawing(title, chart, tuple(_pair_notes(pair, language, design.currency)))


def _pair_notes(pair: BreakEven, language: Language, currency: str | None) -> Iterator[str]:
    roof = pair.places[0]
    yield in_words(language, pair, roof.power)
    gap = roof.price_gap
    value, low, high = language.estimates((gap.value, gap.low, gap.high), currency)
    current = language.money(abs(gap.asked), currency)
    names = {"larger": pair.larger, "smaller": pair.smaller}
    yield language.say(
        f"break_even.price_gap{'_less' if gap.asked < 0.0 else ''}", value=value, low=low, high=high, asked=current, **names
    )


def _steps(design: Design, built: _Built) -> list[Step]:
    """Energy left after each step [kWh]; irradiation counts at the module's rated efficiency."""
    kilowatts = design.module.module.power_w / 1000.0
    incident, effective = (
        sum(getattr(face.irradiation, name) * face.module_count * kilowatts for face in built.faces)
        for name in ("poa_kwh_m2", "effective_irradiation_kwh_m2")
    )
    balance = built.balance
    surface = "surface_and_shading" if any(each.face.shading_share > 0.0 for each in design.faces) else "surface"
    steps = [Step("irradiation", incident, True), Step(surface, effective, False), Step("heat", balance.unshaded_kwh, False)]
    if balance.shade_mismatch_kwh >= LEAST_KWH:
        steps += _after(balance, SHADE_LOSSES, balance.unshaded_kwh)
    elif balance.unshaded_kwh - balance.available_kwh >= LEAST_KWH:
        # Cooler modules give a little more than in proportion to what is left: no loss to be told apart.
        steps.append(Step("shade_irradiance_kwh", balance.available_kwh, False))
    steps.append(Step("available", balance.available_kwh, True))
    steps += _after(balance, UNIT_LOSSES, balance.available_kwh)
    at_meter_kwh = balance.delivered_kwh * built.kept
    return [*steps, Step("system", at_meter_kwh, False), Step("delivered", at_meter_kwh, True)]


def _after(balance: EnergyBalance, names: Iterable[str], left_kwh: float) -> Iterator[Step]:
    """The energy left after each of these losses."""
    for name in names:
        loss_kwh = getattr(balance, name)
        left_kwh -= loss_kwh
        if name not in WHERE_ANY or abs(loss_kwh) >= LEAST_KWH:
            yield Step(name, left_kwh, False)


def _steps_in_words(steps: list[Step], language: Language) -> Table:
    """The losses as figures, for those who do not see the chart."""
    rows, before = [], steps[0].left_kwh
    for step in steps:
        figure = step.left_kwh if step.is_level else step.left_kwh - before
        rows.append(Row((language.say(f"losses.{step.key}"), language.number(figure, 1))))
        before = step.left_kwh
    heads = ((language.say("losses.step"), False), ("kWh", True))
    return Table.of(f"{language.say('losses.title')}; kWh", heads, rows)


def _months(built: _Built, language: Language) -> Table:
    """Energy and clipping by month as figures, for those who do not see the charts."""
    clipped, rows = built.clipped_kwh().sum(axis=1), []
    for index, (each, at_meter_kwh) in enumerate(zip(built.by_month(), built.at_meter_by_month(), strict=True)):
        figures = (at_meter_kwh, each.available_kwh - at_meter_kwh, float(clipped[index]))
        rows.append(Row((language.month(index + 1), *(language.number(figure, 1) for figure in figures))))
    keys = ("months.month", "months.delivered", "months.lost", "losses.clipping_kwh")
    heads = ((language.say(key), key != "months.month") for key in keys)
    return Table.of(f"{language.say('months.title')}; {language.say('year.figures')}; kWh", heads, rows)

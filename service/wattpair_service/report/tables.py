"""The tables and lists of the sheet: candidates, faces, parts, documents and assumptions."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from itertools import zip_longest

import numpy as np

from wattpair_service.engineering.design.design import Design
from wattpair_service.engineering.materials.bill_lines import DOCUMENT_ROLES, BillLine
from wattpair_service.engineering.money.prices import PricedLine
from wattpair_service.engineering.selection.candidates import Candidate
from wattpair_service.report.advice import checks_in_words
from wattpair_service.report.figures import clipped_range
from wattpair_service.report.language import Language

COMPASS_POINTS = ("n", "ne", "e", "se", "s", "sw", "w", "nw")
WITHHELD = frozenset(
    {
        *("markup_percent", "tax_percent", "currency", "currency_decimals", "break_even_pairs"),
        *("trunk_phase_count", "circuits_together", "system_cable_length_m", "earthing", "residual_current_device_asked"),
        *("busbar_fed_at_opposite_end", "plug_in", "units_coupled", "conductor_temp_c", "method", "ambient_c", "trunk_feed"),
        *("continuous_current_factor", "circuits_may_cross_faces", "face_crossing_m", "conductor_table", "trunk_size"),
        *("ac_phase_count", "wiring", "edge_kinds", "gateway_units_max", "current_transformer_secondary_a"),
        *("rails_per_row", "rail_length_m", "rail_overhang_m", "offcuts_reused", "attachment_spacing_max_m"),
        *("rail_cantilever_max_m", "screws_per_attachment", "flashings_per_attachment", "unit_fixings_per_unit"),
        *("bonding_jumpers", "earth_lugs", "bonding_conductor_size", "cable_clips_per_module", "roof_entries_per_circuit"),
        *("module_lead_length_m", "drop_spacings_portrait_m", "drop_spacings_landscape_m", "sold_by_length"),
        *("disconnect_tools", "cable_allowance_share", "surge_protection", "generation_meter"),
    }
)
"""Assumptions that the customer does not see: prices of the company, options of the result, terms of electrician and roofer."""


@dataclass(frozen=True, slots=True)
class CandidateRow:
    """One candidate, in words."""

    rank: str
    name: str
    limit: str
    energy: str
    clipped: str
    cut: str
    price: str
    value: str
    verdict: str
    chosen: bool


def candidates(design: Design, language: Language) -> tuple[CandidateRow, ...]:
    """The candidates by rank, then those that fail."""
    ordered = sorted(design.selection.candidates, key=lambda each: (each.rank is None, each.rank or 0))
    shared = _shared_caution_checks(design)
    return tuple(_candidate(design, language, each, shared) for each in ordered)


def shared_cautions(design: Design, language: Language) -> str | None:
    """The checks that every candidate passes with a caution; the rows leave them out."""
    shared = _shared_caution_checks(design)
    if not shared:
        return None
    return language.say("choice.shared", checks=", ".join(language.say(f"check.{name}") for name in shared))


def _shared_caution_checks(design: Design) -> tuple[str, ...]:
    passing = [each for each in design.selection.candidates if each.rank is not None]
    if len(passing) < 2:
        return ()
    names = [[check.name for check in each.reasons if check.verdict == "caution"] for each in passing]
    return tuple(name for name in dict.fromkeys(names[0]) if all(name in others for others in names))


def _candidate(design: Design, language: Language, each: Candidate, shared: tuple[str, ...]) -> CandidateRow:
    built = design.built.pairing
    on_built = each.module == design.module.module.name
    clipped = clipped_range(design, each.microinverter) if on_built else None
    unit = next(offer.microinverter for offer in design.request.units if offer.microinverter.name == each.microinverter)
    verdict = language.say(f"choice.{each.verdict}")
    if each.verdict != "ok":
        failing = tuple(
            check
            for check in each.reasons
            if check.verdict == each.verdict and (each.verdict == "fail" or check.name not in shared)
        )
        verdict = f"{verdict}: {checks_in_words(language, failing)}" if failing else verdict
    return CandidateRow(
        rank="–" if each.rank is None else str(each.rank),
        name=each.microinverter if len(design.request.modules) == 1 else f"{each.microinverter}, {each.module}",
        limit=language.number(unit.per_module(design.request.input_wiring).ac_power_w),
        energy="–" if each.energy is None else language.number(each.energy.first_year.delivered_kwh),
        clipped="–"
        if clipped is None
        else language.say(
            "choice.range",
            value=language.percent(clipped.value, 2),
            low=language.number(clipped.low * 100.0, 2),
            high=language.number(clipped.high * 100.0, 2),
        ),
        cut="–" if each.energy is None else language.number(each.energy.cut_kwh),
        price="–" if each.money is None else language.money(each.money.units_price, design.currency),
        value="–" if each.money is None else language.whole_money(each.money.net_present_value, design.currency),
        verdict=verdict,
        chosen=built is not None and (each.module, each.microinverter) == (built.module, built.microinverter),
    )


@dataclass(frozen=True, slots=True)
class FaceRow:
    """One face, in words."""

    name: str
    azimuth: str
    tilt: str
    modules: str
    irradiation: str
    mass: str


def faces(design: Design, language: Language) -> Iterator[FaceRow]:
    """The faces, in the order of the request."""
    masses = () if design.bill_of_materials is None else design.bill_of_materials.masses
    for each, face_climate, mass in zip_longest(design.faces, design.climate.faces, masses):
        point = COMPASS_POINTS[round(each.face.azimuth_deg / 45.0) % 8]
        poa = face_climate.poa_kwh_m2
        poa_range = {"value": poa.value, "low": poa.low, "high": poa.high}
        yield FaceRow(
            name=each.face.name,
            azimuth=f"{language.say(f'roof.compass_{point}')}, {language.general(each.face.azimuth_deg)}°",
            tilt=f"{language.general(each.face.tilt_deg)}°",
            modules=language.number(each.face.module_count),
            irradiation=language.say("choice.range", **{name: language.number(figure) for name, figure in poa_range.items()}),
            mass="–" if mass is None else language.number(mass.mass_kg),
        )


@dataclass(frozen=True, slots=True)
class PartRow:
    """Parts of one kind, over all faces and circuits."""

    part: str
    detail: str
    quantity: str
    each: str
    net: str


def parts(design: Design, language: Language) -> tuple[PartRow, ...]:
    """The parts to buy; lines of the same part at the same price are one row."""
    bill = design.bill_of_materials
    if bill is None:
        return ()
    priced: Iterable[PricedLine | None] = bill.prices.lines if bill.prices else [None] * len(bill.lines)
    rows: dict[tuple[str, str | None, str, Decimal | None], tuple[int, Decimal | None]] = {}
    for line, price in zip(bill.lines, priced, strict=True):
        if line.role in DOCUMENT_ROLES:
            continue
        each, net = (None, None) if price is None else (price.unit_price, price.net)
        key = (line.role, line.specification, line.unit, each)
        count, sum_net = rows.get(key, (0, None))
        rows[key] = (count + line.quantity, net if sum_net is None or net is None else sum_net + net)
    currency = bill.prices.currency if bill.prices else None
    names = {"module": design.module.module.name, "microinverter": design.unit.microinverter.name if design.unit else None}

    def money(amount: Decimal | None) -> str:
        return "–" if amount is None else language.money(amount, currency)

    return tuple(
        PartRow(
            language.say(f"role.{role}"),
            language.engine(detail) if detail else names.get(role) or "",
            language.say(f"bill.{unit}", count=language.number(count)),
            money(each),
            money(net),
        )
        for (role, detail, unit, each), (count, net) in rows.items()
    )


def sums(design: Design, language: Language) -> tuple[tuple[str, str], ...]:
    """Net, tax and total of the parts; empty without prices."""
    prices = design.bill_of_materials and design.bill_of_materials.prices
    if not prices:
        return ()
    percent = language.percent(prices.tax_percent / 100, 0 if prices.tax_percent == int(prices.tax_percent) else 1)
    named = (("sum", prices.net), ("tax", prices.tax), ("total", prices.total))
    return tuple((language.say(f"bill.{key}", percent=percent), language.money(sum_, prices.currency)) for key, sum_ in named)


def documents(design: Design, language: Language) -> tuple[str, ...]:
    """Documents to write; those for the network operator with the time when they are due."""
    if design.bill_of_materials is None:
        return ()
    due = {each.document: each.when for each in design.bill_of_materials.connection.filings}
    lines: list[BillLine] = [line for line in design.bill_of_materials.lines if line.role in DOCUMENT_ROLES]
    return tuple(dict.fromkeys(_document(language, line.specification or line.role, due) for line in lines))


def _document(language: Language, document: str, due: dict[str, str]) -> str:
    name = language.engine(document)
    when = due.get(document)
    return name if when is None else language.say("circuits.when", document=name, when=language.engine(when))


def assumptions(design: Design, language: Language) -> tuple[tuple[str, str], ...]:
    """Assumptions grouped by source: each source with all its figures in one text."""
    by_source: dict[str, dict[str, None]] = {}
    for each in design.assumptions:
        key = _key(each.name)
        if key not in WITHHELD:
            by_source.setdefault(language.engine(each.source), {})[_entry(language, key, each.value, each.unit)] = None
    return tuple((source, "; ".join(entries)) for source, entries in by_source.items())


def _key(name: str) -> str:
    """The last name in a path."""
    return next(step for step in reversed(re.split(r"[./]", name)) if not step.isdigit())


def _entry(language: Language, key: str, figure: object, unit: str | None) -> str:
    """One figure: its name, its value and its unit."""
    name = language.words.get(f"name.{key}", key)
    value = _value(language, figure)
    if value is None:
        return name
    unit_text = "" if unit in (None, "1") else f" {UNITS.get(unit or '', unit)}"
    return language.engine(f"{name}: {value}{unit_text}")


def request_figures(design: Design, language: Language) -> str:
    """The figures of the request that determine value and energy, in one text. Assumed ones are left out."""
    request, currency = design.request, design.currency
    terms, tariff, home = request.terms, request.tariff, request.home_use
    assumed = {_key(each.name) for each in design.assumptions}
    entries: list[tuple[str, object, str | None]] = []
    if tariff is not None:
        entries.append(("import_price_per_kwh", tariff.import_price_per_kwh, f"{currency or ''}/kWh".strip()))
        entries.append(("export_price_per_kwh", tariff.export_price_per_kwh, f"{currency or ''}/kWh".strip()))
        entries.append(("price_change_percent_per_year", tariff.change_share_per_year * 100.0, "%"))
    if home.share_used_at_home is not None:
        entries.append(("share_used_at_home", home.share_used_at_home * 100.0, "%"))
    if home.load_w is not None:
        entries.append(("load_w", float(np.mean(home.load_w)), "W"))
    if home.export_limit_w is not None:
        entries.append(("export_limit_w", home.export_limit_w, "W"))
    entries.append(("discount_rate_percent", terms.discount_rate * 100.0, "%"))
    entries.append(("horizon_years", terms.horizon_years, None))
    entries.append(("degradation_percent_per_year", terms.degradation_share_per_year * 100.0, "%"))
    if terms.failure_share_per_year is not None:
        entries.append(("failure_percent_per_year", terms.failure_share_per_year * 100.0, "%"))
    entries.append(("labour_per_visit", terms.labour_per_visit, currency))
    entries.append(("maintenance_per_year", terms.maintenance_per_year, currency))
    entries.append(("other_cost", terms.other_cost, currency))
    if design.module.price is not None:
        entries.append(("module_price", design.module.price, currency))
    return "; ".join(_entry(language, *each) for each in entries if each[0] not in assumed)


UNITS = {"degC": "°C", "kg/m2": "kg/m²"}


def _value(language: Language, value: object) -> str | None:
    """An assumed value as text; None where its source alone is enough."""
    if value is None:
        return None
    if isinstance(value, bool):
        return language.say("sheet.yes" if value else "sheet.no")
    if isinstance(value, int | float | Decimal):
        return language.general(float(value))
    if isinstance(value, dict):
        return _value(language, value.get("kind"))
    if isinstance(value, list | tuple):
        return ", ".join(filter(None, (_value(language, each) for each in value))) or language.say("sheet.none")
    return language.words.get(f"value.{value}") or language.engine(str(value))

"""Tables and lists of the sheet: candidates, faces, the order, documents and assumptions."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal
from itertools import zip_longest

import numpy as np

from wattpair_service.engineering.design.design import Design
from wattpair_service.engineering.inverter.electrical_checks import VERDICTS
from wattpair_service.engineering.materials.bill_lines import DOCUMENT_ROLES, ROLES
from wattpair_service.engineering.money.prices import PricedLine
from wattpair_service.engineering.results import Range
from wattpair_service.engineering.selection.candidates import Candidate
from wattpair_service.engineering.sentences import Words, family
from wattpair_service.report.compass import name_of
from wattpair_service.report.sections.advice import checks_in_words
from wattpair_service.report.sections.figures import clipped_range
from wattpair_service.report.table import Row, Table
from wattpair_service.words.language import MEASURED, Language

family("choice", VERDICTS)
WITHHELD = frozenset({"markup_percent", "tax_percent", "currency", "currency_decimals", "break_even_pairs", "unpriced_roles"})
"""Assumptions that nobody reads on a sheet: the company's own prices, and options of the result."""


COLUMNS = ("unit", "rank", "limit", "energy", "clipped", "cut", "price", "value", "verdict")
"""Of the candidates' table."""
FIGURES = frozenset({"limit", "energy", "clipped", "cut", "price", "value"})
"""Those of them that hold figures."""


def candidates(design: Design, language: Language) -> Table:
    """The candidates by rank, then those that fail."""
    ordered = sorted(design.selection.candidates, key=lambda each: (each.rank is None, each.rank or 0))
    shown = [column for column in COLUMNS if column != "cut" or design.selection.export_limit is not None]
    built, shared = design.built.pairing, _shared_caution_checks(design)
    rows = []
    for each in ordered:
        cells = dict(zip(COLUMNS, _candidate(design, language, each, shared), strict=True))
        is_built = built is not None and (each.module, each.microinverter) == (built.module, built.microinverter)
        rows.append(Row(tuple(cells[column] for column in shown), "chosen" if is_built else ""))
    caption = language.say("choice.caption" if built else "choice.caption_none")
    return Table.of(caption, ((language.say(f"choice.{column}"), column in FIGURES) for column in shown), rows)


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


def _candidate(design: Design, language: Language, each: Candidate, shared: tuple[str, ...]) -> tuple[str, ...]:
    """A cell for each of `COLUMNS`."""
    on_built = each.module == design.module.module.name
    clipped = clipped_range(design, each.microinverter) if on_built else None
    unit = next(offer.microinverter for offer in design.request.units if offer.microinverter.name == each.microinverter)
    return (
        each.microinverter if len(design.request.modules) == 1 else f"{each.microinverter}, {each.module}",
        "–" if each.rank is None else str(each.rank),
        language.number(unit.per_module(design.request.input_wiring).ac_power_w),
        "–" if each.energy is None else language.number(each.energy.at_meter_kwh),
        "–" if clipped is None else _range_of_percent(language, clipped),
        "–" if each.energy is None else language.number(each.energy.cut_kwh),
        "–" if each.money is None else language.money(each.money.units_price, design.currency),
        "–" if each.money is None else language.whole_money(each.money.net_present_value, design.currency),
        _verdict(language, each, shared),
    )


def _range_of_percent(language: Language, share: Range) -> str:
    ends = {"low": language.number(share.low * 100.0, 2), "high": language.number(share.high * 100.0, 2)}
    return language.say("choice.range", value=language.percent(share.value, 2), **ends)


def _verdict(language: Language, each: Candidate, shared: tuple[str, ...]) -> str:
    verdict = language.say(f"choice.{each.verdict}")
    if each.verdict != "ok":
        telling = tuple(
            check
            for check in each.reasons
            if check.verdict == each.verdict and (each.verdict == "fail" or check.name not in shared)
        )
        verdict = f"{verdict}: {checks_in_words(language, telling)}" if telling else verdict
    if each.system.obstacle is not None and each.rank is not None:
        verdict = f"{verdict}; {language.say(f'choice.circuits_{each.system.obstacle.kind}')}"
    return verdict


def faces(design: Design, language: Language) -> Table:
    """The faces, in the order of the request."""
    masses = () if design.bill_of_materials is None else design.bill_of_materials.masses
    rows = []
    for each, face_climate, mass in zip_longest(design.faces, design.climate.faces, masses):
        poa = face_climate.poa_kwh_m2
        poa_range = {"value": poa.value, "low": poa.low, "high": poa.high}
        cells = (
            each.face.name,
            f"{name_of(language, each.face.azimuth_deg)}, {language.general(each.face.azimuth_deg)}°",
            f"{language.general(each.face.tilt_deg)}°",
            language.number(each.face.module_count),
            language.say("choice.range", **{name: language.number(figure) for name, figure in poa_range.items()}),
            "–" if mass is None else language.mass(mass.mass_kg),
        )
        rows.append(Row(cells))
    keys = ("face", "azimuth", "tilt", "modules", "irradiation", "mass")
    heads = ((language.say(f"roof.{key}"), key not in ("face", "azimuth")) for key in keys)
    return Table.of(language.say("roof.caption"), heads, rows)


def parts(design: Design, language: Language) -> Table | None:
    """The order by role: the same part at the same price is one row; with prices their sums. None where nothing is built."""
    bill = design.bill_of_materials
    if bill is None:
        return None
    priced: Iterable[PricedLine | None] = bill.prices.lines if bill.prices else [None] * len(bill.lines)
    rows: dict[tuple[str, Words | str | None, str, Decimal | None], tuple[int, Decimal | None]] = {}
    for line, price in zip(bill.lines, priced, strict=True):
        if line.role in DOCUMENT_ROLES:
            continue
        each, net = (None, None) if price is None else (price.unit_price, price.net)
        key = (line.role, line.detail or line.specification, line.unit, each)
        count, sum_net = rows.get(key, (0, None))
        rows[key] = (count + line.quantity, net if sum_net is None or net is None else sum_net + net)
    currency = bill.prices.currency if bill.prices else None

    def money(amount: Decimal | None) -> str:
        return "–" if amount is None else language.money(amount, currency)

    def row(role: str, detail: Words | str | None, unit: str, each: Decimal | None, count: int, net: Decimal | None) -> Row:
        name = _detail(language, detail) if detail else ""
        amount = language.ordered_length(count) if unit == "m" else language.number(count)
        for_one = money(each) + ("/m" if unit == "m" and each is not None else "")
        prices = (for_one, money(net)) if bill.prices else ()
        return Row((language.say(f"role.{role}"), name, amount, *prices))

    keys = ("part", "detail", "quantity", *(("each", "net") if bill.prices else ()))
    blank = ("", "", "")
    return Table.of(
        language.say("bill.caption"),
        ((language.say(f"bill.{key}"), key in ("quantity", "each", "net")) for key in keys),
        (
            *(row(*key, *sums_) for key, sums_ in sorted(rows.items(), key=lambda each: ROLES.index(each[0][0]))),
            *(Row((name, *blank, value), "sum") for name, value in sums(design, language)),
        ),
    )


def _detail(language: Language, detail: Words | str) -> str:
    return size(language, detail if isinstance(detail, str) else language.write(detail))


def size(language: Language, text: str) -> str:
    """A text in which the size of a conductor stands as people write it."""
    return SIZE.sub(lambda metric: f"{language.general(float(metric[1]))}\u00a0mm²", text)


def sums(design: Design, language: Language) -> tuple[tuple[str, str], ...]:
    """Net, tax and total of the parts; where some have no price the sum of the others alone, and nothing without prices."""
    prices = design.bill_of_materials and design.bill_of_materials.prices
    if not prices:
        return ()
    if not prices.complete:
        return ((language.say("bill.part_sum", missing=len(prices.missing)), language.money(prices.net, prices.currency)),)
    percent = language.percent(prices.tax_percent / 100, 0 if prices.tax_percent == int(prices.tax_percent) else 1)
    named = (("sum", prices.net), ("tax", prices.tax), ("total", prices.total))
    return tuple((language.say(f"bill.{key}", percent=percent), language.money(sum_, prices.currency)) for key, sum_ in named)


def planned_documents(design: Design, role: str = "commissioning_document") -> tuple[Words, ...]:
    """Documents of a role, each once; none where nothing is built."""
    lines = () if design.bill_of_materials is None else design.bill_of_materials.lines
    return tuple(dict.fromkeys(line.detail for line in lines if line.role == role and line.detail is not None))


def documents(design: Design, language: Language) -> tuple[str, ...]:
    """All documents to write; those for the network operator with the time when they are due."""
    filings = () if design.bill_of_materials is None else design.bill_of_materials.connection.filings
    due: dict[Words, Words] = {each.document: each.when for each in filings}
    found = dict.fromkeys(each for role in DOCUMENT_ROLES for each in planned_documents(design, role))
    return tuple(
        language.say("circuits.when", document=each, when=due[each]) if each in due else language.write(each) for each in found
    )


def assumptions(design: Design, language: Language) -> tuple[tuple[str, str], ...]:
    """Assumptions grouped by source: each source with all its figures in one text."""
    by_source: dict[str, dict[str, None]] = {}
    for each in design.assumptions:
        key = _key(each.name)
        if key not in WITHHELD:
            by_source.setdefault(language.write(each.source), {})[_entry(language, key, each.value, each.unit)] = None
    return tuple((source, "; ".join(entries)) for source, entries in by_source.items())


def _key(name: str) -> str:
    """The last name in a path."""
    return next(step for step in reversed(re.split(r"[./]", name)) if not step.isdigit())


def _entry(language: Language, key: str, figure: object, unit: str | None) -> str:
    """One figure: its name, its value and its unit."""
    name = language.known(f"name.{key}") or key
    if unit in MEASURED and isinstance(figure, int | float):
        return f"{name}: {language.measured(figure, unit)}"
    value = _value(language, figure)
    if value is None:
        return name
    unit_text = "" if unit in (None, "1") else f" {UNITS.get(unit or '', unit)}"
    return language.text(f"{name}: {value}{unit_text}")


def request_figures(design: Design, language: Language) -> str:
    """The figures of the request that determine value and energy, in one text. Assumed ones are left out."""
    request, currency = design.request, design.currency
    terms, tariff, home = request.terms, request.tariff, request.home_use
    assumed = {_key(each.name) for each in design.assumptions}
    entries: list[tuple[str, object, str | None]] = []
    if tariff is not None:
        for key in ("import_price_per_kwh", "export_price_per_kwh"):
            prices = np.unique(getattr(tariff, key)).tolist()
            ends = [language.general(each) for each in (prices[0], prices[-1])]
            by_hour = language.say("assumption.by_hour", low=ends[0], high=ends[1])
            entries.append((key, prices[0] if len(prices) == 1 else by_hour, f"{currency or ''}/kWh".strip()))
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
    if terms.other_cost is not None:
        entries.append(("other_cost", terms.other_cost, currency))
    if design.module.price is not None:
        entries.append(("module_price", design.module.price, currency))
    return "; ".join(_entry(language, *each) for each in entries if each[0] not in assumed)


SIZE = re.compile(r"([\d.]+) mm2")
UNITS = {"degC": "°C"}


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
    return language.known(f"value.{value}") or str(value)

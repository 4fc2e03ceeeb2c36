"""What the sheet says of string inverters: one comparison for the customer, all of them for the installer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from wattpair_service.engineering.design.design import Design
from wattpair_service.engineering.inverter.electrical_checks import ElectricalCheck
from wattpair_service.engineering.selection.request import AMOUNT, AMOUNT_IN, UnitOffer
from wattpair_service.engineering.sentences import Cited, Sentence, Value
from wattpair_service.engineering.strings.compared import DC_FAULTS, DC_SIDE, StringCandidate
from wattpair_service.engineering.strings.comparison import CauseKwh, MoneyDifference, StringComparison
from wattpair_service.engineering.strings.stringing import CheckedString
from wattpair_service.report.charts.difference_mark import difference_mark
from wattpair_service.report.sections.advice import figure_of_check
from wattpair_service.report.table import Row, Table
from wattpair_service.words.language import Language

LEAST_KWH = 0.5
"""Of a cause that is listed: less of it would be printed as zero."""
SHADE_FACTOR_MOST = 10.0
"""Highest factor on shade that is told: no roof turns by more."""
CAUTIONS = (DC_SIDE, DC_FAULTS)
"""They stand beside the string inverters, and not again in the list of all cautions."""


@dataclass(frozen=True, slots=True)
class CustomerComparison:
    """The comparison for the customer: sentences, and a table where there is something to compare."""

    sentences: tuple[str, ...]
    table: Table | None


@dataclass(frozen=True, slots=True)
class ComparedInverter:
    """A string inverter for the installer."""

    name: str
    obstacle: str | None
    sentences: tuple[str, ...]
    strings: Table | None
    causes: Table | None


@dataclass(frozen=True, slots=True)
class StringInverters:
    """All string inverters for the installer. `orders` has pairs of a heading and what to order and check."""

    sentences: tuple[str, ...]
    overview: Table
    inverters: tuple[ComparedInverter, ...]
    orders: tuple[tuple[str, tuple[str, ...]], ...]
    cautions: tuple[str, ...]


def for_the_customer(design: Design, language: Language) -> CustomerComparison | None:
    """The string inverter that fares best against what is built; None without one, or where something else is compared."""
    candidates, built = design.selection.string_inverters, design.built.pairing
    if not candidates or built is None:
        return None
    possible = _by_success(candidates)
    if not possible:
        return CustomerComparison((language.say("instead.none_possible"),), None)
    best = possible[0]
    if (best.module, best.microinverter) != (built.module, built.microinverter):
        return None
    sentences = [_in_words(design, language, best)]
    if (turning := _turning(design, language, best)) is not None:
        sentences.append(turning)
    caption = language.say("instead.both")
    if len(possible) > 1:
        caption = language.say("instead.fares_best", count=language.number(len(possible)))
    return CustomerComparison(tuple(sentences), _both(design, language, best, caption))


def for_the_installer(design: Design, language: Language, accent: str) -> StringInverters | None:
    """All string inverters of the request; None without any."""
    candidates = design.selection.string_inverters
    if not candidates:
        return None
    first = candidates[0]
    return StringInverters(
        sentences=tuple(_on_all(design, language)),
        overview=_overview(design, language),
        inverters=tuple(_inverter(design, language, accent, number, each) for number, each in enumerate(candidates, 1)),
        orders=tuple(
            (language.say(f"instead.{key}"), tuple(map(language.write, lines)))
            for key, lines in (("order_strings", first.to_order), ("order_units", first.to_order_for_units))
        ),
        cautions=tuple(language.write(each.text) for each in CAUTIONS if each in design.cautions),
    )


def _by_success(candidates: Sequence[StringCandidate]) -> list[StringComparison]:
    """Those that can be built: the highest net value first; those without a price after them, by energy."""
    return sorted(
        (each.comparison for each in candidates if each.comparison is not None),
        key=lambda each: (1, -each.string_inverter_kwh) if each.money is None else (0, each.money.net_gain),
    )


def _in_words(design: Design, language: Language, compared: StringComparison) -> str:
    """The comparison in a sentence, with amounts in whole units of the currency as all estimates of the sheet."""

    def whole(value: Value) -> Value:
        if isinstance(value, Sentence):
            values = dict(value.values)
            if value.code in (AMOUNT.code, AMOUNT_IN.code) and isinstance(amount := values["amount"], float):
                return Cited(language.whole_money(amount, design.currency))
            return replace(value, values=tuple((slot, whole(each)) for slot, each in value.values))
        return value

    text = language.write(whole(compared.sentence))
    return text if compared.money is not None else language.say("instead.energy_alone", sentence=text)


def _turning(design: Design, language: Language, compared: StringComparison) -> str | None:
    """What would turn the comparison; None where nothing would."""
    if compared.money is None:
        return None
    ways = tuple(_ways(design, language, compared, compared.money))
    side = "unit" if compared.better == "microinverters" else "string"
    return language.say(f"instead.turns_{side}", ways=tuple(map(Cited, ways))) if ways else None


def _ways(design: Design, language: Language, compared: StringComparison, money: MoneyDifference) -> Iterator[str]:
    offer, turning, units_lead = compared.system.offer, money.turning, compared.better == "microinverters"
    price, life, factor = turning.extra_price, turning.life_years, turning.shade_factor
    if price is not None and offer.price is not None and offer.price + price > 0.0:
        amount = language.whole_money(abs(price), design.currency)
        yield language.say("instead.price_more" if price > 0.0 else "instead.price_less", amount=amount)
    if life is not None and (life > offer.expected_life_years) == units_lead:
        assumed = language.general(offer.expected_life_years)
        yield language.say("instead.life_longer" if units_lead else "instead.life_shorter", years=life, assumed=assumed)
    if factor is not None and factor <= SHADE_FACTOR_MOST:
        share = language.percent(factor)
        yield language.say("instead.shade_none") if factor < 0.005 else language.say("instead.shade", share=share)


def _both(design: Design, language: Language, compared: StringComparison, caption: str) -> Table:
    """Both systems side by side: energy, cost, replacements, and what stands still when one fails."""
    rows = [_energy_row(language, compared)]
    years = language.counted("year", design.request.terms.horizon_years)
    costs = _costs(compared)
    if compared.money is not None and costs is not None:
        key = "instead.cost_system" if compared.money.balance_of_plant_counts else "instead.cost_inverters"
        rows.append(Row((language.say(key, years=years), *(language.whole_money(each, design.currency) for each in costs))))
    rows.append(Row((language.say("instead.replaced"), language.say("instead.each_failing"), _replaced(language, compared))))
    rows.append(Row((language.say("instead.fails"), *_standing_still(design, language, compared))))
    heads = ((language.say(f"instead.{key}_head"), False) for key in ("both", "units", "string"))
    return Table.of(caption, heads, rows)


def _energy_row(language: Language, compared: StringComparison) -> Row:
    energies = (compared.microinverters_kwh, compared.string_inverter_kwh)
    return Row((language.say("instead.energy"), *(f"{language.number(each)} kWh" for each in energies)))


def _costs(compared: StringComparison) -> tuple[float, float] | None:
    """Present cost of microinverters and of the string inverter; None where a price is missing."""
    money, system = compared.money, compared.system
    if money is None or system.cost is None:
        return None
    plant = system.offer.balance_of_plant or 0.0 if money.balance_of_plant_counts else 0.0
    return system.cost + plant + money.extra_cost, system.cost + plant


def _replaced(language: Language, compared: StringComparison) -> str:
    years = compared.replaced_in_years
    if not years:
        return language.say("instead.never")
    return language.say("instead.in_years", years=", ".join(map(language.number, years)))


def _standing_still(design: Design, language: Language, compared: StringComparison) -> tuple[str, str]:
    """How many modules deliver nothing while one inverter waits for its repair."""
    count = design.request.module_count
    unit = _unit(design, compared).microinverter
    each = min(unit.module_capacity(design.request.input_wiring), count)
    one = language.say("instead.one_module" if each == 1 else "instead.up_to", count=language.number(each))
    return one, language.say("instead.whole_roof", count=language.number(count))


def _unit(design: Design, compared: StringComparison) -> UnitOffer:
    return next(each for each in design.request.units if each.microinverter.name == compared.microinverter)


def _on_all(design: Design, language: Language) -> Iterator[str]:
    """What holds for every string inverter of the section."""
    compared = [each.comparison for each in design.selection.string_inverters if each.comparison is not None]
    if compared:
        yield from _on_comparisons(design, language, compared)
    found = [each.stringing for each in design.selection.string_inverters if each.stringing.strings]
    if not all(each.is_given for each in found):
        yield language.say("instead.proposed")
    if found and any(each.layout is not None for each in design.faces):
        yield language.say("instead.numbered")


def _on_comparisons(design: Design, language: Language, compared: Sequence[StringComparison]) -> Iterator[str]:
    """What they are compared with, and what counts as cost and value."""
    best, built = compared[0], design.built.pairing
    yield language.say("instead.compared", unit=best.microinverter, module=best.module)
    if built is not None and (built.module, built.microinverter) != (best.module, best.microinverter):
        yield language.say("instead.other_built", unit=built.microinverter)
    monies = [each.money for each in compared]
    if any(each is not None for each in monies):
        counts = all(each is None or each.balance_of_plant_counts for each in monies)
        yield language.say("instead.plant_counts" if counts else "instead.plant_open")


def _overview(design: Design, language: Language) -> Table:
    """Every string inverter in one row."""
    rows = [Row(tuple(_overview_row(design, language, each))) for each in design.selection.string_inverters]
    numeric = ("energy", "share", "cost", "value")
    keys = ("inverter", "strings", "lengths", "verdict", *numeric, "replaced")
    heads = ((language.say(f"instead.{key}_head"), key in numeric) for key in keys)
    return Table.of(language.say("instead.overview"), heads, rows)


def _overview_row(design: Design, language: Language, candidate: StringCandidate) -> Iterator[str]:
    found, compared = candidate.stringing, candidate.comparison
    yield candidate.name
    yield " + ".join(language.number(len(each.modules)) for each in found.strings) or "–"
    yield _lengths(design, language, candidate) or "–"
    yield language.say(f"choice.{found.verdict}")
    if compared is None:
        yield from ("–",) * 5
        return
    share = compared.energy_share
    yield language.number(compared.string_inverter_kwh)
    ends = {"low": _signed(language, share.low), "high": _signed(language, share.high)}
    yield language.say("instead.range", value=language.percent(share.value, 1, signed=True), **ends)
    money = compared.money
    amounts = (
        ("–", "–") if money is None else tuple(_difference(design, language, e) for e in (money.extra_cost, money.net_gain))
    )
    yield from amounts
    yield ", ".join(map(language.number, compared.replaced_in_years)) or "–"


def _signed(language: Language, share: float) -> str:
    plus = "+" if round(share * 100.0, 1) > 0.0 else ""
    return f"{plus}{language.number(share * 100.0, 1)}"


def _difference(design: Design, language: Language, amount: float) -> str:
    return ("+" if round(amount) > 0 else "") + language.whole_money(amount, design.currency)


def _has_optimisers(design: Design, candidate: StringCandidate) -> bool:
    number = design.selection.string_inverters.index(candidate)
    return design.request.string_inverters[number].optimiser is not None


def _lengths(design: Design, language: Language, candidate: StringCandidate) -> str | None:
    """Shortest and longest string; None where none passes, or where optimisers set them."""
    lengths = candidate.stringing.lengths
    if lengths.shortest is None or lengths.longest is None or _has_optimisers(design, candidate):
        return None
    return language.say("instead.lengths", shortest=lengths.shortest, longest=lengths.longest)


def _inverter(design: Design, language: Language, accent: str, number: int, candidate: StringCandidate) -> ComparedInverter:
    found, compared = candidate.stringing, candidate.comparison
    sentences = []
    if compared is not None:
        sentences.append(_in_words(design, language, compared))
        turning = _turning(design, language, compared)
        if turning is not None:
            sentences.append(turning)
        elif compared.money is not None:
            sentences.append(language.say("instead.turns_nothing"))
    if _has_optimisers(design, candidate):
        sentences.append(language.say("instead.optimisers"))
    return ComparedInverter(
        name=candidate.name,
        obstacle=None if found.obstacle is None else language.say("instead.obstacle", obstacle=found.obstacle),
        sentences=tuple(sentences),
        strings=_strings(design, language, candidate) if found.strings else None,
        causes=None if compared is None else _causes(language, accent, number, compared),
    )


def _strings(design: Design, language: Language, candidate: StringCandidate) -> Table:
    """Its strings with their modules and checks."""
    rows = (
        Row(
            (
                language.number(each.tracker),
                _modules(design, language, each),
                language.number(len(each.modules)),
                _verdict(language, each),
            ),
            "failing" if each.verdict == "fail" else "",
        )
        for each in candidate.stringing.strings
    )
    keys = ("tracker", "modules", "count", "verdict")
    heads = ((language.say(f"instead.{key}_head"), key == "count") for key in keys)
    return Table.of(language.say("instead.strings_of", inverter=candidate.name), heads, rows)


def _modules(design: Design, language: Language, string: CheckedString) -> str:
    """The modules of a string in their order, face by face; neighbours in number as a range."""
    parts: list[tuple[int, list[tuple[int, int]]]] = []
    for face, module in string.modules:
        number = module + 1
        if not parts or parts[-1][0] != face:
            parts.append((face, []))
        runs = parts[-1][1]
        if runs and runs[-1][1] == number - 1:
            runs[-1] = (runs[-1][0], number)
        else:
            runs.append((number, number))
    return "; ".join(f"{design.faces[face].face.name}: {', '.join(_runs(language, runs))}" for face, runs in parts)


def _runs(language: Language, runs: Sequence[tuple[int, int]]) -> Iterator[str]:
    for first, last in runs:
        ends = (language.number(each) for each in dict.fromkeys((first, last)))
        yield ("–" if last > first + 1 else ", ").join(ends)


def _verdict(language: Language, string: CheckedString) -> str:
    verdict = language.say(f"choice.{string.verdict}")
    reasons = "; ".join(_reason(language, each) for each in string.reasons if each.verdict == string.verdict)
    return f"{verdict}: {reasons}" if reasons else verdict


def _reason(language: Language, check: ElectricalCheck) -> str:
    value = figure_of_check(language, check.value, check.unit)
    name = language.say(f"check.{check.name}")
    if check.limit is None:
        return f"{name}, {value}"
    return language.say("instead.reason", name=name, value=value, limit=figure_of_check(language, check.limit, check.unit))


def _causes(language: Language, accent: str, number: int, compared: StringComparison) -> Table:
    """The difference of energy by cause: losses of both sides, and how much more the microinverters yield by it."""
    shown = [each for each in compared.causes if max(each.microinverters_kwh, each.string_inverter_kwh) >= LEAST_KWH]
    differences = [each.difference_kwh for each in shown]
    low, high = min((0.0, *differences)), max((0.0, *differences))

    def row(index: int, each: CauseKwh) -> Row:
        words = _kwh(language, each.difference_kwh)
        bar = difference_mark(f"cause-{number}-{index}", each.difference_kwh, low, high, accent, words)
        lost = (language.number(-side) for side in (each.microinverters_kwh, each.string_inverter_kwh))
        return Row((language.say(f"cause.{each.cause}"), *lost, words, bar))

    rows = [row(index, each) for index, each in enumerate(shown)]
    possible_kwh = compared.microinverters_kwh + sum(each.microinverters_kwh for each in compared.causes)
    possible = (language.number(possible_kwh),) * 2
    sides = (compared.microinverters_kwh, compared.string_inverter_kwh)
    at_meter = (*map(language.number, sides), _kwh(language, sides[0] - sides[1]))
    rows.insert(0, Row((language.say("instead.possible"), *possible, "", "")))
    rows.append(Row((language.say("instead.at_meter"), *at_meter, ""), "sum"))
    numeric = ("units", "string", "difference")
    heads = ((language.say(f"instead.{key}_head"), key in numeric) for key in ("cause", *numeric, "bar"))
    return Table.of(language.say("instead.causes_of", inverter=compared.system.offer.name), heads, rows)


def _kwh(language: Language, difference_kwh: float) -> str:
    return ("+" if round(difference_kwh) > 0 else "") + language.number(difference_kwh)

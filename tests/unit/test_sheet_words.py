"""Every text of a sheet has its translation in each language."""

from __future__ import annotations

import ast
import importlib
import itertools
import pkgutil
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any, get_args

import pytest
from marshmallow import Schema, fields

from tests.selection_cases import TERMS, offer, request, select
from wattpair_service import climate, engineering
from wattpair_service.api.operations import design
from wattpair_service.api.schemas.choice import Choice
from wattpair_service.engineering.energy import clipping
from wattpair_service.engineering.energy.energy_balance import EnergyBalance
from wattpair_service.engineering.inverter.electrical_checks import CheckName
from wattpair_service.engineering.materials.bill_lines import ROLES
from wattpair_service.engineering.results import Method
from wattpair_service.engineering.roof.access import PATH_CHOICES, AccessTerms
from wattpair_service.engineering.roof.edges import EDGE_KINDS
from wattpair_service.engineering.selection import break_even
from wattpair_service.engineering.selection.recommendation import Standing
from wattpair_service.engineering.selection.request import SystemTerms
from wattpair_service.report.language import LANGUAGES, Language, language, read, slots
from wattpair_service.report.sheet import coordinates
from wattpair_service.report.tables import WITHHELD
from wattpair_service.rules import access_rules, region_data, regions

OTHERS = [code for code in LANGUAGES if code != "en"]
SERVICE = Path(engineering.__file__).parents[1]
other = pytest.mark.parametrize("code", OTHERS)
CITATION = re.compile(r"\b(19|20)\d\d\b|10\.\d{4}/")
"""A published source, which stays in the language that it was published in."""


MODULES = [
    importlib.import_module(found.name)
    for package in (engineering, climate)
    for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
    if found.name != "wattpair_service.climate.atlas.build"
]
TREES = [
    ast.parse(file.read_text(encoding="utf-8"))
    for folder in ("engineering", "climate")
    for file in sorted((SERVICE / folder).rglob("*.py"))
]


def texts(node: ast.AST) -> Iterator[str]:
    """The texts below a node, with 7 in the place of what is filled in."""
    if isinstance(node, ast.JoinedStr):
        yield "".join(str(part.value) if isinstance(part, ast.Constant) else "7" for part in node.values)
    elif isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    else:
        for child in ast.iter_child_nodes(node):
            yield from texts(child)


def is_sentence(text: str) -> bool:
    return text.endswith(".") and " " in text and (text[0].isupper() or text[0] == "7")


def cautions() -> set[str]:
    """Sentences that are constants of the engine, and those that its functions of cautions put together."""
    constants = {
        filled
        for module in MODULES
        for name, value in vars(module).items()
        if name.isupper() and isinstance(value, str) and is_sentence(filled := re.sub(r"\{[^}]*\}", "7", value))
    }
    composed: set[str] = set()
    for node in (node for tree in TREES for node in ast.walk(tree)):
        if isinstance(node, ast.FunctionDef) and "caution" in node.name:
            composed |= {*texts(node)} - {ast.get_docstring(node, clean=False)}
        elif isinstance(node, ast.AugAssign) and isinstance(node.target, ast.Name) and node.target.id == "cautions":
            composed |= {*texts(node)}
    composed = {text for text in composed if is_sentence(text)}
    assert len(constants) >= 20
    assert len(composed) >= 4
    return constants | composed


def assumptions_of_the_engine() -> Iterator[tuple[str, str]]:
    """Name and source of each `Assumption(...)`; a source that is a variable is looked up in its function."""
    for function in (node for tree in TREES for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)):
        assigned = {
            target.id: node.value
            for node in ast.walk(function)
            if isinstance(node, ast.Assign)
            for target in (node.targets[0].elts if isinstance(node.targets[0], ast.Tuple) else node.targets)
            if isinstance(target, ast.Name)
        }
        for call in (node for node in ast.walk(function) if isinstance(node, ast.Call)):
            if isinstance(call.func, ast.Name) and call.func.id == "Assumption":
                source = call.args[3]
                source = assigned.get(source.id, source) if isinstance(source, ast.Name) else source
                yield from itertools.product(texts(call.args[0]), texts(source))


def assumption_sources() -> set[str]:
    found = {source for _, _, source in assumed_fields(design.OPERATION.request())}
    found |= {source for _, source in assumptions_of_the_engine()}
    assert "sea level" in found
    # A face's name with one of two sources, which the design puts together.
    found = found - {"7: 7"} | {"7: common practice, no source", "7: the layout's spacing times the modules of a unit"}
    return {text for text in found if text}


def assumed_fields(schema: Schema) -> Iterator[tuple[str, object, str]]:
    """Name, default and source of every field that may be left to the service."""
    for name, field in schema.fields.items():
        assumed = getattr(field, "assumed", None)
        if assumed is not None:
            yield name, assumed.value, assumed.source
        inner = field.inner if isinstance(field, fields.List) else field
        if isinstance(inner, Choice):
            for kind in inner.kinds.values():
                yield from assumed_fields(kind)
        elif isinstance(inner, fields.Nested):
            yield from assumed_fields(inner.schema)


def assumption_names() -> set[str]:
    """The last part of the name of each assumption."""
    found = {name for name, _, _ in assumed_fields(design.OPERATION.request())}
    for name, _ in assumptions_of_the_engine():
        found.add(next(step for step in reversed(re.split(r"[./]", name)) if not step.isdigit()))
    return found


def rule_texts() -> set[str]:
    """What a region's rules say that stands on a sheet."""
    found: set[str] = set()
    for region in regions():
        data = region_data(region)
        found |= {data["place"], *data["commissioning"]["documents"], *access_texts(region)}
        for route in data["routes"]:
            found |= {route["name"], route["allows"]}
            found |= {filing[part] for filing in route["filings"] for part in ("document", "when")}
    return found


def access_texts(region: str) -> set[str]:
    """Sources of a region's distances from edges and of its access paths, and its cautions on them."""
    rules = access_rules(region)
    sourced = (rules.edge, rules.ridge, rules.path, *(rule for _, rule in rules.kinds))
    return {*rules.cautions, *(each.source for each in sourced if each is not None)}


WITHOUT_RATE = replace(TERMS, failure_share_per_year=None)


def scenario_names() -> set[str]:
    """Of recommendations with money and without."""
    with_money = select(request(offer(300.0, 105.0), offer(345.0, 128.0), terms=WITHOUT_RATE))
    by_energy = select(request(offer(300.0, None), offer(345.0, None)))
    waiting = SystemTerms(connection_procedure="application", needs_agreement=True)
    with_wait = select(request(replace(offer(300.0, 100.0), system=waiting), offer(345.0, 1000.0)))
    found = {each.name for result in (with_money, by_energy, with_wait) for each in result.recommendation.scenarios}
    assert len(found) >= 10
    return found


def value_covers() -> set[str]:
    """What the range of a net present value covers."""
    moneys: list[Any] = [
        select(request(offer(300.0, 105.0), terms=terms)).candidates[0].money for terms in (TERMS, WITHOUT_RATE)
    ]
    found = {money.net_present_value_range.covers for money in moneys}
    assert len(found) == 2
    return found


def method_texts() -> set[str]:
    """Names of models, and those of their sources that cite nothing."""
    values = [value for module in MODULES for value in vars(module).values()]
    values += [each for value in values if isinstance(value, dict) for each in value.values()]
    methods = [value for value in values if isinstance(value, Method)]
    found = {method.name for method in methods} | {each.source for each in methods if not CITATION.search(each.source)}
    assert len(found) >= 20
    return found


SPOKEN: dict[str, Callable[[], set[str]]] = {
    "cautions": cautions,
    "sources of assumptions": assumption_sources,
    "rules": rule_texts,
    "scenarios": scenario_names,
    "methods": method_texts,
    "ranges": lambda: {clipping.YIELD_COVERS, clipping.CLIPPING_COVERS, clipping.CLIPPING_COVERS_OTHER, *value_covers()},
    "edges and paths": lambda: {*EDGE_KINDS, *PATH_CHOICES},
    "cables": lambda: {"trunk", "home run", "supply cable", "trunk, home run, supply cable"},
}


@other
@pytest.mark.parametrize("kind", SPOKEN)
def test_every_text_of_the_engine_is_translated(code: str, kind: str) -> None:
    spoken = SPOKEN[kind]()
    assert spoken
    assert {text for text in spoken if language(code).known(text) is None} == set()


@other
def test_a_language_has_all_words_sentences_and_slots(code: str) -> None:
    english, reworded = read("en")
    words, sentences = read(code)
    assert words.keys() == english.keys()
    assert reworded.keys() <= sentences.keys()
    assert {key for key in english if slots(english[key]) != slots(words[key])} == set()
    assert {sentence for sentence, translated in sentences.items() if not slots(translated) <= slots(sentence)} == set()
    assert {key for key, translated in words.items() if not translated.strip()} == set()


def test_every_name_has_its_words() -> None:
    words, _ = read("en")
    balance = set(EnergyBalance.__dataclass_fields__) - {"available_kwh", "delivered_kwh"}
    needed = {
        "name": (assumption_names() | set(AccessTerms.__dataclass_fields__)) - {"rules"} - WITHHELD,
        "role": set(ROLES),
        "check": set(get_args(CheckName)),
        "losses": balance,
        "advice": set(get_args(Standing)) - {"none_passes"},
        "break_even": set(get_args(break_even.Pays)),
        "value": {
            value if isinstance(value, str) else value["kind"]
            for _, value, _ in assumed_fields(design.OPERATION.request())
            if isinstance(value, dict) or (isinstance(value, str) and not value.isdigit())
        },
    }
    missing = {f"{table}.{name}" for table, names in needed.items() for name in names} - words.keys()
    assert missing == set()


@pytest.mark.parametrize(
    ("write", "english", "german"),
    [
        (lambda to: to.number(1234.5, 1), "1,234.5", "1.234,5"),
        (lambda to: to.number(-0.04, 1), "0.0", "0,0"),
        (lambda to: to.number(-2.0), "\u22122", "\u22122"),
        (lambda to: to.money(1234.5, "EUR"), "€1,234.50", "1.234,50\u00a0€"),
        (lambda to: to.money(12.0, "shells"), "12.00 shells", "12,00 shells"),
        (lambda to: to.money(12.0, None), "12.00", "12,00"),
        (lambda to: to.whole_money(1234.5, "JPY"), "JP¥1,234", "1.234\u00a0¥"),
        (lambda to: to.money(Decimal(1234), "JPY"), "JP¥1,234", "1.234\u00a0¥"),
        (lambda to: to.percent(0.0234, 2), "2.34%", "2,34\u00a0%"),
        (lambda to: to.engine("0.5 %"), "0.5%", "0.5\u00a0%"),
        (lambda to: to.estimates((13835.37, 11869.69), "EUR"), ("€13,800", "€11,900"), ("13.800\u00a0€", "11.900\u00a0€")),
        (lambda to: to.estimates((12.345, -1.0), "EUR"), ("€12.30", "\u2212€1.00"), ("12,30\u00a0€", "\u22121,00\u00a0€")),
        (lambda to: to.counted("unit", 1), "1 unit", "1 Gerät"),
        (lambda to: to.counted("unit", 2), "2 units", "2 Geräte"),
        (lambda to: coordinates(to, -52.1, 5.2), "52.1° S, 5.2° E", "52,1° S, 5,2° O"),
        (lambda to: to.engine("Jones et al. 1999"), "Jones et al. 1999", "Jones et al. 1999"),
        (
            lambda to: to.engine("a failure rate of 0.02 % a year"),
            "a failure rate of 0.02% a year", "eine Ausfallrate von 0,02\u00a0% im Jahr",
        ),
        (lambda to: to.engine("a tariff 20% lower"), "a tariff 20% lower", "ein um 20\u00a0% niedrigerer Tarif"),
    ],
)  # fmt: skip
def test_numbers_money_and_texts_follow_the_language(
    write: Callable[[Language], object], english: object, german: object
) -> None:
    assert (write(language("en")), write(language("de"))) == (english, german)


def test_english_follows_the_country_of_the_roof() -> None:
    american, british = language("en", "United States"), language("en", "Germany")
    day = date(2026, 3, 4)
    assert (american.day(day), british.day(day)) == ("March 4, 2026", "4 March 2026")
    assert (american.money(1.5, "USD"), british.money(1.5, "USD")) == ("$1.50", "US$1.50")

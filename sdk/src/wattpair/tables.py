"""Tables of results as pandas DataFrames: each function is a method of a generated model.

pandas is imported when a table is asked for, not before. The cautions of a result go with each of its tables, in `attrs`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, get_args, get_origin

from msgspec import Struct
from msgspec.structs import asdict

from wattpair import codec

if TYPE_CHECKING:
    import pandas as pd

    from wattpair import models

Row = dict[Any, Any]
HOURS_OF_DAY = 24
OWN = ("module", "microinverter", "verdict", "rank", "unit_count", "mass_kg", "warranty_years")
ENERGY = ("at_meter_kwh", "lifetime_kwh", "used_at_home_kwh", "exported_kwh", "cut_kwh")
MONEY = ("units_price", "balance_of_plant", "net_present_value", "lifetime_cost", "lifetime_cost_per_kwh")
PAIR = ("module", "smaller", "larger")
GAP = ("value", "low", "high", "asked")
SOURCE = ("clause", "obtained")
"""How a rule was obtained: the last columns of its table."""


def pandas() -> Any:
    """The module; raises ImportError with what to install."""
    try:
        import pandas as pd
    except ImportError as error:
        raise ImportError('a table needs pandas, which is not installed: pip install "wattpair[pandas]"') from error
    return pd


def rows_of(path: str) -> Callable[[Any], pd.DataFrame]:
    """A method that makes a table of the items at a path within a result."""
    *way, last = path.split(".")

    def to_frame(result: Any) -> pd.DataFrame:
        holder: Any = result
        kind: Any = type(result)
        for name in way:
            holder, kind = getattr(holder, name), codec.hints_of(kind)[name]
        (item, _) = get_args(codec.hints_of(kind)[last])
        columns = plain_fields(item)
        return _frame(result, ({name: getattr(each, name) for name in columns} for each in getattr(holder, last)), columns)

    to_frame.__doc__ = f"One row for each item of `{path}`, with its fields that are no lists."
    return to_frame


def plain_fields(model: Any) -> list[str]:
    """Fields of a model, or of one of that name, that are texts, numbers or truth values."""
    from wattpair import models

    kind = getattr(models, model) if isinstance(model, str) else model
    return [name for name, hint in codec.hints_of(kind).items() if not _is_structured(hint)]


def _is_structured(hint: Any) -> bool:
    return get_origin(hint) in (tuple, Mapping) or any(
        isinstance(each, type) and issubclass(each, Struct) for each in (hint, *get_args(hint))
    )


def _frame(result: Any, rows: Iterable[Row], columns: Iterable[Any], index: str | None = None) -> pd.DataFrame:
    """A DataFrame whose columns are there even without a row."""
    table: pd.DataFrame = pandas().DataFrame(list(rows), columns=list(columns))
    if index is not None:
        table = table.set_index(index)
    table.attrs.update({"cautions": result.cautions} if hasattr(result, "cautions") else {})
    return table


def bill(result: models.BillOfMaterialsResult) -> pd.DataFrame:
    """One row for each line of the bill: the fields of `BillLine`, with a price book then those of `PricedLine`."""
    if result.prices is None:
        return _frame(result, map(asdict, result.lines), plain_fields("BillLine"))
    rows = (asdict(line) | asdict(price) for line, price in zip(result.lines, result.prices.lines, strict=True))
    return _frame(result, rows, plain_fields("BillLine") + plain_fields("PricedLine"))


def duration(result: models.Duration) -> pd.DataFrame:
    """One row for each level: `ac_power_w` and `hours_h`."""
    names = ("ac_power_w", "hours_h")
    return _frame(result, (dict(_pairs(names, row)) for row in _pairs(result.ac_power_w, result.hours_h)), names)


def _pairs(one: Sequence[Any], other: Sequence[Any]) -> Iterator[tuple[Any, Any]]:
    return zip(one, other, strict=True)


def months(result: models.PairingYear) -> pd.DataFrame:
    """One row for each `month`, 1 to 12, with the terms of its balance."""
    return _frame(result, _month_rows(result), ["month", *_balance()], "month")


def clipped_by_hour(result: models.PairingYear) -> pd.DataFrame:
    """Clipped energy [kWh]: a row for each `month`, 1 to 12, and a column for each hour of the day, 0 to 23."""
    rows = ({"month": month} | dict(enumerate(row)) for month, row in enumerate(result.clipped_kwh_by_month_hour, start=1))
    return _frame(result, rows, ["month", *range(HOURS_OF_DAY)], "month")


def _month_rows(result: models.PairingYear) -> Iterator[Row]:
    return ({"month": month} | asdict(balance) for month, balance in enumerate(result.months, start=1))


def _balance() -> list[str]:
    return plain_fields("Balance")


def years_of_a_module(result: models.ClippingResult) -> pd.DataFrame:
    """One row for each face and microinverter: the year of one module, with the terms of its balance."""
    rows = (
        {
            **names,
            "module_count": face.module_count,
            "ac_limit_per_module_w": pairing.ac_limit_per_module_w,
            **_range("clipped_share", pairing.clipped_share),
            "clipped_share_hourly_means": pairing.clipped_share_hourly_means,
            "clipped_hours_h": pairing.per_module.clipped_hours_h,
            **asdict(pairing.per_module.year),
        }
        for names, face, pairing in _pairings(result)
    )
    columns = ["face", "microinverter", "module_count", "ac_limit_per_module_w", *_range("clipped_share")]
    return _frame(result, rows, [*columns, "clipped_share_hourly_means", "clipped_hours_h", *_balance()])


def months_of_a_module(result: models.ClippingResult) -> pd.DataFrame:
    """One row for each face, microinverter and month, 1 to 12: one module, with the terms of its balance."""
    rows = (names | row for names, _, pairing in _pairings(result) for row in _month_rows(pairing.per_module))
    return _frame(result, rows, ["face", "microinverter", "month", *_balance()])


def totals(result: models.ClippingResult) -> pd.DataFrame:
    """One row for each microinverter: the year of the whole roof, with the terms of its balance."""
    rows = (
        {
            "microinverter": total.microinverter,
            **_range("clipped_share", total.clipped_share),
            "clipped_share_hourly_means": total.clipped_share_hourly_means,
            "specific_yield_kwh_per_kwp": total.specific_yield_kwh_per_kwp,
            **asdict(total.balance),
            **_range("delivered_kwh", total.delivered_range_kwh),
        }
        for total in result.totals
    )
    columns = ["microinverter", *_range("clipped_share"), "clipped_share_hourly_means", "specific_yield_kwh_per_kwp"]
    return _frame(result, rows, dict.fromkeys([*columns, *_balance(), *_range("delivered_kwh")]))


def ageing(result: models.ClippingResult) -> pd.DataFrame:
    """One row for each microinverter and year of the modules' life, of the whole roof: the fields of `AgedYear`."""
    rows = ({"microinverter": total.microinverter} | asdict(year) for total in result.totals for year in total.ageing)
    return _frame(result, rows, ["microinverter", *plain_fields("AgedYear")])


def _pairings(result: models.ClippingResult) -> Iterator[tuple[Row, models.FaceClipping, models.PairingClipping]]:
    for face in result.faces:
        for pairing in face.pairings:
            yield {"face": face.face, "microinverter": pairing.microinverter}, face, pairing


def rules(result: models.Region) -> pd.DataFrame:
    """One row for each rule: topic, field, value, clause, and how it was obtained; texts in English."""
    rows = (row for topic, rule in result.rules.items() for row in _rule_rows(topic, _in_english(rule)))
    return _frame(result, rows, ["topic", "field", "value", *SOURCE])


def _in_english(rule: Any) -> Any:
    """A rule with its English text in place of each text by language."""
    if isinstance(rule, list):
        return [_in_english(each) for each in rule]
    if isinstance(rule, dict):
        return rule["en"] if "en" in rule else {name: _in_english(each) for name, each in rule.items()}
    return rule


def _rule_rows(topic: str, rule: Any) -> Iterator[Row]:
    if isinstance(rule, list):
        for index, each in enumerate(rule):
            yield from _rule_rows(f"{topic}[{index}]", each)
    elif isinstance(rule, dict):
        source = {name: rule.get(name) for name in SOURCE}
        values = {name: value for name, value in rule.items() if name not in SOURCE} or {None: None}
        for name, value in values.items():
            yield {"topic": topic, "field": name, "value": value, **source}


def candidates(result: models.SelectionResult) -> pd.DataFrame:
    """One row for each candidate: verdict, rank and size, the balance of its first year, energy and money.

    What a candidate has none of, such as the money of one that fails, is missing in its row.
    """
    return _frame(result, map(_candidate_row, result.candidates), [*OWN, *_balance(), *ENERGY, *MONEY, "replacements"])


def _candidate_row(candidate: models.CandidateResult) -> Row:
    row = {name: getattr(candidate, name) for name in OWN}
    if candidate.energy is not None:
        row |= asdict(candidate.energy.first_year) | {name: getattr(candidate.energy, name) for name in ENERGY}
    if candidate.money is not None:
        row |= {name: getattr(candidate.money, name) for name in MONEY}
    return row | {"replacements": candidate.replacements.expected if candidate.replacements else None}


def break_evens(result: models.SelectionResult) -> pd.DataFrame:
    """One row for each pair of neighbours and place; the `face` of the whole roof is None."""
    rows = (
        {
            **names,
            "pays": place.power.pays,
            **{f"power_{name}": getattr(place.power, name) for name in ("value_w", "low_w", "high_w")},
            **{f"price_gap_{name}": getattr(place.price_gap, name) for name in GAP},
        }
        for names, _, place in _break_even_places(result)
    )
    powers = ["power_value_w", "power_low_w", "power_high_w"]
    return _frame(result, rows, [*PAIR, "face", "pays", *powers, *(f"price_gap_{name}" for name in GAP)])


def curves(result: models.SelectionResult) -> pd.DataFrame:
    """One row for each pair of neighbours, place and module power: the `gain` of the larger, worth today."""
    rows = (
        {**names, "module_power_w": power_w, "gain": gain}
        for names, pair, place in _break_even_places(result)
        for power_w, gain in _pairs(pair.module_power_w, place.gains)
    )
    return _frame(result, rows, [*PAIR, "face", "module_power_w", "gain"])


def _break_even_places(result: models.SelectionResult) -> Iterator[tuple[Row, models.BreakEven, models.PlaceBreakEven]]:
    for pair in result.break_evens:
        for place in pair.places:
            yield {name: getattr(pair, name) for name in PAIR} | {"face": place.face}, pair, place


def climate(result: models.SiteClimateResult) -> pd.DataFrame:
    """One row for each `month`, 1 to 12: air temperature, and irradiation on the horizontal and on each face.

    The columns are `temp_air_c`, `linke_turbidity` (empty where the maps have no data), `ghi_kwh_m2`, and for each face
    its name after "poa_kwh_m2 ".
    """
    air = result.horizontal.temp_air_c_by_month
    columns = {
        "month": range(1, len(air) + 1),
        "temp_air_c": air,
        "linke_turbidity": result.linke_turbidity_by_month or (math.nan,) * len(air),
        "ghi_kwh_m2": result.horizontal.ghi_kwh_m2_by_month,
        **{f"poa_kwh_m2 {face.face}": face.poa_kwh_m2_by_month for face in result.faces},
    }
    rows = (dict(_pairs(list(columns), month)) for month in zip(*columns.values(), strict=True))
    return _frame(result, rows, list(columns), "month")


def seasons(result: models.SiteClimateResult) -> pd.DataFrame:
    """One row for each face and season, with the fields of `SeasonIrradiation`.

    In place of `ratios` there is a column for each microinverter, its name after "dc_ac_ratio ".
    """
    names = plain_fields("SeasonIrradiation")
    rows = [
        {"face": face.face}
        | {name: getattr(season, name) for name in names}
        | {f"dc_ac_ratio {each.microinverter}": each.dc_ac_ratio for each in season.ratios}
        for face in result.faces
        for season in face.seasons
    ]
    return _frame(result, rows, dict.fromkeys([*["face", *names], *(name for row in rows for name in row)]))


def levels(result: models.SiteClimateResult) -> pd.DataFrame:
    """One row for each face and level of irradiance: `lower_edge_w_m2` and `energy_share`."""
    rows = (
        {"face": face.face, "lower_edge_w_m2": edge, "energy_share": share}
        for face in result.faces
        for edge, share in _pairs(face.level_lower_edges_w_m2, face.energy_share_by_level)
    )
    return _frame(result, rows, ["face", "lower_edge_w_m2", "energy_share"])


def checks(result: models.SizingResult) -> pd.DataFrame:
    """One row for each check: `microinverter`, then the fields of `Check`."""
    rows = ({"microinverter": p.microinverter} | asdict(check) for p in result.pairings for check in p.checks)
    return _frame(result, rows, ["microinverter", *plain_fields("Check")])


def _range(name: str, figure: models.Range | None = None) -> Row:
    """Three columns; without a figure for their names alone."""
    values = (None, None, None) if figure is None else (figure.value, figure.low, figure.high)
    return dict(zip((name, f"{name}_low", f"{name}_high"), values, strict=True))

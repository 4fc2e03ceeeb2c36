"""Tables of results as pandas DataFrames, and what else the generated models can do.

pandas is imported when a table is asked for, not before.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import fields
from importlib import import_module
from typing import TYPE_CHECKING, Any

from wattpair.brief import brief

if TYPE_CHECKING:
    import pandas as pd

    from wattpair.models import (
        Arrangement,
        Balance,
        BillLine,
        BranchCircuit,
        BreakEven,
        CandidateResult,
        CircuitRise,
        Connection,
        FaceClimate,
        FaceClipping,
        FaceMass,
        HorizontalClimate,
        PairingClipping,
        PairingSizing,
        Prices,
        Range,
        Recommendation,
        RegionName,
        RoofTotal,
        SeasonIrradiation,
        Sensitivity,
    )

Row = dict[Any, Any]
HOURS_OF_DAY = 24
OWN = ("module", "microinverter", "verdict", "rank", "unit_count", "mass_kg", "warranty_years")
ENERGY = ("lifetime_kwh", "used_at_home_kwh", "exported_kwh", "cut_kwh")
MONEY = ("units_price", "net_present_value", "lifetime_cost", "lifetime_cost_per_kwh")
GAP = ("value", "low", "high", "asked")
SOURCE = ("clause", "obtained")
"""How a rule was obtained: the last columns of its table."""


def row_of(item: Any) -> Row:
    """A flat dataclass as a row: its field names and values."""
    return {each.name: getattr(item, each.name) for each in fields(item)}


def names_of(model: str) -> list[str]:
    """Field names of a model, the columns of its rows."""
    return [each.name for each in fields(getattr(import_module("wattpair.models"), model))]


class Model:
    """Base class of all that is sent and answered."""

    __slots__ = ()

    def __repr__(self) -> str:
        return brief(self)


class Figures(Model):
    """Base class of results that are plain figures under names."""

    __slots__ = ()

    def to_series(self) -> pd.Series[Any]:
        """The figures by their names as a pandas Series."""
        series: pd.Series[Any] = _pandas().Series(row_of(self), name=type(self).__name__)
        return series


def frame(
    rows: Iterable[Row],
    columns: Sequence[Any],
    *,
    index: str | None = None,
    attributes: Mapping[str, Any] | None = None,
) -> pd.DataFrame:
    """A DataFrame of rows.

    Parameters
    ----------
    rows : iterable of dict
        The rows, in order.
    columns : sequence
        Names of the columns, so that a table without rows has them too.
    index : str, optional
        The column to use as index.
    attributes : mapping, optional
        What goes with the table as `DataFrame.attrs`.

    Returns
    -------
    pandas.DataFrame
        One row for each item.

    Raises
    ------
    ImportError
        pandas is not installed.
    """
    table: pd.DataFrame = _pandas().DataFrame(list(rows), columns=list(columns))
    if index is not None:
        table = table.set_index(index)
    table.attrs.update(attributes or {})
    return table


def _pandas() -> Any:
    try:
        import pandas as pd
    except ImportError as error:
        raise ImportError('a table needs pandas, which is not installed: pip install "wattpair[pandas]"') from error
    return pd


class Table(Model):
    """Base class of answers, whose cautions go with each of their tables."""

    __slots__ = ()
    if TYPE_CHECKING:
        cautions: Sequence[str]

    def _frame(self, rows: Iterable[Row], columns: list[str], *, index: str | None = None) -> pd.DataFrame:
        return frame(rows, columns, index=index, attributes={"cautions": self.cautions})


class DesignResultTables(Table):
    """Of `DesignResult`."""

    __slots__ = ()


class BillOfMaterialsResultTables(Table):
    """Of `BillOfMaterialsResult`."""

    __slots__ = ()
    if TYPE_CHECKING:
        lines: Sequence[BillLine]
        circuits: Sequence[BranchCircuit]
        masses: Sequence[FaceMass]
        prices: Prices | None

    def to_frame(self) -> pd.DataFrame:
        """One row for each line of the bill: the fields of `BillLine`, with a price book then those of `PricedLine`."""
        if self.prices is None:
            return self._frame(map(row_of, self.lines), names_of("BillLine"))
        pairs = zip(self.lines, self.prices.lines, strict=True)
        return self._frame(
            (row_of(line) | row_of(price) for line, price in pairs), names_of("BillLine") + names_of("PricedLine")
        )

    def circuits_to_frame(self) -> pd.DataFrame:
        """One row for each branch circuit, with the fields of `BranchCircuit` but for `units_by_face`."""
        return self._frame(map(circuit_row, self.circuits), circuit_columns())

    def masses_to_frame(self) -> pd.DataFrame:
        """One row for each face, with the fields of `FaceMass`."""
        return self._frame(map(row_of, self.masses), names_of("FaceMass"))


class CircuitsResultTables(Table):
    """Of `CircuitsResult`."""

    __slots__ = ()
    if TYPE_CHECKING:
        circuits: Sequence[BranchCircuit]
        rises: Sequence[CircuitRise]
        connection: Connection

    def to_frame(self) -> pd.DataFrame:
        """One row for each branch circuit, with the fields of `BranchCircuit` but for `units_by_face`."""
        return self._frame(map(circuit_row, self.circuits), circuit_columns())

    def rises_to_frame(self) -> pd.DataFrame:
        """One row for each branch circuit, with the fields of `CircuitRise`."""
        return self._frame(map(row_of, self.rises), names_of("CircuitRise"))

    def phases_to_frame(self) -> pd.DataFrame:
        """One row for each phase, with the fields of `PhaseTotal`."""
        return self._frame(map(row_of, self.connection.phases), names_of("PhaseTotal"))

    def checks_to_frame(self) -> pd.DataFrame:
        """One row for each check of the connection, with the fields of `ConnectionCheck`."""
        return self._frame(map(row_of, self.connection.checks), names_of("ConnectionCheck"))


class DurationTables(Model):
    """Of `Duration`."""

    __slots__ = ()
    if TYPE_CHECKING:
        ac_power_w: Sequence[float]
        hours_h: Sequence[float]

    def to_frame(self) -> pd.DataFrame:
        """One row for each level: `ac_power_w` and `hours_h`."""
        pairs = zip(self.ac_power_w, self.hours_h, strict=True)
        return frame(({"ac_power_w": power, "hours_h": hours} for power, hours in pairs), names_of("Duration"))


class PairingYearTables(Model):
    """Of `PairingYear`."""

    __slots__ = ()
    if TYPE_CHECKING:
        months: Sequence[Balance]
        clipped_kwh_by_month_hour: Sequence[Sequence[float]]

    def months_to_frame(self) -> pd.DataFrame:
        """One row for each `month`, 1 to 12, with the terms of its balance."""
        return frame(self.month_rows(), ["month", *names_of("Balance")], index="month")

    def clipping_to_frame(self) -> pd.DataFrame:
        """Clipped energy [kWh]: a row for each `month`, 1 to 12, and a column for each hour of the day, 0 to 23."""
        rows = ({"month": month} | dict(enumerate(row)) for month, row in enumerate(self.clipped_kwh_by_month_hour, start=1))
        return frame(rows, ["month", *range(HOURS_OF_DAY)], index="month")

    def month_rows(self) -> Iterator[Row]:
        """The months as rows of a table."""
        return ({"month": month} | row_of(balance) for month, balance in enumerate(self.months, start=1))


class ClippingResultTables(Table):
    """Of `ClippingResult`."""

    __slots__ = ()
    if TYPE_CHECKING:
        faces: Sequence[FaceClipping]
        totals: Sequence[RoofTotal]

    def to_frame(self) -> pd.DataFrame:
        """One row for each face and microinverter: the year of one module, with the terms of its balance."""
        rows = (
            {
                "face": face.face,
                "microinverter": pairing.microinverter,
                "module_count": face.module_count,
                "ac_limit_per_module_w": pairing.ac_limit_per_module_w,
                **_range_row("clipped_share", pairing.clipped_share),
                "clipped_share_hourly_means": pairing.clipped_share_hourly_means,
                "clipped_hours_h": pairing.per_module.clipped_hours_h,
                **row_of(pairing.per_module.year),
            }
            for face, pairing in self._pairings()
        )
        columns = ["face", "microinverter", "module_count", "ac_limit_per_module_w", *_range_names("clipped_share")]
        return self._frame(rows, [*columns, "clipped_share_hourly_means", "clipped_hours_h", *names_of("Balance")])

    def months_to_frame(self) -> pd.DataFrame:
        """One row for each face, microinverter and month, 1 to 12: one module, with the terms of its balance."""
        rows = (
            {"face": face.face, "microinverter": pairing.microinverter} | row
            for face, pairing in self._pairings()
            for row in pairing.per_module.month_rows()
        )
        return self._frame(rows, ["face", "microinverter", "month", *names_of("Balance")])

    def totals_to_frame(self) -> pd.DataFrame:
        """One row for each microinverter: the year of the whole roof, with the terms of its balance."""
        rows = (
            {
                "microinverter": total.microinverter,
                **_range_row("clipped_share", total.clipped_share),
                "clipped_share_hourly_means": total.clipped_share_hourly_means,
                "specific_yield_kwh_per_kwp": total.specific_yield_kwh_per_kwp,
                **row_of(total.balance),
                **_range_row("delivered_kwh", total.delivered_range_kwh),
            }
            for total in self.totals
        )
        ends = _range_names("delivered_kwh")[1:]
        columns = ["microinverter", *_range_names("clipped_share"), "clipped_share_hourly_means"]
        return self._frame(rows, [*columns, "specific_yield_kwh_per_kwp", *names_of("Balance"), *ends])

    def ageing_to_frame(self) -> pd.DataFrame:
        """One row for each microinverter and year of the modules' life, of the whole roof: the fields of `AgedYear`."""
        rows = ({"microinverter": total.microinverter} | row_of(year) for total in self.totals for year in total.ageing)
        return self._frame(rows, ["microinverter", *names_of("AgedYear")])

    def _pairings(self) -> Iterator[tuple[FaceClipping, PairingClipping]]:
        return ((face, pairing) for face in self.faces for pairing in face.pairings)


class LayoutResultTables(Table):
    """Of `LayoutResult`."""

    __slots__ = ()
    if TYPE_CHECKING:
        arrangement: Arrangement

    def to_frame(self) -> pd.DataFrame:
        """One row for each module, with the fields of `PlacedModule`."""
        return self._frame(map(row_of, self.arrangement.modules), names_of("PlacedModule"))


class FieldErrorTables(Model):
    """Of `FieldError`."""

    __slots__ = ()
    if TYPE_CHECKING:
        pointer: str

    @property
    def argument(self) -> str:
        """The field as Python would write it, such as "faces[0].tilt_deg"; empty for the whole body."""
        # A step is unescaped by itself, ~1 before ~0: "~01" stands for "~1", and a "/" within a name divides nothing.
        steps = [step.replace("~1", "/").replace("~0", "~") for step in self.pointer.split("/")[1:]]
        return "".join(map(_as_python, steps)).removeprefix(".")


class RegionsTables(Model):
    """Of `Regions`."""

    __slots__ = ()
    if TYPE_CHECKING:
        regions: Sequence[RegionName]

    def to_frame(self) -> pd.DataFrame:
        """One row for each region."""
        return frame(map(row_of, self.regions), names_of("RegionName"))


class RegionTables(Model):
    """Of `Region`."""

    __slots__ = ()
    if TYPE_CHECKING:
        rules: Mapping[str, Any]
        cautions: Sequence[str]

    def to_frame(self) -> pd.DataFrame:
        """One row for each rule: topic, field, value, clause, and how it was obtained."""
        rows = (row for topic, rule in self.rules.items() for row in _rows(topic, rule))
        return frame(rows, ["topic", "field", "value", *SOURCE], attributes={"cautions": self.cautions})


class SelectionResultTables(Table):
    """Of `SelectionResult`."""

    __slots__ = ()
    if TYPE_CHECKING:
        recommendation: Recommendation
        candidates: Sequence[CandidateResult]
        break_evens: Sequence[BreakEven]
        sensitivities: Sequence[Sensitivity]

    def to_frame(self) -> pd.DataFrame:
        """One row for each candidate: verdict, rank and size, the balance of its first year, energy and money.

        What a candidate has none of, such as the money of one that fails, is missing in its row.
        """
        return self._frame(map(_candidate_row, self.candidates), [*OWN, *names_of("Balance"), *ENERGY, *MONEY, "replacements"])

    def break_evens_to_frame(self) -> pd.DataFrame:
        """One row for each pair of neighbours and place; the `face` of the whole roof is None."""
        rows = (
            {
                "module": pair.module,
                "smaller": pair.smaller,
                "larger": pair.larger,
                "face": place.face,
                "pays": place.power.pays,
                **{f"power_{name}": getattr(place.power, name) for name in ("value_w", "low_w", "high_w")},
                **{f"price_gap_{name}": getattr(place.price_gap, name) for name in GAP},
            }
            for pair in self.break_evens
            for place in pair.places
        )
        powers = ["power_value_w", "power_low_w", "power_high_w"]
        columns = ["module", "smaller", "larger", "face", "pays", *powers, *(f"price_gap_{name}" for name in GAP)]
        return self._frame(rows, columns)

    def curves_to_frame(self) -> pd.DataFrame:
        """One row for each pair of neighbours, place and module power: the `gain` of the larger, worth today."""
        rows = (
            {
                "module": pair.module,
                "smaller": pair.smaller,
                "larger": pair.larger,
                "face": place.face,
                "module_power_w": power_w,
                "gain": gain,
            }
            for pair in self.break_evens
            for place in pair.places
            for power_w, gain in zip(pair.module_power_w, place.gains, strict=True)
        )
        return self._frame(rows, ["module", "smaller", "larger", "face", "module_power_w", "gain"])

    def sensitivities_to_frame(self) -> pd.DataFrame:
        """One row for each input, with the fields of `Sensitivity`."""
        return self._frame(map(row_of, self.sensitivities), names_of("Sensitivity"))

    def scenarios_to_frame(self) -> pd.DataFrame:
        """One row for everything that was tried, with the fields of `Scenario`."""
        return self._frame(map(row_of, self.recommendation.scenarios), names_of("Scenario"))


class SiteClimateResultTables(Table):
    """Of `SiteClimateResult`."""

    __slots__ = ()
    if TYPE_CHECKING:
        horizontal: HorizontalClimate
        linke_turbidity_by_month: Sequence[float] | None
        faces: Sequence[FaceClimate]

    def to_frame(self) -> pd.DataFrame:
        """One row for each `month`, 1 to 12: air temperature, and irradiation on the horizontal and on each face.

        The columns are `temp_air_c`, `linke_turbidity` (empty where the maps have no data), `ghi_kwh_m2`, and for each face
        its name after "poa_kwh_m2 ".
        """
        air = self.horizontal.temp_air_c_by_month
        columns = {
            "month": range(1, len(air) + 1),
            "temp_air_c": air,
            "linke_turbidity": self.linke_turbidity_by_month or (math.nan,) * len(air),
            "ghi_kwh_m2": self.horizontal.ghi_kwh_m2_by_month,
            **{f"poa_kwh_m2 {face.face}": face.poa_kwh_m2_by_month for face in self.faces},
        }
        months = zip(*columns.values(), strict=True)
        return self._frame((dict(zip(columns, month, strict=True)) for month in months), list(columns), index="month")

    def seasons_to_frame(self) -> pd.DataFrame:
        """One row for each face and season, with the fields of `SeasonIrradiation`.

        In place of `ratios` there is a column for each microinverter, its name after "dc_ac_ratio ".
        """
        rows = [{"face": face.face, **row_of(season), **_ratios_row(season)} for face in self.faces for season in face.seasons]
        ratios = dict.fromkeys(name for face in self.faces for season in face.seasons for name in _ratios_row(season))
        return self._frame(rows, ["face", *(name for name in names_of("SeasonIrradiation") if name != "ratios"), *ratios])

    def levels_to_frame(self) -> pd.DataFrame:
        """One row for each face and level of irradiance: `lower_edge_w_m2` and `energy_share`."""
        rows = (
            {"face": face.face, "lower_edge_w_m2": edge, "energy_share": share}
            for face in self.faces
            for edge, share in zip(face.level_lower_edges_w_m2, face.energy_share_by_level, strict=True)
        )
        return self._frame(rows, ["face", "lower_edge_w_m2", "energy_share"])


class SizingResultTables(Table):
    """Of `SizingResult`."""

    __slots__ = ()
    if TYPE_CHECKING:
        pairings: Sequence[PairingSizing]

    def to_frame(self) -> pd.DataFrame:
        """One row for each check: `microinverter`, then the fields of `Check`."""
        rows = ({"microinverter": p.microinverter} | row_of(check) for p in self.pairings for check in p.checks)
        return self._frame(rows, ["microinverter", *names_of("Check")])


def circuit_columns() -> list[str]:
    """The fields of a branch circuit that are plain figures."""
    return [name for name in names_of("BranchCircuit") if name != "units_by_face"]


def circuit_row(circuit: BranchCircuit) -> Row:
    """A branch circuit as a row."""
    return {name: getattr(circuit, name) for name in circuit_columns()}


def _ratios_row(season: SeasonIrradiation) -> Row:
    return {f"dc_ac_ratio {each.microinverter}": each.dc_ac_ratio for each in season.ratios}


def _candidate_row(candidate: CandidateResult) -> Row:
    row = {name: getattr(candidate, name) for name in OWN}
    if candidate.energy is not None:
        row |= row_of(candidate.energy.first_year) | {name: getattr(candidate.energy, name) for name in ENERGY}
    if candidate.money is not None:
        row |= {name: getattr(candidate.money, name) for name in MONEY}
    return row | {"replacements": candidate.replacements.expected if candidate.replacements else None}


def _range_names(name: str) -> list[str]:
    return [name, f"{name}_low", f"{name}_high"]


def _range_row(name: str, figure: Range) -> Row:
    return dict(zip(_range_names(name), (figure.value, figure.low, figure.high), strict=True))


def _as_python(step: str) -> str:
    if step.isascii() and step.isdigit():
        return f"[{step}]"
    return f".{step}" if step.isidentifier() else f"[{json.dumps(step, ensure_ascii=False)}]"


def _rows(topic: str, rule: Any) -> Iterator[Row]:
    if isinstance(rule, list):
        for index, each in enumerate(rule):
            yield from _rows(f"{topic}[{index}]", each)
    elif isinstance(rule, dict):
        source = {name: rule.get(name) for name in SOURCE}
        values = {name: value for name, value in rule.items() if name not in SOURCE} or {None: None}
        for name, value in values.items():
            yield {"topic": topic, "field": name, "value": value, **source}

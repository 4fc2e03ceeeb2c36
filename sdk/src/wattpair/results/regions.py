"""The answers of `list_regions` and `read_region`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wattpair.frames import Row, frame, names_of, row_of

if TYPE_CHECKING:
    import pandas as pd

SOURCE = ("clause", "obtained")


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionName:
    """A region whose rules the service carries.

    Attributes
    ----------
    name : str
        Name of the region, as requests take it.
    place, edition : str
        Where its rules hold, and their edition.
    """

    name: str
    place: str
    edition: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionsResult:
    """The regions whose rules the service carries.

    Attributes
    ----------
    regions : tuple of RegionName
        The regions, in alphabetical order.
    """

    regions: tuple[RegionName, ...]

    def to_frame(self) -> pd.DataFrame:
        """One row for each region."""
        return frame(map(row_of, self.regions), names_of(RegionName))


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """The rules of a region.

    Attributes
    ----------
    name, place, edition : str
        As in `RegionName`.
    rules : mapping
        The rules in the form of `RegionRules`, so that they can be changed and sent as `region_rules`.
    cautions : tuple of str
        Plain sentences that must stay with the rules.
    """

    name: str
    place: str
    edition: str
    rules: Mapping[str, Any]
    cautions: tuple[str, ...]

    def to_frame(self) -> pd.DataFrame:
        """One row for each rule: topic, field, value, clause, and how it was obtained."""
        rows = (row for topic, rule in self.rules.items() for row in _rows(topic, rule))
        return frame(rows, ["topic", "field", "value", *SOURCE], attributes={"cautions": self.cautions})


def _rows(topic: str, rule: Any) -> Iterator[Row]:
    if isinstance(rule, list):
        for index, each in enumerate(rule):
            yield from _rows(f"{topic}[{index}]", each)
    elif isinstance(rule, dict):
        source = {name: rule.get(name) for name in SOURCE}
        values = {name: value for name, value in rule.items() if name not in SOURCE} or {None: None}
        for name, value in values.items():
            yield {"topic": topic, "field": name, "value": value, **source}

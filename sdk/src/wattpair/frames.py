"""Tables of results as pandas DataFrames; pandas is imported when a table is asked for, not before."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

Row = dict[Any, Any]


def row_of(item: Any) -> Row:
    """A flat dataclass as a row: its field names and values."""
    return {each.name: getattr(item, each.name) for each in fields(item)}


def names_of(kind: Any) -> list[str]:
    """Field names of a dataclass, the columns of its rows."""
    return [each.name for each in fields(kind)]


class Figures:
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

"""A table of roofs on a Dask cluster of two processes; before releases one of them is killed in the middle."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from distributed import Client as DaskClient, LocalCluster

from tests.sdk.conftest import FACES, MODULE, UNITS
from wattpair import Client, ResultsFileError, Site, portfolio
from wattpair.roofs.many import Outcome
from wattpair.roofs.results_table import row_of, table_of, write

COMMON: dict[str, Any] = {"module": MODULE, "microinverters": UNITS[:2]}
ROOFS = int(os.environ.get("TEST_ROOFS", "120"))
"""Roofs of the test with a killed worker; by hand 2,000."""


def table(count: int) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "offer": [f"{index:05}" for index in range(count)],
            "customer": "somebody",
            "site.latitude_deg": [45 + 7 * index / count for index in range(count)],
            "site.longitude_deg": 5.2,
            "faces[0].name": "south",
            "faces[0].tilt_deg": 35,
            "faces[0].azimuth_deg": 180.0,
            "faces[0].module_count": [8 + index % 5 for index in range(count)],
            "faces[1].name": ["west" if index % 2 else None for index in range(count)],
            "faces[1].tilt_deg": [35 if index % 2 else None for index in range(count)],
            "faces[1].azimuth_deg": [270 if index % 2 else None for index in range(count)],
            "faces[1].module_count": [4 if index % 2 else None for index in range(count)],
        }
    )


@contextmanager
def cluster(*, processes: bool) -> Iterator[DaskClient]:
    """A cluster of two workers; puts back what Dask sets for its processes, such as the number of threads."""
    before = dict(os.environ)
    with (
        LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=processes,
            dashboard_address="127.0.0.1:0",
            host="127.0.0.1" if processes else None,
            silence_logs=50,
        ) as made,
        DaskClient(made) as client,
    ):
        yield client
    os.environ.clear()
    os.environ.update(before)


@pytest.fixture(scope="module")
def dask() -> Iterator[DaskClient]:
    """A cluster of threads, which starts at once; the READMEs and the releases have one of processes."""
    with cluster(processes=False) as client:
        yield client


def run(roofs: Path, results: Path, url: str, **options: Any) -> portfolio.Portfolio:
    given: dict[str, Any] = {"call": "size_pairings", "common": COMMON, "identity": "offer", "keep": ["customer"]}
    return portfolio.run(roofs, results, base_url=url, **(given | options))


def lowest(result: Any) -> dict[str, object]:
    return {"lowest_c": result.design_temperatures.lowest_c, "verdict": result.pairings[0].verdict}


@pytest.mark.release
def test_a_killed_worker_loses_none_and_doubles_none(service_url: str, tmp_path: Path) -> None:
    roofs, file, given = tmp_path / "roofs.parquet", tmp_path / "kept.jsonl", table(ROOFS)
    given.to_parquet(roofs)

    def kill_in_the_middle(worker: int) -> None:
        while not file.exists() or file.read_bytes().count(b"\n") < ROOFS // 3:
            time.sleep(0.02)
        os.kill(worker, signal.SIGKILL)

    with cluster(processes=True) as dask:
        (first, *_) = dask.run(os.getpid).values()
        killer = threading.Thread(target=kill_in_the_middle, args=[first])
        killer.start()
        made = run(roofs, tmp_path / "results.parquet", service_url, cluster=dask, resume=file, columns=lowest)
        killer.join()
        assert first not in dask.run(os.getpid).values()
    written = pd.read_parquet(tmp_path / "results.parquet")
    assert list(written["offer"]) == list(given["offer"])
    assert list(written.columns) == ["offer", "customer", "succeeded", "error", "lowest_c", "verdict"]
    assert written["succeeded"].all()
    assert made.failures == {}
    keys = [line[:80] for line in file.read_bytes().splitlines()[1:]]
    assert len(keys) == len(set(keys)) == ROOFS
    with Client(service_url) as client:
        for index in (0, ROOFS // 2, ROOFS - 1):
            count = int(given["faces[0].module_count"][index])
            faces = [{"name": "south", "tilt_deg": 35, "azimuth_deg": 180, "module_count": count}]
            if index % 2:
                faces.append({"name": "west", "tilt_deg": 35, "azimuth_deg": 270, "module_count": 4})
            site = {"latitude_deg": float(given["site.latitude_deg"][index]), "longitude_deg": 5.2}
            alone = client.size_pairings(**COMMON, site=site, faces=faces)
            assert written["lowest_c"][index] == alone.design_temperatures.lowest_c


def test_from_csv_to_csv_with_failures_and_again_from_what_was_kept(service_url: str, dask: DaskClient, tmp_path: Path) -> None:
    roofs, results, file = tmp_path / "roofs.csv", tmp_path / "results.csv", tmp_path / "kept.jsonl"
    given = table(10)
    given.loc[3, "site.latitude_deg"] = 99
    given.loc[4, "site.latitude_deg"] = None
    given.to_csv(roofs, index=False)
    mask = os.umask(0o027)
    made = run(roofs, results, service_url, cluster=dask, resume=file)
    os.umask(mask)
    assert results.stat().st_mode & 0o777 == 0o640
    written = pd.read_csv(results, dtype={"offer": "string"})
    assert list(written["offer"]) == list(given["offer"])
    assert list(written.index[~written["succeeded"]]) == [3, 4]
    assert list(made.failures) == ["00003", "00004"]
    assert "site.latitude_deg: 99" in written["error"][3]
    assert "site.latitude_deg: nothing was given" in written["error"][4]
    assert written["design_temperatures.lowest_c"].notna().sum() == 8
    kept = file.read_bytes()
    again = run(roofs, tmp_path / "again.csv", service_url, cluster=dask, resume=file, retries=0)
    assert file.read_bytes() == kept
    with pytest.raises(ResultsFileError, match="is of another base url: "):
        run(roofs, tmp_path / "again.csv", "http://127.0.0.1:9", cluster=dask, resume=file, retries=0)
    assert (tmp_path / "again.csv").read_bytes() == results.read_bytes()
    assert list(again.failures) == list(made.failures)
    file.write_bytes(file.read_bytes().replace(b'"0.1.0"', b'"0.0.1"', 1))
    with pytest.raises(ResultsFileError, match="is of another client version: "):
        run(roofs, results, service_url, cluster=dask, resume=file)


def test_a_fault_in_cells_or_columns_is_a_failure_as_every_other(service_url: str, dask: DaskClient, tmp_path: Path) -> None:
    roofs, file = tmp_path / "roofs.csv", tmp_path / "kept.jsonl"
    given = table(20).astype("object")
    given.loc[2, "faces[0].tilt_deg"] = "35,5"
    given.loc[3, "faces[0].tilt_deg"] = 120
    given.to_csv(roofs, index=False)

    def unless_cold(result: Any) -> dict[str, object]:
        if result.design_temperatures.lowest_c == coldest:
            raise KeyError("too cold")
        return lowest(result)

    coldest = 99.0
    first = run(roofs, tmp_path / "first.csv", service_url, cluster=dask, resume=file, columns=unless_cold)
    assert {name: type(error).__name__ for name, error in first.failures.items()} == {
        "00002": "ValueError",
        "00003": "InvalidFields",
    }
    coldest = float(first.table["lowest_c"][5])
    kept = file.read_bytes()
    given.loc[2, "faces[0].tilt_deg"] = "35.5"
    given.to_csv(roofs, index=False)
    again = run(roofs, tmp_path / "again.csv", service_url, cluster=dask, resume=file, columns=unless_cold)
    assert len(file.read_bytes().splitlines()) == len(kept.splitlines()) + 1
    assert "00002" not in again.failures
    assert "00005" in again.failures
    for made in (first, again):
        told = made.table[~made.table["succeeded"]]
        assert dict(zip(told["offer"], told["error"], strict=True)) == {
            name: f"{type(error).__name__}: {error}" for name, error in made.failures.items()
        }
    assert again.table["error"][5] == "ValueError: columns: KeyError: 'too cold'"
    assert isinstance(again.failures["00005"].__cause__, KeyError)


@pytest.mark.parametrize("name", ["customer", "error"])
def test_a_column_of_results_that_the_table_has_already_ends_the_run(
    service_url: str, dask: DaskClient, tmp_path: Path, name: str
) -> None:
    table(3).to_csv(tmp_path / "roofs.csv", index=False)
    with pytest.raises(ValueError, match=f"columns: '{name}' stands in the table already"):
        run(tmp_path / "roofs.csv", tmp_path / "results.csv", service_url, cluster=dask, columns=lambda _: {name: 1})
    assert [path.name for path in tmp_path.iterdir()] == ["roofs.csv"]


def test_common_values_go_together_with_a_rows_own(service_url: str, dask: DaskClient, tmp_path: Path) -> None:
    roofs = tmp_path / "roofs.csv"
    roofs.write_text("id,site.temp_lowest_c,microinverters[0].name,faces[1].tilt_deg\n0017,-11,A,\nNA,,,200\n")
    common = COMMON | {"site": Site(latitude_deg=52, longitude_deg=5.2, temp_lowest_c=-7), "faces": FACES[:2]}
    made = run(roofs, tmp_path / "results.csv", service_url, common=common, cluster=dask, identity="id", keep=())
    assert list(made.table["id"]) == ["0017", "NA"]
    assert made.table["design_temperatures.lowest_c"][0] == -11
    assert "Local codes" in made.table["cautions"][0]
    assert "faces[1].tilt_deg: 200.0 was given" in made.table["error"][1]
    assert list(made.failures) == ["NA"]


def test_columns_of_structs_and_the_same_columns_where_every_roof_fails(
    service_url: str, dask: DaskClient, tmp_path: Path
) -> None:
    roofs = tmp_path / "roofs.parquet"
    faces = [[{"name": "a", "tilt_deg": 20.0, "azimuth_deg": 90.0, "module_count": 4, "horizon": None}], []]
    sites = [{"latitude_deg": 52.0, "longitude_deg": 5.0}, {"latitude_deg": 99.0, "longitude_deg": 5.0}]
    pd.DataFrame({"offer": [1, 2], "site": sites, "faces": faces}).to_parquet(roofs)
    made = run(roofs, tmp_path / "results.csv", service_url, keep=(), cluster=dask)
    assert list(made.table["succeeded"]) == [True, False]
    assert "faces: an array of 0 was given" in made.table["error"][1]
    pd.DataFrame({"offer": [1, 2], "site": sites[1:] * 2}).to_parquet(roofs)
    none = run(roofs, tmp_path / "results.csv", service_url, keep=(), cluster=dask)
    assert list(none.failures) == ["1", "2"]
    assert list(none.table.columns) == list(made.table.columns)


def rows(values: list[Any]) -> list[dict[str, object]]:
    """Rows of a table whose results are their own columns, or else one of the name "v"."""
    made = lambda value: value if isinstance(value, dict) else {"v": value}  # noqa: E731
    return [row_of(Outcome(index, value, None), made, ())[0] for index, value in enumerate(values)]


def test_whole_numbers_stay_whole_beside_empty_cells(tmp_path: Path) -> None:
    outcomes: list[Outcome[Any]] = [Outcome(0, 4, None), Outcome(1, None, KeyError("a"))]
    made = [row_of(outcome, lambda count: {"count": count, "share": count / 2}, ())[0] for outcome in outcomes]
    write(table_of(pd.DataFrame({"id": ["0017", "NA"]}), made), tmp_path / "results.csv")
    assert (
        tmp_path / "results.csv"
    ).read_text() == "id,succeeded,error,count,share\n0017,True,,4,2.0\nNA,False,KeyError: 'a',,\n"


@pytest.mark.parametrize(
    ("cells", "texts"),
    [
        ([1, "x", 2.5, None], ["1", "x", "2.5"]),
        (["a", b"x", "b", None], ["a", "b'x'", "b"]),
        ([True, 1, np.bool_(False), None], ["True", "1", "False"]),
        ([10**30, -1, 2, None], ["1" + "0" * 30, "-1", "2"]),
        ([2**63, None, -(2**63), 1], [str(2**63), str(-(2**63)), "1"]),
        ([{}, {"a": 1}, [], None], ["a"]),
        ([[1], "x", (), None], ["[1]", "x", "()"]),
        (["\ud800", "x", "", None], ["?", "x", ""]),
        ([Decimal("1e999"), Decimal(1), Decimal(2), None], ["1E+999", "1", "2"]),
        ([{7: 1}, {"7": "a"}, {7: np.float64(2)}, {}], ["1", "a", "2.0"]),
    ],
)
def test_values_that_do_not_go_together_are_written_as_texts(tmp_path: Path, cells: list[Any], texts: list[str]) -> None:
    write(table_of(pd.DataFrame({"id": list("1234")}), rows(cells)), tmp_path / "results.parquet")
    written = pd.read_parquet(tmp_path / "results.parquet")
    assert written["succeeded"].all()
    if texts == ["a"]:
        return
    (column,) = written.columns[3:]
    assert list(written[column].dropna()) == texts


@pytest.mark.parametrize(
    "cells",
    [
        [1, 2, None],
        [np.int64(2**62), 1, None],
        [2**63 - 1, -(2**63), None],
        [1.5, np.float64(2), None],
        [True, np.bool_(False), None],
        ["a", "0017", None],
        [date(2026, 1, 2), date(2026, 1, 3), None],
        [datetime(2026, 1, 2, 3, tzinfo=UTC), datetime(2026, 1, 3, 3, tzinfo=UTC), None],
        [Decimal("1.20"), Decimal("3.45"), None],
    ],
)
def test_values_of_one_kind_stay_what_they_are(tmp_path: Path, cells: list[Any]) -> None:
    write(table_of(pd.DataFrame({"id": list("123")}), rows(cells)), tmp_path / "results.parquet")
    written = pd.read_parquet(tmp_path / "results.parquet")["v"]
    assert list(written[:2]) == cells[:2]
    assert not isinstance(written[0], str) or isinstance(cells[0], str)
    assert pd.isna(written[2])


def test_columns_that_are_no_mapping_cost_their_own_row_alone() -> None:
    made = lambda value: value  # noqa: E731
    (good, none), (bad, error) = (row_of(Outcome(0, value, None), made, ()) for value in ({"v": 1}, 3))
    assert (good["succeeded"], none, bad["succeeded"]) == (True, None, False)
    assert str(bad["error"]).startswith("ValueError: columns: TypeError: 'int' object is not iterable")
    assert isinstance(error, ValueError)


OPTIONS: list[tuple[dict[str, Any], type[Exception], str]] = [
    ({"columns": 3}, TypeError, "columns: 3 .* allowed is a function of a result"),
    ({"keep": "customer"}, TypeError, "keep: 'customer' .* allowed is a sequence of names of columns"),
    ({"keep": ["module"]}, ValueError, "keep: 'module' is the name of a column of the results too"),
    ({"keep": ["customer", "town"]}, ValueError, "has no column 'town'"),
    ({"common": [3]}, TypeError, r"common: \[3\] \(list\) was given; allowed is a mapping"),
    ({"common": COMMON | {"modul": MODULE}}, ValueError, "common: 'modul' is no argument of size_pairings; allowed are site,"),
    ({"common": COMMON | {"module": {"power_w": "425"}}}, TypeError, r"common\.module\.power_w: '425' \(str\) was given"),
    ({"common": {"module": MODULE}}, ValueError, "no column, and nothing in `common`, gives 'microinverters'"),
    ({"call": "close"}, ValueError, "call: 'close' was given; allowed is the name of a client's method"),
    ({"call": "sheet_pdf"}, ValueError, "call: 'sheet_pdf' was given; allowed is the name of a client's method that answers"),
    ({"url": "service.test"}, ValueError, "base_url: 'service.test' was given"),
    ({"timeout": 0}, ValueError, "timeout: 0 was given"),
    ({"workers": 0}, ValueError, "workers: 0 was given"),
]
COLUMNS: list[tuple[dict[str, Any], str]] = [
    ({"offer": ["1", "2", "1"]}, "column 'offer' has '1' in row 1 below the head, and again in row 3; allowed is"),
    ({"offer": ["1", None, "2"]}, "column 'offer' is empty below the head, in row 2"),
    ({"town": "here"}, "column 'town' is no argument of size_pairings; name it in `keep`, or use such as site, "),
    ({"site latitude": 3}, "column 'site latitude' is no argument of size_pairings; .* or use such as site.latitude_deg, "),
    ({"site": "here"}, "column 'site' lies around another column"),
]


@pytest.mark.parametrize(
    ("given", "options", "raised", "text"),
    [
        (table(3).drop(columns="offer"), {}, ValueError, "has no column 'offer'; it has customer, site.latitude_deg"),
        *((table(3).assign(**columns), {}, ValueError, text) for columns, text in COLUMNS),
        *((table(3), *row) for row in OPTIONS),
    ],
)
def test_a_table_or_option_that_cannot_be_used_is_refused_before_anything_is_sent(
    tmp_path: Path, given: pd.DataFrame, options: dict[str, Any], raised: type[Exception], text: str
) -> None:
    given.to_csv(tmp_path / "roofs.csv", index=False)
    with pytest.raises(raised, match=text):
        run(tmp_path / "roofs.csv", tmp_path / "results.csv", **({"url": "http://127.0.0.1:9"} | options))
    assert [path.name for path in tmp_path.iterdir()] == ["roofs.csv"]


TARGETS = {
    "results.xlsx": r"allowed is a file that ends in \.csv or \.parquet",
    "results": "allowed is a file that ends in",
    "nowhere/results.csv": "cannot be written: No such file or directory; allowed is a file that can be",
    "roofs.csv": r"roofs\.csv is given for something else too",
    "kept.csv": r"kept\.csv is given for something else too",
    "folder.csv": r"folder\.csv is a folder or protected against writing; allowed is a file",
    "protected.parquet": r"protected\.parquet is a folder or protected against writing",
    "/proc/results.csv": r"/proc/results\.csv cannot be written: ",
}


@pytest.mark.parametrize(("target", "text"), TARGETS.items(), ids=TARGETS)
def test_a_place_that_cannot_be_written_is_refused_before_anything_is_sent(tmp_path: Path, target: str, text: str) -> None:
    table(3).to_csv(tmp_path / "roofs.csv", index=False)
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "protected.parquet").write_bytes(b"dear")
    (tmp_path / "protected.parquet").chmod(0o444)
    before = sorted(path.name for path in tmp_path.iterdir())
    with pytest.raises(ValueError, match=f"results: .*{text}"):
        run(tmp_path / "roofs.csv", tmp_path / target, "http://127.0.0.1:9", resume=tmp_path / "kept.csv")
    assert sorted(path.name for path in tmp_path.iterdir()) == before
    assert (tmp_path / "protected.parquet").read_bytes() == b"dear"

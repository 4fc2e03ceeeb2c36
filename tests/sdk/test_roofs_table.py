"""What a table of roofs says of each, and what it says where it cannot be read."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from hypothesis import given, strategies as st

from wattpair import BuiltInClimate, Client, DesignFace, MonthlyTotals, Site
from wattpair.call import Call, call_of
from wattpair.roofs.many import Unreadable
from wattpair.roofs.roofs_table import RoofsTable, read

HERE: dict[str, Any] = {"site": {"latitude_deg": 52.0, "longitude_deg": 5.0}, "modules": [], "candidates": [], "faces": []}
DESIGN: Call = call_of(Client.design_roof)


def of_csv(folder: Path, text: str | bytes, common: dict[str, Any] | None = None, **options: Any) -> RoofsTable:
    file = folder / "roofs.csv"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read(file, DESIGN, HERE if common is None else common, **({"identity": "id"} | options))


def only(found: RoofsTable) -> dict[str, Any]:
    (row,) = found.rows
    assert isinstance(row, dict), row
    return row


def fault(found: RoofsTable) -> str:
    (row,) = found.rows
    assert isinstance(row, Unreadable), row
    return row.reason


@pytest.mark.parametrize(
    ("column", "cell", "value"),
    [
        ("faces[0].name", "0017", "0017"),
        ("faces[0].name", "NA", "NA"),
        ("faces[0].name", "nan", "nan"),
        ("faces[0].name", " Süd ", " Süd "),
        ("faces[0].name", '"Gaube, ""links""\nhinten"', 'Gaube, "links"\nhinten'),
        ("faces[0].tilt_deg", "35", 35.0),
        ("faces[0].tilt_deg", " -3.5e1 ", -35.0),
        ("faces[0].tilt_deg", "0.5", 0.5),
        ("faces[0].tilt_deg", "+5", 5.0),
        ("faces[0].tilt_deg", ".5", 0.5),
        ("faces[0].tilt_deg", "5.", 5.0),
        ("faces[0].tilt_deg", "1E+1", 10.0),
        ("faces[0].module_count", "8", 8),
        ("faces[0].module_count", "8.0", 8),
        ("faces[0].module_count", "05", 5),
        ("faces[0].module_count", " +5", 5),
        ("faces[0].module_count", "5.", 5),
        ("faces[0].module_count", "9" * 30, int("9" * 30)),
        ("faces[0].mounting", " open_rack", "open_rack"),
        ("faces[0].row_module_counts", '"[4, 4]"', [4, 4]),
        ("faces[0].layout", '"{""width_m"": 8}"', {"width_m": 8}),
        ("materials.backup.wanted", "TRUE", True),
        ("materials.backup.wanted", "false", False),
        ("price_book.tax_percent", "07.50", "07.50"),
        ("load_w", '"[1, 2.5]"', [1, 2.5]),
        ("load_w[0]", "3", 3.0),
        ("weather.kind", "climate", "climate"),
        ("weather.text", "1,2".join('""'), "1,2"),
        ("region", "germany", "germany"),
    ],
)
def test_a_cell_is_what_its_argument_takes(tmp_path: Path, column: str, cell: str, value: object) -> None:
    row: Any = only(of_csv(tmp_path, f"id,{column}\n1,{cell}\n"))
    for step in column.replace("]", "").replace("[", ".").split("."):
        row = row[int(step) if step.isdigit() else step]
    assert row == value
    assert type(row) is type(value)


NUMBER = "a number with a point as decimal mark, such as 35.5"
LIST, OBJECT = "a list as JSON, such as [1, 2]", 'an object as JSON, such as {"tilt_deg": 35}'
NO_NUMBERS = [
    ".",
    "e5",
    "35,5",
    "1.234,5",
    "35°",
    "abc",
    "nan",
    "inf",
    "1e999",
    "-1e999",
    "1_000",
    "1 000",
    "٣٥",
    "TRUE",
    "-",
    "0x1F",
]


@pytest.mark.parametrize(
    ("column", "cell", "allowed"),
    [
        *(("faces[0].tilt_deg", cell, NUMBER) for cell in NO_NUMBERS),
        ("faces[0].module_count", "8.5", "a whole number"),
        ("faces[0].module_count", "1_0", "a whole number"),
        ("faces[0].module_count", "٣", "a whole number"),
        pytest.param("faces[0].module_count", "9" * 5000, "a whole number", id="5000 digits"),
        ("materials.backup.wanted", "yes", "true or false"),
        ("faces[0].row_module_counts", "4", LIST),
        ("faces[0].row_module_counts", "[4", LIST),
        ("faces[0].row_module_counts", "[NaN]", LIST),
        pytest.param("faces[0].row_module_counts", "[" * 100_000, LIST, id="deep list"),
        ("faces[0].layout", "[4]", OBJECT),
    ],
)
def test_a_cell_that_cannot_be_read_is_named_with_what_is_allowed(tmp_path: Path, column: str, cell: str, allowed: str) -> None:
    text = cell if len(cell) <= 60 else cell[:57] + "..."
    expected = f"column {column!r}: {text!r} was given; allowed is {allowed}"
    assert fault(of_csv(tmp_path, f'id,{column}\n1,"{cell}"\n')) == expected


LATITUDE, TILT = "column 'site.latitude_deg': 'x' was given; ", "column 'faces[0].tilt_deg': 'y' was given; "


@pytest.mark.parametrize(
    ("row", "starts"),
    [
        ("2,x,y", [LATITUDE, TILT]),
        ("2,45.5,20,8", ["the row has 4 cells, where the head has 3"]),
        ("2,45.5", ["the row has 2 cells, where the head has 3"]),
        ("2,45.5,20,", ["the row has 4 cells, where the head has 3"]),
    ],
)
def test_a_row_names_all_its_faults_and_spoils_no_other(tmp_path: Path, row: str, starts: list[str]) -> None:
    first, second, third = of_csv(tmp_path, f"id,site.latitude_deg,faces[0].tilt_deg\n1,52.0,35\n{row}\n3,45.5,20\n").rows
    assert isinstance(first, dict)
    assert isinstance(third, dict)
    assert (first["site"]["latitude_deg"], third["faces"]) == (52.0, [{"tilt_deg": 20.0}])
    assert isinstance(second, Unreadable)
    lines = second.reason.splitlines()
    assert len(lines) == len(starts)
    assert [line[: len(start)] for line, start in zip(lines, starts, strict=True)] == starts


def test_what_is_kept_stays_what_it_is_and_what_is_empty_is_not_there(tmp_path: Path) -> None:
    text = "\ufeffid , town,faces[0].name,,\r\n0017,NA,,,\r\n,,,\r\n\r\nnull,,x\r\n"
    found = of_csv(tmp_path, text, keep=["town"])
    assert list(found.head.columns) == ["id", "town"]
    assert list(found.head["id"]) == ["0017", "null"]
    assert found.head["town"][0] == "NA"
    assert pd.isna(found.head["town"][1])
    assert [row["faces"] for row in found.rows if isinstance(row, dict)] == [[], [{"name": "x"}]]


def test_a_row_without_what_is_needed_names_the_columns(tmp_path: Path) -> None:
    common = {name: HERE[name] for name in ("modules", "candidates")}
    head = "id,site.latitude_deg,site.longitude_deg,faces[0].name"
    found = of_csv(tmp_path, f"{head}\n1,,,\n2,52,x,\n3,52,,a\n", common)
    first, second, third = found.rows
    assert isinstance(first, Unreadable)
    assert isinstance(second, Unreadable)
    assert first.reason.splitlines() == [
        "nothing was given for site, which is needed; allowed is a value in a column of it: "
        "'site.latitude_deg', 'site.longitude_deg'",
        "nothing was given for faces, which is needed; allowed is a value in a column of it: 'faces[0].name'",
    ]
    assert second.reason.startswith("column 'site.longitude_deg': 'x' was given")
    assert isinstance(third, dict)


SOUTH = DesignFace(name="south", tilt_deg=35, azimuth_deg=180, module_count=8)


def test_a_rows_cells_are_laid_upon_what_is_common(tmp_path: Path) -> None:
    common = HERE | {
        "site": Site(latitude_deg=52, longitude_deg=5.2),
        "faces": [SOUTH, {"name": "west", "layout": {"width_m": 8, "height_m": 5}}],
        "price_book": {"tax_percent": Decimal("21"), "items": []},
        "weather": BuiltInClimate(),
    }
    head = "id,site.latitude_deg,faces[0].tilt_deg,faces[1].layout.width_m,faces[2].name,price_book.tax_percent"
    found = of_csv(tmp_path, f"{head}\n1,45,20,9,east,19\n2,,,,,\n", common)
    first, second = found.rows
    assert isinstance(first, dict)
    assert second == common
    assert first["site"] == {"latitude_deg": 45.0, "longitude_deg": 5.2}
    assert first["faces"] == [
        {"name": "south", "tilt_deg": 20.0, "azimuth_deg": 180, "module_count": 8},
        {"name": "west", "layout": {"width_m": 9.0, "height_m": 5}},
        {"name": "east"},
    ]
    assert first["price_book"] == {"tax_percent": "19", "items": []}
    assert common["faces"][1]["layout"]["width_m"] == 8
    assert DESIGN.request(**second).content == DESIGN.request(**common).content


def test_what_is_common_stays_of_its_kind_and_goes_where_a_row_has_another(tmp_path: Path) -> None:
    common = HERE | {"weather": MonthlyTotals(ghi_kwh_m2_by_month=[60.0] * 12)}
    first, second = of_csv(tmp_path, "id,weather.ghi_kwh_m2_by_month[1],weather.kind\n1,75,\n2,,climate\n", common).rows
    assert isinstance(first, dict)
    assert isinstance(second, dict)
    assert first["weather"] == {"kind": "monthly", "ghi_kwh_m2_by_month": [60.0, 75.0, *[60.0] * 10]}
    assert second["weather"] == {"kind": "climate"}
    assert DESIGN.request(**first).content
    assert DESIGN.request(**second).content


def test_parquet_lays_structs_upon_what_is_common_and_lists_in_its_place(tmp_path: Path) -> None:
    file = tmp_path / "roofs.parquet"
    faces = [[{"name": "a", "module_count": 4}], None]
    sites: list[dict[str, float | None] | None] = [{"latitude_deg": 45.0, "elevation_m": None}, None]
    pd.DataFrame({"id": ["0017", "NA"], "site": sites, "faces": faces, "horizon_years": [20, None]}).to_parquet(file)
    first, second = read(file, DESIGN, HERE | {"faces": [SOUTH]}, "id").rows
    assert isinstance(first, dict)
    here = {
        "site": {"latitude_deg": 45.0, "longitude_deg": 5.0},
        "faces": [{"name": "a", "module_count": 4}],
        "horizon_years": 20,
    }
    assert DESIGN.request(**first).content == DESIGN.request(**HERE | here).content
    assert second == HERE | {"faces": [SOUTH]}


def test_a_null_in_json_takes_nothing_from_what_is_common(tmp_path: Path) -> None:
    site = '"{""latitude_deg"": null, ""elevation_m"": null}"'
    row = only(of_csv(tmp_path, f"id,site\n1,{site}\n", HERE | {"site": HERE["site"] | {"elevation_m": 3}}))
    with pytest.raises(TypeError, match=r"site\.latitude_deg: None was given; allowed is a number"):
        DESIGN.request(**row)
    row["site"]["latitude_deg"] = 52.0
    assert DESIGN.request(**row).content == DESIGN.request(**HERE).content


@pytest.mark.parametrize(
    ("site", "column"),
    [({"longitude_deg": Decimal("5.2")}, 52.1), (Site(latitude_deg=1, longitude_deg=Decimal("5.2")), Decimal("52.1"))],  # type: ignore[arg-type]
)
def test_decimals_stay_decimals_until_they_are_sent(tmp_path: Path, site: Any, column: object) -> None:
    file = tmp_path / "roofs.parquet"
    pd.DataFrame({"id": ["a"], "site.latitude_deg": [column], "price_book.tax_percent": [Decimal("7.50")]}).to_parquet(file)
    book = {"items": [{"part_number": "A", "cost": Decimal("1.10")}]}
    row = only(read(file, DESIGN, HERE | {"site": site, "price_book": book}, "id"))
    expected = {"site": {"latitude_deg": 52.1, "longitude_deg": 5.2}, "price_book": {"tax_percent": "7.50"} | book}
    assert DESIGN.request(**row).key == DESIGN.request(**HERE | expected).key


def test_texts_of_parquet_are_texts(tmp_path: Path) -> None:
    file = tmp_path / "roofs.parquet"
    pd.DataFrame({"id": ["a"], "site.latitude_deg": ["5"], "faces[0].name": [" x "]}).to_parquet(file)
    row = only(read(file, DESIGN, HERE, "id"))
    assert row["faces"][0]["name"] == " x "
    with pytest.raises(TypeError, match=r"site\.latitude_deg: '5' \(str\) was given; allowed is a number"):
        DESIGN.request(**row)


def test_nulls_within_parquet_are_not_given_but_in_lists(tmp_path: Path) -> None:
    file = tmp_path / "roofs.parquet"
    face = {"name": "a", "tilt_deg": None, "azimuth_deg": float("nan"), "layout": {"width_m": 8.0, "height_m": None}}
    pd.DataFrame({"id": ["a"], "faces": [[face]], "load_w": [[1.0, None]]}).to_parquet(file)
    row = only(read(file, DESIGN, HERE, "id"))
    assert row["faces"] == [{"name": "a", "layout": {"width_m": 8.0}}]
    with pytest.raises((TypeError, ValueError), match=r"load_w\[1\]: "):
        DESIGN.request(**row)


def test_a_gap_in_a_list_names_the_columns(tmp_path: Path) -> None:
    head = "id,faces[0].name,faces[1].name,faces[2].name,faces[2].tilt_deg"
    told = fault(of_csv(tmp_path, f"{head}\n1,a,,c,3\n"))
    assert told == ("column 'faces[2].name': nothing was given for [1], which comes before it; allowed is a list without a gap")
    assert only(of_csv(tmp_path, f"{head}\n1,a,,,\n"))["faces"] == [{"name": "a"}]
    only(of_csv(tmp_path, f"{head}\n1,a,,c,3\n", HERE | {"faces": [SOUTH, SOUTH]}))
    without = head.replace(",faces[1].name", "")
    only(of_csv(tmp_path, f"{without}\n1,a,c,3\n", HERE | {"faces": [SOUTH, SOUTH]}))
    with pytest.raises(ValueError, match=r"roofs: column 'faces\[2\]\.name': nothing was given for \[1\]"):
        of_csv(tmp_path, f"{without}\n1,a,c,3\n")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "is empty; allowed is a line of column names"),
        ("\n , \n", "is empty; allowed is a line of column names"),
        (
            "id;site.latitude_deg\n1;52,1\n",
            "has ';' between its cells; allowed are commas, with a point as decimal mark",
        ),
        ("id\tsite.latitude_deg\n1\t52.1\n", r"has '\\t' between its cells; allowed are commas"),
        ("id,Straße\n1,x\n".encode("cp1252"), "is not UTF-8; save it with this encoding"),
        ("id\n1\n".encode("utf-16"), "is not UTF-8"),
        ('id,faces[0].name\n1,"open\n2,x\n', "cannot be read: line 3: unexpected end of data"),
        ('id,faces[0].name\n1,"a"b\n', "cannot be read: line 2: "),
        (f"id,faces[0].name\n1,{'x' * 200_000}\n", "cannot be read: line 2: field larger"),
        (",id\n0,1\n", "a column has no name; allowed is a name of its own"),
        ("id,region,region\n1,a,b\n", "column 'region' stands there twice; allowed is a name of its own"),
        ("id,faces[0].nam\n1,a\n", r"'faces\[0\]\.nam' is no argument of design_roof; name it in `keep`, or use such as fa"),
        ("id,site.lat\n1,a\n", r"use such as site\.latitude_deg"),
        ("id,faces.name\n1,a\n", r"column 'faces\.name' is no argument of design_roof; .* use such as faces\[0\]\.name, "),
        ("id,region.name\n1,a\n", r"column 'region\.name' is no argument of design_roof"),
        ("id,region[0]\n1,a\n", r"column 'region\[0\]' is no argument of design_roof; .* use such as region"),
        ("id,return\n1,a\n", "column 'return' is no argument of design_roof"),
        ("id,5\n1,a\n", "column '5' is no argument of design_roof"),
        (
            "id,faces[-1].name\n1,a\n",
            r"column 'faces\[-1\]\.name' is no argument of design_roof; .* use such as faces\[0\]\.name",
        ),
        ("id,faces[99999].name\n1,a\n", "is no argument of design_roof"),
        ("id,Dachfläche\n1,a\n", "column 'Dachfläche' is no argument of design_roof"),
        ("id,faces[0].name,faces[00].name\n1,a,b\n", "lies around another column"),
    ],
)
def test_a_file_that_is_no_table_of_roofs_is_refused(tmp_path: Path, text: str | bytes, told: str) -> None:
    with pytest.raises(ValueError, match=f"^roofs: .*{told}"):
        of_csv(tmp_path, text)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("nothing.csv", "nothing.csv cannot be read: No such file"),
        ("nothing.parquet", "nothing.parquet cannot be read: No such file"),
        ("folder.csv", "folder.csv cannot be read: Is a directory"),
        ("text.parquet", "text.parquet cannot be read: "),
    ],
)
def test_a_file_that_cannot_be_read_is_refused(tmp_path: Path, name: str, text: str) -> None:
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "text.parquet").write_text("id\n1\n")
    with pytest.raises(ValueError, match=f"roofs: .*{text}"):
        read(tmp_path / name, DESIGN, HERE, "id")


def test_what_is_no_path_is_refused() -> None:
    with pytest.raises(TypeError, match=r"^roofs: 5 \(int\) was given; allowed is a path$"):
        read(5, DESIGN, HERE, "id")  # type: ignore[arg-type]


@given(data=st.binary(max_size=60), head=st.sampled_from(["id,faces[0].tilt_deg,faces[0].name\n", "id,load_w\n", ""]))
def test_whatever_stands_in_a_file_it_is_read_or_refused(
    data: bytes, head: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    found, told = None, ""
    try:
        found = of_csv(tmp_path_factory.getbasetemp(), head.encode() + data)
    except ValueError as error:
        told = str(error)
    assert told.startswith("roofs: ") if found is None else len(found.rows) == len(found.head)

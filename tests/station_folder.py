"""A station folder as operators have them: good files, and all sorts of bad ones beside them."""

from __future__ import annotations

from pathlib import Path

from tests.builders import TMY3
from tests.open_data import amsterdam_epw, pvlib_bundled

AMSTERDAM, GREENSBORO, GAPS = "Amsterdam.EPW", "greensboro.csv", "gaps.epw"
USABLE = {AMSTERDAM, GREENSBORO}
BROKEN = {
    GAPS: "temp_air_c is missing in 2 of 8760 hours",
    "broken head.epw": "its first line does not give latitude",
    "cut short.epw": "the file has 4000 hours; a typical year has 8760",
    "elsewhere.csv": "the file's header gives latitude 999",
    "empty.epw": "its first line does not begin with LOCATION",
    "large.csv": "the file has more than 8,000,000 bytes",
    "night shift.csv": "the time zone, the interval label",
    "nowhere.epw": "the file's header gives longitude nan",
    "prices.csv": "its first line does not give latitude",
}
"""By name: what is to be said of each. GAPS looks fine from outside and lies 2 km from Amsterdam."""


def with_cells(text: str, cells: dict[int, str], line: int = 0) -> str:
    """The text with other values in some cells of one line."""
    lines = text.split("\n")
    row = lines[line].split(",")
    for cell, value in cells.items():
        row[cell] = value
    return "\n".join([*lines[:line], ",".join(row), *lines[line + 1 :]])


def with_place(epw: str, latitude_deg: float, longitude_deg: float, zone: float = 1.0) -> str:
    """An EPW file's text with another place in its head."""
    return with_cells(epw, {6: str(latitude_deg), 7: str(longitude_deg), 8: str(zone)})


def cut_short(epw: str) -> str:
    """An EPW file's text up to hour 4000."""
    return "\n".join(epw.split("\n")[:4008])


def station_folder(folder: Path) -> Path:
    """Fill a folder with two good stations, the bad ones, and what is no weather file at all."""
    folder.mkdir(exist_ok=True)
    epw, tmy3 = amsterdam_epw(), pvlib_bundled(TMY3)
    texts = {
        AMSTERDAM: epw,
        GREENSBORO: tmy3,
        GAPS: with_cells(with_cells(with_place(epw, 52.31, 4.75), {6: "99.9"}, 20), {6: "99.9"}, 4000),
        "broken head.epw": with_cells(epw, {6: "north"}),
        "cut short.epw": cut_short(epw),
        "elsewhere.csv": with_cells(tmy3, {4: "999"}),
        "empty.epw": "",
        "large.csv": tmy3 + " " * 8_000_000,
        "night shift.csv": with_cells(tmy3, {3: "5"}),
        "nowhere.epw": with_cells(epw, {7: "nan"}),
        "prices.csv": "part,price\nmodule,99\n",
        "readme.txt": "stations",
    }
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="iso-8859-1")
    (folder / "folder.epw").mkdir()
    return folder

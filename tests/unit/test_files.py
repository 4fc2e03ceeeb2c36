"""Weather files: a good one is read as it stands, a bad one is refused with the reason."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pandas as pd
import pytest

from tests.builders import TMY3
from tests.open_data import amsterdam_epw, pvlib_bundled
from wattpair_service.climate.files import FileFormat, from_text, location_of, published_extremes
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.irradiance.conditions import HourlyWeather
from wattpair_service.engineering.site import PublishedExtremes
from wattpair_service.words.catalogue import english

Lines = list[str]
Damage = Callable[[Lines], Lines]

HEADER_LINES: dict[FileFormat, int] = {"epw": 8, "tmy3": 2}
COLUMNS: dict[FileFormat, dict[str, int]] = {
    "epw": {"ghi": 13, "dni": 14, "dhi": 15, "temp_air": 6, "wind_speed": 21},
    "tmy3": {"ghi": 4, "dni": 7, "dhi": 10, "temp_air": 31, "wind_speed": 46},
}
HEADER_CELLS = {"epw": {"latitude": 6, "time zone": 8}, "tmy3": {"latitude": 4, "time zone": 3}}
EVERY_FORMAT = pytest.mark.parametrize("file_format", ["epw", "tmy3"])


def text_of(file_format: FileFormat) -> str:
    return amsterdam_epw() if file_format == "epw" else pvlib_bundled(TMY3)


@cache
def good(file_format: FileFormat) -> HourlyWeather:
    return from_text(text_of(file_format), file_format=file_format)


def with_cell(line: int, column: int, value: str) -> Damage:
    def damage(lines: Lines) -> Lines:
        cells = lines[line].split(",")
        cells[column] = value
        return [*lines[:line], ",".join(cells), *lines[line + 1 :]]

    return damage


def with_value(file_format: FileFormat, column: str, value: str) -> Damage:
    """Another value in the twelfth hour of the first day."""
    return with_cell(HEADER_LINES[file_format] + 11, COLUMNS[file_format][column], value)


def refusal(file_format: FileFormat, damage: Damage) -> str:
    text = "\n".join(damage(text_of(file_format).splitlines()))
    with pytest.raises(WeatherError) as error:
        from_text(text, file_format=file_format)
    assert error.value.fields == ("text",)
    assert "\n" not in str(error.value)
    return str(error.value)


LOCATIONS = {"epw": (52.3, 4.77, -2.0, 1.0), "tmy3": (36.1, -79.95, 273.0, -5.0)}
# In standard time the EPW file's first row says hour 1, 0:00 to 1:00; the TMY3 file's 01:00, the end of its hour.
FIRST_MIDDLES = {"epw": "2022-12-31 23:30", "tmy3": "2023-01-01 05:30"}


@EVERY_FORMAT
def test_a_good_file_is_read_as_it_stands(file_format: FileFormat) -> None:
    weather, location = good(file_format), location_of(text_of(file_format), file_format=file_format)
    for each in (weather, location):
        assert (each.latitude_deg, each.longitude_deg, each.elevation_m, each.utc_offset_h) == LOCATIONS[file_format]
    assert english(weather.source).endswith(f"typical year at {location}")
    assert weather.middle_utc[0] == pd.Timestamp(FIRST_MIDDLES[file_format])
    rows = [line.split(",") for line in text_of(file_format).splitlines()[HEADER_LINES[file_format] :]]
    assert len(rows) == 8760
    values = {"ghi": weather.ghi_w_m2, "dni": weather.dni_w_m2, "dhi": weather.dhi_w_m2}
    values |= {"temp_air": weather.temp_air_c, "wind_speed": weather.wind_speed_m_s}
    for name, column in COLUMNS[file_format].items():
        np.testing.assert_array_equal(values[name], [float(row[column]) for row in rows])


ORDER = "not each hour of the year in order"
LINES: dict[str, tuple[Callable[[Lines, Lines], Lines], str]] = {
    "8759 hours": (lambda head, rows: head + rows[:-1], "the file has 8759 hours; a typical year has 8760"),
    "1 hour": (lambda head, rows: head + rows[:1], "the file has 1 hours; a typical year has 8760"),
    "8761 hours": (lambda head, rows: head + rows + rows[-1:], "8761 hours"),
    "cut line": (lambda head, rows: [*head, *rows[:-1], rows[-1][:9]], ""),
    "swapped hours": (lambda head, rows: [*head, *rows[:99], rows[100], rows[99], *rows[101:]], ORDER),
    "an hour twice": (lambda head, rows: [*head, *rows[:100], rows[99], *rows[101:]], ORDER),
    "endless line": (lambda head, rows: [head[0] + "x" * 200_000, *rows], "its first line has a field that is too long"),
}


@EVERY_FORMAT
@pytest.mark.parametrize(("damage", "message"), LINES.values(), ids=LINES)
def test_a_file_of_other_lines_is_refused(
    file_format: FileFormat, damage: Callable[[Lines, Lines], Lines], message: str
) -> None:
    head = HEADER_LINES[file_format]
    assert message in refusal(file_format, lambda lines: damage(lines[:head], lines[head:]))


@EVERY_FORMAT
@pytest.mark.parametrize(
    ("column", "value"),
    [
        *((column, "9999") for column in COLUMNS["epw"]),
        *(("wind_speed", value) for value in ("-9900", "", "x", "nan")),
    ],
)
def test_missing_values_are_refused(file_format: FileFormat, column: str, value: str) -> None:
    message = refusal(file_format, with_value(file_format, column, value))
    assert f"{column}_" in message
    assert "is missing in 1 of 8760 hours, first in hour 12" in message


@EVERY_FORMAT
@pytest.mark.parametrize(
    ("column", "value", "says"),
    [("ghi", "1500", "is possible"), ("dni", "-1", "is possible"), ("temp_air", "70", "-90 to 60 degC")],
)
def test_impossible_values_are_refused(file_format: FileFormat, column: str, value: str, says: str) -> None:
    message = refusal(file_format, with_value(file_format, column, value))
    assert message.startswith(f"{column}_")
    assert says in message


@EVERY_FORMAT
@pytest.mark.parametrize("text", ["x", "a,b\n1,2\n", "\x00", "<html></html>", "{}", '"', ",,,,,,,,,,\n" * 20])
def test_another_kind_of_file_is_refused(file_format: FileFormat, text: str) -> None:
    assert f"not a readable {file_format.upper()} file" in refusal(file_format, lambda _: text.split("\n"))


@pytest.mark.parametrize(("file_format", "other"), [("epw", "tmy3"), ("tmy3", "epw")])
def test_the_other_format_is_refused(file_format: FileFormat, other: FileFormat) -> None:
    assert refusal(file_format, lambda _: text_of(other).splitlines())


@EVERY_FORMAT
@pytest.mark.parametrize("cell", ["latitude", "time zone"])
@pytest.mark.parametrize("value", ["x", "", "nan", "999"])
def test_a_header_without_its_place_is_refused(file_format: FileFormat, cell: str, value: str) -> None:
    message = refusal(file_format, with_cell(0, HEADER_CELLS[file_format][cell], value))
    assert ("its first line does not give" if value in ("x", "") else f"the file's header gives {cell} {value}") in message


@EVERY_FORMAT
@pytest.mark.parametrize("zone", ["12", "-11"])
def test_a_time_zone_that_does_not_fit_the_sun_is_refused(file_format: FileFormat, zone: str) -> None:
    message = refusal(file_format, with_cell(0, HEADER_CELLS[file_format]["time zone"], zone))
    assert "the time zone, the interval label or the coordinates" in message


@EVERY_FORMAT
@pytest.mark.parametrize("end", ["", "\r\n", "\n\n\n"])
def test_line_ends_do_not_matter(file_format: FileFormat, end: str) -> None:
    lines = text_of(file_format).splitlines()
    if file_format == "epw":
        lines[5] += " and so on\x85"  # an ellipsis of an older encoding ends no line
    text = ("\r\n" if "\r" in end else "\n").join(lines) + end
    assert from_text(text, file_format=file_format).source == good(file_format).source


def test_a_missing_column_is_named() -> None:
    wind = COLUMNS["tmy3"]["wind_speed"]

    def without_wind(lines: Lines) -> Lines:
        cells = [line.split(",") for line in lines[1:]]
        return [lines[0], *(",".join(row[:wind] + row[wind + 1 :]) for row in cells)]

    assert "has no column for wind_speed_m_s" in refusal("tmy3", without_wind)


COPENHAGEN = "12.7,11.4,10.3,22.4,-11,27.9,3.6,1.7,-13.6,29.1,-15.6,30,-17.6,31,-20.2,32.2"
MUNICH = "7.8,6.4,5.3,-13.4,33.1,4.3,2.0,-16.5,34.6,-19.0,35.8,-21.4,36.9,-24.5,38.4"
"""After the word "Extremes": the handbook of 2009, and that of 2021 without the wet bulb."""


def header(after: str, *, before: str = "1,Climate Design Data,,Heating,2,-9.2,Cooling,7,8,Extremes,") -> str:
    return f"LOCATION,somewhere\nDESIGN CONDITIONS,{before}{after}\nTYPICAL/EXTREME PERIODS,0\n"


@pytest.mark.parametrize("end", ["", "\r", " ", ",", ",,\r"], ids=repr)
def test_a_header_publishes_extremes_in_either_edition(end: str) -> None:
    assert published_extremes(header(COPENHAGEN + end)) == PublishedExtremes(-11.0, -17.6, 31.0)
    assert published_extremes(header(MUNICH + end)) == PublishedExtremes(-13.4, -21.4, 36.9)


def test_a_file_brings_what_its_header_publishes() -> None:
    assert good("epw").published_extremes == PublishedExtremes(-8.7, -15.7, 34.6)
    assert good("tmy3").published_extremes is None


@pytest.mark.parametrize(
    "text",
    [
        "",
        "LOCATION,somewhere",
        header("", before="0"),
        header("", before="1,Climate Design Data,,Heating,2,-9.2"),
        header(COPENHAGEN.rsplit(",", 2)[0]),
        header(COPENHAGEN + ",1"),
        header(COPENHAGEN.replace("-17.6", "N/A")),
        header(COPENHAGEN.replace("-17.6", "nan")),
        header(COPENHAGEN.replace("-17.6", "-14.0")),
        header(COPENHAGEN.replace("31,", "29.5,")),
        header(COPENHAGEN.replace("-20.2", "-120")),
        header(COPENHAGEN.replace("32.2", "inf")),
        header(COPENHAGEN, before="1,Climate Design Data,,Heating,2,-9.2,Cooling,7,8,"),
    ],
)
def test_extremes_that_are_missing_or_out_of_order_are_ignored(text: str) -> None:
    assert published_extremes(text) is None

"""Weather files: a good one is read as it stands, a bad one is refused with the reason."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pandas as pd
import pytest

from tests.builders import TMY3
from tests.open_data import amsterdam_epw, pvlib_bundled
from wattpair_service.climate.files import FileFormat, from_text, place_of
from wattpair_service.engineering.conditions import HourlyWeather
from wattpair_service.engineering.errors import WeatherError

Lines = list[str]
Damage = Callable[[Lines], Lines]

HEADER_LINES: dict[FileFormat, int] = {"epw": 8, "tmy3": 2}
COLUMNS: dict[FileFormat, dict[str, int]] = {
    "epw": {"ghi": 13, "dni": 14, "dhi": 15, "temp_air": 6, "wind_speed": 21},
    "tmy3": {"ghi": 4, "dni": 7, "dhi": 10, "temp_air": 31, "wind_speed": 46},
}
EVERY_FORMAT = pytest.mark.parametrize("file_format", ["epw", "tmy3"])


def text_of(file_format: FileFormat) -> str:
    """A good file."""
    return amsterdam_epw() if file_format == "epw" else pvlib_bundled(TMY3)


@cache
def good(file_format: FileFormat) -> HourlyWeather:
    """That file as it is read."""
    return from_text(text_of(file_format), file_format=file_format)


def damaged(file_format: FileFormat, damage: Damage) -> str:
    """The same file after its lines went through something."""
    return "\n".join(damage(text_of(file_format).splitlines()))


def with_value(file_format: FileFormat, column: str, value: str, hour: int = 12) -> Damage:
    """Another value in one column of one hour of the first day."""

    def damage(lines: Lines) -> Lines:
        index = HEADER_LINES[file_format] + hour - 1
        cells = lines[index].split(",")
        cells[COLUMNS[file_format][column]] = value
        return [*lines[:index], ",".join(cells), *lines[index + 1 :]]

    return damage


def with_header(file_format: FileFormat, cell: int, value: str) -> Damage:
    """Another value in the first line."""

    def damage(lines: Lines) -> Lines:
        cells = lines[0].split(",")
        cells[cell] = value
        return [",".join(cells), *lines[1:]]

    return damage


def refusal(file_format: FileFormat, damage: Damage) -> str:
    """What the reader says to a damaged file."""
    with pytest.raises(WeatherError) as error:
        from_text(damaged(file_format, damage), file_format=file_format)
    assert error.value.fields == ("text",)
    assert "\n" not in str(error.value)
    return str(error.value)


def test_epw_is_read_as_it_stands() -> None:
    weather = from_text(amsterdam_epw(), file_format="epw")
    place = (weather.latitude_deg, weather.longitude_deg, weather.elevation_m, weather.utc_offset_h)
    assert place == (52.3, 4.77, -2.0, 1.0)
    # The first row says hour 1 in standard time: 0:00 to 1:00, whose middle is 23:30 UTC the day before.
    assert weather.middle_utc[0] == pd.Timestamp("2022-12-31 23:30")
    assert len(weather.middle_utc) == 8760
    first_row = amsterdam_epw().splitlines()[8].split(",")
    assert weather.temp_air_c[0] == float(first_row[6])
    assert weather.wind_speed_m_s[0] == float(first_row[21])
    assert weather.ghi_w_m2.sum() / 1000.0 == pytest.approx(982.0, rel=0.02)


def test_tmy3_is_read_as_it_stands() -> None:
    weather = from_text(pvlib_bundled(TMY3), file_format="tmy3")
    place = (weather.latitude_deg, weather.longitude_deg, weather.elevation_m, weather.utc_offset_h)
    assert place == (36.1, -79.95, 273.0, -5.0)
    # The first row says 01:00 in standard time, the end of its hour: its middle is 0:30, 5:30 UTC.
    assert weather.middle_utc[0] == pd.Timestamp("2023-01-01 05:30")
    rows = [line.split(",") for line in pvlib_bundled(TMY3).splitlines()[2:]]
    for name, column in COLUMNS["tmy3"].items():
        values = {"ghi": weather.ghi_w_m2, "dni": weather.dni_w_m2, "dhi": weather.dhi_w_m2}
        values |= {"temp_air": weather.temp_air_c, "wind_speed": weather.wind_speed_m_s}
        np.testing.assert_array_equal(values[name], [float(row[column]) for row in rows])


@EVERY_FORMAT
class TestBadFiles:
    @pytest.mark.parametrize("hours", [8759, 4380, 1])
    def test_cut_short(self, file_format: FileFormat, hours: int) -> None:
        said = refusal(file_format, lambda lines: lines[: HEADER_LINES[file_format] + hours])
        assert f"the file has {hours} hours; a typical year has 8760" in said

    def test_cut_within_a_line(self, file_format: FileFormat) -> None:
        assert refusal(file_format, lambda lines: [*lines[:-1], lines[-1][:9]])

    def test_too_long(self, file_format: FileFormat) -> None:
        assert "8761 hours" in refusal(file_format, lambda lines: [*lines, lines[-1]])

    def test_hours_in_the_wrong_order(self, file_format: FileFormat) -> None:
        start = HEADER_LINES[file_format] + 100
        swapped = refusal(file_format, lambda lines: [*lines[:start], lines[start + 1], lines[start], *lines[start + 2 :]])
        assert "not each hour of the year in order" in swapped

    def test_an_hour_twice(self, file_format: FileFormat) -> None:
        start = HEADER_LINES[file_format] + 100
        said = refusal(file_format, lambda lines: [*lines[:start], lines[start - 1], *lines[start + 1 :]])
        assert "not each hour of the year in order" in said

    @pytest.mark.parametrize("column", ["ghi", "dni", "dhi", "temp_air", "wind_speed"])
    @pytest.mark.parametrize("value", ["9999", "-9900", "", "x", "nan"])
    def test_missing_values(self, file_format: FileFormat, column: str, value: str) -> None:
        said = refusal(file_format, with_value(file_format, column, value))
        assert f"{column}_" in said
        assert "is missing in 1 of 8760 hours, first in hour 12" in said

    @pytest.mark.parametrize(
        ("column", "value", "says"),
        [("ghi", "1500", "is possible"), ("dni", "-1", "is possible"), ("temp_air", "70", "-90 to 60 degC")],
    )
    def test_impossible_values(self, file_format: FileFormat, column: str, value: str, says: str) -> None:
        said = refusal(file_format, with_value(file_format, column, value))
        assert said.startswith(f"{column}_")
        assert says in said

    @pytest.mark.parametrize("text", ["x", "a,b\n1,2\n", "\x00", "<html></html>", "{}", '"', ",,,,,,,,,,\n" * 20])
    def test_another_kind_of_file(self, file_format: FileFormat, text: str) -> None:
        assert f"not a readable {file_format.upper()} file" in refusal(file_format, lambda _: text.split("\n"))

    def test_the_other_format(self, file_format: FileFormat) -> None:
        other: FileFormat = "tmy3" if file_format == "epw" else "epw"
        assert refusal(file_format, lambda _: text_of(other).splitlines())

    def test_a_line_without_end(self, file_format: FileFormat) -> None:
        head = "LOCATION," if file_format == "epw" else ""
        assert "its first line has a field that is too long" in refusal(file_format, lambda _: [head + "x" * 200_000])

    @pytest.mark.parametrize("zone", ["12", "-11"])
    def test_a_time_zone_that_does_not_fit_the_sun(self, file_format: FileFormat, zone: str) -> None:
        said = refusal(file_format, with_header(file_format, 8 if file_format == "epw" else 3, zone))
        assert "the time zone, the interval label or the coordinates" in said

    @pytest.mark.parametrize("cell", ["x", "", "nan", "999"])
    def test_a_header_without_its_place(self, file_format: FileFormat, cell: str) -> None:
        latitude = 6 if file_format == "epw" else 4
        said = refusal(file_format, with_header(file_format, latitude, cell))
        assert ("its first line does not give" if cell in ("x", "") else f"the file's header gives latitude {cell}") in said

    @pytest.mark.parametrize("cell", ["x", "", "nan", "15"])
    def test_a_header_without_its_time_zone(self, file_format: FileFormat, cell: str) -> None:
        said = refusal(file_format, with_header(file_format, 8 if file_format == "epw" else 3, cell))
        assert ("its first line does not give" if cell in ("x", "") else f"the file's header gives time zone {cell}") in said

    @pytest.mark.parametrize("end", ["", "\n", "\r\n", "\n\n\n"])
    def test_line_ends_do_not_matter(self, file_format: FileFormat, end: str) -> None:
        lines = text_of(file_format).splitlines()
        text = ("\r\n" if "\r" in end else "\n").join(lines) + end
        assert (
            from_text(text, file_format=file_format).source == from_text(text_of(file_format), file_format=file_format).source
        )


def test_a_missing_column_is_named() -> None:
    def without_wind(lines: Lines) -> Lines:
        wind = COLUMNS["tmy3"]["wind_speed"]
        cells = [line.split(",") for line in lines[1:]]
        return [lines[0], *(",".join(row[:wind] + row[wind + 1 :]) for row in cells)]

    assert "has no column for wind_speed_m_s" in refusal("tmy3", without_wind)


def test_an_ellipsis_of_an_older_encoding_ends_no_line() -> None:
    lines = amsterdam_epw().split("\n")
    lines[5] = f"{lines[5].rstrip()} and so on\x85"
    assert len(from_text("\n".join(lines), file_format="epw").middle_utc) == 8760


@EVERY_FORMAT
def test_the_place_is_told_from_the_head(file_format: FileFormat) -> None:
    place, weather = (
        place_of(text_of(file_format), file_format=file_format),
        from_text(text_of(file_format), file_format=file_format),
    )
    assert (place.latitude_deg, place.longitude_deg) == (weather.latitude_deg, weather.longitude_deg)
    assert (place.elevation_m, place.utc_offset_h) == (weather.elevation_m, weather.utc_offset_h)
    assert weather.source.endswith(f"typical year at {place}")

"""A weather year given as arrays, and what makes one implausible."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np
import pandas as pd
import pytest

from tests.builders import LATITUDE_DEG, LONGITUDE_DEG, UTC_OFFSET_H, real_weather
from wattpair_service.climate.hourly import IntervalLabel, from_arrays, hours_in, middle_of_hours
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.words.catalogue import english


def arrays(**changes: Any) -> dict[str, Any]:
    year = real_weather()
    given = {
        "latitude_deg": LATITUDE_DEG,
        "longitude_deg": LONGITUDE_DEG,
        "elevation_m": year.elevation_m,
        "first_label": datetime(2023, 1, 1, 1, 0),
        "utc_offset_h": UTC_OFFSET_H,
        "interval_label": "end",
        "ghi_w_m2": year.ghi_w_m2,
        "dni_w_m2": year.dni_w_m2,
        "dhi_w_m2": year.dhi_w_m2,
        "temp_air_c": year.temp_air_c,
        "wind_speed_m_s": year.wind_speed_m_s,
    }
    return given | changes


def changed(field: str, hour: int, value: float) -> FloatArray:
    values = np.array(getattr(real_weather(), field))
    values[hour] = value
    return values


@pytest.mark.parametrize(
    ("label", "first"),
    [
        ("start", datetime(2023, 1, 1, 0, 0)),
        ("middle", datetime(2023, 1, 1, 0, 30)),
        ("end", datetime(2023, 1, 1, 1, 0)),
    ],
)
def test_the_three_labels_describe_the_same_year(label: IntervalLabel, first: datetime) -> None:
    weather = from_arrays(**arrays(interval_label=label, first_label=first))
    assert weather.middle_utc.equals(real_weather().middle_utc)
    assert f"labelled at the {label} of the hour" in english(weather.source)


@pytest.mark.parametrize(("year", "hours"), [(2023, 8760), (2024, 8784), (1900, 8760), (2000, 8784)])
def test_hours_of_a_year(year: int, hours: int) -> None:
    assert hours_in(year) == hours


@pytest.mark.parametrize(
    ("first", "offset_h"), [(datetime(2023, 1, 1, 0, 0, 0, 500000), 0.0), (datetime(2023, 1, 1), 5.000123456)]
)
def test_fractions_of_a_second_change_nothing(first: datetime, offset_h: float) -> None:
    middle = middle_of_hours(first_label=first, interval_label="start", utc_offset_h=offset_h)
    expected = pd.Timestamp(2023, 1, 1, 0, 30) - pd.Timedelta(hours=offset_h)
    assert abs(middle[0] - expected) <= pd.Timedelta(seconds=1)
    assert len(middle) == 8760


BAD: dict[str, tuple[dict[str, Any], str, str]] = {
    "short": ({"temp_air_c": np.zeros(8759)}, "temp_air_c", "8759 values; a year from 2023 has 8760 hours"),
    "leap year": ({"first_label": datetime(2024, 1, 1)}, "ghi_w_m2", "a year from 2024 has 8784 hours"),
    "beam only": ({"dhi_w_m2": None}, "dhi_w_m2", "both or neither"),
    "diffuse only": ({"dni_w_m2": None}, "dni_w_m2", "both or neither"),
    "too bright": ({"ghi_w_m2": changed("ghi_w_m2", 12, 1400.0)}, "ghi_w_m2", "interval 12 is 1400 W/m2, where 0 to"),
    "negative": ({"dni_w_m2": changed("dni_w_m2", 3, -1.0)}, "dni_w_m2", "interval 3 is -1 W/m2"),
    "beam above the extraterrestrial": ({"dni_w_m2": changed("dni_w_m2", 12, 1500.0)}, "dni_w_m2", "0 to 1407 W/m2"),
    "NaN": ({"dhi_w_m2": changed("dhi_w_m2", 12, np.nan)}, "dhi_w_m2", "impossible or missing"),
    "kelvin": ({"temp_air_c": real_weather().temp_air_c + 273.15}, "temp_air_c", "-90 to 60 degC"),
    "wind": ({"wind_speed_m_s": changed("wind_speed_m_s", 7, 70.0)}, "wind_speed_m_s", "0 to 60 m/s"),
    "light at night": ({"utc_offset_h": 5.0}, "ghi_w_m2", "the time zone, the interval label or the coordinates"),
    "longitude west as positive": ({"longitude_deg": 79.95}, "ghi_w_m2", "the coordinates are not those"),
    "other hemisphere": ({"latitude_deg": -60.0}, "ghi_w_m2", "interval"),
}


@pytest.mark.parametrize(("changes", "field", "says"), BAD.values(), ids=BAD)
def test_implausible_years_are_refused(changes: dict[str, Any], field: str, says: str) -> None:
    with pytest.raises(WeatherError) as error:
        from_arrays(**arrays(**changes))
    assert field in error.value.fields
    assert says in str(error.value)

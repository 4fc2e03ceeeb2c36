"""What a request is made of.

Field names and limits are those of the service's contract; units are in the names. A field that is left out (None) is not
sent: the service then takes a documented default and says so in the result's `assumptions`. Wherever one of these classes is
taken, a plain mapping with the same keys is taken too, such as a table read from a TOML file.
"""

from wattpair.inputs.equipment import Derating, EfficiencyPoint, Microinverter, Module, SandiaCurve
from wattpair.inputs.place import Face, FaceCount, HorizonPoint, Mounting, Site
from wattpair.inputs.shared import ColdVoltageMethod, Fields, Numbers, Transposition, TrunkFeed
from wattpair.inputs.weather import (
    BuiltInClimate,
    FileFormat,
    HourlyWeather,
    IntervalLabel,
    LightOrigin,
    MonthlyTotals,
    NearestStation,
    Weather,
    WeatherFile,
)

__all__ = [
    "BuiltInClimate",
    "ColdVoltageMethod",
    "Derating",
    "EfficiencyPoint",
    "Face",
    "FaceCount",
    "Fields",
    "FileFormat",
    "HorizonPoint",
    "HourlyWeather",
    "IntervalLabel",
    "LightOrigin",
    "Microinverter",
    "Module",
    "MonthlyTotals",
    "Mounting",
    "NearestStation",
    "Numbers",
    "SandiaCurve",
    "Site",
    "Transposition",
    "TrunkFeed",
    "Weather",
    "WeatherFile",
]

"""What a request is made of.

Field names and limits are those of the service's contract; units are in the names. A field that is left out (None) is not
sent: the service then takes a documented default and says so in the result's `assumptions`. Wherever one of these classes is
taken, a plain mapping with the same keys is taken too, such as a table read from a TOML file.
"""

from wattpair.inputs.design import Build, CircuitTerms, DesignFace, FaceLayout, MaterialTerms
from wattpair.inputs.equipment import Derating, EfficiencyPoint, Microinverter, Module, SandiaCurve
from wattpair.inputs.layout import Obstruction, OrientationWanted, Point
from wattpair.inputs.materials import Backup, PartNumber, PriceBook, PriceItem
from wattpair.inputs.place import CircuitFace, Face, FaceCount, HorizonPoint, Mounting, Site
from wattpair.inputs.region import (
    BranchCircuitRule,
    BusbarRule,
    ColdVoltageRule,
    CommissioningRule,
    ConductorsRule,
    FilingRule,
    PhaseBalanceRule,
    RegionRules,
    ResidualCurrentRule,
    ResidualCurrentType,
    RouteRule,
    ShortCircuitRule,
    StandardDevicesRule,
    SupplyRule,
    VoltageRiseRule,
)
from wattpair.inputs.selection import BreakEvenPairs, Candidate, ModuleOffer, Tariff
from wattpair.inputs.shared import ColdVoltageMethod, ConductorTable, Fields, Numbers, Transposition, TrunkFeed
from wattpair.inputs.sheet import Paper, Sheet, SheetLanguage
from wattpair.inputs.weather import (
    BuiltInClimate,
    FileFormat,
    HourlyWeather,
    IntervalLabel,
    IrradianceOrigin,
    MonthlyTotals,
    NearestStation,
    Weather,
    WeatherFile,
)

__all__ = [
    "Backup",
    "BranchCircuitRule",
    "BreakEvenPairs",
    "Build",
    "BuiltInClimate",
    "BusbarRule",
    "Candidate",
    "CircuitFace",
    "CircuitTerms",
    "ColdVoltageMethod",
    "ColdVoltageRule",
    "CommissioningRule",
    "ConductorTable",
    "ConductorsRule",
    "Derating",
    "DesignFace",
    "EfficiencyPoint",
    "Face",
    "FaceCount",
    "FaceLayout",
    "Fields",
    "FileFormat",
    "FilingRule",
    "HorizonPoint",
    "HourlyWeather",
    "IntervalLabel",
    "IrradianceOrigin",
    "MaterialTerms",
    "Microinverter",
    "Module",
    "ModuleOffer",
    "MonthlyTotals",
    "Mounting",
    "NearestStation",
    "Numbers",
    "Obstruction",
    "OrientationWanted",
    "Paper",
    "PartNumber",
    "PhaseBalanceRule",
    "Point",
    "PriceBook",
    "PriceItem",
    "RegionRules",
    "ResidualCurrentRule",
    "ResidualCurrentType",
    "RouteRule",
    "SandiaCurve",
    "Sheet",
    "SheetLanguage",
    "ShortCircuitRule",
    "Site",
    "StandardDevicesRule",
    "SupplyRule",
    "Tariff",
    "Transposition",
    "TrunkFeed",
    "VoltageRiseRule",
    "Weather",
    "WeatherFile",
]

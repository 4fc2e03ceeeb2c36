"""The models named in results, each with its version and published source."""

from __future__ import annotations

from wattpair_service.engineering.results import Method

SINGLE_DIODE = Method(
    "six-parameter single diode",
    "1",
    "Dobos 2012, 10.1115/1.4005759; De Soto et al. 2006, 10.1016/j.solener.2005.06.010",
)
CELL_TEMPERATURE = Method(
    "cell temperature of the mounting",
    "1",
    "King, Boyson and Kratochvil 2004, SAND2004-3535; Faiman 2008, 10.1002/pip.813",
)
SUN_POSITION = Method("sun position", "1", "Reda and Andreas 2004, 10.1016/j.solener.2003.12.003")
SUN_OF_REPRESENTATIVE_DAYS = Method("sun position of representative days", "1", "Spencer 1971, Search 2 (5)")
REFLECTION = Method("angular reflection", "1", "Martin and Ruiz 2001, 10.1016/S0927-0248(00)00408-6; 2005, 10.1002/pip.585")
SUBHOURLY = Method(
    "subhourly variability",
    "1",
    "three states of each variable hour, calibrated on the minutes of Golden 2020, Abashiri 2023 and Payerne June 2016 "
    "(BSRN and MIDC); form after Suehrcke and McCormick 1988 and Skartveit and Olseth 1992; "
    "snapshots after Mikofski et al. 2023",
)
ENERGY_BALANCE = Method("stepwise energy balance", "1", "each loss in turn, at each condition")
CONVERSION = Method(
    "quadratic conversion losses",
    "1",
    "Schmidt and Sauer 1996; Driesse et al. 2008, 10.1109/PVSC.2008.4922827; King et al. 2007, SAND2007-5036",
)
TRANSPOSITIONS = {
    "perez_1990": Method("transposition perez_1990", "1", "Perez et al. 1990, 10.1016/0038-092X(90)90055-H"),
    "hay_davies_1980": Method(
        "transposition hay_davies_1980", "1", "Hay and Davies 1980, First Canadian Solar Radiation Data Workshop"
    ),
    "isotropic": Method("transposition isotropic", "1", "Hottel and Woertz 1942, Transactions of the ASME 64"),
}
COUNTING = Method("counted parts", "1", "each line states the basis of its quantity")
CABLE_PROTECTION = Method(
    "carrying capacity as installed against the overcurrent device",
    "1",
    "published tables with factors for ambient temperature and grouping; each check names its clause",
)
VOLTAGE_RISE = Method(
    "resistive voltage rise with each unit at its position",
    "1",
    "Ohm's law at rated current and power factor one; conductor tables as named in the request or the region's rules",
)
CONNECTION_ROUTE = Method("connection route", "1", "the region's rules, each with its clause and how it was obtained")
FACE_LAYOUT = Method(
    "rows of modules in the face's outline",
    "2",
    "each row filled from its left, at the height of the first row with the most modules; no published source",
)
PRICES = Method("price book in decimals", "1", "each line rounded half up to the currency's decimals, then summed")
DEAD_LOAD = Method("dead load", "1", "mass over area")
SPARES = Method(
    "expected failures",
    "1",
    "binomial: each unit fails in a year with the same probability; after its warranty a spare replaces it",
)

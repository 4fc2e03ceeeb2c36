"""What goes with every result: what was assumed, which models were used, how sure a figure is, and the cautions."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Assumption:
    """An input that the caller did not give: its name, the value taken, its unit and where it comes from."""

    name: str
    value: object
    unit: str | None
    source: str


@dataclass(frozen=True, slots=True)
class Method:
    """A model that was used, with its version and published source."""

    name: str
    version: str
    source: str


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Result:
    """What goes with every result: assumptions that no documented default covers, cautions, and the models used.

    `unused` names fields and groups of the request that the result does not rest on, or tells of with the value that it took:
    their documented defaults are no assumptions of it.
    """

    assumptions: tuple[Assumption, ...] = ()
    cautions: tuple[str, ...]
    method: tuple[Method, ...]
    unused: tuple[str, ...] = ()

    def rests_on(self, assumption: Assumption) -> bool:
        """Whether a documented default is an assumption of this result."""
        return not any(f"{assumption.name}.".startswith(f"{name}.") for name in self.unused)


@dataclass(frozen=True, slots=True)
class StationUsed:
    """A weather file: its name, its distance from the site [km] and how much higher it stands [m]."""

    name: str
    distance_km: float
    height_difference_m: float


@dataclass(frozen=True, slots=True)
class ClimateUsed:
    """Where a year's weather comes from.

    `level_error_share` is the standard error of its yearly light as a mean of years (0-1), None where it is not known.
    """

    kind: str
    source: str
    elevation_m: float
    station: StationUsed | None = None
    level_error_share: float | None = None


@dataclass(frozen=True, slots=True)
class Range:
    """A figure with the range that it is expected in; `covers` says what the range holds and what it leaves out."""

    value: float
    low: float
    high: float
    covers: str


BUILT_IN_CLIMATE = (
    "The built-in climate is a mean of maps some 25 km coarse: a weather file from nearby is better, most of all in "
    "mountains and on foggy or steep coasts."
)
LOCAL_CODES = (
    "Local codes, the network operator's rules and the judgement of a licensed electrician decide; this result does not "
    "replace them."
)
ISOLATION = "DC and AC circuits can kill: isolate both, lock off and prove dead before touching any connector."
CONNECTORS = "Never plug or unplug a DC connector under load: the arc does not go out by itself."
DATASHEETS = "Check every figure against the makers' current datasheets and installation instructions before ordering."
OUTAGE = "Without an approved backup device the units stop with the grid: there is no output in an outage."
HEIGHT = "Work at height needs fall protection and trained people."
STRUCTURE = "The masses are dead load only; wind and snow are not covered. A structural engineer decides what the roof carries."
RESIDUAL_CURRENT = "The type of residual-current device follows from the microinverter maker's declaration."
CONSENT = "Do not switch on before the network operator has been told or has agreed, as its rules ask."
RAPID_SHUTDOWN = "Where the code asks for rapid shutdown, the installed system must provide it."
TRUNK_LIMIT = "The trunk cable's own limit was not given: check the number of units on each circuit against its maker's figure."
YIELD = "Energies are estimates for a typical year, not a promise for any one year."
ELECTRICAL_CAUTIONS = (LOCAL_CODES, ISOLATION, CONNECTORS, DATASHEETS)
ENERGY_CAUTIONS = (YIELD, LOCAL_CODES)
ORDER_CAUTIONS = (
    LOCAL_CODES,
    ISOLATION,
    CONNECTORS,
    OUTAGE,
    RESIDUAL_CURRENT,
    HEIGHT,
    CONSENT,
    STRUCTURE,
    RAPID_SHUTDOWN,
    DATASHEETS,
)

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
REFLECTION = Method("angular reflection", "1", "Martin and Ruiz 2001, 10.1016/S0927-0248(00)00408-6; 2005, 10.1002/pip.585")
INTRA_HOUR = Method(
    "spread inside the hour",
    "1",
    "three states of each swinging hour, calibrated on the minutes of Golden 2020, Abashiri 2023 and Payerne June 2016 "
    "(BSRN and MIDC); form after Suehrcke and McCormick 1988 and Skartveit and Olseth 1992; "
    "snapshots after Mikofski et al. 2023",
)
ENERGY_BALANCE = Method("stepwise energy balance", "1", "each loss after the one before, at each condition")
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
COUNTING = Method("counted parts", "1", "each line says how its quantity came about")
VOLTAGE_RISE = Method(
    "resistive voltage rise with each unit at its place",
    "1",
    "Ohm's law at rated current and power factor one; conductor tables as named in the request or the region's rules",
)
CONNECTION_ROUTE = Method("connection route", "1", "the region's rules, each with its clause and how it was obtained")
FACE_LAYOUT = Method(
    "rows of modules in the face's outline", "1", "each row filled from its left; exact for straight edges; no published source"
)
PRICES = Method("price book in decimals", "1", "each line rounded half up to the currency's decimals, then summed")
DEAD_LOAD = Method("dead load", "1", "masses over areas")
SPARES = Method(
    "expected failures", "1", "binomial: each unit fails in a year with the same probability and is replaced by a spare"
)

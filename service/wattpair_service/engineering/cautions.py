"""Cautions of results: plain sentences, because the work can hurt someone."""

from __future__ import annotations

BUILT_IN_CLIMATE = (
    "The built-in climate comes from maps with a resolution of some 25 km: a weather file from nearby is better, most of "
    "all in mountains and on foggy or steep coasts."
)
LOCAL_CODES = (
    "Local codes, the network operator's rules and the judgement of a licensed electrician decide; this result does not "
    "replace them."
)
ISOLATION = "DC and AC circuits can kill: isolate both, lock off and prove dead before touching any connector."
CONNECTORS = "Never plug or unplug a DC connector under load: the arc does not go out by itself."
CONNECTOR_MAKES = (
    "Never mate DC connectors of different makes, whatever is said of their compatibility: they can overheat and burn. Replace "
    "one of the pair."
)
DATASHEETS = "Check every figure against the makers' current datasheets and installation instructions before ordering."
OUTAGE = "Without an approved backup device the units stop with the grid: there is no output in an outage."
HEIGHT = "Work at height needs fall protection and trained people."
STRUCTURE = "The masses are dead load only; wind and snow are not covered. A structural engineer decides what the roof carries."
RESIDUAL_CURRENT = "The type of residual-current device follows from the microinverter maker's declaration."
CONSENT = "Do not switch on before the network operator has been notified or has agreed, as its rules require."
RAPID_SHUTDOWN = "Where the code requires rapid shutdown, the installed system must provide it."
TRUNK_LIMIT = "The trunk cable's own limit was not given: check the number of units on each circuit against its maker's figure."
YIELD = "Energies are estimates for a typical year, not a promise for any one year."
ELECTRICAL_CAUTIONS = (LOCAL_CODES, ISOLATION, CONNECTORS, CONNECTOR_MAKES, DATASHEETS)
ENERGY_CAUTIONS = (YIELD, LOCAL_CODES)
ORDER_CAUTIONS = (
    LOCAL_CODES,
    ISOLATION,
    CONNECTORS,
    CONNECTOR_MAKES,
    OUTAGE,
    RESIDUAL_CURRENT,
    HEIGHT,
    CONSENT,
    STRUCTURE,
    RAPID_SHUTDOWN,
    DATASHEETS,
)

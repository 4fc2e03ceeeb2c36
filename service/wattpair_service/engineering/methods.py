"""The models named in results, each with its version and published source."""

from __future__ import annotations

from wattpair_service.engineering.results import Method
from wattpair_service.engineering.sentences import Cited, Words, fixed


def method(code: str, version: str, published: str | None = None) -> Method:
    """Declare a model: with what was published on it, or with a sentence on what it does."""
    source: Words = fixed(f"method_source.{code}") if published is None else Cited(published)
    return Method(fixed(f"method.{code}"), version, source)


SINGLE_DIODE = method("single_diode", "1", "Dobos 2012, 10.1115/1.4005759; De Soto et al. 2006, 10.1016/j.solener.2005.06.010")
CELL_TEMPERATURE = method(
    "cell_temperature", "1", "King, Boyson and Kratochvil 2004, SAND2004-3535; Faiman 2008, 10.1002/pip.813"
)
SUN_POSITION = method("sun_position", "1", "Reda and Andreas 2004, 10.1016/j.solener.2003.12.003")
SUN_OF_REPRESENTATIVE_DAYS = method("sun_of_representative_days", "1", "Spencer 1971, Search 2 (5)")
REFLECTION = method("reflection", "1", "Martin and Ruiz 2001, 10.1016/S0927-0248(00)00408-6; 2005, 10.1002/pip.585")
SHADE = (
    method("sky_masks", "1"),
    method("bypass_groups", "1", "De Soto et al. 2006, 10.1016/j.solener.2005.06.010, group by group"),
)
SUBHOURLY = method("subhourly", "2")
ENERGY_BALANCE = method("energy_balance", "1")
CONVERSION = method(
    "conversion", "1", "Schmidt and Sauer 1996; Driesse et al. 2008, 10.1109/PVSC.2008.4922827; King et al. 2007, SAND2007-5036"
)
TRANSPOSITIONS = {
    "perez_1990": method("perez_1990", "1", "Perez et al. 1990, 10.1016/0038-092X(90)90055-H"),
    "hay_davies_1980": method("hay_davies_1980", "1", "Hay and Davies 1980, First Canadian Solar Radiation Data Workshop"),
    "isotropic": method("isotropic", "1", "Hottel and Woertz 1942, Transactions of the ASME 64"),
}
COUNTING = method("counting", "1")
CABLE_PROTECTION = method("cable_protection", "1")
VOLTAGE_RISE = method("voltage_rise", "1")
CONNECTION_ROUTE = method("connection_route", "1")
FACE_LAYOUT = method("face_layout", "2")
PRICES = method("prices", "1")
DEAD_LOAD = method("dead_load", "1")
SPARES = method("spares", "1")

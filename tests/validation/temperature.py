"""Cell temperature of each mounting."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests.validation.ledger import Check, near
from wattpair_service.engineering.module.cell_temperature import MOUNTINGS, Faiman, cell_temperature

SANDIA = "King, Boyson and Kratochvil 2004, SAND2004-3535, coefficients as in pvlib.temperature; 1000 W/m2, 25 degC, 1 m/s"
FAIMAN = "pvlib's tests of Faiman 2008, 10.1002/pip.813; 900 W/m2, 20 degC, 5 m/s"
AT_1000_C = {"close_roof": 74.46, "open_rack": 54.38, "insulated_back": 82.53}


def checks() -> Iterator[Check]:
    """Each mounting at the published conditions."""
    for mounting, expected in AT_1000_C.items():
        yield near(f"cell temperature, {mounting} [degC]", expected, _at(mounting, 1000.0, 25.0, 1.0), 0.005, "Derived", SANDIA)
    rack_c = _at("open_rack_faiman", 900.0, 20.0, 5.0)
    yield near("cell temperature, open_rack_faiman [degC]", 35.203, rack_c, 0.0005, "READ", FAIMAN)
    (model_c,) = Faiman(22.0, 6.0, "").temp_cell_c(np.array([900.0]), np.array([20.0]), np.array([5.0]))
    yield near("Faiman with factors 22 and 6 [degC]", 37.308, model_c, 0.0005, "READ", FAIMAN)


def _at(mounting: str, irradiance_w_m2: float, temp_air_c: float, wind_m_s: float) -> float:
    assert mounting in MOUNTINGS, f"{mounting} is a mounting"
    irradiance, air, wind = (np.array([each]) for each in (irradiance_w_m2, temp_air_c, wind_m_s))
    return float(cell_temperature(mounting=mounting, irradiance_w_m2=irradiance, temp_air_c=air, wind_speed_m_s=wind)[0])

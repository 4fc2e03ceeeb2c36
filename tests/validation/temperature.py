"""Cell temperature of each mounting."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests.validation.ledger import Check, near
from wattpair_service.engineering.cell_temperature import MOUNTINGS, Faiman, cell_temperature

SANDIA = "King, Boyson and Kratochvil 2004, SAND2004-3535, coefficients as in pvlib.temperature; 1000 W/m2, 25 degC, 1 m/s"
FAIMAN = "pvlib's tests of Faiman 2008, 10.1002/pip.813; 900 W/m2, 20 degC, 5 m/s"
AT_1000 = {"close_roof": 74.46, "open_rack": 54.38, "insulated_back": 82.53}


def checks() -> Iterator[Check]:
    """Each mounting at the published conditions."""
    for mounting, expected in AT_1000.items():
        yield near(
            f"cell temperature, {mounting} [degC]",
            source=SANDIA,
            label="Derived",
            expected=expected,
            got=_at(mounting, 1000.0, 25.0, 1.0),
            tolerance=0.005,
        )
    yield near(
        "cell temperature, open_rack_faiman [degC]",
        source=FAIMAN,
        label="READ",
        expected=35.203,
        got=_at("open_rack_faiman", 900.0, 20.0, 5.0),
        tolerance=0.0005,
    )
    yield near(
        "Faiman with factors 22 and 6 [degC]",
        source=FAIMAN,
        label="READ",
        expected=37.308,
        got=float(Faiman(22.0, 6.0, "").temp_cell_c(np.array([900.0]), np.array([20.0]), np.array([5.0]))[0]),
        tolerance=0.0005,
    )


def _at(mounting: str, irradiance_w_m2: float, temp_air_c: float, wind_m_s: float) -> float:
    assert mounting in MOUNTINGS, f"{mounting} is a mounting"
    temp = cell_temperature(
        mounting=mounting,
        irradiance_w_m2=np.array([irradiance_w_m2]),
        temp_air_c=np.array([temp_air_c]),
        wind_speed_m_s=np.array([wind_m_s]),
    )
    return float(temp[0])

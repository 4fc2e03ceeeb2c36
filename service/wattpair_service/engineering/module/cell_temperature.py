"""Cell temperature by a mounting's coefficients.

Either the Sandia form (King, Boyson and Kratochvil 2004, SAND2004-3535, eq. 11 and 12) or Faiman's heat loss factors (Faiman
2008, 10.1002/pip.813).

Neglected: thermal inertia (minutes), radiation to the sky, the position of a module in its row.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pvlib

from wattpair_service.engineering.arrays import FloatArray

AIR_UNDER_MODULE_SHARE = 0.5
"""Temperature of the air at the microinverter, between outside air (0) and cell (1). Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Sandia:
    """Coefficients a and b [s/m] of the module's back, and the cell's excess over it at 1000 W/m2 [K]."""

    a: float
    b_s_per_m: float
    cell_excess_k: float
    description: str

    def temp_cell_c(self, irradiance_w_m2: FloatArray, temp_air_c: FloatArray, wind_speed_m_s: FloatArray) -> FloatArray:
        """Cell temperature [degC]."""
        return np.asarray(
            pvlib.temperature.sapm_cell(irradiance_w_m2, temp_air_c, wind_speed_m_s, self.a, self.b_s_per_m, self.cell_excess_k)
        )


@dataclass(frozen=True, slots=True)
class Faiman:
    """Heat loss factors: constant [W/m2/K] and with wind [W s/m3/K]."""

    u0_w_m2_k: float
    u1_w_s_m3_k: float
    description: str

    def temp_cell_c(self, irradiance_w_m2: FloatArray, temp_air_c: FloatArray, wind_speed_m_s: FloatArray) -> FloatArray:
        """Cell temperature [degC]."""
        return np.asarray(
            pvlib.temperature.faiman(irradiance_w_m2, temp_air_c, wind_speed_m_s, self.u0_w_m2_k, self.u1_w_s_m3_k)
        )


MOUNTINGS: Mapping[str, Sandia | Faiman] = {
    "close_roof": Sandia(-2.98, -0.0471, 1.0, "close roof mount, Sandia glass/glass coefficients"),
    "open_rack": Sandia(-3.56, -0.0750, 3.0, "open rack, Sandia glass/polymer coefficients"),
    "insulated_back": Sandia(-2.81, -0.0455, 0.0, "in the roof with an insulated back, Sandia glass/polymer coefficients"),
    "open_rack_faiman": Faiman(25.0, 6.84, "open rack, Faiman's mean heat loss factors"),
}


def cell_temperature(
    *, mounting: str, irradiance_w_m2: FloatArray, temp_air_c: FloatArray, wind_speed_m_s: FloatArray
) -> FloatArray:
    """Cell temperature [degC] at each point.

    Parameters
    ----------
    mounting : str
        A key of `MOUNTINGS`.
    irradiance_w_m2 : array
        Global irradiance in the plane of array [W/m2], before reflection.
    temp_air_c, wind_speed_m_s : array
        Air temperature [degC], wind speed at 10 m [m/s]; same shape. NaN in gives NaN out.
    """
    return MOUNTINGS[mounting].temp_cell_c(irradiance_w_m2, temp_air_c, wind_speed_m_s)

"""Plausibility of a module's datasheet, independent of the model that is fitted to it."""

from __future__ import annotations

from math import isfinite

from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.errors import DatasheetError

COEFFICIENTS = tuple(f"temp_coefficient_{of}_percent_per_k" for of in ("voc", "isc", "pmp"))
POINTS = ("voltage_oc_v", "voltage_mp_v", "current_sc_a", "current_mp_a")
POWER_TOLERANCE = 0.03
"""Rated power against voltage times current: rounding and binning. No source."""


def check_figures(module: Module) -> None:
    """Refuse physically impossible figures.

    Raises
    ------
    DatasheetError
        With the fields that are wrong.
    """
    positive = (*POINTS, "power_w")
    invalid = [name for name in (*positive, *COEFFICIENTS) if not isfinite(getattr(module, name))]
    invalid += [name for name in positive if getattr(module, name) <= 0.0]
    if invalid:
        raise DatasheetError("Every figure must be finite, and voltages, currents and power above zero.", tuple(invalid))
    for maximum, at_mp in (POINTS[:2], POINTS[2:]):
        share = getattr(module, at_mp) / getattr(module, maximum)
        if not 0.5 < share < 1.0:
            raise DatasheetError(f"{at_mp} is {share:.3f} times {maximum}; 0.5 to 1 times is possible.", (at_mp, maximum))
    power_mp_w = module.voltage_mp_v * module.current_mp_a
    if abs(module.power_w / power_mp_w - 1.0) > POWER_TOLERANCE:
        message = f"Voltage times current at maximum power is {power_mp_w:.1f} W, the rated power {module.power_w:g} W."
        raise DatasheetError(message, ("power_w", "voltage_mp_v", "current_mp_a"))
    if max(module.temp_coefficient_voc_percent_per_k, module.temp_coefficient_pmp_percent_per_k) >= 0.0:
        message = "Voltage and power of a silicon module fall as it warms: their coefficients must be below zero."
        raise DatasheetError(message, (COEFFICIENTS[0], COEFFICIENTS[2]))

"""What a module's datasheet must say, whatever model is then fitted to it."""

from __future__ import annotations

from math import isfinite

from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.errors import DatasheetError

COEFFICIENTS = tuple(f"temp_coefficient_{of}_percent_per_k" for of in ("voc", "isc", "pmp"))
POINTS = ("voltage_oc_v", "voltage_mp_v", "current_sc_a", "current_mp_a")
POWER_TOLERANCE = 0.03
"""Rated power against voltage times current: rounding and binning. No source."""


def check_figures(module: Module) -> None:
    """Refuse what is impossible before any model is asked.

    Raises
    ------
    DatasheetError
        With the fields that are at fault.
    """
    positive = (*POINTS, "power_w")
    bad = [name for name in (*positive, *COEFFICIENTS) if not isfinite(getattr(module, name))]
    bad += [name for name in positive if getattr(module, name) <= 0.0]
    if bad:
        raise DatasheetError("Every figure must be finite, and voltages, currents and power above zero.", tuple(bad))
    for limit, best in (POINTS[:2], POINTS[2:]):
        share = getattr(module, best) / getattr(module, limit)
        if not 0.5 < share < 1.0:
            raise DatasheetError(f"{best} is {share:.3f} times {limit}; 0.5 to 1 times is possible.", (best, limit))
    product = module.voltage_mp_v * module.current_mp_a
    if abs(module.power_w / product - 1.0) > POWER_TOLERANCE:
        message = f"Voltage times current at maximum power is {product:.1f} W, the rated power {module.power_w:g} W."
        raise DatasheetError(message, ("power_w", "voltage_mp_v", "current_mp_a"))
    if max(module.temp_coefficient_voc_percent_per_k, module.temp_coefficient_pmp_percent_per_k) >= 0.0:
        message = "Voltage and power of a silicon module fall as it warms: their coefficients must be below zero."
        raise DatasheetError(message, (COEFFICIENTS[0], COEFFICIENTS[2]))

"""Current of a microinverter on circuits of a nominal voltage, and whether it suits them.

At power factor one. The current is the datasheet's, but at least rated power over nominal voltage: a unit that is rated at a
higher voltage still delivers its power at a lower one.
"""

from __future__ import annotations

from math import sqrt

from wattpair_service.engineering.circuits.branch_circuits import BranchCircuitRules, current_fits
from wattpair_service.engineering.equipment import Microinverter

VOLTAGE_TOLERANCE_SHARE = 0.1
"""Deviation of a supply's voltage from its nominal voltage. EN 50160, from memory."""
ROUNDING_SHARE = 0.01
"""Difference of two currents that a datasheet's rounding explains. Common practice, no source."""


def circuit_current_a(unit: Microinverter, voltage_v: float) -> float:
    """Rated current of a unit on circuits of a nominal voltage [A], in each of its phases."""
    return max(unit.ac_power_w / unit.ac_phase_count / voltage_v, unit.ac_current_a or 0.0)


def why_unsuited(unit: Microinverter, voltage_v: float, rules: BranchCircuitRules, phase_count: int) -> str | None:
    """Why a unit does not suit the circuits of a supply, with what is allowed; None where it does."""
    if unit.ac_phase_count not in (1, phase_count):
        return f"its ac_phase_count is {unit.ac_phase_count}, and the supply's phase_count {phase_count}: allowed is 1" + (
            f" or {phase_count}" if phase_count > 1 else ""
        )
    if unit.ac_voltage_v is not None and not _is_near(unit, voltage_v):
        low, high = (voltage_v * (1.0 + side * VOLTAGE_TOLERANCE_SHARE) for side in (-1.0, 1.0))
        return (
            f"its ac_voltage_v is {unit.ac_voltage_v:g} V, and its circuits are at {voltage_v:g} V: allowed is {low:g} to "
            f"{high:g} V, or give circuits.voltage_v where the circuits have another voltage"
        )
    current = circuit_current_a(unit, voltage_v)
    if not current_fits(current, rules):
        allowed = rules.device_rating_a / rules.continuous_current_factor
        return (
            f"its current of {current:.4g} A times {rules.continuous_current_factor:g} is above its overcurrent device of "
            f"{rules.device_rating_a:g} A: allowed is at most {allowed:.4g} A, or give a larger circuits.device_rating_a"
        )
    return None


def _is_near(unit: Microinverter, voltage_v: float) -> bool:
    """Whether a unit's voltage is that of its circuits; a three-phase unit may state it between two phases."""
    nominal = (voltage_v, voltage_v * sqrt(3.0)) if unit.ac_phase_count > 1 else (voltage_v,)
    return any(abs((unit.ac_voltage_v or 0.0) / each - 1.0) <= VOLTAGE_TOLERANCE_SHARE for each in nominal)


def current_caution(unit: Microinverter, voltage_v: float) -> str | None:
    """Caution where the datasheet's current is too low for the unit's power at the circuits' voltage; None otherwise."""
    current = circuit_current_a(unit, voltage_v)
    if unit.ac_current_a is None or current <= unit.ac_current_a * (1.0 + ROUNDING_SHARE):
        return None
    return (
        f"{unit.name}: its ac_current_a of {unit.ac_current_a:.4g} A is less than its power needs at the {voltage_v:g} V of "
        f"its circuits; they are designed for {current:.4g} A."
    )

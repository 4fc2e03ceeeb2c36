"""Current of a microinverter on circuits of a nominal voltage, and whether it suits them.

At power factor one. The current is the datasheet's, but at least rated power over nominal voltage: a unit that is rated at a
higher voltage still delivers its power at a lower one.
"""

from __future__ import annotations

from math import sqrt

from wattpair_service.engineering.cautions import Caution, caution_form
from wattpair_service.engineering.circuits.branch_circuits import BranchCircuitRules, current_fits
from wattpair_service.engineering.equipment import Microinverter
from wattpair_service.engineering.sentences import Sentence, sentence

VOLTAGE_TOLERANCE_SHARE = 0.1
"""Deviation of a supply's voltage from its nominal voltage. EN 50160, from memory."""
ROUNDING_SHARE = 0.01
"""Difference of two currents that a datasheet's rounding explains. Common practice, no source."""
PHASES = sentence("unsuited.phases", "given", "supply", "allowed")
VOLTAGE = sentence("unsuited.voltage", "given_v", "voltage_v", "low_v", "high_v")
CURRENT = sentence("unsuited.current", "current_a", "factor", "rating_a", "most_a")
LOW_CURRENT = caution_form("low_rated_current", "electrician", "order", "unit", "given_a", "voltage_v", "current_a")


def circuit_current_a(unit: Microinverter, voltage_v: float) -> float:
    """Rated current of a unit on circuits of a nominal voltage [A], in each of its phases."""
    return max(unit.ac_power_w / unit.ac_phase_count / voltage_v, unit.ac_current_a or 0.0)


def why_unsuited(unit: Microinverter, voltage_v: float, rules: BranchCircuitRules, phase_count: int) -> Sentence | None:
    """Why a unit does not suit the circuits of a supply, with what is allowed; None where it does."""
    if unit.ac_phase_count not in (1, phase_count):
        allowed = (1, phase_count) if phase_count > 1 else (1,)
        return PHASES(given=unit.ac_phase_count, supply=phase_count, allowed=tuple(map(str, allowed)))
    if unit.ac_voltage_v is not None and not _is_near(unit, voltage_v):
        low, high = (voltage_v * (1.0 + side * VOLTAGE_TOLERANCE_SHARE) for side in (-1.0, 1.0))
        return VOLTAGE(given_v=unit.ac_voltage_v, voltage_v=voltage_v, low_v=low, high_v=high)
    current = circuit_current_a(unit, voltage_v)
    if not current_fits(current, rules):
        return CURRENT(
            current_a=current,
            factor=rules.continuous_current_factor,
            rating_a=rules.device_rating_a,
            most_a=rules.device_rating_a / rules.continuous_current_factor,
        )
    return None


def _is_near(unit: Microinverter, voltage_v: float) -> bool:
    """Whether a unit's voltage is that of its circuits; a three-phase unit may state it between two phases."""
    nominal = (voltage_v, voltage_v * sqrt(3.0)) if unit.ac_phase_count > 1 else (voltage_v,)
    return any(abs((unit.ac_voltage_v or 0.0) / each - 1.0) <= VOLTAGE_TOLERANCE_SHARE for each in nominal)


def current_caution(unit: Microinverter, voltage_v: float) -> Caution | None:
    """Caution where the datasheet's current is too low for the unit's power at the circuits' voltage; None otherwise."""
    current = circuit_current_a(unit, voltage_v)
    if unit.ac_current_a is None or current <= unit.ac_current_a * (1.0 + ROUNDING_SHARE):
        return None
    return LOW_CURRENT(unit=unit.name, given_a=unit.ac_current_a, voltage_v=voltage_v, current_a=current)

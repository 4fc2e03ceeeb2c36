"""Modules and microinverters, as their datasheets print them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wattpair_service.engineering.inverter.conversion import Conversion


@dataclass(frozen=True, slots=True)
class Module:
    """A PV module by its datasheet, at standard test conditions (1000 W/m2, 25 degC cell, AM 1.5; IEC 60904-3).

    Temperature coefficients are in percent per kelvin, as datasheets print them: negative for open-circuit voltage and
    for power, usually slightly positive for short-circuit current.
    """

    name: str
    power_w: float
    voltage_oc_v: float
    voltage_mp_v: float
    current_sc_a: float
    current_mp_a: float
    temp_coefficient_voc_percent_per_k: float
    temp_coefficient_isc_percent_per_k: float
    temp_coefficient_pmp_percent_per_k: float
    length_m: float
    width_m: float
    mass_kg: float

    @property
    def area_m2(self) -> float:
        """Outer area of the module [m2]."""
        return self.length_m * self.width_m


@dataclass(frozen=True, slots=True)
class ThermalDerating:
    """Reduction of a microinverter's AC limit in hot air.

    Full power up to `start_temp_c`, then less by `percent_per_k` of the limit for each kelvin, and off above
    `shutdown_temp_c`.
    """

    start_temp_c: float
    percent_per_k: float
    shutdown_temp_c: float


@dataclass(frozen=True, slots=True)
class Microinverter:
    """A microinverter by its datasheet.

    `ac_power_w` is the continuous output of all inputs together, `ac_peak_power_w` the output for some minutes. The
    operating window is the range of DC voltage in which it runs; the full-power window, inside it, the range in which its
    datasheet promises full power. AC current, in each of its phases, and voltage are None where not given:
    `unit_on_circuits` then assumes them. `ac_phase_count` is 3 for a unit that feeds all three phases.
    """

    name: str
    ac_power_w: float
    ac_peak_power_w: float
    ac_current_a: float | None
    ac_voltage_v: float | None
    dc_voltage_max_v: float
    dc_operating_voltage_min_v: float
    dc_operating_voltage_max_v: float
    dc_full_power_voltage_min_v: float
    dc_full_power_voltage_max_v: float
    dc_start_voltage_v: float
    dc_current_max_a: float
    dc_short_circuit_current_max_a: float
    input_count: int
    modules_per_input_max: int
    conversion: Conversion
    start_power_w: float
    night_draw_w: float
    derating: ThermalDerating | None
    mass_kg: float
    ac_phase_count: int = 1

    def per_module(self, modules_per_input: int) -> ModuleLimits:
        """The limits per module, with all inputs filled alike and all modules at the same irradiance."""
        modules = self.input_count * modules_per_input
        return ModuleLimits(
            modules_per_unit=modules,
            in_series=modules_per_input,
            ac_power_w=self.ac_power_w / modules,
            ac_peak_power_w=self.ac_peak_power_w / modules,
            operating_voltage_min_v=self.dc_operating_voltage_min_v / modules_per_input,
            operating_voltage_max_v=self.dc_operating_voltage_max_v / modules_per_input,
            start_voltage_v=self.dc_start_voltage_v / modules_per_input,
            current_max_a=self.dc_current_max_a,
            start_power_w=self.start_power_w / modules,
            night_draw_w=self.night_draw_w / modules,
        )


@dataclass(frozen=True, slots=True)
class ModuleLimits:
    """A microinverter's limits per module: power divided by all its modules, voltage by those in series."""

    modules_per_unit: int
    in_series: int
    ac_power_w: float
    ac_peak_power_w: float
    operating_voltage_min_v: float
    operating_voltage_max_v: float
    start_voltage_v: float
    current_max_a: float
    start_power_w: float
    night_draw_w: float

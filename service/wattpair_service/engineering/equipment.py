"""Modules and microinverters, as their datasheets print them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from wattpair_service.engineering.inverter.conversion import Conversion


@dataclass(frozen=True, slots=True)
class Cells:
    """Cells of a module: its bypass groups, side by side across its short side, and whether the cells are cut in halves."""

    group_count: int = 3
    half_cut: bool = True


@dataclass(frozen=True, slots=True)
class Module:
    """A PV module by its datasheet, at standard test conditions (1000 W/m2, 25 degC cell, AM 1.5; IEC 60904-3).

    Temperature coefficients are in percent per kelvin, as datasheets print them: negative for open-circuit voltage and
    for power, usually slightly positive for short-circuit current. `bifaciality` is the power from the back over that from the
    front at the same irradiance (0-1), 0 for a module that is not bifacial; `series_fuse_rating_a` the largest fuse in series
    with it, None where not given. `cells` matter under shade.
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
    bifaciality: float = 0.0
    series_fuse_rating_a: float | None = None
    cells: Cells = Cells()

    @property
    def area_m2(self) -> float:
        """Outer area of the module [m2]."""
        return self.length_m * self.width_m


Wiring = Literal["series", "parallel"]


@dataclass(frozen=True, slots=True)
class InputWiring:
    """The modules on each input of a microinverter: how many, and whether in series (voltages add) or parallel (currents)."""

    modules_per_input: int = 1
    wiring: Wiring = "series"

    @property
    def in_series(self) -> int:
        """Modules whose voltages add."""
        return self.modules_per_input if self.wiring == "series" else 1

    @property
    def in_parallel(self) -> int:
        """Modules whose currents add."""
        return self.modules_per_input if self.wiring == "parallel" else 1

    def filled(self, module_count: int) -> tuple[tuple[InputWiring, int], ...]:
        """Inputs that hold so many modules, filled one after another: how they are wired, and the modules on them together.

        First the full inputs, then the last one where fewer modules are left for it.
        """
        left = module_count % self.modules_per_input
        full = ((self, module_count - left),) if module_count > left else ()
        return (*full, (replace(self, modules_per_input=left), left)) if left else full

    def fewest_in_series(self, module_counts: Iterable[int]) -> int:
        """Modules in series on the input with the fewest, where faces with so many modules are filled."""
        if self.wiring == "parallel":
            return 1
        return min(
            (count % self.modules_per_input or self.modules_per_input for count in module_counts), default=self.in_series
        )


ONE_MODULE = InputWiring()
"""One module on each input."""


@dataclass(frozen=True, slots=True)
class ThermalDerating:
    """Reduction of a microinverter's AC limit in hot air.

    Full power up to `start_temp_c`, then less by `percent_per_k` of the limit for each kelvin, and off above
    `shutdown_temp_c`.
    """

    start_temp_c: float
    percent_per_k: float
    shutdown_temp_c: float


Tracker = Literal["global", "local"]


@dataclass(frozen=True, slots=True)
class Microinverter:
    """A microinverter by its datasheet.

    `ac_power_w` is the continuous output of all inputs together, `ac_peak_power_w` the output for some minutes. The
    operating window is the range of DC voltage in which it runs; the full-power window, inside it, the range in which its
    datasheet promises full power. AC current, in each of its phases, and voltage are None where not given:
    `unit_on_circuits` then assumes them. `ac_phase_count` is 3 for a unit that feeds all three phases. Of several maxima under
    shade, `tracker` holds the highest (global) or the one at the highest voltage (local).
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
    tracker: Tracker = "global"

    def module_capacity(self, input_wiring: InputWiring = ONE_MODULE) -> int:
        """Modules of a unit whose inputs are all full."""
        return self.input_count * input_wiring.modules_per_input

    def unit_fillings(self, module_count: int, input_wiring: InputWiring = ONE_MODULE) -> dict[int, int]:
        """Modules on a unit, and how many of a face's modules are on such units: full ones, then one with those left."""
        capacity = self.module_capacity(input_wiring)
        left = module_count % capacity
        return {on_unit: count for on_unit, count in ((capacity, module_count - left), (left, left)) if count}

    def per_module(self, input_wiring: InputWiring = ONE_MODULE, module_count: int | None = None) -> ModuleLimits:
        """The limits per module on inputs wired like that, all modules at the same irradiance.

        `module_count` is the number on all inputs of the unit; if omitted, all inputs are full.
        """
        modules, in_series = module_count or self.module_capacity(input_wiring), input_wiring.in_series
        return ModuleLimits(
            modules_per_unit=modules,
            in_series=in_series,
            ac_power_w=self.ac_power_w / modules,
            ac_peak_power_w=self.ac_peak_power_w / modules,
            operating_voltage_min_v=self.dc_operating_voltage_min_v / in_series,
            operating_voltage_max_v=self.dc_operating_voltage_max_v / in_series,
            start_voltage_v=self.dc_start_voltage_v / in_series,
            current_max_a=self.dc_current_max_a / input_wiring.in_parallel,
            start_power_w=self.start_power_w / modules,
            night_draw_w=self.night_draw_w / modules,
        )


@dataclass(frozen=True, slots=True)
class ModuleLimits:
    """A microinverter's limits per module: power over all its modules, voltage over those in series, current over parallel."""

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

"""Module and microinverter, by their datasheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wattpair.inputs.shared import Fields


@dataclass(frozen=True, slots=True, kw_only=True)
class Module:
    """A PV module by its datasheet, at standard test conditions.

    Parameters
    ----------
    name : str
        Name used in the result.
    power_w : float
        Rated power [W].
    voltage_oc_v, voltage_mp_v : float
        Voltage in open circuit and at maximum power [V].
    current_sc_a, current_mp_a : float
        Current in short circuit and at maximum power [A].
    temp_coefficient_voc_percent_per_k : float
        Temperature coefficient of the open-circuit voltage, negative, in percent [%/K].
    temp_coefficient_isc_percent_per_k : float
        Temperature coefficient of the short-circuit current, in percent [%/K].
    temp_coefficient_pmp_percent_per_k : float
        Temperature coefficient of the maximum power, negative, in percent [%/K].
    length_m, width_m : float
        Longer and shorter side [m].
    mass_kg : float
        Mass [kg].
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


@dataclass(frozen=True, slots=True, kw_only=True)
class EfficiencyPoint:
    """One measured conversion efficiency.

    Parameters
    ----------
    load_share : float
        AC output as a share of the rated AC power.
    efficiency_percent : float
        Conversion efficiency [%].
    dc_voltage_v : float, optional
        DC voltage of the measurement; give it for every point or for none [V].
    """

    load_share: float
    efficiency_percent: float
    dc_voltage_v: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SandiaCurve:
    """Coefficients of the Sandia inverter model, as equipment lists publish them.

    Parameters
    ----------
    ac_power_w_ref, dc_power_w_ref : float
        Rated AC power, Paco, and the DC power that it takes, Pdco [W].
    dc_voltage_v_ref : float
        DC voltage of the reference point, Vdco [V].
    start_power_w : float
        DC power at which conversion starts, Pso [W].
    c0_per_w : float
        Curvature, C0 [1/W].
    c1_per_v, c2_per_v, c3_per_v : float
        Voltage dependence of Pdco, Pso and C0 [1/V].
    """

    ac_power_w_ref: float
    dc_power_w_ref: float
    dc_voltage_v_ref: float
    start_power_w: float
    c0_per_w: float
    c1_per_v: float
    c2_per_v: float
    c3_per_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Derating:
    """Fall of the AC limit in heat.

    Parameters
    ----------
    start_temp_c : float
        Air temperature at the unit above which derating starts [degC].
    percent_per_k : float
        Reduction of the AC limit for each kelvin above start_temp_c [%/K].
    shutdown_temp_c : float
        Air temperature at the unit above which it shuts down [degC].
    """

    start_temp_c: float
    percent_per_k: float
    shutdown_temp_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Microinverter:
    """A microinverter by its datasheet.

    Give exactly one of `cec_efficiency_percent`, `european_efficiency_percent`, `efficiency_points` and `sandia_curve`.

    Parameters
    ----------
    name : str
        Name used in the result; unique among the candidates.
    ac_power_w : float
        Rated continuous AC power of the whole unit [W].
    dc_voltage_max_v : float
        Absolute maximum DC voltage of an input [V].
    dc_operating_voltage_min_v, dc_operating_voltage_max_v : float
        Operating window of an input [V].
    dc_start_voltage_v : float
        DC voltage at which the unit starts [V].
    dc_current_max_a, dc_short_circuit_current_max_a : float
        Highest operating current and short-circuit rating of an input [A].
    mass_kg : float
        Mass [kg].
    ac_peak_power_w : float, optional
        AC power of the whole unit for some minutes, where its maker states one [W].
    ac_voltage_v : float, optional
        Nominal AC voltage; that of its circuits where left out [V].
    ac_current_a : float, optional
        Rated AC current [A].
    dc_full_power_voltage_min_v, dc_full_power_voltage_max_v : float, optional
        Window in which full power is promised [V].
    input_count : int, optional
        Inputs, each with its own maximum power point tracking.
    modules_per_input_max : int, optional
        Most modules in series on an input.
    cec_efficiency_percent, european_efficiency_percent : float, optional
        Efficiency with CEC or European weights [%].
    efficiency_points : sequence of EfficiencyPoint, optional
        Measured efficiencies, at three or more load shares.
    sandia_curve : SandiaCurve, optional
        Coefficients of the Sandia model.
    start_power_w : float, optional
        DC power at which the unit starts [W].
    night_draw_w : float, optional
        Power that the unit draws from the grid while it delivers none [W].
    derating : Derating, optional
        Thermal derating of the AC limit; none is modelled if left out.
    """

    name: str
    ac_power_w: float
    dc_voltage_max_v: float
    dc_operating_voltage_min_v: float
    dc_operating_voltage_max_v: float
    dc_start_voltage_v: float
    dc_current_max_a: float
    dc_short_circuit_current_max_a: float
    mass_kg: float
    ac_peak_power_w: float | None = None
    ac_voltage_v: float | None = None
    ac_current_a: float | None = None
    dc_full_power_voltage_min_v: float | None = None
    dc_full_power_voltage_max_v: float | None = None
    input_count: int | None = None
    modules_per_input_max: int | None = None
    cec_efficiency_percent: float | None = None
    european_efficiency_percent: float | None = None
    efficiency_points: Sequence[EfficiencyPoint | Fields] | None = None
    sandia_curve: SandiaCurve | Fields | None = None
    start_power_w: float | None = None
    night_draw_w: float | None = None
    derating: Derating | Fields | None = None

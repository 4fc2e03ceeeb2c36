"""Electrical checks of a module on a microinverter's input at a site's temperature extremes.

Each check has a value, a limit, a margin, a verdict and a source. A failing check means that the pairing must not be built
as described; a caution, that it costs energy or leaves little margin.

Neglected: edge-of-cloud irradiance above 1000 W/m2, the 1 % by which irradiance on the back raises a voltage, tolerance of the
module's figures (a margin below `SMALL_MARGIN_SHARE` of the voltage limit is a caution for these reasons).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.equipment import InputWiring, Microinverter, Module
from wattpair_service.engineering.module import single_diode
from wattpair_service.engineering.module.cell_temperature import AIR_UNDER_MODULE_SHARE, cell_temperature
from wattpair_service.engineering.module.rear_irradiance import CURRENT_SOURCE as REAR_SOURCE
from wattpair_service.engineering.module.single_diode import STC_TEMP_C, STC_W_M2, SixParameters, curve_at
from wattpair_service.engineering.site import ColdFloor, DesignTemperatures

Verdict = Literal["ok", "caution", "fail"]
VERDICTS: tuple[Verdict, ...] = ("ok", "caution", "fail")
"""From the best to the worst."""

LOW_LIGHT_W_M2 = 100.0
SMALL_MARGIN_SHARE = 0.03
HOT_WIND_M_S = 1.0

FUSELESS_PARALLEL_MAX = 2
"""Modules in parallel that need no fuse whatever their rating: only one of them can feed a faulty other. IEC 62548 and NEC
690.9(A), from memory."""

SITE_RECORD_CHECK: Literal["site_record_low"] = "site_record_low"
"""The check that asks for the site's own record low."""

CURVE_SOURCE = "the module's single diode (Dobos 2012, 10.1115/1.4005759) fitted to its datasheet"


@dataclass(frozen=True, slots=True)
class ElectricalRules:
    """Requirements of a region's code for the DC circuit: data from rules/, with clause and edition.

    `cold_voltage_factors` maps the lower edge of each temperature band [degC] to its factor; None where the code has no
    table. `cold_temperature` is the code's own definition of the lowest temperature, where it has one. `cold_floors` are the
    temperatures of the region's custom. From `high_voltage_v` on, `high_voltage_consequences` hold for the DC side.
    """

    region: str
    place: str
    edition: str
    short_circuit_factor: float
    short_circuit_source: str
    cold_voltage_source: str
    cold_voltage_factors: tuple[tuple[float, float], ...] | None
    cold_temperature: str | None
    cold_floors: tuple[ColdFloor, ...]
    high_voltage_v: float
    high_voltage_consequences: str
    high_voltage_source: str


CheckName = Literal[
    "open_circuit_voltage_cold",
    "site_record_low",
    "arc_fault_and_rapid_shutdown",
    "short_circuit_current",
    "module_series_fuse",
    "modules_per_input",
    "mp_voltage_cold_operating_window",
    "mp_voltage_cold_full_power_window",
    "mp_voltage_hot_full_power_window",
    "mp_voltage_hot_operating_window",
    "start_voltage_hot",
    "start_voltage_low_light",
    "operating_current",
    "shutdown_temperature",
    "derating_temperature",
    "dc_ac_ratio_stc",
    "dc_ac_ratio_site_irradiance",
]
"""Every check that a pairing can get. The sheet has words for each."""


@dataclass(frozen=True, slots=True)
class ElectricalCheck:
    """Result of one check; `face` names the face that it is for, None where it is for all.

    `margin` is positive on the safe side, in the unit of value and limit; both are None where there is no limit.
    """

    name: CheckName
    value: float
    limit: float | None
    unit: str
    margin: float | None
    verdict: Verdict
    source: str
    explanation: str
    face: str | None = None


def coefficient_voltage(voltage_oc_v: float, temp_coefficient_percent_per_k: float, temp_cell_c: float) -> float:
    """Open-circuit voltage at a cell temperature by the module's own coefficient [V]."""
    return voltage_oc_v * (1.0 + temp_coefficient_percent_per_k / 100.0 * (temp_cell_c - STC_TEMP_C))


def table_voltage(voltage_oc_v: float, factors: tuple[tuple[float, float], ...], temp_lowest_c: float) -> float:
    """Open-circuit voltage by a code's table of factors for bands of the lowest temperature [V].

    Above the warmest band the factor is 1. Raises ValueError below the coldest band, where the table ends.
    """
    whole_degree = float(np.floor(temp_lowest_c))
    bands = [(edge, factor) for edge, factor in factors if edge <= whole_degree]
    if not bands:
        raise ValueError(f"the table of cold-voltage factors ends at {min(factors)[0]:g} degC")
    edge, factor = max(bands)
    warmest = max(factors)[0]
    return voltage_oc_v * (1.0 if edge == warmest and whole_degree >= STC_TEMP_C else factor)


def check_pairing(
    *,
    module: Module,
    parameters: SixParameters,
    microinverter: Microinverter,
    design: DesignTemperatures,
    mountings: frozenset[str],
    rules: ElectricalRules,
    by_table: bool,
    input_wiring: InputWiring,
    site_irradiance_w_m2: Mapping[str, float],
    rear_current_factor: float = 1.0,
    module_counts: Iterable[int] = (),
) -> tuple[ElectricalCheck, ...]:
    """All electrical checks of one pairing.

    Parameters
    ----------
    module, parameters, microinverter
        The pairing; `parameters` fitted to `module`.
    design : DesignTemperatures
        Lowest and highest expected air temperature of the site.
    mountings : frozenset of str
        Keys of `cell_temperature.MOUNTINGS`; the hottest of them is used.
    rules : ElectricalRules
        The region's factors.
    by_table : bool
        Whether the cold voltage comes from the code's table instead of the module's coefficient.
    input_wiring : InputWiring
        Modules on one input.
    site_irradiance_w_m2 : mapping of face name to irradiance [W/m2]
        Energy-weighted mean irradiance of each face, with what its back adds; may be empty.
    rear_current_factor : float
        Factor on currents for irradiance on the back; see `module.rear_irradiance`.
    module_counts : iterable of int
        Modules on each face. Where they leave fewer on a face's last input in series, its low voltages are judged; empty where
        every input is full.
    """
    fewest_in_series = input_wiring.fewest_in_series(module_counts)
    where = "" if fewest_in_series == input_wiring.in_series else f"On the input with only {fewest_in_series} in series: "
    shortest = _Extremes.of(parameters, design.lowest_c, design.highest_c, mountings, fewest_in_series)
    extremes = _Extremes.of(parameters, design.lowest_c, design.highest_c, mountings, input_wiring.in_series)
    cold_v, cold_source = _cold_voltage(module, rules, by_table, design.lowest_c, input_wiring.in_series)
    currents = _Currents(input_wiring.in_parallel, rear_current_factor, rules)
    return (
        _cold_voltage_check(cold_v, microinverter, design, cold_source, rules),
        *_site_record_checks(cold_v, microinverter, design),
        *_high_voltage_checks(cold_v, input_wiring, rules),
        _short_circuit_check(module, microinverter, currents),
        *_series_fuse_checks(module, currents),
        _input_count_check(microinverter, input_wiring.modules_per_input),
        *_window_checks(extremes, shortest, microinverter, where),
        *_start_checks(shortest, microinverter, where),
        _operating_current_check(extremes, microinverter, currents),
        *_heat_checks(extremes, microinverter),
        *_ratio_checks(module, microinverter, parameters, input_wiring.modules_per_input, site_irradiance_w_m2),
    )


def verdict_of(checks: tuple[ElectricalCheck, ...]) -> Verdict:
    """The worst verdict among the checks."""
    verdicts = {check.verdict for check in checks}
    return "fail" if "fail" in verdicts else "caution" if "caution" in verdicts else "ok"


def needs_site_record(checks: tuple[ElectricalCheck, ...]) -> bool:
    """Whether the pairing is near its voltage limit at an estimated temperature: not to be built before the site's is known."""
    return any(check.name == SITE_RECORD_CHECK for check in checks)


def is_buildable(checks: tuple[ElectricalCheck, ...]) -> bool:
    """Whether no check fails, and the cold voltage does not hang on an estimated temperature."""
    return verdict_of(checks) != "fail" and not needs_site_record(checks)


@dataclass(frozen=True, slots=True)
class _Currents:
    """What multiplies a module's current on an input, and the region's factor on the short-circuit current."""

    in_parallel: int
    rear_factor: float
    rules: ElectricalRules

    @property
    def on_input(self) -> float:
        """Current of the input over that of one module without irradiance on its back."""
        return self.in_parallel * self.rear_factor

    @property
    def words(self) -> str:
        """The factors in words, empty for one module without irradiance on its back."""
        modules = f" of {self.in_parallel} modules in parallel" if self.in_parallel > 1 else ""
        return modules + (f" times {self.rear_factor:.3g} for irradiance on the back" if self.rear_factor > 1.0 else "")

    def source(self, source: str) -> str:
        """A source, with that of the factor for the back where it counts."""
        return f"{source}; {REAR_SOURCE}" if self.rear_factor > 1.0 else source


@dataclass(frozen=True, slots=True)
class _Extremes:
    """DC response of an input at the site's extremes, for all its modules in series."""

    temp_cell_hot_c: float
    temp_under_module_hot_c: float
    voltage_mp_cold_v: float
    voltage_mp_hot_v: float
    voltage_oc_hot_v: float
    voltage_oc_low_light_v: float
    current_mp_hot_a: float

    @classmethod
    @lru_cache(maxsize=64)
    def of(
        cls,
        parameters: SixParameters,
        temp_lowest_c: float,
        temp_highest_c: float,
        mountings: frozenset[str],
        in_series: int,
    ) -> _Extremes:
        irradiance_w_m2 = np.array([STC_W_M2, STC_W_M2, LOW_LIGHT_W_M2])
        hot_c, hot_low_light_c = _hottest_c(mountings, irradiance_w_m2[1:], temp_highest_c)
        cell_temp_c = np.array([temp_lowest_c, hot_c, hot_low_light_c])
        curve = curve_at(parameters, irradiance_w_m2=irradiance_w_m2, cell_temp_c=cell_temp_c)
        best, open_circuit = single_diode.maximum_power(curve), single_diode.open_circuit_voltage(curve)
        return cls(
            temp_cell_hot_c=hot_c,
            temp_under_module_hot_c=temp_highest_c + AIR_UNDER_MODULE_SHARE * (hot_c - temp_highest_c),
            voltage_mp_cold_v=float(best.voltage_v[0]) * in_series,
            voltage_mp_hot_v=float(best.voltage_v[1]) * in_series,
            voltage_oc_hot_v=float(open_circuit[1]) * in_series,
            voltage_oc_low_light_v=float(open_circuit[2]) * in_series,
            current_mp_hot_a=float(best.current_a[1]),
        )


def _hottest_c(mountings: frozenset[str], irradiance_w_m2: FloatArray, temp_air_c: float) -> list[float]:
    """Cell temperature of the hottest of the mountings in light wind, at each irradiance [degC]."""
    air, wind = (np.full(irradiance_w_m2.shape, value) for value in (temp_air_c, HOT_WIND_M_S))
    cells = [
        cell_temperature(mounting=mounting, irradiance_w_m2=irradiance_w_m2, temp_air_c=air, wind_speed_m_s=wind)
        for mounting in mountings
    ]
    return [max(at) for at in zip(*(each.tolist() for each in cells), strict=True)]


def _cold_voltage(
    module: Module, rules: ElectricalRules, by_table: bool, temp_lowest_c: float, in_series: int
) -> tuple[float, str]:
    """Voltage [V] and its source. With `by_table`: the table's, unless the module's own coefficient gives more."""
    voltage = coefficient_voltage(module.voltage_oc_v, module.temp_coefficient_voc_percent_per_k, temp_lowest_c)
    if by_table and rules.cold_voltage_factors is not None:
        by_factor = table_voltage(module.voltage_oc_v, rules.cold_voltage_factors, temp_lowest_c)
        if by_factor >= voltage:
            return by_factor * in_series, f"{rules.cold_voltage_source}, table of factors"
    return voltage * in_series, f"{rules.cold_voltage_source}, module's own coefficient"


def _upper(
    name: CheckName,
    value: float,
    limit: float,
    unit: str,
    beyond: Verdict,
    source: str,
    explanation: str,
    small_margin: float = 0.0,
) -> ElectricalCheck:
    """A check whose value must not exceed its limit; a margin below `small_margin` is a caution."""
    margin = limit - value
    verdict: Verdict = beyond if margin < 0 else "caution" if margin < small_margin else "ok"
    return ElectricalCheck(name, value, limit, unit, margin, verdict, source, explanation)


def _lower(
    name: CheckName, value: float, limit: float, unit: str, beyond: Verdict, source: str, explanation: str
) -> ElectricalCheck:
    """A check whose value must not fall below its limit."""
    margin = value - limit
    return ElectricalCheck(name, value, limit, unit, margin, beyond if margin < 0 else "ok", source, explanation)


def _cold_voltage_check(
    voltage_v: float, microinverter: Microinverter, design: DesignTemperatures, source: str, rules: ElectricalRules
) -> ElectricalCheck:
    limit = microinverter.dc_voltage_max_v
    own_definition = ""
    if rules.cold_temperature is not None:
        known = "" if design.mean_yearly_lowest_c is None else f", {design.mean_yearly_lowest_c:.1f} degC at the station"
        own_definition = f" The code itself asks for {rules.cold_temperature}{known}."
    return _upper(
        "open_circuit_voltage_cold",
        voltage_v,
        limit,
        "V",
        "fail",
        source,
        f"Open-circuit voltage with cells at {design.lowest_c:g} degC against the absolute DC limit. Beyond it the unit can be "
        f"destroyed. A small margin is a caution because datasheet voltages have a tolerance.{own_definition}",
        small_margin=SMALL_MARGIN_SHARE * limit,
    )


def _site_record_checks(
    voltage_v: float, microinverter: Microinverter, design: DesignTemperatures
) -> tuple[ElectricalCheck, ...]:
    """A caution where the voltage is within `SMALL_MARGIN_SHARE` of its limit at a temperature that is only estimated."""
    limit_v = (1.0 - SMALL_MARGIN_SHARE) * microinverter.dc_voltage_max_v
    if not design.lowest_estimated or not limit_v < voltage_v <= microinverter.dc_voltage_max_v:
        return ()
    return (
        ElectricalCheck(
            SITE_RECORD_CHECK, voltage_v, limit_v, "V", limit_v - voltage_v, "caution", design.lowest_source,
            f"The cold voltage is within {SMALL_MARGIN_SHARE:.0%} of the absolute DC limit, and {design.lowest_c:.1f} degC is "
            "an estimate. Do not build this pairing on it: give the site's own record low as site.temp_lowest_c.",
        ),
    )  # fmt: skip


def _high_voltage_checks(voltage_v: float, input_wiring: InputWiring, rules: ElectricalRules) -> tuple[ElectricalCheck, ...]:
    """What the code asks of a DC side at this cold voltage; none for a single module below it."""
    limit_v = rules.high_voltage_v
    if input_wiring.in_series == 1 and voltage_v < limit_v:
        return ()
    return (
        ElectricalCheck(
            "arc_fault_and_rapid_shutdown", voltage_v, limit_v, "V", limit_v - voltage_v,
            "caution" if voltage_v >= limit_v else "ok", rules.high_voltage_source,
            f"Cold open-circuit voltage of the input. {rules.high_voltage_consequences}",
        ),
    )  # fmt: skip


def _short_circuit_check(module: Module, microinverter: Microinverter, currents: _Currents) -> ElectricalCheck:
    factor = currents.rules.short_circuit_factor
    return _upper(
        "short_circuit_current",
        module.current_sc_a * currents.on_input * factor,
        microinverter.dc_short_circuit_current_max_a,
        "A",
        "fail",
        currents.source(currents.rules.short_circuit_source),
        f"Short-circuit current{currents.words} times {factor:g} against the input's short-circuit rating.",
    )


def _series_fuse_checks(module: Module, currents: _Currents) -> tuple[ElectricalCheck, ...]:
    """What the other modules in parallel can feed into a faulty one, against its largest series fuse."""
    others, rating_a = currents.in_parallel - 1, module.series_fuse_rating_a
    if others == 0 or (rating_a is None and currents.in_parallel <= FUSELESS_PARALLEL_MAX):
        return ()
    factor = currents.rules.short_circuit_factor
    current_a = others * module.current_sc_a * currents.rear_factor * factor
    source = currents.source("IEC 62548-1 and NEC 690.9(A), overcurrent protection of modules in parallel (from memory)")
    what = f"Current of {others} other modules in parallel into a faulty one, with the factor {factor:g}"
    if rating_a is None:
        explanation = f"{what}: give the module's series_fuse_rating_a. Above its rating each module needs its own fuse."
        return (ElectricalCheck("module_series_fuse", current_a, None, "A", None, "caution", source, explanation),)
    return (
        _upper(
            "module_series_fuse", current_a, rating_a, "A", "fail", source,
            f"{what} against the module's largest series fuse. Beyond it each module needs its own fuse.",
        ),
    )  # fmt: skip


def _input_count_check(microinverter: Microinverter, modules_per_input: int) -> ElectricalCheck:
    return _upper(
        "modules_per_input",
        modules_per_input,
        microinverter.modules_per_input_max,
        "modules",
        "fail",
        "the microinverter's datasheet",
        "Modules on one input against what its maker allows.",
    )


def _window_checks(
    extremes: _Extremes, shortest: _Extremes, microinverter: Microinverter, where: str
) -> tuple[ElectricalCheck, ...]:
    """The top of the windows for a full input, the bottom for the one with the fewest modules in series."""
    cold, hot = extremes.voltage_mp_cold_v, shortest.voltage_mp_hot_v
    at_cold = "Voltage at maximum power in full sun with cells at the lowest temperature"
    at_hot = f"{where}Voltage at maximum power in full sun with cells at {extremes.temp_cell_hot_c:.0f} degC"
    full = (
        "Outside this window full power is not guaranteed. The clipping result includes this loss only as far as the "
        "input-current limit represents it."
    )
    operating = "Outside this window the unit leaves the maximum power point; the clipping result has the yearly loss."
    return (
        _upper(
            "mp_voltage_cold_operating_window", cold, microinverter.dc_operating_voltage_max_v, "V", "caution",
            CURVE_SOURCE, f"{at_cold} against the top of the operating window. {operating}",
        ),
        _upper(
            "mp_voltage_cold_full_power_window", cold, microinverter.dc_full_power_voltage_max_v, "V", "caution",
            CURVE_SOURCE, f"{at_cold} against the top of the full-power window. {full}",
        ),
        _lower(
            "mp_voltage_hot_full_power_window", hot, microinverter.dc_full_power_voltage_min_v, "V", "caution",
            CURVE_SOURCE, f"{at_hot} against the bottom of the full-power window. {full}",
        ),
        _lower(
            "mp_voltage_hot_operating_window", hot, microinverter.dc_operating_voltage_min_v, "V", "caution",
            CURVE_SOURCE, f"{at_hot} against the bottom of the operating window. {operating}",
        ),
    )  # fmt: skip


def _start_checks(extremes: _Extremes, microinverter: Microinverter, where: str) -> tuple[ElectricalCheck, ...]:
    needed_v = max(microinverter.dc_start_voltage_v, microinverter.dc_operating_voltage_min_v)
    return (
        _lower(
            "start_voltage_hot", extremes.voltage_oc_hot_v, needed_v, "V", "fail", CURVE_SOURCE,
            f"{where}Open-circuit voltage in full sun with the hottest cells against the start voltage, or the bottom of the "
            "operating window where that is higher. Below it the unit does not run on a hot day.",
        ),
        _lower(
            "start_voltage_low_light", extremes.voltage_oc_low_light_v, needed_v, "V", "caution",
            CURVE_SOURCE,
            f"{where}Open-circuit voltage at {LOW_LIGHT_W_M2:g} W/m2 in the hottest air against the same voltage. Below it the "
            "unit starts late; the clipping result has the yearly loss.",
        ),
    )  # fmt: skip


def _operating_current_check(extremes: _Extremes, microinverter: Microinverter, currents: _Currents) -> ElectricalCheck:
    return _upper(
        "operating_current",
        extremes.current_mp_hot_a * currents.on_input,
        microinverter.dc_current_max_a,
        "A",
        "caution",
        currents.source(CURVE_SOURCE),
        f"Current at maximum power{currents.words} in full sun with the hottest cells against the input-current limit. Beyond "
        "it the unit leaves the maximum power point: a loss, not a fault; the clipping result has the yearly loss.",
    )


def _heat_checks(extremes: _Extremes, microinverter: Microinverter) -> tuple[ElectricalCheck, ...]:
    """Checks of the temperature at the unit; none without a thermal derating in the datasheet."""
    if microinverter.derating is None:
        return ()
    temp_c, source = extremes.temp_under_module_hot_c, "the microinverter's datasheet; air under the module: common practice"
    where = "Air at the unit, halfway between the hottest outside air and the cell in full sun,"
    return (
        _upper(
            "shutdown_temperature", temp_c, microinverter.derating.shutdown_temp_c, "degC", "fail", source,
            f"{where} against the temperature above which it is off.",
        ),
        _upper(
            "derating_temperature", temp_c, microinverter.derating.start_temp_c, "degC", "caution", source,
            f"{where} against the temperature up to which it gives full power; the clipping result has the yearly loss.",
        ),
    )  # fmt: skip


def _ratio_checks(
    module: Module,
    microinverter: Microinverter,
    parameters: SixParameters,
    modules_per_input: int,
    site_irradiance_w_m2: Mapping[str, float],
) -> tuple[ElectricalCheck, ...]:
    limit_w = microinverter.ac_power_w / microinverter.input_count
    at_stc = _ratio_check(
        "dc_ac_ratio_stc",
        module.power_w * modules_per_input / limit_w,
        "Module power at standard test conditions over the AC limit.",
    )
    if not site_irradiance_w_m2:
        return (at_stc,)
    curve = curve_at(
        parameters,
        irradiance_w_m2=np.array(list(site_irradiance_w_m2.values())),
        cell_temp_c=np.full(len(site_irradiance_w_m2), STC_TEMP_C),
    )
    powers_w = single_diode.maximum_power(curve).power_w * modules_per_input
    return (
        at_stc,
        *(
            _ratio_check(
                "dc_ac_ratio_site_irradiance",
                float(power_w) / limit_w,
                f"Module power with cells at 25 degC at {irradiance_w_m2:.0f} W/m2, the energy-weighted mean irradiance of "
                "this face, over the AC limit.",
                face,
            )
            for (face, irradiance_w_m2), power_w in zip(site_irradiance_w_m2.items(), powers_w, strict=True)
        ),
    )


def _ratio_check(name: CheckName, ratio: float, explanation: str, face: str | None = None) -> ElectricalCheck:
    """A DC/AC ratio. It has no limit: clipping and price decide."""
    return ElectricalCheck(
        name, ratio, None, "ratio", None, "ok", "derived from both datasheets",
        f"{explanation} Above 1 energy may be clipped; the clipping result says how much.", face,
    )  # fmt: skip

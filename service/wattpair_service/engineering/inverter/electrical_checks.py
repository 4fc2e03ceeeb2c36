"""Electrical checks of a module on a microinverter's input at a site's temperature extremes.

Each check has a value, a limit, a margin, a verdict and a source. A failing check means that the pairing must not be built
as described; a caution, that it costs energy or leaves little margin.

Neglected: edge-of-cloud irradiance above 1000 W/m2, the 1 % by which irradiance on the back raises a voltage, tolerance of the
module's figures (a margin below `SMALL_MARGIN_SHARE` of the voltage limit is a caution for these reasons).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, get_args

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.equipment import InputWiring, Microinverter, Module
from wattpair_service.engineering.module import single_diode
from wattpair_service.engineering.module.cell_temperature import AIR_UNDER_MODULE_SHARE, cell_temperature
from wattpair_service.engineering.module.rear_irradiance import CURRENT_SOURCE as REAR_SOURCE
from wattpair_service.engineering.module.single_diode import STC_TEMP_C, STC_W_M2, SixParameters, curve_at
from wattpair_service.engineering.sentences import Given, Sentence, Words, family, fixed, sentence, several
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

CURVE_SOURCE = fixed("source.curve")


@dataclass(frozen=True, slots=True)
class ElectricalRules:
    """Requirements of a region's code for the DC circuit: data from rules/, with clause and edition.

    `cold_voltage_factors` maps the lower edge of each temperature band [degC] to its factor; None where the code has no
    table. `cold_temperature` is the code's own definition of the lowest temperature, where it has one. `cold_floors` are the
    temperatures of the region's custom. From `high_voltage_v` on, `high_voltage_consequences` hold for the DC side.
    """

    region: str
    place: Given
    edition: str
    short_circuit_factor: float
    short_circuit_source: Words
    cold_voltage_source: Words
    cold_voltage_factors: tuple[tuple[float, float], ...] | None
    cold_temperature: Words | None
    cold_floors: tuple[ColdFloor, ...]
    high_voltage_v: float
    high_voltage_consequences: Words
    high_voltage_source: Words


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
"""Every check that a pairing can get."""
CHECKS = family("check", get_args(CheckName))

TABLE_OF_FACTORS, OWN_COEFFICIENT = (sentence(f"source.{each}", "source") for each in ("table_of_factors", "own_coefficient"))
FUSE_SOURCE = fixed("source.module_fuse")
UNIT_SOURCE, AIR_SOURCE, BOTH_SOURCE = (
    fixed(f"source.{each}") for each in ("unit_datasheet", "air_at_unit", "both_datasheets")
)
OF_PARALLEL, TIMES_REAR = sentence("check_text.of_parallel", "count"), sentence("check_text.times_rear", "factor")
COLD_VOLTAGE = sentence("check_text.cold_voltage", "temp_c", "own_definition")
OWN_DEFINITION = sentence("check_text.own_definition", "definition")
OWN_DEFINITION_KNOWN = sentence("check_text.own_definition_known", "definition", "temp_c")
SITE_RECORD = sentence("check_text.site_record_low", "share", "temp_c")
HIGH_VOLTAGE = sentence("check_text.high_voltage", "consequences")
SHORT_CIRCUIT = sentence("check_text.short_circuit", "factors", "factor")
FUSE_UNKNOWN = sentence("check_text.fuse_unknown", "others", "factor")
FUSE = sentence("check_text.fuse", "others", "factor")
INPUT_COUNT = fixed("check_text.modules_per_input")
COLD_OPERATING, COLD_FULL = (fixed(f"check_text.cold_{each}") for each in ("operating", "full_power"))
HOT_FULL, HOT_OPERATING = (sentence(f"check_text.hot_{each}", "temp_c") for each in ("full_power", "operating"))
ON_SHORT_INPUT = sentence("check_text.on_short_input", "count", "check")
START_HOT = fixed("check_text.start_hot")
START_LOW_LIGHT = sentence("check_text.start_low_light", "irradiance_w_m2")
OPERATING_CURRENT = sentence("check_text.operating_current", "factors")
SHUTDOWN, DERATING = fixed("check_text.shutdown"), fixed("check_text.derating")
RATIO_STC = fixed("check_text.ratio_stc")
RATIO_SITE = sentence("check_text.ratio_site", "irradiance_w_m2")


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
    source: Words
    explanation: Words
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

    def said(of_check: Sentence) -> Sentence:
        """The sentence, with the input that it is for where not all are alike."""
        is_short = fewest_in_series < input_wiring.in_series
        return ON_SHORT_INPUT(count=fewest_in_series, check=of_check) if is_short else of_check

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
        *_window_checks(extremes, shortest, microinverter, said),
        *_start_checks(shortest, microinverter, said),
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
    def words(self) -> tuple[Sentence, ...]:
        """The factors in words, none for one module without irradiance on its back."""
        modules = (OF_PARALLEL(count=self.in_parallel),) if self.in_parallel > 1 else ()
        return (*modules, TIMES_REAR(factor=self.rear_factor)) if self.rear_factor > 1.0 else modules

    def source(self, source: Words) -> Words:
        """A source, with that of the factor for the back where it counts."""
        return several(source, REAR_SOURCE) if self.rear_factor > 1.0 else source


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
    def of(
        cls,
        parameters: SixParameters,
        temp_lowest_c: float,
        temp_highest_c: float,
        mountings: frozenset[str],
        in_series: int,
    ) -> _Extremes:
        one = cls._of_module(parameters, temp_lowest_c, temp_highest_c, mountings)
        return replace(
            one,
            voltage_mp_cold_v=one.voltage_mp_cold_v * in_series,
            voltage_mp_hot_v=one.voltage_mp_hot_v * in_series,
            voltage_oc_hot_v=one.voltage_oc_hot_v * in_series,
            voltage_oc_low_light_v=one.voltage_oc_low_light_v * in_series,
        )

    @classmethod
    @lru_cache(maxsize=64)
    def _of_module(
        cls, parameters: SixParameters, temp_lowest_c: float, temp_highest_c: float, mountings: frozenset[str]
    ) -> _Extremes:
        irradiance_w_m2 = np.array([STC_W_M2, STC_W_M2, LOW_LIGHT_W_M2])
        hot_c, hot_low_light_c = _hottest_c(mountings, irradiance_w_m2[1:], temp_highest_c)
        cell_temp_c = np.array([temp_lowest_c, hot_c, hot_low_light_c])
        curve = curve_at(parameters, irradiance_w_m2=irradiance_w_m2, cell_temp_c=cell_temp_c)
        best, open_circuit = single_diode.maximum_power(curve), single_diode.open_circuit_voltage(curve)
        return cls(
            temp_cell_hot_c=hot_c,
            temp_under_module_hot_c=temp_highest_c + AIR_UNDER_MODULE_SHARE * (hot_c - temp_highest_c),
            voltage_mp_cold_v=float(best.voltage_v[0]),
            voltage_mp_hot_v=float(best.voltage_v[1]),
            voltage_oc_hot_v=float(open_circuit[1]),
            voltage_oc_low_light_v=float(open_circuit[2]),
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
) -> tuple[float, Words]:
    """Voltage [V] and its source. With `by_table`: the table's, unless the module's own coefficient gives more."""
    voltage = coefficient_voltage(module.voltage_oc_v, module.temp_coefficient_voc_percent_per_k, temp_lowest_c)
    if by_table and rules.cold_voltage_factors is not None:
        by_factor = table_voltage(module.voltage_oc_v, rules.cold_voltage_factors, temp_lowest_c)
        if by_factor >= voltage:
            return by_factor * in_series, TABLE_OF_FACTORS(source=rules.cold_voltage_source)
    return voltage * in_series, OWN_COEFFICIENT(source=rules.cold_voltage_source)


def _upper(
    name: CheckName,
    value: float,
    limit: float,
    unit: str,
    beyond: Verdict,
    source: Words,
    explanation: Words,
    small_margin: float = 0.0,
) -> ElectricalCheck:
    """A check whose value must not exceed its limit; a margin below `small_margin` is a caution."""
    margin = limit - value
    verdict: Verdict = beyond if margin < 0 else "caution" if margin < small_margin else "ok"
    return ElectricalCheck(name, value, limit, unit, margin, verdict, source, explanation)


def _lower(
    name: CheckName, value: float, limit: float, unit: str, beyond: Verdict, source: Words, explanation: Words
) -> ElectricalCheck:
    """A check whose value must not fall below its limit."""
    margin = value - limit
    return ElectricalCheck(name, value, limit, unit, margin, beyond if margin < 0 else "ok", source, explanation)


def _cold_voltage_check(
    voltage_v: float, microinverter: Microinverter, design: DesignTemperatures, source: Words, rules: ElectricalRules
) -> ElectricalCheck:
    limit = microinverter.dc_voltage_max_v
    own_definition: tuple[Sentence, ...] = ()
    if rules.cold_temperature is not None:
        known_c = design.mean_yearly_lowest_c
        definition = rules.cold_temperature
        own_definition = (
            OWN_DEFINITION(definition=definition)
            if known_c is None
            else OWN_DEFINITION_KNOWN(definition=definition, temp_c=known_c),
        )
    return _upper(
        "open_circuit_voltage_cold",
        voltage_v,
        limit,
        "V",
        "fail",
        source,
        COLD_VOLTAGE(temp_c=design.lowest_c, own_definition=own_definition),
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
            SITE_RECORD(share=SMALL_MARGIN_SHARE, temp_c=design.lowest_c),
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
            HIGH_VOLTAGE(consequences=rules.high_voltage_consequences),
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
        SHORT_CIRCUIT(factors=currents.words, factor=factor),
    )


def _series_fuse_checks(module: Module, currents: _Currents) -> tuple[ElectricalCheck, ...]:
    """What the other modules in parallel can feed into a faulty one, against its largest series fuse."""
    others, rating_a = currents.in_parallel - 1, module.series_fuse_rating_a
    if others == 0 or (rating_a is None and currents.in_parallel <= FUSELESS_PARALLEL_MAX):
        return ()
    factor = currents.rules.short_circuit_factor
    current_a = others * module.current_sc_a * currents.rear_factor * factor
    source = currents.source(FUSE_SOURCE)
    if rating_a is None:
        explanation = FUSE_UNKNOWN(others=others, factor=factor)
        return (ElectricalCheck("module_series_fuse", current_a, None, "A", None, "caution", source, explanation),)
    return (
        _upper(
            "module_series_fuse", current_a, rating_a, "A", "fail", source,
            FUSE(others=others, factor=factor),
        ),
    )  # fmt: skip


def _input_count_check(microinverter: Microinverter, modules_per_input: int) -> ElectricalCheck:
    return _upper(
        "modules_per_input",
        modules_per_input,
        microinverter.modules_per_input_max,
        "modules",
        "fail",
        UNIT_SOURCE,
        INPUT_COUNT,
    )


def _window_checks(
    extremes: _Extremes, shortest: _Extremes, microinverter: Microinverter, said: Callable[[Sentence], Sentence]
) -> tuple[ElectricalCheck, ...]:
    """The top of the windows for a full input, the bottom for the one with the fewest modules in series."""
    cold, hot = extremes.voltage_mp_cold_v, shortest.voltage_mp_hot_v
    hot_c = extremes.temp_cell_hot_c
    return (
        _upper(
            "mp_voltage_cold_operating_window", cold, microinverter.dc_operating_voltage_max_v, "V", "caution",
            CURVE_SOURCE, COLD_OPERATING,
        ),
        _upper(
            "mp_voltage_cold_full_power_window", cold, microinverter.dc_full_power_voltage_max_v, "V", "caution",
            CURVE_SOURCE, COLD_FULL,
        ),
        _lower(
            "mp_voltage_hot_full_power_window", hot, microinverter.dc_full_power_voltage_min_v, "V", "caution",
            CURVE_SOURCE, said(HOT_FULL(temp_c=hot_c)),
        ),
        _lower(
            "mp_voltage_hot_operating_window", hot, microinverter.dc_operating_voltage_min_v, "V", "caution",
            CURVE_SOURCE, said(HOT_OPERATING(temp_c=hot_c)),
        ),
    )  # fmt: skip


def _start_checks(
    extremes: _Extremes, microinverter: Microinverter, said: Callable[[Sentence], Sentence]
) -> tuple[ElectricalCheck, ...]:
    needed_v = max(microinverter.dc_start_voltage_v, microinverter.dc_operating_voltage_min_v)
    return (
        _lower(
            "start_voltage_hot", extremes.voltage_oc_hot_v, needed_v, "V", "fail", CURVE_SOURCE,
            said(START_HOT),
        ),
        _lower(
            "start_voltage_low_light", extremes.voltage_oc_low_light_v, needed_v, "V", "caution",
            CURVE_SOURCE,
            said(START_LOW_LIGHT(irradiance_w_m2=LOW_LIGHT_W_M2)),
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
        OPERATING_CURRENT(factors=currents.words),
    )


def _heat_checks(extremes: _Extremes, microinverter: Microinverter) -> tuple[ElectricalCheck, ...]:
    """Checks of the temperature at the unit; none without a thermal derating in the datasheet."""
    if microinverter.derating is None:
        return ()
    temp_c = extremes.temp_under_module_hot_c
    return (
        _upper(
            "shutdown_temperature", temp_c, microinverter.derating.shutdown_temp_c, "degC", "fail", AIR_SOURCE, SHUTDOWN,
        ),
        _upper(
            "derating_temperature", temp_c, microinverter.derating.start_temp_c, "degC", "caution", AIR_SOURCE, DERATING,
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
        RATIO_STC,
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
                RATIO_SITE(irradiance_w_m2=irradiance_w_m2),
                face,
            )
            for (face, irradiance_w_m2), power_w in zip(site_irradiance_w_m2.items(), powers_w, strict=True)
        ),
    )


def _ratio_check(name: CheckName, ratio: float, explanation: Words, face: str | None = None) -> ElectricalCheck:
    """A DC/AC ratio. It has no limit: clipping and price decide."""
    return ElectricalCheck(name, ratio, None, "ratio", None, "ok", BOTH_SOURCE, explanation, face)

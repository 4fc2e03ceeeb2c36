"""Modules and curves that the tests of the single diode and of its fit share."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.builders import MODULE
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.module.single_diode import DiodeCurve, curve_at, fit

# The currents of NO_SHUNT leave no room for a shunt.
ORDINARY = replace(
    MODULE,
    name="ordinary",
    power_w=400.0,
    voltage_oc_v=40.3,
    voltage_mp_v=33.7,
    current_sc_a=12.47,
    current_mp_a=11.82,
    temp_coefficient_voc_percent_per_k=-0.265,
    temp_coefficient_isc_percent_per_k=0.048,
)
HIGH_VOLTAGE = replace(
    ORDINARY,
    name="high voltage",
    voltage_oc_v=46.1,
    voltage_mp_v=38.9,
    current_sc_a=10.91,
    current_mp_a=10.33,
    temp_coefficient_voc_percent_per_k=-0.235,
    temp_coefficient_isc_percent_per_k=0.042,
    temp_coefficient_pmp_percent_per_k=-0.255,
)
NO_SHUNT = replace(ORDINARY, name="no shunt", voltage_mp_v=32.4, current_mp_a=12.03, power_w=390.0)
MODULES = [pytest.param(module, id=module.name.replace(" ", "-")) for module in (ORDINARY, HIGH_VOLTAGE, NO_SHUNT)]

IRRADIANCES, TEMPS = np.meshgrid([5.0, 20.0, 100.0, 400.0, 800.0, 1000.0, 1200.0], np.linspace(-30.0, 85.0, 24))


def grid(module: Module) -> DiodeCurve:
    return curve_at(fit(module), irradiance_w_m2=IRRADIANCES.ravel(), cell_temp_c=TEMPS.ravel())


def at(module: Module, *, irradiance_w_m2: float = 1000.0, cell_temp_c: float = 25.0) -> DiodeCurve:
    return curve_at(fit(module), irradiance_w_m2=irradiance_w_m2, cell_temp_c=cell_temp_c)


def by_pvlib(curve: DiodeCurve) -> tuple[FloatArray, ...]:
    """The five parameters in the order in which pvlib takes them."""
    return (
        curve.photocurrent_a,
        curve.saturation_current_a,
        curve.series_resistance_ohm,
        curve.shunt_resistance_ohm,
        curve.a_v,
    )


def single(values: FloatArray) -> float:
    assert values.shape == (1,)
    return float(values[0])

"""A string inverter on offer, with its optimisers, DC cable and terms."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.equipment import Microinverter, Module
from wattpair_service.engineering.inverter.conversion import Conversion
from wattpair_service.engineering.strings.string_dc import String

ANY_CURRENT_A = 1e6
"""Of an optimiser, which names no current: those of its module are within it."""
COPPER_OHM_MM2_PER_M = 0.0214
"""Of a copper conductor at 70 degC: 1/56 at 20 degC, with 0.00393/K (IEC 60228 and IEC 60287, from memory)."""


@dataclass(frozen=True, slots=True)
class Optimiser:
    """A DC converter at each module, which holds the module at its own maximum.

    Its losses are a share of the module's power (0-1). The voltage window is that of its input [V], whose highest voltage the
    module's open circuit must not exceed.
    """

    name: str
    loss_share: float
    voltage_min_v: float
    voltage_max_v: float
    price: float | None
    failure_share_per_year: float | None
    warranty_years: int = 25

    def at_module(self, inverter: Microinverter) -> Microinverter:
        """A string inverter whose inputs are these optimisers."""
        return replace(
            inverter,
            dc_voltage_max_v=self.voltage_max_v,
            dc_operating_voltage_min_v=self.voltage_min_v,
            dc_operating_voltage_max_v=self.voltage_max_v,
            dc_full_power_voltage_min_v=self.voltage_min_v,
            dc_full_power_voltage_max_v=self.voltage_max_v,
            dc_start_voltage_v=self.voltage_min_v,
            dc_current_max_a=ANY_CURRENT_A,
            tracker="global",
        )


@dataclass(frozen=True, slots=True)
class DcCable:
    """Cable from the roof to the inverter, both conductors of each string: length one way [m] and cross-section [mm2]."""

    length_m: float
    area_mm2: float

    @property
    def resistance_ohm(self) -> float:
        """Of both conductors of one string."""
        return 2.0 * self.length_m * COPPER_OHM_MM2_PER_M / self.area_mm2


def rated_ac_cable_share(ac_power_w: float, *, length_m: float, area_mm2: float, voltage_v: float, phase_count: int) -> float:
    """Share of the rated power that a cable takes at that power (0-1): two loaded conductors in one phase, three in three."""
    conductor_ohm = length_m * COPPER_OHM_MM2_PER_M / area_mm2
    current_a = ac_power_w / (voltage_v * phase_count)
    return (2.0 if phase_count == 1 else 3.0) * conductor_ohm * current_a**2 / ac_power_w


@dataclass(frozen=True, slots=True)
class StringInverterOffer:
    """A string inverter with its price and terms.

    Attributes
    ----------
    inverter : Microinverter
        Its datasheet: the inputs are its trackers, and the DC limits are those of one tracker.
    price, replacement_price : float or None
        Of one inverter today, and of the next one in today's money; None where not given.
    warranty_years : int
    expected_life_years : float
        After which it is replaced.
    optimiser : Optimiser or None
    cable : DcCable
    rated_ac_cable_share : float
        Share of the rated power that the AC cable to the board takes at that power (0-1).
    strings : tuple of String or None
        Modules of each string, the first on the first tracker; None to have them proposed.
    balance_of_plant : float or None
        Price of all other parts of the system; None where not given.
    """

    inverter: Microinverter
    price: float | None
    replacement_price: float | None
    warranty_years: int
    expected_life_years: float
    optimiser: Optimiser | None
    cable: DcCable
    rated_ac_cable_share: float
    strings: tuple[String, ...] | None
    balance_of_plant: float | None

    @property
    def name(self) -> str:
        """The inverter's name."""
        return self.inverter.name


@dataclass(frozen=True, slots=True)
class DcPath:
    """From the modules to the inverter's DC side: optimisers and cable, on all strings together.

    The cable's loss is `cable_loss_per_w` times the square of the power of all strings [1/W].
    """

    optimiser_loss_share: float
    cable_loss_per_w: float

    @classmethod
    def of(cls, offer: StringInverterOffer, module: Module, strings: tuple[String, ...]) -> DcPath:
        """Of an offer with these strings, at the modules' voltage at maximum power.

        The strings' currents are alike, so each carries its modules' share of the power.
        """
        modules = sum(map(len, strings))
        per_w = sum(
            (len(string) / modules) ** 2 * offer.cable.resistance_ohm / (len(string) * module.voltage_mp_v) ** 2
            for string in strings
        )
        return cls(0.0 if offer.optimiser is None else offer.optimiser.loss_share, per_w)

    def optimiser_loss_w(self, dc_power_w: FloatArray) -> FloatArray:
        """What the optimisers take of the modules' power [W]."""
        return np.asarray(dc_power_w * self.optimiser_loss_share)

    def cable_loss_w(self, dc_power_w: FloatArray) -> FloatArray:
        """What the cable takes of the modules' power after the optimisers [W]."""
        through = dc_power_w * (1.0 - self.optimiser_loss_share)
        return np.asarray(through * np.minimum(through * self.cable_loss_per_w, 1.0))

    def arriving_w(self, dc_power_w: FloatArray) -> FloatArray:
        """Power at the inverter [W]."""
        return np.asarray(dc_power_w - self.optimiser_loss_w(dc_power_w) - self.cable_loss_w(dc_power_w))


@dataclass(frozen=True, slots=True)
class ConversionBehind:
    """An inverter's conversion with optimisers and cable before it."""

    conversion: Conversion
    path: DcPath

    @property
    def own_consumption_w(self) -> float:
        """DC power below which there is no output [W]."""
        return self.conversion.own_consumption_w

    def ac_power_w(self, dc_power_w: FloatArray, dc_voltage_v: FloatArray) -> FloatArray:
        """AC power before any limit [W]."""
        return self.conversion.ac_power_w(self.path.arriving_w(dc_power_w), dc_voltage_v)

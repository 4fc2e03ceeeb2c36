"""What is lost beside the chain of a single module with its microinverter: mismatch, snow, downtime, AC cables.

Each is a share of what the losses before it leave, in this order; the night draw of the units stays whole. Mismatch and AC
cables take their share of the power of every hour, before it meets household load and export limit. Snow and downtime are whole
outages: hours without any power, in any season and at any load, so that they scale what is used at home, exported and cut
alike. Neglected: mismatch and snow leave less to clip; a cable's share is the same in every hour, though it grows with power.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.lifetime_energy import LifetimeEnergy, YearlySplit
from wattpair_service.engineering.equipment import InputWiring

AC_CABLE_SHARE = 0.01
"""Where no circuits are known: the usual limit on voltage rise. Common practice, no source."""
SHARED_INPUT_MISMATCH_SHARE = 0.01
"""Modules of one class that share an input, in series or in parallel. Common practice, no source."""
DOWNTIME_SHARE = 0.01
"""An availability of 99 %, which yield estimates usually assume. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class SystemLosses:
    """Shares of the energy (0-1); None leaves a share to the calculation.

    Mismatch is then 0 where each module has an input to itself, and the AC cables' share that of the circuits.
    """

    mismatch_share: float | None = None
    snow_share: float = 0.0
    downtime_share: float = DOWNTIME_SHARE
    ac_cable_share: float | None = None

    def shares(self, wiring: InputWiring, rated_cable_share: float | None, mean_load: float) -> LossShares:
        """The shares of one candidate.

        Parameters
        ----------
        wiring : InputWiring
            Modules on each input.
        rated_cable_share : float, optional
            Share of the rated power that the AC cables take at that power.
        mean_load : float
            Energy-weighted mean of the power over the rated power.
        """
        mismatch = self.mismatch_share
        if mismatch is None:
            mismatch = SHARED_INPUT_MISMATCH_SHARE if wiring.modules_per_input > 1 else 0.0
        cable = self.ac_cable_share
        if cable is None:
            # A cable's loss goes with the square of the power: over a year it is its share at rated power times the mean load.
            cable = AC_CABLE_SHARE if rated_cable_share is None else rated_cable_share * mean_load
        return LossShares(mismatch, self.snow_share, self.downtime_share, min(cable, 1.0))


USUAL_LOSSES = SystemLosses()


@dataclass(frozen=True, slots=True)
class LossShares:
    """Share of each loss of what is left by the losses before it (0-1)."""

    mismatch: float
    snow: float
    downtime: float
    ac_cable: float

    @property
    def kept_power(self) -> float:
        """Share of the power of every hour that mismatch and AC cables leave."""
        return (1.0 - self.mismatch) * (1.0 - self.ac_cable)

    @property
    def kept_hours(self) -> float:
        """Share of the energy that outages leave: snow and downtime."""
        return (1.0 - self.snow) * (1.0 - self.downtime)

    @property
    def kept(self) -> float:
        """Share of the energy that all of them leave."""
        return self.kept_power * self.kept_hours

    def lost(self, produced_kwh: float) -> LossesKwh:
        """Energy that each takes of what the units produce, before their night draw."""
        losses = []
        for share in (self.mismatch, self.snow, self.downtime, self.ac_cable):
            losses.append(produced_kwh * share)
            produced_kwh -= losses[-1]
        return LossesKwh(*losses)


@dataclass(frozen=True, slots=True)
class LossesKwh:
    """Energy of each loss [kWh]: the energy at the units' terminals less these is the energy at the meter."""

    mismatch_kwh: float
    snow_kwh: float
    downtime_kwh: float
    ac_cable_kwh: float

    @property
    def total_kwh(self) -> float:
        """Sum of all."""
        return self.mismatch_kwh + self.snow_kwh + self.downtime_kwh + self.ac_cable_kwh


def at_meter(energy: LifetimeEnergy, kept_share: float) -> LifetimeEnergy:
    """The same lifetime with its splits less outages, which leave `kept_share`; balance, delivered and lost energy stay."""
    night_kwh = np.array([balance.night_draw_kwh for balance in energy.balances])

    def kept(split: YearlySplit, night_kwh: FloatArray | float, night_value: FloatArray | float) -> YearlySplit:
        return YearlySplit(
            home_kwh=kept_share * (split.home_kwh + night_kwh) - night_kwh,
            exported_kwh=kept_share * split.exported_kwh,
            cut_kwh=kept_share * split.cut_kwh,
            home_value=kept_share * (split.home_value + night_value) - night_value,
            exported_value=kept_share * split.exported_value,
        )

    months = energy.months
    return replace(
        energy,
        faces=kept(energy.faces, night_kwh[:, None], energy.night_value[:, None]),
        roof=kept(energy.roof, energy.night_kwh, float(energy.night_value.sum())),
        # The night draw is the same with and without an AC limit.
        lost_faces=kept(energy.lost_faces, 0.0, 0.0),
        months=replace(
            months,
            home_kwh=kept_share * (months.home_kwh + months.night_kwh) - months.night_kwh,
            exported_kwh=kept_share * months.exported_kwh,
        ),
    )

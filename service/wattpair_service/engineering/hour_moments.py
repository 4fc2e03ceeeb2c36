"""Yearly sums of what a conversion makes of a face's hours, from a few moments of their power and voltage.

At one voltage every conversion is a quadratic in DC power, and its coefficients change smoothly with the voltage: over the
voltages of a year a polynomial of low degree meets them. So the yearly AC energy is a sum of products of coefficients with
moments of the hours, which are computed once for all conversions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.conversion import Conversion

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

DEGREE = 4
"""Of the polynomials in voltage."""
CLOSE = 1e-9
"""Share of the highest power by which a polynomial may miss the conversion, else it is not used."""
_NODES = np.cos(np.pi * (np.arange(DEGREE + 1) + 0.5) / (DEGREE + 1))
_PROBES = np.linspace(-1.0, 1.0, 9)
_TO_COEFFICIENTS = np.linalg.inv(np.vander(_NODES, increasing=True))
_AT_PROBES = np.vander(_PROBES, DEGREE + 1, increasing=True)

HALF_LEAST_V = 1e-3
"""Half the voltages that u runs over, at least: all hours may have the same."""
REACH = 2.5
"""Power over the highest of these hours up to which a polynomial is looked at: for modules so much stronger."""
DIM_MARGIN = 1.05
"""Over the power at which a conversion begins to give any: below it hours are looked at one by one."""


@dataclass(frozen=True, slots=True, eq=False)
class HourScale:
    """Voltages that u runs over from -1 to 1, and the highest power of an hour: for what is fitted once and used again."""

    middle_v: float
    half_v: float
    highest_w: float

    @classmethod
    def of(cls, power_w: FloatArray, voltage_v: FloatArray, highest_v: float) -> HourScale:
        """Of some hours, whose limits may move the voltage up to `highest_v`."""
        if not power_w.size:
            return cls(1.0, 1.0, 0.0)
        low, high = float(voltage_v.min()), max(float(voltage_v.max()), highest_v)
        return cls(0.5 * (low + high), max(0.5 * (high - low), HALF_LEAST_V), float(power_w.max()))

    def u(self, voltage_v: FloatArray) -> FloatArray:
        """Voltages as u."""
        return (voltage_v - self.middle_v) / self.half_v

    def fitted(self, conversions: Sequence[Conversion], modules: FloatArray, in_series: FloatArray) -> FittedConversions:
        """Polynomials of several conversions over these voltages, in the power and voltage of one module."""
        volts = self.middle_v + self.half_v * np.concatenate([_NODES, _PROBES])
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            pairs = zip(conversions, in_series.tolist(), strict=True)
            found = np.array([np.broadcast_arrays(*each.quadratic(volts * series)) for each, series in pairs])
            found = np.moveaxis(found, 1, 0) * modules[:, None] ** np.array([-1.0, 0.0, 1.0])[:, None, None]
            return _fitted(found[:, :, : _NODES.size], found[:, :, _NODES.size :], self.highest_w)


@dataclass(frozen=True, slots=True, eq=False)
class HourMoments:
    """Sums over each face's lit hours of hours x power**i x u**d, shape (faces, 3, DEGREE + 1).

    `powers_of_u` has shape (DEGREE + 1, hours), `highest_w` is the highest power of an hour.
    """

    sums: FloatArray
    powers_of_u: FloatArray
    highest_w: float

    @classmethod
    def of(
        cls, scale: HourScale, power_w: FloatArray, voltage_v: FloatArray, weight_h: FloatArray, bounds: IntArray
    ) -> HourMoments:
        """Of m hours; face i has those from `bounds[i]` to `bounds[i + 1]`."""
        powers = powers_of(scale.u(voltage_v))
        return cls(sums_by_face(power_w, powers, weight_h, bounds), powers, float(power_w.max(initial=0.0)))


@dataclass(frozen=True, slots=True, eq=False)
class FittedConversions:
    """What stands for several conversions.

    Attributes
    ----------
    coefficients : array, shape (conversions, 3, DEGREE + 1)
        Of AC power [W] by DC power [W] and u; 0 where no polynomial stands for the conversion.
    dim_w, highest_w : array
        Powers between which AC power is the polynomial: above zero and below the DC power. None where `highest_w` is 0.
    """

    coefficients: FloatArray
    dim_w: FloatArray
    highest_w: FloatArray

    def of(self, which: IntArray) -> FittedConversions:
        """Some of them, in that order."""
        return FittedConversions(self.coefficients[which], self.dim_w[which], self.highest_w[which])

    def and_those(self, others: FittedConversions) -> FittedConversions:
        """The others after these."""
        return FittedConversions(
            *(np.concatenate([getattr(self, each.name), getattr(others, each.name)]) for each in fields(FittedConversions))
        )

    def energy_wh(self, sums: FloatArray, factors: FloatArray) -> FloatArray:
        """Sums over each face's hours, shape (conversions, faces), with the module's current times `factors`."""
        scaled = np.broadcast_to(factors, (factors.shape[0], sums.shape[0]))
        constant, linear, square = np.einsum("cid,fid->icf", self.coefficients, sums)
        return np.asarray(constant + scaled * (linear + scaled * square))

    def power_w(self, powers_of_u: FloatArray, power_w: FloatArray) -> FloatArray:
        """AC power of every conversion at some hours, from DC power: shape (conversions, hours)."""
        constant, linear, square = (self.coefficients[:, i] @ powers_of_u for i in range(3))
        square *= power_w
        square += linear
        square *= power_w
        square += constant
        return np.asarray(np.clip(square, 0.0, power_w, out=square))

    def power_at(self, which: IntArray, u: FloatArray, power_w: FloatArray) -> FloatArray:
        """AC power at pairs of a conversion and an hour, conversion by conversion, whose voltage is its own."""
        counts = np.diff(np.searchsorted(which, np.arange(self.dim_w.size + 1)))
        coefficients = np.repeat(self.coefficients, counts, axis=0)
        constant, linear, square = np.einsum("nid,dn->in", coefficients, powers_of(u))
        return np.asarray(np.clip(constant + power_w * (linear + power_w * square), 0.0, power_w))


def powers_of(u: FloatArray) -> FloatArray:
    """u**0 to u**DEGREE, shape (DEGREE + 1, m)."""
    powers = np.ones((DEGREE + 1, u.size))
    for degree in range(DEGREE):
        np.multiply(powers[degree], u, out=powers[degree + 1])
    return powers


def sums_by_face(power_w: FloatArray, powers_of_u: FloatArray, weight_h: FloatArray, bounds: IntArray) -> FloatArray:
    """`HourMoments.sums` of some hours."""
    weighted = np.stack([weight_h, weight_h * power_w, weight_h * power_w * power_w])
    parts = [slice(start, end) for start, end in zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True)]
    return np.array([weighted[:, part] @ powers_of_u[:, part].T for part in parts])


def _fitted(nodes: FloatArray, probes: FloatArray, highest_w: float) -> FittedConversions:
    """From the quadratics' coefficients, shape (3, conversions, nodes), at the nodes and, to look closely, at the probes."""
    coefficients = np.einsum("icn,dn->cid", nodes, _TO_COEFFICIENTS)
    missed = np.abs(np.einsum("cid,pd->icp", coefficients, _AT_PROBES) - probes).max(axis=2)
    constant, linear, square = probes
    dim = -2.0 * constant / (linear + np.sqrt(linear * linear - 4.0 * constant * square))
    # Up to where the output falls to zero again, or, where it rises ever more steeply, comes to the input.
    rise = np.where(square < 0.0, linear, 1.0 - linear)
    top = np.where(square == 0.0, np.inf, (rise + np.sqrt(rise * rise - 4.0 * constant * square)) / (2.0 * np.abs(square)))
    sound = ((constant <= 0.0) & (linear > 0.0) & (linear <= 1.0) & (dim < top)).all(axis=1)
    within = np.where(sound, top.min(axis=1), 0.0)
    reach = np.minimum(within, REACH * highest_w)
    sound &= missed[0] + reach * (missed[1] + reach * missed[2]) <= CLOSE * reach
    return FittedConversions(
        coefficients=np.where(sound[:, None, None], coefficients, 0.0),
        dim_w=np.where(sound, DIM_MARGIN * dim.max(axis=1), np.inf),
        highest_w=np.where(sound, reach / DIM_MARGIN, 0.0),
    )

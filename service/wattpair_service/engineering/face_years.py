"""What a year of many microinverters starts from: the points and hours of a roof's faces, their moments, and the units met."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.dc_limits import Limits, columns
from wattpair_service.engineering.dc_response import DcResponse
from wattpair_service.engineering.equipment import Microinverter, ModuleLimits
from wattpair_service.engineering.hour_moments import FittedConversions, HourMoments, HourScale

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class YearJob:
    """A microinverter, the modules on each of its inputs, and the module's current over that of the response.

    `factor` is one number or one for each face.
    """

    microinverter: Microinverter
    modules_per_input: int
    factor: FloatArray | float = 1.0

    @property
    def limits(self) -> ModuleLimits:
        """As one module meets them."""
        return self.microinverter.per_module(self.modules_per_input)


@dataclass(frozen=True, slots=True, eq=False)
class Units:
    """Limits and what stands for the conversions in moments, a row for each microinverter or job."""

    limits: Limits
    fitted: FittedConversions

    @classmethod
    def of(cls, scale: HourScale, jobs: Sequence[YearJob]) -> Units:
        """Of the jobs' microinverters."""
        limits, conversions = columns([job.limits for job in jobs]), [job.microinverter.conversion for job in jobs]
        return cls(limits, scale.fitted(conversions, limits["modules_per_unit"], limits["in_series"]))

    def of_rows(self, which: IntArray) -> Units:
        """Some of them, in that order."""
        return Units({name: column[which] for name, column in self.limits.items()}, self.fitted.of(which))

    def and_those(self, others: Units) -> Units:
        """The others after these."""
        limits = {name: np.concatenate([column, others.limits[name]]) for name, column in self.limits.items()}
        return Units(limits, self.fitted.and_those(others.fitted))


@dataclass(slots=True, eq=False)
class UnitsMet:
    """Microinverters that were asked for before, for a break-even asks again and again.

    They are known by their identities, which stay theirs while `jobs` holds them, and by the modules on an input.
    """

    scale: HourScale
    jobs: dict[tuple[int, int], YearJob] = field(default_factory=dict)
    units: Units | None = None

    def of(self, jobs: Sequence[YearJob]) -> Units:
        """A row for each job."""
        names = [(id(job.microinverter), job.modules_per_input) for job in jobs]
        new = {name: job for name, job in zip(names, jobs, strict=True) if name not in self.jobs}
        if new:
            units = Units.of(self.scale, list(new.values()))
            self.units = units if self.units is None else self.units.and_those(units)
            self.jobs |= new
        assert self.units is not None, "there is at least one job"
        row = {name: number for number, name in enumerate(self.jobs)}
        return self.units.of_rows(np.array([row[name] for name in names]))


@dataclass(frozen=True, slots=True, eq=False)
class FaceYears:
    """A response with the face of each of its points and lit hours, both rising, and the dark hours of each face."""

    response: DcResponse
    face: IntArray
    hour_face: IntArray
    dark_hours_h: FloatArray
    moments: HourMoments
    met: UnitsMet

    @classmethod
    def of(
        cls,
        response: DcResponse,
        face: IntArray,
        hour_face: IntArray,
        dark_hours_h: FloatArray,
        met: UnitsMet | None = None,
    ) -> FaceYears:
        """With the moments of its hours; `met` is of a year of which these hours are means."""
        power_w, voltage_v = response.hour_power_w, response.hour_voltage_v
        met = met or UnitsMet(HourScale.of(power_w, voltage_v, float(response.voltage_oc_v.max(initial=0.0))))
        bounds = np.searchsorted(hour_face, np.arange(dark_hours_h.size + 1))
        moments = HourMoments.of(met.scale, power_w, voltage_v, response.hour_weight_h, bounds)
        return cls(response, face, hour_face, dark_hours_h, moments, met)

    def by_means(self, hourly: DcResponse) -> FaceYears:
        """The same hours without what happens inside them."""
        return replace(self, response=hourly, face=self.hour_face)

    @property
    def available_kwh(self) -> FloatArray:
        """Yearly energy of one module on each face at maximum power."""
        return self.moments.sums[:, 1, 0] / 1000.0

"""A year at a site: operating points, extremes of temperature, and the notes on both for results."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TypeVar

from wattpair_service.engineering.cautions import Caution
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.subhourly import IrradianceOrigin, SubhourlyStates, subhourly_states
from wattpair_service.engineering.results import Assumption, Method, Result
from wattpair_service.engineering.site import ClimateUsed, DesignTemperatures, StationUsed

ResultT = TypeVar("ResultT", bound=Result)

CACHED_YEARS = 8
"""Years whose subhourly states are cached, as many as the built-in climate and the weather files cache."""


@dataclass(frozen=True, slots=True, eq=False)
class SiteYear:
    """A year of conditions at a site, with the notes on it for results.

    Attributes
    ----------
    conditions : Conditions
        The weighted operating points of the year.
    climate : ClimateUsed
        Where the weather comes from, and the site's elevation.
    design_temperatures : DesignTemperatures
        Lowest and highest air temperature to design for.
    irradiance_origin : str
        How the irradiance was obtained; decides how much subhourly variability it lacks.
    linke_turbidity_by_month : tuple of float, optional
        Of a clear day by the built-in maps, where they have data.
    nearest_station : StationUsed, optional
        The operator's nearest usable station within the limit, even if another weather is used.
    assumptions, cautions, method
        Notes on the year for every result.
    """

    conditions: Conditions
    climate: ClimateUsed
    design_temperatures: DesignTemperatures
    irradiance_origin: IrradianceOrigin
    linke_turbidity_by_month: tuple[float, ...] | None = None
    nearest_station: StationUsed | None = None
    assumptions: tuple[Assumption, ...] = ()
    cautions: tuple[Caution, ...] = ()
    method: tuple[Method, ...] = ()

    def subhourly_states(self) -> SubhourlyStates:
        """Subhourly states of the year."""
        compute = cached_subhourly_states if self.conditions.is_cached else _subhourly_states
        return compute(self.conditions, self.irradiance_origin, self.climate.elevation_m, self.linke_turbidity_by_month)

    def with_notes(self, result: ResultT) -> ResultT:
        """A result computed for this year, with the notes on the year added, each once."""
        return replace(
            result,
            assumptions=(*result.assumptions, *self.assumptions),
            cautions=tuple(dict.fromkeys((*result.cautions, *self.cautions))),
            method=tuple(dict.fromkeys((*self.method, *result.method))),
        )


def _subhourly_states(
    conditions: Conditions, origin: IrradianceOrigin, elevation_m: float, linke_turbidity_by_month: tuple[float, ...] | None
) -> SubhourlyStates:
    return subhourly_states(
        conditions, origin=origin, elevation_m=elevation_m, linke_turbidity_by_month=linke_turbidity_by_month
    )


cached_subhourly_states = lru_cache(maxsize=CACHED_YEARS)(_subhourly_states)

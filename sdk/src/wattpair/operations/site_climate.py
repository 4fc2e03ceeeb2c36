"""POST /v1/site-climate."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from wattpair.call import post

if TYPE_CHECKING:
    from wattpair.inputs import Face, Fields, Microinverter, Module, Site, Transposition, Weather
    from wattpair.results import SiteClimateResult


class SiteClimateOperations:
    """What the light and the air at a site are like."""

    @post("/v1/site-climate")
    def describe_climate(
        self,
        *,
        site: Site | Fields,
        weather: Weather | Fields | None = None,
        faces: Sequence[Face | Fields] | None = None,
        module: Module | Fields | None = None,
        microinverters: Sequence[Microinverter | Fields] | None = None,
        transposition: Transposition | None = None,
    ) -> SiteClimateResult:
        """Light and air at a site, by month, level and season.

        Parameters
        ----------
        site : Site
            Where the building stands.
        weather : BuiltInClimate, MonthlyTotals, NearestStation, HourlyWeather or WeatherFile, optional
            The year's weather; the built-in climate where it is left out.
        faces : sequence of Face, optional
            Faces whose light is wanted.
        module : Module, optional
            A module whose power at each season's light is wanted; needs `faces`.
        microinverters : sequence of Microinverter, optional
            Microinverters whose DC/AC ratio at each season's light is wanted; needs `module` and `faces`.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Model of the light on a tilted face.

        Returns
        -------
        SiteClimateResult
            The horizontal, each face, and the temperatures to design for.
        """

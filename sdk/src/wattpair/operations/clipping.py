"""POST /v1/clipping."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from wattpair.call import post

if TYPE_CHECKING:
    from wattpair.inputs import Face, Fields, Microinverter, Module, Site, Transposition, Weather
    from wattpair.results import ClippingResult


class ClippingOperations:
    """What each microinverter delivers and loses over the year."""

    @post("/v1/clipping")
    def compute_clipping(
        self,
        *,
        site: Site | Fields,
        module: Module | Fields,
        microinverters: Sequence[Microinverter | Fields],
        faces: Sequence[Face | Fields],
        weather: Weather | Fields | None = None,
        modules_per_input: int | None = None,
        degradation_percent_per_year: float | None = None,
        transposition: Transposition | None = None,
    ) -> ClippingResult:
        """Yearly energy of faces with microinverters, each loss by its own name.

        Parameters
        ----------
        site : Site
            Where the building stands.
        module : Module
            The module.
        microinverters : sequence of Microinverter
            The candidates.
        faces : sequence of Face
            The faces of the roof.
        weather : BuiltInClimate, MonthlyTotals, NearestStation, HourlyWeather or WeatherFile, optional
            The year's weather; the built-in climate where it is left out.
        modules_per_input : int, optional
            Modules in series on each input.
        degradation_percent_per_year : float, optional
            Power that the module loses from each year to the next, compounding [%].
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Model of the light on a tilted face.

        Returns
        -------
        ClippingResult
            Each face with each microinverter, and the whole roof for each microinverter.
        """

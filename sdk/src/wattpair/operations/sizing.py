"""POST /v1/sizing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from wattpair.call import post

if TYPE_CHECKING:
    from wattpair.inputs import ColdVoltageMethod, Face, Fields, Microinverter, Module, Mounting, Site, Transposition, Weather
    from wattpair.results import SizingResult


class SizingOperations:
    """Whether each pairing is electrically safe and sensible at the site."""

    @post("/v1/sizing")
    def size_pairings(
        self,
        *,
        site: Site | Fields,
        module: Module | Fields,
        microinverters: Sequence[Microinverter | Fields],
        mounting: Mounting | None = None,
        region: str | None = None,
        modules_per_input: int | None = None,
        cold_voltage_method: ColdVoltageMethod | None = None,
        faces: Sequence[Face | Fields] | None = None,
        weather: Weather | Fields | None = None,
        transposition: Transposition | None = None,
    ) -> SizingResult:
        """Electrical checks of a module with one or many microinverters.

        A pairing whose verdict is "fail" must not be built as described; a "caution" costs energy or leaves little margin.

        Parameters
        ----------
        site : Site
            Where the building stands; its temperatures, if given, are those that the checks are made for.
        module : Module
            The module.
        microinverters : sequence of Microinverter
            The candidates.
        mounting : {"close_roof", "open_rack", "insulated_back", "open_rack_faiman"}, optional
            Mounting, which decides the cell temperature.
        region : {"australia", "germany", "great_britain", "international", "ireland", "netherlands", "united_states"}, optional
            Region whose rules apply.
        modules_per_input : int, optional
            Modules in series on each input.
        cold_voltage_method : {"module_coefficient", "code_table"}, optional
            Cold open-circuit voltage by the module's own coefficient, or by the table of the region's code.
        faces : sequence of Face, optional
            Faces for which the DC/AC ratio at the site's real light is wanted; their mountings count for the hot side.
        weather : BuiltInClimate, MonthlyTotals, NearestStation, HourlyWeather or WeatherFile, optional
            The year's weather; the built-in climate where it is left out.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Model of the light on a tilted face.

        Returns
        -------
        SizingResult
            The checks of each pairing, in the order of the request.
        """

"""POST /v1/selection."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from wattpair.call import post

if TYPE_CHECKING:
    from wattpair.inputs import (
        BreakEvenPairs,
        Candidate,
        Face,
        Fields,
        ModuleOffer,
        Numbers,
        Site,
        Tariff,
        Transposition,
        Weather,
    )
    from wattpair.results import SelectionResult


class SelectionOperations:
    """Which microinverter to buy."""

    @post("/v1/selection")
    def select_microinverters(
        self,
        *,
        site: Site | Fields,
        modules: Sequence[ModuleOffer | Fields],
        candidates: Sequence[Candidate | Fields],
        faces: Sequence[Face | Fields],
        weather: Weather | Fields | None = None,
        region: str | None = None,
        modules_per_input: int | None = None,
        transposition: Transposition | None = None,
        currency: str | None = None,
        tariff: Tariff | Fields | None = None,
        share_used_at_home: float | None = None,
        load_w: Numbers | None = None,
        export_limit_w: float | None = None,
        discount_rate_percent: float | None = None,
        horizon_years: int | None = None,
        degradation_percent_per_year: float | None = None,
        failure_percent_per_year: float | None = None,
        labour_per_visit: float | None = None,
        maintenance_per_year: float | None = None,
        other_cost: float | None = None,
        second_kind_cost: float | None = None,
        break_even_pairs: BreakEvenPairs | None = None,
    ) -> SelectionResult:
        """Candidates ranked by lifetime value, with what would change their order.

        Prices are in the currency of the caller. Where a price or the tariff is missing, candidates are ranked by
        energy.

        Parameters
        ----------
        site : Site
            Where the building stands.
        modules : sequence of ModuleOffer
            The modules to look at, each on every face.
        candidates : sequence of Candidate
            The microinverters on offer.
        faces : sequence of Face
            The faces of the roof.
        weather : BuiltInClimate, MonthlyTotals, NearestStation, HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly
            arrays, or the text of an EPW or TMY3 file.
        region : {"australia", "germany", "great_britain", "international", "ireland", "netherlands", "united_states"}, optional
            Region whose rules apply.
        modules_per_input : int, optional
            Modules in series on each input.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Model of the light on a tilted face.
        currency : str, optional
            Currency of every price of the request, such as EUR; all that are given must be the same.
        tariff : Tariff, optional
            What energy is worth; without it candidates are ranked by energy.
        share_used_at_home : float, optional
            Share of the energy that the home itself uses, 0 to 1; or give load_w.
        load_w : collection of float, optional
            The home's load: 24 hours of a mean day, 12 such days from January, or every hour of a year from 1
            January in standard time, of which the mean day of each month is taken [W].
        export_limit_w : float, optional
            Power that the connection lets out; without it, all [W].
        discount_rate_percent : float, optional
            Discount rate [%].
        horizon_years : int, optional
            Years looked at.
        degradation_percent_per_year : float, optional
            Power that the module loses from each year to the next, compounding [%].
        failure_percent_per_year : float, optional
            Units that fail in a year; without it a band from 0.02 to 0.5 % is shown, for no independent rate is
            published [%].
        labour_per_visit : float, optional
            Labour to replace one failed unit.
        maintenance_per_year : float, optional
            Maintenance of the roof in a year.
        other_cost : float, optional
            All other cost of the roof today.
        second_kind_cost : float, optional
            Cost of stocking a second kind of microinverter.
        break_even_pairs : {"every", "recommended"}, optional
            Break-even of only the recommended candidate with its neighbours (the default), or of every pair of neighbours:
            slower with many.

        Returns
        -------
        SelectionResult
            Recommendation, every candidate, break-evens and sensitivities.
        """

"""POST /v1/design."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from wattpair.call import post

if TYPE_CHECKING:
    from wattpair.inputs import (
        BreakEvenPairs,
        Build,
        Candidate,
        CircuitTerms,
        DesignFace,
        Fields,
        MaterialTerms,
        ModuleOffer,
        Numbers,
        PriceBook,
        RegionRules,
        Sheet,
        Site,
        Tariff,
        Transposition,
        Weather,
    )
    from wattpair.results import DesignResult


class DesignOperations:
    """The whole job for one roof."""

    @post("/v1/design")
    def design_roof(
        self,
        *,
        site: Site | Fields,
        modules: Sequence[ModuleOffer | Fields],
        candidates: Sequence[Candidate | Fields],
        faces: Sequence[DesignFace | Fields],
        weather: Weather | Fields | None = None,
        region: str | None = None,
        region_rules: RegionRules | Fields | None = None,
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
        build: Build | Fields | None = None,
        circuits: CircuitTerms | Fields | None = None,
        materials: MaterialTerms | Fields | None = None,
        price_book: PriceBook | Fields | None = None,
        sheet: Sheet | Fields | None = None,
    ) -> DesignResult:
        """Climate, layout, checks, energy, choice, circuits, bill and prices in one call.

        Each part equals what its own operation answers for the same input, but for assumptions, cautions and method: they
        stand once at the top, and are empty in each part.

        Parameters
        ----------
        site : Site
            Where the building stands.
        modules : sequence of ModuleOffer
            The modules to look at, each on every face.
        candidates : sequence of Candidate
            The microinverters on offer.
        faces : sequence of DesignFace
            The faces of the roof, in the order of the trunk; each by its count of modules or by its size.
        weather : BuiltInClimate, MonthlyTotals, NearestStation, HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly
            arrays, or the text of an EPW or TMY3 file.
        region : {"australia", "germany", "great_britain", "international", "ireland", "netherlands", "united_states"}, optional
            Region whose rules apply.
        region_rules : RegionRules, optional
            A region of the caller's own, which then applies in place of `region` for circuits and connection; the
            electrical checks stay with `region`.
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
        build : Build, optional
            The pairing for circuits and bill; the recommended where left out.
        circuits : CircuitTerms, optional
            Terms of circuits and connection; those of the microinverter come from its datasheet.
        materials : MaterialTerms, optional
            Terms of the bill; those of module and microinverter come from their datasheets.
        price_book : PriceBook, optional
            The caller's prices; none are given where left out. A part number of the roles module, microinverter or
            microinverter_spare whose specification is the name of a module or candidate is for that one.
        sheet : Sheet, optional
            How the sheet looks, for those who ask for text/html or application/pdf.

        Returns
        -------
        DesignResult
            Every part; `built` says which pairing circuits and bill are for, and why.
        """

    sheet_html = design_roof.as_document(
        "sheet_html",
        "text/html",
        """The customer's sheet of the same design, as one HTML file that needs nothing beside itself.

        `sheet` says whose name it bears, its language, paper, logo and words. It goes to the customer whole: the cautions are
        part of it.
        """,
    )
    sheet_pdf = design_roof.as_document(
        "sheet_pdf",
        "application/pdf",
        """The customer's sheet of the same design on paper; NotAcceptable where the service has no extra `pdf`.

        `sheet` says whose name it bears, its language, paper, logo and words. It goes to the customer whole: the cautions are
        part of it.
        """,
    )

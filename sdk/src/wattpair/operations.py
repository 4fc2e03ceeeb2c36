# Made from openapi/wattpair.v1.yaml by sdk/generate.py; not to be changed by hand.
"""The operations of the service: how each is called, and a method for it in both clients."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal, TypeVar

from wattpair.call import Call, Request

if TYPE_CHECKING:
    from wattpair.codec import Fields, Numbers
    from wattpair.document import Document
    from wattpair.models import (
        Backup,
        BillOfMaterialsResult,
        Build,
        BuiltInClimate,
        Candidate,
        CircuitFace,
        CircuitsResult,
        CircuitTerms,
        ClippingResult,
        ConnectionCost,
        DesignFace,
        DesignMaterialTerms,
        DesignResult,
        ExistingGeneration,
        Face,
        FaceCount,
        HourlyWeather,
        Installation,
        LayoutResult,
        Liveness,
        Microinverter,
        Module,
        ModuleOffer,
        MonthlyTotals,
        MountingSystem,
        NearestStation,
        Obstruction,
        Point,
        PriceBook,
        Readiness,
        Region,
        RegionRules,
        Regions,
        SelectionResult,
        Sheet,
        Site,
        SiteClimateResult,
        SizingResult,
        StringInverterOffer,
        Surroundings,
        Tariff,
        TrunkSystem,
        WeatherFile,
    )

R = TypeVar("R")

CALLS: dict[str, Call] = {
    "describe_climate": Call("describe_climate", "POST", "/v1/site-climate", "SiteClimateRequest", "SiteClimateResult"),
    "size_pairings": Call("size_pairings", "POST", "/v1/sizing", "SizingRequest", "SizingResult"),
    "compute_clipping": Call("compute_clipping", "POST", "/v1/clipping", "ClippingRequest", "ClippingResult"),
    "select_microinverters": Call("select_microinverters", "POST", "/v1/selection", "SelectionRequest", "SelectionResult"),
    "lay_out_face": Call("lay_out_face", "POST", "/v1/layout", "LayoutRequest", "LayoutResult"),
    "plan_circuits": Call("plan_circuits", "POST", "/v1/circuits", "CircuitsRequest", "CircuitsResult"),
    "list_materials": Call(
        "list_materials", "POST", "/v1/bill-of-materials", "BillOfMaterialsRequest", "BillOfMaterialsResult"
    ),
    "materials_csv": Call(
        "materials_csv", "POST", "/v1/bill-of-materials", "BillOfMaterialsRequest", "Document", media_type="text/csv"
    ),
    "design_roof": Call("design_roof", "POST", "/v1/design", "DesignRequest", "DesignResult"),
    "sheet_html": Call("sheet_html", "POST", "/v1/design", "DesignRequest", "Document", media_type="text/html"),
    "sheet_pdf": Call("sheet_pdf", "POST", "/v1/design", "DesignRequest", "Document", media_type="application/pdf"),
    "order_csv": Call("order_csv", "POST", "/v1/design", "DesignRequest", "Document", media_type="text/csv"),
    "list_regions": Call("list_regions", "GET", "/v1/regions", None, "Regions"),
    "read_region": Call("read_region", "GET", "/v1/regions/{name}", None, "Region"),
    "check_live": Call("check_live", "GET", "/health/live", None, "Liveness"),
    "check_ready": Call("check_ready", "GET", "/health/ready", None, "Readiness", also=503),
}


class Operations(ABC):
    """The methods of a client whose calls return results."""

    @abstractmethod
    def _perform(self, request: Request[R]) -> R:
        """Carry a request out."""

    def describe_climate(
        self,
        *,
        site: Site | Fields,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        faces: Sequence[Face | Fields] | None = None,
        module: Module | Fields | None = None,
        microinverters: Sequence[Microinverter | Fields] | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
    ) -> SiteClimateResult:
        """Irradiation and temperature at a site, by month, irradiance level and season.

        Gives monthly irradiation on the horizontal and on each face, the share of the yearly irradiation at each irradiance
        level, and each season's energy-weighted irradiance, which on a roof is well below the 1000 W/m2 of test conditions.
        With a module and microinverters it also gives the module's power and the DC/AC ratio at that irradiance. The result
        has design temperatures, turbidity, the nearest station of the operator, the range of single years and the source of
        the weather. Horizon and shade of a face do not count here. The call has no side effects and may be repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        faces : sequence of Face, optional
            Faces, for their irradiation; 1 to 16 items.
        module : Module, optional
            A module, for its power at each season's irradiance; needs faces.
        microinverters : sequence of Microinverter, optional
            Microinverters, for their DC/AC ratio at each season's irradiance; needs module and faces; 1 to 64 items.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).

        Returns
        -------
        SiteClimateResult
        """
        answer: SiteClimateResult = self._perform(
            CALLS["describe_climate"].request(
                site=site,
                weather=weather,
                faces=faces,
                module=module,
                microinverters=microinverters,
                transposition=transposition,
            )
        )
        return answer

    def size_pairings(
        self,
        *,
        site: Site | Fields,
        module: Module | Fields,
        microinverters: Sequence[Microinverter | Fields],
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        mounting: Literal["close_roof", "open_rack", "insulated_back", "open_rack_faiman"] | None = None,
        region: str | None = None,
        cold_voltage_method: Literal["module_coefficient", "code_table"] | None = None,
        faces: Sequence[Face | Fields] | None = None,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
    ) -> SizingResult:
        """Electrical checks of a module with one or many microinverters.

        Checks each pairing at the site's lowest and highest temperature: absolute voltage, short-circuit current, voltage
        windows, start-up, operating current and DC/AC ratio. Every check gives its value, limit, margin, verdict and
        source. A pairing whose verdict is `fail` must not be built as described; a `caution` costs energy or leaves little
        margin. Modules on an input may be in series or in parallel (`wiring`); irradiance on the back of bifacial modules
        counts in the currents. Where the cold voltage comes close to its limit at an estimated temperature,
        `site_record_low` asks for the site's own: do not build before it is known. With `faces`, the result also has the
        DC/AC ratio at the energy-weighted irradiance of each face. The lowest and highest temperature come from the
        request, else from the coldest and hottest of the built-in map, the weather and what the nearest weather file
        publishes, the lowest also from the region's custom; the result says which. The call has no side effects and may be
        repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        module : Module
            The module.
        microinverters : sequence of Microinverter
            The candidates; 1 to 64 items.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        mounting : {"close_roof", "open_rack", "insulated_back", "open_rack_faiman"}, optional
            Mounting, which determines the cell temperature: close_roof: close roof mount, Sandia glass/glass coefficients;
            open_rack: open rack, Sandia glass/polymer coefficients; insulated_back: in the roof with an insulated back, Sandia
            glass/polymer coefficients; open_rack_faiman: open rack, Faiman's mean heat loss factors; default "close_roof" (the
            usual pitched roof).
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        cold_voltage_method : {"module_coefficient", "code_table"}, optional
            Method for the cold open-circuit voltage: the module's own coefficient, or the table of the region's code; default
            "module_coefficient" (the module's own coefficient where its maker gives one).
        faces : sequence of Face, optional
            Faces, for the DC/AC ratio at the site's irradiance; the checks in heat then use their mountings too; 1 to 16 items.
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).

        Returns
        -------
        SizingResult
        """
        answer: SizingResult = self._perform(
            CALLS["size_pairings"].request(
                site=site,
                module=module,
                microinverters=microinverters,
                modules_per_input=modules_per_input,
                wiring=wiring,
                mounting=mounting,
                region=region,
                cold_voltage_method=cold_voltage_method,
                faces=faces,
                weather=weather,
                transposition=transposition,
            )
        )
        return answer

    def compute_clipping(
        self,
        *,
        site: Site | Fields,
        module: Module | Fields,
        microinverters: Sequence[Microinverter | Fields],
        faces: Sequence[Face | Fields],
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        degradation_percent_per_year: float | None = None,
        surroundings: Surroundings | Fields | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
    ) -> ClippingResult:
        """Yearly energy and losses of each face with each microinverter.

        Gives for every face and microinverter: the yearly and monthly energy balance of one module, the hours at the AC
        limit, clipped energy by month and hour of day, the power duration curve, and clipping as the module ages; then the
        whole roof for each microinverter. The losses and the delivered energy add up to the energy available at maximum
        power. `clipped_share` includes subhourly variability and has a range; `clipped_share_hourly_means` is what hourly
        means alone would show. The call has no side effects and may be repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        module : Module
            The module.
        microinverters : sequence of Microinverter
            The candidates; 1 to 64 items.
        faces : sequence of Face
            The faces of the roof; 1 to 16 items.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        degradation_percent_per_year : float, optional
            Power that the module loses from each year to the next, compounding [%]; default 0.5 (median of some 2000 rates,
            Jordan and Kurtz 2013, 10.1002/pip.1182); at least 0 and at most 5.
        surroundings : Surroundings, optional
            What stands around the building, for all faces.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).

        Returns
        -------
        ClippingResult
        """
        answer: ClippingResult = self._perform(
            CALLS["compute_clipping"].request(
                site=site,
                module=module,
                microinverters=microinverters,
                faces=faces,
                modules_per_input=modules_per_input,
                wiring=wiring,
                weather=weather,
                degradation_percent_per_year=degradation_percent_per_year,
                surroundings=surroundings,
                transposition=transposition,
            )
        )
        return answer

    def select_microinverters(
        self,
        *,
        site: Site | Fields,
        modules: Sequence[ModuleOffer | Fields],
        candidates: Sequence[Candidate | Fields],
        faces: Sequence[Face | Fields],
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        region: str | None = None,
        surroundings: Surroundings | Fields | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
        currency: str | None = None,
        tariff: Tariff | Fields | None = None,
        share_used_at_home: float | None = None,
        load_w: Numbers | None = None,
        export_limit_w: float | None = None,
        first_weekday: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] | None = None,
        home_utc_offset_h: float | None = None,
        discount_rate_percent: float | None = None,
        horizon_years: int | None = None,
        degradation_percent_per_year: float | None = None,
        failure_percent_per_year: float | None = None,
        labour_per_visit: float | None = None,
        maintenance_per_year: float | None = None,
        other_cost: float | None = None,
        second_kind_cost: float | None = None,
        mismatch_loss_share: float | None = None,
        snow_loss_share: float | None = None,
        downtime_share: float | None = None,
        ac_cable_loss_share: float | None = None,
        string_inverters: Sequence[StringInverterOffer | Fields] | None = None,
        repair_days: float | None = None,
        break_even_pairs: Literal["every", "recommended"] | None = None,
    ) -> SelectionResult:
        """Which microinverter to buy for a roof: lifetime value, break-even and sensitivity.

        Ranks candidate microinverters on one or several modules by net present value. Each candidate has its electrical
        verdict (one that fails, or whose cold voltage waits for the site's record low, is not ranked), energy and losses of
        the first year up to the meter, energy over the horizon with ageing of the modules, costs, payback against the
        cheapest candidate and of the whole system, and expected replacements. `system` of a candidate has what it needs
        beside modules and units. The recommendation is decided, close, or depends on a changed input, unless none passes or
        can be built. For candidates that are neighbours by AC power the result gives the module power above which the
        larger pays and the price difference up to which it pays, for the roof and for each face, with the curve. It also
        gives a mixed choice, the values of inputs at which the recommendation changes, and the energy that an export limit
        cuts. If a price or the tariff is missing, candidates are ranked by energy, and a caution says so. If no candidate
        passes, the result says what would have to change. Prices are in the caller's currency. The call has no side effects
        and may be repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        modules : sequence of ModuleOffer
            The modules to compare, each on every face; 1 to 8 items.
        candidates : sequence of Candidate
            The microinverters on offer; 1 to 64 items.
        faces : sequence of Face
            The faces of the roof; 1 to 16 items.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        surroundings : Surroundings, optional
            What stands around the building, for all faces.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).
        currency : str, optional
            Currency of every price of the request, ISO 4217, such as EUR; all currencies of a request must be the same; if left
            out: one currency for every price of the request.
        tariff : Tariff, optional
            Energy prices; if left out, candidates are ranked by energy.
        share_used_at_home : float, optional
            Share of the energy that is used at home, 0 to 1; or give load_w; if left out: 0.3 where load_w is not given either:
            common practice, no source; at least 0 and at most 1.
        load_w : sequence of float, optional
            Household load, the power drawn at home: every hour of a year from 1 January in standard time or, less exact, 12
            mean days from January or one mean day. With hourly weather each hour meets its own load, otherwise all loads of
            that hour in its month [W]; 24 to 8,784 items.
        export_limit_w : float, optional
            Export limit of the grid connection; if left out, none [W]; at least 0 and at most 10,000,000.
        first_weekday : {"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}, optional
            Weekday of 1 January in load_w; it counts where the tariff differs at weekends. If left out, monday.
        home_utc_offset_h : float, optional
            Offset from UTC of the site's standard time, which load_w and the tariff's bands are in; if left out, that of the
            region's rules where the country has one standard time, else that of the weather or, without hourly weather, the
            nearest whole hour to the longitude over 15 [h]; at least -14 and at most 14.
        discount_rate_percent : float, optional
            Discount rate [%]; default 3.0 (common practice, no source); at least -20 and at most 50.
        horizon_years : int, optional
            Years of the comparison; default 25 (common practice, no source); at least 1 and at most 40.
        degradation_percent_per_year : float, optional
            Power that the module loses from each year to the next, compounding [%]; default 0.5 (median of some 2000 rates,
            Jordan and Kurtz 2013, 10.1002/pip.1182); at least 0 and at most 5.
        failure_percent_per_year : float, optional
            Share of the units that fails each year; if left out, results show a band from 0.02 to 0.5 %, as no independent rate
            is published [%]; at least 0 and at most 20.
        labour_per_visit : float, optional
            Labour to replace one failed unit; default 0.0 (labour not given: replacements cost the unit alone); at least 0 and
            at most 1,000,000.
        maintenance_per_year : float, optional
            Maintenance of the roof in a year; default 0.0 (the same for every candidate); at least 0 and at most 1,000,000.
        other_cost : float, optional
            All other cost of the roof today: the work of building, and the balance of plant where the candidates have none; 0
            where other prices include it. If left out it counts as 0, and the whole system has no payback; at least 0 and at
            most 1,000,000.
        second_kind_cost : float, optional
            Cost of stocking a second kind of microinverter; default 0.0 (not given); at least 0 and at most 1,000,000.
        mismatch_loss_share : float, optional
            Share of the energy lost by modules on one input that differ, 0 to 1; if left out: 0 with each module on its own
            input, else 0.01: common practice, no source; at least 0 and below 1.
        snow_loss_share : float, optional
            Share of the energy lost by snow on the modules, 0 to 1; default 0.0 (no snow); at least 0 and below 1.
        downtime_share : float, optional
            Share of the energy lost by units or the network being out of service, 0 to 1; default 0.01 (an availability of 99%:
            common practice, no source); at least 0 and below 1.
        ac_cable_loss_share : float, optional
            Share of the energy lost by the cables from the units to the meter, 0 to 1; if left out: from the candidate's
            rated_cable_share, which a design computes, else 0.01: common practice, no source; at least 0 and below 1.
        string_inverters : sequence of StringInverterOffer, optional
            String inverters to compare with the recommended microinverter on the same roof; 0 to 8 items.
        repair_days : float, optional
            Days from a failure to its repair, for the comparison with string inverters [d]; default 14.0 (common practice, no
            source); at least 0 and at most 365.
        break_even_pairs : {"every", "recommended"}, optional
            Pairs to compute the break-even for: the recommended candidate with its neighbours by AC power, or every pair of
            neighbours; default "recommended" (the pairs that decide the choice; every pair takes longer).

        Returns
        -------
        SelectionResult
        """
        answer: SelectionResult = self._perform(
            CALLS["select_microinverters"].request(
                site=site,
                modules=modules,
                candidates=candidates,
                faces=faces,
                modules_per_input=modules_per_input,
                wiring=wiring,
                weather=weather,
                region=region,
                surroundings=surroundings,
                transposition=transposition,
                currency=currency,
                tariff=tariff,
                share_used_at_home=share_used_at_home,
                load_w=load_w,
                export_limit_w=export_limit_w,
                first_weekday=first_weekday,
                home_utc_offset_h=home_utc_offset_h,
                discount_rate_percent=discount_rate_percent,
                horizon_years=horizon_years,
                degradation_percent_per_year=degradation_percent_per_year,
                failure_percent_per_year=failure_percent_per_year,
                labour_per_visit=labour_per_visit,
                maintenance_per_year=maintenance_per_year,
                other_cost=other_cost,
                second_kind_cost=second_kind_cost,
                mismatch_loss_share=mismatch_loss_share,
                snow_loss_share=snow_loss_share,
                downtime_share=downtime_share,
                ac_cable_loss_share=ac_cable_loss_share,
                string_inverters=string_inverters,
                repair_days=repair_days,
                break_even_pairs=break_even_pairs,
            )
        )
        return answer

    def lay_out_face(
        self,
        *,
        module_length_m: float,
        module_width_m: float,
        width_m: float | None = None,
        height_m: float | None = None,
        outline: Sequence[Point | Fields] | None = None,
        obstructions: Sequence[Obstruction | Fields] | None = None,
        orientation: Literal["portrait", "landscape", "best"] | None = None,
        edge_kinds: Sequence[Literal["eaves", "ridge", "rake", "hip", "valley"]] | None = None,
        edge_distance_m: float | None = None,
        eaves_distance_m: float | None = None,
        ridge_distance_m: float | None = None,
        rake_distance_m: float | None = None,
        hip_distance_m: float | None = None,
        valley_distance_m: float | None = None,
        access_path_width_m: float | None = None,
        access_path_side: Literal["none", "left", "right", "both", "either"] | None = None,
        obstruction_distance_m: float | None = None,
        column_gap_m: float | None = None,
        row_gap_m: float | None = None,
        left_out: Sequence[int] | None = None,
        region: str | None = None,
    ) -> LayoutResult:
        """How many modules fit on a face, with their positions.

        Takes a face's width and height, or its outline, with obstructions, and a module's sides. Gives rows and columns
        with the coordinates of every module, in portrait, landscape, or the one in which more fit. No module overlaps
        another, leaves the outline or violates its distances from eaves, ridge, rake, hip and valley, which the request
        gives or the region's rules have; where they ask for an access path, it stays free. Where the distance from the
        ridge depends on the covered share, the share of this face counts; the fire authority decides. Rows have equal
        pitch, and of all heights of the first row one with the most modules is taken; with very many edges, of those tried.
        The call has no side effects and may be repeated.

        Parameters
        ----------
        module_length_m : float
            Length of the module's longer side [m]; at least 0.2 and at most 3.
        module_width_m : float
            Length of the module's shorter side [m]; at least 0.2 and at most 2.
        width_m : float, optional
            Width of a rectangular face, along the eaves [m]; above 0 and at most 200.
        height_m : float, optional
            Height of a rectangular face, along the slope [m]; above 0 and at most 200.
        outline : sequence of Point, optional
            Corners of the face in order, in place of width_m and height_m; the last is joined to the first; 3 to 60 items.
        obstructions : sequence of Obstruction, optional
            Chimneys, windows and the like; they may extend beyond the outline; default [] (a face without obstructions); 0 to
            24 items.
        orientation : {"portrait", "landscape", "best"}, optional
            Longer side up the slope (portrait), along the eaves (landscape), or the one with more modules (best); default
            "best" (the orientation in which more modules fit; portrait if both fit as many).
        edge_kinds : sequence of {"eaves", "ridge", "rake", "hip", "valley"}, optional
            Kind of each edge of `outline`, the first from its first corner to its second; default: from their directions, where
            level edges are eaves and ridge, edges at right angles to them rakes, and oblique edges hips where the face widens
            towards the eaves and valleys where it narrows. Of width_m and height_m the bottom is the eaves, the top the ridge,
            and the sides are rakes; 3 to 60 items.
        edge_distance_m : float, optional
            Distance of modules from every edge that has no distance of its own here; default: that of the region's rules [m];
            at least 0 and at most 10.
        eaves_distance_m : float, optional
            Distance of modules from the eaves; default: edge_distance_m, else the region's [m]; at least 0 and at most 10.
        ridge_distance_m : float, optional
            Distance of modules from the ridge; default: edge_distance_m, else the region's [m]; at least 0 and at most 10.
        rake_distance_m : float, optional
            Distance of modules from the rake, or verge; default: edge_distance_m, else the region's [m]; at least 0 and at most
            10.
        hip_distance_m : float, optional
            Distance of modules from a hip; default: edge_distance_m, else the region's [m]; at least 0 and at most 10.
        valley_distance_m : float, optional
            Distance of modules from a valley; default: edge_distance_m, else the region's [m]; at least 0 and at most 10.
        access_path_width_m : float, optional
            Width of the access path that stays free from the eaves to the ridge, measured from the edges of that side; default:
            that of the region's rules, if they ask for a path [m]; above 0 and at most 10.
        access_path_side : {"none", "left", "right", "both", "either"}, optional
            Side of the access path; either: the one without obstructions, then the one on which the path costs fewer modules,
            then the left; default: that of the region's rules, else either where access_path_width_m is given.
        obstruction_distance_m : float, optional
            Distance of modules from obstructions [m]; default 0.3 (common practice, no source); at least 0 and at most 10.
        column_gap_m : float, optional
            Gap between modules of a row [m]; default 0.02 (common practice, no source); at least 0 and at most 2.
        row_gap_m : float, optional
            Gap between rows [m]; default 0.02 (common practice, no source); at least 0 and at most 10.
        left_out : sequence of int, optional
            Modules that stay away, by their numbers from 1 in the layout without this field, row by row from the eaves; 0 to
            200 items; each at least 1 and at most 1,000.
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.

        Returns
        -------
        LayoutResult
        """
        answer: LayoutResult = self._perform(
            CALLS["lay_out_face"].request(
                module_length_m=module_length_m,
                module_width_m=module_width_m,
                width_m=width_m,
                height_m=height_m,
                outline=outline,
                obstructions=obstructions,
                orientation=orientation,
                edge_kinds=edge_kinds,
                edge_distance_m=edge_distance_m,
                eaves_distance_m=eaves_distance_m,
                ridge_distance_m=ridge_distance_m,
                rake_distance_m=rake_distance_m,
                hip_distance_m=hip_distance_m,
                valley_distance_m=valley_distance_m,
                access_path_width_m=access_path_width_m,
                access_path_side=access_path_side,
                obstruction_distance_m=obstruction_distance_m,
                column_gap_m=column_gap_m,
                row_gap_m=row_gap_m,
                left_out=left_out,
                region=region,
            )
        )
        return answer

    def plan_circuits(
        self,
        *,
        unit_ac_current_a: float,
        faces: Sequence[CircuitFace | Fields],
        phase_count: int | None = None,
        device_rating_a: float | None = None,
        continuous_current_factor: float | None = None,
        branch_device_max_a: float | None = None,
        units_per_trunk_max: int | None = None,
        trunk_phase_count: int | None = None,
        circuits_may_cross_faces: bool | None = None,
        face_crossing_m: float | None = None,
        trunk_feed: Literal["end", "centre"] | None = None,
        voltage_v: float | None = None,
        voltage_rise_limit_share: float | None = None,
        conductor_table: Literal[
            "iec_60228_class_2", "iec_60228_class_5", "nec_chapter_9_table_8_solid", "nec_chapter_9_table_8_stranded"
        ]
        | None = None,
        conductor_temp_c: float | None = None,
        trunk_size: str | None = None,
        trunk_installation: Installation | Fields | None = None,
        trunk_ampacity_a: float | None = None,
        home_run_length_m: float | None = None,
        home_run_size: str | None = None,
        home_run_installation: Installation | Fields | None = None,
        home_run_ampacity_a: float | None = None,
        system_cable_length_m: float | None = None,
        system_cable_size: str | None = None,
        system_cable_installation: Installation | Fields | None = None,
        system_cable_ampacity_a: float | None = None,
        supply_length_m: float | None = None,
        supply_size: str | None = None,
        supply_installation: Installation | Fields | None = None,
        supply_ampacity_a: float | None = None,
        busbar_rating_a: float | None = None,
        main_device_a: float | None = None,
        existing_generation: Sequence[ExistingGeneration | Fields] | None = None,
        export_limit_per_phase_a: float | None = None,
        earthing: Literal["tn", "tt"] | None = None,
        residual_current_device_asked: bool | None = None,
        busbar_fed_at_opposite_end: bool | None = None,
        plug_in: bool | None = None,
        units_coupled: bool | None = None,
        supply_loop_impedance_ohm: float | None = None,
        earth_electrode_ohm: float | None = None,
        several_premises: bool | None = None,
        region: str | None = None,
        region_rules: RegionRules | Fields | None = None,
        modules_per_unit: int | None = None,
        unit_phase_count: int | None = None,
        no_dc_fault_current_declared: bool | None = None,
    ) -> CircuitsResult:
        """Branch circuits, cables and devices, voltage rise and grid connection.

        Distributes the microinverters over branch circuits: the phases as equal as they can be, then the fewest circuits
        that circuit breaker and trunk cable allow. Checks that every cable is protected as it is installed: design current,
        circuit breaker, carrying capacity, in this order; one that is not makes the verdict `fail`, and its smallest
        sufficient conductor is named. Gives the devices as one orders them, the voltage rise of each circuit up to the
        connection point, and whether the board bears main device and all generation, with the ways out where it does not.
        Names the grid connection procedure under the region's rules: documents to send and when, what it allows, the
        largest design within each procedure, and the source of each value. Values that are left out come from the region;
        rules of the caller's own region may be sent in the same form. The call has no side effects and may be repeated.

        Parameters
        ----------
        unit_ac_current_a : float
            Rated AC current of one microinverter [A]; at least 0.1 and at most 30.
        faces : sequence of CircuitFace
            The faces of the roof, in the order of the trunk; 1 to 16 items.
        phase_count : int, optional
            Phases of the supply over which the units are distributed; default 1 (a single-phase supply); at least 1 and at most
            3.
        device_rating_a : float, optional
            Rating of a branch circuit's circuit breaker or fuse [A]; if left out: the region's rules; at least 1 and at most
            125.
        continuous_current_factor : float, optional
            Factor on the continuous current of a branch circuit; not below the region's where that is code; if left out: the
            region's rules; at least 1 and at most 2.
        branch_device_max_a : float, optional
            Largest circuit breaker that microinverters and trunk allow, from their datasheets; asked for above 20 A [A]; at
            least 1 and at most 125.
        units_per_trunk_max : int, optional
            Most microinverters on one trunk cable, according to its maker; at least 1 and at most 100.
        trunk_phase_count : int, optional
            Phases of a trunk: 1, or those of the supply behind one device with a pole for each; default 1 (single-phase
            trunks); at least 1 and at most 3.
        circuits_may_cross_faces : bool, optional
            Whether a circuit may serve several faces; default false (no trunk crosses the ridge).
        face_crossing_m : float, optional
            Length of trunk cable from the last unit of one face to the first of the next [m]; default 3.0 (common practice, no
            source); at least 0 and at most 100.
        trunk_feed : {"end", "centre"}, optional
            Where the home run is connected to a trunk; default "end" (the simpler of the two).
        voltage_v : float, optional
            Nominal voltage of a unit's circuit [V]; if left out: the region's rules; at least 100 and at most 480.
        voltage_rise_limit_share : float, optional
            Limit on the voltage rise as a share of the nominal voltage; if left out: the region's rules; above 0 and at most
            0.2.
        conductor_table : str, one of the words of its type, optional
            Table of standard copper conductors; if left out: the region's rules.
        conductor_temp_c : float, optional
            Operating temperature of the conductors [degC]; default 70.0 (common practice, no source); at least 20 and at most
            120.
        trunk_size : str, optional
            Conductor of the trunk, as its table writes it: "2.5 mm2", "12 AWG"; if left out: the second thinnest of the table,
            or the next that its circuit breaker protects, common practice, no source.
        trunk_installation : Installation, optional
            How the trunk is installed.
        trunk_ampacity_a : float, optional
            Current-carrying capacity of the trunk as installed, declared by its maker; without it a table's is used [A]; at
            least 1 and at most 2,000.
        home_run_length_m : float, optional
            Length of cable from a trunk to the distribution board, one way [m]; default 0.0 (no home run was given: voltage
            rise and bill leave it out); at least 0 and at most 1,000.
        home_run_size : str, optional
            Conductor of the home run; default: the smallest that its circuit breaker protects and that meets the voltage-rise
            limit, not thinner than the trunk.
        home_run_installation : Installation, optional
            How the home run is installed.
        home_run_ampacity_a : float, optional
            Current-carrying capacity of the home run as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        system_cable_length_m : float, optional
            Length of cable from the sub-board of several circuits to the distribution board, one way [m]; default 0.0 (the sub-
            board is beside the distribution board); at least 0 and at most 1,000.
        system_cable_size : str, optional
            Conductor of that cable; default: the smallest that the system's circuit breaker protects.
        system_cable_installation : Installation, optional
            How that cable is installed.
        system_cable_ampacity_a : float, optional
            Current-carrying capacity of that cable as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        supply_length_m : float, optional
            Length of cable from the distribution board to the connection point, one way; main_device_a protects it [m]; default
            0.0 (the connection point is at the distribution board); at least 0 and at most 1,000.
        supply_size : str, optional
            Conductor of the supply cable; default: the smallest that its device protects.
        supply_installation : Installation, optional
            How the supply cable is installed.
        supply_ampacity_a : float, optional
            Current-carrying capacity of the supply cable as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        busbar_rating_a : float, optional
            Rating of the distribution board: its busbar or main switch, whichever is lower [A]; at least 10 and at most 2,000.
        main_device_a : float, optional
            Rating of the main circuit breaker or fuse in front of the distribution board [A]; at least 10 and at most 2,000.
        existing_generation : sequence of ExistingGeneration, optional
            Generation and storage that is on the premises already; default [] (nothing else feeds in on the premises); 0 to 20
            items.
        export_limit_per_phase_a : float, optional
            Export limit of each phase that a limiter keeps [A]; at least 0 and at most 10,000.
        earthing : {"tn", "tt"}, optional
            Earthing of the supply: by the network (TN), or by an electrode of the house (TT); default "tn" (the more common of
            the two).
        residual_current_device_asked : bool, optional
            Whether the route of a cable or the maker of the microinverters asks for a residual-current device; default false
            (the request does not say that one is asked for).
        busbar_fed_at_opposite_end : bool, optional
            Whether the system feeds the busbar at the end opposite the main device, with the label there; only some codes ask;
            default false (the place of the feed is not known: the safe side).
        plug_in : bool, optional
            Whether the system is on a plug alone; default false (a fixed installation).
        units_coupled : bool, optional
            Whether single-phase units are coupled, so that they keep the phases balanced; default false (units that do not know
            of each other).
        supply_loop_impedance_ohm : float, optional
            Earth fault loop impedance of the supply at the board; disconnection in a fault is checked if given [ohm]; at least
            0.001 and at most 100.
        earth_electrode_ohm : float, optional
            Resistance of the house's earth electrode; checked if given [ohm]; at least 0.1 and at most 10,000.
        several_premises : bool, optional
            Whether other premises close by are being connected in the same weeks; default false (a single house).
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        region_rules : RegionRules, optional
            Rules of the caller's own region, in place of `region`.
        modules_per_unit : int, optional
            Modules on one microinverter; default 1 (a unit for one module); at least 1 and at most 8.
        unit_phase_count : int, optional
            Phases of one microinverter: 1, or 3 where it feeds all three; its current is that of each phase; default 1 (a
            single-phase unit); at least 1 and at most 3.
        no_dc_fault_current_declared : bool, optional
            Whether the microinverters' maker declares that no smooth DC fault current arises; default false (no declaration,
            which is the safe assumption).

        Returns
        -------
        CircuitsResult
        """
        answer: CircuitsResult = self._perform(
            CALLS["plan_circuits"].request(
                unit_ac_current_a=unit_ac_current_a,
                faces=faces,
                phase_count=phase_count,
                device_rating_a=device_rating_a,
                continuous_current_factor=continuous_current_factor,
                branch_device_max_a=branch_device_max_a,
                units_per_trunk_max=units_per_trunk_max,
                trunk_phase_count=trunk_phase_count,
                circuits_may_cross_faces=circuits_may_cross_faces,
                face_crossing_m=face_crossing_m,
                trunk_feed=trunk_feed,
                voltage_v=voltage_v,
                voltage_rise_limit_share=voltage_rise_limit_share,
                conductor_table=conductor_table,
                conductor_temp_c=conductor_temp_c,
                trunk_size=trunk_size,
                trunk_installation=trunk_installation,
                trunk_ampacity_a=trunk_ampacity_a,
                home_run_length_m=home_run_length_m,
                home_run_size=home_run_size,
                home_run_installation=home_run_installation,
                home_run_ampacity_a=home_run_ampacity_a,
                system_cable_length_m=system_cable_length_m,
                system_cable_size=system_cable_size,
                system_cable_installation=system_cable_installation,
                system_cable_ampacity_a=system_cable_ampacity_a,
                supply_length_m=supply_length_m,
                supply_size=supply_size,
                supply_installation=supply_installation,
                supply_ampacity_a=supply_ampacity_a,
                busbar_rating_a=busbar_rating_a,
                main_device_a=main_device_a,
                existing_generation=existing_generation,
                export_limit_per_phase_a=export_limit_per_phase_a,
                earthing=earthing,
                residual_current_device_asked=residual_current_device_asked,
                busbar_fed_at_opposite_end=busbar_fed_at_opposite_end,
                plug_in=plug_in,
                units_coupled=units_coupled,
                supply_loop_impedance_ohm=supply_loop_impedance_ohm,
                earth_electrode_ohm=earth_electrode_ohm,
                several_premises=several_premises,
                region=region,
                region_rules=region_rules,
                modules_per_unit=modules_per_unit,
                unit_phase_count=unit_phase_count,
                no_dc_fault_current_declared=no_dc_fault_current_declared,
            )
        )
        return answer

    def list_materials(
        self,
        *,
        unit_ac_current_a: float,
        faces: Sequence[FaceCount | Fields],
        module_mass_kg: float,
        unit_mass_kg: float,
        phase_count: int | None = None,
        device_rating_a: float | None = None,
        continuous_current_factor: float | None = None,
        branch_device_max_a: float | None = None,
        units_per_trunk_max: int | None = None,
        trunk_phase_count: int | None = None,
        circuits_may_cross_faces: bool | None = None,
        face_crossing_m: float | None = None,
        trunk_feed: Literal["end", "centre"] | None = None,
        voltage_v: float | None = None,
        voltage_rise_limit_share: float | None = None,
        conductor_table: Literal[
            "iec_60228_class_2", "iec_60228_class_5", "nec_chapter_9_table_8_solid", "nec_chapter_9_table_8_stranded"
        ]
        | None = None,
        conductor_temp_c: float | None = None,
        trunk_size: str | None = None,
        trunk_installation: Installation | Fields | None = None,
        trunk_ampacity_a: float | None = None,
        home_run_length_m: float | None = None,
        home_run_size: str | None = None,
        home_run_installation: Installation | Fields | None = None,
        home_run_ampacity_a: float | None = None,
        system_cable_length_m: float | None = None,
        system_cable_size: str | None = None,
        system_cable_installation: Installation | Fields | None = None,
        system_cable_ampacity_a: float | None = None,
        supply_length_m: float | None = None,
        supply_size: str | None = None,
        supply_installation: Installation | Fields | None = None,
        supply_ampacity_a: float | None = None,
        busbar_rating_a: float | None = None,
        main_device_a: float | None = None,
        existing_generation: Sequence[ExistingGeneration | Fields] | None = None,
        export_limit_per_phase_a: float | None = None,
        earthing: Literal["tn", "tt"] | None = None,
        residual_current_device_asked: bool | None = None,
        busbar_fed_at_opposite_end: bool | None = None,
        plug_in: bool | None = None,
        units_coupled: bool | None = None,
        supply_loop_impedance_ohm: float | None = None,
        earth_electrode_ohm: float | None = None,
        several_premises: bool | None = None,
        region: str | None = None,
        region_rules: RegionRules | Fields | None = None,
        modules_per_unit: int | None = None,
        unit_phase_count: int | None = None,
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        gateway_units_max: int | None = None,
        spare_drops_per_circuit: int | None = None,
        no_dc_fault_current_declared: bool | None = None,
        current_transformer_secondary_a: float | None = None,
        mounting_system: MountingSystem | Fields | None = None,
        trunk_system: TrunkSystem | Fields | None = None,
        cable_allowance_share: float | None = None,
        surge_protection: bool | None = None,
        generation_meter: bool | None = None,
        spare_share: float | None = None,
        failure_percent_per_year: float | None = None,
        spare_horizon_years: int | None = None,
        spare_warranty_years: int | None = None,
        backup: Backup | Fields | None = None,
        unit_bracket_mass_kg: float | None = None,
        mounting_mass_per_module_kg: float | None = None,
        dead_load_guide_kg_m2: float | None = None,
        module_length_m: float | None = None,
        module_width_m: float | None = None,
        module_area_m2: float | None = None,
        price_book: PriceBook | Fields | None = None,
    ) -> BillOfMaterialsResult:
        """Parts to order, branch circuits, masses and prices, from counts.

        Takes the modules on each face, the microinverter's current, and what mounting and trunk are made as. Gives the
        branch circuits, every part with its quantity and the derivation of the quantity, the documents that the region
        requires, the dead load of each face, and with the caller's price book net, tax, total and margin in decimals.
        Circuits do not cross from one face to another unless circuits_may_cross_faces allows it. Send `Accept: text/csv`
        for the lines as CSV (RFC 4180); their order is always the same. The call has no side effects and may be repeated.

        Parameters
        ----------
        unit_ac_current_a : float
            Rated AC current of one microinverter [A]; at least 0.1 and at most 30.
        faces : sequence of FaceCount
            The faces of the roof, in the order of the trunk; 1 to 16 items.
        module_mass_kg : float
            Mass of one module [kg]; at least 0.5 and at most 80.
        unit_mass_kg : float
            Mass of one microinverter [kg]; at least 0.1 and at most 50.
        phase_count : int, optional
            Phases of the supply over which the units are distributed; default 1 (a single-phase supply); at least 1 and at most
            3.
        device_rating_a : float, optional
            Rating of a branch circuit's circuit breaker or fuse [A]; if left out: the region's rules; at least 1 and at most
            125.
        continuous_current_factor : float, optional
            Factor on the continuous current of a branch circuit; not below the region's where that is code; if left out: the
            region's rules; at least 1 and at most 2.
        branch_device_max_a : float, optional
            Largest circuit breaker that microinverters and trunk allow, from their datasheets; asked for above 20 A [A]; at
            least 1 and at most 125.
        units_per_trunk_max : int, optional
            Most microinverters on one trunk cable, according to its maker; at least 1 and at most 100.
        trunk_phase_count : int, optional
            Phases of a trunk: 1, or those of the supply behind one device with a pole for each; default 1 (single-phase
            trunks); at least 1 and at most 3.
        circuits_may_cross_faces : bool, optional
            Whether a circuit may serve several faces; default false (no trunk crosses the ridge).
        face_crossing_m : float, optional
            Length of trunk cable from the last unit of one face to the first of the next [m]; default 3.0 (common practice, no
            source); at least 0 and at most 100.
        trunk_feed : {"end", "centre"}, optional
            Where the home run is connected to a trunk; default "end" (the simpler of the two).
        voltage_v : float, optional
            Nominal voltage of a unit's circuit [V]; if left out: the region's rules; at least 100 and at most 480.
        voltage_rise_limit_share : float, optional
            Limit on the voltage rise as a share of the nominal voltage; if left out: the region's rules; above 0 and at most
            0.2.
        conductor_table : str, one of the words of its type, optional
            Table of standard copper conductors; if left out: the region's rules.
        conductor_temp_c : float, optional
            Operating temperature of the conductors [degC]; default 70.0 (common practice, no source); at least 20 and at most
            120.
        trunk_size : str, optional
            Conductor of the trunk, as its table writes it: "2.5 mm2", "12 AWG"; if left out: the second thinnest of the table,
            or the next that its circuit breaker protects, common practice, no source.
        trunk_installation : Installation, optional
            How the trunk is installed.
        trunk_ampacity_a : float, optional
            Current-carrying capacity of the trunk as installed, declared by its maker; without it a table's is used [A]; at
            least 1 and at most 2,000.
        home_run_length_m : float, optional
            Length of cable from a trunk to the distribution board, one way [m]; default 0.0 (no home run was given: voltage
            rise and bill leave it out); at least 0 and at most 1,000.
        home_run_size : str, optional
            Conductor of the home run; default: the smallest that its circuit breaker protects and that meets the voltage-rise
            limit, not thinner than the trunk.
        home_run_installation : Installation, optional
            How the home run is installed.
        home_run_ampacity_a : float, optional
            Current-carrying capacity of the home run as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        system_cable_length_m : float, optional
            Length of cable from the sub-board of several circuits to the distribution board, one way [m]; default 0.0 (the sub-
            board is beside the distribution board); at least 0 and at most 1,000.
        system_cable_size : str, optional
            Conductor of that cable; default: the smallest that the system's circuit breaker protects.
        system_cable_installation : Installation, optional
            How that cable is installed.
        system_cable_ampacity_a : float, optional
            Current-carrying capacity of that cable as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        supply_length_m : float, optional
            Length of cable from the distribution board to the connection point, one way; main_device_a protects it [m]; default
            0.0 (the connection point is at the distribution board); at least 0 and at most 1,000.
        supply_size : str, optional
            Conductor of the supply cable; default: the smallest that its device protects.
        supply_installation : Installation, optional
            How the supply cable is installed.
        supply_ampacity_a : float, optional
            Current-carrying capacity of the supply cable as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        busbar_rating_a : float, optional
            Rating of the distribution board: its busbar or main switch, whichever is lower [A]; at least 10 and at most 2,000.
        main_device_a : float, optional
            Rating of the main circuit breaker or fuse in front of the distribution board [A]; at least 10 and at most 2,000.
        existing_generation : sequence of ExistingGeneration, optional
            Generation and storage that is on the premises already; default [] (nothing else feeds in on the premises); 0 to 20
            items.
        export_limit_per_phase_a : float, optional
            Export limit of each phase that a limiter keeps [A]; at least 0 and at most 10,000.
        earthing : {"tn", "tt"}, optional
            Earthing of the supply: by the network (TN), or by an electrode of the house (TT); default "tn" (the more common of
            the two).
        residual_current_device_asked : bool, optional
            Whether the route of a cable or the maker of the microinverters asks for a residual-current device; default false
            (the request does not say that one is asked for).
        busbar_fed_at_opposite_end : bool, optional
            Whether the system feeds the busbar at the end opposite the main device, with the label there; only some codes ask;
            default false (the place of the feed is not known: the safe side).
        plug_in : bool, optional
            Whether the system is on a plug alone; default false (a fixed installation).
        units_coupled : bool, optional
            Whether single-phase units are coupled, so that they keep the phases balanced; default false (units that do not know
            of each other).
        supply_loop_impedance_ohm : float, optional
            Earth fault loop impedance of the supply at the board; disconnection in a fault is checked if given [ohm]; at least
            0.001 and at most 100.
        earth_electrode_ohm : float, optional
            Resistance of the house's earth electrode; checked if given [ohm]; at least 0.1 and at most 10,000.
        several_premises : bool, optional
            Whether other premises close by are being connected in the same weeks; default false (a single house).
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        region_rules : RegionRules, optional
            Rules of the caller's own region, in place of `region`.
        modules_per_unit : int, optional
            Modules on one microinverter; default 1 (a unit for one module); at least 1 and at most 8.
        unit_phase_count : int, optional
            Phases of one microinverter: 1, or 3 where it feeds all three; its current is that of each phase; default 1 (a
            single-phase unit); at least 1 and at most 3.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        gateway_units_max : int, optional
            Most microinverters on one communication gateway; default 49 (common practice, no source); at least 1 and at most
            1,000.
        spare_drops_per_circuit : int, optional
            Drops of each trunk that stay unused and are capped; default 0 (no drop stays unused); at least 0 and at most 100.
        no_dc_fault_current_declared : bool, optional
            Whether the microinverters' maker declares that no smooth DC fault current arises; default false (no declaration,
            which is the safe assumption).
        current_transformer_secondary_a : float, optional
            Rated secondary current of the current transformers [A]; default 5.0 (common practice, no source); at least 0.01 and
            at most 5.
        mounting_system : MountingSystem, optional
            The mounting system as its maker sells it; default: an invented one.
        trunk_system : TrunkSystem, optional
            The trunk as its maker sells it; default: an invented one.
        cable_allowance_share : float, optional
            Cable ordered beyond its length, as a share of it, for the way around corners and into boxes; default 0.1 (common
            practice, no source); at least 0 and at most 1.
        surge_protection : bool, optional
            Whether a surge protective device, AC, type 2, goes to the board; false where there is one already; if left out: the
            region's rules.
        generation_meter : bool, optional
            Whether a meter of the generation is ordered; if left out: the region's rules.
        spare_share : float, optional
            Spare microinverters as a share of those installed, 0 to 1; default: the whole failures expected after the warranty;
            at least 0 and at most 1.
        failure_percent_per_year : float, optional
            Share of the microinverters that fails each year [%]; default 0.1 (geometric mean of 0.02 to 0.5 % a year: no
            independent failure rate is published); at least 0 and at most 20.
        spare_horizon_years : int, optional
            Years that the spares must last for; default 25 (common practice, no source); at least 0 and at most 50.
        spare_warranty_years : int, optional
            Years in which the maker replaces a microinverter that fails, so that it needs no spare; default 10 (common
            practice, no source); at least 0 and at most 40.
        backup : Backup, optional
            Output in an outage; default: none.
        unit_bracket_mass_kg : float, optional
            Mass of a microinverter's bracket [kg]; default 0.0 (the mass of unit or mounting includes the bracket); at least 0
            and at most 20.
        mounting_mass_per_module_kg : float, optional
            Mass of rails, clamps and hooks for one module [kg]; default 3.0 (common practice, no source); at least 0 and at
            most 50.
        dead_load_guide_kg_m2 : float, optional
            Guide value of the dead load [kg/m2]; default 15.0 (usual dead load 10-15 kg/m2, from memory; a city form allows
            19.5 kg/m2 (4 psf)); above 0 and at most 1,000.
        module_length_m : float, optional
            Long side of a module, for rows and rails [m]; default 1.76 (a common size of module, common practice, no source);
            at least 0.2 and at most 3.
        module_width_m : float, optional
            Short side of a module, for rows and rails [m]; default 1.13 (a common size of module, common practice, no source);
            at least 0.2 and at most 3.
        module_area_m2 : float, optional
            Area of one module, for the dead load [m2]; at least 0.04 and at most 6.
        price_book : PriceBook, optional
            The caller's prices; if left out, the result has none.

        Returns
        -------
        BillOfMaterialsResult
        """
        answer: BillOfMaterialsResult = self._perform(
            CALLS["list_materials"].request(
                unit_ac_current_a=unit_ac_current_a,
                faces=faces,
                module_mass_kg=module_mass_kg,
                unit_mass_kg=unit_mass_kg,
                phase_count=phase_count,
                device_rating_a=device_rating_a,
                continuous_current_factor=continuous_current_factor,
                branch_device_max_a=branch_device_max_a,
                units_per_trunk_max=units_per_trunk_max,
                trunk_phase_count=trunk_phase_count,
                circuits_may_cross_faces=circuits_may_cross_faces,
                face_crossing_m=face_crossing_m,
                trunk_feed=trunk_feed,
                voltage_v=voltage_v,
                voltage_rise_limit_share=voltage_rise_limit_share,
                conductor_table=conductor_table,
                conductor_temp_c=conductor_temp_c,
                trunk_size=trunk_size,
                trunk_installation=trunk_installation,
                trunk_ampacity_a=trunk_ampacity_a,
                home_run_length_m=home_run_length_m,
                home_run_size=home_run_size,
                home_run_installation=home_run_installation,
                home_run_ampacity_a=home_run_ampacity_a,
                system_cable_length_m=system_cable_length_m,
                system_cable_size=system_cable_size,
                system_cable_installation=system_cable_installation,
                system_cable_ampacity_a=system_cable_ampacity_a,
                supply_length_m=supply_length_m,
                supply_size=supply_size,
                supply_installation=supply_installation,
                supply_ampacity_a=supply_ampacity_a,
                busbar_rating_a=busbar_rating_a,
                main_device_a=main_device_a,
                existing_generation=existing_generation,
                export_limit_per_phase_a=export_limit_per_phase_a,
                earthing=earthing,
                residual_current_device_asked=residual_current_device_asked,
                busbar_fed_at_opposite_end=busbar_fed_at_opposite_end,
                plug_in=plug_in,
                units_coupled=units_coupled,
                supply_loop_impedance_ohm=supply_loop_impedance_ohm,
                earth_electrode_ohm=earth_electrode_ohm,
                several_premises=several_premises,
                region=region,
                region_rules=region_rules,
                modules_per_unit=modules_per_unit,
                unit_phase_count=unit_phase_count,
                modules_per_input=modules_per_input,
                wiring=wiring,
                gateway_units_max=gateway_units_max,
                spare_drops_per_circuit=spare_drops_per_circuit,
                no_dc_fault_current_declared=no_dc_fault_current_declared,
                current_transformer_secondary_a=current_transformer_secondary_a,
                mounting_system=mounting_system,
                trunk_system=trunk_system,
                cable_allowance_share=cable_allowance_share,
                surge_protection=surge_protection,
                generation_meter=generation_meter,
                spare_share=spare_share,
                failure_percent_per_year=failure_percent_per_year,
                spare_horizon_years=spare_horizon_years,
                spare_warranty_years=spare_warranty_years,
                backup=backup,
                unit_bracket_mass_kg=unit_bracket_mass_kg,
                mounting_mass_per_module_kg=mounting_mass_per_module_kg,
                dead_load_guide_kg_m2=dead_load_guide_kg_m2,
                module_length_m=module_length_m,
                module_width_m=module_width_m,
                module_area_m2=module_area_m2,
                price_book=price_book,
            )
        )
        return answer

    def materials_csv(
        self,
        *,
        unit_ac_current_a: float,
        faces: Sequence[FaceCount | Fields],
        module_mass_kg: float,
        unit_mass_kg: float,
        phase_count: int | None = None,
        device_rating_a: float | None = None,
        continuous_current_factor: float | None = None,
        branch_device_max_a: float | None = None,
        units_per_trunk_max: int | None = None,
        trunk_phase_count: int | None = None,
        circuits_may_cross_faces: bool | None = None,
        face_crossing_m: float | None = None,
        trunk_feed: Literal["end", "centre"] | None = None,
        voltage_v: float | None = None,
        voltage_rise_limit_share: float | None = None,
        conductor_table: Literal[
            "iec_60228_class_2", "iec_60228_class_5", "nec_chapter_9_table_8_solid", "nec_chapter_9_table_8_stranded"
        ]
        | None = None,
        conductor_temp_c: float | None = None,
        trunk_size: str | None = None,
        trunk_installation: Installation | Fields | None = None,
        trunk_ampacity_a: float | None = None,
        home_run_length_m: float | None = None,
        home_run_size: str | None = None,
        home_run_installation: Installation | Fields | None = None,
        home_run_ampacity_a: float | None = None,
        system_cable_length_m: float | None = None,
        system_cable_size: str | None = None,
        system_cable_installation: Installation | Fields | None = None,
        system_cable_ampacity_a: float | None = None,
        supply_length_m: float | None = None,
        supply_size: str | None = None,
        supply_installation: Installation | Fields | None = None,
        supply_ampacity_a: float | None = None,
        busbar_rating_a: float | None = None,
        main_device_a: float | None = None,
        existing_generation: Sequence[ExistingGeneration | Fields] | None = None,
        export_limit_per_phase_a: float | None = None,
        earthing: Literal["tn", "tt"] | None = None,
        residual_current_device_asked: bool | None = None,
        busbar_fed_at_opposite_end: bool | None = None,
        plug_in: bool | None = None,
        units_coupled: bool | None = None,
        supply_loop_impedance_ohm: float | None = None,
        earth_electrode_ohm: float | None = None,
        several_premises: bool | None = None,
        region: str | None = None,
        region_rules: RegionRules | Fields | None = None,
        modules_per_unit: int | None = None,
        unit_phase_count: int | None = None,
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        gateway_units_max: int | None = None,
        spare_drops_per_circuit: int | None = None,
        no_dc_fault_current_declared: bool | None = None,
        current_transformer_secondary_a: float | None = None,
        mounting_system: MountingSystem | Fields | None = None,
        trunk_system: TrunkSystem | Fields | None = None,
        cable_allowance_share: float | None = None,
        surge_protection: bool | None = None,
        generation_meter: bool | None = None,
        spare_share: float | None = None,
        failure_percent_per_year: float | None = None,
        spare_horizon_years: int | None = None,
        spare_warranty_years: int | None = None,
        backup: Backup | Fields | None = None,
        unit_bracket_mass_kg: float | None = None,
        mounting_mass_per_module_kg: float | None = None,
        dead_load_guide_kg_m2: float | None = None,
        module_length_m: float | None = None,
        module_width_m: float | None = None,
        module_area_m2: float | None = None,
        price_book: PriceBook | Fields | None = None,
    ) -> Document:
        """The bill's lines with their prices, RFC 4180.

        Takes the modules on each face, the microinverter's current, and what mounting and trunk are made as. Gives the
        branch circuits, every part with its quantity and the derivation of the quantity, the documents that the region
        requires, the dead load of each face, and with the caller's price book net, tax, total and margin in decimals.
        Circuits do not cross from one face to another unless circuits_may_cross_faces allows it. Send `Accept: text/csv`
        for the lines as CSV (RFC 4180); their order is always the same. The call has no side effects and may be repeated.

        Parameters
        ----------
        unit_ac_current_a : float
            Rated AC current of one microinverter [A]; at least 0.1 and at most 30.
        faces : sequence of FaceCount
            The faces of the roof, in the order of the trunk; 1 to 16 items.
        module_mass_kg : float
            Mass of one module [kg]; at least 0.5 and at most 80.
        unit_mass_kg : float
            Mass of one microinverter [kg]; at least 0.1 and at most 50.
        phase_count : int, optional
            Phases of the supply over which the units are distributed; default 1 (a single-phase supply); at least 1 and at most
            3.
        device_rating_a : float, optional
            Rating of a branch circuit's circuit breaker or fuse [A]; if left out: the region's rules; at least 1 and at most
            125.
        continuous_current_factor : float, optional
            Factor on the continuous current of a branch circuit; not below the region's where that is code; if left out: the
            region's rules; at least 1 and at most 2.
        branch_device_max_a : float, optional
            Largest circuit breaker that microinverters and trunk allow, from their datasheets; asked for above 20 A [A]; at
            least 1 and at most 125.
        units_per_trunk_max : int, optional
            Most microinverters on one trunk cable, according to its maker; at least 1 and at most 100.
        trunk_phase_count : int, optional
            Phases of a trunk: 1, or those of the supply behind one device with a pole for each; default 1 (single-phase
            trunks); at least 1 and at most 3.
        circuits_may_cross_faces : bool, optional
            Whether a circuit may serve several faces; default false (no trunk crosses the ridge).
        face_crossing_m : float, optional
            Length of trunk cable from the last unit of one face to the first of the next [m]; default 3.0 (common practice, no
            source); at least 0 and at most 100.
        trunk_feed : {"end", "centre"}, optional
            Where the home run is connected to a trunk; default "end" (the simpler of the two).
        voltage_v : float, optional
            Nominal voltage of a unit's circuit [V]; if left out: the region's rules; at least 100 and at most 480.
        voltage_rise_limit_share : float, optional
            Limit on the voltage rise as a share of the nominal voltage; if left out: the region's rules; above 0 and at most
            0.2.
        conductor_table : str, one of the words of its type, optional
            Table of standard copper conductors; if left out: the region's rules.
        conductor_temp_c : float, optional
            Operating temperature of the conductors [degC]; default 70.0 (common practice, no source); at least 20 and at most
            120.
        trunk_size : str, optional
            Conductor of the trunk, as its table writes it: "2.5 mm2", "12 AWG"; if left out: the second thinnest of the table,
            or the next that its circuit breaker protects, common practice, no source.
        trunk_installation : Installation, optional
            How the trunk is installed.
        trunk_ampacity_a : float, optional
            Current-carrying capacity of the trunk as installed, declared by its maker; without it a table's is used [A]; at
            least 1 and at most 2,000.
        home_run_length_m : float, optional
            Length of cable from a trunk to the distribution board, one way [m]; default 0.0 (no home run was given: voltage
            rise and bill leave it out); at least 0 and at most 1,000.
        home_run_size : str, optional
            Conductor of the home run; default: the smallest that its circuit breaker protects and that meets the voltage-rise
            limit, not thinner than the trunk.
        home_run_installation : Installation, optional
            How the home run is installed.
        home_run_ampacity_a : float, optional
            Current-carrying capacity of the home run as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        system_cable_length_m : float, optional
            Length of cable from the sub-board of several circuits to the distribution board, one way [m]; default 0.0 (the sub-
            board is beside the distribution board); at least 0 and at most 1,000.
        system_cable_size : str, optional
            Conductor of that cable; default: the smallest that the system's circuit breaker protects.
        system_cable_installation : Installation, optional
            How that cable is installed.
        system_cable_ampacity_a : float, optional
            Current-carrying capacity of that cable as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        supply_length_m : float, optional
            Length of cable from the distribution board to the connection point, one way; main_device_a protects it [m]; default
            0.0 (the connection point is at the distribution board); at least 0 and at most 1,000.
        supply_size : str, optional
            Conductor of the supply cable; default: the smallest that its device protects.
        supply_installation : Installation, optional
            How the supply cable is installed.
        supply_ampacity_a : float, optional
            Current-carrying capacity of the supply cable as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        busbar_rating_a : float, optional
            Rating of the distribution board: its busbar or main switch, whichever is lower [A]; at least 10 and at most 2,000.
        main_device_a : float, optional
            Rating of the main circuit breaker or fuse in front of the distribution board [A]; at least 10 and at most 2,000.
        existing_generation : sequence of ExistingGeneration, optional
            Generation and storage that is on the premises already; default [] (nothing else feeds in on the premises); 0 to 20
            items.
        export_limit_per_phase_a : float, optional
            Export limit of each phase that a limiter keeps [A]; at least 0 and at most 10,000.
        earthing : {"tn", "tt"}, optional
            Earthing of the supply: by the network (TN), or by an electrode of the house (TT); default "tn" (the more common of
            the two).
        residual_current_device_asked : bool, optional
            Whether the route of a cable or the maker of the microinverters asks for a residual-current device; default false
            (the request does not say that one is asked for).
        busbar_fed_at_opposite_end : bool, optional
            Whether the system feeds the busbar at the end opposite the main device, with the label there; only some codes ask;
            default false (the place of the feed is not known: the safe side).
        plug_in : bool, optional
            Whether the system is on a plug alone; default false (a fixed installation).
        units_coupled : bool, optional
            Whether single-phase units are coupled, so that they keep the phases balanced; default false (units that do not know
            of each other).
        supply_loop_impedance_ohm : float, optional
            Earth fault loop impedance of the supply at the board; disconnection in a fault is checked if given [ohm]; at least
            0.001 and at most 100.
        earth_electrode_ohm : float, optional
            Resistance of the house's earth electrode; checked if given [ohm]; at least 0.1 and at most 10,000.
        several_premises : bool, optional
            Whether other premises close by are being connected in the same weeks; default false (a single house).
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        region_rules : RegionRules, optional
            Rules of the caller's own region, in place of `region`.
        modules_per_unit : int, optional
            Modules on one microinverter; default 1 (a unit for one module); at least 1 and at most 8.
        unit_phase_count : int, optional
            Phases of one microinverter: 1, or 3 where it feeds all three; its current is that of each phase; default 1 (a
            single-phase unit); at least 1 and at most 3.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        gateway_units_max : int, optional
            Most microinverters on one communication gateway; default 49 (common practice, no source); at least 1 and at most
            1,000.
        spare_drops_per_circuit : int, optional
            Drops of each trunk that stay unused and are capped; default 0 (no drop stays unused); at least 0 and at most 100.
        no_dc_fault_current_declared : bool, optional
            Whether the microinverters' maker declares that no smooth DC fault current arises; default false (no declaration,
            which is the safe assumption).
        current_transformer_secondary_a : float, optional
            Rated secondary current of the current transformers [A]; default 5.0 (common practice, no source); at least 0.01 and
            at most 5.
        mounting_system : MountingSystem, optional
            The mounting system as its maker sells it; default: an invented one.
        trunk_system : TrunkSystem, optional
            The trunk as its maker sells it; default: an invented one.
        cable_allowance_share : float, optional
            Cable ordered beyond its length, as a share of it, for the way around corners and into boxes; default 0.1 (common
            practice, no source); at least 0 and at most 1.
        surge_protection : bool, optional
            Whether a surge protective device, AC, type 2, goes to the board; false where there is one already; if left out: the
            region's rules.
        generation_meter : bool, optional
            Whether a meter of the generation is ordered; if left out: the region's rules.
        spare_share : float, optional
            Spare microinverters as a share of those installed, 0 to 1; default: the whole failures expected after the warranty;
            at least 0 and at most 1.
        failure_percent_per_year : float, optional
            Share of the microinverters that fails each year [%]; default 0.1 (geometric mean of 0.02 to 0.5 % a year: no
            independent failure rate is published); at least 0 and at most 20.
        spare_horizon_years : int, optional
            Years that the spares must last for; default 25 (common practice, no source); at least 0 and at most 50.
        spare_warranty_years : int, optional
            Years in which the maker replaces a microinverter that fails, so that it needs no spare; default 10 (common
            practice, no source); at least 0 and at most 40.
        backup : Backup, optional
            Output in an outage; default: none.
        unit_bracket_mass_kg : float, optional
            Mass of a microinverter's bracket [kg]; default 0.0 (the mass of unit or mounting includes the bracket); at least 0
            and at most 20.
        mounting_mass_per_module_kg : float, optional
            Mass of rails, clamps and hooks for one module [kg]; default 3.0 (common practice, no source); at least 0 and at
            most 50.
        dead_load_guide_kg_m2 : float, optional
            Guide value of the dead load [kg/m2]; default 15.0 (usual dead load 10-15 kg/m2, from memory; a city form allows
            19.5 kg/m2 (4 psf)); above 0 and at most 1,000.
        module_length_m : float, optional
            Long side of a module, for rows and rails [m]; default 1.76 (a common size of module, common practice, no source);
            at least 0.2 and at most 3.
        module_width_m : float, optional
            Short side of a module, for rows and rails [m]; default 1.13 (a common size of module, common practice, no source);
            at least 0.2 and at most 3.
        module_area_m2 : float, optional
            Area of one module, for the dead load [m2]; at least 0.04 and at most 6.
        price_book : PriceBook, optional
            The caller's prices; if left out, the result has none.

        Returns
        -------
        Document
        """
        answer: Document = self._perform(
            CALLS["materials_csv"].request(
                unit_ac_current_a=unit_ac_current_a,
                faces=faces,
                module_mass_kg=module_mass_kg,
                unit_mass_kg=unit_mass_kg,
                phase_count=phase_count,
                device_rating_a=device_rating_a,
                continuous_current_factor=continuous_current_factor,
                branch_device_max_a=branch_device_max_a,
                units_per_trunk_max=units_per_trunk_max,
                trunk_phase_count=trunk_phase_count,
                circuits_may_cross_faces=circuits_may_cross_faces,
                face_crossing_m=face_crossing_m,
                trunk_feed=trunk_feed,
                voltage_v=voltage_v,
                voltage_rise_limit_share=voltage_rise_limit_share,
                conductor_table=conductor_table,
                conductor_temp_c=conductor_temp_c,
                trunk_size=trunk_size,
                trunk_installation=trunk_installation,
                trunk_ampacity_a=trunk_ampacity_a,
                home_run_length_m=home_run_length_m,
                home_run_size=home_run_size,
                home_run_installation=home_run_installation,
                home_run_ampacity_a=home_run_ampacity_a,
                system_cable_length_m=system_cable_length_m,
                system_cable_size=system_cable_size,
                system_cable_installation=system_cable_installation,
                system_cable_ampacity_a=system_cable_ampacity_a,
                supply_length_m=supply_length_m,
                supply_size=supply_size,
                supply_installation=supply_installation,
                supply_ampacity_a=supply_ampacity_a,
                busbar_rating_a=busbar_rating_a,
                main_device_a=main_device_a,
                existing_generation=existing_generation,
                export_limit_per_phase_a=export_limit_per_phase_a,
                earthing=earthing,
                residual_current_device_asked=residual_current_device_asked,
                busbar_fed_at_opposite_end=busbar_fed_at_opposite_end,
                plug_in=plug_in,
                units_coupled=units_coupled,
                supply_loop_impedance_ohm=supply_loop_impedance_ohm,
                earth_electrode_ohm=earth_electrode_ohm,
                several_premises=several_premises,
                region=region,
                region_rules=region_rules,
                modules_per_unit=modules_per_unit,
                unit_phase_count=unit_phase_count,
                modules_per_input=modules_per_input,
                wiring=wiring,
                gateway_units_max=gateway_units_max,
                spare_drops_per_circuit=spare_drops_per_circuit,
                no_dc_fault_current_declared=no_dc_fault_current_declared,
                current_transformer_secondary_a=current_transformer_secondary_a,
                mounting_system=mounting_system,
                trunk_system=trunk_system,
                cable_allowance_share=cable_allowance_share,
                surge_protection=surge_protection,
                generation_meter=generation_meter,
                spare_share=spare_share,
                failure_percent_per_year=failure_percent_per_year,
                spare_horizon_years=spare_horizon_years,
                spare_warranty_years=spare_warranty_years,
                backup=backup,
                unit_bracket_mass_kg=unit_bracket_mass_kg,
                mounting_mass_per_module_kg=mounting_mass_per_module_kg,
                dead_load_guide_kg_m2=dead_load_guide_kg_m2,
                module_length_m=module_length_m,
                module_width_m=module_width_m,
                module_area_m2=module_area_m2,
                price_book=price_book,
            )
        )
        return answer

    def design_roof(
        self,
        *,
        site: Site | Fields,
        modules: Sequence[ModuleOffer | Fields],
        candidates: Sequence[Candidate | Fields],
        faces: Sequence[DesignFace | Fields],
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        region: str | None = None,
        surroundings: Surroundings | Fields | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
        currency: str | None = None,
        tariff: Tariff | Fields | None = None,
        share_used_at_home: float | None = None,
        load_w: Numbers | None = None,
        export_limit_w: float | None = None,
        first_weekday: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] | None = None,
        home_utc_offset_h: float | None = None,
        discount_rate_percent: float | None = None,
        horizon_years: int | None = None,
        degradation_percent_per_year: float | None = None,
        failure_percent_per_year: float | None = None,
        labour_per_visit: float | None = None,
        maintenance_per_year: float | None = None,
        other_cost: float | None = None,
        second_kind_cost: float | None = None,
        mismatch_loss_share: float | None = None,
        snow_loss_share: float | None = None,
        downtime_share: float | None = None,
        ac_cable_loss_share: float | None = None,
        string_inverters: Sequence[StringInverterOffer | Fields] | None = None,
        repair_days: float | None = None,
        break_even_pairs: Literal["every", "recommended"] | None = None,
        region_rules: RegionRules | Fields | None = None,
        build: Build | Fields | None = None,
        circuits: CircuitTerms | Fields | None = None,
        materials: DesignMaterialTerms | Fields | None = None,
        price_book: PriceBook | Fields | None = None,
        connection_costs: Sequence[ConnectionCost | Fields] | None = None,
        sheet: Sheet | Fields | None = None,
    ) -> DesignResult:
        """Complete design of one roof: climate, layout, checks, energy, selection, circuits, bill and prices.

        Gives the results of all other operations in one call. Each part equals the result of its own operation for the same
        input, except that `assumptions`, `cautions` and `method` of all parts are at the top and are empty in each part. A
        face has a number of modules, or a size from which the layout counts them. Circuits and bill are for the recommended
        pairing or for the one that `build` names; `built` says which and why. Every candidate is ranked with its own
        circuits, parts and grid connection; the first is the best that can be built. Circuits and bill are for one kind: a
        mixed choice is only advice in `selection`. If no pairing passes its electrical checks, or no circuit is possible
        for the pairing, the result says so, and the parts that need a pairing are null. Send `Accept: text/html` for the
        sheet for customer and installer as one self-contained file, or `application/pdf` for the same as PDF; `sheet` sets
        its letterhead, language, paper and parts. Send `Accept: text/csv` for the lines of the order as CSV (RFC 4180). A
        language that is not offered gives 406, for JSON too. The call has no side effects and may be repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        modules : sequence of ModuleOffer
            The modules to compare, each on every face; 1 to 8 items.
        candidates : sequence of Candidate
            The microinverters on offer; 1 to 64 items.
        faces : sequence of DesignFace
            The faces of the roof, in the order of the trunk; 1 to 16 items.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        surroundings : Surroundings, optional
            What stands around the building, for all faces.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).
        currency : str, optional
            Currency of every price of the request, ISO 4217, such as EUR; all currencies of a request must be the same; if left
            out: one currency for every price of the request.
        tariff : Tariff, optional
            Energy prices; if left out, candidates are ranked by energy.
        share_used_at_home : float, optional
            Share of the energy that is used at home, 0 to 1; or give load_w; if left out: 0.3 where load_w is not given either:
            common practice, no source; at least 0 and at most 1.
        load_w : sequence of float, optional
            Household load, the power drawn at home: every hour of a year from 1 January in standard time or, less exact, 12
            mean days from January or one mean day. With hourly weather each hour meets its own load, otherwise all loads of
            that hour in its month [W]; 24 to 8,784 items.
        export_limit_w : float, optional
            Export limit of the grid connection; if left out, none [W]; at least 0 and at most 10,000,000.
        first_weekday : {"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}, optional
            Weekday of 1 January in load_w; it counts where the tariff differs at weekends. If left out, monday.
        home_utc_offset_h : float, optional
            Offset from UTC of the site's standard time, which load_w and the tariff's bands are in; if left out, that of the
            region's rules where the country has one standard time, else that of the weather or, without hourly weather, the
            nearest whole hour to the longitude over 15 [h]; at least -14 and at most 14.
        discount_rate_percent : float, optional
            Discount rate [%]; default 3.0 (common practice, no source); at least -20 and at most 50.
        horizon_years : int, optional
            Years of the comparison; default 25 (common practice, no source); at least 1 and at most 40.
        degradation_percent_per_year : float, optional
            Power that the module loses from each year to the next, compounding [%]; default 0.5 (median of some 2000 rates,
            Jordan and Kurtz 2013, 10.1002/pip.1182); at least 0 and at most 5.
        failure_percent_per_year : float, optional
            Share of the units that fails each year; if left out, results show a band from 0.02 to 0.5 %, as no independent rate
            is published [%]; at least 0 and at most 20.
        labour_per_visit : float, optional
            Labour to replace one failed unit; default 0.0 (labour not given: replacements cost the unit alone); at least 0 and
            at most 1,000,000.
        maintenance_per_year : float, optional
            Maintenance of the roof in a year; default 0.0 (the same for every candidate); at least 0 and at most 1,000,000.
        other_cost : float, optional
            All other cost of the roof today: the work of building, and the balance of plant where the candidates have none; 0
            where other prices include it. If left out it counts as 0, and the whole system has no payback; at least 0 and at
            most 1,000,000.
        second_kind_cost : float, optional
            Cost of stocking a second kind of microinverter; default 0.0 (not given); at least 0 and at most 1,000,000.
        mismatch_loss_share : float, optional
            Share of the energy lost by modules on one input that differ, 0 to 1; if left out: 0 with each module on its own
            input, else 0.01: common practice, no source; at least 0 and below 1.
        snow_loss_share : float, optional
            Share of the energy lost by snow on the modules, 0 to 1; default 0.0 (no snow); at least 0 and below 1.
        downtime_share : float, optional
            Share of the energy lost by units or the network being out of service, 0 to 1; default 0.01 (an availability of 99%:
            common practice, no source); at least 0 and below 1.
        ac_cable_loss_share : float, optional
            Share of the energy lost by the cables from the units to the meter, 0 to 1; if left out: from the candidate's
            rated_cable_share, which a design computes, else 0.01: common practice, no source; at least 0 and below 1.
        string_inverters : sequence of StringInverterOffer, optional
            String inverters to compare with the recommended microinverter on the same roof; 0 to 8 items.
        repair_days : float, optional
            Days from a failure to its repair, for the comparison with string inverters [d]; default 14.0 (common practice, no
            source); at least 0 and at most 365.
        break_even_pairs : {"every", "recommended"}, optional
            Pairs to compute the break-even for: the recommended candidate with its neighbours by AC power, or every pair of
            neighbours; default "recommended" (the pairs that decide the choice; every pair takes longer).
        region_rules : RegionRules, optional
            Rules of the caller's own region, in place of `region` for circuits and grid connection, and for layouts where they
            have `access`; the electrical checks still use `region`.
        build : Build, optional
            The pairing for circuits and bill; default: the recommended one.
        circuits : CircuitTerms, optional
            Terms of circuits and grid connection; data of the microinverter come from its datasheet.
        materials : DesignMaterialTerms, optional
            Terms of the bill; data of module and microinverter come from their datasheets.
        price_book : PriceBook, optional
            The caller's prices; if left out, the result has none. For the roles module, microinverter and microinverter_spare,
            `specification` names the module or candidate of the part. A module or candidate without a price is ranked at the
            sales price of its part.
        connection_costs : sequence of ConnectionCost, optional
            Costs of grid connection procedures, for the ranking; one that is left out counts as 0, and a recommendation that it
            could turn is not called decided; default [] (not given); 0 to 20 items.
        sheet : Sheet, optional
            Letterhead, language, paper and parts of the sheet, for text/html and application/pdf.

        Returns
        -------
        DesignResult
        """
        answer: DesignResult = self._perform(
            CALLS["design_roof"].request(
                site=site,
                modules=modules,
                candidates=candidates,
                faces=faces,
                modules_per_input=modules_per_input,
                wiring=wiring,
                weather=weather,
                region=region,
                surroundings=surroundings,
                transposition=transposition,
                currency=currency,
                tariff=tariff,
                share_used_at_home=share_used_at_home,
                load_w=load_w,
                export_limit_w=export_limit_w,
                first_weekday=first_weekday,
                home_utc_offset_h=home_utc_offset_h,
                discount_rate_percent=discount_rate_percent,
                horizon_years=horizon_years,
                degradation_percent_per_year=degradation_percent_per_year,
                failure_percent_per_year=failure_percent_per_year,
                labour_per_visit=labour_per_visit,
                maintenance_per_year=maintenance_per_year,
                other_cost=other_cost,
                second_kind_cost=second_kind_cost,
                mismatch_loss_share=mismatch_loss_share,
                snow_loss_share=snow_loss_share,
                downtime_share=downtime_share,
                ac_cable_loss_share=ac_cable_loss_share,
                string_inverters=string_inverters,
                repair_days=repair_days,
                break_even_pairs=break_even_pairs,
                region_rules=region_rules,
                build=build,
                circuits=circuits,
                materials=materials,
                price_book=price_book,
                connection_costs=connection_costs,
                sheet=sheet,
            )
        )
        return answer

    def sheet_html(
        self,
        *,
        site: Site | Fields,
        modules: Sequence[ModuleOffer | Fields],
        candidates: Sequence[Candidate | Fields],
        faces: Sequence[DesignFace | Fields],
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        region: str | None = None,
        surroundings: Surroundings | Fields | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
        currency: str | None = None,
        tariff: Tariff | Fields | None = None,
        share_used_at_home: float | None = None,
        load_w: Numbers | None = None,
        export_limit_w: float | None = None,
        first_weekday: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] | None = None,
        home_utc_offset_h: float | None = None,
        discount_rate_percent: float | None = None,
        horizon_years: int | None = None,
        degradation_percent_per_year: float | None = None,
        failure_percent_per_year: float | None = None,
        labour_per_visit: float | None = None,
        maintenance_per_year: float | None = None,
        other_cost: float | None = None,
        second_kind_cost: float | None = None,
        mismatch_loss_share: float | None = None,
        snow_loss_share: float | None = None,
        downtime_share: float | None = None,
        ac_cable_loss_share: float | None = None,
        string_inverters: Sequence[StringInverterOffer | Fields] | None = None,
        repair_days: float | None = None,
        break_even_pairs: Literal["every", "recommended"] | None = None,
        region_rules: RegionRules | Fields | None = None,
        build: Build | Fields | None = None,
        circuits: CircuitTerms | Fields | None = None,
        materials: DesignMaterialTerms | Fields | None = None,
        price_book: PriceBook | Fields | None = None,
        connection_costs: Sequence[ConnectionCost | Fields] | None = None,
        sheet: Sheet | Fields | None = None,
    ) -> Document:
        """The sheet for customer and installer, in one file.

        Gives the results of all other operations in one call. Each part equals the result of its own operation for the same
        input, except that `assumptions`, `cautions` and `method` of all parts are at the top and are empty in each part. A
        face has a number of modules, or a size from which the layout counts them. Circuits and bill are for the recommended
        pairing or for the one that `build` names; `built` says which and why. Every candidate is ranked with its own
        circuits, parts and grid connection; the first is the best that can be built. Circuits and bill are for one kind: a
        mixed choice is only advice in `selection`. If no pairing passes its electrical checks, or no circuit is possible
        for the pairing, the result says so, and the parts that need a pairing are null. Send `Accept: text/html` for the
        sheet for customer and installer as one self-contained file, or `application/pdf` for the same as PDF; `sheet` sets
        its letterhead, language, paper and parts. Send `Accept: text/csv` for the lines of the order as CSV (RFC 4180). A
        language that is not offered gives 406, for JSON too. The call has no side effects and may be repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        modules : sequence of ModuleOffer
            The modules to compare, each on every face; 1 to 8 items.
        candidates : sequence of Candidate
            The microinverters on offer; 1 to 64 items.
        faces : sequence of DesignFace
            The faces of the roof, in the order of the trunk; 1 to 16 items.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        surroundings : Surroundings, optional
            What stands around the building, for all faces.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).
        currency : str, optional
            Currency of every price of the request, ISO 4217, such as EUR; all currencies of a request must be the same; if left
            out: one currency for every price of the request.
        tariff : Tariff, optional
            Energy prices; if left out, candidates are ranked by energy.
        share_used_at_home : float, optional
            Share of the energy that is used at home, 0 to 1; or give load_w; if left out: 0.3 where load_w is not given either:
            common practice, no source; at least 0 and at most 1.
        load_w : sequence of float, optional
            Household load, the power drawn at home: every hour of a year from 1 January in standard time or, less exact, 12
            mean days from January or one mean day. With hourly weather each hour meets its own load, otherwise all loads of
            that hour in its month [W]; 24 to 8,784 items.
        export_limit_w : float, optional
            Export limit of the grid connection; if left out, none [W]; at least 0 and at most 10,000,000.
        first_weekday : {"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}, optional
            Weekday of 1 January in load_w; it counts where the tariff differs at weekends. If left out, monday.
        home_utc_offset_h : float, optional
            Offset from UTC of the site's standard time, which load_w and the tariff's bands are in; if left out, that of the
            region's rules where the country has one standard time, else that of the weather or, without hourly weather, the
            nearest whole hour to the longitude over 15 [h]; at least -14 and at most 14.
        discount_rate_percent : float, optional
            Discount rate [%]; default 3.0 (common practice, no source); at least -20 and at most 50.
        horizon_years : int, optional
            Years of the comparison; default 25 (common practice, no source); at least 1 and at most 40.
        degradation_percent_per_year : float, optional
            Power that the module loses from each year to the next, compounding [%]; default 0.5 (median of some 2000 rates,
            Jordan and Kurtz 2013, 10.1002/pip.1182); at least 0 and at most 5.
        failure_percent_per_year : float, optional
            Share of the units that fails each year; if left out, results show a band from 0.02 to 0.5 %, as no independent rate
            is published [%]; at least 0 and at most 20.
        labour_per_visit : float, optional
            Labour to replace one failed unit; default 0.0 (labour not given: replacements cost the unit alone); at least 0 and
            at most 1,000,000.
        maintenance_per_year : float, optional
            Maintenance of the roof in a year; default 0.0 (the same for every candidate); at least 0 and at most 1,000,000.
        other_cost : float, optional
            All other cost of the roof today: the work of building, and the balance of plant where the candidates have none; 0
            where other prices include it. If left out it counts as 0, and the whole system has no payback; at least 0 and at
            most 1,000,000.
        second_kind_cost : float, optional
            Cost of stocking a second kind of microinverter; default 0.0 (not given); at least 0 and at most 1,000,000.
        mismatch_loss_share : float, optional
            Share of the energy lost by modules on one input that differ, 0 to 1; if left out: 0 with each module on its own
            input, else 0.01: common practice, no source; at least 0 and below 1.
        snow_loss_share : float, optional
            Share of the energy lost by snow on the modules, 0 to 1; default 0.0 (no snow); at least 0 and below 1.
        downtime_share : float, optional
            Share of the energy lost by units or the network being out of service, 0 to 1; default 0.01 (an availability of 99%:
            common practice, no source); at least 0 and below 1.
        ac_cable_loss_share : float, optional
            Share of the energy lost by the cables from the units to the meter, 0 to 1; if left out: from the candidate's
            rated_cable_share, which a design computes, else 0.01: common practice, no source; at least 0 and below 1.
        string_inverters : sequence of StringInverterOffer, optional
            String inverters to compare with the recommended microinverter on the same roof; 0 to 8 items.
        repair_days : float, optional
            Days from a failure to its repair, for the comparison with string inverters [d]; default 14.0 (common practice, no
            source); at least 0 and at most 365.
        break_even_pairs : {"every", "recommended"}, optional
            Pairs to compute the break-even for: the recommended candidate with its neighbours by AC power, or every pair of
            neighbours; default "recommended" (the pairs that decide the choice; every pair takes longer).
        region_rules : RegionRules, optional
            Rules of the caller's own region, in place of `region` for circuits and grid connection, and for layouts where they
            have `access`; the electrical checks still use `region`.
        build : Build, optional
            The pairing for circuits and bill; default: the recommended one.
        circuits : CircuitTerms, optional
            Terms of circuits and grid connection; data of the microinverter come from its datasheet.
        materials : DesignMaterialTerms, optional
            Terms of the bill; data of module and microinverter come from their datasheets.
        price_book : PriceBook, optional
            The caller's prices; if left out, the result has none. For the roles module, microinverter and microinverter_spare,
            `specification` names the module or candidate of the part. A module or candidate without a price is ranked at the
            sales price of its part.
        connection_costs : sequence of ConnectionCost, optional
            Costs of grid connection procedures, for the ranking; one that is left out counts as 0, and a recommendation that it
            could turn is not called decided; default [] (not given); 0 to 20 items.
        sheet : Sheet, optional
            Letterhead, language, paper and parts of the sheet, for text/html and application/pdf.

        Returns
        -------
        Document
        """
        answer: Document = self._perform(
            CALLS["sheet_html"].request(
                site=site,
                modules=modules,
                candidates=candidates,
                faces=faces,
                modules_per_input=modules_per_input,
                wiring=wiring,
                weather=weather,
                region=region,
                surroundings=surroundings,
                transposition=transposition,
                currency=currency,
                tariff=tariff,
                share_used_at_home=share_used_at_home,
                load_w=load_w,
                export_limit_w=export_limit_w,
                first_weekday=first_weekday,
                home_utc_offset_h=home_utc_offset_h,
                discount_rate_percent=discount_rate_percent,
                horizon_years=horizon_years,
                degradation_percent_per_year=degradation_percent_per_year,
                failure_percent_per_year=failure_percent_per_year,
                labour_per_visit=labour_per_visit,
                maintenance_per_year=maintenance_per_year,
                other_cost=other_cost,
                second_kind_cost=second_kind_cost,
                mismatch_loss_share=mismatch_loss_share,
                snow_loss_share=snow_loss_share,
                downtime_share=downtime_share,
                ac_cable_loss_share=ac_cable_loss_share,
                string_inverters=string_inverters,
                repair_days=repair_days,
                break_even_pairs=break_even_pairs,
                region_rules=region_rules,
                build=build,
                circuits=circuits,
                materials=materials,
                price_book=price_book,
                connection_costs=connection_costs,
                sheet=sheet,
            )
        )
        return answer

    def sheet_pdf(
        self,
        *,
        site: Site | Fields,
        modules: Sequence[ModuleOffer | Fields],
        candidates: Sequence[Candidate | Fields],
        faces: Sequence[DesignFace | Fields],
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        region: str | None = None,
        surroundings: Surroundings | Fields | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
        currency: str | None = None,
        tariff: Tariff | Fields | None = None,
        share_used_at_home: float | None = None,
        load_w: Numbers | None = None,
        export_limit_w: float | None = None,
        first_weekday: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] | None = None,
        home_utc_offset_h: float | None = None,
        discount_rate_percent: float | None = None,
        horizon_years: int | None = None,
        degradation_percent_per_year: float | None = None,
        failure_percent_per_year: float | None = None,
        labour_per_visit: float | None = None,
        maintenance_per_year: float | None = None,
        other_cost: float | None = None,
        second_kind_cost: float | None = None,
        mismatch_loss_share: float | None = None,
        snow_loss_share: float | None = None,
        downtime_share: float | None = None,
        ac_cable_loss_share: float | None = None,
        string_inverters: Sequence[StringInverterOffer | Fields] | None = None,
        repair_days: float | None = None,
        break_even_pairs: Literal["every", "recommended"] | None = None,
        region_rules: RegionRules | Fields | None = None,
        build: Build | Fields | None = None,
        circuits: CircuitTerms | Fields | None = None,
        materials: DesignMaterialTerms | Fields | None = None,
        price_book: PriceBook | Fields | None = None,
        connection_costs: Sequence[ConnectionCost | Fields] | None = None,
        sheet: Sheet | Fields | None = None,
    ) -> Document:
        """The same sheet as PDF, where the service has its extra `pdf`.

        Gives the results of all other operations in one call. Each part equals the result of its own operation for the same
        input, except that `assumptions`, `cautions` and `method` of all parts are at the top and are empty in each part. A
        face has a number of modules, or a size from which the layout counts them. Circuits and bill are for the recommended
        pairing or for the one that `build` names; `built` says which and why. Every candidate is ranked with its own
        circuits, parts and grid connection; the first is the best that can be built. Circuits and bill are for one kind: a
        mixed choice is only advice in `selection`. If no pairing passes its electrical checks, or no circuit is possible
        for the pairing, the result says so, and the parts that need a pairing are null. Send `Accept: text/html` for the
        sheet for customer and installer as one self-contained file, or `application/pdf` for the same as PDF; `sheet` sets
        its letterhead, language, paper and parts. Send `Accept: text/csv` for the lines of the order as CSV (RFC 4180). A
        language that is not offered gives 406, for JSON too. The call has no side effects and may be repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        modules : sequence of ModuleOffer
            The modules to compare, each on every face; 1 to 8 items.
        candidates : sequence of Candidate
            The microinverters on offer; 1 to 64 items.
        faces : sequence of DesignFace
            The faces of the roof, in the order of the trunk; 1 to 16 items.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        surroundings : Surroundings, optional
            What stands around the building, for all faces.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).
        currency : str, optional
            Currency of every price of the request, ISO 4217, such as EUR; all currencies of a request must be the same; if left
            out: one currency for every price of the request.
        tariff : Tariff, optional
            Energy prices; if left out, candidates are ranked by energy.
        share_used_at_home : float, optional
            Share of the energy that is used at home, 0 to 1; or give load_w; if left out: 0.3 where load_w is not given either:
            common practice, no source; at least 0 and at most 1.
        load_w : sequence of float, optional
            Household load, the power drawn at home: every hour of a year from 1 January in standard time or, less exact, 12
            mean days from January or one mean day. With hourly weather each hour meets its own load, otherwise all loads of
            that hour in its month [W]; 24 to 8,784 items.
        export_limit_w : float, optional
            Export limit of the grid connection; if left out, none [W]; at least 0 and at most 10,000,000.
        first_weekday : {"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}, optional
            Weekday of 1 January in load_w; it counts where the tariff differs at weekends. If left out, monday.
        home_utc_offset_h : float, optional
            Offset from UTC of the site's standard time, which load_w and the tariff's bands are in; if left out, that of the
            region's rules where the country has one standard time, else that of the weather or, without hourly weather, the
            nearest whole hour to the longitude over 15 [h]; at least -14 and at most 14.
        discount_rate_percent : float, optional
            Discount rate [%]; default 3.0 (common practice, no source); at least -20 and at most 50.
        horizon_years : int, optional
            Years of the comparison; default 25 (common practice, no source); at least 1 and at most 40.
        degradation_percent_per_year : float, optional
            Power that the module loses from each year to the next, compounding [%]; default 0.5 (median of some 2000 rates,
            Jordan and Kurtz 2013, 10.1002/pip.1182); at least 0 and at most 5.
        failure_percent_per_year : float, optional
            Share of the units that fails each year; if left out, results show a band from 0.02 to 0.5 %, as no independent rate
            is published [%]; at least 0 and at most 20.
        labour_per_visit : float, optional
            Labour to replace one failed unit; default 0.0 (labour not given: replacements cost the unit alone); at least 0 and
            at most 1,000,000.
        maintenance_per_year : float, optional
            Maintenance of the roof in a year; default 0.0 (the same for every candidate); at least 0 and at most 1,000,000.
        other_cost : float, optional
            All other cost of the roof today: the work of building, and the balance of plant where the candidates have none; 0
            where other prices include it. If left out it counts as 0, and the whole system has no payback; at least 0 and at
            most 1,000,000.
        second_kind_cost : float, optional
            Cost of stocking a second kind of microinverter; default 0.0 (not given); at least 0 and at most 1,000,000.
        mismatch_loss_share : float, optional
            Share of the energy lost by modules on one input that differ, 0 to 1; if left out: 0 with each module on its own
            input, else 0.01: common practice, no source; at least 0 and below 1.
        snow_loss_share : float, optional
            Share of the energy lost by snow on the modules, 0 to 1; default 0.0 (no snow); at least 0 and below 1.
        downtime_share : float, optional
            Share of the energy lost by units or the network being out of service, 0 to 1; default 0.01 (an availability of 99%:
            common practice, no source); at least 0 and below 1.
        ac_cable_loss_share : float, optional
            Share of the energy lost by the cables from the units to the meter, 0 to 1; if left out: from the candidate's
            rated_cable_share, which a design computes, else 0.01: common practice, no source; at least 0 and below 1.
        string_inverters : sequence of StringInverterOffer, optional
            String inverters to compare with the recommended microinverter on the same roof; 0 to 8 items.
        repair_days : float, optional
            Days from a failure to its repair, for the comparison with string inverters [d]; default 14.0 (common practice, no
            source); at least 0 and at most 365.
        break_even_pairs : {"every", "recommended"}, optional
            Pairs to compute the break-even for: the recommended candidate with its neighbours by AC power, or every pair of
            neighbours; default "recommended" (the pairs that decide the choice; every pair takes longer).
        region_rules : RegionRules, optional
            Rules of the caller's own region, in place of `region` for circuits and grid connection, and for layouts where they
            have `access`; the electrical checks still use `region`.
        build : Build, optional
            The pairing for circuits and bill; default: the recommended one.
        circuits : CircuitTerms, optional
            Terms of circuits and grid connection; data of the microinverter come from its datasheet.
        materials : DesignMaterialTerms, optional
            Terms of the bill; data of module and microinverter come from their datasheets.
        price_book : PriceBook, optional
            The caller's prices; if left out, the result has none. For the roles module, microinverter and microinverter_spare,
            `specification` names the module or candidate of the part. A module or candidate without a price is ranked at the
            sales price of its part.
        connection_costs : sequence of ConnectionCost, optional
            Costs of grid connection procedures, for the ranking; one that is left out counts as 0, and a recommendation that it
            could turn is not called decided; default [] (not given); 0 to 20 items.
        sheet : Sheet, optional
            Letterhead, language, paper and parts of the sheet, for text/html and application/pdf.

        Returns
        -------
        Document
        """
        answer: Document = self._perform(
            CALLS["sheet_pdf"].request(
                site=site,
                modules=modules,
                candidates=candidates,
                faces=faces,
                modules_per_input=modules_per_input,
                wiring=wiring,
                weather=weather,
                region=region,
                surroundings=surroundings,
                transposition=transposition,
                currency=currency,
                tariff=tariff,
                share_used_at_home=share_used_at_home,
                load_w=load_w,
                export_limit_w=export_limit_w,
                first_weekday=first_weekday,
                home_utc_offset_h=home_utc_offset_h,
                discount_rate_percent=discount_rate_percent,
                horizon_years=horizon_years,
                degradation_percent_per_year=degradation_percent_per_year,
                failure_percent_per_year=failure_percent_per_year,
                labour_per_visit=labour_per_visit,
                maintenance_per_year=maintenance_per_year,
                other_cost=other_cost,
                second_kind_cost=second_kind_cost,
                mismatch_loss_share=mismatch_loss_share,
                snow_loss_share=snow_loss_share,
                downtime_share=downtime_share,
                ac_cable_loss_share=ac_cable_loss_share,
                string_inverters=string_inverters,
                repair_days=repair_days,
                break_even_pairs=break_even_pairs,
                region_rules=region_rules,
                build=build,
                circuits=circuits,
                materials=materials,
                price_book=price_book,
                connection_costs=connection_costs,
                sheet=sheet,
            )
        )
        return answer

    def order_csv(
        self,
        *,
        site: Site | Fields,
        modules: Sequence[ModuleOffer | Fields],
        candidates: Sequence[Candidate | Fields],
        faces: Sequence[DesignFace | Fields],
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        region: str | None = None,
        surroundings: Surroundings | Fields | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
        currency: str | None = None,
        tariff: Tariff | Fields | None = None,
        share_used_at_home: float | None = None,
        load_w: Numbers | None = None,
        export_limit_w: float | None = None,
        first_weekday: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] | None = None,
        home_utc_offset_h: float | None = None,
        discount_rate_percent: float | None = None,
        horizon_years: int | None = None,
        degradation_percent_per_year: float | None = None,
        failure_percent_per_year: float | None = None,
        labour_per_visit: float | None = None,
        maintenance_per_year: float | None = None,
        other_cost: float | None = None,
        second_kind_cost: float | None = None,
        mismatch_loss_share: float | None = None,
        snow_loss_share: float | None = None,
        downtime_share: float | None = None,
        ac_cable_loss_share: float | None = None,
        string_inverters: Sequence[StringInverterOffer | Fields] | None = None,
        repair_days: float | None = None,
        break_even_pairs: Literal["every", "recommended"] | None = None,
        region_rules: RegionRules | Fields | None = None,
        build: Build | Fields | None = None,
        circuits: CircuitTerms | Fields | None = None,
        materials: DesignMaterialTerms | Fields | None = None,
        price_book: PriceBook | Fields | None = None,
        connection_costs: Sequence[ConnectionCost | Fields] | None = None,
        sheet: Sheet | Fields | None = None,
    ) -> Document:
        """The order's lines with their prices, RFC 4180; only the header where nothing is built.

        Gives the results of all other operations in one call. Each part equals the result of its own operation for the same
        input, except that `assumptions`, `cautions` and `method` of all parts are at the top and are empty in each part. A
        face has a number of modules, or a size from which the layout counts them. Circuits and bill are for the recommended
        pairing or for the one that `build` names; `built` says which and why. Every candidate is ranked with its own
        circuits, parts and grid connection; the first is the best that can be built. Circuits and bill are for one kind: a
        mixed choice is only advice in `selection`. If no pairing passes its electrical checks, or no circuit is possible
        for the pairing, the result says so, and the parts that need a pairing are null. Send `Accept: text/html` for the
        sheet for customer and installer as one self-contained file, or `application/pdf` for the same as PDF; `sheet` sets
        its letterhead, language, paper and parts. Send `Accept: text/csv` for the lines of the order as CSV (RFC 4180). A
        language that is not offered gives 406, for JSON too. The call has no side effects and may be repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        modules : sequence of ModuleOffer
            The modules to compare, each on every face; 1 to 8 items.
        candidates : sequence of Candidate
            The microinverters on offer; 1 to 64 items.
        faces : sequence of DesignFace
            The faces of the roof, in the order of the trunk; 1 to 16 items.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        surroundings : Surroundings, optional
            What stands around the building, for all faces.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).
        currency : str, optional
            Currency of every price of the request, ISO 4217, such as EUR; all currencies of a request must be the same; if left
            out: one currency for every price of the request.
        tariff : Tariff, optional
            Energy prices; if left out, candidates are ranked by energy.
        share_used_at_home : float, optional
            Share of the energy that is used at home, 0 to 1; or give load_w; if left out: 0.3 where load_w is not given either:
            common practice, no source; at least 0 and at most 1.
        load_w : sequence of float, optional
            Household load, the power drawn at home: every hour of a year from 1 January in standard time or, less exact, 12
            mean days from January or one mean day. With hourly weather each hour meets its own load, otherwise all loads of
            that hour in its month [W]; 24 to 8,784 items.
        export_limit_w : float, optional
            Export limit of the grid connection; if left out, none [W]; at least 0 and at most 10,000,000.
        first_weekday : {"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}, optional
            Weekday of 1 January in load_w; it counts where the tariff differs at weekends. If left out, monday.
        home_utc_offset_h : float, optional
            Offset from UTC of the site's standard time, which load_w and the tariff's bands are in; if left out, that of the
            region's rules where the country has one standard time, else that of the weather or, without hourly weather, the
            nearest whole hour to the longitude over 15 [h]; at least -14 and at most 14.
        discount_rate_percent : float, optional
            Discount rate [%]; default 3.0 (common practice, no source); at least -20 and at most 50.
        horizon_years : int, optional
            Years of the comparison; default 25 (common practice, no source); at least 1 and at most 40.
        degradation_percent_per_year : float, optional
            Power that the module loses from each year to the next, compounding [%]; default 0.5 (median of some 2000 rates,
            Jordan and Kurtz 2013, 10.1002/pip.1182); at least 0 and at most 5.
        failure_percent_per_year : float, optional
            Share of the units that fails each year; if left out, results show a band from 0.02 to 0.5 %, as no independent rate
            is published [%]; at least 0 and at most 20.
        labour_per_visit : float, optional
            Labour to replace one failed unit; default 0.0 (labour not given: replacements cost the unit alone); at least 0 and
            at most 1,000,000.
        maintenance_per_year : float, optional
            Maintenance of the roof in a year; default 0.0 (the same for every candidate); at least 0 and at most 1,000,000.
        other_cost : float, optional
            All other cost of the roof today: the work of building, and the balance of plant where the candidates have none; 0
            where other prices include it. If left out it counts as 0, and the whole system has no payback; at least 0 and at
            most 1,000,000.
        second_kind_cost : float, optional
            Cost of stocking a second kind of microinverter; default 0.0 (not given); at least 0 and at most 1,000,000.
        mismatch_loss_share : float, optional
            Share of the energy lost by modules on one input that differ, 0 to 1; if left out: 0 with each module on its own
            input, else 0.01: common practice, no source; at least 0 and below 1.
        snow_loss_share : float, optional
            Share of the energy lost by snow on the modules, 0 to 1; default 0.0 (no snow); at least 0 and below 1.
        downtime_share : float, optional
            Share of the energy lost by units or the network being out of service, 0 to 1; default 0.01 (an availability of 99%:
            common practice, no source); at least 0 and below 1.
        ac_cable_loss_share : float, optional
            Share of the energy lost by the cables from the units to the meter, 0 to 1; if left out: from the candidate's
            rated_cable_share, which a design computes, else 0.01: common practice, no source; at least 0 and below 1.
        string_inverters : sequence of StringInverterOffer, optional
            String inverters to compare with the recommended microinverter on the same roof; 0 to 8 items.
        repair_days : float, optional
            Days from a failure to its repair, for the comparison with string inverters [d]; default 14.0 (common practice, no
            source); at least 0 and at most 365.
        break_even_pairs : {"every", "recommended"}, optional
            Pairs to compute the break-even for: the recommended candidate with its neighbours by AC power, or every pair of
            neighbours; default "recommended" (the pairs that decide the choice; every pair takes longer).
        region_rules : RegionRules, optional
            Rules of the caller's own region, in place of `region` for circuits and grid connection, and for layouts where they
            have `access`; the electrical checks still use `region`.
        build : Build, optional
            The pairing for circuits and bill; default: the recommended one.
        circuits : CircuitTerms, optional
            Terms of circuits and grid connection; data of the microinverter come from its datasheet.
        materials : DesignMaterialTerms, optional
            Terms of the bill; data of module and microinverter come from their datasheets.
        price_book : PriceBook, optional
            The caller's prices; if left out, the result has none. For the roles module, microinverter and microinverter_spare,
            `specification` names the module or candidate of the part. A module or candidate without a price is ranked at the
            sales price of its part.
        connection_costs : sequence of ConnectionCost, optional
            Costs of grid connection procedures, for the ranking; one that is left out counts as 0, and a recommendation that it
            could turn is not called decided; default [] (not given); 0 to 20 items.
        sheet : Sheet, optional
            Letterhead, language, paper and parts of the sheet, for text/html and application/pdf.

        Returns
        -------
        Document
        """
        answer: Document = self._perform(
            CALLS["order_csv"].request(
                site=site,
                modules=modules,
                candidates=candidates,
                faces=faces,
                modules_per_input=modules_per_input,
                wiring=wiring,
                weather=weather,
                region=region,
                surroundings=surroundings,
                transposition=transposition,
                currency=currency,
                tariff=tariff,
                share_used_at_home=share_used_at_home,
                load_w=load_w,
                export_limit_w=export_limit_w,
                first_weekday=first_weekday,
                home_utc_offset_h=home_utc_offset_h,
                discount_rate_percent=discount_rate_percent,
                horizon_years=horizon_years,
                degradation_percent_per_year=degradation_percent_per_year,
                failure_percent_per_year=failure_percent_per_year,
                labour_per_visit=labour_per_visit,
                maintenance_per_year=maintenance_per_year,
                other_cost=other_cost,
                second_kind_cost=second_kind_cost,
                mismatch_loss_share=mismatch_loss_share,
                snow_loss_share=snow_loss_share,
                downtime_share=downtime_share,
                ac_cable_loss_share=ac_cable_loss_share,
                string_inverters=string_inverters,
                repair_days=repair_days,
                break_even_pairs=break_even_pairs,
                region_rules=region_rules,
                build=build,
                circuits=circuits,
                materials=materials,
                price_book=price_book,
                connection_costs=connection_costs,
                sheet=sheet,
            )
        )
        return answer

    def list_regions(self) -> Regions:
        """Regions whose rules the service has.

        Names of the regions that requests may name, with the place and edition of their rules.

        Returns
        -------
        Regions
        """
        answer: Regions = self._perform(CALLS["list_regions"].request())
        return answer

    def read_region(self, *, name: str) -> Region:
        """The rules of a region.

        The published rules that apply where a request names the region: limits, ratings, distances from the edges of a
        face, and grid connection procedures, each with its clause and how the value was obtained. A changed copy can be
        sent as `region_rules`.

        Parameters
        ----------
        name : str
            One of the 7 names; `list_regions` lists them.

        Returns
        -------
        Region
        """
        answer: Region = self._perform(CALLS["read_region"].request(name=name))
        return answer

    def check_live(self) -> Liveness:
        """Liveness.

        Responds while the process runs.

        Returns
        -------
        Liveness
        """
        answer: Liveness = self._perform(CALLS["check_live"].request())
        return answer

    def check_ready(self) -> Readiness:
        """Readiness.

        Says whether the built-in climate and the operator's station folder can be read.

        Returns
        -------
        Readiness
        """
        answer: Readiness = self._perform(CALLS["check_ready"].request())
        return answer


class AsyncOperations(ABC):
    """The methods of a client whose calls are coroutines."""

    @abstractmethod
    async def _perform(self, request: Request[R]) -> R:
        """Carry a request out."""

    async def describe_climate(
        self,
        *,
        site: Site | Fields,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        faces: Sequence[Face | Fields] | None = None,
        module: Module | Fields | None = None,
        microinverters: Sequence[Microinverter | Fields] | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
    ) -> SiteClimateResult:
        """Irradiation and temperature at a site, by month, irradiance level and season.

        Gives monthly irradiation on the horizontal and on each face, the share of the yearly irradiation at each irradiance
        level, and each season's energy-weighted irradiance, which on a roof is well below the 1000 W/m2 of test conditions.
        With a module and microinverters it also gives the module's power and the DC/AC ratio at that irradiance. The result
        has design temperatures, turbidity, the nearest station of the operator, the range of single years and the source of
        the weather. Horizon and shade of a face do not count here. The call has no side effects and may be repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        faces : sequence of Face, optional
            Faces, for their irradiation; 1 to 16 items.
        module : Module, optional
            A module, for its power at each season's irradiance; needs faces.
        microinverters : sequence of Microinverter, optional
            Microinverters, for their DC/AC ratio at each season's irradiance; needs module and faces; 1 to 64 items.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).

        Returns
        -------
        SiteClimateResult
        """
        answer: SiteClimateResult = await self._perform(
            CALLS["describe_climate"].request(
                site=site,
                weather=weather,
                faces=faces,
                module=module,
                microinverters=microinverters,
                transposition=transposition,
            )
        )
        return answer

    async def size_pairings(
        self,
        *,
        site: Site | Fields,
        module: Module | Fields,
        microinverters: Sequence[Microinverter | Fields],
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        mounting: Literal["close_roof", "open_rack", "insulated_back", "open_rack_faiman"] | None = None,
        region: str | None = None,
        cold_voltage_method: Literal["module_coefficient", "code_table"] | None = None,
        faces: Sequence[Face | Fields] | None = None,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
    ) -> SizingResult:
        """Electrical checks of a module with one or many microinverters.

        Checks each pairing at the site's lowest and highest temperature: absolute voltage, short-circuit current, voltage
        windows, start-up, operating current and DC/AC ratio. Every check gives its value, limit, margin, verdict and
        source. A pairing whose verdict is `fail` must not be built as described; a `caution` costs energy or leaves little
        margin. Modules on an input may be in series or in parallel (`wiring`); irradiance on the back of bifacial modules
        counts in the currents. Where the cold voltage comes close to its limit at an estimated temperature,
        `site_record_low` asks for the site's own: do not build before it is known. With `faces`, the result also has the
        DC/AC ratio at the energy-weighted irradiance of each face. The lowest and highest temperature come from the
        request, else from the coldest and hottest of the built-in map, the weather and what the nearest weather file
        publishes, the lowest also from the region's custom; the result says which. The call has no side effects and may be
        repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        module : Module
            The module.
        microinverters : sequence of Microinverter
            The candidates; 1 to 64 items.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        mounting : {"close_roof", "open_rack", "insulated_back", "open_rack_faiman"}, optional
            Mounting, which determines the cell temperature: close_roof: close roof mount, Sandia glass/glass coefficients;
            open_rack: open rack, Sandia glass/polymer coefficients; insulated_back: in the roof with an insulated back, Sandia
            glass/polymer coefficients; open_rack_faiman: open rack, Faiman's mean heat loss factors; default "close_roof" (the
            usual pitched roof).
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        cold_voltage_method : {"module_coefficient", "code_table"}, optional
            Method for the cold open-circuit voltage: the module's own coefficient, or the table of the region's code; default
            "module_coefficient" (the module's own coefficient where its maker gives one).
        faces : sequence of Face, optional
            Faces, for the DC/AC ratio at the site's irradiance; the checks in heat then use their mountings too; 1 to 16 items.
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).

        Returns
        -------
        SizingResult
        """
        answer: SizingResult = await self._perform(
            CALLS["size_pairings"].request(
                site=site,
                module=module,
                microinverters=microinverters,
                modules_per_input=modules_per_input,
                wiring=wiring,
                mounting=mounting,
                region=region,
                cold_voltage_method=cold_voltage_method,
                faces=faces,
                weather=weather,
                transposition=transposition,
            )
        )
        return answer

    async def compute_clipping(
        self,
        *,
        site: Site | Fields,
        module: Module | Fields,
        microinverters: Sequence[Microinverter | Fields],
        faces: Sequence[Face | Fields],
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        degradation_percent_per_year: float | None = None,
        surroundings: Surroundings | Fields | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
    ) -> ClippingResult:
        """Yearly energy and losses of each face with each microinverter.

        Gives for every face and microinverter: the yearly and monthly energy balance of one module, the hours at the AC
        limit, clipped energy by month and hour of day, the power duration curve, and clipping as the module ages; then the
        whole roof for each microinverter. The losses and the delivered energy add up to the energy available at maximum
        power. `clipped_share` includes subhourly variability and has a range; `clipped_share_hourly_means` is what hourly
        means alone would show. The call has no side effects and may be repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        module : Module
            The module.
        microinverters : sequence of Microinverter
            The candidates; 1 to 64 items.
        faces : sequence of Face
            The faces of the roof; 1 to 16 items.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        degradation_percent_per_year : float, optional
            Power that the module loses from each year to the next, compounding [%]; default 0.5 (median of some 2000 rates,
            Jordan and Kurtz 2013, 10.1002/pip.1182); at least 0 and at most 5.
        surroundings : Surroundings, optional
            What stands around the building, for all faces.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).

        Returns
        -------
        ClippingResult
        """
        answer: ClippingResult = await self._perform(
            CALLS["compute_clipping"].request(
                site=site,
                module=module,
                microinverters=microinverters,
                faces=faces,
                modules_per_input=modules_per_input,
                wiring=wiring,
                weather=weather,
                degradation_percent_per_year=degradation_percent_per_year,
                surroundings=surroundings,
                transposition=transposition,
            )
        )
        return answer

    async def select_microinverters(
        self,
        *,
        site: Site | Fields,
        modules: Sequence[ModuleOffer | Fields],
        candidates: Sequence[Candidate | Fields],
        faces: Sequence[Face | Fields],
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        region: str | None = None,
        surroundings: Surroundings | Fields | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
        currency: str | None = None,
        tariff: Tariff | Fields | None = None,
        share_used_at_home: float | None = None,
        load_w: Numbers | None = None,
        export_limit_w: float | None = None,
        first_weekday: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] | None = None,
        home_utc_offset_h: float | None = None,
        discount_rate_percent: float | None = None,
        horizon_years: int | None = None,
        degradation_percent_per_year: float | None = None,
        failure_percent_per_year: float | None = None,
        labour_per_visit: float | None = None,
        maintenance_per_year: float | None = None,
        other_cost: float | None = None,
        second_kind_cost: float | None = None,
        mismatch_loss_share: float | None = None,
        snow_loss_share: float | None = None,
        downtime_share: float | None = None,
        ac_cable_loss_share: float | None = None,
        string_inverters: Sequence[StringInverterOffer | Fields] | None = None,
        repair_days: float | None = None,
        break_even_pairs: Literal["every", "recommended"] | None = None,
    ) -> SelectionResult:
        """Which microinverter to buy for a roof: lifetime value, break-even and sensitivity.

        Ranks candidate microinverters on one or several modules by net present value. Each candidate has its electrical
        verdict (one that fails, or whose cold voltage waits for the site's record low, is not ranked), energy and losses of
        the first year up to the meter, energy over the horizon with ageing of the modules, costs, payback against the
        cheapest candidate and of the whole system, and expected replacements. `system` of a candidate has what it needs
        beside modules and units. The recommendation is decided, close, or depends on a changed input, unless none passes or
        can be built. For candidates that are neighbours by AC power the result gives the module power above which the
        larger pays and the price difference up to which it pays, for the roof and for each face, with the curve. It also
        gives a mixed choice, the values of inputs at which the recommendation changes, and the energy that an export limit
        cuts. If a price or the tariff is missing, candidates are ranked by energy, and a caution says so. If no candidate
        passes, the result says what would have to change. Prices are in the caller's currency. The call has no side effects
        and may be repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        modules : sequence of ModuleOffer
            The modules to compare, each on every face; 1 to 8 items.
        candidates : sequence of Candidate
            The microinverters on offer; 1 to 64 items.
        faces : sequence of Face
            The faces of the roof; 1 to 16 items.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        surroundings : Surroundings, optional
            What stands around the building, for all faces.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).
        currency : str, optional
            Currency of every price of the request, ISO 4217, such as EUR; all currencies of a request must be the same; if left
            out: one currency for every price of the request.
        tariff : Tariff, optional
            Energy prices; if left out, candidates are ranked by energy.
        share_used_at_home : float, optional
            Share of the energy that is used at home, 0 to 1; or give load_w; if left out: 0.3 where load_w is not given either:
            common practice, no source; at least 0 and at most 1.
        load_w : sequence of float, optional
            Household load, the power drawn at home: every hour of a year from 1 January in standard time or, less exact, 12
            mean days from January or one mean day. With hourly weather each hour meets its own load, otherwise all loads of
            that hour in its month [W]; 24 to 8,784 items.
        export_limit_w : float, optional
            Export limit of the grid connection; if left out, none [W]; at least 0 and at most 10,000,000.
        first_weekday : {"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}, optional
            Weekday of 1 January in load_w; it counts where the tariff differs at weekends. If left out, monday.
        home_utc_offset_h : float, optional
            Offset from UTC of the site's standard time, which load_w and the tariff's bands are in; if left out, that of the
            region's rules where the country has one standard time, else that of the weather or, without hourly weather, the
            nearest whole hour to the longitude over 15 [h]; at least -14 and at most 14.
        discount_rate_percent : float, optional
            Discount rate [%]; default 3.0 (common practice, no source); at least -20 and at most 50.
        horizon_years : int, optional
            Years of the comparison; default 25 (common practice, no source); at least 1 and at most 40.
        degradation_percent_per_year : float, optional
            Power that the module loses from each year to the next, compounding [%]; default 0.5 (median of some 2000 rates,
            Jordan and Kurtz 2013, 10.1002/pip.1182); at least 0 and at most 5.
        failure_percent_per_year : float, optional
            Share of the units that fails each year; if left out, results show a band from 0.02 to 0.5 %, as no independent rate
            is published [%]; at least 0 and at most 20.
        labour_per_visit : float, optional
            Labour to replace one failed unit; default 0.0 (labour not given: replacements cost the unit alone); at least 0 and
            at most 1,000,000.
        maintenance_per_year : float, optional
            Maintenance of the roof in a year; default 0.0 (the same for every candidate); at least 0 and at most 1,000,000.
        other_cost : float, optional
            All other cost of the roof today: the work of building, and the balance of plant where the candidates have none; 0
            where other prices include it. If left out it counts as 0, and the whole system has no payback; at least 0 and at
            most 1,000,000.
        second_kind_cost : float, optional
            Cost of stocking a second kind of microinverter; default 0.0 (not given); at least 0 and at most 1,000,000.
        mismatch_loss_share : float, optional
            Share of the energy lost by modules on one input that differ, 0 to 1; if left out: 0 with each module on its own
            input, else 0.01: common practice, no source; at least 0 and below 1.
        snow_loss_share : float, optional
            Share of the energy lost by snow on the modules, 0 to 1; default 0.0 (no snow); at least 0 and below 1.
        downtime_share : float, optional
            Share of the energy lost by units or the network being out of service, 0 to 1; default 0.01 (an availability of 99%:
            common practice, no source); at least 0 and below 1.
        ac_cable_loss_share : float, optional
            Share of the energy lost by the cables from the units to the meter, 0 to 1; if left out: from the candidate's
            rated_cable_share, which a design computes, else 0.01: common practice, no source; at least 0 and below 1.
        string_inverters : sequence of StringInverterOffer, optional
            String inverters to compare with the recommended microinverter on the same roof; 0 to 8 items.
        repair_days : float, optional
            Days from a failure to its repair, for the comparison with string inverters [d]; default 14.0 (common practice, no
            source); at least 0 and at most 365.
        break_even_pairs : {"every", "recommended"}, optional
            Pairs to compute the break-even for: the recommended candidate with its neighbours by AC power, or every pair of
            neighbours; default "recommended" (the pairs that decide the choice; every pair takes longer).

        Returns
        -------
        SelectionResult
        """
        answer: SelectionResult = await self._perform(
            CALLS["select_microinverters"].request(
                site=site,
                modules=modules,
                candidates=candidates,
                faces=faces,
                modules_per_input=modules_per_input,
                wiring=wiring,
                weather=weather,
                region=region,
                surroundings=surroundings,
                transposition=transposition,
                currency=currency,
                tariff=tariff,
                share_used_at_home=share_used_at_home,
                load_w=load_w,
                export_limit_w=export_limit_w,
                first_weekday=first_weekday,
                home_utc_offset_h=home_utc_offset_h,
                discount_rate_percent=discount_rate_percent,
                horizon_years=horizon_years,
                degradation_percent_per_year=degradation_percent_per_year,
                failure_percent_per_year=failure_percent_per_year,
                labour_per_visit=labour_per_visit,
                maintenance_per_year=maintenance_per_year,
                other_cost=other_cost,
                second_kind_cost=second_kind_cost,
                mismatch_loss_share=mismatch_loss_share,
                snow_loss_share=snow_loss_share,
                downtime_share=downtime_share,
                ac_cable_loss_share=ac_cable_loss_share,
                string_inverters=string_inverters,
                repair_days=repair_days,
                break_even_pairs=break_even_pairs,
            )
        )
        return answer

    async def lay_out_face(
        self,
        *,
        module_length_m: float,
        module_width_m: float,
        width_m: float | None = None,
        height_m: float | None = None,
        outline: Sequence[Point | Fields] | None = None,
        obstructions: Sequence[Obstruction | Fields] | None = None,
        orientation: Literal["portrait", "landscape", "best"] | None = None,
        edge_kinds: Sequence[Literal["eaves", "ridge", "rake", "hip", "valley"]] | None = None,
        edge_distance_m: float | None = None,
        eaves_distance_m: float | None = None,
        ridge_distance_m: float | None = None,
        rake_distance_m: float | None = None,
        hip_distance_m: float | None = None,
        valley_distance_m: float | None = None,
        access_path_width_m: float | None = None,
        access_path_side: Literal["none", "left", "right", "both", "either"] | None = None,
        obstruction_distance_m: float | None = None,
        column_gap_m: float | None = None,
        row_gap_m: float | None = None,
        left_out: Sequence[int] | None = None,
        region: str | None = None,
    ) -> LayoutResult:
        """How many modules fit on a face, with their positions.

        Takes a face's width and height, or its outline, with obstructions, and a module's sides. Gives rows and columns
        with the coordinates of every module, in portrait, landscape, or the one in which more fit. No module overlaps
        another, leaves the outline or violates its distances from eaves, ridge, rake, hip and valley, which the request
        gives or the region's rules have; where they ask for an access path, it stays free. Where the distance from the
        ridge depends on the covered share, the share of this face counts; the fire authority decides. Rows have equal
        pitch, and of all heights of the first row one with the most modules is taken; with very many edges, of those tried.
        The call has no side effects and may be repeated.

        Parameters
        ----------
        module_length_m : float
            Length of the module's longer side [m]; at least 0.2 and at most 3.
        module_width_m : float
            Length of the module's shorter side [m]; at least 0.2 and at most 2.
        width_m : float, optional
            Width of a rectangular face, along the eaves [m]; above 0 and at most 200.
        height_m : float, optional
            Height of a rectangular face, along the slope [m]; above 0 and at most 200.
        outline : sequence of Point, optional
            Corners of the face in order, in place of width_m and height_m; the last is joined to the first; 3 to 60 items.
        obstructions : sequence of Obstruction, optional
            Chimneys, windows and the like; they may extend beyond the outline; default [] (a face without obstructions); 0 to
            24 items.
        orientation : {"portrait", "landscape", "best"}, optional
            Longer side up the slope (portrait), along the eaves (landscape), or the one with more modules (best); default
            "best" (the orientation in which more modules fit; portrait if both fit as many).
        edge_kinds : sequence of {"eaves", "ridge", "rake", "hip", "valley"}, optional
            Kind of each edge of `outline`, the first from its first corner to its second; default: from their directions, where
            level edges are eaves and ridge, edges at right angles to them rakes, and oblique edges hips where the face widens
            towards the eaves and valleys where it narrows. Of width_m and height_m the bottom is the eaves, the top the ridge,
            and the sides are rakes; 3 to 60 items.
        edge_distance_m : float, optional
            Distance of modules from every edge that has no distance of its own here; default: that of the region's rules [m];
            at least 0 and at most 10.
        eaves_distance_m : float, optional
            Distance of modules from the eaves; default: edge_distance_m, else the region's [m]; at least 0 and at most 10.
        ridge_distance_m : float, optional
            Distance of modules from the ridge; default: edge_distance_m, else the region's [m]; at least 0 and at most 10.
        rake_distance_m : float, optional
            Distance of modules from the rake, or verge; default: edge_distance_m, else the region's [m]; at least 0 and at most
            10.
        hip_distance_m : float, optional
            Distance of modules from a hip; default: edge_distance_m, else the region's [m]; at least 0 and at most 10.
        valley_distance_m : float, optional
            Distance of modules from a valley; default: edge_distance_m, else the region's [m]; at least 0 and at most 10.
        access_path_width_m : float, optional
            Width of the access path that stays free from the eaves to the ridge, measured from the edges of that side; default:
            that of the region's rules, if they ask for a path [m]; above 0 and at most 10.
        access_path_side : {"none", "left", "right", "both", "either"}, optional
            Side of the access path; either: the one without obstructions, then the one on which the path costs fewer modules,
            then the left; default: that of the region's rules, else either where access_path_width_m is given.
        obstruction_distance_m : float, optional
            Distance of modules from obstructions [m]; default 0.3 (common practice, no source); at least 0 and at most 10.
        column_gap_m : float, optional
            Gap between modules of a row [m]; default 0.02 (common practice, no source); at least 0 and at most 2.
        row_gap_m : float, optional
            Gap between rows [m]; default 0.02 (common practice, no source); at least 0 and at most 10.
        left_out : sequence of int, optional
            Modules that stay away, by their numbers from 1 in the layout without this field, row by row from the eaves; 0 to
            200 items; each at least 1 and at most 1,000.
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.

        Returns
        -------
        LayoutResult
        """
        answer: LayoutResult = await self._perform(
            CALLS["lay_out_face"].request(
                module_length_m=module_length_m,
                module_width_m=module_width_m,
                width_m=width_m,
                height_m=height_m,
                outline=outline,
                obstructions=obstructions,
                orientation=orientation,
                edge_kinds=edge_kinds,
                edge_distance_m=edge_distance_m,
                eaves_distance_m=eaves_distance_m,
                ridge_distance_m=ridge_distance_m,
                rake_distance_m=rake_distance_m,
                hip_distance_m=hip_distance_m,
                valley_distance_m=valley_distance_m,
                access_path_width_m=access_path_width_m,
                access_path_side=access_path_side,
                obstruction_distance_m=obstruction_distance_m,
                column_gap_m=column_gap_m,
                row_gap_m=row_gap_m,
                left_out=left_out,
                region=region,
            )
        )
        return answer

    async def plan_circuits(
        self,
        *,
        unit_ac_current_a: float,
        faces: Sequence[CircuitFace | Fields],
        phase_count: int | None = None,
        device_rating_a: float | None = None,
        continuous_current_factor: float | None = None,
        branch_device_max_a: float | None = None,
        units_per_trunk_max: int | None = None,
        trunk_phase_count: int | None = None,
        circuits_may_cross_faces: bool | None = None,
        face_crossing_m: float | None = None,
        trunk_feed: Literal["end", "centre"] | None = None,
        voltage_v: float | None = None,
        voltage_rise_limit_share: float | None = None,
        conductor_table: Literal[
            "iec_60228_class_2", "iec_60228_class_5", "nec_chapter_9_table_8_solid", "nec_chapter_9_table_8_stranded"
        ]
        | None = None,
        conductor_temp_c: float | None = None,
        trunk_size: str | None = None,
        trunk_installation: Installation | Fields | None = None,
        trunk_ampacity_a: float | None = None,
        home_run_length_m: float | None = None,
        home_run_size: str | None = None,
        home_run_installation: Installation | Fields | None = None,
        home_run_ampacity_a: float | None = None,
        system_cable_length_m: float | None = None,
        system_cable_size: str | None = None,
        system_cable_installation: Installation | Fields | None = None,
        system_cable_ampacity_a: float | None = None,
        supply_length_m: float | None = None,
        supply_size: str | None = None,
        supply_installation: Installation | Fields | None = None,
        supply_ampacity_a: float | None = None,
        busbar_rating_a: float | None = None,
        main_device_a: float | None = None,
        existing_generation: Sequence[ExistingGeneration | Fields] | None = None,
        export_limit_per_phase_a: float | None = None,
        earthing: Literal["tn", "tt"] | None = None,
        residual_current_device_asked: bool | None = None,
        busbar_fed_at_opposite_end: bool | None = None,
        plug_in: bool | None = None,
        units_coupled: bool | None = None,
        supply_loop_impedance_ohm: float | None = None,
        earth_electrode_ohm: float | None = None,
        several_premises: bool | None = None,
        region: str | None = None,
        region_rules: RegionRules | Fields | None = None,
        modules_per_unit: int | None = None,
        unit_phase_count: int | None = None,
        no_dc_fault_current_declared: bool | None = None,
    ) -> CircuitsResult:
        """Branch circuits, cables and devices, voltage rise and grid connection.

        Distributes the microinverters over branch circuits: the phases as equal as they can be, then the fewest circuits
        that circuit breaker and trunk cable allow. Checks that every cable is protected as it is installed: design current,
        circuit breaker, carrying capacity, in this order; one that is not makes the verdict `fail`, and its smallest
        sufficient conductor is named. Gives the devices as one orders them, the voltage rise of each circuit up to the
        connection point, and whether the board bears main device and all generation, with the ways out where it does not.
        Names the grid connection procedure under the region's rules: documents to send and when, what it allows, the
        largest design within each procedure, and the source of each value. Values that are left out come from the region;
        rules of the caller's own region may be sent in the same form. The call has no side effects and may be repeated.

        Parameters
        ----------
        unit_ac_current_a : float
            Rated AC current of one microinverter [A]; at least 0.1 and at most 30.
        faces : sequence of CircuitFace
            The faces of the roof, in the order of the trunk; 1 to 16 items.
        phase_count : int, optional
            Phases of the supply over which the units are distributed; default 1 (a single-phase supply); at least 1 and at most
            3.
        device_rating_a : float, optional
            Rating of a branch circuit's circuit breaker or fuse [A]; if left out: the region's rules; at least 1 and at most
            125.
        continuous_current_factor : float, optional
            Factor on the continuous current of a branch circuit; not below the region's where that is code; if left out: the
            region's rules; at least 1 and at most 2.
        branch_device_max_a : float, optional
            Largest circuit breaker that microinverters and trunk allow, from their datasheets; asked for above 20 A [A]; at
            least 1 and at most 125.
        units_per_trunk_max : int, optional
            Most microinverters on one trunk cable, according to its maker; at least 1 and at most 100.
        trunk_phase_count : int, optional
            Phases of a trunk: 1, or those of the supply behind one device with a pole for each; default 1 (single-phase
            trunks); at least 1 and at most 3.
        circuits_may_cross_faces : bool, optional
            Whether a circuit may serve several faces; default false (no trunk crosses the ridge).
        face_crossing_m : float, optional
            Length of trunk cable from the last unit of one face to the first of the next [m]; default 3.0 (common practice, no
            source); at least 0 and at most 100.
        trunk_feed : {"end", "centre"}, optional
            Where the home run is connected to a trunk; default "end" (the simpler of the two).
        voltage_v : float, optional
            Nominal voltage of a unit's circuit [V]; if left out: the region's rules; at least 100 and at most 480.
        voltage_rise_limit_share : float, optional
            Limit on the voltage rise as a share of the nominal voltage; if left out: the region's rules; above 0 and at most
            0.2.
        conductor_table : str, one of the words of its type, optional
            Table of standard copper conductors; if left out: the region's rules.
        conductor_temp_c : float, optional
            Operating temperature of the conductors [degC]; default 70.0 (common practice, no source); at least 20 and at most
            120.
        trunk_size : str, optional
            Conductor of the trunk, as its table writes it: "2.5 mm2", "12 AWG"; if left out: the second thinnest of the table,
            or the next that its circuit breaker protects, common practice, no source.
        trunk_installation : Installation, optional
            How the trunk is installed.
        trunk_ampacity_a : float, optional
            Current-carrying capacity of the trunk as installed, declared by its maker; without it a table's is used [A]; at
            least 1 and at most 2,000.
        home_run_length_m : float, optional
            Length of cable from a trunk to the distribution board, one way [m]; default 0.0 (no home run was given: voltage
            rise and bill leave it out); at least 0 and at most 1,000.
        home_run_size : str, optional
            Conductor of the home run; default: the smallest that its circuit breaker protects and that meets the voltage-rise
            limit, not thinner than the trunk.
        home_run_installation : Installation, optional
            How the home run is installed.
        home_run_ampacity_a : float, optional
            Current-carrying capacity of the home run as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        system_cable_length_m : float, optional
            Length of cable from the sub-board of several circuits to the distribution board, one way [m]; default 0.0 (the sub-
            board is beside the distribution board); at least 0 and at most 1,000.
        system_cable_size : str, optional
            Conductor of that cable; default: the smallest that the system's circuit breaker protects.
        system_cable_installation : Installation, optional
            How that cable is installed.
        system_cable_ampacity_a : float, optional
            Current-carrying capacity of that cable as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        supply_length_m : float, optional
            Length of cable from the distribution board to the connection point, one way; main_device_a protects it [m]; default
            0.0 (the connection point is at the distribution board); at least 0 and at most 1,000.
        supply_size : str, optional
            Conductor of the supply cable; default: the smallest that its device protects.
        supply_installation : Installation, optional
            How the supply cable is installed.
        supply_ampacity_a : float, optional
            Current-carrying capacity of the supply cable as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        busbar_rating_a : float, optional
            Rating of the distribution board: its busbar or main switch, whichever is lower [A]; at least 10 and at most 2,000.
        main_device_a : float, optional
            Rating of the main circuit breaker or fuse in front of the distribution board [A]; at least 10 and at most 2,000.
        existing_generation : sequence of ExistingGeneration, optional
            Generation and storage that is on the premises already; default [] (nothing else feeds in on the premises); 0 to 20
            items.
        export_limit_per_phase_a : float, optional
            Export limit of each phase that a limiter keeps [A]; at least 0 and at most 10,000.
        earthing : {"tn", "tt"}, optional
            Earthing of the supply: by the network (TN), or by an electrode of the house (TT); default "tn" (the more common of
            the two).
        residual_current_device_asked : bool, optional
            Whether the route of a cable or the maker of the microinverters asks for a residual-current device; default false
            (the request does not say that one is asked for).
        busbar_fed_at_opposite_end : bool, optional
            Whether the system feeds the busbar at the end opposite the main device, with the label there; only some codes ask;
            default false (the place of the feed is not known: the safe side).
        plug_in : bool, optional
            Whether the system is on a plug alone; default false (a fixed installation).
        units_coupled : bool, optional
            Whether single-phase units are coupled, so that they keep the phases balanced; default false (units that do not know
            of each other).
        supply_loop_impedance_ohm : float, optional
            Earth fault loop impedance of the supply at the board; disconnection in a fault is checked if given [ohm]; at least
            0.001 and at most 100.
        earth_electrode_ohm : float, optional
            Resistance of the house's earth electrode; checked if given [ohm]; at least 0.1 and at most 10,000.
        several_premises : bool, optional
            Whether other premises close by are being connected in the same weeks; default false (a single house).
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        region_rules : RegionRules, optional
            Rules of the caller's own region, in place of `region`.
        modules_per_unit : int, optional
            Modules on one microinverter; default 1 (a unit for one module); at least 1 and at most 8.
        unit_phase_count : int, optional
            Phases of one microinverter: 1, or 3 where it feeds all three; its current is that of each phase; default 1 (a
            single-phase unit); at least 1 and at most 3.
        no_dc_fault_current_declared : bool, optional
            Whether the microinverters' maker declares that no smooth DC fault current arises; default false (no declaration,
            which is the safe assumption).

        Returns
        -------
        CircuitsResult
        """
        answer: CircuitsResult = await self._perform(
            CALLS["plan_circuits"].request(
                unit_ac_current_a=unit_ac_current_a,
                faces=faces,
                phase_count=phase_count,
                device_rating_a=device_rating_a,
                continuous_current_factor=continuous_current_factor,
                branch_device_max_a=branch_device_max_a,
                units_per_trunk_max=units_per_trunk_max,
                trunk_phase_count=trunk_phase_count,
                circuits_may_cross_faces=circuits_may_cross_faces,
                face_crossing_m=face_crossing_m,
                trunk_feed=trunk_feed,
                voltage_v=voltage_v,
                voltage_rise_limit_share=voltage_rise_limit_share,
                conductor_table=conductor_table,
                conductor_temp_c=conductor_temp_c,
                trunk_size=trunk_size,
                trunk_installation=trunk_installation,
                trunk_ampacity_a=trunk_ampacity_a,
                home_run_length_m=home_run_length_m,
                home_run_size=home_run_size,
                home_run_installation=home_run_installation,
                home_run_ampacity_a=home_run_ampacity_a,
                system_cable_length_m=system_cable_length_m,
                system_cable_size=system_cable_size,
                system_cable_installation=system_cable_installation,
                system_cable_ampacity_a=system_cable_ampacity_a,
                supply_length_m=supply_length_m,
                supply_size=supply_size,
                supply_installation=supply_installation,
                supply_ampacity_a=supply_ampacity_a,
                busbar_rating_a=busbar_rating_a,
                main_device_a=main_device_a,
                existing_generation=existing_generation,
                export_limit_per_phase_a=export_limit_per_phase_a,
                earthing=earthing,
                residual_current_device_asked=residual_current_device_asked,
                busbar_fed_at_opposite_end=busbar_fed_at_opposite_end,
                plug_in=plug_in,
                units_coupled=units_coupled,
                supply_loop_impedance_ohm=supply_loop_impedance_ohm,
                earth_electrode_ohm=earth_electrode_ohm,
                several_premises=several_premises,
                region=region,
                region_rules=region_rules,
                modules_per_unit=modules_per_unit,
                unit_phase_count=unit_phase_count,
                no_dc_fault_current_declared=no_dc_fault_current_declared,
            )
        )
        return answer

    async def list_materials(
        self,
        *,
        unit_ac_current_a: float,
        faces: Sequence[FaceCount | Fields],
        module_mass_kg: float,
        unit_mass_kg: float,
        phase_count: int | None = None,
        device_rating_a: float | None = None,
        continuous_current_factor: float | None = None,
        branch_device_max_a: float | None = None,
        units_per_trunk_max: int | None = None,
        trunk_phase_count: int | None = None,
        circuits_may_cross_faces: bool | None = None,
        face_crossing_m: float | None = None,
        trunk_feed: Literal["end", "centre"] | None = None,
        voltage_v: float | None = None,
        voltage_rise_limit_share: float | None = None,
        conductor_table: Literal[
            "iec_60228_class_2", "iec_60228_class_5", "nec_chapter_9_table_8_solid", "nec_chapter_9_table_8_stranded"
        ]
        | None = None,
        conductor_temp_c: float | None = None,
        trunk_size: str | None = None,
        trunk_installation: Installation | Fields | None = None,
        trunk_ampacity_a: float | None = None,
        home_run_length_m: float | None = None,
        home_run_size: str | None = None,
        home_run_installation: Installation | Fields | None = None,
        home_run_ampacity_a: float | None = None,
        system_cable_length_m: float | None = None,
        system_cable_size: str | None = None,
        system_cable_installation: Installation | Fields | None = None,
        system_cable_ampacity_a: float | None = None,
        supply_length_m: float | None = None,
        supply_size: str | None = None,
        supply_installation: Installation | Fields | None = None,
        supply_ampacity_a: float | None = None,
        busbar_rating_a: float | None = None,
        main_device_a: float | None = None,
        existing_generation: Sequence[ExistingGeneration | Fields] | None = None,
        export_limit_per_phase_a: float | None = None,
        earthing: Literal["tn", "tt"] | None = None,
        residual_current_device_asked: bool | None = None,
        busbar_fed_at_opposite_end: bool | None = None,
        plug_in: bool | None = None,
        units_coupled: bool | None = None,
        supply_loop_impedance_ohm: float | None = None,
        earth_electrode_ohm: float | None = None,
        several_premises: bool | None = None,
        region: str | None = None,
        region_rules: RegionRules | Fields | None = None,
        modules_per_unit: int | None = None,
        unit_phase_count: int | None = None,
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        gateway_units_max: int | None = None,
        spare_drops_per_circuit: int | None = None,
        no_dc_fault_current_declared: bool | None = None,
        current_transformer_secondary_a: float | None = None,
        mounting_system: MountingSystem | Fields | None = None,
        trunk_system: TrunkSystem | Fields | None = None,
        cable_allowance_share: float | None = None,
        surge_protection: bool | None = None,
        generation_meter: bool | None = None,
        spare_share: float | None = None,
        failure_percent_per_year: float | None = None,
        spare_horizon_years: int | None = None,
        spare_warranty_years: int | None = None,
        backup: Backup | Fields | None = None,
        unit_bracket_mass_kg: float | None = None,
        mounting_mass_per_module_kg: float | None = None,
        dead_load_guide_kg_m2: float | None = None,
        module_length_m: float | None = None,
        module_width_m: float | None = None,
        module_area_m2: float | None = None,
        price_book: PriceBook | Fields | None = None,
    ) -> BillOfMaterialsResult:
        """Parts to order, branch circuits, masses and prices, from counts.

        Takes the modules on each face, the microinverter's current, and what mounting and trunk are made as. Gives the
        branch circuits, every part with its quantity and the derivation of the quantity, the documents that the region
        requires, the dead load of each face, and with the caller's price book net, tax, total and margin in decimals.
        Circuits do not cross from one face to another unless circuits_may_cross_faces allows it. Send `Accept: text/csv`
        for the lines as CSV (RFC 4180); their order is always the same. The call has no side effects and may be repeated.

        Parameters
        ----------
        unit_ac_current_a : float
            Rated AC current of one microinverter [A]; at least 0.1 and at most 30.
        faces : sequence of FaceCount
            The faces of the roof, in the order of the trunk; 1 to 16 items.
        module_mass_kg : float
            Mass of one module [kg]; at least 0.5 and at most 80.
        unit_mass_kg : float
            Mass of one microinverter [kg]; at least 0.1 and at most 50.
        phase_count : int, optional
            Phases of the supply over which the units are distributed; default 1 (a single-phase supply); at least 1 and at most
            3.
        device_rating_a : float, optional
            Rating of a branch circuit's circuit breaker or fuse [A]; if left out: the region's rules; at least 1 and at most
            125.
        continuous_current_factor : float, optional
            Factor on the continuous current of a branch circuit; not below the region's where that is code; if left out: the
            region's rules; at least 1 and at most 2.
        branch_device_max_a : float, optional
            Largest circuit breaker that microinverters and trunk allow, from their datasheets; asked for above 20 A [A]; at
            least 1 and at most 125.
        units_per_trunk_max : int, optional
            Most microinverters on one trunk cable, according to its maker; at least 1 and at most 100.
        trunk_phase_count : int, optional
            Phases of a trunk: 1, or those of the supply behind one device with a pole for each; default 1 (single-phase
            trunks); at least 1 and at most 3.
        circuits_may_cross_faces : bool, optional
            Whether a circuit may serve several faces; default false (no trunk crosses the ridge).
        face_crossing_m : float, optional
            Length of trunk cable from the last unit of one face to the first of the next [m]; default 3.0 (common practice, no
            source); at least 0 and at most 100.
        trunk_feed : {"end", "centre"}, optional
            Where the home run is connected to a trunk; default "end" (the simpler of the two).
        voltage_v : float, optional
            Nominal voltage of a unit's circuit [V]; if left out: the region's rules; at least 100 and at most 480.
        voltage_rise_limit_share : float, optional
            Limit on the voltage rise as a share of the nominal voltage; if left out: the region's rules; above 0 and at most
            0.2.
        conductor_table : str, one of the words of its type, optional
            Table of standard copper conductors; if left out: the region's rules.
        conductor_temp_c : float, optional
            Operating temperature of the conductors [degC]; default 70.0 (common practice, no source); at least 20 and at most
            120.
        trunk_size : str, optional
            Conductor of the trunk, as its table writes it: "2.5 mm2", "12 AWG"; if left out: the second thinnest of the table,
            or the next that its circuit breaker protects, common practice, no source.
        trunk_installation : Installation, optional
            How the trunk is installed.
        trunk_ampacity_a : float, optional
            Current-carrying capacity of the trunk as installed, declared by its maker; without it a table's is used [A]; at
            least 1 and at most 2,000.
        home_run_length_m : float, optional
            Length of cable from a trunk to the distribution board, one way [m]; default 0.0 (no home run was given: voltage
            rise and bill leave it out); at least 0 and at most 1,000.
        home_run_size : str, optional
            Conductor of the home run; default: the smallest that its circuit breaker protects and that meets the voltage-rise
            limit, not thinner than the trunk.
        home_run_installation : Installation, optional
            How the home run is installed.
        home_run_ampacity_a : float, optional
            Current-carrying capacity of the home run as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        system_cable_length_m : float, optional
            Length of cable from the sub-board of several circuits to the distribution board, one way [m]; default 0.0 (the sub-
            board is beside the distribution board); at least 0 and at most 1,000.
        system_cable_size : str, optional
            Conductor of that cable; default: the smallest that the system's circuit breaker protects.
        system_cable_installation : Installation, optional
            How that cable is installed.
        system_cable_ampacity_a : float, optional
            Current-carrying capacity of that cable as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        supply_length_m : float, optional
            Length of cable from the distribution board to the connection point, one way; main_device_a protects it [m]; default
            0.0 (the connection point is at the distribution board); at least 0 and at most 1,000.
        supply_size : str, optional
            Conductor of the supply cable; default: the smallest that its device protects.
        supply_installation : Installation, optional
            How the supply cable is installed.
        supply_ampacity_a : float, optional
            Current-carrying capacity of the supply cable as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        busbar_rating_a : float, optional
            Rating of the distribution board: its busbar or main switch, whichever is lower [A]; at least 10 and at most 2,000.
        main_device_a : float, optional
            Rating of the main circuit breaker or fuse in front of the distribution board [A]; at least 10 and at most 2,000.
        existing_generation : sequence of ExistingGeneration, optional
            Generation and storage that is on the premises already; default [] (nothing else feeds in on the premises); 0 to 20
            items.
        export_limit_per_phase_a : float, optional
            Export limit of each phase that a limiter keeps [A]; at least 0 and at most 10,000.
        earthing : {"tn", "tt"}, optional
            Earthing of the supply: by the network (TN), or by an electrode of the house (TT); default "tn" (the more common of
            the two).
        residual_current_device_asked : bool, optional
            Whether the route of a cable or the maker of the microinverters asks for a residual-current device; default false
            (the request does not say that one is asked for).
        busbar_fed_at_opposite_end : bool, optional
            Whether the system feeds the busbar at the end opposite the main device, with the label there; only some codes ask;
            default false (the place of the feed is not known: the safe side).
        plug_in : bool, optional
            Whether the system is on a plug alone; default false (a fixed installation).
        units_coupled : bool, optional
            Whether single-phase units are coupled, so that they keep the phases balanced; default false (units that do not know
            of each other).
        supply_loop_impedance_ohm : float, optional
            Earth fault loop impedance of the supply at the board; disconnection in a fault is checked if given [ohm]; at least
            0.001 and at most 100.
        earth_electrode_ohm : float, optional
            Resistance of the house's earth electrode; checked if given [ohm]; at least 0.1 and at most 10,000.
        several_premises : bool, optional
            Whether other premises close by are being connected in the same weeks; default false (a single house).
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        region_rules : RegionRules, optional
            Rules of the caller's own region, in place of `region`.
        modules_per_unit : int, optional
            Modules on one microinverter; default 1 (a unit for one module); at least 1 and at most 8.
        unit_phase_count : int, optional
            Phases of one microinverter: 1, or 3 where it feeds all three; its current is that of each phase; default 1 (a
            single-phase unit); at least 1 and at most 3.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        gateway_units_max : int, optional
            Most microinverters on one communication gateway; default 49 (common practice, no source); at least 1 and at most
            1,000.
        spare_drops_per_circuit : int, optional
            Drops of each trunk that stay unused and are capped; default 0 (no drop stays unused); at least 0 and at most 100.
        no_dc_fault_current_declared : bool, optional
            Whether the microinverters' maker declares that no smooth DC fault current arises; default false (no declaration,
            which is the safe assumption).
        current_transformer_secondary_a : float, optional
            Rated secondary current of the current transformers [A]; default 5.0 (common practice, no source); at least 0.01 and
            at most 5.
        mounting_system : MountingSystem, optional
            The mounting system as its maker sells it; default: an invented one.
        trunk_system : TrunkSystem, optional
            The trunk as its maker sells it; default: an invented one.
        cable_allowance_share : float, optional
            Cable ordered beyond its length, as a share of it, for the way around corners and into boxes; default 0.1 (common
            practice, no source); at least 0 and at most 1.
        surge_protection : bool, optional
            Whether a surge protective device, AC, type 2, goes to the board; false where there is one already; if left out: the
            region's rules.
        generation_meter : bool, optional
            Whether a meter of the generation is ordered; if left out: the region's rules.
        spare_share : float, optional
            Spare microinverters as a share of those installed, 0 to 1; default: the whole failures expected after the warranty;
            at least 0 and at most 1.
        failure_percent_per_year : float, optional
            Share of the microinverters that fails each year [%]; default 0.1 (geometric mean of 0.02 to 0.5 % a year: no
            independent failure rate is published); at least 0 and at most 20.
        spare_horizon_years : int, optional
            Years that the spares must last for; default 25 (common practice, no source); at least 0 and at most 50.
        spare_warranty_years : int, optional
            Years in which the maker replaces a microinverter that fails, so that it needs no spare; default 10 (common
            practice, no source); at least 0 and at most 40.
        backup : Backup, optional
            Output in an outage; default: none.
        unit_bracket_mass_kg : float, optional
            Mass of a microinverter's bracket [kg]; default 0.0 (the mass of unit or mounting includes the bracket); at least 0
            and at most 20.
        mounting_mass_per_module_kg : float, optional
            Mass of rails, clamps and hooks for one module [kg]; default 3.0 (common practice, no source); at least 0 and at
            most 50.
        dead_load_guide_kg_m2 : float, optional
            Guide value of the dead load [kg/m2]; default 15.0 (usual dead load 10-15 kg/m2, from memory; a city form allows
            19.5 kg/m2 (4 psf)); above 0 and at most 1,000.
        module_length_m : float, optional
            Long side of a module, for rows and rails [m]; default 1.76 (a common size of module, common practice, no source);
            at least 0.2 and at most 3.
        module_width_m : float, optional
            Short side of a module, for rows and rails [m]; default 1.13 (a common size of module, common practice, no source);
            at least 0.2 and at most 3.
        module_area_m2 : float, optional
            Area of one module, for the dead load [m2]; at least 0.04 and at most 6.
        price_book : PriceBook, optional
            The caller's prices; if left out, the result has none.

        Returns
        -------
        BillOfMaterialsResult
        """
        answer: BillOfMaterialsResult = await self._perform(
            CALLS["list_materials"].request(
                unit_ac_current_a=unit_ac_current_a,
                faces=faces,
                module_mass_kg=module_mass_kg,
                unit_mass_kg=unit_mass_kg,
                phase_count=phase_count,
                device_rating_a=device_rating_a,
                continuous_current_factor=continuous_current_factor,
                branch_device_max_a=branch_device_max_a,
                units_per_trunk_max=units_per_trunk_max,
                trunk_phase_count=trunk_phase_count,
                circuits_may_cross_faces=circuits_may_cross_faces,
                face_crossing_m=face_crossing_m,
                trunk_feed=trunk_feed,
                voltage_v=voltage_v,
                voltage_rise_limit_share=voltage_rise_limit_share,
                conductor_table=conductor_table,
                conductor_temp_c=conductor_temp_c,
                trunk_size=trunk_size,
                trunk_installation=trunk_installation,
                trunk_ampacity_a=trunk_ampacity_a,
                home_run_length_m=home_run_length_m,
                home_run_size=home_run_size,
                home_run_installation=home_run_installation,
                home_run_ampacity_a=home_run_ampacity_a,
                system_cable_length_m=system_cable_length_m,
                system_cable_size=system_cable_size,
                system_cable_installation=system_cable_installation,
                system_cable_ampacity_a=system_cable_ampacity_a,
                supply_length_m=supply_length_m,
                supply_size=supply_size,
                supply_installation=supply_installation,
                supply_ampacity_a=supply_ampacity_a,
                busbar_rating_a=busbar_rating_a,
                main_device_a=main_device_a,
                existing_generation=existing_generation,
                export_limit_per_phase_a=export_limit_per_phase_a,
                earthing=earthing,
                residual_current_device_asked=residual_current_device_asked,
                busbar_fed_at_opposite_end=busbar_fed_at_opposite_end,
                plug_in=plug_in,
                units_coupled=units_coupled,
                supply_loop_impedance_ohm=supply_loop_impedance_ohm,
                earth_electrode_ohm=earth_electrode_ohm,
                several_premises=several_premises,
                region=region,
                region_rules=region_rules,
                modules_per_unit=modules_per_unit,
                unit_phase_count=unit_phase_count,
                modules_per_input=modules_per_input,
                wiring=wiring,
                gateway_units_max=gateway_units_max,
                spare_drops_per_circuit=spare_drops_per_circuit,
                no_dc_fault_current_declared=no_dc_fault_current_declared,
                current_transformer_secondary_a=current_transformer_secondary_a,
                mounting_system=mounting_system,
                trunk_system=trunk_system,
                cable_allowance_share=cable_allowance_share,
                surge_protection=surge_protection,
                generation_meter=generation_meter,
                spare_share=spare_share,
                failure_percent_per_year=failure_percent_per_year,
                spare_horizon_years=spare_horizon_years,
                spare_warranty_years=spare_warranty_years,
                backup=backup,
                unit_bracket_mass_kg=unit_bracket_mass_kg,
                mounting_mass_per_module_kg=mounting_mass_per_module_kg,
                dead_load_guide_kg_m2=dead_load_guide_kg_m2,
                module_length_m=module_length_m,
                module_width_m=module_width_m,
                module_area_m2=module_area_m2,
                price_book=price_book,
            )
        )
        return answer

    async def materials_csv(
        self,
        *,
        unit_ac_current_a: float,
        faces: Sequence[FaceCount | Fields],
        module_mass_kg: float,
        unit_mass_kg: float,
        phase_count: int | None = None,
        device_rating_a: float | None = None,
        continuous_current_factor: float | None = None,
        branch_device_max_a: float | None = None,
        units_per_trunk_max: int | None = None,
        trunk_phase_count: int | None = None,
        circuits_may_cross_faces: bool | None = None,
        face_crossing_m: float | None = None,
        trunk_feed: Literal["end", "centre"] | None = None,
        voltage_v: float | None = None,
        voltage_rise_limit_share: float | None = None,
        conductor_table: Literal[
            "iec_60228_class_2", "iec_60228_class_5", "nec_chapter_9_table_8_solid", "nec_chapter_9_table_8_stranded"
        ]
        | None = None,
        conductor_temp_c: float | None = None,
        trunk_size: str | None = None,
        trunk_installation: Installation | Fields | None = None,
        trunk_ampacity_a: float | None = None,
        home_run_length_m: float | None = None,
        home_run_size: str | None = None,
        home_run_installation: Installation | Fields | None = None,
        home_run_ampacity_a: float | None = None,
        system_cable_length_m: float | None = None,
        system_cable_size: str | None = None,
        system_cable_installation: Installation | Fields | None = None,
        system_cable_ampacity_a: float | None = None,
        supply_length_m: float | None = None,
        supply_size: str | None = None,
        supply_installation: Installation | Fields | None = None,
        supply_ampacity_a: float | None = None,
        busbar_rating_a: float | None = None,
        main_device_a: float | None = None,
        existing_generation: Sequence[ExistingGeneration | Fields] | None = None,
        export_limit_per_phase_a: float | None = None,
        earthing: Literal["tn", "tt"] | None = None,
        residual_current_device_asked: bool | None = None,
        busbar_fed_at_opposite_end: bool | None = None,
        plug_in: bool | None = None,
        units_coupled: bool | None = None,
        supply_loop_impedance_ohm: float | None = None,
        earth_electrode_ohm: float | None = None,
        several_premises: bool | None = None,
        region: str | None = None,
        region_rules: RegionRules | Fields | None = None,
        modules_per_unit: int | None = None,
        unit_phase_count: int | None = None,
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        gateway_units_max: int | None = None,
        spare_drops_per_circuit: int | None = None,
        no_dc_fault_current_declared: bool | None = None,
        current_transformer_secondary_a: float | None = None,
        mounting_system: MountingSystem | Fields | None = None,
        trunk_system: TrunkSystem | Fields | None = None,
        cable_allowance_share: float | None = None,
        surge_protection: bool | None = None,
        generation_meter: bool | None = None,
        spare_share: float | None = None,
        failure_percent_per_year: float | None = None,
        spare_horizon_years: int | None = None,
        spare_warranty_years: int | None = None,
        backup: Backup | Fields | None = None,
        unit_bracket_mass_kg: float | None = None,
        mounting_mass_per_module_kg: float | None = None,
        dead_load_guide_kg_m2: float | None = None,
        module_length_m: float | None = None,
        module_width_m: float | None = None,
        module_area_m2: float | None = None,
        price_book: PriceBook | Fields | None = None,
    ) -> Document:
        """The bill's lines with their prices, RFC 4180.

        Takes the modules on each face, the microinverter's current, and what mounting and trunk are made as. Gives the
        branch circuits, every part with its quantity and the derivation of the quantity, the documents that the region
        requires, the dead load of each face, and with the caller's price book net, tax, total and margin in decimals.
        Circuits do not cross from one face to another unless circuits_may_cross_faces allows it. Send `Accept: text/csv`
        for the lines as CSV (RFC 4180); their order is always the same. The call has no side effects and may be repeated.

        Parameters
        ----------
        unit_ac_current_a : float
            Rated AC current of one microinverter [A]; at least 0.1 and at most 30.
        faces : sequence of FaceCount
            The faces of the roof, in the order of the trunk; 1 to 16 items.
        module_mass_kg : float
            Mass of one module [kg]; at least 0.5 and at most 80.
        unit_mass_kg : float
            Mass of one microinverter [kg]; at least 0.1 and at most 50.
        phase_count : int, optional
            Phases of the supply over which the units are distributed; default 1 (a single-phase supply); at least 1 and at most
            3.
        device_rating_a : float, optional
            Rating of a branch circuit's circuit breaker or fuse [A]; if left out: the region's rules; at least 1 and at most
            125.
        continuous_current_factor : float, optional
            Factor on the continuous current of a branch circuit; not below the region's where that is code; if left out: the
            region's rules; at least 1 and at most 2.
        branch_device_max_a : float, optional
            Largest circuit breaker that microinverters and trunk allow, from their datasheets; asked for above 20 A [A]; at
            least 1 and at most 125.
        units_per_trunk_max : int, optional
            Most microinverters on one trunk cable, according to its maker; at least 1 and at most 100.
        trunk_phase_count : int, optional
            Phases of a trunk: 1, or those of the supply behind one device with a pole for each; default 1 (single-phase
            trunks); at least 1 and at most 3.
        circuits_may_cross_faces : bool, optional
            Whether a circuit may serve several faces; default false (no trunk crosses the ridge).
        face_crossing_m : float, optional
            Length of trunk cable from the last unit of one face to the first of the next [m]; default 3.0 (common practice, no
            source); at least 0 and at most 100.
        trunk_feed : {"end", "centre"}, optional
            Where the home run is connected to a trunk; default "end" (the simpler of the two).
        voltage_v : float, optional
            Nominal voltage of a unit's circuit [V]; if left out: the region's rules; at least 100 and at most 480.
        voltage_rise_limit_share : float, optional
            Limit on the voltage rise as a share of the nominal voltage; if left out: the region's rules; above 0 and at most
            0.2.
        conductor_table : str, one of the words of its type, optional
            Table of standard copper conductors; if left out: the region's rules.
        conductor_temp_c : float, optional
            Operating temperature of the conductors [degC]; default 70.0 (common practice, no source); at least 20 and at most
            120.
        trunk_size : str, optional
            Conductor of the trunk, as its table writes it: "2.5 mm2", "12 AWG"; if left out: the second thinnest of the table,
            or the next that its circuit breaker protects, common practice, no source.
        trunk_installation : Installation, optional
            How the trunk is installed.
        trunk_ampacity_a : float, optional
            Current-carrying capacity of the trunk as installed, declared by its maker; without it a table's is used [A]; at
            least 1 and at most 2,000.
        home_run_length_m : float, optional
            Length of cable from a trunk to the distribution board, one way [m]; default 0.0 (no home run was given: voltage
            rise and bill leave it out); at least 0 and at most 1,000.
        home_run_size : str, optional
            Conductor of the home run; default: the smallest that its circuit breaker protects and that meets the voltage-rise
            limit, not thinner than the trunk.
        home_run_installation : Installation, optional
            How the home run is installed.
        home_run_ampacity_a : float, optional
            Current-carrying capacity of the home run as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        system_cable_length_m : float, optional
            Length of cable from the sub-board of several circuits to the distribution board, one way [m]; default 0.0 (the sub-
            board is beside the distribution board); at least 0 and at most 1,000.
        system_cable_size : str, optional
            Conductor of that cable; default: the smallest that the system's circuit breaker protects.
        system_cable_installation : Installation, optional
            How that cable is installed.
        system_cable_ampacity_a : float, optional
            Current-carrying capacity of that cable as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        supply_length_m : float, optional
            Length of cable from the distribution board to the connection point, one way; main_device_a protects it [m]; default
            0.0 (the connection point is at the distribution board); at least 0 and at most 1,000.
        supply_size : str, optional
            Conductor of the supply cable; default: the smallest that its device protects.
        supply_installation : Installation, optional
            How the supply cable is installed.
        supply_ampacity_a : float, optional
            Current-carrying capacity of the supply cable as installed; without it a table's is used [A]; at least 1 and at most
            2,000.
        busbar_rating_a : float, optional
            Rating of the distribution board: its busbar or main switch, whichever is lower [A]; at least 10 and at most 2,000.
        main_device_a : float, optional
            Rating of the main circuit breaker or fuse in front of the distribution board [A]; at least 10 and at most 2,000.
        existing_generation : sequence of ExistingGeneration, optional
            Generation and storage that is on the premises already; default [] (nothing else feeds in on the premises); 0 to 20
            items.
        export_limit_per_phase_a : float, optional
            Export limit of each phase that a limiter keeps [A]; at least 0 and at most 10,000.
        earthing : {"tn", "tt"}, optional
            Earthing of the supply: by the network (TN), or by an electrode of the house (TT); default "tn" (the more common of
            the two).
        residual_current_device_asked : bool, optional
            Whether the route of a cable or the maker of the microinverters asks for a residual-current device; default false
            (the request does not say that one is asked for).
        busbar_fed_at_opposite_end : bool, optional
            Whether the system feeds the busbar at the end opposite the main device, with the label there; only some codes ask;
            default false (the place of the feed is not known: the safe side).
        plug_in : bool, optional
            Whether the system is on a plug alone; default false (a fixed installation).
        units_coupled : bool, optional
            Whether single-phase units are coupled, so that they keep the phases balanced; default false (units that do not know
            of each other).
        supply_loop_impedance_ohm : float, optional
            Earth fault loop impedance of the supply at the board; disconnection in a fault is checked if given [ohm]; at least
            0.001 and at most 100.
        earth_electrode_ohm : float, optional
            Resistance of the house's earth electrode; checked if given [ohm]; at least 0.1 and at most 10,000.
        several_premises : bool, optional
            Whether other premises close by are being connected in the same weeks; default false (a single house).
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        region_rules : RegionRules, optional
            Rules of the caller's own region, in place of `region`.
        modules_per_unit : int, optional
            Modules on one microinverter; default 1 (a unit for one module); at least 1 and at most 8.
        unit_phase_count : int, optional
            Phases of one microinverter: 1, or 3 where it feeds all three; its current is that of each phase; default 1 (a
            single-phase unit); at least 1 and at most 3.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        gateway_units_max : int, optional
            Most microinverters on one communication gateway; default 49 (common practice, no source); at least 1 and at most
            1,000.
        spare_drops_per_circuit : int, optional
            Drops of each trunk that stay unused and are capped; default 0 (no drop stays unused); at least 0 and at most 100.
        no_dc_fault_current_declared : bool, optional
            Whether the microinverters' maker declares that no smooth DC fault current arises; default false (no declaration,
            which is the safe assumption).
        current_transformer_secondary_a : float, optional
            Rated secondary current of the current transformers [A]; default 5.0 (common practice, no source); at least 0.01 and
            at most 5.
        mounting_system : MountingSystem, optional
            The mounting system as its maker sells it; default: an invented one.
        trunk_system : TrunkSystem, optional
            The trunk as its maker sells it; default: an invented one.
        cable_allowance_share : float, optional
            Cable ordered beyond its length, as a share of it, for the way around corners and into boxes; default 0.1 (common
            practice, no source); at least 0 and at most 1.
        surge_protection : bool, optional
            Whether a surge protective device, AC, type 2, goes to the board; false where there is one already; if left out: the
            region's rules.
        generation_meter : bool, optional
            Whether a meter of the generation is ordered; if left out: the region's rules.
        spare_share : float, optional
            Spare microinverters as a share of those installed, 0 to 1; default: the whole failures expected after the warranty;
            at least 0 and at most 1.
        failure_percent_per_year : float, optional
            Share of the microinverters that fails each year [%]; default 0.1 (geometric mean of 0.02 to 0.5 % a year: no
            independent failure rate is published); at least 0 and at most 20.
        spare_horizon_years : int, optional
            Years that the spares must last for; default 25 (common practice, no source); at least 0 and at most 50.
        spare_warranty_years : int, optional
            Years in which the maker replaces a microinverter that fails, so that it needs no spare; default 10 (common
            practice, no source); at least 0 and at most 40.
        backup : Backup, optional
            Output in an outage; default: none.
        unit_bracket_mass_kg : float, optional
            Mass of a microinverter's bracket [kg]; default 0.0 (the mass of unit or mounting includes the bracket); at least 0
            and at most 20.
        mounting_mass_per_module_kg : float, optional
            Mass of rails, clamps and hooks for one module [kg]; default 3.0 (common practice, no source); at least 0 and at
            most 50.
        dead_load_guide_kg_m2 : float, optional
            Guide value of the dead load [kg/m2]; default 15.0 (usual dead load 10-15 kg/m2, from memory; a city form allows
            19.5 kg/m2 (4 psf)); above 0 and at most 1,000.
        module_length_m : float, optional
            Long side of a module, for rows and rails [m]; default 1.76 (a common size of module, common practice, no source);
            at least 0.2 and at most 3.
        module_width_m : float, optional
            Short side of a module, for rows and rails [m]; default 1.13 (a common size of module, common practice, no source);
            at least 0.2 and at most 3.
        module_area_m2 : float, optional
            Area of one module, for the dead load [m2]; at least 0.04 and at most 6.
        price_book : PriceBook, optional
            The caller's prices; if left out, the result has none.

        Returns
        -------
        Document
        """
        answer: Document = await self._perform(
            CALLS["materials_csv"].request(
                unit_ac_current_a=unit_ac_current_a,
                faces=faces,
                module_mass_kg=module_mass_kg,
                unit_mass_kg=unit_mass_kg,
                phase_count=phase_count,
                device_rating_a=device_rating_a,
                continuous_current_factor=continuous_current_factor,
                branch_device_max_a=branch_device_max_a,
                units_per_trunk_max=units_per_trunk_max,
                trunk_phase_count=trunk_phase_count,
                circuits_may_cross_faces=circuits_may_cross_faces,
                face_crossing_m=face_crossing_m,
                trunk_feed=trunk_feed,
                voltage_v=voltage_v,
                voltage_rise_limit_share=voltage_rise_limit_share,
                conductor_table=conductor_table,
                conductor_temp_c=conductor_temp_c,
                trunk_size=trunk_size,
                trunk_installation=trunk_installation,
                trunk_ampacity_a=trunk_ampacity_a,
                home_run_length_m=home_run_length_m,
                home_run_size=home_run_size,
                home_run_installation=home_run_installation,
                home_run_ampacity_a=home_run_ampacity_a,
                system_cable_length_m=system_cable_length_m,
                system_cable_size=system_cable_size,
                system_cable_installation=system_cable_installation,
                system_cable_ampacity_a=system_cable_ampacity_a,
                supply_length_m=supply_length_m,
                supply_size=supply_size,
                supply_installation=supply_installation,
                supply_ampacity_a=supply_ampacity_a,
                busbar_rating_a=busbar_rating_a,
                main_device_a=main_device_a,
                existing_generation=existing_generation,
                export_limit_per_phase_a=export_limit_per_phase_a,
                earthing=earthing,
                residual_current_device_asked=residual_current_device_asked,
                busbar_fed_at_opposite_end=busbar_fed_at_opposite_end,
                plug_in=plug_in,
                units_coupled=units_coupled,
                supply_loop_impedance_ohm=supply_loop_impedance_ohm,
                earth_electrode_ohm=earth_electrode_ohm,
                several_premises=several_premises,
                region=region,
                region_rules=region_rules,
                modules_per_unit=modules_per_unit,
                unit_phase_count=unit_phase_count,
                modules_per_input=modules_per_input,
                wiring=wiring,
                gateway_units_max=gateway_units_max,
                spare_drops_per_circuit=spare_drops_per_circuit,
                no_dc_fault_current_declared=no_dc_fault_current_declared,
                current_transformer_secondary_a=current_transformer_secondary_a,
                mounting_system=mounting_system,
                trunk_system=trunk_system,
                cable_allowance_share=cable_allowance_share,
                surge_protection=surge_protection,
                generation_meter=generation_meter,
                spare_share=spare_share,
                failure_percent_per_year=failure_percent_per_year,
                spare_horizon_years=spare_horizon_years,
                spare_warranty_years=spare_warranty_years,
                backup=backup,
                unit_bracket_mass_kg=unit_bracket_mass_kg,
                mounting_mass_per_module_kg=mounting_mass_per_module_kg,
                dead_load_guide_kg_m2=dead_load_guide_kg_m2,
                module_length_m=module_length_m,
                module_width_m=module_width_m,
                module_area_m2=module_area_m2,
                price_book=price_book,
            )
        )
        return answer

    async def design_roof(
        self,
        *,
        site: Site | Fields,
        modules: Sequence[ModuleOffer | Fields],
        candidates: Sequence[Candidate | Fields],
        faces: Sequence[DesignFace | Fields],
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        region: str | None = None,
        surroundings: Surroundings | Fields | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
        currency: str | None = None,
        tariff: Tariff | Fields | None = None,
        share_used_at_home: float | None = None,
        load_w: Numbers | None = None,
        export_limit_w: float | None = None,
        first_weekday: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] | None = None,
        home_utc_offset_h: float | None = None,
        discount_rate_percent: float | None = None,
        horizon_years: int | None = None,
        degradation_percent_per_year: float | None = None,
        failure_percent_per_year: float | None = None,
        labour_per_visit: float | None = None,
        maintenance_per_year: float | None = None,
        other_cost: float | None = None,
        second_kind_cost: float | None = None,
        mismatch_loss_share: float | None = None,
        snow_loss_share: float | None = None,
        downtime_share: float | None = None,
        ac_cable_loss_share: float | None = None,
        string_inverters: Sequence[StringInverterOffer | Fields] | None = None,
        repair_days: float | None = None,
        break_even_pairs: Literal["every", "recommended"] | None = None,
        region_rules: RegionRules | Fields | None = None,
        build: Build | Fields | None = None,
        circuits: CircuitTerms | Fields | None = None,
        materials: DesignMaterialTerms | Fields | None = None,
        price_book: PriceBook | Fields | None = None,
        connection_costs: Sequence[ConnectionCost | Fields] | None = None,
        sheet: Sheet | Fields | None = None,
    ) -> DesignResult:
        """Complete design of one roof: climate, layout, checks, energy, selection, circuits, bill and prices.

        Gives the results of all other operations in one call. Each part equals the result of its own operation for the same
        input, except that `assumptions`, `cautions` and `method` of all parts are at the top and are empty in each part. A
        face has a number of modules, or a size from which the layout counts them. Circuits and bill are for the recommended
        pairing or for the one that `build` names; `built` says which and why. Every candidate is ranked with its own
        circuits, parts and grid connection; the first is the best that can be built. Circuits and bill are for one kind: a
        mixed choice is only advice in `selection`. If no pairing passes its electrical checks, or no circuit is possible
        for the pairing, the result says so, and the parts that need a pairing are null. Send `Accept: text/html` for the
        sheet for customer and installer as one self-contained file, or `application/pdf` for the same as PDF; `sheet` sets
        its letterhead, language, paper and parts. Send `Accept: text/csv` for the lines of the order as CSV (RFC 4180). A
        language that is not offered gives 406, for JSON too. The call has no side effects and may be repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        modules : sequence of ModuleOffer
            The modules to compare, each on every face; 1 to 8 items.
        candidates : sequence of Candidate
            The microinverters on offer; 1 to 64 items.
        faces : sequence of DesignFace
            The faces of the roof, in the order of the trunk; 1 to 16 items.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        surroundings : Surroundings, optional
            What stands around the building, for all faces.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).
        currency : str, optional
            Currency of every price of the request, ISO 4217, such as EUR; all currencies of a request must be the same; if left
            out: one currency for every price of the request.
        tariff : Tariff, optional
            Energy prices; if left out, candidates are ranked by energy.
        share_used_at_home : float, optional
            Share of the energy that is used at home, 0 to 1; or give load_w; if left out: 0.3 where load_w is not given either:
            common practice, no source; at least 0 and at most 1.
        load_w : sequence of float, optional
            Household load, the power drawn at home: every hour of a year from 1 January in standard time or, less exact, 12
            mean days from January or one mean day. With hourly weather each hour meets its own load, otherwise all loads of
            that hour in its month [W]; 24 to 8,784 items.
        export_limit_w : float, optional
            Export limit of the grid connection; if left out, none [W]; at least 0 and at most 10,000,000.
        first_weekday : {"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}, optional
            Weekday of 1 January in load_w; it counts where the tariff differs at weekends. If left out, monday.
        home_utc_offset_h : float, optional
            Offset from UTC of the site's standard time, which load_w and the tariff's bands are in; if left out, that of the
            region's rules where the country has one standard time, else that of the weather or, without hourly weather, the
            nearest whole hour to the longitude over 15 [h]; at least -14 and at most 14.
        discount_rate_percent : float, optional
            Discount rate [%]; default 3.0 (common practice, no source); at least -20 and at most 50.
        horizon_years : int, optional
            Years of the comparison; default 25 (common practice, no source); at least 1 and at most 40.
        degradation_percent_per_year : float, optional
            Power that the module loses from each year to the next, compounding [%]; default 0.5 (median of some 2000 rates,
            Jordan and Kurtz 2013, 10.1002/pip.1182); at least 0 and at most 5.
        failure_percent_per_year : float, optional
            Share of the units that fails each year; if left out, results show a band from 0.02 to 0.5 %, as no independent rate
            is published [%]; at least 0 and at most 20.
        labour_per_visit : float, optional
            Labour to replace one failed unit; default 0.0 (labour not given: replacements cost the unit alone); at least 0 and
            at most 1,000,000.
        maintenance_per_year : float, optional
            Maintenance of the roof in a year; default 0.0 (the same for every candidate); at least 0 and at most 1,000,000.
        other_cost : float, optional
            All other cost of the roof today: the work of building, and the balance of plant where the candidates have none; 0
            where other prices include it. If left out it counts as 0, and the whole system has no payback; at least 0 and at
            most 1,000,000.
        second_kind_cost : float, optional
            Cost of stocking a second kind of microinverter; default 0.0 (not given); at least 0 and at most 1,000,000.
        mismatch_loss_share : float, optional
            Share of the energy lost by modules on one input that differ, 0 to 1; if left out: 0 with each module on its own
            input, else 0.01: common practice, no source; at least 0 and below 1.
        snow_loss_share : float, optional
            Share of the energy lost by snow on the modules, 0 to 1; default 0.0 (no snow); at least 0 and below 1.
        downtime_share : float, optional
            Share of the energy lost by units or the network being out of service, 0 to 1; default 0.01 (an availability of 99%:
            common practice, no source); at least 0 and below 1.
        ac_cable_loss_share : float, optional
            Share of the energy lost by the cables from the units to the meter, 0 to 1; if left out: from the candidate's
            rated_cable_share, which a design computes, else 0.01: common practice, no source; at least 0 and below 1.
        string_inverters : sequence of StringInverterOffer, optional
            String inverters to compare with the recommended microinverter on the same roof; 0 to 8 items.
        repair_days : float, optional
            Days from a failure to its repair, for the comparison with string inverters [d]; default 14.0 (common practice, no
            source); at least 0 and at most 365.
        break_even_pairs : {"every", "recommended"}, optional
            Pairs to compute the break-even for: the recommended candidate with its neighbours by AC power, or every pair of
            neighbours; default "recommended" (the pairs that decide the choice; every pair takes longer).
        region_rules : RegionRules, optional
            Rules of the caller's own region, in place of `region` for circuits and grid connection, and for layouts where they
            have `access`; the electrical checks still use `region`.
        build : Build, optional
            The pairing for circuits and bill; default: the recommended one.
        circuits : CircuitTerms, optional
            Terms of circuits and grid connection; data of the microinverter come from its datasheet.
        materials : DesignMaterialTerms, optional
            Terms of the bill; data of module and microinverter come from their datasheets.
        price_book : PriceBook, optional
            The caller's prices; if left out, the result has none. For the roles module, microinverter and microinverter_spare,
            `specification` names the module or candidate of the part. A module or candidate without a price is ranked at the
            sales price of its part.
        connection_costs : sequence of ConnectionCost, optional
            Costs of grid connection procedures, for the ranking; one that is left out counts as 0, and a recommendation that it
            could turn is not called decided; default [] (not given); 0 to 20 items.
        sheet : Sheet, optional
            Letterhead, language, paper and parts of the sheet, for text/html and application/pdf.

        Returns
        -------
        DesignResult
        """
        answer: DesignResult = await self._perform(
            CALLS["design_roof"].request(
                site=site,
                modules=modules,
                candidates=candidates,
                faces=faces,
                modules_per_input=modules_per_input,
                wiring=wiring,
                weather=weather,
                region=region,
                surroundings=surroundings,
                transposition=transposition,
                currency=currency,
                tariff=tariff,
                share_used_at_home=share_used_at_home,
                load_w=load_w,
                export_limit_w=export_limit_w,
                first_weekday=first_weekday,
                home_utc_offset_h=home_utc_offset_h,
                discount_rate_percent=discount_rate_percent,
                horizon_years=horizon_years,
                degradation_percent_per_year=degradation_percent_per_year,
                failure_percent_per_year=failure_percent_per_year,
                labour_per_visit=labour_per_visit,
                maintenance_per_year=maintenance_per_year,
                other_cost=other_cost,
                second_kind_cost=second_kind_cost,
                mismatch_loss_share=mismatch_loss_share,
                snow_loss_share=snow_loss_share,
                downtime_share=downtime_share,
                ac_cable_loss_share=ac_cable_loss_share,
                string_inverters=string_inverters,
                repair_days=repair_days,
                break_even_pairs=break_even_pairs,
                region_rules=region_rules,
                build=build,
                circuits=circuits,
                materials=materials,
                price_book=price_book,
                connection_costs=connection_costs,
                sheet=sheet,
            )
        )
        return answer

    async def sheet_html(
        self,
        *,
        site: Site | Fields,
        modules: Sequence[ModuleOffer | Fields],
        candidates: Sequence[Candidate | Fields],
        faces: Sequence[DesignFace | Fields],
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        region: str | None = None,
        surroundings: Surroundings | Fields | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
        currency: str | None = None,
        tariff: Tariff | Fields | None = None,
        share_used_at_home: float | None = None,
        load_w: Numbers | None = None,
        export_limit_w: float | None = None,
        first_weekday: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] | None = None,
        home_utc_offset_h: float | None = None,
        discount_rate_percent: float | None = None,
        horizon_years: int | None = None,
        degradation_percent_per_year: float | None = None,
        failure_percent_per_year: float | None = None,
        labour_per_visit: float | None = None,
        maintenance_per_year: float | None = None,
        other_cost: float | None = None,
        second_kind_cost: float | None = None,
        mismatch_loss_share: float | None = None,
        snow_loss_share: float | None = None,
        downtime_share: float | None = None,
        ac_cable_loss_share: float | None = None,
        string_inverters: Sequence[StringInverterOffer | Fields] | None = None,
        repair_days: float | None = None,
        break_even_pairs: Literal["every", "recommended"] | None = None,
        region_rules: RegionRules | Fields | None = None,
        build: Build | Fields | None = None,
        circuits: CircuitTerms | Fields | None = None,
        materials: DesignMaterialTerms | Fields | None = None,
        price_book: PriceBook | Fields | None = None,
        connection_costs: Sequence[ConnectionCost | Fields] | None = None,
        sheet: Sheet | Fields | None = None,
    ) -> Document:
        """The sheet for customer and installer, in one file.

        Gives the results of all other operations in one call. Each part equals the result of its own operation for the same
        input, except that `assumptions`, `cautions` and `method` of all parts are at the top and are empty in each part. A
        face has a number of modules, or a size from which the layout counts them. Circuits and bill are for the recommended
        pairing or for the one that `build` names; `built` says which and why. Every candidate is ranked with its own
        circuits, parts and grid connection; the first is the best that can be built. Circuits and bill are for one kind: a
        mixed choice is only advice in `selection`. If no pairing passes its electrical checks, or no circuit is possible
        for the pairing, the result says so, and the parts that need a pairing are null. Send `Accept: text/html` for the
        sheet for customer and installer as one self-contained file, or `application/pdf` for the same as PDF; `sheet` sets
        its letterhead, language, paper and parts. Send `Accept: text/csv` for the lines of the order as CSV (RFC 4180). A
        language that is not offered gives 406, for JSON too. The call has no side effects and may be repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        modules : sequence of ModuleOffer
            The modules to compare, each on every face; 1 to 8 items.
        candidates : sequence of Candidate
            The microinverters on offer; 1 to 64 items.
        faces : sequence of DesignFace
            The faces of the roof, in the order of the trunk; 1 to 16 items.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        surroundings : Surroundings, optional
            What stands around the building, for all faces.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).
        currency : str, optional
            Currency of every price of the request, ISO 4217, such as EUR; all currencies of a request must be the same; if left
            out: one currency for every price of the request.
        tariff : Tariff, optional
            Energy prices; if left out, candidates are ranked by energy.
        share_used_at_home : float, optional
            Share of the energy that is used at home, 0 to 1; or give load_w; if left out: 0.3 where load_w is not given either:
            common practice, no source; at least 0 and at most 1.
        load_w : sequence of float, optional
            Household load, the power drawn at home: every hour of a year from 1 January in standard time or, less exact, 12
            mean days from January or one mean day. With hourly weather each hour meets its own load, otherwise all loads of
            that hour in its month [W]; 24 to 8,784 items.
        export_limit_w : float, optional
            Export limit of the grid connection; if left out, none [W]; at least 0 and at most 10,000,000.
        first_weekday : {"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}, optional
            Weekday of 1 January in load_w; it counts where the tariff differs at weekends. If left out, monday.
        home_utc_offset_h : float, optional
            Offset from UTC of the site's standard time, which load_w and the tariff's bands are in; if left out, that of the
            region's rules where the country has one standard time, else that of the weather or, without hourly weather, the
            nearest whole hour to the longitude over 15 [h]; at least -14 and at most 14.
        discount_rate_percent : float, optional
            Discount rate [%]; default 3.0 (common practice, no source); at least -20 and at most 50.
        horizon_years : int, optional
            Years of the comparison; default 25 (common practice, no source); at least 1 and at most 40.
        degradation_percent_per_year : float, optional
            Power that the module loses from each year to the next, compounding [%]; default 0.5 (median of some 2000 rates,
            Jordan and Kurtz 2013, 10.1002/pip.1182); at least 0 and at most 5.
        failure_percent_per_year : float, optional
            Share of the units that fails each year; if left out, results show a band from 0.02 to 0.5 %, as no independent rate
            is published [%]; at least 0 and at most 20.
        labour_per_visit : float, optional
            Labour to replace one failed unit; default 0.0 (labour not given: replacements cost the unit alone); at least 0 and
            at most 1,000,000.
        maintenance_per_year : float, optional
            Maintenance of the roof in a year; default 0.0 (the same for every candidate); at least 0 and at most 1,000,000.
        other_cost : float, optional
            All other cost of the roof today: the work of building, and the balance of plant where the candidates have none; 0
            where other prices include it. If left out it counts as 0, and the whole system has no payback; at least 0 and at
            most 1,000,000.
        second_kind_cost : float, optional
            Cost of stocking a second kind of microinverter; default 0.0 (not given); at least 0 and at most 1,000,000.
        mismatch_loss_share : float, optional
            Share of the energy lost by modules on one input that differ, 0 to 1; if left out: 0 with each module on its own
            input, else 0.01: common practice, no source; at least 0 and below 1.
        snow_loss_share : float, optional
            Share of the energy lost by snow on the modules, 0 to 1; default 0.0 (no snow); at least 0 and below 1.
        downtime_share : float, optional
            Share of the energy lost by units or the network being out of service, 0 to 1; default 0.01 (an availability of 99%:
            common practice, no source); at least 0 and below 1.
        ac_cable_loss_share : float, optional
            Share of the energy lost by the cables from the units to the meter, 0 to 1; if left out: from the candidate's
            rated_cable_share, which a design computes, else 0.01: common practice, no source; at least 0 and below 1.
        string_inverters : sequence of StringInverterOffer, optional
            String inverters to compare with the recommended microinverter on the same roof; 0 to 8 items.
        repair_days : float, optional
            Days from a failure to its repair, for the comparison with string inverters [d]; default 14.0 (common practice, no
            source); at least 0 and at most 365.
        break_even_pairs : {"every", "recommended"}, optional
            Pairs to compute the break-even for: the recommended candidate with its neighbours by AC power, or every pair of
            neighbours; default "recommended" (the pairs that decide the choice; every pair takes longer).
        region_rules : RegionRules, optional
            Rules of the caller's own region, in place of `region` for circuits and grid connection, and for layouts where they
            have `access`; the electrical checks still use `region`.
        build : Build, optional
            The pairing for circuits and bill; default: the recommended one.
        circuits : CircuitTerms, optional
            Terms of circuits and grid connection; data of the microinverter come from its datasheet.
        materials : DesignMaterialTerms, optional
            Terms of the bill; data of module and microinverter come from their datasheets.
        price_book : PriceBook, optional
            The caller's prices; if left out, the result has none. For the roles module, microinverter and microinverter_spare,
            `specification` names the module or candidate of the part. A module or candidate without a price is ranked at the
            sales price of its part.
        connection_costs : sequence of ConnectionCost, optional
            Costs of grid connection procedures, for the ranking; one that is left out counts as 0, and a recommendation that it
            could turn is not called decided; default [] (not given); 0 to 20 items.
        sheet : Sheet, optional
            Letterhead, language, paper and parts of the sheet, for text/html and application/pdf.

        Returns
        -------
        Document
        """
        answer: Document = await self._perform(
            CALLS["sheet_html"].request(
                site=site,
                modules=modules,
                candidates=candidates,
                faces=faces,
                modules_per_input=modules_per_input,
                wiring=wiring,
                weather=weather,
                region=region,
                surroundings=surroundings,
                transposition=transposition,
                currency=currency,
                tariff=tariff,
                share_used_at_home=share_used_at_home,
                load_w=load_w,
                export_limit_w=export_limit_w,
                first_weekday=first_weekday,
                home_utc_offset_h=home_utc_offset_h,
                discount_rate_percent=discount_rate_percent,
                horizon_years=horizon_years,
                degradation_percent_per_year=degradation_percent_per_year,
                failure_percent_per_year=failure_percent_per_year,
                labour_per_visit=labour_per_visit,
                maintenance_per_year=maintenance_per_year,
                other_cost=other_cost,
                second_kind_cost=second_kind_cost,
                mismatch_loss_share=mismatch_loss_share,
                snow_loss_share=snow_loss_share,
                downtime_share=downtime_share,
                ac_cable_loss_share=ac_cable_loss_share,
                string_inverters=string_inverters,
                repair_days=repair_days,
                break_even_pairs=break_even_pairs,
                region_rules=region_rules,
                build=build,
                circuits=circuits,
                materials=materials,
                price_book=price_book,
                connection_costs=connection_costs,
                sheet=sheet,
            )
        )
        return answer

    async def sheet_pdf(
        self,
        *,
        site: Site | Fields,
        modules: Sequence[ModuleOffer | Fields],
        candidates: Sequence[Candidate | Fields],
        faces: Sequence[DesignFace | Fields],
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        region: str | None = None,
        surroundings: Surroundings | Fields | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
        currency: str | None = None,
        tariff: Tariff | Fields | None = None,
        share_used_at_home: float | None = None,
        load_w: Numbers | None = None,
        export_limit_w: float | None = None,
        first_weekday: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] | None = None,
        home_utc_offset_h: float | None = None,
        discount_rate_percent: float | None = None,
        horizon_years: int | None = None,
        degradation_percent_per_year: float | None = None,
        failure_percent_per_year: float | None = None,
        labour_per_visit: float | None = None,
        maintenance_per_year: float | None = None,
        other_cost: float | None = None,
        second_kind_cost: float | None = None,
        mismatch_loss_share: float | None = None,
        snow_loss_share: float | None = None,
        downtime_share: float | None = None,
        ac_cable_loss_share: float | None = None,
        string_inverters: Sequence[StringInverterOffer | Fields] | None = None,
        repair_days: float | None = None,
        break_even_pairs: Literal["every", "recommended"] | None = None,
        region_rules: RegionRules | Fields | None = None,
        build: Build | Fields | None = None,
        circuits: CircuitTerms | Fields | None = None,
        materials: DesignMaterialTerms | Fields | None = None,
        price_book: PriceBook | Fields | None = None,
        connection_costs: Sequence[ConnectionCost | Fields] | None = None,
        sheet: Sheet | Fields | None = None,
    ) -> Document:
        """The same sheet as PDF, where the service has its extra `pdf`.

        Gives the results of all other operations in one call. Each part equals the result of its own operation for the same
        input, except that `assumptions`, `cautions` and `method` of all parts are at the top and are empty in each part. A
        face has a number of modules, or a size from which the layout counts them. Circuits and bill are for the recommended
        pairing or for the one that `build` names; `built` says which and why. Every candidate is ranked with its own
        circuits, parts and grid connection; the first is the best that can be built. Circuits and bill are for one kind: a
        mixed choice is only advice in `selection`. If no pairing passes its electrical checks, or no circuit is possible
        for the pairing, the result says so, and the parts that need a pairing are null. Send `Accept: text/html` for the
        sheet for customer and installer as one self-contained file, or `application/pdf` for the same as PDF; `sheet` sets
        its letterhead, language, paper and parts. Send `Accept: text/csv` for the lines of the order as CSV (RFC 4180). A
        language that is not offered gives 406, for JSON too. The call has no side effects and may be repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        modules : sequence of ModuleOffer
            The modules to compare, each on every face; 1 to 8 items.
        candidates : sequence of Candidate
            The microinverters on offer; 1 to 64 items.
        faces : sequence of DesignFace
            The faces of the roof, in the order of the trunk; 1 to 16 items.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        surroundings : Surroundings, optional
            What stands around the building, for all faces.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).
        currency : str, optional
            Currency of every price of the request, ISO 4217, such as EUR; all currencies of a request must be the same; if left
            out: one currency for every price of the request.
        tariff : Tariff, optional
            Energy prices; if left out, candidates are ranked by energy.
        share_used_at_home : float, optional
            Share of the energy that is used at home, 0 to 1; or give load_w; if left out: 0.3 where load_w is not given either:
            common practice, no source; at least 0 and at most 1.
        load_w : sequence of float, optional
            Household load, the power drawn at home: every hour of a year from 1 January in standard time or, less exact, 12
            mean days from January or one mean day. With hourly weather each hour meets its own load, otherwise all loads of
            that hour in its month [W]; 24 to 8,784 items.
        export_limit_w : float, optional
            Export limit of the grid connection; if left out, none [W]; at least 0 and at most 10,000,000.
        first_weekday : {"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}, optional
            Weekday of 1 January in load_w; it counts where the tariff differs at weekends. If left out, monday.
        home_utc_offset_h : float, optional
            Offset from UTC of the site's standard time, which load_w and the tariff's bands are in; if left out, that of the
            region's rules where the country has one standard time, else that of the weather or, without hourly weather, the
            nearest whole hour to the longitude over 15 [h]; at least -14 and at most 14.
        discount_rate_percent : float, optional
            Discount rate [%]; default 3.0 (common practice, no source); at least -20 and at most 50.
        horizon_years : int, optional
            Years of the comparison; default 25 (common practice, no source); at least 1 and at most 40.
        degradation_percent_per_year : float, optional
            Power that the module loses from each year to the next, compounding [%]; default 0.5 (median of some 2000 rates,
            Jordan and Kurtz 2013, 10.1002/pip.1182); at least 0 and at most 5.
        failure_percent_per_year : float, optional
            Share of the units that fails each year; if left out, results show a band from 0.02 to 0.5 %, as no independent rate
            is published [%]; at least 0 and at most 20.
        labour_per_visit : float, optional
            Labour to replace one failed unit; default 0.0 (labour not given: replacements cost the unit alone); at least 0 and
            at most 1,000,000.
        maintenance_per_year : float, optional
            Maintenance of the roof in a year; default 0.0 (the same for every candidate); at least 0 and at most 1,000,000.
        other_cost : float, optional
            All other cost of the roof today: the work of building, and the balance of plant where the candidates have none; 0
            where other prices include it. If left out it counts as 0, and the whole system has no payback; at least 0 and at
            most 1,000,000.
        second_kind_cost : float, optional
            Cost of stocking a second kind of microinverter; default 0.0 (not given); at least 0 and at most 1,000,000.
        mismatch_loss_share : float, optional
            Share of the energy lost by modules on one input that differ, 0 to 1; if left out: 0 with each module on its own
            input, else 0.01: common practice, no source; at least 0 and below 1.
        snow_loss_share : float, optional
            Share of the energy lost by snow on the modules, 0 to 1; default 0.0 (no snow); at least 0 and below 1.
        downtime_share : float, optional
            Share of the energy lost by units or the network being out of service, 0 to 1; default 0.01 (an availability of 99%:
            common practice, no source); at least 0 and below 1.
        ac_cable_loss_share : float, optional
            Share of the energy lost by the cables from the units to the meter, 0 to 1; if left out: from the candidate's
            rated_cable_share, which a design computes, else 0.01: common practice, no source; at least 0 and below 1.
        string_inverters : sequence of StringInverterOffer, optional
            String inverters to compare with the recommended microinverter on the same roof; 0 to 8 items.
        repair_days : float, optional
            Days from a failure to its repair, for the comparison with string inverters [d]; default 14.0 (common practice, no
            source); at least 0 and at most 365.
        break_even_pairs : {"every", "recommended"}, optional
            Pairs to compute the break-even for: the recommended candidate with its neighbours by AC power, or every pair of
            neighbours; default "recommended" (the pairs that decide the choice; every pair takes longer).
        region_rules : RegionRules, optional
            Rules of the caller's own region, in place of `region` for circuits and grid connection, and for layouts where they
            have `access`; the electrical checks still use `region`.
        build : Build, optional
            The pairing for circuits and bill; default: the recommended one.
        circuits : CircuitTerms, optional
            Terms of circuits and grid connection; data of the microinverter come from its datasheet.
        materials : DesignMaterialTerms, optional
            Terms of the bill; data of module and microinverter come from their datasheets.
        price_book : PriceBook, optional
            The caller's prices; if left out, the result has none. For the roles module, microinverter and microinverter_spare,
            `specification` names the module or candidate of the part. A module or candidate without a price is ranked at the
            sales price of its part.
        connection_costs : sequence of ConnectionCost, optional
            Costs of grid connection procedures, for the ranking; one that is left out counts as 0, and a recommendation that it
            could turn is not called decided; default [] (not given); 0 to 20 items.
        sheet : Sheet, optional
            Letterhead, language, paper and parts of the sheet, for text/html and application/pdf.

        Returns
        -------
        Document
        """
        answer: Document = await self._perform(
            CALLS["sheet_pdf"].request(
                site=site,
                modules=modules,
                candidates=candidates,
                faces=faces,
                modules_per_input=modules_per_input,
                wiring=wiring,
                weather=weather,
                region=region,
                surroundings=surroundings,
                transposition=transposition,
                currency=currency,
                tariff=tariff,
                share_used_at_home=share_used_at_home,
                load_w=load_w,
                export_limit_w=export_limit_w,
                first_weekday=first_weekday,
                home_utc_offset_h=home_utc_offset_h,
                discount_rate_percent=discount_rate_percent,
                horizon_years=horizon_years,
                degradation_percent_per_year=degradation_percent_per_year,
                failure_percent_per_year=failure_percent_per_year,
                labour_per_visit=labour_per_visit,
                maintenance_per_year=maintenance_per_year,
                other_cost=other_cost,
                second_kind_cost=second_kind_cost,
                mismatch_loss_share=mismatch_loss_share,
                snow_loss_share=snow_loss_share,
                downtime_share=downtime_share,
                ac_cable_loss_share=ac_cable_loss_share,
                string_inverters=string_inverters,
                repair_days=repair_days,
                break_even_pairs=break_even_pairs,
                region_rules=region_rules,
                build=build,
                circuits=circuits,
                materials=materials,
                price_book=price_book,
                connection_costs=connection_costs,
                sheet=sheet,
            )
        )
        return answer

    async def order_csv(
        self,
        *,
        site: Site | Fields,
        modules: Sequence[ModuleOffer | Fields],
        candidates: Sequence[Candidate | Fields],
        faces: Sequence[DesignFace | Fields],
        modules_per_input: int | None = None,
        wiring: Literal["series", "parallel"] | None = None,
        weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Fields | None = None,
        region: str | None = None,
        surroundings: Surroundings | Fields | None = None,
        transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None,
        currency: str | None = None,
        tariff: Tariff | Fields | None = None,
        share_used_at_home: float | None = None,
        load_w: Numbers | None = None,
        export_limit_w: float | None = None,
        first_weekday: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] | None = None,
        home_utc_offset_h: float | None = None,
        discount_rate_percent: float | None = None,
        horizon_years: int | None = None,
        degradation_percent_per_year: float | None = None,
        failure_percent_per_year: float | None = None,
        labour_per_visit: float | None = None,
        maintenance_per_year: float | None = None,
        other_cost: float | None = None,
        second_kind_cost: float | None = None,
        mismatch_loss_share: float | None = None,
        snow_loss_share: float | None = None,
        downtime_share: float | None = None,
        ac_cable_loss_share: float | None = None,
        string_inverters: Sequence[StringInverterOffer | Fields] | None = None,
        repair_days: float | None = None,
        break_even_pairs: Literal["every", "recommended"] | None = None,
        region_rules: RegionRules | Fields | None = None,
        build: Build | Fields | None = None,
        circuits: CircuitTerms | Fields | None = None,
        materials: DesignMaterialTerms | Fields | None = None,
        price_book: PriceBook | Fields | None = None,
        connection_costs: Sequence[ConnectionCost | Fields] | None = None,
        sheet: Sheet | Fields | None = None,
    ) -> Document:
        """The order's lines with their prices, RFC 4180; only the header where nothing is built.

        Gives the results of all other operations in one call. Each part equals the result of its own operation for the same
        input, except that `assumptions`, `cautions` and `method` of all parts are at the top and are empty in each part. A
        face has a number of modules, or a size from which the layout counts them. Circuits and bill are for the recommended
        pairing or for the one that `build` names; `built` says which and why. Every candidate is ranked with its own
        circuits, parts and grid connection; the first is the best that can be built. Circuits and bill are for one kind: a
        mixed choice is only advice in `selection`. If no pairing passes its electrical checks, or no circuit is possible
        for the pairing, the result says so, and the parts that need a pairing are null. Send `Accept: text/html` for the
        sheet for customer and installer as one self-contained file, or `application/pdf` for the same as PDF; `sheet` sets
        its letterhead, language, paper and parts. Send `Accept: text/csv` for the lines of the order as CSV (RFC 4180). A
        language that is not offered gives 406, for JSON too. The call has no side effects and may be repeated.

        Parameters
        ----------
        site : Site
            Where the building stands.
        modules : sequence of ModuleOffer
            The modules to compare, each on every face; 1 to 8 items.
        candidates : sequence of Candidate
            The microinverters on offer; 1 to 64 items.
        faces : sequence of DesignFace
            The faces of the roof, in the order of the trunk; 1 to 16 items.
        modules_per_input : int, optional
            Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
        wiring : {"series", "parallel"}, optional
            Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
            series unless given; no difference with one module on each input).
        weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
            The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
            of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
        region : str, optional
            Region whose rules apply; default "international" (international standards, where no national code is named);
            `list_regions` lists them.
        surroundings : Surroundings, optional
            What stands around the building, for all faces.
        transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
            Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
            widely validated of the three).
        currency : str, optional
            Currency of every price of the request, ISO 4217, such as EUR; all currencies of a request must be the same; if left
            out: one currency for every price of the request.
        tariff : Tariff, optional
            Energy prices; if left out, candidates are ranked by energy.
        share_used_at_home : float, optional
            Share of the energy that is used at home, 0 to 1; or give load_w; if left out: 0.3 where load_w is not given either:
            common practice, no source; at least 0 and at most 1.
        load_w : sequence of float, optional
            Household load, the power drawn at home: every hour of a year from 1 January in standard time or, less exact, 12
            mean days from January or one mean day. With hourly weather each hour meets its own load, otherwise all loads of
            that hour in its month [W]; 24 to 8,784 items.
        export_limit_w : float, optional
            Export limit of the grid connection; if left out, none [W]; at least 0 and at most 10,000,000.
        first_weekday : {"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}, optional
            Weekday of 1 January in load_w; it counts where the tariff differs at weekends. If left out, monday.
        home_utc_offset_h : float, optional
            Offset from UTC of the site's standard time, which load_w and the tariff's bands are in; if left out, that of the
            region's rules where the country has one standard time, else that of the weather or, without hourly weather, the
            nearest whole hour to the longitude over 15 [h]; at least -14 and at most 14.
        discount_rate_percent : float, optional
            Discount rate [%]; default 3.0 (common practice, no source); at least -20 and at most 50.
        horizon_years : int, optional
            Years of the comparison; default 25 (common practice, no source); at least 1 and at most 40.
        degradation_percent_per_year : float, optional
            Power that the module loses from each year to the next, compounding [%]; default 0.5 (median of some 2000 rates,
            Jordan and Kurtz 2013, 10.1002/pip.1182); at least 0 and at most 5.
        failure_percent_per_year : float, optional
            Share of the units that fails each year; if left out, results show a band from 0.02 to 0.5 %, as no independent rate
            is published [%]; at least 0 and at most 20.
        labour_per_visit : float, optional
            Labour to replace one failed unit; default 0.0 (labour not given: replacements cost the unit alone); at least 0 and
            at most 1,000,000.
        maintenance_per_year : float, optional
            Maintenance of the roof in a year; default 0.0 (the same for every candidate); at least 0 and at most 1,000,000.
        other_cost : float, optional
            All other cost of the roof today: the work of building, and the balance of plant where the candidates have none; 0
            where other prices include it. If left out it counts as 0, and the whole system has no payback; at least 0 and at
            most 1,000,000.
        second_kind_cost : float, optional
            Cost of stocking a second kind of microinverter; default 0.0 (not given); at least 0 and at most 1,000,000.
        mismatch_loss_share : float, optional
            Share of the energy lost by modules on one input that differ, 0 to 1; if left out: 0 with each module on its own
            input, else 0.01: common practice, no source; at least 0 and below 1.
        snow_loss_share : float, optional
            Share of the energy lost by snow on the modules, 0 to 1; default 0.0 (no snow); at least 0 and below 1.
        downtime_share : float, optional
            Share of the energy lost by units or the network being out of service, 0 to 1; default 0.01 (an availability of 99%:
            common practice, no source); at least 0 and below 1.
        ac_cable_loss_share : float, optional
            Share of the energy lost by the cables from the units to the meter, 0 to 1; if left out: from the candidate's
            rated_cable_share, which a design computes, else 0.01: common practice, no source; at least 0 and below 1.
        string_inverters : sequence of StringInverterOffer, optional
            String inverters to compare with the recommended microinverter on the same roof; 0 to 8 items.
        repair_days : float, optional
            Days from a failure to its repair, for the comparison with string inverters [d]; default 14.0 (common practice, no
            source); at least 0 and at most 365.
        break_even_pairs : {"every", "recommended"}, optional
            Pairs to compute the break-even for: the recommended candidate with its neighbours by AC power, or every pair of
            neighbours; default "recommended" (the pairs that decide the choice; every pair takes longer).
        region_rules : RegionRules, optional
            Rules of the caller's own region, in place of `region` for circuits and grid connection, and for layouts where they
            have `access`; the electrical checks still use `region`.
        build : Build, optional
            The pairing for circuits and bill; default: the recommended one.
        circuits : CircuitTerms, optional
            Terms of circuits and grid connection; data of the microinverter come from its datasheet.
        materials : DesignMaterialTerms, optional
            Terms of the bill; data of module and microinverter come from their datasheets.
        price_book : PriceBook, optional
            The caller's prices; if left out, the result has none. For the roles module, microinverter and microinverter_spare,
            `specification` names the module or candidate of the part. A module or candidate without a price is ranked at the
            sales price of its part.
        connection_costs : sequence of ConnectionCost, optional
            Costs of grid connection procedures, for the ranking; one that is left out counts as 0, and a recommendation that it
            could turn is not called decided; default [] (not given); 0 to 20 items.
        sheet : Sheet, optional
            Letterhead, language, paper and parts of the sheet, for text/html and application/pdf.

        Returns
        -------
        Document
        """
        answer: Document = await self._perform(
            CALLS["order_csv"].request(
                site=site,
                modules=modules,
                candidates=candidates,
                faces=faces,
                modules_per_input=modules_per_input,
                wiring=wiring,
                weather=weather,
                region=region,
                surroundings=surroundings,
                transposition=transposition,
                currency=currency,
                tariff=tariff,
                share_used_at_home=share_used_at_home,
                load_w=load_w,
                export_limit_w=export_limit_w,
                first_weekday=first_weekday,
                home_utc_offset_h=home_utc_offset_h,
                discount_rate_percent=discount_rate_percent,
                horizon_years=horizon_years,
                degradation_percent_per_year=degradation_percent_per_year,
                failure_percent_per_year=failure_percent_per_year,
                labour_per_visit=labour_per_visit,
                maintenance_per_year=maintenance_per_year,
                other_cost=other_cost,
                second_kind_cost=second_kind_cost,
                mismatch_loss_share=mismatch_loss_share,
                snow_loss_share=snow_loss_share,
                downtime_share=downtime_share,
                ac_cable_loss_share=ac_cable_loss_share,
                string_inverters=string_inverters,
                repair_days=repair_days,
                break_even_pairs=break_even_pairs,
                region_rules=region_rules,
                build=build,
                circuits=circuits,
                materials=materials,
                price_book=price_book,
                connection_costs=connection_costs,
                sheet=sheet,
            )
        )
        return answer

    async def list_regions(self) -> Regions:
        """Regions whose rules the service has.

        Names of the regions that requests may name, with the place and edition of their rules.

        Returns
        -------
        Regions
        """
        answer: Regions = await self._perform(CALLS["list_regions"].request())
        return answer

    async def read_region(self, *, name: str) -> Region:
        """The rules of a region.

        The published rules that apply where a request names the region: limits, ratings, distances from the edges of a
        face, and grid connection procedures, each with its clause and how the value was obtained. A changed copy can be
        sent as `region_rules`.

        Parameters
        ----------
        name : str
            One of the 7 names; `list_regions` lists them.

        Returns
        -------
        Region
        """
        answer: Region = await self._perform(CALLS["read_region"].request(name=name))
        return answer

    async def check_live(self) -> Liveness:
        """Liveness.

        Responds while the process runs.

        Returns
        -------
        Liveness
        """
        answer: Liveness = await self._perform(CALLS["check_live"].request())
        return answer

    async def check_ready(self) -> Readiness:
        """Readiness.

        Says whether the built-in climate and the operator's station folder can be read.

        Returns
        -------
        Readiness
        """
        answer: Readiness = await self._perform(CALLS["check_ready"].request())
        return answer

# Made from openapi/wattpair.v1.yaml by sdk/generate.py; not to be changed by hand.
"""What requests and answers are made of, by the schemas of the contract."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, Literal, TypeAlias

from wattpair import tables
from wattpair.base import FieldOfARequest, Figures, Model
from wattpair.codec import DecimalText, Numbers

__all__ = [
    "AccessPath",
    "AccessRule",
    "AgedYear",
    "Arrangement",
    "ArrayBondingRule",
    "Assumption",
    "Backup",
    "BackupPart",
    "BackupResult",
    "Balance",
    "BeamSurvey",
    "BillLine",
    "BillOfMaterialsRequest",
    "BillOfMaterialsResult",
    "BranchCircuit",
    "BranchCircuitRule",
    "BreakEven",
    "BreakEvenPower",
    "Build",
    "Building",
    "Built",
    "BuiltInClimate",
    "BusbarRule",
    "CableCheck",
    "CablesRule",
    "Candidate",
    "CandidateEnergy",
    "CandidateMoney",
    "CandidateResult",
    "CashFlowYear",
    "CauseKwh",
    "Caution",
    "CentralProtectionRule",
    "Change",
    "Check",
    "CheckedString",
    "CircuitFace",
    "CircuitRise",
    "CircuitTerms",
    "CircuitsRequest",
    "CircuitsResult",
    "ClimateUsed",
    "ClippingRequest",
    "ClippingResult",
    "ColdFloor",
    "ColdVoltageRule",
    "CommissioningRule",
    "ConductorsRule",
    "Connection",
    "ConnectionCheck",
    "ConnectionCost",
    "Corner",
    "CutEnergy",
    "DemandRule",
    "Derating",
    "DesignFace",
    "DesignMaterialTerms",
    "DesignRequest",
    "DesignResult",
    "DesignTemperatures",
    "Device",
    "Duration",
    "EdgeRule",
    "EfficiencyPoint",
    "ExistingGeneration",
    "ExportBand",
    "ExportLimit",
    "Face",
    "FaceChoice",
    "FaceClimate",
    "FaceClipping",
    "FaceCount",
    "FaceDesign",
    "FaceIrradiation",
    "FaceLayout",
    "FaceMass",
    "FacePositions",
    "FaceShade",
    "FaceUnits",
    "FieldError",
    "Filing",
    "FilingRule",
    "HighDcVoltageRule",
    "HorizonPoint",
    "HorizontalClimate",
    "HourlyWeather",
    "ImportBand",
    "Installation",
    "InstallationRule",
    "LabelRule",
    "LaidOutEdge",
    "LayoutRequest",
    "LayoutResult",
    "Liveness",
    "Method",
    "Microinverter",
    "MissingPrice",
    "MixedChoice",
    "Module",
    "ModuleOffer",
    "ModuleOnFace",
    "ModulePlaces",
    "ModulePosition",
    "MoneyDifference",
    "MoneyRange",
    "MonthlyTotals",
    "MountingSystem",
    "NearestStation",
    "Obstacle",
    "ObstacleResult",
    "Obstruction",
    "Optimiser",
    "OrientationCount",
    "OvercurrentDeviceRule",
    "Pairing",
    "PairingClipping",
    "PairingSizing",
    "PairingYear",
    "PartNumber",
    "PathRule",
    "PhaseBalanceRule",
    "PhaseTotal",
    "PlaceBreakEven",
    "PlacedModule",
    "PlacedUnit",
    "Point",
    "PriceBook",
    "PriceGap",
    "PriceItem",
    "PricedLine",
    "Prices",
    "Problem",
    "Range",
    "RatioAtIrradiance",
    "Readiness",
    "Recommendation",
    "Region",
    "RegionName",
    "RegionRules",
    "Regions",
    "Replacements",
    "ResidualCurrentRule",
    "RidgeRule",
    "RoofObject",
    "RoofTotal",
    "RouteFit",
    "RouteRule",
    "SandiaCurve",
    "Scenario",
    "SeasonIrradiation",
    "SelectionRequest",
    "SelectionResult",
    "Sensitivity",
    "ShadeOfFace",
    "ShadeOfModule",
    "Sheet",
    "ShortCircuitRule",
    "Site",
    "SiteClimateRequest",
    "SiteClimateResult",
    "SizingRequest",
    "SizingResult",
    "Sourced",
    "Spares",
    "StandardDevicesRule",
    "StandardTime",
    "StationUsed",
    "StepUp",
    "StringCandidate",
    "StringComparison",
    "StringInverter",
    "StringInverterOffer",
    "StringPart",
    "SubhourlyUsed",
    "SupplyRule",
    "Surroundings",
    "SystemLosses",
    "SystemMoney",
    "SystemTerms",
    "SystemTermsResult",
    "Tariff",
    "TextByLanguage",
    "Tree",
    "TrunkSystem",
    "TurningPoints",
    "VoltageRiseRule",
    "WeatherFile",
]


class FieldError(FieldOfARequest, frozen=True, kw_only=True):
    """
    One problem in a body.

    Attributes
    ----------
    pointer : str
        JSON pointer (RFC 6901) to the field; empty for the whole body.
    given : str
        Value in the request, shortened.
    allowed : str
        Values that are allowed.
    detail : str
        Pointer, given and allowed in one sentence.
    """

    pointer: str
    given: str
    allowed: str
    detail: str


class Problem(Model, frozen=True, kw_only=True):
    """
    An error (RFC 9457).

    Attributes
    ----------
    type : str
        Stable name of the kind of problem.
    title : str
        Name of the HTTP status.
    status : int
        HTTP status.
    detail : str
        What is wrong, in plain words.
    request_id : str
        Id of the request, as in the service's log.
    errors : sequence of FieldError
        Problems by field; may be empty.
    """

    type: str
    title: str
    status: int
    detail: str
    request_id: str
    errors: tuple[FieldError, ...]


class Site(Model, frozen=True, kw_only=True):
    """
    Where the building stands.

    Attributes
    ----------
    latitude_deg : float
        Latitude, north positive [deg]; at least -90 and at most 90.
    longitude_deg : float
        Longitude, east positive [deg]; at least -180 and at most 180.
    elevation_m : float, optional
        Height above sea level; from the built-in map if left out [m]; at least -450 and at most 6,000.
    temp_lowest_c : float, optional
        Lowest expected air temperature, the site's record low; if left out, the result states the value used and its source
        [degC]; at least -70 and at most 40.
    temp_highest_c : float, optional
        Highest expected air temperature; if left out, the result states the value used and its source [degC]; at least -20
        and at most 60.
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float | None = None
    temp_lowest_c: float | None = None
    temp_highest_c: float | None = None


class BuiltInClimate(Model, frozen=True, kw_only=True, tag_field="kind", tag="climate"):
    """The service's built-in climate, for any land."""


class MonthlyTotals(Model, frozen=True, kw_only=True, tag_field="kind", tag="monthly", eq=False):
    """
    Twelve monthly figures, as national handbooks print them.

    Attributes
    ----------
    ghi_kwh_m2_by_month : sequence of float
        Global horizontal irradiation of January to December [kWh/m2]; 12 items.
    temp_air_c_by_month : sequence of float, optional
        Mean air temperature of January to December; from the built-in climate if left out [degC]; 12 items.
    """

    ghi_kwh_m2_by_month: Numbers
    temp_air_c_by_month: Numbers | None = None


class NearestStation(Model, frozen=True, kw_only=True, tag_field="kind", tag="station"):
    """The nearest file of the operator's station folder."""


class HourlyWeather(Model, frozen=True, kw_only=True, tag_field="kind", tag="hourly", eq=False):
    """
    An hourly year as arrays of 8,760 values, or 8,784 in a leap year.

    Attributes
    ----------
    first_label : str
        Time label of the first value in standard time (no daylight saving), without zone; such as "2023-01-01T00:00".
    utc_offset_h : float
        Standard time's offset from UTC, east positive [h]; at least -12 and at most 14.
    interval_label : {"start", "middle", "end"}
        Whether a time label marks the start, the middle or the end of its hour.
    ghi_w_m2 : sequence of float
        Global horizontal irradiance [W/m2]; 8,760 to 8,784 items.
    dni_w_m2 : sequence of float, optional
        Direct normal irradiance; give it with dhi_w_m2, or both are computed from ghi_w_m2 [W/m2]; 8,760 to 8,784 items.
    dhi_w_m2 : sequence of float, optional
        Diffuse horizontal irradiance [W/m2]; 8,760 to 8,784 items.
    temp_air_c : sequence of float
        Air temperature [degC]; 8,760 to 8,784 items.
    origin : str, one of the words of its type, optional
        How the hourly irradiance was obtained. This determines how much subhourly variability it already contains:
        measured_hourly for means of measured minutes, satellite_N_min for one snapshot every N minutes; default
        "measured_hourly" (hourly means contain no subhourly variability).
    wind_speed_m_s : sequence of float, optional
        Wind speed at 10 m; if left out, 1 m/s, which gives rather warm cells [m/s]; 8,760 to 8,784 items.
    """

    first_label: str
    utc_offset_h: float
    interval_label: Literal["start", "middle", "end"]
    ghi_w_m2: Numbers
    temp_air_c: Numbers
    dni_w_m2: Numbers | None = None
    dhi_w_m2: Numbers | None = None
    origin: Literal["measured_hourly", "satellite_15_min", "satellite_30_min", "satellite_60_min", "reanalysis"] | None = None
    wind_speed_m_s: Numbers | None = None


class WeatherFile(Model, frozen=True, kw_only=True, tag_field="kind", tag="file"):
    """
    A weather file's text: a typical year of 8,760 hours, with the station's location.

    Attributes
    ----------
    file_format : {"epw", "tmy3"}
        Format of the file.
    origin : str, one of the words of its type, optional
        How the hourly irradiance was obtained. This determines how much subhourly variability it already contains:
        measured_hourly for means of measured minutes, satellite_N_min for one snapshot every N minutes; default
        "measured_hourly" (hourly means contain no subhourly variability).
    text : str
        The whole file as text.
    """

    file_format: Literal["epw", "tmy3"]
    text: str
    origin: Literal["measured_hourly", "satellite_15_min", "satellite_30_min", "satellite_60_min", "reanalysis"] | None = None


class HorizonPoint(Model, frozen=True, kw_only=True):
    """
    Height of the horizon in one direction.

    Attributes
    ----------
    azimuth_deg : float
        Direction, clockwise from north [deg]; at least 0 and below 360.
    elevation_deg : float
        Height of the horizon [deg]; at least 0 and at most 90.
    """

    azimuth_deg: float
    elevation_deg: float


class Point(Model, frozen=True, kw_only=True):
    """
    A corner in the plane of the face.

    Attributes
    ----------
    x_m : float
        Distance along the eaves, to the right [m]; at least -200 and at most 200.
    y_m : float
        Distance up the slope [m]; at least -200 and at most 200.
    """

    x_m: float
    y_m: float


class RoofObject(Model, frozen=True, kw_only=True):
    """
    A chimney, dormer, vent or parapet on the face.

    Attributes
    ----------
    outline : sequence of Point
        Its corners, in order; 3 to 24 items.
    name : str, optional
        Name used in the result.
    height_m : float
        Height of its top above the roof, measured vertically at the middle of its outline: of a flat top, of the middle of
        a sloped one, of the ridge of a gabled one [m]; above 0 and at most 30.
    top : {"flat", "sloped", "gabled"}, optional
        Shape of its top.
    top_slope_deg : float, optional
        Slope of a sloped top, falling towards the eaves; negative where it falls towards the ridge [deg]; at least -80 and
        at most 80.
    eaves_height_m : float, optional
        Height of the eaves of a gabled top, measured like height_m [m]; at least 0 and at most 30.
    ridge : {"up_slope", "along_eaves"}, optional
        Direction of the ridge of a gabled top: up_slope, as of a dormer, or along_eaves.
    """

    outline: Sequence[Point | Mapping[str, Any]]
    height_m: float
    name: str | None = None
    top: Literal["flat", "sloped", "gabled"] | None = None
    top_slope_deg: float | None = None
    eaves_height_m: float | None = None
    ridge: Literal["up_slope", "along_eaves"] | None = None


class Building(Model, frozen=True, kw_only=True):
    """
    A building beside the roof: a box with a flat or a gabled roof, whose ridge runs along its length.

    Attributes
    ----------
    name : str, optional
        Name used in the result.
    east_m : float
        How far east of the face's corner [m]; at least -1,000 and at most 1,000.
    north_m : float
        How far north of the face's corner [m]; at least -1,000 and at most 1,000.
    length_m : float
        Length [m]; above 0 and at most 1,000.
    width_m : float
        Width [m]; above 0 and at most 1,000.
    length_azimuth_deg : float, optional
        Direction of its length, clockwise from north [deg]; default 0.0 (not given); at least 0 and at most 360.
    top_up_m : float
        Height of its ridge, or of its flat top, above the face's corner; negative below it [m]; at least -200 and at most
        200.
    eaves_up_m : float, optional
        Height of its eaves above the face's corner; default: top_up_m, a flat top [m]; at least -200 and at most 200.
    """

    east_m: float
    north_m: float
    length_m: float
    width_m: float
    top_up_m: float
    name: str | None = None
    length_azimuth_deg: float | None = None
    eaves_up_m: float | None = None


class Tree(Model, frozen=True, kw_only=True, eq=False):
    """
    A tree: an ellipsoid for its crown, and its trunk.

    Attributes
    ----------
    name : str, optional
        Name used in the result.
    east_m : float
        How far east of the face's corner [m]; at least -1,000 and at most 1,000.
    north_m : float
        How far north of the face's corner [m]; at least -1,000 and at most 1,000.
    ground_up_m : float
        Height of the ground at the tree above the face's corner; usually negative [m]; at least -200 and at most 200.
    height_m : float
        Height of the tree above its ground [m]; above 0 and at most 100.
    crown_base_m : float
        Height of the crown's base above the ground [m]; at least 0 and at most 100.
    crown_diameter_m : float
        Diameter of the crown [m]; above 0 and at most 100.
    trunk_diameter_m : float, optional
        Diameter of the trunk [m]; default 0.3 (common practice, no source); at least 0 and at most 10.
    transmittance_by_month : sequence of float, optional
        Share of light that passes the crown in January to December, 0 to 1; default [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0,
        0.0, 0.0, 0.0, 0.0, 0.0] (an opaque crown, the safe side: no published transmittance is confirmed); 12 items; each
        at least 0 and at most 1.
    """

    east_m: float
    north_m: float
    ground_up_m: float
    height_m: float
    crown_base_m: float
    crown_diameter_m: float
    name: str | None = None
    trunk_diameter_m: float | None = None
    transmittance_by_month: Numbers | None = None


ByModuleItem: TypeAlias = Sequence[Numbers]


class BeamSurvey(Model, frozen=True, kw_only=True):
    """
    The surveyor's own table: the share of beam irradiance that arrives in each month and hour.

    Attributes
    ----------
    by_month_hour : sequence of sequence of float, optional
        Of the whole face: January to December, each with 24 hours; 12 items.
    by_module : sequence of sequence of sequence of float, optional
        Of each module, in the order of the modules' places; 1 to 200 items.
    """

    by_month_hour: Sequence[Numbers] | None = None
    by_module: Sequence[ByModuleItem] | None = None


class ModulePlaces(Model, frozen=True, kw_only=True):
    """
    Where the modules of a face lie.

    Attributes
    ----------
    orientation : {"portrait", "landscape"}
        Longer side up the slope (portrait) or along the eaves (landscape).
    corners : sequence of Point
        Lower left corner of each module; 1 to 200 items.
    """

    orientation: Literal["portrait", "landscape"]
    corners: Sequence[Point | Mapping[str, Any]]


class Corner(Model, frozen=True, kw_only=True):
    """
    The face's corner, where x and y are 0, from the point that the surroundings are measured from.

    Attributes
    ----------
    east_m : float
        East of that point [m]; at least -1,000 and at most 1,000.
    north_m : float
        North of it [m]; at least -1,000 and at most 1,000.
    up_m : float
        Above it [m]; at least -200 and at most 200.
    """

    east_m: float
    north_m: float
    up_m: float


class FaceShade(Model, frozen=True, kw_only=True):
    """
    What stands before the sky of a face beside its horizon, and where its modules lie.

    Attributes
    ----------
    objects : sequence of RoofObject, optional
        Objects on the face; 0 to 24 items.
    buildings : sequence of Building, optional
        Buildings; 0 to 24 items.
    trees : sequence of Tree, optional
        Trees; 0 to 24 items.
    beam_survey : BeamSurvey, optional
        The surveyor's own table of what arrives of the beam.
    module_places : ModulePlaces, optional
        Where the modules lie, one for each of module_count; nothing where a layout gives their places.
    corner : Corner, optional
        Where the face's corner lies, from the point that the surroundings of the site are measured from; default: at it.
    tolerance_percent : float, optional
        How far off distances and heights may be, for the range of the loss [%]; default 10.0 (common practice, no source);
        at least 0 and at most 50.
    """

    objects: Sequence[RoofObject | Mapping[str, Any]] | None = None
    buildings: Sequence[Building | Mapping[str, Any]] | None = None
    trees: Sequence[Tree | Mapping[str, Any]] | None = None
    beam_survey: BeamSurvey | Mapping[str, Any] | None = None
    module_places: ModulePlaces | Mapping[str, Any] | None = None
    corner: Corner | Mapping[str, Any] | None = None
    tolerance_percent: float | None = None


class Face(Model, frozen=True, kw_only=True):
    """
    One roof plane with its modules.

    Attributes
    ----------
    name : str
        Name used in the result; unique among the faces.
    tilt_deg : float
        Tilt against the horizontal [deg]; at least 0 and at most 90.
    azimuth_deg : float
        Direction, clockwise from north: 180 is south [deg]; at least 0 and at most 360.
    module_count : int
        Modules on the face; at least 1 and at most 1,000.
    mounting : {"close_roof", "open_rack", "insulated_back", "open_rack_faiman"}, optional
        Mounting, which determines the cell temperature: close_roof: close roof mount, Sandia glass/glass coefficients;
        open_rack: open rack, Sandia glass/polymer coefficients; insulated_back: in the roof with an insulated back, Sandia
        glass/polymer coefficients; open_rack_faiman: open rack, Faiman's mean heat loss factors; default "close_roof" (the
        usual pitched roof).
    shading_share : float, optional
        Share of irradiance lost to shading by near objects, 0 to 1, where they are not described in `shade`; default 0.0
        (an unshaded face); at least 0 and below 1.
    soiling_share : float, optional
        Share of irradiance lost to soiling over the year, 0 to 1; default 0.02 (common practice, no source); at least 0 and
        below 1.
    albedo : float, optional
        Share of irradiance that the ground reflects, 0 to 1; default 0.2 (common practice, no source); at least 0 and at
        most 1.
    horizon : sequence of HorizonPoint, optional
        Horizon seen from the face, linear between its points: it takes beam irradiance while the sun is below it, and its
        part of the sky's; default [] (an unobstructed horizon); 0 to 360 items.
    shade : FaceShade, optional
        What stands before the sky of the face beside its horizon.
    rear_irradiance_share : float, optional
        Irradiance on the back of the modules over that on the front, 0 to 1; counts for bifacial modules; if left out:
        nothing behind modules close to the roof, 0.05 on open racks; counts for bifacial modules only: common practice, no
        source; at least 0 and at most 1.
    """

    name: str
    tilt_deg: float
    azimuth_deg: float
    module_count: int
    mounting: Literal["close_roof", "open_rack", "insulated_back", "open_rack_faiman"] | None = None
    shading_share: float | None = None
    soiling_share: float | None = None
    albedo: float | None = None
    horizon: Sequence[HorizonPoint | Mapping[str, Any]] | None = None
    shade: FaceShade | Mapping[str, Any] | None = None
    rear_irradiance_share: float | None = None


class Module(Model, frozen=True, kw_only=True):
    """
    A PV module by its datasheet at standard test conditions.

    Attributes
    ----------
    name : str
        Name used in the result.
    power_w : float
        Rated power [W]; at least 20 and at most 1,000.
    voltage_oc_v : float
        Open-circuit voltage [V]; at least 5 and at most 200.
    voltage_mp_v : float
        Voltage at maximum power [V]; at least 4 and at most 180.
    current_sc_a : float
        Short-circuit current [A]; at least 0.5 and at most 40.
    current_mp_a : float
        Current at maximum power [A]; at least 0.4 and at most 38.
    temp_coefficient_voc_percent_per_k : float
        Temperature coefficient of the open-circuit voltage, negative, in percent: -0.25 where a datasheet prints -0.25 %/K
        [%/K]; at least -1 and at most -0.1.
    temp_coefficient_isc_percent_per_k : float
        Temperature coefficient of the short-circuit current, in percent [%/K]; at least -0.1 and at most 0.3.
    temp_coefficient_pmp_percent_per_k : float
        Temperature coefficient of the maximum power, negative, in percent [%/K]; at least -1 and at most -0.1.
    length_m : float
        Length of the longer side [m]; at least 0.2 and at most 3.
    width_m : float
        Length of the shorter side [m]; at least 0.2 and at most 2.
    mass_kg : float
        Mass [kg]; at least 0.5 and at most 80.
    bifaciality : float, optional
        Power from the back over that from the front at the same irradiance, 0 to 1; give it for every bifacial module:
        irradiance on the back adds current; default 0.0 (a module that is not bifacial); at least 0 and at most 1.
    series_fuse_rating_a : float, optional
        Largest fuse in series with the module, for modules in parallel [A]; at least 1 and at most 100.
    half_cut_cells : bool, optional
        Whether the cells are cut in halves, and the two halves of the module are in parallel; counts under shade; default
        true (the usual module).
    bypass_group_count : int, optional
        Bypass diodes, each across a group of cells; counts under shade; default 3 (the usual module); at least 1 and at
        most 6.
    """

    name: str
    power_w: float
    voltage_oc_v: float
    voltage_mp_v: float
    current_sc_a: float
    current_mp_a: float
    temp_coefficient_voc_percent_per_k: float
    temp_coefficient_isc_percent_per_k: float
    temp_coefficient_pmp_percent_per_k: float
    length_m: float
    width_m: float
    mass_kg: float
    bifaciality: float | None = None
    series_fuse_rating_a: float | None = None
    half_cut_cells: bool | None = None
    bypass_group_count: int | None = None


class EfficiencyPoint(Model, frozen=True, kw_only=True):
    """
    One measured efficiency.

    Attributes
    ----------
    load_share : float
        AC output as a share of the rated AC power; at least 0.02 and at most 1.2.
    efficiency_percent : float
        Conversion efficiency [%]; at least 40 and below 100.
    dc_voltage_v : float, optional
        DC voltage of the measurement; give it for every point or for none [V]; above 0 and at most 500.
    """

    load_share: float
    efficiency_percent: float
    dc_voltage_v: float | None = None


class SandiaCurve(Model, frozen=True, kw_only=True):
    """
    Coefficients of the Sandia inverter model (SAND2007-5036), as equipment lists publish them.

    Attributes
    ----------
    ac_power_w_ref : float
        Rated AC power, Paco [W]; above 0 and at most 10,000.
    dc_power_w_ref : float
        DC power at rated AC power, Pdco [W]; above 0 and at most 12,000.
    dc_voltage_v_ref : float
        DC voltage of the reference point, Vdco [V]; above 0 and at most 1,000.
    start_power_w : float
        DC power at which conversion starts, Pso [W]; above 0 and at most 100.
    c0_per_w : float
        Curvature, C0 [1/W]; at least -0.01 and at most 0.01.
    c1_per_v : float
        Voltage dependence of Pdco, C1 [1/V]; at least -0.1 and at most 0.1.
    c2_per_v : float
        Voltage dependence of Pso, C2 [1/V]; at least -1 and at most 1.
    c3_per_v : float
        Voltage dependence of C0, C3 [1/V]; at least -2 and at most 2.
    """

    ac_power_w_ref: float
    dc_power_w_ref: float
    dc_voltage_v_ref: float
    start_power_w: float
    c0_per_w: float
    c1_per_v: float
    c2_per_v: float
    c3_per_v: float


class Derating(Model, frozen=True, kw_only=True):
    """
    Thermal derating of the AC limit.

    Attributes
    ----------
    start_temp_c : float
        Air temperature at the unit above which derating starts [degC]; at least 0 and at most 100.
    percent_per_k : float
        Reduction of the AC limit for each kelvin above start_temp_c [%/K]; above 0 and at most 100.
    shutdown_temp_c : float
        Air temperature at the unit above which it shuts down [degC]; at least 0 and at most 120.
    """

    start_temp_c: float
    percent_per_k: float
    shutdown_temp_c: float


class Microinverter(Model, frozen=True, kw_only=True):
    """
    A microinverter by its datasheet. Give exactly one of the four descriptions of its efficiency.

    Attributes
    ----------
    name : str
        Name used in the result; unique among the candidates.
    ac_power_w : float
        Rated continuous AC power of the whole unit [W]; at least 50 and at most 5,000.
    ac_peak_power_w : float, optional
        AC power of the whole unit for some minutes, if its maker states one: the AC limit during irradiance surges between
        clouds [W]; if left out: as ac_power_w; at least 50 and at most 6,000.
    ac_voltage_v : float, optional
        Nominal AC voltage [V]; if left out: the nominal voltage of its circuits; at least 100 and at most 480.
    ac_phase_count : int, optional
        Phases that the unit feeds: 1 or 3; default 1 (a single-phase unit); at least 1 and at most 3.
    ac_current_a : float, optional
        Rated AC current, in each of its phases [A]; if left out: ac_power_w over the nominal voltage of its circuits, power
        factor one; at least 0.1 and at most 30.
    dc_voltage_max_v : float
        Absolute maximum DC voltage of an input [V]; at least 10 and at most 500.
    dc_operating_voltage_min_v : float
        Lowest operating voltage [V]; at least 5 and at most 400.
    dc_operating_voltage_max_v : float
        Highest operating voltage [V]; at least 6 and at most 500.
    dc_full_power_voltage_min_v : float, optional
        Lowest voltage of the full-power window [V]; if left out: as dc_operating_voltage_min_v; at least 5 and at most 400.
    dc_full_power_voltage_max_v : float, optional
        Highest voltage of the full-power window [V]; if left out: as dc_operating_voltage_max_v; at least 6 and at most
        500.
    dc_start_voltage_v : float
        DC voltage at which the unit starts [V]; at least 5 and at most 400.
    dc_current_max_a : float
        Highest operating current of an input [A]; at least 1 and at most 60.
    dc_short_circuit_current_max_a : float
        Short-circuit rating of an input [A]; at least 1 and at most 100.
    input_count : int, optional
        Inputs, each with its own maximum power point tracking; default 1 (a unit for one module); at least 1 and at most 8.
    modules_per_input_max : int, optional
        Most modules on an input, in series or in parallel, as its maker allows; default 1 (a unit for one module); at least
        1 and at most 4.
    cec_efficiency_percent : float, optional
        Efficiency with CEC weights [%]; at least 70 and at most 99.5.
    european_efficiency_percent : float, optional
        Efficiency with European weights [%]; at least 70 and at most 99.5.
    efficiency_points : sequence of EfficiencyPoint, optional
        Measured efficiencies, at three or more load shares; 3 to 100 items.
    sandia_curve : SandiaCurve, optional
        Coefficients of the Sandia model.
    start_power_w : float, optional
        DC power at which the unit starts [W]; if left out: the DC power at which its conversion curve begins to give
        output; at least 0 and at most 100.
    shade_tracker : {"global", "local"}, optional
        Which maximum the tracker holds of a partly shaded module: the highest (global), or the one at the highest voltage
        (local); default "global" (the usual tracker of microinverters; its datasheet tells).
    night_draw_w : float, optional
        Power that the unit draws from the grid while it delivers none [W]; default 0.05 (common practice, no source); at
        least 0 and at most 10.
    derating : Derating, optional
        Thermal derating of the AC limit; none is modelled if left out.
    mass_kg : float
        Mass [kg]; at least 0.1 and at most 50.
    """

    name: str
    ac_power_w: float
    dc_voltage_max_v: float
    dc_operating_voltage_min_v: float
    dc_operating_voltage_max_v: float
    dc_start_voltage_v: float
    dc_current_max_a: float
    dc_short_circuit_current_max_a: float
    mass_kg: float
    ac_peak_power_w: float | None = None
    ac_voltage_v: float | None = None
    ac_phase_count: int | None = None
    ac_current_a: float | None = None
    dc_full_power_voltage_min_v: float | None = None
    dc_full_power_voltage_max_v: float | None = None
    input_count: int | None = None
    modules_per_input_max: int | None = None
    cec_efficiency_percent: float | None = None
    european_efficiency_percent: float | None = None
    efficiency_points: Sequence[EfficiencyPoint | Mapping[str, Any]] | None = None
    sandia_curve: SandiaCurve | Mapping[str, Any] | None = None
    start_power_w: float | None = None
    shade_tracker: Literal["global", "local"] | None = None
    night_draw_w: float | None = None
    derating: Derating | Mapping[str, Any] | None = None


class SiteClimateRequest(Model, frozen=True, kw_only=True):
    """
    A site, and the faces, module and microinverters to describe there.

    Attributes
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
    """

    site: Site | Mapping[str, Any]
    weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Mapping[str, Any] | None = None
    faces: Sequence[Face | Mapping[str, Any]] | None = None
    module: Module | Mapping[str, Any] | None = None
    microinverters: Sequence[Microinverter | Mapping[str, Any]] | None = None
    transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None


class Assumption(Model, frozen=True, kw_only=True):
    """
    An input that the request left out, and the value used for it.

    Attributes
    ----------
    name : str
        Path of the field in the request, without list indexes.
    value : object
        Value used; null where it follows from other fields.
    unit : str or None
        Unit of the value, if it has one.
    source : str
        Where the value comes from.
    """

    name: str
    value: Any
    unit: str | None
    source: str


class Caution(Model, frozen=True, kw_only=True):
    """
    One sentence that must stay with the result, for one reader.

    Attributes
    ----------
    code : str
        Stable name of the caution.
    reader : {"customer", "electrician", "office", "seller"}
        Whom it is for: the electrician orders, builds and tests; the office plans and settles the papers; what is for the
        seller is for no customer.
    task : {"order", "estimate", "roof", "dc", "ac", "connection", "commissioning"}
        The work at which it counts.
    text : str
        The sentence.
    """

    code: str
    reader: Literal["customer", "electrician", "office", "seller"]
    task: Literal["order", "estimate", "roof", "dc", "ac", "connection", "commissioning"]
    text: str


class Method(Model, frozen=True, kw_only=True):
    """
    A model that was used.

    Attributes
    ----------
    name : str
        Name of the model.
    version : str
        Version of its implementation here.
    source : str
        Published source.
    """

    name: str
    version: str
    source: str


class StationUsed(Model, frozen=True, kw_only=True):
    """
    A weather file of the operator's folder.

    Attributes
    ----------
    name : str
        Name of the file.
    distance_km : float
        Distance from the site [km].
    height_difference_m : float
        Elevation of the station minus that of the site [m].
    """

    name: str
    distance_km: float
    height_difference_m: float


class ClimateUsed(Model, frozen=True, kw_only=True):
    """
    Where the year's weather comes from.

    Attributes
    ----------
    kind : {"climate", "monthly", "station", "hourly", "file"}
        Kind of weather.
    source : str
        Source of the weather, in words.
    elevation_m : float
        Elevation used for the site [m].
    level_error_share : float or None
        Standard error of its mean yearly irradiation, as a share, 0 to 1; null where unknown.
    station : StationUsed or None
        The file used; null without one.
    """

    kind: Literal["climate", "monthly", "station", "hourly", "file"]
    source: str
    elevation_m: float
    level_error_share: float | None
    station: StationUsed | None


class Range(Figures, frozen=True, kw_only=True):
    """
    A value and its expected range.

    Attributes
    ----------
    value : float
        The value.
    low : float
        Lower end of the range.
    high : float
        Upper end of the range.
    covers : str
        What the range covers, and what it leaves out.
    """

    value: float
    low: float
    high: float
    covers: str


class HorizontalClimate(Model, frozen=True, kw_only=True):
    """
    Irradiation on the horizontal, and air temperature.

    Attributes
    ----------
    ghi_kwh_m2_by_month : sequence of float
        Global horizontal irradiation, January to December [kWh/m2].
    ghi_kwh_m2 : Range
        Yearly global horizontal irradiation, with the range of single years [kWh/m2].
    diffuse_share : float
        Diffuse share of the yearly global horizontal irradiation, 0 to 1.
    temp_air_c_by_month : sequence of float
        Mean air temperature, January to December [degC].
    """

    ghi_kwh_m2_by_month: tuple[float, ...]
    ghi_kwh_m2: Range
    diffuse_share: float
    temp_air_c_by_month: tuple[float, ...]


class DesignTemperatures(Figures, frozen=True, kw_only=True):
    """
    Lowest and highest air temperature to design for.

    Attributes
    ----------
    lowest_c : float
        Lowest expected air temperature [degC].
    lowest_source : str
        Source of the value.
    lowest_estimated : bool
        True where neither the request nor a station within 50 km tells the lowest: it comes from a map, a typical year or a
        region's custom.
    mean_yearly_lowest_c : float or None
        Mean of the yearly minima that the weather file of the nearest station publishes, as some codes define the lowest;
        null where none does [degC].
    highest_c : float
        Highest expected air temperature [degC].
    highest_source : str
        Source of the value.
    """

    lowest_c: float
    lowest_source: str
    lowest_estimated: bool
    mean_yearly_lowest_c: float | None
    highest_c: float
    highest_source: str


class RatioAtIrradiance(Model, frozen=True, kw_only=True):
    """
    DC/AC ratio of one microinverter at a season's irradiance.

    Attributes
    ----------
    microinverter : str
        Name of the microinverter.
    dc_ac_ratio : float
        Module power at that irradiance over the AC limit per module.
    """

    microinverter: str
    dc_ac_ratio: float


class SeasonIrradiation(Model, frozen=True, kw_only=True):
    """
    Irradiation of a season, and its energy-weighted irradiance.

    Attributes
    ----------
    season : str, one of the words of its type
        The season, by its months, or the year.
    poa_kwh_m2 : float
        Plane-of-array irradiation in the season [kWh/m2].
    irradiance_w_m2 : float
        Energy-weighted mean of the plane-of-array irradiance [W/m2].
    temp_cell_c : float or None
        Irradiance-weighted cell temperature; null without a module or without irradiation [degC].
    module_power_w : float or None
        DC power of the module at that irradiance and temperature; null in the same cases [W].
    ratios : sequence of RatioAtIrradiance
        The microinverters, in the order of the request.
    """

    season: Literal["year", "december_to_february", "march_to_may", "june_to_august", "september_to_november"]
    poa_kwh_m2: float
    irradiance_w_m2: float
    temp_cell_c: float | None
    module_power_w: float | None
    ratios: tuple[RatioAtIrradiance, ...]


class FaceClimate(Model, frozen=True, kw_only=True):
    """
    Irradiation of one face.

    Attributes
    ----------
    face : str
        Name of the face.
    poa_kwh_m2_by_month : sequence of float
        Plane-of-array irradiation, January to December [kWh/m2].
    poa_kwh_m2 : Range
        Yearly plane-of-array irradiation, with the range of single years [kWh/m2].
    level_lower_edges_w_m2 : sequence of float
        Lower edges of the irradiance levels [W/m2].
    energy_share_by_level : sequence of float
        Share of the yearly irradiation at each irradiance level, 0 to 1 [1].
    seasons : sequence of SeasonIrradiation
        The year, then its seasons.
    """

    face: str
    poa_kwh_m2_by_month: tuple[float, ...]
    poa_kwh_m2: Range
    level_lower_edges_w_m2: tuple[float, ...]
    energy_share_by_level: tuple[float, ...]
    seasons: tuple[SeasonIrradiation, ...]


class SiteClimateResult(Model, frozen=True, kw_only=True):
    """
    Irradiation, temperatures and turbidity of a site.

    Attributes
    ----------
    assumptions : sequence of Assumption
        Inputs that the request left out.
    cautions : sequence of Caution
        What must stay with the result.
    method : sequence of Method
        Models used.
    climate : ClimateUsed
        Where the year's weather comes from.
    horizontal : HorizontalClimate
        Irradiation on the horizontal, and air temperature.
    linke_turbidity_by_month : sequence of float or None
        Linke turbidity, January to December; null where the maps have no data.
    design_temperatures : DesignTemperatures
        Temperatures to design for.
    nearest_station : StationUsed or None
        Nearest usable file of the operator's folder within its limit; null where there is none.
    faces : sequence of FaceClimate
        The faces, in the order of the request.
    """

    assumptions: tuple[Assumption, ...]
    cautions: tuple[Caution, ...]
    method: tuple[Method, ...]
    climate: ClimateUsed
    horizontal: HorizontalClimate
    linke_turbidity_by_month: tuple[float, ...] | None
    design_temperatures: DesignTemperatures
    nearest_station: StationUsed | None
    faces: tuple[FaceClimate, ...]
    to_frame = tables.climate
    seasons_to_frame = tables.seasons
    levels_to_frame = tables.levels


class SizingRequest(Model, frozen=True, kw_only=True):
    """
    One module, its candidate microinverters and the site.

    Attributes
    ----------
    modules_per_input : int, optional
        Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
    wiring : {"series", "parallel"}, optional
        Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
        series unless given; no difference with one module on each input).
    site : Site
        Where the building stands.
    module : Module
        The module.
    microinverters : sequence of Microinverter
        The candidates; 1 to 64 items.
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
    """

    site: Site | Mapping[str, Any]
    module: Module | Mapping[str, Any]
    microinverters: Sequence[Microinverter | Mapping[str, Any]]
    modules_per_input: int | None = None
    wiring: Literal["series", "parallel"] | None = None
    mounting: Literal["close_roof", "open_rack", "insulated_back", "open_rack_faiman"] | None = None
    region: str | None = None
    cold_voltage_method: Literal["module_coefficient", "code_table"] | None = None
    faces: Sequence[Face | Mapping[str, Any]] | None = None
    weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Mapping[str, Any] | None = None
    transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None


class Check(Figures, frozen=True, kw_only=True):
    """
    One electrical check.

    Attributes
    ----------
    name : str
        Name of the check.
    face : str or None
        Name of the face that it is for; null for the pairing.
    value : float
        Computed value, in `unit`.
    limit : float or None
        Limit of the check, in `unit`; null where there is none.
    unit : str
        Unit of value, limit and margin.
    margin : float or None
        Distance to the limit, positive on the safe side; null where there is none.
    verdict : {"ok", "caution", "fail"}
        Verdict.
    source : str
        Source of the value or the limit.
    explanation : str
        What is compared, and why.
    """

    name: str
    face: str | None
    value: float
    limit: float | None
    unit: str
    margin: float | None
    verdict: Literal["ok", "caution", "fail"]
    source: str
    explanation: str


class PairingSizing(Model, frozen=True, kw_only=True):
    """
    One pairing.

    Attributes
    ----------
    microinverter : str
        Name of the microinverter.
    verdict : {"ok", "caution", "fail"}
        Worst verdict of the checks.
    checks : sequence of Check
        The checks, the most severe verdict first.
    """

    microinverter: str
    verdict: Literal["ok", "caution", "fail"]
    checks: tuple[Check, ...]


class SizingResult(Model, frozen=True, kw_only=True):
    """
    Checks of every pairing.

    Attributes
    ----------
    assumptions : sequence of Assumption
        Inputs that the request left out.
    cautions : sequence of Caution
        What must stay with the result.
    method : sequence of Method
        Models used.
    module : str
        Name of the module.
    place : str
        Country or area whose rules were applied.
    edition : str
        Edition of these rules.
    design_temperatures : DesignTemperatures
        Design temperatures of the checks.
    pairings : sequence of PairingSizing
        The pairings, in the order of the request.
    """

    assumptions: tuple[Assumption, ...]
    cautions: tuple[Caution, ...]
    method: tuple[Method, ...]
    module: str
    place: str
    edition: str
    design_temperatures: DesignTemperatures
    pairings: tuple[PairingSizing, ...]
    to_frame = tables.checks


class Surroundings(Model, frozen=True, kw_only=True):
    """
    What stands around the building, for all faces: metres are counted from one point of the site.

    Attributes
    ----------
    horizon : sequence of HorizonPoint, optional
        Horizon of the site, linear between its points; for each face that has none of its own; default [] (an unobstructed
        horizon); 0 to 360 items.
    buildings : sequence of Building, optional
        Buildings; 0 to 24 items.
    trees : sequence of Tree, optional
        Trees; 0 to 24 items.
    """

    horizon: Sequence[HorizonPoint | Mapping[str, Any]] | None = None
    buildings: Sequence[Building | Mapping[str, Any]] | None = None
    trees: Sequence[Tree | Mapping[str, Any]] | None = None


class ClippingRequest(Model, frozen=True, kw_only=True):
    """
    Faces with one module, and the microinverters to compare.

    Attributes
    ----------
    modules_per_input : int, optional
        Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
    wiring : {"series", "parallel"}, optional
        Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
        series unless given; no difference with one module on each input).
    site : Site
        Where the building stands.
    weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
        The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
        of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
    module : Module
        The module.
    microinverters : sequence of Microinverter
        The candidates; 1 to 64 items.
    faces : sequence of Face
        The faces of the roof; 1 to 16 items.
    degradation_percent_per_year : float, optional
        Power that the module loses from each year to the next, compounding [%]; default 0.5 (median of some 2000 rates,
        Jordan and Kurtz 2013, 10.1002/pip.1182); at least 0 and at most 5.
    surroundings : Surroundings, optional
        What stands around the building, for all faces.
    transposition : {"perez_1990", "hay_davies_1980", "isotropic"}, optional
        Transposition model: gives plane-of-array irradiance from horizontal irradiance; default "perez_1990" (the most
        widely validated of the three).
    """

    site: Site | Mapping[str, Any]
    module: Module | Mapping[str, Any]
    microinverters: Sequence[Microinverter | Mapping[str, Any]]
    faces: Sequence[Face | Mapping[str, Any]]
    modules_per_input: int | None = None
    wiring: Literal["series", "parallel"] | None = None
    weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Mapping[str, Any] | None = None
    degradation_percent_per_year: float | None = None
    surroundings: Surroundings | Mapping[str, Any] | None = None
    transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None


class SubhourlyUsed(Model, frozen=True, kw_only=True):
    """
    Subhourly variability that was used.

    Attributes
    ----------
    origin : str, one of the words of its type
        How the irradiance was obtained.
    variability_factor : float
        Subhourly variability that was added, over what hourly means of measured irradiance lack: below 1 for snapshots,
        which contain some of it, above 1 for irradiance that is smoother than hourly means.
    linke_turbidity : float
        Mean Linke turbidity of the clear-sky model.
    turbidity_from_hours_share : float
        Share of hours whose turbidity follows from their own irradiance, 0 to 1.
    """

    origin: Literal[
        "measured_hourly",
        "measured_global_only",
        "satellite_15_min",
        "satellite_30_min",
        "satellite_60_min",
        "reanalysis",
        "representative_days",
    ]
    variability_factor: float
    linke_turbidity: float
    turbidity_from_hours_share: float


class FaceIrradiation(Model, frozen=True, kw_only=True):
    """
    Irradiation of a face.

    Attributes
    ----------
    poa_kwh_m2 : float
        Yearly plane-of-array irradiation [kWh/m2].
    poa_kwh_m2_by_month : sequence of float
        Plane-of-array irradiation, January to December [kWh/m2].
    effective_irradiation_kwh_m2 : float
        Yearly irradiation that reaches the cells after shading_share, soiling and reflection, without horizon and shade
        [kWh/m2].
    energy_weighted_irradiance_w_m2 : float
        Energy-weighted mean irradiance of the year [W/m2].
    """

    poa_kwh_m2: float
    poa_kwh_m2_by_month: tuple[float, ...]
    effective_irradiation_kwh_m2: float
    energy_weighted_irradiance_w_m2: float


class ShadeOfModule(Model, frozen=True, kw_only=True):
    """
    What shade takes of one module.

    Attributes
    ----------
    module_number : int
        Number of the module, from 1, in the order of its places or its layout.
    x_m : float
        Lower left corner, along the eaves [m].
    y_m : float
        Lower left corner, up the slope [m].
    unshaded_kwh : float
        DC energy of a year without shade [kWh].
    loss_kwh : float
        What shade takes of it [kWh].
    loss_share : float
        The same as a share, 0 to 1.
    loss_kwh_by_month : sequence of float
        The same in January to December [kWh].
    """

    module_number: int
    x_m: float
    y_m: float
    unshaded_kwh: float
    loss_kwh: float
    loss_share: float
    loss_kwh_by_month: tuple[float, ...]


class ShadeOfFace(Model, frozen=True, kw_only=True):
    """
    What shade takes of a face before any microinverter.

    Attributes
    ----------
    unshaded_kwh : float
        DC energy of all modules in a year without shade [kWh].
    loss_share : Range
        Share of it that shade takes, 0 to 1, with the range by tolerances of distances and heights.
    loss_kwh_by_month : sequence of float
        What shade takes of all modules, January to December [kWh].
    modules : sequence of ShadeOfModule
        Each module; empty where all of them are shaded alike.
    """

    unshaded_kwh: float
    loss_share: Range
    loss_kwh_by_month: tuple[float, ...]
    modules: tuple[ShadeOfModule, ...]


class Balance(Figures, frozen=True, kw_only=True):
    """
    An energy balance: `unshaded_kwh` minus all losses is `delivered_kwh`; `available_kwh` is what shade leaves of it.

    Attributes
    ----------
    unshaded_kwh : float
        At the maximum power point of the module, without shade by horizon and objects [kWh].
    shade_irradiance_kwh : float
        Lost because shade takes irradiance, as if power went with it [kWh].
    shade_mismatch_kwh : float
        Lost because cells and modules in series carry one current, and shaded groups are bypassed [kWh].
    available_kwh : float
        At the highest maximum power point of the module [kWh].
    tracker_kwh : float
        Lost because a local tracker stays off the highest maximum [kWh].
    start_up_kwh : float
        Lost because the voltage or power was too low to start [kWh].
    voltage_window_kwh : float
        Lost because the operating window kept the module off its maximum power point [kWh].
    input_current_limit_kwh : float
        Lost because the input current was at its limit [kWh].
    conversion_kwh : float
        Lost in conversion, before clipping [kWh].
    clipping_kwh : float
        Lost because AC output was at its limit [kWh].
    thermal_derating_kwh : float
        Lost because heat lowered the AC limit further [kWh].
    night_draw_kwh : float
        Drawn from the grid while delivering nothing [kWh].
    delivered_kwh : float
        Delivered to the AC side, net of the night draw [kWh].
    """

    unshaded_kwh: float
    shade_irradiance_kwh: float
    shade_mismatch_kwh: float
    available_kwh: float
    tracker_kwh: float
    start_up_kwh: float
    voltage_window_kwh: float
    input_current_limit_kwh: float
    conversion_kwh: float
    clipping_kwh: float
    thermal_derating_kwh: float
    night_draw_kwh: float
    delivered_kwh: float


class Duration(Model, frozen=True, kw_only=True):
    """
    Power duration curve before the AC limit, for one module.

    Attributes
    ----------
    ac_power_w : sequence of float
        Levels of AC power, rising from zero [W].
    hours_h : sequence of float
        Hours of the year with at least that power [h].
    """

    ac_power_w: tuple[float, ...]
    hours_h: tuple[float, ...]
    to_frame = tables.duration


class AgedYear(Model, frozen=True, kw_only=True):
    """
    One year of the module's life.

    Attributes
    ----------
    year : int
        Year of the module's life, from 1.
    remaining_share : float
        Module power over that of the first year, 0 to 1.
    clipped_share : float
        Clipping as a share of the AC energy without a limit, 0 to 1.
    delivered_kwh : float
        Delivered to the AC side, net of the night draw [kWh].
    """

    year: int
    remaining_share: float
    clipped_share: float
    delivered_kwh: float


class PairingYear(Model, frozen=True, kw_only=True):
    """
    A year of one module with one microinverter.

    Attributes
    ----------
    year : Balance
        The year.
    months : sequence of Balance
        January to December.
    clipped_hours_h : float
        Hours at the AC limit [h].
    clipped_kwh_by_month_hour : sequence of sequence of float
        Clipped energy: 12 months of 24 hours of the day in standard time [kWh].
    duration : Duration
        Power duration curve, to compare with the AC limit.
    ageing : sequence of AgedYear
        Years 1, 10 and 25 of the module's life.
    """

    year: Balance
    months: tuple[Balance, ...]
    clipped_hours_h: float
    clipped_kwh_by_month_hour: tuple[tuple[float, ...], ...]
    duration: Duration
    ageing: tuple[AgedYear, ...]
    months_to_frame = tables.months
    clipping_to_frame = tables.clipped_by_hour


class PairingClipping(Model, frozen=True, kw_only=True):
    """
    One microinverter on a face.

    Attributes
    ----------
    microinverter : str
        Name of the microinverter.
    ac_limit_per_module_w : float
        AC limit per module of a full unit [W].
    clipped_share : Range
        Clipping as a share of the AC energy without a limit, 0 to 1, with subhourly variability.
    clipped_share_hourly_means : float
        The same from hourly means, without subhourly variability.
    per_module : PairingYear
        Energy of one module.
    """

    microinverter: str
    ac_limit_per_module_w: float
    clipped_share: Range
    clipped_share_hourly_means: float
    per_module: PairingYear


class FaceClipping(Model, frozen=True, kw_only=True):
    """
    One face with every microinverter.

    Attributes
    ----------
    face : str
        Name of the face.
    module_count : int
        Modules on the face.
    irradiation : FaceIrradiation
        Irradiation of the face.
    shade : ShadeOfFace or None
        What shade takes; null where nothing stands before the sky.
    pairings : sequence of PairingClipping
        The microinverters, in the order of the request.
    """

    face: str
    module_count: int
    irradiation: FaceIrradiation
    shade: ShadeOfFace | None
    pairings: tuple[PairingClipping, ...]


class RoofTotal(Model, frozen=True, kw_only=True):
    """
    All faces with the same microinverter.

    Attributes
    ----------
    microinverter : str
        Name of the microinverter.
    balance : Balance
        Energy of all modules.
    delivered_range_kwh : Range
        Delivered energy of a single year with its range [kWh].
    clipped_share : Range
        Clipping as a share of the AC energy without a limit, 0 to 1, with subhourly variability.
    clipped_share_hourly_means : float
        The same from hourly means, without subhourly variability.
    ageing : sequence of AgedYear
        Years 1, 10 and 25 of the modules' life, of the whole roof.
    specific_yield_kwh_per_kwp : float
        Delivered energy per kilowatt of module power [kWh/kWp].
    """

    microinverter: str
    balance: Balance
    delivered_range_kwh: Range
    clipped_share: Range
    clipped_share_hourly_means: float
    ageing: tuple[AgedYear, ...]
    specific_yield_kwh_per_kwp: float


class ClippingResult(Model, frozen=True, kw_only=True):
    """
    Energy of each face and of the roof.

    Attributes
    ----------
    assumptions : sequence of Assumption
        Inputs that the request left out.
    cautions : sequence of Caution
        What must stay with the result.
    method : sequence of Method
        Models used.
    module : str
        Name of the module.
    climate : ClimateUsed
        Where the year's weather comes from.
    subhourly : SubhourlyUsed
        Subhourly variability that was used.
    ghi_kwh_m2 : float
        Yearly global horizontal irradiation [kWh/m2].
    faces : sequence of FaceClipping
        The faces, in the order of the request.
    totals : sequence of RoofTotal
        The whole roof for each microinverter, in the order of the request.
    """

    assumptions: tuple[Assumption, ...]
    cautions: tuple[Caution, ...]
    method: tuple[Method, ...]
    module: str
    climate: ClimateUsed
    subhourly: SubhourlyUsed
    ghi_kwh_m2: float
    faces: tuple[FaceClipping, ...]
    totals: tuple[RoofTotal, ...]
    to_frame = tables.years_of_a_module
    months_to_frame = tables.months_of_a_module
    totals_to_frame = tables.totals
    ageing_to_frame = tables.ageing


class ModuleOffer(Model, frozen=True, kw_only=True):
    """
    A module and its price.

    Attributes
    ----------
    module : Module
        The module.
    price : float, optional
        Price of one module; needed to compare several modules; at least 0 and at most 1,000,000.
    currency : str, optional
        Currency of the price, ISO 4217, such as EUR; all currencies of a request must be the same; if left out: one
        currency for every price of the request.
    """

    module: Module | Mapping[str, Any]
    price: float | None = None
    currency: str | None = None


class Obstacle(Model, frozen=True, kw_only=True, tag_field="kind", tag="fails"):
    """
    Why a system cannot be built.

    Attributes
    ----------
    reason : str
        The reason, in words.
    """

    reason: str


class SystemTerms(Model, frozen=True, kw_only=True):
    """
    What the whole system with a candidate needs beside modules and units.

    Attributes
    ----------
    balance_of_plant : float, optional
        Price of all parts beside modules and units: circuits, cables, devices, boards, mounting; for every candidate that
        can be built, or for none; at least 0 and at most 1,000,000.
    unpriced_roles : sequence of str, one of the words of its type, optional
        Roles left out of the balance of plant for every candidate, as a part has no price for one candidate; there is then
        no payback; default [] (all parts have a price); 0 to 51 items.
    differing_roles : sequence of str, one of the words of its type, optional
        Roles without a price whose parts differ between the candidates: the recommendation then depends on it; 0 to 51
        items.
    rated_cable_share : float, optional
        Share of the rated power that the AC cables take at that power; at least 0 and at most 1.
    connection_procedure : str, optional
        Name of the grid connection procedure.
    needs_agreement : bool, optional
        Whether the network operator has to agree before the system is switched on; default false (a notification is
        enough).
    connection_cost : float, optional
        Cost of the grid connection procedure with what the wait for it costs; if left out it counts as 0; at least 0 and at
        most 1,000,000.
    obstacle : Obstacle, optional
        Why the system cannot be built.
    """

    balance_of_plant: float | None = None
    unpriced_roles: (
        Sequence[
            Literal[
                "module",
                "microinverter",
                "rail",
                "rail_splice",
                "rail_end_cap",
                "roof_attachment",
                "attachment_screw",
                "flashing",
                "end_clamp",
                "mid_clamp",
                "unit_fixing",
                "bonding_jumper",
                "earth_lug",
                "cable_clip",
                "dc_extension_leads",
                "dc_branch_connectors",
                "dc_input_cap",
                "trunk_joint",
                "trunk_extension_cable",
                "trunk_cable_section",
                "trunk_cable",
                "trunk_connector",
                "trunk_spare_drop",
                "trunk_drop_cap",
                "trunk_end_cap",
                "junction_box",
                "roof_cable_entry",
                "home_run_cable",
                "branch_circuit_protective_device",
                "circuit_label",
                "sub_board",
                "system_circuit_breaker",
                "residual_current_device",
                "system_cable",
                "supply_cable",
                "ac_isolator",
                "surge_protective_device",
                "generation_meter",
                "bonding_conductor",
                "communication_gateway",
                "current_transformer_production",
                "current_transformer_grid",
                "backup_isolating_device",
                "backup_controller",
                "backup_label",
                "grid_forming_source",
                "system_label",
                "disconnect_tool",
                "microinverter_spare",
                "commissioning_document",
                "network_operator_document",
            ]
        ]
        | None
    ) = None
    differing_roles: (
        Sequence[
            Literal[
                "module",
                "microinverter",
                "rail",
                "rail_splice",
                "rail_end_cap",
                "roof_attachment",
                "attachment_screw",
                "flashing",
                "end_clamp",
                "mid_clamp",
                "unit_fixing",
                "bonding_jumper",
                "earth_lug",
                "cable_clip",
                "dc_extension_leads",
                "dc_branch_connectors",
                "dc_input_cap",
                "trunk_joint",
                "trunk_extension_cable",
                "trunk_cable_section",
                "trunk_cable",
                "trunk_connector",
                "trunk_spare_drop",
                "trunk_drop_cap",
                "trunk_end_cap",
                "junction_box",
                "roof_cable_entry",
                "home_run_cable",
                "branch_circuit_protective_device",
                "circuit_label",
                "sub_board",
                "system_circuit_breaker",
                "residual_current_device",
                "system_cable",
                "supply_cable",
                "ac_isolator",
                "surge_protective_device",
                "generation_meter",
                "bonding_conductor",
                "communication_gateway",
                "current_transformer_production",
                "current_transformer_grid",
                "backup_isolating_device",
                "backup_controller",
                "backup_label",
                "grid_forming_source",
                "system_label",
                "disconnect_tool",
                "microinverter_spare",
                "commissioning_document",
                "network_operator_document",
            ]
        ]
        | None
    ) = None
    rated_cable_share: float | None = None
    connection_procedure: str | None = None
    needs_agreement: bool | None = None
    connection_cost: float | None = None
    obstacle: Obstacle | Mapping[str, Any] | None = None


class Candidate(Model, frozen=True, kw_only=True):
    """
    A microinverter on offer.

    Attributes
    ----------
    microinverter : Microinverter
        The microinverter.
    price : float, optional
        Price of one unit; if any is missing, candidates are ranked by energy; at least 0 and at most 1,000,000.
    currency : str, optional
        Currency of the price, ISO 4217, such as EUR; all currencies of a request must be the same; if left out: one
        currency for every price of the request.
    warranty_years : int, optional
        Years in which a failed unit is replaced free of charge, labour aside; default 10 (common practice, no source); at
        least 0 and at most 40.
    failure_percent_per_year : float, optional
        Share of the units that fails each year; if left out, results show a band from 0.02 to 0.5 %, as no independent rate
        is published [%]; at least 0 and at most 20.
    system : SystemTerms, optional
        The whole system with this candidate; a design computes from its circuits and price book what is left out here.
    """

    microinverter: Microinverter | Mapping[str, Any]
    price: float | None = None
    currency: str | None = None
    warranty_years: int | None = None
    failure_percent_per_year: float | None = None
    system: SystemTerms | Mapping[str, Any] | None = None


class ImportBand(Model, frozen=True, kw_only=True):
    """
    A price of imported energy in some hours of the day.

    Attributes
    ----------
    from_hour : int
        First hour of the band in standard time: 7 is from 7:00; at least 0 and at most 23.
    to_hour : int
        End of the band: 23 is up to 23:00; not above from_hour where it goes past midnight; at least 0 and at most 24.
    months : sequence of int, optional
        Months of the band; if left out, all; 1 to 12 items; each at least 1 and at most 12.
    days : {"every", "weekdays", "weekend"}, optional
        Days of the band; if left out, every day. Hours past midnight are those of the same days.
    price_per_kwh : float
        Price of imported energy in the first year; at least 0 and at most 1,000.
    """

    from_hour: int
    to_hour: int
    price_per_kwh: float
    months: Sequence[int] | None = None
    days: Literal["every", "weekdays", "weekend"] | None = None


class ExportBand(Model, frozen=True, kw_only=True):
    """
    A price of exported energy in some hours of the day.

    Attributes
    ----------
    from_hour : int
        First hour of the band in standard time: 7 is from 7:00; at least 0 and at most 23.
    to_hour : int
        End of the band: 23 is up to 23:00; not above from_hour where it goes past midnight; at least 0 and at most 24.
    months : sequence of int, optional
        Months of the band; if left out, all; 1 to 12 items; each at least 1 and at most 12.
    days : {"every", "weekdays", "weekend"}, optional
        Days of the band; if left out, every day. Hours past midnight are those of the same days.
    price_per_kwh : float
        Price of exported energy in the first year; negative where exporting costs money; at least -1,000 and at most 1,000.
    """

    from_hour: int
    to_hour: int
    price_per_kwh: float
    months: Sequence[int] | None = None
    days: Literal["every", "weekdays", "weekend"] | None = None


class Tariff(Model, frozen=True, kw_only=True):
    """
    Energy prices: one for every hour, or bands of hours.

    Attributes
    ----------
    import_price_per_kwh : float, optional
        Price of imported energy in the first year; or give import_price_bands; at least 0 and at most 1,000.
    import_price_bands : sequence of ImportBand, optional
        Price of imported energy by bands of hours, in place of one price; each hour of each month and kind of day must be
        in exactly one band; 1 to 96 items.
    export_price_per_kwh : float, optional
        Price of exported energy in the first year, negative where exporting costs money; or give export_price_bands; at
        least -1,000 and at most 1,000.
    export_price_bands : sequence of ExportBand, optional
        Price of exported energy by bands of hours, in place of one price; each hour of each month and kind of day must be
        in exactly one band; 1 to 96 items.
    price_change_percent_per_year : float, optional
        Change of all prices from each year to the next, compounding [%]; default 0.0 (prices of today, so that
        discount_rate_percent is a real rate); at least -20 and at most 20.
    currency : str, optional
        Currency of both prices, ISO 4217, such as EUR; all currencies of a request must be the same; if left out: one
        currency for every price of the request.
    """

    import_price_per_kwh: float | None = None
    import_price_bands: Sequence[ImportBand | Mapping[str, Any]] | None = None
    export_price_per_kwh: float | None = None
    export_price_bands: Sequence[ExportBand | Mapping[str, Any]] | None = None
    price_change_percent_per_year: float | None = None
    currency: str | None = None


class StringInverter(Model, frozen=True, kw_only=True):
    """
    A string inverter by its datasheet; its trackers are alike.

    Attributes
    ----------
    name : str
        Name used in the result.
    ac_power_w : float
        Continuous AC power [W]; at least 300 and at most 100,000.
    ac_voltage_v : float, optional
        Nominal AC voltage, from conductor to neutral where it feeds three phases [V]; default 230.0 (common practice, no
        source); at least 100 and at most 480.
    ac_phase_count : int, optional
        Phases that it feeds: 1 or 3; default 1 (a single-phase unit); at least 1 and at most 3.
    dc_voltage_max_v : float
        Absolute maximum DC voltage [V]; at least 60 and at most 1,500.
    tracker_count : int
        Maximum power point trackers, each with one string; at least 1 and at most 12.
    tracker_voltage_min_v : float
        Lowest operating voltage of a tracker [V]; at least 20 and at most 1,400.
    tracker_voltage_max_v : float
        Highest operating voltage of a tracker [V]; at least 30 and at most 1,500.
    start_voltage_v : float
        DC voltage at which the inverter starts [V]; at least 20 and at most 1,400.
    tracker_current_max_a : float
        Highest operating current of a tracker [A]; at least 1 and at most 100.
    tracker_short_circuit_current_max_a : float
        Short-circuit rating of a tracker [A]; at least 1 and at most 150.
    cec_efficiency_percent : float, optional
        Efficiency with CEC weights [%]; at least 70 and at most 99.5.
    european_efficiency_percent : float, optional
        Efficiency with European weights [%]; at least 70 and at most 99.5.
    efficiency_points : sequence of EfficiencyPoint, optional
        Measured efficiencies, at three or more load shares; 3 to 100 items.
    night_draw_w : float, optional
        Power drawn from the grid while the inverter delivers none [W]; default 1.0 (common practice, no source); at least 0
        and at most 50.
    shade_tracker : {"global", "local"}, optional
        Which maximum the trackers hold of a partly shaded string: the highest (global), or the one at the highest voltage
        (local); default "global" (common practice, no source: most string inverters search for the highest maximum, some
        only when that is switched on).
    """

    name: str
    ac_power_w: float
    dc_voltage_max_v: float
    tracker_count: int
    tracker_voltage_min_v: float
    tracker_voltage_max_v: float
    start_voltage_v: float
    tracker_current_max_a: float
    tracker_short_circuit_current_max_a: float
    ac_voltage_v: float | None = None
    ac_phase_count: int | None = None
    cec_efficiency_percent: float | None = None
    european_efficiency_percent: float | None = None
    efficiency_points: Sequence[EfficiencyPoint | Mapping[str, Any]] | None = None
    night_draw_w: float | None = None
    shade_tracker: Literal["global", "local"] | None = None


class Optimiser(Model, frozen=True, kw_only=True):
    """
    A DC converter at each module, which holds the module at its own maximum.

    Attributes
    ----------
    name : str
        Name used in the result.
    efficiency_percent : float
        Weighted efficiency [%]; at least 80 and at most 99.9.
    voltage_min_v : float
        Lowest operating voltage of its input [V]; at least 5 and at most 200.
    voltage_max_v : float
        Highest voltage of its input, which the module's open circuit must not exceed [V]; at least 6 and at most 250.
    price : float, optional
        Price of one optimiser; at least 0 and at most 1,000,000.
    failure_percent_per_year : float, optional
        Share of the optimisers that fails each year; if left out, as for microinverters [%]; at least 0 and at most 20.
    warranty_years : int, optional
        Years in which a failed optimiser is replaced free; default 25 (common practice, no source); at least 0 and at most
        40.
    """

    name: str
    efficiency_percent: float
    voltage_min_v: float
    voltage_max_v: float
    price: float | None = None
    failure_percent_per_year: float | None = None
    warranty_years: int | None = None


class StringPart(Model, frozen=True, kw_only=True):
    """
    Modules of a string that lie on one face.

    Attributes
    ----------
    face : str
        Name of the face.
    modules : sequence of int
        Its modules in order, by their numbers from 1 in the order of the layout or of the places; 1 to 60 items; each at
        least 1 and at most 1,000.
    """

    face: str
    modules: Sequence[int]


String: TypeAlias = Sequence[StringPart | Mapping[str, Any]]


class StringInverterOffer(Model, frozen=True, kw_only=True):
    """
    A string inverter on offer.

    Attributes
    ----------
    inverter : StringInverter
        The string inverter.
    price : float, optional
        Price of the inverter; without it energy alone is compared; at least 0 and at most 1,000,000.
    replacement_price : float, optional
        Price of the inverter that replaces it, in today's money; default: its price; at least 0 and at most 1,000,000.
    warranty_years : int, optional
        Years in which a failed inverter is replaced free of charge, labour aside; default 10 (common practice, no source);
        at least 0 and at most 40.
    expected_life_years : float, optional
        Years after which the inverter is replaced; default 13.0 (common practice, no source); at least 1 and at most 50.
    balance_of_plant : float, optional
        Price of all other parts of the system with it; counted where the microinverter's balance of plant is known too; at
        least 0 and at most 1,000,000.
    optimiser : Optimiser, optional
        An optimiser at each module; none if left out.
    dc_cable_length_m : float, optional
        DC cable from the roof to the inverter, one way [m]; default 15.0 (common practice, no source); at least 0 and at
        most 300.
    dc_cable_area_mm2 : float, optional
        Cross-section of its copper conductors [mm2]; default 4.0 (common practice, no source); at least 1.5 and at most 35.
    ac_cable_length_m : float, optional
        AC cable from the inverter to the board [m]; default 5.0 (common practice, no source); at least 0 and at most 200.
    ac_cable_area_mm2 : float, optional
        Cross-section of its copper conductors [mm2]; default 6.0 (common practice, no source); at least 1 and at most 95.
    strings : sequence of sequence of StringPart, optional
        Modules of each string, the first on the first tracker; default: the longest safe strings of each face; 1 to 12
        items.
    """

    inverter: StringInverter | Mapping[str, Any]
    price: float | None = None
    replacement_price: float | None = None
    warranty_years: int | None = None
    expected_life_years: float | None = None
    balance_of_plant: float | None = None
    optimiser: Optimiser | Mapping[str, Any] | None = None
    dc_cable_length_m: float | None = None
    dc_cable_area_mm2: float | None = None
    ac_cable_length_m: float | None = None
    ac_cable_area_mm2: float | None = None
    strings: Sequence[String] | None = None


class SelectionRequest(Model, frozen=True, kw_only=True, eq=False):
    """
    A roof, modules and candidate microinverters with prices, and the terms.

    Attributes
    ----------
    modules_per_input : int, optional
        Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
    wiring : {"series", "parallel"}, optional
        Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
        series unless given; no difference with one module on each input).
    site : Site
        Where the building stands.
    weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
        The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
        of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
    region : str, optional
        Region whose rules apply; default "international" (international standards, where no national code is named);
        `list_regions` lists them.
    modules : sequence of ModuleOffer
        The modules to compare, each on every face; 1 to 8 items.
    candidates : sequence of Candidate
        The microinverters on offer; 1 to 64 items.
    faces : sequence of Face
        The faces of the roof; 1 to 16 items.
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
    """

    site: Site | Mapping[str, Any]
    modules: Sequence[ModuleOffer | Mapping[str, Any]]
    candidates: Sequence[Candidate | Mapping[str, Any]]
    faces: Sequence[Face | Mapping[str, Any]]
    modules_per_input: int | None = None
    wiring: Literal["series", "parallel"] | None = None
    weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Mapping[str, Any] | None = None
    region: str | None = None
    surroundings: Surroundings | Mapping[str, Any] | None = None
    transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None
    currency: str | None = None
    tariff: Tariff | Mapping[str, Any] | None = None
    share_used_at_home: float | None = None
    load_w: Numbers | None = None
    export_limit_w: float | None = None
    first_weekday: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] | None = None
    home_utc_offset_h: float | None = None
    discount_rate_percent: float | None = None
    horizon_years: int | None = None
    degradation_percent_per_year: float | None = None
    failure_percent_per_year: float | None = None
    labour_per_visit: float | None = None
    maintenance_per_year: float | None = None
    other_cost: float | None = None
    second_kind_cost: float | None = None
    mismatch_loss_share: float | None = None
    snow_loss_share: float | None = None
    downtime_share: float | None = None
    ac_cable_loss_share: float | None = None
    string_inverters: Sequence[StringInverterOffer | Mapping[str, Any]] | None = None
    repair_days: float | None = None
    break_even_pairs: Literal["every", "recommended"] | None = None


class Scenario(Model, frozen=True, kw_only=True):
    """
    One changed input.

    Attributes
    ----------
    name : str
        The change.
    first : str
        Candidate that is best with it.
    regret : float
        Its lead over the recommended candidate, in the unit of the margin.
    """

    name: str
    first: str
    regret: float


class Recommendation(Model, frozen=True, kw_only=True):
    """
    The recommendation.

    Attributes
    ----------
    standing : {"decided", "close", "depends", "none_can_be_built", "none_passes"}
        How certain the recommendation is; none_can_be_built where even the best must not be built as it stands.
    sentence : str
        The recommendation in one sentence.
    module : str or None
        Name of the module; null where none passes.
    microinverter : str or None
        Name of the microinverter; null where none passes.
    runner_up : str or None
        Second-best candidate; null without one.
    margin : float or None
        Lead over the second-best candidate; null without one.
    margin_unit : str or None
        Unit of the margin: the currency (present value), or kWh over the horizon.
    depends_on : sequence of str
        Changes that would alter the recommendation, the largest effect first.
    scenarios : sequence of Scenario
        All changes that were tried.
    """

    standing: Literal["decided", "close", "depends", "none_can_be_built", "none_passes"]
    sentence: str
    module: str | None
    microinverter: str | None
    runner_up: str | None
    margin: float | None
    margin_unit: str | None
    depends_on: tuple[str, ...]
    scenarios: tuple[Scenario, ...]


class ObstacleResult(Model, frozen=True, kw_only=True):
    """
    Why a system cannot be built.

    Attributes
    ----------
    kind : {"fails", "unsuited"}
        Whether a check of the circuits fails, or no circuits are possible.
    reason : str
        The reason, in words.
    """

    kind: Literal["fails", "unsuited"]
    reason: str


class SystemTermsResult(Model, frozen=True, kw_only=True):
    """
    What the whole system with a candidate needs beside modules and units, as it was counted.

    Attributes
    ----------
    balance_of_plant : float or None
        Price of all parts beside modules and units: circuits, cables, devices, boards, mounting; null where not known, in
        the caller's currency.
    unpriced_roles : sequence of str
        Roles left out of the balance of plant for every candidate, as a part has no price for one candidate; there is then
        no payback.
    differing_roles : sequence of str
        Roles without a price whose parts differ between the candidates: the recommendation then depends on it.
    rated_cable_share : float or None
        Share of the rated power that the AC cables take at that power; null where not known.
    connection_procedure : str or None
        Name of the grid connection procedure; null where not known.
    needs_agreement : bool
        Whether the network operator has to agree before the system is switched on.
    connection_cost : float or None
        Cost of the grid connection procedure with what the wait for it costs; null where not known, then it counts as 0, in
        the caller's currency.
    obstacle : ObstacleResult or None
        Why the system cannot be built: it is ranked after all that can; null without one.
    """

    balance_of_plant: float | None
    unpriced_roles: tuple[str, ...]
    differing_roles: tuple[str, ...]
    rated_cable_share: float | None
    connection_procedure: str | None
    needs_agreement: bool
    connection_cost: float | None
    obstacle: ObstacleResult | None


class SystemLosses(Model, frozen=True, kw_only=True):
    """
    What is lost between single modules with their units and the meter in the first year, each of what is left.

    Attributes
    ----------
    mismatch_kwh : float
        Modules on one input that differ [kWh].
    snow_kwh : float
        Snow on the modules [kWh].
    downtime_kwh : float
        Units or network out of service [kWh].
    ac_cable_kwh : float
        Cables from the units to the meter [kWh].
    """

    mismatch_kwh: float
    snow_kwh: float
    downtime_kwh: float
    ac_cable_kwh: float


class CandidateEnergy(Model, frozen=True, kw_only=True):
    """
    Energy of one candidate on the whole roof.

    Attributes
    ----------
    first_year : Balance
        Energy balance of the first year, up to the terminals of the units.
    delivered_range_kwh : Range
        Energy at the terminals of the units in a single year with its range [kWh].
    losses : SystemLosses
        What is lost in the first year from the units' terminals to the meter.
    at_meter_kwh : float
        Energy at the meter in the first year: delivered less these losses [kWh].
    at_meter_range_kwh : Range
        Energy at the meter in a single year with its range [kWh].
    lifetime_kwh : float
        Energy at the meter over the horizon, with ageing of the modules [kWh].
    lifetime_range_kwh : Range
        Energy at the meter over the horizon with its range [kWh].
    delivered_kwh_by_year : sequence of float
        Energy at the terminals of the units in each year [kWh].
    at_meter_kwh_by_year : sequence of float
        Energy at the meter in each year [kWh].
    used_at_home_kwh : float
        Used at home in the first year, minus the night draw [kWh].
    exported_kwh : float
        Exported in the first year [kWh].
    cut_kwh : float
        Cut by the export limit in the first year [kWh].
    imported_kwh : float or None
        Imported for load and night draw in the first year; null without load_w [kWh].
    used_at_home_share : float
        Used at home over the energy at the meter in the first year, 0 to 1.
    self_sufficiency_share : float or None
        Used at home over load in the first year, 0 to 1; null without load_w.
    used_at_home_kwh_by_month : sequence of float
        Used at home in each month of the first year, minus the night draw [kWh].
    exported_kwh_by_month : sequence of float
        Exported in each month of the first year [kWh].
    imported_kwh_by_month : sequence of float or None
        Imported in each month of the first year; null without load_w [kWh].
    """

    first_year: Balance
    delivered_range_kwh: Range
    losses: SystemLosses
    at_meter_kwh: float
    at_meter_range_kwh: Range
    lifetime_kwh: float
    lifetime_range_kwh: Range
    delivered_kwh_by_year: tuple[float, ...]
    at_meter_kwh_by_year: tuple[float, ...]
    used_at_home_kwh: float
    exported_kwh: float
    cut_kwh: float
    imported_kwh: float | None
    used_at_home_share: float
    self_sufficiency_share: float | None
    used_at_home_kwh_by_month: tuple[float, ...]
    exported_kwh_by_month: tuple[float, ...]
    imported_kwh_by_month: tuple[float, ...] | None


class MoneyRange(Figures, frozen=True, kw_only=True):
    """
    An amount and its expected range.

    Attributes
    ----------
    value : float
        The amount, in the caller's currency.
    low : float
        Lower end of the range, in the caller's currency.
    high : float
        Upper end of the range, in the caller's currency.
    covers : str
        What the range covers, and what it leaves out.
    """

    value: float
    low: float
    high: float
    covers: str


class StepUp(Model, frozen=True, kw_only=True):
    """
    Comparison with the cheapest candidate that can be built.

    Attributes
    ----------
    extra_cost : float
        Extra cost today, in the caller's currency.
    extra_energy_kwh : float
        Extra energy over the horizon [kWh].
    simple_payback_years : float or None
        Years until the extra energy has paid the extra cost; null if never [years].
    discounted_payback_years : float or None
        The same with discounted gains [years].
    rate_of_return : float or None
        Internal rate of return of the extra cost, as a share per year; null without one.
    """

    extra_cost: float
    extra_energy_kwh: float
    simple_payback_years: float | None
    discounted_payback_years: float | None
    rate_of_return: float | None


class CashFlowYear(Model, frozen=True, kw_only=True):
    """
    One year of the whole system, not discounted.

    Attributes
    ----------
    year : int
        The year; 0 is today.
    energy_value : float
        Value of the energy at the meter, in the caller's currency.
    replacements : float
        Expected cost of failed units, in the caller's currency.
    maintenance : float
        Maintenance, in the caller's currency.
    net : float
        Energy less replacements and maintenance; in year 0 less the price of the system, in the caller's currency.
    balance : float
        Sum of all years so far, in the caller's currency.
    """

    year: int
    energy_value: float
    replacements: float
    maintenance: float
    net: float
    balance: float


class SystemMoney(Model, frozen=True, kw_only=True):
    """
    Payback and cash flow of the whole system; null and empty where a price is missing.

    Attributes
    ----------
    missing : sequence of str
        Prices that are missing; the values below are then null, and the cash flow empty.
    price_today : float or None
        Price of the system today: modules, units, all other parts, grid connection, other cost, in the caller's currency.
    net_present_value : float or None
        Net present value of the whole system, in the caller's currency.
    simple_payback_years : float or None
        Years until the net of the years has paid the price; null if never [years].
    discounted_payback_years : float or None
        The same with discounted years [years].
    rate_of_return : float or None
        Internal rate of return, as a share per year; null without one.
    cash_flow : sequence of CashFlowYear
        Each year.
    """

    missing: tuple[str, ...]
    price_today: float | None
    net_present_value: float | None
    simple_payback_years: float | None
    discounted_payback_years: float | None
    rate_of_return: float | None
    cash_flow: tuple[CashFlowYear, ...]


class CandidateMoney(Model, frozen=True, kw_only=True):
    """
    Costs and value of one candidate.

    Attributes
    ----------
    units_price : float
        Price of all units today, in the caller's currency.
    energy_value_first_year : float
        Value of the first year's energy at the meter, in the caller's currency.
    balance_of_plant : float or None
        Price of all other parts today; null where not known, then not counted, in the caller's currency.
    connection_cost : float or None
        Cost of the grid connection; null where not known, then not counted, in the caller's currency.
    net_present_value : float
        Net present value: energy minus all costs, in the caller's currency.
    net_present_value_range : MoneyRange
        Net present value with its range.
    lifetime_cost : float
        Present value of all costs over the horizon, in the caller's currency.
    lifetime_cost_per_kwh : float or None
        Lifetime cost of the whole system over discounted useful energy, in the caller's currency; null without energy or
        where a price is missing (see whole_system).
    step_up : StepUp or None
        Comparison with the cheapest candidate that can be built; null where this one cannot be built.
    whole_system : SystemMoney
        Payback and cash flow of the whole system.
    """

    units_price: float
    energy_value_first_year: float
    balance_of_plant: float | None
    connection_cost: float | None
    net_present_value: float
    net_present_value_range: MoneyRange
    lifetime_cost: float
    lifetime_cost_per_kwh: float | None
    step_up: StepUp | None
    whole_system: SystemMoney


class Replacements(Model, frozen=True, kw_only=True):
    """
    Units that fail within the horizon.

    Attributes
    ----------
    expected : float
        Expected number of failures.
    low : int
        Lower end of the range.
    high : int
        Upper end of the range.
    chance_of_any : float
        Probability that at least one fails, 0 to 1.
    failure_share_per_year : float
        Yearly failure rate used, 0 to 1.
    covers : str
        What the range covers.
    """

    expected: float
    low: int
    high: int
    chance_of_any: float
    failure_share_per_year: float
    covers: str


class CandidateResult(Model, frozen=True, kw_only=True):
    """
    One microinverter on one module.

    Attributes
    ----------
    module : str
        Name of the module.
    microinverter : str
        Name of the microinverter.
    verdict : {"ok", "caution", "fail"}
        Worst verdict of its electrical checks; a pairing that fails, or that waits for the site's record low, is not
        ranked.
    reasons : sequence of Check
        The checks that are not ok.
    rank : int or None
        Rank from 1; null where it must not be built.
    unit_count : int
        Units on the roof.
    mass_kg : float
        Mass of all units [kg].
    warranty_years : int
        Years of warranty.
    system : SystemTermsResult
        The whole system with it.
    energy : CandidateEnergy or None
        Energy; null where it must not be built.
    money : CandidateMoney or None
        Costs and value; null where it must not be built, or a price or the tariff is missing.
    replacements : Replacements or None
        Expected replacements; null where it must not be built.
    """

    module: str
    microinverter: str
    verdict: Literal["ok", "caution", "fail"]
    reasons: tuple[Check, ...]
    rank: int | None
    unit_count: int
    mass_kg: float
    warranty_years: int
    system: SystemTermsResult
    energy: CandidateEnergy | None
    money: CandidateMoney | None
    replacements: Replacements | None


class BreakEvenPower(Model, frozen=True, kw_only=True):
    """
    Module power above which the larger microinverter pays.

    Attributes
    ----------
    pays : {"always", "never", "above"}
        Where on the curve the larger microinverter pays: always, never, or above value_w.
    value_w : float or None
        Break-even power; null where it pays always or never [W].
    low_w : float
        Lower end of its range [W].
    high_w : float
        Upper end of its range [W].
    covers : str
        What the range covers.
    """

    pays: Literal["always", "never", "above"]
    value_w: float | None
    low_w: float
    high_w: float
    covers: str


class PriceGap(Model, frozen=True, kw_only=True):
    """
    Price difference up to which the larger microinverter pays.

    Attributes
    ----------
    value : float
        Break-even price difference: larger unit minus smaller units for the same number of modules, in the caller's
        currency.
    low : float
        Lower end of its range, in the caller's currency.
    high : float
        Upper end of its range, in the caller's currency.
    asked : float
        Price difference in the request, in the caller's currency.
    covers : str
        What the range covers.
    """

    value: float
    low: float
    high: float
    asked: float
    covers: str


class PlaceBreakEven(Model, frozen=True, kw_only=True):
    """
    Break-even of the roof or of one face.

    Attributes
    ----------
    face : str or None
        Name of the face, computed by itself; null for the whole roof.
    power : BreakEvenPower
        Module power above which the larger pays.
    price_gap : PriceGap
        Price difference up to which the larger pays with the module of the request.
    gains : sequence of float
        Gain of the larger at each power of the curve: present value, in the caller's currency.
    """

    face: str | None
    power: BreakEvenPower
    price_gap: PriceGap
    gains: tuple[float, ...]


class BreakEven(Model, frozen=True, kw_only=True):
    """
    Break-even of two candidates that are neighbours by AC power, on one module.

    Attributes
    ----------
    module : str
        Name of the module; the curve scales its current.
    smaller : str
        Name of the smaller microinverter.
    larger : str
        Name of the larger microinverter.
    module_power_w : sequence of float
        Module powers of the curve [W].
    places : sequence of PlaceBreakEven
        The whole roof, then each face where there are several.
    """

    module: str
    smaller: str
    larger: str
    module_power_w: tuple[float, ...]
    places: tuple[PlaceBreakEven, ...]


class FaceChoice(Model, frozen=True, kw_only=True):
    """
    The microinverter for one face.

    Attributes
    ----------
    face : str
        Name of the face.
    microinverter : str
        Name of the microinverter.
    """

    face: str
    microinverter: str


class MixedChoice(Model, frozen=True, kw_only=True):
    """
    A microinverter for each face, of at most two kinds.

    Attributes
    ----------
    module : str
        Name of the module.
    choices : sequence of FaceChoice
        The best microinverter for each face.
    saving : float
        Gain over one kind for all faces, before the cost of a second kind, in the caller's currency.
    second_kind_cost : float
        Cost of stocking a second kind, in the caller's currency.
    worthwhile : bool
        Whether the saving exceeds that cost.
    sentence : str
        The same in a sentence.
    """

    module: str
    choices: tuple[FaceChoice, ...]
    saving: float
    second_kind_cost: float
    worthwhile: bool
    sentence: str


class Sensitivity(Model, frozen=True, kw_only=True):
    """
    The value of one input at which the recommendation changes.

    Attributes
    ----------
    name : str
        Name of the input.
    unit : str
        Its unit.
    now : float
        Current value.
    then : float or None
        Nearest value at which another candidate is best; null where none was found.
    first_then : str or None
        Candidate that is then best.
    low : float
        Lowest value tried.
    high : float
        Highest value tried.
    """

    name: str
    unit: str
    now: float
    then: float | None
    first_then: str | None
    low: float
    high: float


class CutEnergy(Model, frozen=True, kw_only=True):
    """
    Energy of one candidate that the export limit cuts.

    Attributes
    ----------
    module : str
        Name of the module.
    microinverter : str
        Name of the microinverter.
    cut_first_year_kwh : float
        Cut in the first year [kWh].
    cut_lifetime_kwh : float
        Cut over the horizon [kWh].
    needless_beside : str or None
        A smaller, cheaper candidate that yields as much under the limit, within 0.1 %; null without one.
    """

    module: str
    microinverter: str
    cut_first_year_kwh: float
    cut_lifetime_kwh: float
    needless_beside: str | None


class ExportLimit(Model, frozen=True, kw_only=True):
    """
    Energy that the export limit cuts.

    Attributes
    ----------
    export_limit_w : float
        Export limit of the grid connection [W].
    candidates : sequence of CutEnergy
        Each candidate that passes.
    sentence : str
        The same in a sentence.
    """

    export_limit_w: float
    candidates: tuple[CutEnergy, ...]
    sentence: str


class ModuleOnFace(Model, frozen=True, kw_only=True):
    """
    One module of a string.

    Attributes
    ----------
    face_number : int
        Number of its face in the request, from 0.
    module_number : int
        Its number on the face, from 1.
    """

    face_number: int
    module_number: int


class CheckedString(Model, frozen=True, kw_only=True):
    """
    One string.

    Attributes
    ----------
    tracker : int
        Its tracker, from 1.
    on_faces : sequence of ModuleOnFace
        Its modules in order.
    verdict : {"ok", "caution", "fail"}
        Worst verdict of its electrical checks.
    reasons : sequence of Check
        The checks that are not ok.
    """

    tracker: int
    on_faces: tuple[ModuleOnFace, ...]
    verdict: Literal["ok", "caution", "fail"]
    reasons: tuple[Check, ...]


class CauseKwh(Model, frozen=True, kw_only=True):
    """
    One cause of the difference in energy, in the first year.

    Attributes
    ----------
    cause : str, one of the words of its type
        The cause.
    microinverters_kwh : float
        What the microinverters lose by it [kWh].
    string_inverter_kwh : float
        What the string inverter loses by it [kWh].
    difference_kwh : float
        How much more the microinverters yield by it [kWh].
    """

    cause: Literal[
        "shade",
        "orientation",
        "tolerance",
        "start_up",
        "limits",
        "conversion",
        "clipping",
        "derating",
        "standby",
        "cables",
        "availability",
    ]
    microinverters_kwh: float
    string_inverter_kwh: float
    difference_kwh: float


class TurningPoints(Model, frozen=True, kw_only=True):
    """
    What would make both worth the same, each by itself; null where no value does.

    Attributes
    ----------
    extra_price : float or None
        How much more the string inverter may cost, later ones too where `replacement_price` is left out; negative: less.
    life_years : float or None
        Life of the string inverter from which on the microinverters no longer lead [a].
    shade_factor : float or None
        Factor on what shade takes more from the strings.
    """

    extra_price: float | None
    life_years: float | None
    shade_factor: float | None


class MoneyDifference(Model, frozen=True, kw_only=True):
    """
    Present values over the horizon, of the microinverters less those of the string inverter.

    Attributes
    ----------
    extra_cost : float
        Cost.
    extra_value : float
        Value of the energy.
    net_gain : float
        Value less cost: positive where the microinverters are worth more.
    balance_of_plant_counts : bool
        Whether all other parts of both systems are in the cost.
    turning : TurningPoints
        What would make both worth the same.
    """

    extra_cost: float
    extra_value: float
    net_gain: float
    balance_of_plant_counts: bool
    turning: TurningPoints


class StringComparison(Model, frozen=True, kw_only=True):
    """
    The recommended pairing against the string inverter, on the same roof by the same models.

    Attributes
    ----------
    module : str
        Name of the module.
    microinverter : str
        Name of the microinverter.
    microinverters_kwh : float
        Energy at the meter in the first year, failures included [kWh].
    string_inverter_kwh : float
        The same with the string inverter [kWh].
    energy_share : Range
        Energy that the microinverters yield more, as a share of the string inverter's; negative where less.
    causes : sequence of CauseKwh
        The difference taken apart; the causes add up to it.
    money : MoneyDifference or None
        Difference in money; null where a price or the tariff is missing.
    better : {"microinverters", "string_inverter"}
        Which is worth more, or yields more where money is null.
    replaced_in_years : sequence of int
        Years in which the string inverter is replaced.
    sentence : str
        The same in a sentence.
    """

    module: str
    microinverter: str
    microinverters_kwh: float
    string_inverter_kwh: float
    energy_share: Range
    causes: tuple[CauseKwh, ...]
    money: MoneyDifference | None
    better: Literal["microinverters", "string_inverter"]
    replaced_in_years: tuple[int, ...]
    sentence: str


class StringCandidate(Model, frozen=True, kw_only=True):
    """
    One string inverter.

    Attributes
    ----------
    name : str
        Name of the string inverter.
    verdict : str
        Verdict of its strings: ok, caution or fail.
    obstacle : str or None
        Why it must not be built; null where it can.
    shortest_string : int or None
        Fewest modules in series that pass every check; null where none do.
    longest_string : int or None
        Most modules in series that pass every check; null where none do.
    strings : sequence of CheckedString
        Its strings; empty where none can be proposed.
    comparison : StringComparison or None
        Against the recommended pairing; null where it must not be built.
    to_order : sequence of str
        What has to be ordered and checked for the string inverter.
    to_order_for_units : sequence of str
        What has to be ordered and checked for the microinverters.
    """

    name: str
    verdict: str
    obstacle: str | None
    shortest_string: int | None
    longest_string: int | None
    strings: tuple[CheckedString, ...]
    comparison: StringComparison | None
    to_order: tuple[str, ...]
    to_order_for_units: tuple[str, ...]


class Change(Model, frozen=True, kw_only=True):
    """
    What would have to change for a pairing to pass.

    Attributes
    ----------
    module : str
        Name of the module.
    microinverter : str
        Name of the microinverter.
    check : str
        Name of the failing check.
    value : float
        Value of the check, in `unit`.
    limit : float
        Limit of the check, in `unit`.
    unit : str
        Unit of value and limit.
    sentence : str
        The same in a sentence.
    """

    module: str
    microinverter: str
    check: str
    value: float
    limit: float
    unit: str
    sentence: str


class SelectionResult(Model, frozen=True, kw_only=True):
    """
    The recommendation and its basis.

    Attributes
    ----------
    assumptions : sequence of Assumption
        Inputs that the request left out.
    cautions : sequence of Caution
        What must stay with the result.
    method : sequence of Method
        Models used.
    ranked_by : {"net present value", "energy"}
        Criterion of the ranking.
    recommendation : Recommendation
        The recommendation.
    candidates : sequence of CandidateResult
        Every pairing in the order of the request, module by module.
    break_evens : sequence of BreakEven
        Break-evens of neighbours by AC power, for each module; empty without prices and tariff.
    mixed_choices : sequence of MixedChoice
        Mixed choice for each module; empty without prices and tariff, for one face or one candidate.
    sensitivities : sequence of Sensitivity
        Inputs that could change the recommendation; empty without prices and tariff or a second candidate.
    export_limit : ExportLimit or None
        Energy that the export limit cuts; null without a limit.
    string_inverters : sequence of StringCandidate
        Each string inverter of the request beside the recommended pairing; its strings alone where none passes.
    what_would_have_to_change : sequence of Change
        Where no candidate passes: the failing checks, fewest first.
    climate : ClimateUsed
        Where the year's weather comes from.
    design_temperatures : DesignTemperatures
        Design temperatures of the checks.
    place : str
        Country or area whose rules were applied.
    edition : str
        Edition of these rules.
    """

    assumptions: tuple[Assumption, ...]
    cautions: tuple[Caution, ...]
    method: tuple[Method, ...]
    ranked_by: Literal["net present value", "energy"]
    recommendation: Recommendation
    candidates: tuple[CandidateResult, ...]
    break_evens: tuple[BreakEven, ...]
    mixed_choices: tuple[MixedChoice, ...]
    sensitivities: tuple[Sensitivity, ...]
    export_limit: ExportLimit | None
    string_inverters: tuple[StringCandidate, ...]
    what_would_have_to_change: tuple[Change, ...]
    climate: ClimateUsed
    design_temperatures: DesignTemperatures
    place: str
    edition: str
    to_frame = tables.candidates
    break_evens_to_frame = tables.break_evens
    curves_to_frame = tables.curves
    sensitivities_to_frame = tables.rows_of("sensitivities")
    scenarios_to_frame = tables.rows_of("recommendation.scenarios")


class Obstruction(Model, frozen=True, kw_only=True):
    """
    An obstruction on the face; with a height it throws shade.

    Attributes
    ----------
    outline : sequence of Point
        Its corners, in order; 3 to 24 items.
    name : str, optional
        Name used in the result.
    height_m : float, optional
        Height of its top above the roof, measured vertically at the middle of its outline: of a flat top, of the middle of
        a sloped one, of the ridge of a gabled one; without it the obstruction throws no shade [m]; above 0 and at most 30.
    top : {"flat", "sloped", "gabled"}, optional
        Shape of its top.
    top_slope_deg : float, optional
        Slope of a sloped top, falling towards the eaves; negative where it falls towards the ridge [deg]; at least -80 and
        at most 80.
    eaves_height_m : float, optional
        Height of the eaves of a gabled top, measured like height_m [m]; at least 0 and at most 30.
    ridge : {"up_slope", "along_eaves"}, optional
        Direction of the ridge of a gabled top: up_slope, as of a dormer, or along_eaves.
    """

    outline: Sequence[Point | Mapping[str, Any]]
    name: str | None = None
    height_m: float | None = None
    top: Literal["flat", "sloped", "gabled"] | None = None
    top_slope_deg: float | None = None
    eaves_height_m: float | None = None
    ridge: Literal["up_slope", "along_eaves"] | None = None


class LayoutRequest(Model, frozen=True, kw_only=True):
    """
    A face by its width and height or by its outline, and a module.

    Attributes
    ----------
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
    module_length_m : float
        Length of the module's longer side [m]; at least 0.2 and at most 3.
    module_width_m : float
        Length of the module's shorter side [m]; at least 0.2 and at most 2.
    """

    module_length_m: float
    module_width_m: float
    width_m: float | None = None
    height_m: float | None = None
    outline: Sequence[Point | Mapping[str, Any]] | None = None
    obstructions: Sequence[Obstruction | Mapping[str, Any]] | None = None
    orientation: Literal["portrait", "landscape", "best"] | None = None
    edge_kinds: Sequence[Literal["eaves", "ridge", "rake", "hip", "valley"]] | None = None
    edge_distance_m: float | None = None
    eaves_distance_m: float | None = None
    ridge_distance_m: float | None = None
    rake_distance_m: float | None = None
    hip_distance_m: float | None = None
    valley_distance_m: float | None = None
    access_path_width_m: float | None = None
    access_path_side: Literal["none", "left", "right", "both", "either"] | None = None
    obstruction_distance_m: float | None = None
    column_gap_m: float | None = None
    row_gap_m: float | None = None
    left_out: Sequence[int] | None = None
    region: str | None = None


class PlacedModule(Model, frozen=True, kw_only=True):
    """
    Position of one module.

    Attributes
    ----------
    row : int
        Row, counted from the eaves from 1.
    column : int
        Position in the row, counted from the left from 1.
    x_m : float
        Lower left corner, along the eaves [m].
    y_m : float
        Lower left corner, up the slope [m].
    """

    row: int
    column: int
    x_m: float
    y_m: float


class Arrangement(Model, frozen=True, kw_only=True):
    """
    Modules in one orientation.

    Attributes
    ----------
    orientation : {"portrait", "landscape"}
        Orientation.
    module_width_m : float
        A module's extent along the eaves [m].
    module_height_m : float
        A module's extent up the slope [m].
    module_count : int
        Modules that fit.
    row_module_counts : sequence of int
        Modules in each row from the eaves, for the bill of materials.
    row_segment_counts : sequence of int
        Groups of adjoining modules in each row: 2 where a chimney divides it.
    segment_module_counts : sequence of int
        Modules in each of these groups, row by row, for the bill of materials.
    column_count_most : int
        Modules in the longest row.
    modules : sequence of PlacedModule
        Every module, row by row.
    """

    orientation: Literal["portrait", "landscape"]
    module_width_m: float
    module_height_m: float
    module_count: int
    row_module_counts: tuple[int, ...]
    row_segment_counts: tuple[int, ...]
    segment_module_counts: tuple[int, ...]
    column_count_most: int
    modules: tuple[PlacedModule, ...]


class OrientationCount(Model, frozen=True, kw_only=True):
    """
    An orientation that was tried.

    Attributes
    ----------
    orientation : {"portrait", "landscape"}
        Orientation.
    module_count : int
        Modules that fit.
    """

    orientation: Literal["portrait", "landscape"]
    module_count: int


class LaidOutEdge(Model, frozen=True, kw_only=True):
    """
    One edge of the face and the distance that modules keep from it.

    Attributes
    ----------
    kind : {"eaves", "ridge", "rake", "hip", "valley"}
        Kind of the edge.
    length_m : float
        Length [m].
    distance_m : float
        Distance of modules from it, the access path's width where that is larger [m].
    source : str
        Where the distance comes from: a field of the request, or a rule with how it was obtained.
    """

    kind: Literal["eaves", "ridge", "rake", "hip", "valley"]
    length_m: float
    distance_m: float
    source: str


class AccessPath(Model, frozen=True, kw_only=True):
    """
    A strip without modules along one side of the face, from the eaves to the ridge.

    Attributes
    ----------
    side : {"left", "right"}
        Side, seen with the eaves at the bottom.
    width_m : float
        Width, measured from the edges of that side [m].
    source : str
        Where the width comes from: a field of the request, or a rule with how it was obtained.
    """

    side: Literal["left", "right"]
    width_m: float
    source: str


class LayoutResult(Model, frozen=True, kw_only=True):
    """
    The modules that fit on the face.

    Attributes
    ----------
    assumptions : sequence of Assumption
        Inputs that the request left out.
    cautions : sequence of Caution
        What must stay with the result.
    method : sequence of Method
        Models used.
    arrangement : Arrangement
        The arrangement with the most modules.
    tried : sequence of OrientationCount
        Every orientation that was tried.
    unit_spacing_m : float
        Distance from one module of a row to the next, for the trunk cable [m].
    face_area_m2 : float
        Area of the face [m2].
    module_area_m2 : float
        Area of all modules [m2].
    covered_share : float
        Share of the face that the modules cover, 0 to 1.
    edges : sequence of LaidOutEdge
        Every edge of the face in the order of its corners: of a rectangle the eaves first.
    access_paths : sequence of AccessPath
        Access paths that stay free; empty where there is none.
    """

    assumptions: tuple[Assumption, ...]
    cautions: tuple[Caution, ...]
    method: tuple[Method, ...]
    arrangement: Arrangement
    tried: tuple[OrientationCount, ...]
    unit_spacing_m: float
    face_area_m2: float
    module_area_m2: float
    covered_share: float
    edges: tuple[LaidOutEdge, ...]
    access_paths: tuple[AccessPath, ...]
    to_frame = tables.rows_of("arrangement.modules")


class Installation(Model, frozen=True, kw_only=True):
    """
    How a cable is installed, for its current-carrying capacity.

    Attributes
    ----------
    method : str, one of the words of its type, optional
        Way of installing: in free air, clipped to a wall, in a conduit on a wall, in a conduit in an insulated wall, above
        a ceiling beside up to 100 mm or more of insulation, surrounded by insulation, in the ground; each region's table
        has some of them; if left out: the region's rules.
    ambient_c : float, optional
        Highest temperature around the cable, in the ground that of the soil [degC]; if left out: the region's rules; at
        least 10 and at most 80.
    circuits_together : int, optional
        Circuits that run together in one conduit or bunch, with this one; if left out: all circuits of the system for home
        runs, else one; at least 1 and at most 100.
    """

    method: (
        Literal[
            "free_air",
            "clipped_direct",
            "conduit_on_wall",
            "insulated_wall",
            "above_ceiling",
            "above_ceiling_thick_insulation",
            "surrounded_by_insulation",
            "in_ground",
        ]
        | None
    ) = None
    ambient_c: float | None = None
    circuits_together: int | None = None


class ExistingGeneration(Model, frozen=True, kw_only=True):
    """
    Generation or storage that is on the premises already.

    Attributes
    ----------
    name : str, optional
        What it is; default "existing generation" (no name was given).
    current_a : float
        Its rated current on each phase that it feeds [A]; above 0 and at most 2,000.
    phase : int, optional
        Its phase, 1 to 3; leave out where it feeds all phases; at least 1 and at most 3.
    """

    current_a: float
    name: str | None = None
    phase: int | None = None


class TextByLanguage(Model, frozen=True, kw_only=True):
    """
    A text in each language; the English one stands for one that is left out.

    Attributes
    ----------
    en : str
        In English.
    de : str, optional
        In German.
    """

    en: str
    de: str | None = None


class StandardTime(Model, frozen=True, kw_only=True):
    """
    Standard time of a country that has one; used by other operations.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    utc_offset_h : float
        Offset from UTC, east positive [h]; at least -14 and at most 14.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    utc_offset_h: float


class ShortCircuitRule(Model, frozen=True, kw_only=True):
    """
    Factor on the short-circuit current; used by other operations.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    factor : float
        Factor on the short-circuit current; at least 1 and at most 2.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    factor: float


class ColdVoltageRule(Model, frozen=True, kw_only=True):
    """
    Factors on the cold open-circuit voltage; used by other operations.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    factors : sequence of sequence of float, optional
        Lower edge of each temperature band [degC] with its factor; 1 to 50 items.
    lowest_temperature : str or TextByLanguage, optional
        The code's own definition of the lowest temperature.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    factors: Sequence[Numbers] | None = None
    lowest_temperature: str | TextByLanguage | Mapping[str, Any] | None = None


class ColdFloor(Model, frozen=True, kw_only=True):
    """
    A temperature that the region's custom designs for; used by other operations.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    lowest_c : float
        Lowest temperature to design for, unless the site's own is known [degC]; at least -70 and at most 40.
    above_elevation_m : float, optional
        It applies above this elevation only [m]; at least -450 and at most 6,000.
    south_of_latitude_deg : float, optional
        It applies south of this latitude only [deg]; at least -90 and at most 90.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    lowest_c: float
    above_elevation_m: float | None = None
    south_of_latitude_deg: float | None = None


class HighDcVoltageRule(Model, frozen=True, kw_only=True):
    """
    What a high DC voltage asks for; used by other operations.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    at_least_v : float
        Cold open-circuit voltage from which it holds [V]; above 0 and at most 1,500.
    says : str or TextByLanguage
        What it asks for.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    at_least_v: float
    says: str | TextByLanguage | Mapping[str, Any]


class BranchCircuitRule(Model, frozen=True, kw_only=True):
    """
    Limits of a branch circuit.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    continuous_current_factor : float
        Factor on the continuous current; at least 1 and at most 2.
    factor_is_code : bool, optional
        Whether a request may not have a smaller factor.
    device_rating_a : float
        Rating of its circuit breaker or fuse [A]; at least 1 and at most 125.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    continuous_current_factor: float
    device_rating_a: float
    factor_is_code: bool | None = None


class SupplyRule(Model, frozen=True, kw_only=True):
    """
    Supplies of the region.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    phase_counts : sequence of int
        Numbers of phases that a supply may have; 1 to 3 items; each at least 1 and at most 3.
    voltage_v : float
        Nominal voltage of a unit's circuit [V]; at least 100 and at most 480.
    split_phase : bool, optional
        Whether what counts as one phase has two line conductors.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    phase_counts: Sequence[int]
    voltage_v: float
    split_phase: bool | None = None


class StandardDevicesRule(Model, frozen=True, kw_only=True, eq=False):
    """
    Standard ratings of circuit breakers and fuses.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    ratings_a : sequence of float
        Standard ratings [A]; 1 to 60 items; each at least 1 and at most 1,000.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    ratings_a: Numbers


class OvercurrentDeviceRule(Model, frozen=True, kw_only=True, eq=False):
    """
    What circuit breakers and isolators are made as.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    isolator_ratings_a : sequence of float
        Ratings of isolators [A]; 1 to 60 items; each at least 1 and at most 1,000.
    poles_of_one_phase : int
        Poles of a circuit breaker on one phase; at least 1 and at most 4.
    poles_of_three_phases : int
        Poles of a circuit breaker on three phases; at least 3 and at most 4.
    curve : {"B", "C", "D"}, optional
        Tripping curve; leave out where breakers have none.
    breaking_capacity_ka : float
        Breaking capacity [kA]; at least 1 and at most 100.
    direction : str or TextByLanguage
        What is asked of the direction of power flow, and where.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    isolator_ratings_a: Numbers
    poles_of_one_phase: int
    poles_of_three_phases: int
    breaking_capacity_ka: float
    direction: str | TextByLanguage | Mapping[str, Any]
    curve: Literal["B", "C", "D"] | None = None


class ConductorsRule(Model, frozen=True, kw_only=True):
    """
    Standard conductors.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    table : str, one of the words of its type
        Table of standard conductors.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    table: Literal["iec_60228_class_2", "iec_60228_class_5", "nec_chapter_9_table_8_solid", "nec_chapter_9_table_8_stranded"]


class InstallationRule(Model, frozen=True, kw_only=True):
    """
    How a cable is installed where a request says nothing.

    Attributes
    ----------
    installation : str, one of the words of its type
        Way of installing.
    ambient_c : float
        Temperature around the cable [degC]; at least -40 and at most 80.
    """

    installation: Literal[
        "free_air",
        "clipped_direct",
        "conduit_on_wall",
        "insulated_wall",
        "above_ceiling",
        "above_ceiling_thick_insulation",
        "surrounded_by_insulation",
        "in_ground",
    ]
    ambient_c: float


class CablesRule(Model, frozen=True, kw_only=True):
    """
    Carrying capacities, and how cables are installed where a request says nothing.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    capacity_table : str, one of the words of its type
        Table of carrying capacities of home run and supply cable.
    trunk_capacity_table : str, one of the words of its type
        Table of carrying capacities of the trunk.
    trunk : InstallationRule
        The trunk.
    home_run : InstallationRule
        The home run.
    supply : InstallationRule
        The supply cable.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    capacity_table: Literal["iec_pvc_70", "iec_xlpe_90", "bs_7671_70", "as_nzs_3008_75", "as_nzs_3008_90", "nec_310_16"]
    trunk_capacity_table: Literal["iec_pvc_70", "iec_xlpe_90", "bs_7671_70", "as_nzs_3008_75", "as_nzs_3008_90", "nec_310_16"]
    trunk: InstallationRule | Mapping[str, Any]
    home_run: InstallationRule | Mapping[str, Any]
    supply: InstallationRule | Mapping[str, Any]


class VoltageRiseRule(Model, frozen=True, kw_only=True):
    """
    Limit on the voltage rise.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    limit_share : float, optional
        Limit as a share of the nominal voltage; leave out where the network operator sets it; above 0 and at most 0.2.
    limit_is_code : bool, optional
        Whether a published rule sets the limit: what is above it fails, else it is a caution.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    limit_share: float | None = None
    limit_is_code: bool | None = None


class PhaseBalanceRule(Model, frozen=True, kw_only=True):
    """
    Limit on the difference between phases.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    difference_max_va : float, optional
        Highest difference between two phases; leave out where the network operator sets it [VA]; above 0.
    counts_one_phase : bool, optional
        Whether it limits the power of a single-phase supply too.
    uncoupled_max_va : float, optional
        Highest power of single-phase units that are not coupled; leave out where there is none [VA]; above 0.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    difference_max_va: float | None = None
    counts_one_phase: bool | None = None
    uncoupled_max_va: float | None = None


class ResidualCurrentRule(Model, frozen=True, kw_only=True):
    """
    Type of the residual-current device.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    type_without_declaration : {"A", "F", "B"}, optional
        Type where the maker declares nothing.
    type_if_declared : {"A", "F", "B"}, optional
        Type where the maker declares that no DC fault current arises.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    type_without_declaration: Literal["A", "F", "B"] | None = None
    type_if_declared: Literal["A", "F", "B"] | None = None


class Sourced(Model, frozen=True, kw_only=True):
    """
    A rule with its clause and how its value was obtained; both are required.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]


class BusbarRule(Model, frozen=True, kw_only=True):
    """
    Limit on the feed into a board beside its main circuit breaker or fuse.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    share : float
        Limit on main device plus feed, as a share of the board's rating; at least 1 and at most 2.
    continuous_current_factor : float
        Factor on the output current; at least 1 and at most 2.
    opposite_end : bool, optional
        Whether the feed must enter at the end opposite the main device.
    elsewhere : Sourced, optional
        Rule where it enters elsewhere: a share of 1.
    sum_of_devices : str, optional
        Clause of the rule that sums all breakers instead; leave out where there is none.
    supply_side : str, optional
        Clause of a connection on the supply side; leave out where there is none.
    power_control : str, optional
        Clause of power control systems; leave out where there is none.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    share: float
    continuous_current_factor: float
    opposite_end: bool | None = None
    elsewhere: Sourced | Mapping[str, Any] | None = None
    sum_of_devices: str | None = None
    supply_side: str | None = None
    power_control: str | None = None


class DemandRule(Model, frozen=True, kw_only=True):
    """
    Whether a part is asked for.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    asked : bool
        Whether it is asked for.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    asked: bool


class CentralProtectionRule(Model, frozen=True, kw_only=True):
    """
    Power above which protection in one place is asked for.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    above_va : float
        Power of all phases above which it is asked for [VA]; above 0.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    above_va: float


class CommissioningRule(Model, frozen=True, kw_only=True):
    """
    Documents of the commissioning.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    documents : sequence of str or TextByLanguage
        Documents of the commissioning; 0 to 20 items.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    documents: Sequence[str | TextByLanguage | Mapping[str, Any]]


class ArrayBondingRule(Model, frozen=True, kw_only=True):
    """
    Bonding of the array's metal.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    size : str
        Smallest bonding conductor.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    size: str


class LabelRule(Model, frozen=True, kw_only=True):
    """
    A label of the system.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    text : str
        Its text, in the language of the place; {current} and {voltage} stand for the system's rated values.
    count : int
        How many; at least 1 and at most 20.
    where : str or TextByLanguage
        Where they go.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    text: str
    count: int
    where: str | TextByLanguage | Mapping[str, Any]


class EdgeRule(Model, frozen=True, kw_only=True):
    """
    Distance of modules from one kind of edge.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    distance_m : float
        Distance of modules from such an edge [m]; at least 0 and at most 10.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    distance_m: float


class RidgeRule(Model, frozen=True, kw_only=True):
    """
    Distance of modules from the ridge, which may depend on the share of the roof that they cover.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    distance_m : float
        Distance of modules from such an edge [m]; at least 0 and at most 10.
    covered_share_max : float, optional
        Largest covered share, 0 to 1, at which distance_m is enough; leave out where it always is; above 0 and below 1.
    distance_above_m : float, optional
        Distance where modules cover more [m]; at least 0 and at most 10.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    distance_m: float
    covered_share_max: float | None = None
    distance_above_m: float | None = None


class PathRule(Model, frozen=True, kw_only=True):
    """
    Access path from the eaves to the ridge.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    width_m : float
        Width of the path [m]; above 0 and at most 10.
    side : {"left", "right", "both", "either"}
        Side of the face on which it lies.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    width_m: float
    side: Literal["left", "right", "both", "either"]


class AccessRule(Model, frozen=True, kw_only=True):
    """
    Distances of modules from the edges of a face, and access paths.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    edge_distance_m : float
        Distance from edges without a rule of their own [m]; at least 0 and at most 10.
    eaves : EdgeRule, optional
        Distance from the eaves.
    ridge : RidgeRule, optional
        Distance from the ridge.
    rake : EdgeRule, optional
        Distance from the rake, or verge.
    hip : EdgeRule, optional
        Distance from a hip.
    valley : EdgeRule, optional
        Distance from a valley.
    path : PathRule, optional
        Access path, where a rule asks for one.
    cautions : sequence of str or TextByLanguage, optional
        What the rules ask for beyond one face; 1 to 10 items.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    edge_distance_m: float
    eaves: EdgeRule | Mapping[str, Any] | None = None
    ridge: RidgeRule | Mapping[str, Any] | None = None
    rake: EdgeRule | Mapping[str, Any] | None = None
    hip: EdgeRule | Mapping[str, Any] | None = None
    valley: EdgeRule | Mapping[str, Any] | None = None
    path: PathRule | Mapping[str, Any] | None = None
    cautions: Sequence[str | TextByLanguage | Mapping[str, Any]] | None = None


class FilingRule(Model, frozen=True, kw_only=True):
    """
    One document to send.

    Attributes
    ----------
    document : str or TextByLanguage
        Document to send.
    when : str or TextByLanguage
        When it is due.
    stage : {"before_installation", "after_installation"}, optional
        Whether that is before or after the installation; default: before.
    """

    document: str | TextByLanguage | Mapping[str, Any]
    when: str | TextByLanguage | Mapping[str, Any]
    stage: Literal["before_installation", "after_installation"] | None = None


class RouteRule(Model, frozen=True, kw_only=True):
    """
    One grid connection procedure. They are tried in order; a limit that is left out does not restrict.

    Attributes
    ----------
    clause : str or TextByLanguage
        Clause or document of the rule.
    obtained : str or TextByLanguage
        How the value was obtained: read where, or from memory.
    code : str, optional
        Stable name of the procedure; default: from its name.
    name : str or TextByLanguage
        Name of the procedure.
    phase_counts : sequence of int, optional
        Supplies that it applies to, by number of phases; 1 to 3 items; each at least 1 and at most 3.
    current_per_phase_max_a : float, optional
        Highest rated current of a phase [A]; above 0 and at most 10,000.
    power_per_phase_max_va : float, optional
        Highest power of a phase [VA]; above 0 and at most 10,000,000.
    power_total_max_va : float, optional
        Highest power of all phases [VA]; above 0 and at most 100,000,000.
    export_per_phase_max_a : float, optional
        Highest export limit of a phase that it asks for; leave out where it asks for none [A]; above 0 and at most 10,000.
    asks_nobody : bool, optional
        Whether nobody needs to agree before the system is switched on.
    is_plug_in : bool, optional
        Whether it is for systems on a plug alone.
    several_premises : bool, optional
        Whether it applies to several premises close by; leave out where that makes no difference.
    filings : sequence of FilingRule
        Documents to send, and when; 0 to 20 items.
    allows : str or TextByLanguage
        What the procedure allows.
    """

    clause: str | TextByLanguage | Mapping[str, Any]
    obtained: str | TextByLanguage | Mapping[str, Any]
    name: str | TextByLanguage | Mapping[str, Any]
    filings: Sequence[FilingRule | Mapping[str, Any]]
    allows: str | TextByLanguage | Mapping[str, Any]
    code: str | None = None
    phase_counts: Sequence[int] | None = None
    current_per_phase_max_a: float | None = None
    power_per_phase_max_va: float | None = None
    power_total_max_va: float | None = None
    export_per_phase_max_a: float | None = None
    asks_nobody: bool | None = None
    is_plug_in: bool | None = None
    several_premises: bool | None = None


class RegionRules(Model, frozen=True, kw_only=True):
    """
    Rules of the caller's own region, in the form of the service's rule files.

    Attributes
    ----------
    place : str or TextByLanguage
        Country or area where the rules apply.
    edition : str
        Edition of the rules.
    standard_time : StandardTime, optional
        Not used by this operation; a rule file may have it.
    short_circuit_current : ShortCircuitRule, optional
        Not used by this operation; a rule file may have it.
    cold_voltage : ColdVoltageRule, optional
        Not used by this operation; a rule file may have it.
    cold_floor : sequence of ColdFloor, optional
        Not used by this operation; a rule file may have it; 1 to 20 items.
    high_dc_voltage : HighDcVoltageRule, optional
        Not used by this operation; a rule file may have it.
    branch_circuit : BranchCircuitRule
        Branch circuits.
    supply : SupplyRule
        Supplies.
    standard_devices : StandardDevicesRule
        Circuit breakers and fuses.
    overcurrent_device : OvercurrentDeviceRule, optional
        What devices are made as; without it as in the international rules.
    conductors : ConductorsRule
        Conductors.
    cables : CablesRule, optional
        Carrying capacities and installation; without it as in the international rules.
    voltage_rise : VoltageRiseRule
        Voltage rise.
    phase_balance : PhaseBalanceRule
        Balance of phases.
    residual_current : ResidualCurrentRule
        Residual-current device.
    busbar : BusbarRule, optional
        Rating of the board, where the code has such a rule.
    main_device : Sourced, optional
        Rating of the main device against all generation; without it as in the international rules.
    rapid_shutdown : DemandRule, optional
        Rapid shutdown; without it none is asked for.
    central_protection : CentralProtectionRule, optional
        Protection in one place, where it is asked for.
    commissioning : CommissioningRule
        Commissioning.
    array_bonding : ArrayBondingRule, optional
        Bonding of the array; without it as in the international rules.
    surge_protection : DemandRule, optional
        Surge protection, AC; without it as in the international rules.
    generation_meter : DemandRule, optional
        Meter of the generation; without it as in the international rules.
    labels : sequence of LabelRule, optional
        Labels of the system; without them as in the international rules; 0 to 20 items.
    access : AccessRule, optional
        Distances from edges and access paths of a layout; default: those of `region`.
    routes : sequence of RouteRule
        Grid connection procedures, in the order of trying; 1 to 20 items.
    """

    place: str | TextByLanguage | Mapping[str, Any]
    edition: str
    branch_circuit: BranchCircuitRule | Mapping[str, Any]
    supply: SupplyRule | Mapping[str, Any]
    standard_devices: StandardDevicesRule | Mapping[str, Any]
    conductors: ConductorsRule | Mapping[str, Any]
    voltage_rise: VoltageRiseRule | Mapping[str, Any]
    phase_balance: PhaseBalanceRule | Mapping[str, Any]
    residual_current: ResidualCurrentRule | Mapping[str, Any]
    commissioning: CommissioningRule | Mapping[str, Any]
    routes: Sequence[RouteRule | Mapping[str, Any]]
    standard_time: StandardTime | Mapping[str, Any] | None = None
    short_circuit_current: ShortCircuitRule | Mapping[str, Any] | None = None
    cold_voltage: ColdVoltageRule | Mapping[str, Any] | None = None
    cold_floor: Sequence[ColdFloor | Mapping[str, Any]] | None = None
    high_dc_voltage: HighDcVoltageRule | Mapping[str, Any] | None = None
    overcurrent_device: OvercurrentDeviceRule | Mapping[str, Any] | None = None
    cables: CablesRule | Mapping[str, Any] | None = None
    busbar: BusbarRule | Mapping[str, Any] | None = None
    main_device: Sourced | Mapping[str, Any] | None = None
    rapid_shutdown: DemandRule | Mapping[str, Any] | None = None
    central_protection: CentralProtectionRule | Mapping[str, Any] | None = None
    array_bonding: ArrayBondingRule | Mapping[str, Any] | None = None
    surge_protection: DemandRule | Mapping[str, Any] | None = None
    generation_meter: DemandRule | Mapping[str, Any] | None = None
    labels: Sequence[LabelRule | Mapping[str, Any]] | None = None
    access: AccessRule | Mapping[str, Any] | None = None


class CircuitFace(Model, frozen=True, kw_only=True):
    """
    Modules on one face.

    Attributes
    ----------
    name : str
        Name of the face; unique.
    module_count : int
        Modules on the face; at least 1 and at most 1,000.
    unit_spacing_m : float, optional
        Length of trunk cable from one microinverter to the next [m]; if left out: 1.8 m for each module of a unit, common
        practice, no source; at least 0.1 and at most 20.
    """

    name: str
    module_count: int
    unit_spacing_m: float | None = None


class CircuitsRequest(Model, frozen=True, kw_only=True):
    """
    A roof's faces with their modules, and the terms.

    Attributes
    ----------
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
    unit_ac_current_a : float
        Rated AC current of one microinverter [A]; at least 0.1 and at most 30.
    modules_per_unit : int, optional
        Modules on one microinverter; default 1 (a unit for one module); at least 1 and at most 8.
    unit_phase_count : int, optional
        Phases of one microinverter: 1, or 3 where it feeds all three; its current is that of each phase; default 1 (a
        single-phase unit); at least 1 and at most 3.
    no_dc_fault_current_declared : bool, optional
        Whether the microinverters' maker declares that no smooth DC fault current arises; default false (no declaration,
        which is the safe assumption).
    faces : sequence of CircuitFace
        The faces of the roof, in the order of the trunk; 1 to 16 items.
    """

    unit_ac_current_a: float
    faces: Sequence[CircuitFace | Mapping[str, Any]]
    phase_count: int | None = None
    device_rating_a: float | None = None
    continuous_current_factor: float | None = None
    branch_device_max_a: float | None = None
    units_per_trunk_max: int | None = None
    trunk_phase_count: int | None = None
    circuits_may_cross_faces: bool | None = None
    face_crossing_m: float | None = None
    trunk_feed: Literal["end", "centre"] | None = None
    voltage_v: float | None = None
    voltage_rise_limit_share: float | None = None
    conductor_table: (
        Literal["iec_60228_class_2", "iec_60228_class_5", "nec_chapter_9_table_8_solid", "nec_chapter_9_table_8_stranded"]
        | None
    ) = None
    conductor_temp_c: float | None = None
    trunk_size: str | None = None
    trunk_installation: Installation | Mapping[str, Any] | None = None
    trunk_ampacity_a: float | None = None
    home_run_length_m: float | None = None
    home_run_size: str | None = None
    home_run_installation: Installation | Mapping[str, Any] | None = None
    home_run_ampacity_a: float | None = None
    system_cable_length_m: float | None = None
    system_cable_size: str | None = None
    system_cable_installation: Installation | Mapping[str, Any] | None = None
    system_cable_ampacity_a: float | None = None
    supply_length_m: float | None = None
    supply_size: str | None = None
    supply_installation: Installation | Mapping[str, Any] | None = None
    supply_ampacity_a: float | None = None
    busbar_rating_a: float | None = None
    main_device_a: float | None = None
    existing_generation: Sequence[ExistingGeneration | Mapping[str, Any]] | None = None
    export_limit_per_phase_a: float | None = None
    earthing: Literal["tn", "tt"] | None = None
    residual_current_device_asked: bool | None = None
    busbar_fed_at_opposite_end: bool | None = None
    plug_in: bool | None = None
    units_coupled: bool | None = None
    supply_loop_impedance_ohm: float | None = None
    earth_electrode_ohm: float | None = None
    several_premises: bool | None = None
    region: str | None = None
    region_rules: RegionRules | Mapping[str, Any] | None = None
    modules_per_unit: int | None = None
    unit_phase_count: int | None = None
    no_dc_fault_current_declared: bool | None = None


class FaceUnits(Model, frozen=True, kw_only=True):
    """
    Units of a circuit on one face.

    Attributes
    ----------
    face : str
        Name of the face.
    unit_count : int
        Microinverters on it.
    """

    face: str
    unit_count: int


class BranchCircuit(Model, frozen=True, kw_only=True):
    """
    One branch circuit.

    Attributes
    ----------
    name : str
        Name of the circuit.
    face : str
        Face with its units; several are joined by +.
    units_by_face : sequence of FaceUnits
        Its units by face, in the order of the trunk.
    unit_count : int
        Microinverters on it.
    phases : sequence of int
        Phases of its trunk, 1 to 3; its units take them in turn.
    line_conductors : str
        Line conductors of its trunk: "L1-L2" with the units between the two of a split phase, else "L1".
    units_by_phase : sequence of int
        Units that load each phase of the supply.
    current_a : float
        Rated current of its fullest phase [A].
    device_rating_a : float
        Rating of its circuit breaker or fuse [A].
    """

    name: str
    face: str
    units_by_face: tuple[FaceUnits, ...]
    unit_count: int
    phases: tuple[int, ...]
    line_conductors: str
    units_by_phase: tuple[int, ...]
    current_a: float
    device_rating_a: float


class CableCheck(Model, frozen=True, kw_only=True):
    """
    The protection of one cable: design current, circuit breaker and carrying capacity, in this order.

    Attributes
    ----------
    cable : str
        Trunk, home run, cable of the system to the board, or supply cable.
    circuits : sequence of str
        Circuits that it is alike for; none for the whole system.
    size : str
        Conductor.
    loaded_conductors : int
        Conductors that carry current: 2, or 3 for three phases.
    design_current_a : float
        Highest continuous current with the code's factor [A].
    device_rating_a : float or None
        Rating of its circuit breaker or fuse; null where it is not known [A].
    capacity_a : float
        Current-carrying capacity as installed; 0 where none is published [A].
    meets : bool or None
        Whether it is protected; if not, it must not be built so. Null where its device is not known.
    smallest_size : str or None
        Smallest conductor of the table that is protected; null where none is.
    installation : str
        How it is installed, with the factors.
    source : str
        Clause, and how the values were obtained.
    explanation : str
        The same in words.
    """

    cable: str
    circuits: tuple[str, ...]
    size: str
    loaded_conductors: int
    design_current_a: float
    device_rating_a: float | None
    capacity_a: float
    meets: bool | None
    smallest_size: str | None
    installation: str
    source: str
    explanation: str


class Device(Model, frozen=True, kw_only=True):
    """
    Devices of one kind, as one orders them.

    Attributes
    ----------
    role : {"branch_breaker", "pv_main_breaker", "residual_current_device", "isolator"}
        Circuit breaker of a branch, of the system, residual-current device, or isolator.
    quantity : int
        How many.
    rating_a : float or None
        Rating; null where none that is made is large enough [A].
    poles : int
        Poles.
    curve : str or None
        Tripping curve; null where it has none.
    breaking_capacity_ka : float or None
        Breaking capacity; null where it is none of its properties [kA].
    residual_current_ma : float or None
        Rated residual current; null where it has none [mA].
    residual_current_type : str or None
        Type of residual current; null where it has none.
    is_bidirectional : bool
        Whether it must be suitable for power flow in both directions.
    protects : str
        What it is for.
    source : str
        Clause, and how it was obtained.
    """

    role: Literal["branch_breaker", "pv_main_breaker", "residual_current_device", "isolator"]
    quantity: int
    rating_a: float | None
    poles: int
    curve: str | None
    breaking_capacity_ka: float | None
    residual_current_ma: float | None
    residual_current_type: str | None
    is_bidirectional: bool
    protects: str
    source: str


class CircuitRise(Model, frozen=True, kw_only=True):
    """
    Voltage rise of one circuit.

    Attributes
    ----------
    circuit : str
        Name of the circuit.
    phases : sequence of int
        Phases of its trunk, 1 to 3.
    trunk_end_fed_v : float
        Rise along the trunk with the home run at its end [V].
    trunk_centre_fed_v : float
        Rise along the trunk with the home run at its centre [V].
    trunk_v : float
        Rise along the trunk with the requested trunk_feed [V].
    home_run_v : float
        Rise along the home run [V].
    circuit_share : float
        Rise of trunk and home run as a share of the nominal voltage.
    system_cable_v : float
        Rise along the cable from the sub-board to the distribution board [V].
    supply_v : float
        Rise along the supply cable with all circuits of the phase feeding; the larger value, with the other phases idle or
        feeding [V].
    total_v : float
        Rise up to the connection point [V].
    total_share : float
        Rise up to the connection point as a share of the nominal voltage.
    rated_loss_share : float
        Share of the units' rated power that the cables to the connection point take at that power.
    total_share_as_given : float or None
        The same with the conductors as the request gives them, where one of them must be replaced; else null.
    home_run_size : str
        Conductor of the home run that is ordered.
    smallest_home_run_size : str or None
        Smallest home-run conductor that its circuit breaker protects and that meets the voltage-rise limit, not thinner
        than the trunk. Null where there is none or no limit is known.
    meets_limit : bool or None
        Whether the limit is met; null where the network operator sets it.
    explanation : str
        The same in words.
    """

    circuit: str
    phases: tuple[int, ...]
    trunk_end_fed_v: float
    trunk_centre_fed_v: float
    trunk_v: float
    home_run_v: float
    circuit_share: float
    system_cable_v: float
    supply_v: float
    total_v: float
    total_share: float
    rated_loss_share: float
    total_share_as_given: float | None
    home_run_size: str
    smallest_home_run_size: str | None
    meets_limit: bool | None
    explanation: str


class PhaseTotal(Model, frozen=True, kw_only=True):
    """
    Totals of one phase.

    Attributes
    ----------
    phase : int
        Phase, 1 to 3.
    unit_count : int
        Microinverters on it.
    current_a : float
        Rated AC current with existing generation, summed without diversity [A].
    existing_a : float
        Rated AC current of generation that is on the premises already [A].
    power_va : float
        Rated apparent power with existing generation [VA].
    """

    phase: int
    unit_count: int
    current_a: float
    existing_a: float
    power_va: float


class Filing(Model, frozen=True, kw_only=True):
    """
    One document to send.

    Attributes
    ----------
    document : str
        Document to send.
    when : str
        When it is due.
    stage : {"before_installation", "after_installation"}
        Whether that is before or after the installation.
    """

    document: str
    when: str
    stage: Literal["before_installation", "after_installation"]


class RouteFit(Model, frozen=True, kw_only=True):
    """
    How the system fits one procedure.

    Attributes
    ----------
    code : str
        Stable name of the procedure.
    route : str
        Procedure.
    applies : bool
        Whether it is the one that applies.
    asks_nobody : bool
        Whether nobody needs to agree before the system is switched on.
    units_most : int or None
        Most units of this kind, spread over the phases, within its limits; null where it has none.
    explanation : str
        The same in words.
    """

    code: str
    route: str
    applies: bool
    asks_nobody: bool
    units_most: int | None
    explanation: str


class ConnectionCheck(Model, frozen=True, kw_only=True):
    """
    One check of the grid connection.

    Attributes
    ----------
    name : str
        Name of the check.
    value : float
        Computed value, in `unit`.
    limit : float or None
        Its limit; null where the operator sets it or a figure is missing.
    unit : str
        Unit of value and limit.
    meets : bool or None
        Whether the limit is met; null where there is none.
    source : str
        Clause, and how the rule was obtained.
    is_binding : bool
        Whether what is beyond the limit fails; false where the limit is common practice alone.
    explanation : str
        The same in words.
    """

    name: str
    value: float
    limit: float | None
    unit: str
    meets: bool | None
    source: str
    is_binding: bool
    explanation: str


class Connection(Model, frozen=True, kw_only=True):
    """
    The grid connection procedure.

    Attributes
    ----------
    place : str
        Country or area whose rules apply.
    edition : str
        Edition of the rules.
    phases : sequence of PhaseTotal
        Totals by phase.
    power_total_va : float
        Rated apparent power of all phases [VA].
    route_code : str
        Stable name of the procedure that applies.
    route : str
        Procedure that applies.
    reason : str
        Why it applies, and why others do not.
    filings : sequence of Filing
        Documents to send, and when.
    allows : str
        What the procedure allows.
    source : str
        Clause, and how the rule was obtained.
    routes : sequence of RouteFit
        The procedures with a limit, and the one that applies: the largest design within each.
    checks : sequence of ConnectionCheck
        Further checks: phases, board, protection, and the highest voltage rise.
    """

    place: str
    edition: str
    phases: tuple[PhaseTotal, ...]
    power_total_va: float
    route_code: str
    route: str
    reason: str
    filings: tuple[Filing, ...]
    allows: str
    source: str
    routes: tuple[RouteFit, ...]
    checks: tuple[ConnectionCheck, ...]


class CircuitsResult(Model, frozen=True, kw_only=True):
    """
    Circuits, voltage rise and grid connection.

    Attributes
    ----------
    assumptions : sequence of Assumption
        Inputs that the request left out.
    cautions : sequence of Caution
        What must stay with the result.
    method : sequence of Method
        Models used.
    verdict : {"ok", "caution", "fail"}
        fail where a cable is not protected or a binding check fails, caution where the voltage rise is above a limit of
        common practice or a figure is missing, else ok.
    circuits : sequence of BranchCircuit
        Branch circuits in the order of the faces.
    cables : sequence of CableCheck
        Protection of each cable.
    devices : sequence of Device
        Circuit breakers, residual-current devices and isolator, as one orders them.
    circuit_rule : str
        Rule that limits the circuits, with its source.
    unit_count : int
        Microinverters.
    rises : sequence of CircuitRise
        Voltage rise of each circuit.
    rise_highest_share : float
        Highest rise up to the connection point, as a share of the nominal voltage.
    rise_limit_share : float or None
        Limit on the rise as a share of the nominal voltage; null where the network operator sets it.
    rise_limit_source : str
        Where the limit comes from.
    connection : Connection
        The grid connection procedure.
    """

    assumptions: tuple[Assumption, ...]
    cautions: tuple[Caution, ...]
    method: tuple[Method, ...]
    verdict: Literal["ok", "caution", "fail"]
    circuits: tuple[BranchCircuit, ...]
    cables: tuple[CableCheck, ...]
    devices: tuple[Device, ...]
    circuit_rule: str
    unit_count: int
    rises: tuple[CircuitRise, ...]
    rise_highest_share: float
    rise_limit_share: float | None
    rise_limit_source: str
    connection: Connection
    to_frame = tables.rows_of("circuits")
    rises_to_frame = tables.rows_of("rises")
    phases_to_frame = tables.rows_of("connection.phases")
    checks_to_frame = tables.rows_of("connection.checks")


class MountingSystem(Model, frozen=True, kw_only=True):
    """
    Rails, attachments, clamps, bonding and clips, as the mounting system's maker sells them.

    Attributes
    ----------
    roof_covering : str, one of the words of its type, optional
        Roof covering, which decides the kind of attachment: tiles: tile hook; slates: slate hook; shingles: L-foot;
        standing_seam: seam clamp; sheet_metal: sheet-metal bracket; corrugated: hanger bolt; flat: ballast foot; default
        "tiles" (the usual pitched roof).
    rails_per_row : int, optional
        Rails under a row; 0 for a system without rails; default 2 (common practice, no source); at least 0 and at most 4.
    rail_length_m : float, optional
        Length of a rail as it is made [m]; default 3.3 (an invented system, no source); at least 0.5 and at most 12.
    rail_overhang_m : float, optional
        Rail past the last module [m]; default 0.1 (an invented system, no source); at least 0 and at most 1.
    offcuts_reused : bool, optional
        Whether the rest of a rail may begin another run of the same face; default false (each run from new rails).
    column_gap_m : float, optional
        Gap between modules of a row, on faces without a layout [m]; default 0.02 (common practice, no source); at least 0
        and at most 2.
    row_gap_m : float, optional
        Gap between rows, on faces without a layout [m]; default 0.02 (common practice, no source); at least 0 and at most
        10.
    attachment_spacing_max_m : float, optional
        Greatest spacing of attachments along the rail: where they need a rafter, a whole multiple of the rafters' spacing
        [m]; if left out: an invented system's for the roof covering, no source; at least 0.1 and at most 10.
    rail_cantilever_max_m : float, optional
        Greatest length of rail past its last attachment [m]; if left out: an invented system's for the roof covering, no
        source; at least 0 and at most 2.
    screws_per_attachment : int, optional
        Screws for an attachment; if left out: an invented system's for the roof covering, no source; at least 0 and at most
        20.
    flashings_per_attachment : int, optional
        Flashings for an attachment; if left out: an invented system's for the roof covering, no source; at least 0 and at
        most 4.
    unit_fixings_per_unit : int, optional
        Brackets or fixings of a microinverter; default 1 (an invented system, no source); at least 0 and at most 8.
    bonding_jumpers : {"module", "rail", "none"}, optional
        Bonding clips or jumpers: one for each module, one from each further rail of a row to its first, or none where the
        clamps bond; if left out: an invented system's: one from each further rail of a row to its first, or one for each
        module without rails; no source.
    earth_lugs : {"segment", "row", "none"}, optional
        Earthing lugs: one for each row, or for each part of a row without a gap; none where the array is not bonded;
        default "segment" (an invented system, no source).
    bonding_conductor_size : str, optional
        Bonding conductor of the array; if left out: the region's rules.
    cable_clips_per_module : int, optional
        Cable clips for a module; default 4 (common practice, no source); at least 0 and at most 50.
    roof_entries_per_circuit : int, optional
        Entries through the roof for a circuit's home run; default 1 (one for each home run, common practice, no source); at
        least 0 and at most 4.
    module_lead_length_m : float, optional
        Length of a module's own leads; modules farther from their unit need extension leads [m]; default 1.1 (common
        practice, no source); at least 0 and at most 10.
    frame_height_mm : float, optional
        Height of the module's frame, which clamps are made for [mm]; at least 1 and at most 100.
    """

    roof_covering: Literal["tiles", "slates", "shingles", "standing_seam", "sheet_metal", "corrugated", "flat"] | None = None
    rails_per_row: int | None = None
    rail_length_m: float | None = None
    rail_overhang_m: float | None = None
    offcuts_reused: bool | None = None
    column_gap_m: float | None = None
    row_gap_m: float | None = None
    attachment_spacing_max_m: float | None = None
    rail_cantilever_max_m: float | None = None
    screws_per_attachment: int | None = None
    flashings_per_attachment: int | None = None
    unit_fixings_per_unit: int | None = None
    bonding_jumpers: Literal["module", "rail", "none"] | None = None
    earth_lugs: Literal["segment", "row", "none"] | None = None
    bonding_conductor_size: str | None = None
    cable_clips_per_module: int | None = None
    roof_entries_per_circuit: int | None = None
    module_lead_length_m: float | None = None
    frame_height_mm: float | None = None


class TrunkSystem(Model, frozen=True, kw_only=True, eq=False):
    """
    The trunk cable as its maker sells it.

    Attributes
    ----------
    drop_spacings_portrait_m : sequence of float, optional
        Spacings of the trunk's drops that are made for modules in portrait [m]; default [1.3, 2.5] (an invented system, no
        source); 1 to 20 items; each at least 0.1 and at most 20.
    drop_spacings_landscape_m : sequence of float, optional
        Spacings of the trunk's drops that are made for modules in landscape [m]; default [2.1, 4.0] (an invented system, no
        source); 1 to 20 items; each at least 0.1 and at most 20.
    sold_by_length : bool, optional
        Whether the trunk is cable by the metre with connectors for the microinverters, in place of sections with a drop
        each; default false (an invented system, no source).
    disconnect_tools : int, optional
        Tools for the trunk's connectors that the job needs; default 1 (common practice, no source); at least 0 and at most
        10.
    """

    drop_spacings_portrait_m: Numbers | None = None
    drop_spacings_landscape_m: Numbers | None = None
    sold_by_length: bool | None = None
    disconnect_tools: int | None = None


class Backup(Model, frozen=True, kw_only=True):
    """
    Output in an outage of the grid.

    Attributes
    ----------
    wanted : bool
        Whether output in an outage is wanted.
    grid_forming_units : bool, optional
        Whether the microinverters can form a grid, according to their maker; default false (most microinverters need the
        grid).
    """

    wanted: bool
    grid_forming_units: bool | None = None


class FaceCount(Model, frozen=True, kw_only=True):
    """
    Modules on one face.

    Attributes
    ----------
    name : str
        Name of the face; unique.
    module_count : int
        Modules on the face; at least 1 and at most 1,000.
    unit_spacing_m : float, optional
        Length of trunk cable from one microinverter to the next [m]; if left out: drops of the trunk as they are made, for
        modules of a unit side by side; at least 0.1 and at most 20.
    row_module_counts : sequence of int, optional
        Modules in each row, as in a layout; rails and clamps are then counted by row; 1 to 1,000 items; each at least 1 and
        at most 1,000.
    row_segment_counts : sequence of int, optional
        Groups of adjoining modules in each row, as in a layout; a gap between them counts as wide as a module; default:
        one; 1 to 1,000 items; each at least 1 and at most 1,000.
    segment_module_counts : sequence of int, optional
        Modules in each of these groups, row by row, as in a layout; default: as equal as whole modules allow; 1 to 1,000
        items; each at least 1 and at most 1,000.
    module_orientation : {"portrait", "landscape"}, optional
        How the modules lie: portrait with their long side up the slope, or landscape; default: portrait.
    area_m2 : float, optional
        Area of the face, for its dead load [m2]; at least 0.01 and at most 100,000.
    """

    name: str
    module_count: int
    unit_spacing_m: float | None = None
    row_module_counts: Sequence[int] | None = None
    row_segment_counts: Sequence[int] | None = None
    segment_module_counts: Sequence[int] | None = None
    module_orientation: Literal["portrait", "landscape"] | None = None
    area_m2: float | None = None


class PriceItem(Model, frozen=True, kw_only=True):
    """
    One part's price before tax.

    Attributes
    ----------
    part_number : str
        The caller's part number.
    cost : Decimal
        The caller's cost of one piece or metre.
    price : Decimal, optional
        The customer's price of one piece or metre; cost plus markup if left out.
    """

    part_number: str
    cost: Decimal | str
    price: Decimal | str | None = None


class PartNumber(Model, frozen=True, kw_only=True):
    """
    Which part fills a role.

    Attributes
    ----------
    role : str, one of the words of its type
        Role of the part on the bill.
    specification : str, optional
        Limits it to lines with this specification; if left out, it is for every other line of the role.
    part_number : str
        The caller's part number.
    """

    role: Literal[
        "module",
        "microinverter",
        "rail",
        "rail_splice",
        "rail_end_cap",
        "roof_attachment",
        "attachment_screw",
        "flashing",
        "end_clamp",
        "mid_clamp",
        "unit_fixing",
        "bonding_jumper",
        "earth_lug",
        "cable_clip",
        "dc_extension_leads",
        "dc_branch_connectors",
        "dc_input_cap",
        "trunk_joint",
        "trunk_extension_cable",
        "trunk_cable_section",
        "trunk_cable",
        "trunk_connector",
        "trunk_spare_drop",
        "trunk_drop_cap",
        "trunk_end_cap",
        "junction_box",
        "roof_cable_entry",
        "home_run_cable",
        "branch_circuit_protective_device",
        "circuit_label",
        "sub_board",
        "system_circuit_breaker",
        "residual_current_device",
        "system_cable",
        "supply_cable",
        "ac_isolator",
        "surge_protective_device",
        "generation_meter",
        "bonding_conductor",
        "communication_gateway",
        "current_transformer_production",
        "current_transformer_grid",
        "backup_isolating_device",
        "backup_controller",
        "backup_label",
        "grid_forming_source",
        "system_label",
        "disconnect_tool",
        "microinverter_spare",
        "commissioning_document",
        "network_operator_document",
    ]
    part_number: str
    specification: str | None = None


class PriceBook(Model, frozen=True, kw_only=True):
    """
    The caller's own prices, by part number, and which part fills which role.

    Attributes
    ----------
    currency : str
        Currency of all prices.
    currency_decimals : int, optional
        Decimal places of amounts; default 2 (most currencies have cents); at least 0 and at most 4.
    tax_percent : Decimal
        Tax on the net total.
    markup_percent : Decimal, optional
        Markup on cost where an item has no price; default "0" (parts are sold at cost).
    items : sequence of PriceItem
        Prices; 1 to 5,000 items.
    part_numbers : sequence of PartNumber
        Part numbers by role; 1 to 500 items.
    """

    currency: str
    tax_percent: Decimal | str
    items: Sequence[PriceItem | Mapping[str, Any]]
    part_numbers: Sequence[PartNumber | Mapping[str, Any]]
    currency_decimals: int | None = None
    markup_percent: Decimal | str | None = None


class BillOfMaterialsRequest(Model, frozen=True, kw_only=True):
    """
    A roof's faces with their modules, and the terms.

    Attributes
    ----------
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
    unit_ac_current_a : float
        Rated AC current of one microinverter [A]; at least 0.1 and at most 30.
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
    faces : sequence of FaceCount
        The faces of the roof, in the order of the trunk; 1 to 16 items.
    module_mass_kg : float
        Mass of one module [kg]; at least 0.5 and at most 80.
    unit_mass_kg : float
        Mass of one microinverter [kg]; at least 0.1 and at most 50.
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
    """

    unit_ac_current_a: float
    faces: Sequence[FaceCount | Mapping[str, Any]]
    module_mass_kg: float
    unit_mass_kg: float
    phase_count: int | None = None
    device_rating_a: float | None = None
    continuous_current_factor: float | None = None
    branch_device_max_a: float | None = None
    units_per_trunk_max: int | None = None
    trunk_phase_count: int | None = None
    circuits_may_cross_faces: bool | None = None
    face_crossing_m: float | None = None
    trunk_feed: Literal["end", "centre"] | None = None
    voltage_v: float | None = None
    voltage_rise_limit_share: float | None = None
    conductor_table: (
        Literal["iec_60228_class_2", "iec_60228_class_5", "nec_chapter_9_table_8_solid", "nec_chapter_9_table_8_stranded"]
        | None
    ) = None
    conductor_temp_c: float | None = None
    trunk_size: str | None = None
    trunk_installation: Installation | Mapping[str, Any] | None = None
    trunk_ampacity_a: float | None = None
    home_run_length_m: float | None = None
    home_run_size: str | None = None
    home_run_installation: Installation | Mapping[str, Any] | None = None
    home_run_ampacity_a: float | None = None
    system_cable_length_m: float | None = None
    system_cable_size: str | None = None
    system_cable_installation: Installation | Mapping[str, Any] | None = None
    system_cable_ampacity_a: float | None = None
    supply_length_m: float | None = None
    supply_size: str | None = None
    supply_installation: Installation | Mapping[str, Any] | None = None
    supply_ampacity_a: float | None = None
    busbar_rating_a: float | None = None
    main_device_a: float | None = None
    existing_generation: Sequence[ExistingGeneration | Mapping[str, Any]] | None = None
    export_limit_per_phase_a: float | None = None
    earthing: Literal["tn", "tt"] | None = None
    residual_current_device_asked: bool | None = None
    busbar_fed_at_opposite_end: bool | None = None
    plug_in: bool | None = None
    units_coupled: bool | None = None
    supply_loop_impedance_ohm: float | None = None
    earth_electrode_ohm: float | None = None
    several_premises: bool | None = None
    region: str | None = None
    region_rules: RegionRules | Mapping[str, Any] | None = None
    modules_per_unit: int | None = None
    unit_phase_count: int | None = None
    modules_per_input: int | None = None
    wiring: Literal["series", "parallel"] | None = None
    gateway_units_max: int | None = None
    spare_drops_per_circuit: int | None = None
    no_dc_fault_current_declared: bool | None = None
    current_transformer_secondary_a: float | None = None
    mounting_system: MountingSystem | Mapping[str, Any] | None = None
    trunk_system: TrunkSystem | Mapping[str, Any] | None = None
    cable_allowance_share: float | None = None
    surge_protection: bool | None = None
    generation_meter: bool | None = None
    spare_share: float | None = None
    failure_percent_per_year: float | None = None
    spare_horizon_years: int | None = None
    spare_warranty_years: int | None = None
    backup: Backup | Mapping[str, Any] | None = None
    unit_bracket_mass_kg: float | None = None
    mounting_mass_per_module_kg: float | None = None
    dead_load_guide_kg_m2: float | None = None
    module_length_m: float | None = None
    module_width_m: float | None = None
    module_area_m2: float | None = None
    price_book: PriceBook | Mapping[str, Any] | None = None


class BillLine(Model, frozen=True, kw_only=True):
    """
    One line of the bill.

    Attributes
    ----------
    role : str, one of the words of its type
        Role of the part.
    quantity : int
        Quantity to order, in `unit`.
    unit : {"piece", "m"}
        Unit of the quantity.
    specification : str or None
        Size, rating, type or name; null where the role is enough. A cable has the number of conductors before their size,
        neutral and earth among them: `3 x 2.5 mm2`; in a conduit `3 x 2.5 mm2, single wires`, each as long as `quantity`.
    scope : {"face", "circuit", "system"}
        Whether the part belongs to a face, a circuit or the system.
    belongs_to : str or None
        Name of that face or circuit; null for the system.
    derivation : str
        How the quantity was derived.
    """

    role: Literal[
        "module",
        "microinverter",
        "rail",
        "rail_splice",
        "rail_end_cap",
        "roof_attachment",
        "attachment_screw",
        "flashing",
        "end_clamp",
        "mid_clamp",
        "unit_fixing",
        "bonding_jumper",
        "earth_lug",
        "cable_clip",
        "dc_extension_leads",
        "dc_branch_connectors",
        "dc_input_cap",
        "trunk_joint",
        "trunk_extension_cable",
        "trunk_cable_section",
        "trunk_cable",
        "trunk_connector",
        "trunk_spare_drop",
        "trunk_drop_cap",
        "trunk_end_cap",
        "junction_box",
        "roof_cable_entry",
        "home_run_cable",
        "branch_circuit_protective_device",
        "circuit_label",
        "sub_board",
        "system_circuit_breaker",
        "residual_current_device",
        "system_cable",
        "supply_cable",
        "ac_isolator",
        "surge_protective_device",
        "generation_meter",
        "bonding_conductor",
        "communication_gateway",
        "current_transformer_production",
        "current_transformer_grid",
        "backup_isolating_device",
        "backup_controller",
        "backup_label",
        "grid_forming_source",
        "system_label",
        "disconnect_tool",
        "microinverter_spare",
        "commissioning_document",
        "network_operator_document",
    ]
    quantity: int
    unit: Literal["piece", "m"]
    specification: str | None
    scope: Literal["face", "circuit", "system"]
    belongs_to: str | None
    derivation: str


class FaceMass(Model, frozen=True, kw_only=True):
    """
    Dead load of a face.

    Attributes
    ----------
    face : str
        Name of the face.
    mass_kg : float
        Mass of modules, microinverters, brackets and mounting [kg].
    load_modules_kg_m2 : float or None
        Mass over the area of the modules; null without module_area_m2 [kg/m2].
    load_face_kg_m2 : float or None
        Mass over the area of the face; null without its area_m2 [kg/m2].
    within_guide : bool or None
        Whether the larger load is within the guide value; null without an area.
    """

    face: str
    mass_kg: float
    load_modules_kg_m2: float | None
    load_face_kg_m2: float | None
    within_guide: bool | None


class Spares(Model, frozen=True, kw_only=True):
    """
    Spare microinverters.

    Attributes
    ----------
    expected_failures : float
        Expected failures of microinverters over the horizon.
    expected_after_warranty : float
        Those of them after the warranty, which spares are for.
    probability_of_any : float
        Probability that at least one fails, 0 to 1.
    spare_count : int
        Spares on the bill.
    derivation : str
        How the number was derived.
    """

    expected_failures: float
    expected_after_warranty: float
    probability_of_any: float
    spare_count: int
    derivation: str


class BackupPart(Model, frozen=True, kw_only=True):
    """
    A part that is needed for backup.

    Attributes
    ----------
    role : str
        Role of the part.
    reason : str
        Why it is needed.
    """

    role: str
    reason: str


class BackupResult(Model, frozen=True, kw_only=True):
    """
    Output in an outage.

    Attributes
    ----------
    works_in_outage : bool
        Whether there is output in an outage.
    explanation : str
        The same in words.
    parts : sequence of BackupPart
        Parts that backup needs.
    """

    works_in_outage: bool
    explanation: str
    parts: tuple[BackupPart, ...]


class PricedLine(Model, frozen=True, kw_only=True):
    """
    Price of one line of the bill.

    Attributes
    ----------
    part_number : str or None
        Part number; null without one.
    unit_price : Decimal or None
        Price of one piece or metre before tax; null without one.
    net : Decimal or None
        Price of the line before tax; null without one.
    """

    part_number: str | None
    unit_price: DecimalText | None
    net: DecimalText | None


class MissingPrice(Model, frozen=True, kw_only=True):
    """
    A part without a price.

    Attributes
    ----------
    role : str
        Role of the part.
    specification : str or None
        Its size, rating or name; null without one.
    reason : str
        Why it has no price.
    """

    role: str
    specification: str | None
    reason: str


class Prices(Model, frozen=True, kw_only=True):
    """
    Prices of the bill.

    Attributes
    ----------
    currency : str
        Currency of all amounts.
    lines : sequence of PricedLine
        One for each line of the bill, in its order.
    net : Decimal
        Sum of the lines that have a price, before tax.
    tax_percent : Decimal
        Tax rate in percent.
    tax : Decimal
        Tax on net.
    total : Decimal
        Net plus tax.
    cost : Decimal
        The caller's cost of the same parts.
    margin : Decimal
        Net minus cost.
    margin_percent : Decimal or None
        Margin in percent of net; null where net is zero.
    complete : bool
        Whether every part has a price; documents need none.
    missing : sequence of MissingPrice
        Parts without a price, each once.
    """

    currency: str
    lines: tuple[PricedLine, ...]
    net: DecimalText
    tax_percent: DecimalText
    tax: DecimalText
    total: DecimalText
    cost: DecimalText
    margin: DecimalText
    margin_percent: DecimalText | None
    complete: bool
    missing: tuple[MissingPrice, ...]


class BillOfMaterialsResult(Model, frozen=True, kw_only=True):
    """
    The bill, its circuits, its masses and its prices.

    Attributes
    ----------
    assumptions : sequence of Assumption
        Inputs that the request left out.
    cautions : sequence of Caution
        What must stay with the result.
    method : sequence of Method
        Models used.
    lines : sequence of BillLine
        Parts in the order of installation: faces, then circuits, then the system.
    verdict : {"ok", "caution", "fail"}
        Worst of all checks of cables, devices, board and phases, as in circuits.
    circuits : sequence of BranchCircuit
        Branch circuits.
    cables : sequence of CableCheck
        Protection of each cable.
    devices : sequence of Device
        Circuit breakers, residual-current devices and isolator, as one orders them.
    circuit_rule : str
        Rule that limits the circuits, with its source.
    unit_count : int
        Microinverters without spares.
    masses : sequence of FaceMass
        Dead load by face; wind and snow are not covered.
    mass_total_kg : float
        Dead load of the roof [kg].
    dead_load_guide_kg_m2 : float
        Guide value that the dead loads are compared with [kg/m2].
    spares : Spares
        Spare microinverters.
    backup : BackupResult
        Output in an outage.
    connection : Connection
        The grid connection procedure.
    prices : Prices or None
        Prices; null without a price book.
    """

    assumptions: tuple[Assumption, ...]
    cautions: tuple[Caution, ...]
    method: tuple[Method, ...]
    lines: tuple[BillLine, ...]
    verdict: Literal["ok", "caution", "fail"]
    circuits: tuple[BranchCircuit, ...]
    cables: tuple[CableCheck, ...]
    devices: tuple[Device, ...]
    circuit_rule: str
    unit_count: int
    masses: tuple[FaceMass, ...]
    mass_total_kg: float
    dead_load_guide_kg_m2: float
    spares: Spares
    backup: BackupResult
    connection: Connection
    prices: Prices | None
    to_frame = tables.bill
    circuits_to_frame = tables.rows_of("circuits")
    masses_to_frame = tables.rows_of("masses")


class FaceLayout(Model, frozen=True, kw_only=True):
    """
    A face by its width and height or by its outline, and how modules may lie on it.

    Attributes
    ----------
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
    """

    width_m: float | None = None
    height_m: float | None = None
    outline: Sequence[Point | Mapping[str, Any]] | None = None
    obstructions: Sequence[Obstruction | Mapping[str, Any]] | None = None
    orientation: Literal["portrait", "landscape", "best"] | None = None
    edge_kinds: Sequence[Literal["eaves", "ridge", "rake", "hip", "valley"]] | None = None
    edge_distance_m: float | None = None
    eaves_distance_m: float | None = None
    ridge_distance_m: float | None = None
    rake_distance_m: float | None = None
    hip_distance_m: float | None = None
    valley_distance_m: float | None = None
    access_path_width_m: float | None = None
    access_path_side: Literal["none", "left", "right", "both", "either"] | None = None
    obstruction_distance_m: float | None = None
    column_gap_m: float | None = None
    row_gap_m: float | None = None
    left_out: Sequence[int] | None = None


class DesignFace(Model, frozen=True, kw_only=True):
    """
    One roof plane, with its number of modules or its size.

    Attributes
    ----------
    name : str
        Name used in the result; unique among the faces.
    tilt_deg : float
        Tilt against the horizontal [deg]; at least 0 and at most 90.
    azimuth_deg : float
        Direction, clockwise from north: 180 is south [deg]; at least 0 and at most 360.
    module_count : int, optional
        Modules on the face; or give layout; at least 1 and at most 1,000.
    mounting : {"close_roof", "open_rack", "insulated_back", "open_rack_faiman"}, optional
        Mounting, which determines the cell temperature: close_roof: close roof mount, Sandia glass/glass coefficients;
        open_rack: open rack, Sandia glass/polymer coefficients; insulated_back: in the roof with an insulated back, Sandia
        glass/polymer coefficients; open_rack_faiman: open rack, Faiman's mean heat loss factors; default "close_roof" (the
        usual pitched roof).
    shading_share : float, optional
        Share of irradiance lost to shading by near objects, 0 to 1, where they are not described in `shade`; default 0.0
        (an unshaded face); at least 0 and below 1.
    soiling_share : float, optional
        Share of irradiance lost to soiling over the year, 0 to 1; default 0.02 (common practice, no source); at least 0 and
        below 1.
    albedo : float, optional
        Share of irradiance that the ground reflects, 0 to 1; default 0.2 (common practice, no source); at least 0 and at
        most 1.
    horizon : sequence of HorizonPoint, optional
        Horizon seen from the face, linear between its points: it takes beam irradiance while the sun is below it, and its
        part of the sky's; default [] (an unobstructed horizon); 0 to 360 items.
    shade : FaceShade, optional
        What stands before the sky of the face beside its horizon.
    rear_irradiance_share : float, optional
        Irradiance on the back of the modules over that on the front, 0 to 1; counts for bifacial modules; if left out:
        nothing behind modules close to the roof, 0.05 on open racks; counts for bifacial modules only: common practice, no
        source; at least 0 and at most 1.
    row_module_counts : sequence of int, optional
        Modules in each row, as in a layout; rails and clamps are then counted by row; 1 to 1,000 items; each at least 1 and
        at most 1,000.
    row_segment_counts : sequence of int, optional
        Groups of adjoining modules in each row, as in a layout; a gap between them counts as wide as a module; default:
        one; 1 to 1,000 items; each at least 1 and at most 1,000.
    segment_module_counts : sequence of int, optional
        Modules in each of these groups, row by row, as in a layout; default: as equal as whole modules allow; 1 to 1,000
        items; each at least 1 and at most 1,000.
    module_orientation : {"portrait", "landscape"}, optional
        How the modules lie: portrait with their long side up the slope, or landscape; default: portrait.
    area_m2 : float, optional
        Area of the face, for its dead load [m2]; at least 0.01 and at most 100,000.
    layout : FaceLayout, optional
        Size of the face, in place of module_count: the service counts the modules that fit.
    unit_spacing_m : float, optional
        Length of trunk cable from one microinverter to the next; default: the made drops of the trunk that reach over the
        modules of a unit, side by side in the rows of the layout or the order [m]; at least 0.1 and at most 20.
    """

    name: str
    tilt_deg: float
    azimuth_deg: float
    module_count: int | None = None
    mounting: Literal["close_roof", "open_rack", "insulated_back", "open_rack_faiman"] | None = None
    shading_share: float | None = None
    soiling_share: float | None = None
    albedo: float | None = None
    horizon: Sequence[HorizonPoint | Mapping[str, Any]] | None = None
    shade: FaceShade | Mapping[str, Any] | None = None
    rear_irradiance_share: float | None = None
    row_module_counts: Sequence[int] | None = None
    row_segment_counts: Sequence[int] | None = None
    segment_module_counts: Sequence[int] | None = None
    module_orientation: Literal["portrait", "landscape"] | None = None
    area_m2: float | None = None
    layout: FaceLayout | Mapping[str, Any] | None = None
    unit_spacing_m: float | None = None


class Build(Model, frozen=True, kw_only=True):
    """
    The pairing to design for; what is left out is chosen by rank.

    Attributes
    ----------
    module : str, optional
        Name of one of the modules.
    microinverter : str, optional
        Name of one of the candidates.
    """

    module: str | None = None
    microinverter: str | None = None


class CircuitTerms(Model, frozen=True, kw_only=True):
    """
    Terms of circuits, voltage rise and grid connection; region, microinverters and faces are given elsewhere.

    Attributes
    ----------
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
    """

    phase_count: int | None = None
    device_rating_a: float | None = None
    continuous_current_factor: float | None = None
    branch_device_max_a: float | None = None
    units_per_trunk_max: int | None = None
    trunk_phase_count: int | None = None
    circuits_may_cross_faces: bool | None = None
    face_crossing_m: float | None = None
    trunk_feed: Literal["end", "centre"] | None = None
    voltage_v: float | None = None
    voltage_rise_limit_share: float | None = None
    conductor_table: (
        Literal["iec_60228_class_2", "iec_60228_class_5", "nec_chapter_9_table_8_solid", "nec_chapter_9_table_8_stranded"]
        | None
    ) = None
    conductor_temp_c: float | None = None
    trunk_size: str | None = None
    trunk_installation: Installation | Mapping[str, Any] | None = None
    trunk_ampacity_a: float | None = None
    home_run_length_m: float | None = None
    home_run_size: str | None = None
    home_run_installation: Installation | Mapping[str, Any] | None = None
    home_run_ampacity_a: float | None = None
    system_cable_length_m: float | None = None
    system_cable_size: str | None = None
    system_cable_installation: Installation | Mapping[str, Any] | None = None
    system_cable_ampacity_a: float | None = None
    supply_length_m: float | None = None
    supply_size: str | None = None
    supply_installation: Installation | Mapping[str, Any] | None = None
    supply_ampacity_a: float | None = None
    busbar_rating_a: float | None = None
    main_device_a: float | None = None
    existing_generation: Sequence[ExistingGeneration | Mapping[str, Any]] | None = None
    export_limit_per_phase_a: float | None = None
    earthing: Literal["tn", "tt"] | None = None
    residual_current_device_asked: bool | None = None
    busbar_fed_at_opposite_end: bool | None = None
    plug_in: bool | None = None
    units_coupled: bool | None = None
    supply_loop_impedance_ohm: float | None = None
    earth_electrode_ohm: float | None = None
    several_premises: bool | None = None


class DesignMaterialTerms(Model, frozen=True, kw_only=True):
    """
    Terms of the bill; spares use failure rate and warranty of the ranking.

    Attributes
    ----------
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
        Share of the microinverters that fails each year [%]; if left out: that of the candidate, else of the request, else
        0.1 %: geometric mean of 0.02 to 0.5 % a year: no independent failure rate is published; at least 0 and at most 20.
    spare_horizon_years : int, optional
        Years that the spares must last for; if left out: horizon_years of the request; at least 0 and at most 50.
    spare_warranty_years : int, optional
        Years in which the maker replaces a microinverter that fails, so that it needs no spare; if left out: warranty_years
        of the candidate; at least 0 and at most 40.
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
    """

    gateway_units_max: int | None = None
    spare_drops_per_circuit: int | None = None
    no_dc_fault_current_declared: bool | None = None
    current_transformer_secondary_a: float | None = None
    mounting_system: MountingSystem | Mapping[str, Any] | None = None
    trunk_system: TrunkSystem | Mapping[str, Any] | None = None
    cable_allowance_share: float | None = None
    surge_protection: bool | None = None
    generation_meter: bool | None = None
    spare_share: float | None = None
    failure_percent_per_year: float | None = None
    spare_horizon_years: int | None = None
    spare_warranty_years: int | None = None
    backup: Backup | Mapping[str, Any] | None = None
    unit_bracket_mass_kg: float | None = None
    mounting_mass_per_module_kg: float | None = None
    dead_load_guide_kg_m2: float | None = None


class ConnectionCost(Model, frozen=True, kw_only=True):
    """
    Cost of one grid connection procedure.

    Attributes
    ----------
    procedure : str
        Code of the procedure, as the region's rules write it.
    cost : float
        Its cost, with what the wait for it costs; at least 0 and at most 1,000,000.
    """

    procedure: str
    cost: float


class Sheet(Model, frozen=True, kw_only=True):
    """
    Letterhead, language, paper and notes of the sheet; what is left out comes from the operator's file.

    Attributes
    ----------
    company : str, optional
        Name of the company that issues the sheet.
    address : sequence of str, optional
        Lines of its address; 1 to 6 items.
    accent : str, optional
        Accent colour, #rrggbb, with a contrast of at least 4.5 against white.
    logo : str, optional
        Logo as a data: address in base64: a PNG, or an SVG of plain shapes alone, of at most 60000 bytes when decoded.
    language : {"en", "de"}, optional
        Language of the sheet; default: the operator's, else English. A language that is not offered gives 406, for JSON
        too.
    paper : {"A4", "Letter"}, optional
        Paper size of the sheet; default: the operator's, else A4.
    customer : str, optional
        Name of the customer.
    notes : str, optional
        Notes from the company to the customer; line feeds are kept.
    date : str, optional
        Date printed on the sheet; default: none.
    parts : sequence of {"customer", "installer"}, optional
        Parts of the sheet: the customer's page, the installer's pages; default: both; 1 to 2 items.
    """

    company: str | None = None
    address: Sequence[str] | None = None
    accent: str | None = None
    logo: str | None = None
    language: Literal["en", "de"] | None = None
    paper: Literal["A4", "Letter"] | None = None
    customer: str | None = None
    notes: str | None = None
    date: str | None = None
    parts: Sequence[Literal["customer", "installer"]] | None = None


class DesignRequest(Model, frozen=True, kw_only=True, eq=False):
    """
    A roof, modules and candidates with prices, the terms of selection, circuits and bill, and the price book.

    Attributes
    ----------
    modules_per_input : int, optional
        Modules on each input; default 1 (one module on each input); at least 1 and at most 4.
    wiring : {"series", "parallel"}, optional
        Wiring of the modules on an input: in series their voltages add, in parallel their currents; default "series" (in
        series unless given; no difference with one module on each input).
    site : Site
        Where the building stands.
    weather : BuiltInClimate or MonthlyTotals or NearestStation or HourlyWeather or WeatherFile, optional
        The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the text
        of an EPW or TMY3 file; if left out: the built-in climate, as no other weather was given.
    region : str, optional
        Region whose rules apply; default "international" (international standards, where no national code is named);
        `list_regions` lists them.
    modules : sequence of ModuleOffer
        The modules to compare, each on every face; 1 to 8 items.
    candidates : sequence of Candidate
        The microinverters on offer; 1 to 64 items.
    faces : sequence of DesignFace
        The faces of the roof, in the order of the trunk; 1 to 16 items.
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
    """

    site: Site | Mapping[str, Any]
    modules: Sequence[ModuleOffer | Mapping[str, Any]]
    candidates: Sequence[Candidate | Mapping[str, Any]]
    faces: Sequence[DesignFace | Mapping[str, Any]]
    modules_per_input: int | None = None
    wiring: Literal["series", "parallel"] | None = None
    weather: BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile | Mapping[str, Any] | None = None
    region: str | None = None
    surroundings: Surroundings | Mapping[str, Any] | None = None
    transposition: Literal["perez_1990", "hay_davies_1980", "isotropic"] | None = None
    currency: str | None = None
    tariff: Tariff | Mapping[str, Any] | None = None
    share_used_at_home: float | None = None
    load_w: Numbers | None = None
    export_limit_w: float | None = None
    first_weekday: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] | None = None
    home_utc_offset_h: float | None = None
    discount_rate_percent: float | None = None
    horizon_years: int | None = None
    degradation_percent_per_year: float | None = None
    failure_percent_per_year: float | None = None
    labour_per_visit: float | None = None
    maintenance_per_year: float | None = None
    other_cost: float | None = None
    second_kind_cost: float | None = None
    mismatch_loss_share: float | None = None
    snow_loss_share: float | None = None
    downtime_share: float | None = None
    ac_cable_loss_share: float | None = None
    string_inverters: Sequence[StringInverterOffer | Mapping[str, Any]] | None = None
    repair_days: float | None = None
    break_even_pairs: Literal["every", "recommended"] | None = None
    region_rules: RegionRules | Mapping[str, Any] | None = None
    build: Build | Mapping[str, Any] | None = None
    circuits: CircuitTerms | Mapping[str, Any] | None = None
    materials: DesignMaterialTerms | Mapping[str, Any] | None = None
    price_book: PriceBook | Mapping[str, Any] | None = None
    connection_costs: Sequence[ConnectionCost | Mapping[str, Any]] | None = None
    sheet: Sheet | Mapping[str, Any] | None = None


class Pairing(Model, frozen=True, kw_only=True):
    """
    A module and a microinverter.

    Attributes
    ----------
    module : str
        Name of the module.
    microinverter : str
        Name of the microinverter.
    """

    module: str
    microinverter: str


class Built(Model, frozen=True, kw_only=True):
    """
    The pairing that circuits and bill are for.

    Attributes
    ----------
    basis : {"recommended", "named", "none_passes", "named_fails", "unsuited"}
        Why: recommended, named by `build`, or the reason why nothing is built.
    pairing : Pairing or None
        The pairing; null where nothing is built.
    sentence : str
        The same in a sentence.
    """

    basis: Literal["recommended", "named", "none_passes", "named_fails", "unsuited"]
    pairing: Pairing | None
    sentence: str


class PlacedUnit(Model, frozen=True, kw_only=True):
    """
    One microinverter on a face.

    Attributes
    ----------
    circuit : str
        Its branch circuit.
    modules : sequence of int
        The modules that it serves, counted from 0 in `layout`.
    phases : sequence of int
        Phases of the supply that it feeds; single-phase units on a three-phase trunk take them in turn.
    x_m : float
        Its place along the eaves from the outline's origin: under the one of its modules that is nearest to their middle,
        as near to that middle as the frame allows [m].
    y_m : float
        Its place up the slope [m].
    """

    circuit: str
    modules: tuple[int, ...]
    phases: tuple[int, ...]
    x_m: float
    y_m: float


class ModulePosition(Model, frozen=True, kw_only=True):
    """
    What one module earns beside what it costs.

    Attributes
    ----------
    module_number : int
        Number of the module, from 1, in the order of the layout or of its places.
    delivered_kwh : float
        Energy of the first year that it delivers through its microinverter [kWh].
    value : float or None
        Present value of its energy over the horizon; null where a price is missing.
    cost : float or None
        Cost of the module and its share of a microinverter over the horizon; null where a price is missing.
    pays : bool or None
        Whether the value covers the cost; null where unknown.
    """

    module_number: int
    delivered_kwh: float
    value: float | None
    cost: float | None
    pays: bool | None


class FacePositions(Model, frozen=True, kw_only=True):
    """
    The modules of a face one by one, and the face without those that do not earn their cost.

    Attributes
    ----------
    modules : sequence of ModulePosition
        Every module.
    left_out : sequence of int
        What to give as `left_out` of the layout to design the face without the modules that do not earn their cost: their
        numbers, and those that it has already; none where all pay.
    kept_delivered_kwh : float
        Energy of the first year that the other modules deliver [kWh].
    """

    modules: tuple[ModulePosition, ...]
    left_out: tuple[int, ...]
    kept_delivered_kwh: float


class FaceDesign(Model, frozen=True, kw_only=True):
    """
    One face as it is built.

    Attributes
    ----------
    name : str
        Name of the face.
    module_count : int
        Modules on the face.
    layout : LayoutResult or None
        Positions of the modules; null where the request gave a count.
    units : sequence of PlacedUnit
        The microinverters in the order of the trunk, along the first row from the eaves and back along the next; empty
        without a layout, or where nothing is built.
    positions : FacePositions or None
        What each module earns with the pairing that is built; null where nothing is built, or all modules see the same sky.
    """

    name: str
    module_count: int
    layout: LayoutResult | None
    units: tuple[PlacedUnit, ...]
    positions: FacePositions | None


class DesignResult(Model, frozen=True, kw_only=True):
    """
    All results for one roof. Assumptions, cautions and method of all parts are here; those of each part are empty.

    Attributes
    ----------
    assumptions : sequence of Assumption
        Inputs that the request left out.
    cautions : sequence of Caution
        What must stay with the result.
    method : sequence of Method
        Models used.
    currency : str or None
        Currency of every price; null where the request names none.
    verdict : str or None
        The worse of the pairing's verdict and that of its circuits, ok, caution or fail: a design that fails must not be
        built as it is; null where nothing is built.
    built : Built
        The pairing that circuits and bill are for.
    climate : SiteClimateResult
        Irradiation and temperature, with the module that is built, else the requested one or the first.
    faces : sequence of FaceDesign
        The faces, in the order of the request.
    sizing : sequence of SizingResult
        Electrical checks: each module with every candidate.
    clipping : ClippingResult or None
        Energy of that module with every candidate that passes its checks; null where none does.
    selection : SelectionResult
        The recommendation and its basis.
    circuits : CircuitsResult or None
        Circuits, voltage rise and grid connection; null where nothing is built.
    bill_of_materials : BillOfMaterialsResult or None
        Parts, dead load and prices; null where nothing is built.
    """

    assumptions: tuple[Assumption, ...]
    cautions: tuple[Caution, ...]
    method: tuple[Method, ...]
    currency: str | None
    verdict: str | None
    built: Built
    climate: SiteClimateResult
    faces: tuple[FaceDesign, ...]
    sizing: tuple[SizingResult, ...]
    clipping: ClippingResult | None
    selection: SelectionResult
    circuits: CircuitsResult | None
    bill_of_materials: BillOfMaterialsResult | None


class RegionName(Model, frozen=True, kw_only=True):
    """
    A region whose rules the service has.

    Attributes
    ----------
    name : str
        Name of the region, as requests take it.
    place : str
        Country or area where its rules apply.
    edition : str
        Edition of the rules.
    """

    name: str
    place: str
    edition: str


class Regions(Model, frozen=True, kw_only=True):
    """
    The regions whose rules the service has.

    Attributes
    ----------
    regions : sequence of RegionName
        The regions, in alphabetical order.
    """

    regions: tuple[RegionName, ...]
    to_frame = tables.rows_of("regions")


class Region(Model, frozen=True, kw_only=True):
    """
    The rules of a region.

    Attributes
    ----------
    name : str
        Name of the region, as requests take it.
    place : str
        Country or area where its rules apply.
    edition : str
        Edition of the rules.
    rules : mapping
        The rules, each with its clause and how it was obtained, in the form that `region_rules` takes.
    cautions : sequence of Caution
        What must stay with the rules.
    """

    name: str
    place: str
    edition: str
    rules: Mapping[str, Any]
    cautions: tuple[Caution, ...]
    to_frame = tables.rules


class Readiness(Model, frozen=True, kw_only=True):
    """
    Whether the service's data can be read.

    Attributes
    ----------
    status : {"ready", "not ready"}
        Whether it is ready.
    faults : sequence of str
        Why it is not ready.
    station_count : int
        Usable station files.
    broken_station_count : int
        Station files that cannot be used; the service's log names them.
    """

    status: Literal["ready", "not ready"]
    faults: tuple[str, ...]
    station_count: int
    broken_station_count: int


class Liveness(Model, frozen=True, kw_only=True):
    """
    Made of these fields.

    Attributes
    ----------
    status : {"live"}
        As named.
    """

    status: Literal["live"]

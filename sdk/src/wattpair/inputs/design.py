"""What a whole design takes beside site, offers and money."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wattpair.inputs.layout import Obstruction, OrientationWanted, Point
from wattpair.inputs.materials import Backup
from wattpair.inputs.place import HorizonPoint, Mounting
from wattpair.inputs.shared import ConductorTable, Fields, TrunkFeed


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceLayout:
    """Size of a face: width and height or an outline.

    Parameters
    ----------
    width_m, height_m : float, optional
        Sides of a rectangular face, along the eaves and along the slope [m].
    outline : sequence of Point, optional
        Corners of the face in order, in place of width and height.
    obstructions : sequence of Obstruction, optional
        Chimneys, windows and the like.
    orientation : {"portrait", "landscape", "best"}, optional
        Longer side up the slope (portrait), along the eaves (landscape), or the one with more modules (best).
    edge_distance_m, obstruction_distance_m : float, optional
        Distances that modules keep from the outline and from obstructions [m].
    column_gap_m, row_gap_m : float, optional
        Gaps between modules of a row and between rows [m].
    """

    width_m: float | None = None
    height_m: float | None = None
    outline: Sequence[Point | Fields] | None = None
    obstructions: Sequence[Obstruction | Fields] | None = None
    orientation: OrientationWanted | None = None
    edge_distance_m: float | None = None
    obstruction_distance_m: float | None = None
    column_gap_m: float | None = None
    row_gap_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignFace:
    """One roof plane: its modules by their number or by the size of the face.

    Parameters
    ----------
    name : str
        Name used in the result; unique among the faces.
    tilt_deg : float
        Tilt against the horizontal [deg].
    azimuth_deg : float
        Direction, clockwise from north: 180 is south [deg].
    module_count : int, optional
        Modules on the face; or give layout.
    layout : FaceLayout, optional
        Size of the face, in place of module_count: the service counts the modules that fit.
    unit_spacing_m : float, optional
        Length of trunk cable from one microinverter to the next [m]; default: that of the layout, else 1.8 m.
    row_module_counts, row_segment_counts : sequence of int, optional
        Modules in each row, and stretches of them without a gap; a layout says them itself.
    area_m2 : float, optional
        Area of the face, for its load [m2]; a layout says it itself.
    mounting : {"close_roof", "open_rack", "insulated_back", "open_rack_faiman"}, optional
        Mounting, which determines the cell temperature.
    shading_share, soiling_share : float, optional
        Share of irradiance lost to shading by near objects, and to soiling over the year, 0 to 1.
    albedo : float, optional
        Share of irradiance that the ground reflects, 0 to 1.
    horizon : sequence of HorizonPoint, optional
        Horizon seen from the face, interpolated linearly.
    """

    name: str
    tilt_deg: float
    azimuth_deg: float
    module_count: int | None = None
    layout: FaceLayout | Fields | None = None
    unit_spacing_m: float | None = None
    row_module_counts: Sequence[int] | None = None
    row_segment_counts: Sequence[int] | None = None
    area_m2: float | None = None
    mounting: Mounting | None = None
    shading_share: float | None = None
    soiling_share: float | None = None
    albedo: float | None = None
    horizon: Sequence[HorizonPoint | Fields] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """What is to be built; what is left out is left to the ranking.

    Parameters
    ----------
    module, microinverter : str, optional
        Name of one of the modules and of one of the candidates.
    """

    module: str | None = None
    microinverter: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitTerms:
    """Terms of circuits and connection beside region, microinverters and faces.

    Parameters
    ----------
    phase_count : int, optional
        Phases of the supply over which the units are distributed.
    device_rating_a : float, optional
        Rating of a branch circuit's circuit breaker or fuse [A].
    continuous_current_factor : float, optional
        Factor on the continuous current of a branch circuit.
    units_per_trunk_max : int, optional
        Most microinverters on one trunk cable, according to its maker.
    circuits_may_cross_faces : bool, optional
        Whether a circuit may serve several faces.
    face_crossing_m : float, optional
        Length of trunk cable from the last unit of one face to the first of the next [m].
    trunk_feed : {"end", "centre"}, optional
        Where the home run is connected to a trunk.
    voltage_v : float, optional
        Nominal voltage of a unit's circuit [V].
    voltage_rise_limit_share : float, optional
        Limit on the voltage rise as a share of the nominal voltage.
    conductor_table : ConductorTable, optional
        Table of standard copper conductors, such as "iec_60228_class_5".
    conductor_temp_c : float, optional
        Operating temperature of the conductors [degC].
    trunk_size : str, optional
        Conductor of the trunk, as its table writes it: "2.5 mm2", "12 AWG".
    trunk_ampacity_a : float, optional
        Current-carrying capacity of the trunk as installed, from its maker or a code; checked if given [A].
    home_run_length_m : float, optional
        Length of cable from a trunk to the distribution board, one way [m].
    home_run_size : str, optional
        Conductor of the home run; default: the smallest that meets the voltage-rise limit, or the trunk's where no limit is
        known.
    home_run_ampacity_a : float, optional
        Current-carrying capacity of the home run as installed, from its maker or a code; checked if given [A].
    supply_length_m : float, optional
        Length of cable from the distribution board to the connection point, one way [m].
    supply_size : str, optional
        Conductor of the supply cable; required with supply_length_m.
    supply_ampacity_a : float, optional
        Current-carrying capacity of the supply cable as installed, from its maker or a code; checked if given [A].
    busbar_rating_a : float, optional
        Rating of the distribution board's busbar [A].
    main_device_a : float, optional
        Rating of the distribution board's main circuit breaker [A].
    several_premises : bool, optional
        Whether other premises close by are being connected in the same weeks.
    """

    phase_count: int | None = None
    device_rating_a: float | None = None
    continuous_current_factor: float | None = None
    units_per_trunk_max: int | None = None
    circuits_may_cross_faces: bool | None = None
    face_crossing_m: float | None = None
    trunk_feed: TrunkFeed | None = None
    voltage_v: float | None = None
    voltage_rise_limit_share: float | None = None
    conductor_table: ConductorTable | None = None
    conductor_temp_c: float | None = None
    trunk_size: str | None = None
    trunk_ampacity_a: float | None = None
    home_run_length_m: float | None = None
    home_run_size: str | None = None
    home_run_ampacity_a: float | None = None
    supply_length_m: float | None = None
    supply_size: str | None = None
    supply_ampacity_a: float | None = None
    busbar_rating_a: float | None = None
    main_device_a: float | None = None
    several_premises: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialTerms:
    """Terms of the bill beside circuits, module and microinverter.

    Parameters
    ----------
    gateway_units_max : int, optional
        Most microinverters on one communication gateway.
    spare_drops_per_circuit : int, optional
        Drops of each trunk that stay unused and are capped.
    no_dc_fault_current_declared : bool, optional
        Whether the microinverters' maker declares that no smooth DC fault current arises.
    current_transformer_secondary_a : float, optional
        Rated secondary current of the current transformers [A].
    spare_share : float, optional
        Spare microinverters as a share of those installed, 0 to 1; default: from expected failures.
    failure_percent_per_year : float, optional
        Share of the microinverters that fails each year; default: that of the candidate or the request [%].
    spare_horizon_years : int, optional
        Years that the spares must last for; horizon_years where left out.
    backup : Backup, optional
        Output in an outage; default: none.
    unit_bracket_mass_kg : float, optional
        Mass of a microinverter's bracket [kg].
    mounting_mass_per_module_kg : float, optional
        Mass of rails, clamps and hooks for one module [kg].
    dead_load_guide_kg_m2 : float, optional
        Guide value of the dead load [kg/m2].
    """

    gateway_units_max: int | None = None
    spare_drops_per_circuit: int | None = None
    no_dc_fault_current_declared: bool | None = None
    current_transformer_secondary_a: float | None = None
    spare_share: float | None = None
    failure_percent_per_year: float | None = None
    spare_horizon_years: int | None = None
    backup: Backup | Fields | None = None
    unit_bracket_mass_kg: float | None = None
    mounting_mass_per_module_kg: float | None = None
    dead_load_guide_kg_m2: float | None = None

"""Site and faces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from wattpair.inputs.shared import Fields

Mounting = Literal["close_roof", "open_rack", "insulated_back", "open_rack_faiman"]
"""How modules are mounted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """Where the building stands.

    Parameters
    ----------
    latitude_deg : float
        Latitude, north positive [deg].
    longitude_deg : float
        Longitude, east positive [deg].
    elevation_m : float, optional
        Height above sea level; from the built-in map if left out [m].
    temp_lowest_c, temp_highest_c : float, optional
        Lowest and highest expected air temperature [degC]; those of the climate where they are left out, with a margin.
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float | None = None
    temp_lowest_c: float | None = None
    temp_highest_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HorizonPoint:
    """Height of the horizon in one direction.

    Parameters
    ----------
    azimuth_deg : float
        Direction, clockwise from north [deg].
    elevation_deg : float
        Height of the horizon [deg].
    """

    azimuth_deg: float
    elevation_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """One roof plane with its modules.

    Parameters
    ----------
    name : str
        Name used in the result; unique among the faces.
    tilt_deg : float
        Tilt against the horizontal [deg].
    azimuth_deg : float
        Direction, clockwise from north: 180 is south [deg].
    module_count : int
        Modules on the face.
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
    module_count: int
    mounting: Mounting | None = None
    shading_share: float | None = None
    soiling_share: float | None = None
    albedo: float | None = None
    horizon: Sequence[HorizonPoint | Fields] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitFace:
    """Modules on one face, with the length of its trunk.

    Parameters
    ----------
    name : str
        Name of the face; unique.
    module_count : int
        Modules on the face.
    unit_spacing_m : float, optional
        Length of trunk cable from one microinverter to the next [m].
    """

    name: str
    module_count: int
    unit_spacing_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceCount:
    """Modules on one face, where its direction does not matter.

    Parameters
    ----------
    name : str
        Name of the face; unique.
    module_count : int
        Modules on the face.
    unit_spacing_m : float, optional
        Length of trunk cable from one microinverter to the next [m].
    row_module_counts : sequence of int, optional
        Modules in each row, as in a layout; rails and clamps are then counted by row.
    area_m2 : float, optional
        Area of the face, for its dead load [m2].
    row_segment_counts : sequence of int, optional
        Groups of adjoining modules in each row, as in a layout; default: one.
    """

    name: str
    module_count: int
    unit_spacing_m: float | None = None
    row_module_counts: Sequence[int] | None = None
    area_m2: float | None = None
    row_segment_counts: Sequence[int] | None = None

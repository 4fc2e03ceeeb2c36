"""The answer of `describe_climate`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from wattpair.frames import Row, names_of, row_of
from wattpair.results.shared import ClimateUsed, DesignTemperatures, Range, Result, StationUsed

if TYPE_CHECKING:
    import pandas as pd

Season = Literal["year", "december_to_february", "march_to_may", "june_to_august", "september_to_november"]
"""The year, or three months of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HorizontalClimate:
    """Irradiation on the horizontal, and air temperature.

    Attributes
    ----------
    ghi_kwh_m2_by_month : tuple of float
        Global horizontal irradiation, January to December [kWh/m2].
    ghi_kwh_m2 : Range
        Yearly global horizontal irradiation, with the range of single years [kWh/m2].
    diffuse_share : float
        Diffuse share of the yearly global horizontal irradiation, 0 to 1.
    temp_air_c_by_month : tuple of float
        Mean air temperature, January to December [degC].
    """

    ghi_kwh_m2_by_month: tuple[float, ...]
    ghi_kwh_m2: Range
    diffuse_share: float
    temp_air_c_by_month: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioAtIrradiance:
    """DC/AC ratio of one microinverter at a season's irradiance.

    Attributes
    ----------
    microinverter : str
        Name of the microinverter.
    dc_ac_ratio : float
        Module power at that irradiance over the AC limit per module.
    """

    microinverter: str
    dc_ac_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonIrradiation:
    """Irradiation of a season, and its energy-weighted irradiance.

    Attributes
    ----------
    season : {"year", "december_to_february", "march_to_may", "june_to_august", "september_to_november"}
        The season, by its months, or the year.
    poa_kwh_m2 : float
        Plane-of-array irradiation in the season [kWh/m2].
    irradiance_w_m2 : float
        Energy-weighted mean of the plane-of-array irradiance [W/m2].
    temp_cell_c : float or None
        Irradiance-weighted cell temperature; None without a module or without irradiation [degC].
    module_power_w : float or None
        DC power of the module at that irradiance and temperature; None in the same cases [W].
    ratios : tuple of RatioAtIrradiance
        The microinverters, in the order of the request.
    """

    season: Season
    poa_kwh_m2: float
    irradiance_w_m2: float
    temp_cell_c: float | None
    module_power_w: float | None
    ratios: tuple[RatioAtIrradiance, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceClimate:
    """Irradiation of one face.

    Attributes
    ----------
    face : str
        Name of the face.
    poa_kwh_m2_by_month : tuple of float
        Plane-of-array irradiation, January to December [kWh/m2].
    poa_kwh_m2 : Range
        Yearly plane-of-array irradiation, with the range of single years [kWh/m2].
    level_lower_edges_w_m2 : tuple of float
        Lower edges of the irradiance levels [W/m2].
    energy_share_by_level : tuple of float
        Share of the yearly irradiation at each irradiance level, 0 to 1.
    seasons : tuple of SeasonIrradiation
        The year, then its seasons.
    """

    face: str
    poa_kwh_m2_by_month: tuple[float, ...]
    poa_kwh_m2: Range
    level_lower_edges_w_m2: tuple[float, ...]
    energy_share_by_level: tuple[float, ...]
    seasons: tuple[SeasonIrradiation, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteClimateResult(Result):
    """Irradiation, temperatures and turbidity of a site.

    Attributes
    ----------
    climate : ClimateUsed
        Where the year's weather comes from.
    horizontal : HorizontalClimate
        Irradiation on the horizontal, and air temperature.
    linke_turbidity_by_month : tuple of float or None
        Linke turbidity, January to December; None where the maps have no data.
    design_temperatures : DesignTemperatures
        Temperatures to design for.
    nearest_station : StationUsed or None
        Nearest usable weather file of the service's operator within its limit; None where there is none.
    faces : tuple of FaceClimate
        The faces, in the order of the request.
    """

    climate: ClimateUsed
    horizontal: HorizontalClimate
    linke_turbidity_by_month: tuple[float, ...] | None
    design_temperatures: DesignTemperatures
    nearest_station: StationUsed | None
    faces: tuple[FaceClimate, ...]

    def to_frame(self) -> pd.DataFrame:
        """One row for each `month`, 1 to 12: air temperature, and irradiation on the horizontal and on each face.

        The columns are `temp_air_c`, `linke_turbidity` (empty where the maps have no data), `ghi_kwh_m2`, and for each face
        its name after "poa_kwh_m2 ".
        """
        air = self.horizontal.temp_air_c_by_month
        columns = {
            "month": range(1, len(air) + 1),
            "temp_air_c": air,
            "linke_turbidity": self.linke_turbidity_by_month or (math.nan,) * len(air),
            "ghi_kwh_m2": self.horizontal.ghi_kwh_m2_by_month,
            **{f"poa_kwh_m2 {face.face}": face.poa_kwh_m2_by_month for face in self.faces},
        }
        months = zip(*columns.values(), strict=True)
        return self._frame((dict(zip(columns, month, strict=True)) for month in months), list(columns), index="month")

    def seasons_to_frame(self) -> pd.DataFrame:
        """One row for each face and season, with the fields of `SeasonIrradiation`.

        In place of `ratios` there is a column for each microinverter, its name after "dc_ac_ratio ".
        """
        rows = [{"face": face.face, **row_of(season), **_ratios_row(season)} for face in self.faces for season in face.seasons]
        ratios = dict.fromkeys(name for face in self.faces for season in face.seasons for name in _ratios_row(season))
        return self._frame(rows, ["face", *(name for name in names_of(SeasonIrradiation) if name != "ratios"), *ratios])

    def levels_to_frame(self) -> pd.DataFrame:
        """One row for each face and level of irradiance: `lower_edge_w_m2` and `energy_share`."""
        rows = (
            {"face": face.face, "lower_edge_w_m2": edge, "energy_share": share}
            for face in self.faces
            for edge, share in zip(face.level_lower_edges_w_m2, face.energy_share_by_level, strict=True)
        )
        return self._frame(rows, ["face", "lower_edge_w_m2", "energy_share"])


def _ratios_row(season: SeasonIrradiation) -> Row:
    return {f"dc_ac_ratio {each.microinverter}": each.dc_ac_ratio for each in season.ratios}

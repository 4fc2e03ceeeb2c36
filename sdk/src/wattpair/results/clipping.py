"""The answer of `compute_clipping`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wattpair.frames import Figures, Row, frame, names_of, row_of
from wattpair.results.shared import ClimateUsed, Range, Result

if TYPE_CHECKING:
    import pandas as pd

HOURS_OF_DAY = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceIrradiation:
    """Irradiation of a face.

    Attributes
    ----------
    poa_kwh_m2, effective_irradiation_kwh_m2 : float
        Yearly irradiation of the plane, and what of it reaches the cells [kWh/m2].
    poa_kwh_m2_by_month : tuple of float
        Plane-of-array irradiation, January to December [kWh/m2].
    energy_weighted_irradiance_w_m2 : float
        Energy-weighted mean irradiance of the year [W/m2].
    """

    poa_kwh_m2: float
    poa_kwh_m2_by_month: tuple[float, ...]
    effective_irradiation_kwh_m2: float
    energy_weighted_irradiance_w_m2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance(Figures):
    """An energy balance: `available_kwh` less every loss is `delivered_kwh`.

    Attributes
    ----------
    available_kwh : float
        At the maximum power point of the module [kWh].
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

    available_kwh: float
    start_up_kwh: float
    voltage_window_kwh: float
    input_current_limit_kwh: float
    conversion_kwh: float
    clipping_kwh: float
    thermal_derating_kwh: float
    night_draw_kwh: float
    delivered_kwh: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Duration:
    """Power duration curve, to be read against the AC limit.

    Attributes
    ----------
    ac_power_w : tuple of float
        Levels of AC power, rising from zero [W].
    hours_h : tuple of float
        Hours of the year with at least that power [h].
    """

    ac_power_w: tuple[float, ...]
    hours_h: tuple[float, ...]

    def to_frame(self) -> pd.DataFrame:
        """One row for each level: `ac_power_w` and `hours_h`."""
        pairs = zip(self.ac_power_w, self.hours_h, strict=True)
        return frame(({"ac_power_w": power, "hours_h": hours} for power, hours in pairs), names_of(Duration))


@dataclass(frozen=True, slots=True, kw_only=True)
class AgedYear:
    """A year of the module's life.

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


@dataclass(frozen=True, slots=True, kw_only=True)
class PairingYear:
    """A year of one module with one microinverter.

    Attributes
    ----------
    year : Balance
        The year.
    months : tuple of Balance
        January to December.
    clipped_hours_h : float
        Hours at the AC limit [h].
    clipped_kwh_by_month_hour : tuple of tuple of float
        Clipped energy: 12 months of 24 hours of the day in standard time [kWh].
    duration : Duration
        Power duration curve.
    ageing : tuple of AgedYear
        Years 1, 10 and 25 of the module's life.
    """

    year: Balance
    months: tuple[Balance, ...]
    clipped_hours_h: float
    clipped_kwh_by_month_hour: tuple[tuple[float, ...], ...]
    duration: Duration
    ageing: tuple[AgedYear, ...]

    def months_to_frame(self) -> pd.DataFrame:
        """One row for each `month`, 1 to 12, with the terms of its balance."""
        return frame(self.month_rows(), ["month", *names_of(Balance)], index="month")

    def clipping_to_frame(self) -> pd.DataFrame:
        """Clipped energy [kWh]: a row for each `month`, 1 to 12, and a column for each hour of the day, 0 to 23."""
        rows = ({"month": month} | dict(enumerate(row)) for month, row in enumerate(self.clipped_kwh_by_month_hour, start=1))
        return frame(rows, ["month", *range(HOURS_OF_DAY)], index="month")

    def month_rows(self) -> Iterator[Row]:
        """The months as rows of a table."""
        return ({"month": month} | row_of(balance) for month, balance in enumerate(self.months, start=1))


@dataclass(frozen=True, slots=True, kw_only=True)
class PairingClipping:
    """One microinverter on a face.

    Attributes
    ----------
    microinverter : str
        Name of the microinverter.
    ac_limit_per_module_w : float
        AC limit per module [W].
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


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceClipping:
    """One face with every microinverter.

    Attributes
    ----------
    face : str
        Name of the face.
    module_count : int
        Modules on the face.
    irradiation : FaceIrradiation
        Irradiation of the face.
    pairings : tuple of PairingClipping
        The microinverters, in the order of the request.
    """

    face: str
    module_count: int
    irradiation: FaceIrradiation
    pairings: tuple[PairingClipping, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoofTotal:
    """All faces with the same microinverter.

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
    ageing : tuple of AgedYear
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


@dataclass(frozen=True, slots=True, kw_only=True)
class SubhourlyUsed:
    """What was taken to happen inside the hours.

    Attributes
    ----------
    origin : str
        How the irradiance was obtained.
    variability_added_share : float
        Share of the subhourly variability that irradiance of this origin lacks and that was added, 0 to 1.
    linke_turbidity : float
        Mean Linke turbidity of the clear-sky model.
    turbidity_from_hours_share : float
        Share of hours whose turbidity follows from their own irradiance, 0 to 1.
    """

    origin: str  # any text, as for the kind of `ClimateUsed`
    variability_added_share: float
    linke_turbidity: float
    turbidity_from_hours_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClippingResult(Result):
    """A year of every face with every microinverter, and of the whole roof.

    Attributes
    ----------
    module : str
        Name of the module.
    climate : ClimateUsed
        Where the year's weather comes from.
    subhourly : SubhourlyUsed
        Subhourly variability that was used.
    ghi_kwh_m2 : float
        Yearly global horizontal irradiation [kWh/m2].
    faces : tuple of FaceClipping
        The faces, in the order of the request.
    totals : tuple of RoofTotal
        The whole roof for each microinverter, in the order of the request.
    """

    module: str
    climate: ClimateUsed
    subhourly: SubhourlyUsed
    ghi_kwh_m2: float
    faces: tuple[FaceClipping, ...]
    totals: tuple[RoofTotal, ...]

    def to_frame(self) -> pd.DataFrame:
        """One row for each face and microinverter: the year of one module, with the terms of its balance."""
        rows = (
            {
                "face": face.face,
                "microinverter": pairing.microinverter,
                "module_count": face.module_count,
                "ac_limit_per_module_w": pairing.ac_limit_per_module_w,
                **_range_row("clipped_share", pairing.clipped_share),
                "clipped_share_hourly_means": pairing.clipped_share_hourly_means,
                "clipped_hours_h": pairing.per_module.clipped_hours_h,
                **row_of(pairing.per_module.year),
            }
            for face, pairing in self._pairings()
        )
        columns = ["face", "microinverter", "module_count", "ac_limit_per_module_w", *_range_names("clipped_share")]
        return self._frame(rows, [*columns, "clipped_share_hourly_means", "clipped_hours_h", *names_of(Balance)])

    def months_to_frame(self) -> pd.DataFrame:
        """One row for each face, microinverter and month, 1 to 12: one module, with the terms of its balance."""
        rows = (
            {"face": face.face, "microinverter": pairing.microinverter} | row
            for face, pairing in self._pairings()
            for row in pairing.per_module.month_rows()
        )
        return self._frame(rows, ["face", "microinverter", "month", *names_of(Balance)])

    def totals_to_frame(self) -> pd.DataFrame:
        """One row for each microinverter: the year of the whole roof, with the terms of its balance."""
        rows = (
            {
                "microinverter": total.microinverter,
                **_range_row("clipped_share", total.clipped_share),
                "clipped_share_hourly_means": total.clipped_share_hourly_means,
                "specific_yield_kwh_per_kwp": total.specific_yield_kwh_per_kwp,
                **row_of(total.balance),
                **_range_row("delivered_kwh", total.delivered_range_kwh),
            }
            for total in self.totals
        )
        ends = _range_names("delivered_kwh")[1:]
        columns = ["microinverter", *_range_names("clipped_share"), "clipped_share_hourly_means"]
        return self._frame(rows, [*columns, "specific_yield_kwh_per_kwp", *names_of(Balance), *ends])

    def ageing_to_frame(self) -> pd.DataFrame:
        """One row for each microinverter and year of the modules' life, of the whole roof: the fields of `AgedYear`."""
        rows = ({"microinverter": total.microinverter} | row_of(year) for total in self.totals for year in total.ageing)
        return self._frame(rows, ["microinverter", *names_of(AgedYear)])

    def _pairings(self) -> Iterator[tuple[FaceClipping, PairingClipping]]:
        return ((face, pairing) for face in self.faces for pairing in face.pairings)


def _range_names(name: str) -> list[str]:
    return [name, f"{name}_low", f"{name}_high"]


def _range_row(name: str, figure: Range) -> Row:
    return dict(zip(_range_names(name), (figure.value, figure.low, figure.high), strict=True))

"""`python -m tests.validation.minute_clipping FILE.csv.gz --latitude ... --longitude ... --elevation-m ...`.

Clipping from measured minutes against the same from their hourly means, without and with the spread inside the hour. Columns of
the file: time_utc (start of the minute), ghi, dni, dhi [W/m2], temp_air [degC].

All three use the service's own transposition, reflection and cell temperature; the minutes' cell follows with an inertia of ten
minutes. Power goes with the light and a temperature coefficient; the AC limit is the module's rated power over the ratio.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from tests.validation.minutes import (
    GAPS_NAMED,
    WIND_M_S,
    FileRefusedError,
    Minutes,
    Place,
    Station,
    conditions_of,
    gaps,
    read,
    station,
)
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face, PlaneOfArray, plane_of_array
from wattpair_service.engineering.irradiance.subhourly import SubhourlyStates, clipped_share_range
from wattpair_service.engineering.irradiance.subhourly_on_faces import states_on_faces
from wattpair_service.engineering.module.cell_temperature import cell_temperature

POWER_COEFFICIENT_PER_K = -0.0034
EFFICIENCY = 0.965  # of the conversion, the same at every power
MOUNTING = "open_rack"
ALBEDO = 0.2
INERTIA_MIN = 10.0
RATIOS = (1.1, 1.2, 1.3, 1.4, 1.5)
FLOOR_W_M2 = 0.5
TINY = 1e-9


@dataclass(frozen=True, slots=True)
class Row:
    """One ratio: clipped shares and the stated range, all in percent of the unlimited energy."""

    dc_ac_ratio: float
    minutes_percent: float
    hourly_percent: float
    spread_percent: float
    low_percent: float
    high_percent: float

    @property
    def inside(self) -> bool:
        """Whether the range holds the truth."""
        return self.low_percent <= self.minutes_percent <= self.high_percent


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """One station and face: what the minutes give, over the rated power, and the plane of the hours' means."""

    station: Station
    face: Face
    plane: PlaneOfArray
    ratios: tuple[float, ...]
    true_power: FloatArray
    true_clipped: FloatArray  # (ratios, hours)

    def rows(self, states: SubhourlyStates, other: tuple[Conditions, PlaneOfArray] | None = None) -> list[Row]:
        """Clipped shares at each ratio from the hours' means, or from other conditions of the place and their plane."""
        conditions, plane = other or (self.station.conditions, self.plane)
        usable, weight = self.station.minutes.usable, conditions.weight_h
        true = self.true_clipped[:, usable].sum(axis=1) / max(float(self.true_power[usable].sum()), TINY)
        power = _power(plane.effective_irradiance_w_m2, _temp_cell(plane.poa_global_w_m2, conditions.temp_air_c))
        (on_face,) = states_on_faces(
            conditions, (plane,), states, faces=(self.face,), transposition="perez_1990",
            power_coefficient_per_k=POWER_COEFFICIENT_PER_K,
        )  # fmt: skip
        inside, energy = power[on_face.index][:, None] * on_face.power_ratio, max(float(weight @ power), TINY)
        rows = []
        for ratio, of_minutes in zip(self.ratios, true, strict=True):
            clipped = np.maximum(power - 1.0 / ratio, 0.0)
            hourly_share = float(weight @ clipped / energy)
            clipped[on_face.index] = (np.maximum(inside - 1.0 / ratio, 0.0) * on_face.weight).sum(axis=1)
            share = float(weight @ clipped / energy)
            stated = clipped_share_range(share=share, hourly_share=hourly_share, states=states)
            rows.append(Row(ratio, *(100.0 * float(each) for each in (of_minutes, hourly_share, share, *stated))))
        return rows


def case(measured: Station, face: Face, ratios: tuple[float, ...] = RATIOS) -> Case:
    """Powers of one face; the AC limit is the rated power over the ratio."""
    minutes = measured.minutes
    truth = _minute_power(minutes, face)
    plane = plane_of_array(measured.conditions, face, transposition="perez_1990")
    clipped = np.stack([minutes.hourly(np.maximum(truth - 1.0 / ratio, 0.0)) for ratio in ratios])
    return Case(measured, face, plane, ratios, minutes.hourly(truth), clipped)


def compare(measured: Station, face: Face, ratios: tuple[float, ...] = RATIOS) -> list[Row]:
    """Clipped shares of one face at each ratio."""
    return case(measured, face, ratios).rows(measured.spread)


def roof(tilt_deg: float, azimuth_deg: float) -> Face:
    """A bare face."""
    return Face("face", tilt_deg, azimuth_deg, 1, MOUNTING, 0.0, 0.0, ALBEDO, ())


def _minute_power(minutes: Minutes, face: Face) -> FloatArray:
    """Power before the limit at each minute, over the module's rated power, shape (hours, 60)."""
    names = ("zenith_deg", "azimuth_deg", "ghi_w_m2", "dni_w_m2", "dhi_w_m2", "dni_extra_w_m2", "temp_air_c")
    flat = [getattr(minutes, name).ravel() for name in names]
    lit = flat[4] + flat[3] > FLOOR_W_M2
    plane = plane_of_array(conditions_of(*(values[lit] for values in flat)), face, transposition="perez_1990")
    in_plane, effective = np.zeros(lit.size), np.zeros(lit.size)
    in_plane[lit], effective[lit] = plane.poa_global_w_m2, plane.effective_irradiance_w_m2
    delayed = pd.Series(_temp_cell(in_plane, flat[6])).ewm(alpha=1.0 - float(np.exp(-1.0 / INERTIA_MIN)), adjust=False)
    return _power(effective, delayed.mean().to_numpy()).reshape(minutes.there.shape)


def _power(effective_irradiance_w_m2: FloatArray, temp_cell_c: FloatArray) -> FloatArray:
    return np.asarray(EFFICIENCY * effective_irradiance_w_m2 / 1000.0 * (1.0 + POWER_COEFFICIENT_PER_K * (temp_cell_c - 25.0)))


def _temp_cell(in_plane_w_m2: FloatArray, temp_air_c: FloatArray) -> FloatArray:
    wind = np.full(in_plane_w_m2.size, WIND_M_S)
    return cell_temperature(mounting=MOUNTING, irradiance_w_m2=in_plane_w_m2, temp_air_c=temp_air_c, wind_speed_m_s=wind)


def errors(rows: list[Row], column: str) -> dict[str, float]:
    """Bias, root mean square and largest error in points."""
    error = np.array([getattr(row, column) - row.minutes_percent for row in rows])
    worst = float(error[np.argmax(np.abs(error))])
    return {"bias": float(error.mean()), "rmse": float(np.sqrt(np.mean(error**2))), "worst": worst}


def summary(measured: Station, rows: list[Row]) -> dict[str, object]:
    """Everything that the command says, as plain data."""
    minutes = measured.minutes
    return {
        "hours_used": int(minutes.usable.sum()),
        "daylight_minutes_there_share": minutes.coverage,
        "longest_gaps_min": [{"start_utc": start, "minutes": length} for start, length in gaps(minutes)[:GAPS_NAMED]],
        "linke_turbidity_mean": float(measured.spread.linke_turbidity[measured.spread.index].mean()),
        "turbidity_from_data_share": measured.spread.inverted_share,
        "rows": [
            {
                "dc_ac_ratio": row.dc_ac_ratio,
                "clipped_minutes_percent": row.minutes_percent,
                "clipped_hourly_percent": row.hourly_percent,
                "clipped_spread_percent": row.spread_percent,
                "range_percent": [row.low_percent, row.high_percent],
                "range_holds": row.inside,
            }
            for row in rows
        ],
        "errors_points": {"hourly": errors(rows, "hourly_percent"), "spread": errors(rows, "spread_percent")},
    }


def main(arguments: list[str] | None = None) -> int:
    """Run the command; 2 where the file is refused."""
    parser = argparse.ArgumentParser(description="Clipping from minutes against hourly means without and with the spread.")
    parser.add_argument("file", type=Path)
    parser.add_argument("--latitude", type=float, required=True)
    parser.add_argument("--longitude", type=float, required=True)
    parser.add_argument("--elevation-m", type=float, required=True)
    parser.add_argument("--tilt-deg", type=float, default=30.0)
    parser.add_argument("--azimuth-deg", type=float, default=180.0)
    parser.add_argument("--dc-ac-ratio", type=float, nargs="+", default=list(RATIOS))
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args(arguments)
    try:
        measured = station(read(options.file), Place(options.latitude, options.longitude, options.elevation_m))
    except FileRefusedError as refused:
        print(json.dumps({"refused": str(refused)}) if options.json else f"refused: {refused}", file=sys.stderr)
        return 2
    rows = compare(measured, roof(options.tilt_deg, options.azimuth_deg), tuple(options.dc_ac_ratio))
    found = summary(measured, rows)
    if options.json:
        print(json.dumps(found, indent=2))
        return 0
    print(f"{found['hours_used']} hours; {measured.minutes.coverage:.1%} of the daylight minutes are there")
    for start, length in gaps(measured.minutes)[:GAPS_NAMED]:
        print(f"  gap from {start}: {length} min")
    print("ratio  minutes  hourly  spread      range")
    for row in rows:
        shares = f"{row.minutes_percent:8.2f}{row.hourly_percent:8.2f}{row.spread_percent:8.2f}"
        print(f"{row.dc_ac_ratio:5.2f}{shares}  {row.low_percent:5.2f} to {row.high_percent:5.2f}")
    for name in ("hourly", "spread"):
        error = errors(rows, f"{name}_percent")
        print(f"{name:6}: bias {error['bias']:+.2f}, RMSE {error['rmse']:.2f}, worst {error['worst']:+.2f} points")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

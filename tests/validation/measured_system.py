"""`python -m tests.validation.measured_system FILE.csv.gz --system SYSTEM.toml [--soiling 1 ...] [--measured-clipping]`.

AC energy of a real system as metered, beside what the service's own chain computes from the irradiance measured with it. The
file has `time_utc`, `power` [W], `poa` (in the plane of array) or `ghi`, with `dni` and `dhi` where measured [W/m2], `temp_air`
[degC] and `wind_speed` [m/s] where measured. SYSTEM.toml has the fields of `System`, `[module]` those of its datasheet, and
`[columns]` the file's own names for its columns. With `--measured-clipping` see `measured_clipping`: only place, `ac_limit_w`
and columns are then needed.

The chain (transposition, reflection, cell temperature, single diode, conversion, AC limit) runs over the file's own intervals,
their hourly means, and these with subhourly states; energies are of the same hours. The cell follows the irradiance with ten
minutes of inertia where intervals are shorter than half an hour. A measured `poa` is not transposed: beam and diffuse then only
share out the reflection and give the subhourly states. Where they are missing, they are split from `poa` for the reflection
alone, and there are no subhourly states. Losses that the chain lacks are 0 unless given.

Neglected: snow, shade, spectrum, start-up, voltage window and night draw of the inverter.
"""

from __future__ import annotations

import argparse
import json
import sys
import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, asdict, dataclass, field, fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pvlib

from tests.validation import measured_clipping
from tests.validation.measured_record import LABELS, Record, read, record_of
from tests.validation.minutes import FileRefusedError, Place
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.equipment import Microinverter, Module
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.inverter.conversion import EUROPEAN_WEIGHTS, from_weighted_efficiency
from wattpair_service.engineering.inverter.power_steps import power_steps
from wattpair_service.engineering.irradiance.conditions import Conditions, beam_and_diffuse
from wattpair_service.engineering.irradiance.plane_of_array import Face, PlaneOfArray, plane_of_array
from wattpair_service.engineering.irradiance.subhourly import VARIABILITY_ADDED, IrradianceOrigin, subhourly_states
from wattpair_service.engineering.irradiance.subhourly_on_faces import states_on_faces
from wattpair_service.engineering.module.cell_temperature import MOUNTINGS
from wattpair_service.engineering.module.dc_response import dc_response, lit_hours, subhourly_points, with_subhourly_points
from wattpair_service.engineering.module.single_diode import fit

INERTIA_MIN = 10.0
INERTIA_BELOW_MIN = 30
CLASS_W_M2 = 200.0
CALIBRATED_LOAD = (0.5, 0.95)
"""Computed loads of the AC limit between which metered power calibrates the computed one, to judge the flat top."""
WHOLE_DAY = 0.9
LAGS = range(-3, 4)
UNKNOWN: Mapping[str, Any] = {
    "name": "unknown plane", "tilt_deg": 0.0, "azimuth_deg": 180.0, "module_count": 1, "efficiency_percent": 96.0,
    "module": {each.name: 0.0 for each in fields(Module) if each.default is MISSING},
}  # fmt: skip
"""What `--measured-clipping` does not use."""
KNOWN = {
    "label": LABELS, "poa_sensor": ("pyranometer", "reference_cell"), "mounting": tuple(MOUNTINGS),
    "origin": tuple(origin for origin in VARIABILITY_ADDED if origin != "representative_days"),
}  # fmt: skip
LOSSES = ("soiling", "mismatch", "dc_wiring", "connections", "ageing", "ac_wiring")
"""Losses that the chain lacks [%]: of irradiance, of DC current (the next four), of AC power."""
BOUNDS: Mapping[str, tuple[float, float]] = {
    "latitude_deg": (-90.0, 90.0), "longitude_deg": (-180.0, 180.0), "elevation_m": (-500.0, 6000.0), "tilt_deg": (0.0, 90.0),
    "azimuth_deg": (0.0, 360.0), "module_count": (1, 1_000_000), "ac_limit_w": (1.0, 1e9), "efficiency_percent": (50.0, 100.0),
    "albedo": (0.0, 1.0), "power_w": (1.0, 2000.0), "voltage_oc_v": (0.1, 500.0), "voltage_mp_v": (0.1, 500.0),
    "current_sc_a": (0.01, 100.0), "current_mp_a": (0.01, 100.0), "temp_coefficient_voc_percent_per_k": (-1.0, 0.0),
    "temp_coefficient_isc_percent_per_k": (-0.5, 0.5), "temp_coefficient_pmp_percent_per_k": (-1.0, 0.0),
    "length_m": (0.01, 10.0), "width_m": (0.01, 10.0), "mass_kg": (0.0, 1000.0), "bifaciality": (0.0, 1.0),
    **dict.fromkeys(LOSSES, (0.0, 50.0)),
}  # fmt: skip
"""Fields that are numbers: lowest and highest; where these are whole, so must the number be. No source: beyond is a mistake."""


@dataclass(frozen=True, slots=True)
class System:
    """What is known of a system: angles [deg], AC limit [W], weighted (European) efficiency [%].

    `label` is where in its interval a time stands: start, middle or end. `poa_sensor` is pyranometer or reference_cell, whose
    reading already has the reflection. `losses_percent` has some of `LOSSES`.
    """

    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    tilt_deg: float
    azimuth_deg: float
    module: Module
    module_count: int
    ac_limit_w: float
    efficiency_percent: float
    mounting: str = "open_rack"
    albedo: float = 0.2
    label: str = "start"
    poa_sensor: str = "pyranometer"
    origin: IrradianceOrigin = "measured_hourly"
    losses_percent: Mapping[str, float] = field(default_factory=dict)

    def loss(self, name: str) -> float:
        """One of the losses (0-1)."""
        return self.losses_percent.get(name, 0.0) / 100.0

    @property
    def place(self) -> Place:
        """Where it stands."""
        return Place(self.latitude_deg, self.longitude_deg, self.elevation_m)

    @property
    def face(self) -> Face:
        """Its plane, with the soiling."""
        soiling = self.loss("soiling")
        return Face("face", self.tilt_deg, self.azimuth_deg, self.module_count, self.mounting, 0.0, soiling, self.albedo, ())

    @property
    def inverter(self) -> Microinverter:
        """One unit with all modules and no limit but that of its AC power."""
        curve = from_weighted_efficiency(
            ac_power_w=self.ac_limit_w, efficiency_percent=self.efficiency_percent, weights=EUROPEAN_WEIGHTS
        )
        return Microinverter(
            name=self.name, ac_power_w=self.ac_limit_w, ac_peak_power_w=self.ac_limit_w, ac_current_a=None, ac_voltage_v=None,
            dc_voltage_max_v=1e4, dc_operating_voltage_min_v=0.0, dc_operating_voltage_max_v=1e4,
            dc_full_power_voltage_min_v=0.0, dc_full_power_voltage_max_v=1e4, dc_start_voltage_v=0.0, dc_current_max_a=1e4,
            dc_short_circuit_current_max_a=1e4, input_count=self.module_count, modules_per_input_max=1, conversion=curve,
            start_power_w=0.0, night_draw_w=0.0, derating=None, mass_kg=0.0,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Row:
    """One way of computing: energy [kWh], error over the metered energy and clipped share [%]."""

    way: str
    energy_kwh: float
    bias_percent: float
    clipped_percent: float


@dataclass(frozen=True, slots=True)
class ClassRow:
    """Intervals of a class of irradiance in the plane [W/m2]: hours, errors in percent of their mean power."""

    from_w_m2: float
    hours: float
    bias_percent: float
    rmse_percent: float


@dataclass(frozen=True, slots=True)
class Result:
    """A system's energies and errors.

    `flat_top_percent` is the clipped share from the metered flat top: see `_flat_top_share`. `lag_intervals` is by how many
    intervals the metered power comes after the computed one, 0 where nothing else fits better. Spreads are standard deviations
    of whole days' or months' errors, in percent of their mean energy; None with fewer than three. The median day's error leaves
    out snow and outages, which the bias contains.
    """

    name: str
    from_utc: str
    to_utc: str
    hours: int
    days: int
    measured_kwh: float
    rows: list[Row]
    flat_top_percent: float
    classes: list[ClassRow]
    median_day_percent: float | None
    day_spread_percent: float | None
    month_spread_percent: float | None
    lag_intervals: int
    losses_percent: dict[str, float]
    assumed: dict[str, float]


def result(record: Record, system: System) -> Result:
    """Compare a record with the chain.

    Parameters
    ----------
    record : Record
        Of that system.
    system : System

    Raises
    ------
    FileRefusedError
        Metered or computed energy that is not above 0.
    """
    means, counted, hours = record.hourly(), record.counted, record.usable_hours
    measured_w, hour_h = record.series["power"], record.step_min / 60.0
    measured_kwh = record.metered_w * hour_h / 1000.0
    unlimited_w, limited_w = ac_power(record, system)
    ways: dict[str, tuple[FloatArray, ...]] = {"intervals": (unlimited_w[counted] * hour_h, limited_w[counted] * hour_h)}
    by_hour = hours & record.is_day.reshape(hours.size, -1).any(axis=1)
    ways["hourly means"] = tuple(each[by_hour] for each in ac_power(means, system))
    if "ghi" in record.series:
        ways["hourly means, subhourly states"] = tuple(each[by_hour] for each in ac_power(means, system, with_states=True))
    for way, (_, kept) in ways.items():
        if not kept.sum() > 0.0:
            raise FileRefusedError(f"computed energy of {way}: {kept.sum() / 1000.0:.1f} kWh; it must be above 0")
    error_w = limited_w - measured_w
    by_day = pd.DataFrame({"error": error_w, "measured": measured_w, "counted": counted, "day": record.is_day}, record.day)
    by_day.loc[~counted, ["error", "measured"]] = 0.0
    days = by_day.groupby(level=0).sum()
    days = days[(days["counted"] >= WHOLE_DAY * days["day"]) & (days["measured"] > 0.0)]
    return Result(
        name=system.name, from_utc=str(record.start_utc[0]), to_utc=str(record.start_utc[-1]), hours=int(by_hour.sum()),
        days=len(days), measured_kwh=measured_kwh,
        rows=[
            Row(way, float(kept.sum()) / 1000.0, float(kept.sum()) / measured_kwh / 10.0 - 100.0, _share(whole, kept))
            for way, (whole, kept) in ways.items()
        ],
        flat_top_percent=_flat_top_percent(unlimited_w[counted], measured_w[counted], system.ac_limit_w),
        classes=_classes(record, system, error_w),
        median_day_percent=float((days["error"] / days["measured"]).median()) * 100.0 if len(days) else None,
        day_spread_percent=_spread(days), month_spread_percent=_spread(days.resample("MS").sum()),
        lag_intervals=_lag(measured_w, limited_w, counted), losses_percent={name: 100.0 * system.loss(name) for name in LOSSES},
        assumed=dict(record.assumed),
    )  # fmt: skip


def ac_power(record: Record, system: System, *, with_states: bool = False) -> tuple[FloatArray, FloatArray]:
    """AC power of a system before and after its AC limit [W], at each interval of a record."""
    kept = record.there | ~record.is_day
    # An empty hour parts the sequence: taken for a dark one it would pass for a change of the weather.
    conditions = replace(record.conditions, sequence=np.cumsum(~kept)).where(kept)
    face, parameters = system.face, fit(system.module)
    poa = record.series["poa"][kept] if "poa" in record.series else None
    if "ghi" not in record.series and poa is not None:
        conditions = _with_beam_of_plane(conditions, system, poa)
    modelled = plane_of_array(conditions, face, transposition="perez_1990")
    plane = modelled if poa is None else _measured_plane(modelled, poa, system)
    heating = plane
    if record.step_min < INERTIA_BELOW_MIN:
        alpha = 1.0 - float(np.exp(-record.step_min / INERTIA_MIN))
        heating = replace(
            plane, poa_global_w_m2=pd.Series(plane.poa_global_w_m2).ewm(alpha=alpha, adjust=False).mean().to_numpy()
        )
    response = dc_response(conditions, heating, face=face, parameters=parameters)
    interval, share = lit_hours(plane), np.ones(1)
    if with_states:
        states = subhourly_states(
            conditions, origin=system.origin, elevation_m=system.elevation_m, linke_turbidity_by_month=None
        )
        (on_face,) = states_on_faces(
            conditions, (modelled,), states, faces=(face,), transposition="perez_1990",
            power_coefficient_per_k=system.module.temp_coefficient_pmp_percent_per_k / 100.0,
        )  # fmt: skip
        points = subhourly_points(plane, on_face)
        response = with_subhourly_points(response, points)
        interval, share = interval[points.interval], points.share
    dc_kept = float(np.prod([1.0 - system.loss(name) for name in LOSSES[1:-1]]))
    steps = power_steps(response, system.inverter, current_factor=dc_kept)
    position = np.flatnonzero(kept)[interval]
    whole = system.module_count * (1.0 - system.loss("ac_wiring"))
    unlimited_w, limited_w = np.zeros((2, kept.size))
    np.add.at(unlimited_w, position, steps.converted_w * share * whole)
    np.add.at(limited_w, position, steps.limited_w * share * whole)
    return unlimited_w, limited_w


def _with_beam_of_plane(conditions: Conditions, system: System, poa_w_m2: FloatArray) -> Conditions:
    """Beam and diffuse as if the plane lay flat under a sun at its angle of incidence; good enough for the reflection."""
    zenith, azimuth = conditions.zenith_deg, conditions.azimuth_deg
    incidence = pvlib.irradiance.aoi(system.tilt_deg, system.azimuth_deg, zenith, azimuth)
    beam, dhi = beam_and_diffuse(poa_w_m2, incidence, conditions.dni_extra_w_m2)
    dni = np.where(zenith < 90.0, beam, 0.0)
    ghi = dni * np.maximum(np.cos(np.radians(zenith)), 0.0) + dhi
    return replace(conditions, ghi_w_m2=ghi, dni_w_m2=dni, dhi_w_m2=dhi)


def _measured_plane(modelled: PlaneOfArray, poa_w_m2: FloatArray, system: System) -> PlaneOfArray:
    """The measured irradiance, with the modelled share of it that reaches the cells."""
    if system.poa_sensor == "reference_cell":
        return PlaneOfArray(poa_w_m2, poa_w_m2 * (1.0 - system.loss("soiling")))
    whole = modelled.poa_global_w_m2
    share = np.divide(modelled.effective_irradiance_w_m2, whole, out=np.zeros_like(whole), where=whole > 0.0)
    return PlaneOfArray(poa_w_m2, poa_w_m2 * share)


def _share(unlimited: FloatArray, limited: FloatArray) -> float:
    return 100.0 * (1.0 - float(limited.sum()) / float(unlimited.sum()))


def _flat_top_percent(unlimited_w: FloatArray, measured_w: FloatArray, limit_w: float) -> float:
    """Clipped share from the metered flat top [% of the energy without a limit].

    Metered intervals at the limit lose what the chain gives there more than the meter, once the chain is scaled to the meter at
    middling loads; noise below zero counts as 0. Intervals clipped in part are not counted: a lower bound with long ones.
    """
    load = unlimited_w / limit_w
    middling = (load > CALIBRATED_LOAD[0]) & (load < CALIBRATED_LOAD[1])
    if not middling.any():
        return 0.0
    scale = measured_w[middling].sum() / unlimited_w[middling].sum()
    at_limit = measured_w >= measured_clipping.FLAT_TOP * limit_w
    lost = float((scale * unlimited_w - measured_w)[at_limit].sum())
    return max(100.0 * lost / (float(measured_w.sum()) + lost), 0.0)


def _classes(record: Record, system: System, error_w: FloatArray) -> list[ClassRow]:
    poa = record.series.get("poa")
    if poa is None:
        poa = plane_of_array(record.conditions, system.face, transposition="perez_1990").poa_global_w_m2
    rows = []
    for low in np.arange(0.0, float(poa.max()), CLASS_W_M2).tolist():
        inside = record.counted & (poa >= low) & (poa < low + CLASS_W_M2)
        if record.series["power"][inside].sum() > 0.0:
            mean_w, error = float(record.series["power"][inside].mean()), error_w[inside]
            figures = (100.0 * float(each) / mean_w for each in (error.mean(), np.sqrt(np.mean(error**2))))
            rows.append(ClassRow(low, float(inside.sum()) * record.step_min / 60.0, *figures))
    return rows


def _spread(periods: pd.DataFrame) -> float | None:
    """Standard deviation of the periods' errors about their mean error [% of their mean energy]."""
    relative = periods["error"] - periods["measured"] * periods["error"].sum() / periods["measured"].sum()
    return 100.0 * float(relative.std() / periods["measured"].mean()) if len(periods) >= 3 else None


def _lag(measured_w: FloatArray, computed_w: FloatArray, counted: np.ndarray[Any, np.dtype[np.bool_]]) -> int:
    fits = {lag: float(np.corrcoef(np.roll(measured_w, -lag)[counted], computed_w[counted])[0, 1]) for lag in LAGS}
    return max(fits, key=lambda lag: (fits[lag], -abs(lag)))


def system_of(path: Path, losses_percent: Mapping[str, float], *, of_known_plane: bool = True) -> tuple[System, dict[str, str]]:
    """The system of a TOML file, with losses given besides, and its names of columns.

    Where the plane is not known, plane, module and efficiency may be left out.

    Raises
    ------
    FileRefusedError
        Fields missing, unknown or impossible.
    """
    try:
        given = tomllib.loads(path.read_text(encoding="utf-8"))
        columns = given.pop("columns", {})
        if not isinstance(columns, dict) or not all(isinstance(theirs, str) for theirs in columns.values()):
            raise FileRefusedError(f"columns = {columns!r}; a table of names is allowed")
        losses = {**given.pop("losses_percent", {}), **losses_percent}
        if unknown := set(losses) - set(LOSSES):
            raise FileRefusedError(f"unknown losses: {', '.join(sorted(unknown))}; known: {', '.join(LOSSES)}")
        for name, value in (*given.get("module", {}).items(), *given.items(), *losses.items()):
            _require_allowed(name, value)
        if not of_known_plane:
            given = {**UNKNOWN, **given}
        return System(module=Module(**given.pop("module")), losses_percent=losses, **given), columns
    except KeyError as missing:
        raise FileRefusedError(f"{path.name}: {missing} is missing") from missing
    except (OSError, ValueError, TypeError, AttributeError) as error:
        raise FileRefusedError(f"{path.name}: {error}") from error


def _require_allowed(name: str, value: Any) -> None:
    """Refuse a value outside `BOUNDS` and `KNOWN`; names that are in neither are the constructors' matter."""
    if name == "name" and not isinstance(value, str):
        raise FileRefusedError(f"name = {value!r}; a text is allowed")
    if name in KNOWN and value not in KNOWN[name]:
        raise FileRefusedError(f"{name} = {value!r}; one of {', '.join(KNOWN[name])} is allowed")
    if name in BOUNDS:
        low, high = BOUNDS[name]
        whole = isinstance(low, int)
        is_number = isinstance(value, int if whole else int | float) and not isinstance(value, bool)
        if not is_number or not low <= value <= high:
            kind = "a whole number" if whole else "a number"
            raise FileRefusedError(f"{name} = {value!r}; {kind} from {low:.9g} to {high:.9g} is allowed")


def text(found: Result) -> list[str]:
    """The result as lines."""
    lines = [
        f"{found.name}: {found.hours} daylight hours, {found.days} whole days, {found.from_utc} to {found.to_utc} UTC",
        "losses assumed [%]: " + ", ".join(f"{name} {percent:g}" for name, percent in found.losses_percent.items()),
        *(f"{name} not measured: {value:g} assumed" for name, value in found.assumed.items()),
        f"metered {found.measured_kwh:.1f} kWh; clipped by its flat top {found.flat_top_percent:.2f} %",
        *(
            f"{row.way:32}{row.energy_kwh:10.1f} kWh {row.bias_percent:+7.2f} %  clipped {row.clipped_percent:5.2f} %"
            for row in found.rows
        ),
    ]  # fmt: skip
    if len(found.rows) < 3:
        lines.append("subhourly states need ghi, better with dni and dhi")
    if found.median_day_percent is not None:
        lines.append(f"error of the median day: {found.median_day_percent:+.2f} %")
    for name, spread in (("days", found.day_spread_percent), ("months", found.month_spread_percent)):
        lines += [f"spread of {name}: {spread:.1f} %"] if spread is not None else []
    lines += ["poa from [W/m2]  hours   bias %   RMSE %"] + [
        f"{row.from_w_m2:15.0f}{row.hours:7.0f}{row.bias_percent:+9.1f}{row.rmse_percent:9.1f}" for row in found.classes
    ]
    if found.lag_intervals:
        count, side = abs(found.lag_intervals), "after" if found.lag_intervals > 0 else "before"
        intervals = "interval" if count == 1 else "intervals"
        lines.append(f"metered power comes {count} {intervals} {side} the irradiance: errors by class are inflated")
    return lines


def main(arguments: list[str] | None = None) -> int:
    """Run the command; 2 where file or system is refused."""
    parser = argparse.ArgumentParser(description="Metered AC energy beside the service's own chain.")
    parser.add_argument("file", type=Path)
    parser.add_argument("--system", type=Path, required=True)
    for name in LOSSES:
        parser.add_argument(f"--{name.replace('_', '-')}", type=float, metavar="PERCENT", help="default 0")
    parser.add_argument("--measured-clipping", action="store_true")
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args(arguments)
    losses = {name: getattr(options, name) for name in LOSSES if getattr(options, name) is not None}
    try:
        system, columns = system_of(options.system, losses, of_known_plane=not options.measured_clipping)
        frame = read(options.file, columns)
        record = record_of(frame, system.place, label=system.label, plane=(system.tilt_deg, system.azimuth_deg))
        if options.measured_clipping:
            clipping = measured_clipping.fitted(record, system.ac_limit_w)
            print(json.dumps(asdict(clipping), indent=2) if options.json else "\n".join(measured_clipping.text(clipping)))
            return 0
        if "temp_air" in record.assumed:
            raise FileRefusedError("columns missing: temp_air")
        found = result(record, system)
    except (FileRefusedError, EngineeringError) as refused:
        print(json.dumps({"refused": str(refused)}) if options.json else f"refused: {refused}", file=sys.stderr)
        return 2
    print(json.dumps(asdict(found), indent=2) if options.json else "\n".join(text(found)))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

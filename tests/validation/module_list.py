"""Fits from datasheet figures against the list of the California Energy Commission that pvlib carries.

The list holds, for each module, its datasheet figures and the six parameters that its publisher fitted to them. Here
the datasheet figures alone go through `fit`, and the fitted curve is compared with the one of the list's own
parameters, computed by pvlib. Rows are known by their position among the crystalline rows only; no name is read.

Run: python -m tests.validation.module_list
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
import pvlib

from tests.validation.ledger import Check, within
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.single_diode import (
    DiodeCurve,
    SixParameters,
    curve_at,
    fit,
    maximum_power,
    open_circuit_voltage,
    short_circuit_current,
)

FloatArray = npt.NDArray[np.float64]

ROWS = 500
FIGURES = ("I_sc_ref", "V_oc_ref", "I_mp_ref", "V_mp_ref", "alpha_sc", "beta_oc", "gamma_r")
PARAMETERS = ("a_ref", "I_L_ref", "I_o_ref", "R_sh_ref", "R_s", "Adjust")

FITTED_FLOOR = 0.98
STC_FLOOR_PERCENT = 0.1
AGREEING_FLOOR = 0.95
CONDITIONS: dict[str, tuple[float, float, float]] = {
    "1000 W/m2, 55 degC": (1000.0, 55.0, 0.5),
    "200 W/m2, 25 degC": (200.0, 25.0, 2.0),
}
"""Irradiance [W/m2], cell temperature [degC], floor for the deviation of maximum power [%]."""


@dataclass(frozen=True, slots=True)
class Deviation:
    """Deviations from the reference over the fitted rows [%], and the share of rows within the floor."""

    median_percent: float
    high_percent: float
    largest_percent: float
    floor_percent: float
    share_within: float


@dataclass(frozen=True, slots=True)
class ModuleListReport:
    """What the comparison found.

    `stc` compares maximum power at standard test conditions with the datasheet's voltage times current, `conditions`
    the maximum power at other conditions with the one of the list's own parameters. `list_at_stc` does the first for
    the list's own parameters, `list_short_circuit` for their short-circuit current: how well the list meets itself.
    `refused` holds positions and reasons.
    """

    row_count: int
    crystalline_count: int
    refused: tuple[tuple[int, str], ...]
    raised_share: float
    stc: Deviation
    open_circuit: Deviation
    short_circuit: Deviation
    conditions: dict[str, Deviation]
    list_at_stc: Deviation
    list_short_circuit: Deviation

    @property
    def fitted_share(self) -> float:
        """Share of the rows that could be fitted (0-1)."""
        return 1.0 - len(self.refused) / self.row_count

    @property
    def passed(self) -> bool:
        """Whether every floor is met."""
        return (
            self.fitted_share >= FITTED_FLOOR
            and self.stc.share_within == 1.0
            and all(deviation.share_within >= AGREEING_FLOOR for deviation in self.conditions.values())
        )


def checks() -> Iterator[Check]:
    """The floors of the comparison, as entries of the ledger."""
    report = run()
    source = "list of the California Energy Commission (2019-03-05) carried by pvlib 0.16.1"
    yield within(
        f"module list: share fitted of {report.row_count} crystalline modules",
        source=source,
        label="READ",
        low=FITTED_FLOOR,
        high=1.0,
        got=report.fitted_share,
    )
    yield within(
        "module list: largest deviation of power at STC from datasheet [%]",
        source=source,
        label="READ",
        low=0.0,
        high=STC_FLOOR_PERCENT,
        got=report.stc.largest_percent,
    )
    for label, deviation in report.conditions.items():
        yield within(
            f"module list: share within {deviation.floor_percent:g} % at {label}",
            source=f"{source}; its own parameters through pvlib",
            label="RUN",
            low=AGREEING_FLOOR,
            high=1.0,
            got=deviation.share_within,
        )


def run(*, rows: int = ROWS, fit_module: Callable[[Module], SixParameters] = fit) -> ModuleListReport:
    """Fit `rows` crystalline modules at evenly spaced positions and compare.

    Parameters
    ----------
    rows : int
        How many, up to the length of the list (20,946).
    fit_module : callable
        The fit under test; another one shows that the check can fail.
    """
    columns = crystalline_columns()
    total = len(columns["a_ref"])
    positions = np.unique(np.linspace(0, total - 1, min(rows, total)).astype(int))
    fitted: list[SixParameters] = []
    kept: list[int] = []
    refused: list[tuple[int, str]] = []
    for position in positions.tolist():
        try:
            fitted.append(fit_module(module_at(columns, position)))
            kept.append(position)
        except DatasheetError as error:
            refused.append((position, f"{error} {error.fields}"))
    figures = {name: column[kept] for name, column in columns.items()}
    curve = _stacked(fitted, 1000.0, 25.0)
    rated = figures["V_mp_ref"] * figures["I_mp_ref"]
    own = _own_curves(figures, 1000.0, 25.0)
    return ModuleListReport(
        row_count=len(positions),
        crystalline_count=total,
        refused=tuple(refused),
        raised_share=float(np.mean([parameters.current_sc_raised_percent > 0.0 for parameters in fitted])),
        stc=_deviation(maximum_power(curve).power_w, rated, STC_FLOOR_PERCENT),
        open_circuit=_deviation(open_circuit_voltage(curve), figures["V_oc_ref"], STC_FLOOR_PERCENT),
        short_circuit=_deviation(short_circuit_current(curve), figures["I_sc_ref"], STC_FLOOR_PERCENT),
        conditions={
            label: _deviation(
                maximum_power(_stacked(fitted, irradiance, temp)).power_w,
                _own_curves(figures, irradiance, temp)["p_mp"],
                floor,
            )
            for label, (irradiance, temp, floor) in CONDITIONS.items()
        },
        list_at_stc=_deviation(own["p_mp"], rated, STC_FLOOR_PERCENT),
        list_short_circuit=_deviation(own["i_sc"], figures["I_sc_ref"], STC_FLOOR_PERCENT),
    )


def crystalline_columns() -> dict[str, FloatArray]:
    """The numeric columns needed, over the crystalline rows of the list, in its order."""
    (path,) = (Path(pvlib.__file__).parent / "data").glob("*cec-modules*.csv")
    # Below the header stand two rows with units and short names.
    table = pd.read_csv(path, skiprows=[1, 2], usecols=["Technology", *FIGURES, *PARAMETERS])
    table = table[table["Technology"].isin(["Mono-c-Si", "Multi-c-Si"])]
    return {name: table[name].to_numpy(dtype=np.float64) for name in (*FIGURES, *PARAMETERS)}


def module_at(columns: dict[str, FloatArray], position: int) -> Module:
    """The datasheet of one row, with coefficients in percent per kelvin."""
    isc, voc, imp, vmp, alpha, beta, gamma = (float(columns[name][position]) for name in FIGURES)
    return Module(
        name=f"row {position}",
        power_w=vmp * imp,
        voltage_oc_v=voc,
        voltage_mp_v=vmp,
        current_sc_a=isc,
        current_mp_a=imp,
        temp_coefficient_voc_percent_per_k=beta / voc * 100.0,
        temp_coefficient_isc_percent_per_k=alpha / isc * 100.0,
        temp_coefficient_pmp_percent_per_k=gamma,
        length_m=1.7,
        width_m=1.0,
        mass_kg=20.0,
    )


def _stacked(fitted: list[SixParameters], irradiance_w_m2: float, temp_c: float) -> DiodeCurve:
    """One curve object over all fitted modules at one condition."""
    curves = [curve_at(parameters, irradiance_w_m2=irradiance_w_m2, cell_temp_c=temp_c) for parameters in fitted]
    return DiodeCurve(
        photocurrent_a=np.concatenate([curve.photocurrent_a for curve in curves]),
        saturation_current_a=np.concatenate([curve.saturation_current_a for curve in curves]),
        series_resistance_ohm=np.concatenate([curve.series_resistance_ohm for curve in curves]),
        shunt_resistance_ohm=np.concatenate([curve.shunt_resistance_ohm for curve in curves]),
        a_v=np.concatenate([curve.a_v for curve in curves]),
    )


def _own_curves(figures: dict[str, FloatArray], irradiance_w_m2: float, temp_c: float) -> dict[str, FloatArray]:
    """Points of the curves of the list's own parameters, by pvlib."""
    like = np.ones_like(figures["a_ref"])
    parameters = pvlib.pvsystem.calcparams_cec(
        irradiance_w_m2 * like, temp_c * like, figures["alpha_sc"], *(figures[name] for name in PARAMETERS)
    )
    points = pvlib.pvsystem.singlediode(*parameters, method="newton")
    return {name: np.asarray(points[name], dtype=np.float64) for name in ("p_mp", "i_sc", "v_oc")}


def _deviation(values: FloatArray, reference: FloatArray, floor_percent: float) -> Deviation:
    percent = np.abs(values / reference - 1.0) * 100.0
    return Deviation(
        median_percent=float(np.median(percent)),
        high_percent=float(np.percentile(percent, 95.0)),
        largest_percent=float(percent.max()),
        floor_percent=floor_percent,
        share_within=float(np.mean(percent <= floor_percent)),
    )


def _table(report: ModuleListReport) -> str:
    compared = {
        "maximum power, STC, against the datasheet": report.stc,
        "open-circuit voltage, STC, against the datasheet": report.open_circuit,
        "short-circuit current, STC, against the datasheet": report.short_circuit,
        **{f"maximum power, {label}, against the list": found for label, found in report.conditions.items()},
        "list's own maximum power, STC, against the datasheet": report.list_at_stc,
        "list's own short-circuit current against the datasheet": report.list_short_circuit,
    }
    heading = f"{report.row_count} of {report.crystalline_count} crystalline rows; fitted {report.fitted_share:.2%}"
    lines = [
        f"{heading}, of them with short-circuit current raised {report.raised_share:.1%}",
        f"{'deviation [%]':56}{'median':>10}{'95 %':>10}{'largest':>10}{'floor':>8}{'within':>9}",
    ]
    lines += [
        f"{label:56}{found.median_percent:10.4f}{found.high_percent:10.4f}{found.largest_percent:10.4f}"
        f"{found.floor_percent:8.1f}{found.share_within:9.2%}"
        for label, found in compared.items()
    ]
    lines += [f"row {position}: {reason}" for position, reason in report.refused]
    return "\n".join([*lines, "passed" if report.passed else "FAILED"])


if __name__ == "__main__":
    result = run()
    print(_table(result))
    raise SystemExit(0 if result.passed else 1)

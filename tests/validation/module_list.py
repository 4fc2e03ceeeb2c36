"""Fits from datasheet figures against the list of the California Energy Commission that pvlib carries.

The list holds, for each module, its datasheet figures and the six parameters that its publisher fitted to them. Here
the datasheet figures alone go through `fit`, and the fitted curve is compared with the one of the list's own
parameters, computed by pvlib. Rows are known by their position among the crystalline rows only; no name is read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib

from tests.validation.ledger import Check, within
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.module.single_diode import DiodeCurve, SixParameters, curve_at, fit, maximum_power

ROWS = 500
FIGURES = ("I_sc_ref", "V_oc_ref", "I_mp_ref", "V_mp_ref", "alpha_sc", "beta_oc", "gamma_r")
PARAMETERS = ("a_ref", "I_L_ref", "I_o_ref", "R_sh_ref", "R_s", "Adjust")
SOURCE = "list of the California Energy Commission (2019-03-05) carried by pvlib 0.16.1"

FITTED_FLOOR = 0.98
STC_FLOOR_PERCENT = 0.1
AGREEING_FLOOR = 0.95
CONDITIONS = {"1000 W/m2, 55 degC": (1000.0, 55.0, 0.5), "200 W/m2, 25 degC": (200.0, 25.0, 2.0)}
"""Irradiance [W/m2], cell temperature [degC], floor for the deviation of maximum power [%]."""


@dataclass(frozen=True, slots=True)
class ModuleListReport:
    """Share of `row_count` modules that could be fitted, and what the comparison of their maximum power found.

    `stc_largest_percent` is the largest deviation at standard test conditions from the datasheet's voltage times current;
    `shares_within` is the share of modules within the floor of each other condition, against the list's own parameters.
    """

    row_count: int
    fitted_share: float
    stc_largest_percent: float
    shares_within: dict[str, float]

    @property
    def passed(self) -> bool:
        """Whether every floor is met."""
        agreeing = all(share >= AGREEING_FLOOR for share in self.shares_within.values())
        return self.fitted_share >= FITTED_FLOOR and self.stc_largest_percent <= STC_FLOOR_PERCENT and agreeing


def checks() -> Iterator[Check]:
    """The floors of the comparison, as entries of the ledger."""
    report = run()
    name = f"module list: share fitted of {report.row_count} crystalline modules"
    yield within(name, FITTED_FLOOR, 1.0, report.fitted_share, "READ", SOURCE)
    name = "module list: largest deviation of power at STC from datasheet [%]"
    yield within(name, 0.0, STC_FLOOR_PERCENT, report.stc_largest_percent, "READ", SOURCE)
    for label, share in report.shares_within.items():
        name = f"module list: share within {CONDITIONS[label][2]:g} % at {label}"
        yield within(name, AGREEING_FLOOR, 1.0, share, "RUN", f"{SOURCE}; its own parameters through pvlib")


def run(*, rows: int = ROWS, fit_module: Callable[[Module], SixParameters] = fit) -> ModuleListReport:
    """Fit `rows` crystalline modules at evenly spaced positions and compare.

    Parameters
    ----------
    rows : int
        How many, up to the length of the list (20,946).
    fit_module : callable
        The fit under test; another one shows that the check can fail.
    """
    listed = crystalline_modules()
    chosen = listed.iloc[np.unique(np.linspace(0, len(listed) - 1, min(rows, len(listed))).astype(int))]
    fitted: dict[int, SixParameters] = {}
    for position, figures in enumerate(chosen[[*FIGURES]].to_numpy().tolist()):
        try:
            fitted[position] = fit_module(module_of(*figures))
        except DatasheetError:
            continue
    compared = chosen.iloc[list(fitted)]
    rated = compared["V_mp_ref"] * compared["I_mp_ref"]
    shares = {}
    for label, (irradiance, temp, floor) in CONDITIONS.items():
        deviation = _deviation_percent(fitted, irradiance, temp, _listed_power(compared, irradiance, temp))
        shares[label] = float(np.mean(deviation <= floor))
    return ModuleListReport(
        row_count=len(chosen),
        fitted_share=1.0 - (len(chosen) - len(fitted)) / len(chosen),
        stc_largest_percent=float(_deviation_percent(fitted, 1000.0, 25.0, rated).max()),
        shares_within=shares,
    )


def crystalline_modules() -> pd.DataFrame:
    """The numeric columns needed, over the crystalline rows of the list, in its order."""
    (path,) = (Path(pvlib.__file__).parent / "data").glob("*cec-modules*.csv")
    # Below the header stand two rows with units and short names.
    table = pd.read_csv(path, skiprows=[1, 2], usecols=["Technology", *FIGURES, *PARAMETERS])
    return table.loc[table["Technology"].isin(["Mono-c-Si", "Multi-c-Si"]), [*FIGURES, *PARAMETERS]].astype(np.float64)


def module_of(isc: float, voc: float, imp: float, vmp: float, alpha: float, beta: float, gamma: float) -> Module:
    """The datasheet of one row, with coefficients in percent per kelvin."""
    coefficients = (beta / voc * 100.0, alpha / isc * 100.0, gamma)
    return Module("of the list", vmp * imp, voc, vmp, isc, imp, *coefficients, length_m=1.7, width_m=1.0, mass_kg=20.0)


def _deviation_percent(fitted: dict[int, SixParameters], irradiance_w_m2: float, temp_c: float, power: pd.Series) -> FloatArray:
    """Absolute deviation of the fitted curves' maximum power from another one."""
    curves = [curve_at(each, irradiance_w_m2=irradiance_w_m2, cell_temp_c=temp_c) for each in fitted.values()]
    stacked = {each.name: np.concatenate([getattr(curve, each.name) for curve in curves]) for each in fields(DiodeCurve)}
    return np.asarray(np.abs(maximum_power(DiodeCurve(**stacked)).power_w / power.to_numpy() - 1.0) * 100.0)


def _listed_power(compared: pd.DataFrame, irradiance_w_m2: float, temp_c: float) -> pd.Series:
    """Maximum power of the list's own parameters, by pvlib."""
    like = np.ones(len(compared))
    columns = [compared[name].to_numpy() for name in ("alpha_sc", *PARAMETERS)]
    diode = pvlib.pvsystem.calcparams_cec(irradiance_w_m2 * like, temp_c * like, *columns)
    return pd.Series(pvlib.pvsystem.singlediode(*diode, method="newton")["p_mp"])

"""What a competent user would write instead, with pvlib alone: each candidate on each face, on the plain series.

Two ways: ModelChain run once for each face and candidate, and a script that computes each face's light and DC power once and
only the inverter for each candidate. Both take the module's fitted single diode and the microinverter's Sandia coefficients, so
that they model what the product models, without subhourly variability.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import pvlib
from pvlib.location import Location
from pvlib.modelchain import ModelChain
from pvlib.pvsystem import Array, FixedMount, PVSystem

from wattpair_service.engineering.inverter.conversion import SandiaCurve
from wattpair_service.engineering.irradiance.plane_of_array import MARTIN_RUIZ_A_R, Face
from wattpair_service.engineering.module.cell_temperature import MOUNTINGS, Sandia
from wattpair_service.engineering.module.single_diode import BAND_GAP_EV, SixParameters


@dataclass(frozen=True, slots=True, eq=False)
class Roof:
    """What both scripts are given; `weather` has ghi, dni, dhi, temp_air and wind_speed at the middle of each interval.

    The faces are clean and have nothing before them: neither script takes soiling, shading or a horizon.
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    weather: pd.DataFrame
    faces: tuple[Face, ...]
    parameters: SixParameters

    @property
    def location(self) -> Location:
        """The place as pvlib takes it."""
        return Location(self.latitude_deg, self.longitude_deg, altitude=self.elevation_m)


def diffuse_factor(face: Face) -> float:
    """Share of the diffuse light that comes through the glass (0-1), as for an even sky."""
    return float(pvlib.iam.martin_ruiz_diffuse(face.tilt_deg, a_r=MARTIN_RUIZ_A_R)["sky"])


def module_parameters(parameters: SixParameters, face: Face) -> dict[str, float]:
    """The single diode and the glass as pvlib names them."""
    return {
        "alpha_sc": parameters.isc_coefficient_a_per_k,
        "a_ref": parameters.a_ref_v,
        "I_L_ref": parameters.photocurrent_ref_a,
        "I_o_ref": parameters.saturation_current_ref_a,
        "R_s": parameters.series_resistance_ohm,
        "R_sh_ref": parameters.shunt_resistance_ref_ohm,
        "Adjust": parameters.adjust_percent,
        "EgRef": BAND_GAP_EV,
        "a_r": MARTIN_RUIZ_A_R,
        "FD": diffuse_factor(face),
    }


def inverter_parameters(curve: SandiaCurve, ac_power_w: float) -> dict[str, float]:
    """Sandia coefficients as pvlib names them, limited at the AC power."""
    return {
        "Paco": ac_power_w,
        "Pdco": curve.dc_power_w_ref,
        "Vdco": curve.dc_voltage_v_ref,
        "Pso": curve.start_power_w,
        "C0": curve.c0_per_w,
        "C1": curve.c1_per_v,
        "C2": curve.c2_per_v,
        "C3": curve.c3_per_v,
        "Pnt": 0.0,
    }


def temperature_parameters(face: Face) -> dict[str, float]:
    """Sandia's cell temperature coefficients of the mounting."""
    mounting = MOUNTINGS[face.mounting]
    assert isinstance(mounting, Sandia), "the scripts use the Sandia form"
    return {"a": mounting.a, "b": mounting.b_s_per_m, "deltaT": mounting.cell_excess_k}


def one_chain(roof: Roof, face: Face, inverter: dict[str, float]) -> float:
    """Yearly AC energy of one module with one candidate by ModelChain, every model named [kWh]: called for each in a loop."""
    array = Array(
        FixedMount(face.tilt_deg, face.azimuth_deg),
        albedo=face.albedo,
        module_parameters=module_parameters(roof.parameters, face),
        temperature_model_parameters=temperature_parameters(face),
    )
    chain = ModelChain(
        PVSystem([array], inverter_parameters=inverter),
        roof.location,
        transposition_model="perez",
        aoi_model="martin_ruiz",
        dc_model="cec",
        ac_model="sandia",
        temperature_model="sapm",
        spectral_model="no_loss",
        losses_model="no_loss",
    )
    chain.run_model(roof.weather)
    return energy_kwh(chain.results.ac)


def shared_script(roof: Roof, inverters: list[dict[str, float]]) -> list[list[float]]:
    """Each face's light and DC power once, then only the inverter for each candidate: yearly AC energy [kWh]."""
    weather = roof.weather
    sun = roof.location.get_solarposition(weather.index)
    up = sun.apparent_zenith < 90.0
    weather, sun = weather[up], sun[up]
    extra = pvlib.irradiance.get_extra_radiation(weather.index)
    airmass = pvlib.atmosphere.get_relative_airmass(sun.apparent_zenith)
    by_face = []
    for face in roof.faces:
        incidence = pvlib.irradiance.aoi(face.tilt_deg, face.azimuth_deg, sun.apparent_zenith, sun.azimuth)
        beam = weather.dni * np.cos(np.radians(incidence)).clip(lower=0.0)
        sky = pvlib.irradiance.perez(
            face.tilt_deg, face.azimuth_deg, weather.dhi, weather.dni, extra, sun.apparent_zenith, sun.azimuth, airmass,
            return_components=True,
        ).fillna(0.0)  # fmt: skip
        ground = pvlib.irradiance.get_ground_diffuse(face.tilt_deg, weather.ghi, albedo=face.albedo)
        diffuse = pvlib.iam.martin_ruiz_diffuse(face.tilt_deg, a_r=MARTIN_RUIZ_A_R)
        effective = (
            (beam + sky.poa_circumsolar) * pvlib.iam.martin_ruiz(incidence, a_r=MARTIN_RUIZ_A_R)
            + (sky.poa_isotropic + sky.poa_horizon) * diffuse["sky"]
            + ground * diffuse["ground"]
        )
        temp_cell = pvlib.temperature.sapm_cell(
            beam + sky.poa_sky_diffuse + ground, weather.temp_air, weather.wind_speed, **temperature_parameters(face)
        )
        p = roof.parameters
        diode = pvlib.pvsystem.calcparams_cec(
            effective, temp_cell, p.isc_coefficient_a_per_k, p.a_ref_v, p.photocurrent_ref_a, p.saturation_current_ref_a,
            p.shunt_resistance_ref_ohm, p.series_resistance_ohm, p.adjust_percent, EgRef=BAND_GAP_EV,
        )  # fmt: skip
        by_face.append(pvlib.pvsystem.max_power_point(*diode, method="newton"))
    return [[energy_kwh(pvlib.inverter.sandia(dc.v_mp, dc.p_mp, inverter)) for dc in by_face] for inverter in inverters]


def energy_kwh(ac_power_w: pd.Series) -> float:
    """Sum of an hourly series of power."""
    return float(ac_power_w.clip(lower=0.0).sum()) / 1000.0
